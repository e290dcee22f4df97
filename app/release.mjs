// The last step of a build (a hook in Trunk.toml): notes in the service worker which files make up this release,
// each with its checksum, and a name that is the checksum of them all. A changed file so changes the worker, by which
// browsers see that there is an update.

import { createHash } from "node:crypto";
import { readFileSync, readdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";

const dist = process.env.TRUNK_STAGING_DIR;
// What the app never asks for: the icons are the platform's business, the schema is the office's.
const notNeeded = (name) => name === "sw.js" || name.endsWith(".png") || name.endsWith(".schema.json");

const digest = (bytes) => createHash("sha256").update(bytes);
const names = readdirSync(dist).filter((name) => !notNeeded(name)).sort();
const files = Object.fromEntries(
  names.map((name) => [name, `sha256-${digest(readFileSync(join(dist, name))).digest("base64")}`]),
);
const release = digest(JSON.stringify(files)).digest("hex").slice(0, 16);

const worker = join(dist, "sw.js");
const noted = readFileSync(worker, "utf8")
  .replace('const RELEASE = "";', `const RELEASE = "${release}";`)
  .replace("const FILES = {};", `const FILES = ${JSON.stringify(files, null, 2)};`);
if (!noted.includes(release) || !noted.includes(names[0])) throw new Error("sw.js has no place for the release");
writeFileSync(worker, noted);
