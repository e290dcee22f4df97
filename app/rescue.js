// The screen for a program that has stopped or could not start. It is made without the program: it says what happened,
// offers a copy of each job that is stored, and starts the app again when the user asks for it. It reads the entries
// and the names of the jobs from IndexedDB and local storage, and changes nothing in either.

const DATABASE = "evenhand";
const ENTRIES = "entries";
/** Entries that wait to be saved are in local storage under such keys (app/src/storage/put_aside.rs). */
const ASIDE = /^aside\/[0-9a-f]{16}\/[0-9a-f]{16}-[0-9a-f]{16}$/;
/** Those of versions up to 0.1.1: one key for each visit. */
const LISTS = "unsaved/";

let shown = false;

addEventListener("error", ({ error }) => programStopped(error));
addEventListener("unhandledrejection", ({ reason }) => programStopped(reason));
addEventListener("evenhand-stopped", ({ detail }) => show("Evenhand could not start", detail));

function programStopped(error) {
  if (!(error instanceof WebAssembly.RuntimeError)) return;
  const place = window.evenhand?.stopped || error.message;
  show("Evenhand has stopped", `An error came up that Evenhand could not handle (${place}).`);
}

function element(name, properties, ...children) {
  const made = Object.assign(document.createElement(name), properties);
  made.append(...children);
  return made;
}

function button(text, className, onclick) {
  return element("button", { type: "button", className, onclick }, text);
}

function show(title, why) {
  if (shown) return;
  shown = true;
  const heading = element("h1", { tabIndex: -1 }, title);
  const jobs = element("section", {}, element("p", { className: "quiet" }, "Looking for what is stored…"));
  const page = element(
    "main",
    { className: "page" },
    heading,
    element("p", {}, why),
    element("p", {}, "Whatever was shown as saved is on this device. To be safe, take a copy of it first, then start again."),
    jobs,
  );
  const startAt = (hash) => {
    if (hash !== undefined) location.hash = hash;
    location.reload();
  };
  const foot = element(
    "footer",
    { className: "reach" },
    button("Start again", "button main", () => startAt()),
    button("Start at the list of jobs", "button", () => startAt("#/")),
  );
  document.title = "Evenhand";
  document.body.replaceChildren(page, foot);
  heading.focus();
  stored().then((read) => jobs.replaceChildren(...lines(read)));
}

function lines({ found, failure }) {
  const names = namesOfJobs();
  const copies = [...found].map(([job, entries]) => {
    const text = `Take a copy of ${shortName(names.get(job))}: ${entries.length} records`;
    return button(text, "button copy", () => handOut(job, entries));
  });
  if (failure) {
    const waits = copies.length > 0 ? " What waited to be saved is here:" : "";
    const why = `What is stored could not be read just now (${failure.name ?? "no reason given"}). Start again.${waits}`;
    return [element("p", { role: "alert" }, why), ...copies];
  }
  return copies.length > 0 ? copies : [element("p", { className: "quiet" }, "No job is stored here.")];
}

/** A name from a file as it stands in a sentence, as app/src/text.rs has it: cut, and in its own direction of writing. */
function shortName(name) {
  if (typeof name !== "string" || !name) return "a job without a name";
  const code = (c) => `[U+${c.codePointAt(0).toString(16).toUpperCase().padStart(4, "0")}]`;
  const all = [...name];
  const shown = all.slice(0, 60).join("").replace(/[\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]/g, code);
  const cut = shown.replace(/\p{Cc}/gu, " ") + (all.length > 60 ? "…" : "");
  return [...cut].every((c) => c < "\u0080") ? cut : `\u2068${cut}\u2069`;
}

// ---------------------------------------------------------------- reading what is stored

/** The jobs that are stored, each with its entries as they lie there, and why the database could not be read, if so. */
async function stored() {
  const found = new Map();
  const add = (job, line) => {
    if (!found.has(job)) found.set(job, []);
    found.get(job).push(line);
  };
  let failure;
  try {
    await readDatabase(add);
  } catch (error) {
    // What waits in local storage is handed out all the same.
    failure = error;
  }
  const saved = new Map([...found].map(([job, entries]) => [job, new Set(entries)]));
  for (const [job, line] of waiting()) {
    if (!saved.get(job)?.has(line)) add(job, line);
  }
  return { found, failure };
}

