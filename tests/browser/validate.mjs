// Says what is wrong with a JSON file after a JSON Schema, one line a fault: node validate.mjs SCHEMA FILE [SCHEMA THAT IT NAMES]
import { readFileSync } from 'node:fs';
import Ajv from 'ajv/dist/2020.js';
import addFormats from 'ajv-formats';

const [schema, file, ...named] = process.argv.slice(2).map(path => JSON.parse(readFileSync(path, 'utf8')));
const ajv = new Ajv({ allErrors: true, strict: true, allowUnionTypes: true });
addFormats(ajv);
for (const other of named) ajv.addSchema(other);
const validate = ajv.compile(schema);
if (!validate(file)) {
  for (const fault of validate.errors) console.log(`${fault.instancePath || '/'} ${fault.message}`);
}
