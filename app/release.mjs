// The last step of a build (a hook in Trunk.toml): takes comments and spaces out of scripts and styles, and notes in the
// service worker which files make up this release, each with its checksum, and a name that is the checksum of them all.
// A changed file so changes the worker, by which browsers see that there is an update. And a number that rises from release to release: the time of the last commit in
// seconds since 1970, or what SOURCE_DATE_EPOCH says; where neither is known, the time of the build.

import { execFileSync } from "node:child_process";
import { createHash } from "node:crypto";
import { readFileSync, readdirSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { extname, join } from "node:path";

const { transformSync } = createRequire(new URL("../tests/package.json", import.meta.url))("esbuild");

const dist = process.env.TRUNK_STAGING_DIR;
// What the app never asks for: the icons are the platform's business, the schema is the office's.
const notNeeded = (name) => name === "sw.js" || name.endsWith(".png") || name.endsWith(".schema.json");

/** A checksum as pages write it. */
const checksum = (kind, bytes) => `${kind}-${createHash(kind).update(bytes).digest("base64")}`;

// Each file keeps its name, and the page the checksum of what the file holds now.
const page = join(dist, "index.html");
let html = readFileSync(page, "utf8");
for (const name of readdirSync(dist).filter((name) => /\.(js|css)$/.test(name) && name !== "sw.js")) {
  const before = readFileSync(join(dist, name), "utf8");
  const { code } = transformSync(before, { loader: extname(name).slice(1), minify: true, format: name.endsWith(".js") ? "esm" : undefined });
  const [old, now] = [before, code].map((text) => checksum("sha384", text));
  if (!html.includes(old)) throw new Error(`The page does not name the checksum of ${name}`);
  html = html.replace(old, now);
  writeFileSync(join(dist, name), code);
}
writeFileSync(page, html);

const names = readdirSync(dist).filter((name) => !notNeeded(name)).sort();
const files = Object.fromEntries(
  names.map((name) => [name, checksum("sha256", readFileSync(join(dist, name)))]),
);
const release = createHash("sha256").update(JSON.stringify(files)).digest("hex").slice(0, 16);

function timeOfCommit() {
  try {
    return execFileSync("git", ["log", "-1", "--format=%ct"], { encoding: "utf8", stdio: ["ignore", "pipe", "ignore"] });
  } catch {
    return "";
  }
}
const number = Number(process.env.SOURCE_DATE_EPOCH) || Number(timeOfCommit()) || Math.floor(Date.now() / 1000);

const worker = join(dist, "sw.js");
const noted = readFileSync(worker, "utf8")
  .replace('const RELEASE = "";', `const RELEASE = "${release}";`)
  .replace("const NUMBER = 0;", `const NUMBER = ${number};`)
  .replace("const FILES = {};", `const FILES = ${JSON.stringify(files, null, 2)};`);
if (![release, `NUMBER = ${number};`, names[0]].every((text) => noted.includes(text))) throw new Error("sw.js has no place for the release");
writeFileSync(worker, transformSync(noted, { minify: true }).code);