async function readDatabase(add) {
  const database = await openDatabase();
  try {
    for (const [key, line] of await recordsOf(database)) add(String(key).split("/")[0], line);
  } finally {
    // Held open, it would hold up a newer version in another tab.
    database?.close();
  }
}

function openDatabase() {
  return new Promise((opened, failed) => {
    const request = indexedDB.open(DATABASE);
    // None is there: it must not be made without its stores.
    request.onupgradeneeded = () => request.transaction.abort();
    request.onsuccess = () => {
      const database = request.result;
      database.onversionchange = () => database.close();
      opened(database);
    };
    request.onerror = () => (request.error.name === "AbortError" ? opened(undefined) : failed(request.error));
  });
}

function recordsOf(database) {
  if (!database?.objectStoreNames.contains(ENTRIES)) return [];
  return new Promise((read, failed) => {
    const store = database.transaction(ENTRIES).objectStore(ENTRIES);
    const [keys, values] = [store.getAllKeys(), store.getAll()];
    values.transaction.oncomplete = () => read(keys.result.map((key, at) => [key, values.result[at]]));
    values.transaction.onabort = () => failed(values.transaction.error ?? values.error);
  });
}

function local(key) {
  try {
    return JSON.parse(localStorage.getItem(key));
  } catch {
    return undefined;
  }
}

/** What waits to be saved: pairs of a job and a line. */
function waiting() {
  try {
    const keys = Object.keys(localStorage);
    const single = keys.filter((key) => ASIDE.test(key));
    const lists = keys.filter((key) => key.startsWith(LISTS)).map(local);
    // What has another form is nobody's entry, and must not hide the others.
    const isEntry = (item) => Array.isArray(item) && item.length === 2 && typeof item[0] === "string";
    return [
      ...single.map((key) => [key.split("/")[1], localStorage.getItem(key)]),
      ...lists.flatMap((value) => (Array.isArray(value) ? value.filter(isEntry) : [])),
    ];
  } catch {
    return [];
  }
}

function namesOfJobs() {
  const list = local("jobs");
  return new Map(Array.isArray(list) ? list.map((job) => [job?.id, job?.name]) : []);
}

// ---------------------------------------------------------------- handing it out

function parsed(line) {
  try {
    return typeof line === "string" ? JSON.parse(line) : undefined;
  } catch {
    return undefined;
  }
}

/**
 * A job file of the entries alone, which the app opens as any other. A record that is no entry stands beside them; so
 * does an entry that begins another job, or this one a second time, for which the app would refuse the file.
 */
async function handOut(job, entries) {
  const log = [];
  const rest = [];
  let begun = false;
  for (const line of entries) {
    const entry = parsed(line);
    const begins = entry?.act === "made";
    if (entry && (!begins || (entry.job === job && !begun))) log.push(line);
    else rest.push(JSON.stringify(typeof line === "string" ? line : String(JSON.stringify(line))));
    begun ||= begins && entry.job === job;
  }
  const sum = await checksum(log.join("\n"));
  const parts = `"job":{"id":"${job}"},"log":[\n${log.join(",\n")}\n],"log_sha256":"${sum}","set_aside":[${rest}]`;
  const text = `{"format":"evenhand-job","version":1,${parts}}\n`;
  const href = URL.createObjectURL(new Blob([text], { type: "application/json" }));
  element("a", { href, download: `rescued-${job}.job.json` }).click();
  setTimeout(() => URL.revokeObjectURL(href), 60_000);
}

/** Without https there is no digest; the app then says that the file must be looked over. */
async function checksum(text) {
  const bytes = await crypto.subtle?.digest("SHA-256", new TextEncoder().encode(text));
  return [...new Uint8Array(bytes ?? [])].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}
