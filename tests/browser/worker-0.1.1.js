// The worker of release 0.1.1, for a test; app/release.mjs fills it in. It had no
// const NUMBER = 0;

// Keeps a whole release on the device, so that the app starts without a network.
//
// A release is fetched wholly or not at all, and each file must have the checksum that the build noted here
// (app/release.mjs writes both lines). A newer release waits in a cache of its own until the user takes it: what is
// handed out is the release that was chosen, whichever version of this worker runs.

const RELEASE = "";
const FILES = {};

const HERE = registration.scope;
const OWN = `evenhand ${HERE} ${RELEASE}`;
/** Holds one note: the name of the cache that is in use. */
const CHOICE = `evenhand ${HERE} choice`;
const NOTE = new URL("choice", HERE).href;
/** The page itself is asked for as the folder: hosts may redirect its file name. */
const PAGE = new URL("./", HERE).href;

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

async function isWhole(name) {
  return Boolean(name && (await caches.has(name)) && (await caches.match(PAGE, { cacheName: name })));
}

async function chosen() {
  const note = await caches.match(NOTE, { cacheName: CHOICE });
  const name = note && (await note.text());
  return (await isWhole(name)) ? name : OWN;
}

async function choose(name) {
  const cache = await caches.open(CHOICE);
  await cache.put(NOTE, new Response(name));
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
  const kept = await caches.match(address, { cacheName: await chosen(), ignoreVary: true });
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
    event.ports[0]?.postMessage({ offline: await isWhole(inUse), news: inUse !== OWN && (await isWhole(OWN)) });
  };
  event.waitUntil(reply());
});
