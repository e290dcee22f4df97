// Keeps a whole release on the device, so that the app starts without a network.
//
// A release is fetched wholly or not at all, and each file must have the checksum that the build noted here
// (app/release.mjs writes these lines). Another release waits in a cache of its own until the user takes it: what is
// handed out is the release that was chosen, whichever version of this worker runs.

const RELEASE = "";
/** Rises from release to release: by it a host is known that has gone back to an older one. */
const NUMBER = 0;
const FILES = {};

const HERE = registration.scope;
const OWN = `evenhand ${HERE} ${RELEASE}`;
/** Holds one note: the name of the cache that is in use, and the number of its release. */
const CHOICE = `evenhand ${HERE} choice`;
const NOTE = new URL("choice", HERE).href;
const NUMBERED = "evenhand-release";
/** The page itself is asked for as the folder: hosts may redirect its file name. */
const PAGE = new URL("./", HERE).href;

/** The release in use, as of the latest page that was asked for: it need not be looked over for each of its files. */
let current;

const addressOf = (name) => (name === "index.html" ? PAGE : new URL(name, HERE).href);

async function keepRelease() {
  const cache = await caches.open(OWN);
  const keep = async ([name, integrity]) => {
    const address = addressOf(name);
    // An interrupted fetch of this release goes on where it stopped.
    if (await cache.match(address)) return;
    const response = await fetch(address, { cache: "no-cache", integrity });
    if (!response.ok) throw new Error(`${name}: ${response.status}`);
    await cache.put(address, response);
  };
  await Promise.all(Object.entries(FILES).map(keep));
}

/** Whether a release is kept with all that its page names; of this one, with all its files. */
async function isWhole(name) {
  if (!name || !(await caches.has(name))) return false;
  const cache = await caches.open(name);
  const page = await cache.match(PAGE);
  if (!page) return false;
  const namesIn = (text, pattern) => [...text.matchAll(pattern)].map(([, name]) => name);
  const named = namesIn(await page.text(), /(?:href|src)="([^"]+\.(?:js|css|wasm))"/g);
  // The parts of the program that are loaded later stand in the script that loads them.
  const loader = await cache.match(addressOf(named.find((name) => /^(\.\/)?parts-/.test(name)) ?? "index.html"));
  named.push(...namesIn((await loader?.text()) ?? "", /"(\.\/[^"]+\.wasm)"/g));
  const needed = name === OWN ? [...named, ...Object.keys(FILES)] : named;
  const kept = await Promise.all(needed.map((file) => cache.match(addressOf(file))));
  return kept.every(Boolean);
}

/** What was noted as the release in use: the name of its cache, and its number (0 of versions up to 0.1.1). */
async function noted() {
  const note = await caches.match(NOTE, { cacheName: CHOICE });
  return { name: note && (await note.text()), number: Number(note?.headers.get(NUMBERED) ?? 0) };
}

async function chosen() {
  const { name } = await noted();
  return (await isWhole(name)) ? name : OWN;
}

async function choose(name) {
  const before = await noted();
  const number = name === OWN ? NUMBER : before.name === name ? before.number : 0;
  current = undefined;
  const cache = await caches.open(CHOICE);
  await cache.put(NOTE, new Response(name, { headers: { [NUMBERED]: number } }));
}

async function sweep() {
  const kept = [CHOICE, OWN, await chosen()];
  const ours = (await caches.keys()).filter((name) => name.startsWith(`evenhand ${HERE} `));
  await Promise.all(ours.filter((name) => !kept.includes(name)).map((name) => caches.delete(name)));
}

/** Activated after an update, this worker goes on handing out the release that was in use. */
async function begin() {
  await choose(await chosen());
  await sweep();
  await clients.claim();
}

async function answer(request, address) {
  if (request.mode === "navigate") current = undefined;
  current ??= chosen();
  const kept = await caches.match(address, { cacheName: await current, ignoreVary: true });
  return kept ?? fetch(request);
}

addEventListener("install", (event) => event.waitUntil(keepRelease()));
addEventListener("activate", (event) => event.waitUntil(begin()));

addEventListener("fetch", (event) => {
  const { request } = event;
  const address = request.url.replace(/[?#].*$/, "");
  if (request.method !== "GET" || !address.startsWith(HERE)) return;
  event.respondWith(answer(request, address === `${HERE}index.html` ? PAGE : address));
});

// The page asks how things stand, or says that its user takes the newer release.
addEventListener("message", (event) => {
  const reply = async () => {
    if (event.data === "use") {
      await choose(OWN);
      await skipWaiting();
    }
    const inUse = await chosen();
    const news = inUse !== OWN && (await isWhole(OWN));
    const older = news && NUMBER < (await noted()).number;
    const offline = await isWhole(inUse);
    event.ports[0]?.postMessage({ offline, news, older });
    // What the browser has cleared of the release in use is fetched again, where there is a network; the next look
    // tells.
    if (inUse === OWN && !offline) await keepRelease().catch(() => {});
  };
  event.waitUntil(reply());
});
