// Splits the program into the parts that app/src/screens/in_parts.rs names (a hook in Trunk.toml, before app/release.mjs): trunk
// itself makes one file of it. The first part takes the place of that file in the page, the others are loaded by
// `__wasm_split.js`, which the first part imports.

import { execFileSync } from "node:child_process";
import { createHash } from "node:crypto";
import { mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";

const dist = process.env.TRUNK_STAGING_DIR;
const profile = process.env.TRUNK_PROFILE;
const target = resolve(process.env.CARGO_TARGET_DIR ?? "target", "wasm32-unknown-unknown", profile);
const work = mkdtempSync(join(tmpdir(), "evenhand-"));
const [parts, bound] = ["parts", "bound"].map((name) => join(work, name));
const checksum = (bytes) => `sha384-${createHash("sha384").update(bytes).digest("base64")}`;
const run = (command, ...given) => execFileSync(command, given, { stdio: ["ignore", "inherit", "inherit"] });

run("wasm-split-cli", join(target, "evenhand-app.wasm"), parts, "--out-name", "app", "--target", "web");
// What the other parts import of the first must keep its name.
const options = ["--target", "web", "--keep-lld-exports", "--no-demangle", "--no-typescript"];
run("wasm-bindgen", ...options, ...(profile === "debug" ? ["--debug", "--keep-debug"] : []), "--out-dir", bound, join(parts, "app.wasm"));

const others = readdirSync(parts).filter((name) => name.endsWith(".wasm") && name !== "app.wasm");
const files = [[bound, "app_bg.wasm"], ...others.map((name) => [parts, name])].map(([folder, name]) => join(folder, name));
if (profile === "release") {
  const options = ["-Os", "--strip-debug", "--strip-producers", "--converge", "--enable-bulk-memory", "--enable-sign-ext",
    "--enable-mutable-globals", "--enable-nontrapping-float-to-int", "--enable-reference-types", "--enable-multivalue"];
  for (const file of files) run("wasm-opt", ...options, file, "-o", file);
}

// The name of each file ends with a checksum. Scripts import each other, so theirs is one of all files together.
const of = (bytes) => createHash("sha256").update(bytes).digest("hex").slice(0, 16);
const program = readFileSync(files[0]);
let [bindings, loader] = [join(bound, "app.js"), join(parts, "__wasm_split.js")].map((file) => readFileSync(file, "utf8"));
for (const [at, name] of others.entries()) {
  const bytes = readFileSync(files[at + 1]);
  const renamed = name.replace(/\.wasm$/, `-${of(bytes)}.wasm`);
  const address = `new URL("./${name}", import.meta.url)`;
  if (!loader.includes(address)) throw new Error(`No script loads ${name}`);
  loader = loader.replace(address, `new URL("./${renamed}", import.meta.url), { integrity: "${checksum(bytes)}" }`);
  writeFileSync(join(dist, renamed), bytes);
}
const all = of(bindings + loader + of(program));
const [main, split] = [`evenhand-app-${all}`, `parts-${all}.js`];
loader = loader.replace('"./app.js"', `"./${main}.js"`);
// Only the import: the program asks for the module by its first name.
bindings = bindings.replaceAll(/from "\.\/__wasm_split\.js"/g, `from "./${split}"`).replaceAll("app_bg.wasm", `${main}_bg.wasm`);

// The page names the first part instead of the whole, and the loader, which is needed with it.
const page = join(dist, "index.html");
let html = readFileSync(page, "utf8");
const whole = readdirSync(dist).find((name) => /^evenhand-app-.*_bg\.wasm$/.test(name)).replace("_bg.wasm", "");
const put = (old, name, content) => {
  html = html.replaceAll(`./${old}"`, `./${name}"`).replace(checksum(readFileSync(join(dist, old))), checksum(content));
  rmSync(join(dist, old));
  writeFileSync(join(dist, name), content);
};
put(`${whole}.js`, `${main}.js`, bindings);
put(`${whole}_bg.wasm`, `${main}_bg.wasm`, program);
writeFileSync(join(dist, split), loader);
html = html.replace(/<link rel="preload"/, `<link rel="modulepreload" href="./${split}" crossorigin="anonymous" integrity="${checksum(loader)}">$&`);
writeFileSync(page, html);
rmSync(work, { recursive: true });
