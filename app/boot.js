// Starts the program, and does for it what must begin before it is there: registers the service worker, watches for
// newer releases, and keeps the browser's offer to install the app. The program reads the state and calls the methods
// of `window.evenhand` (app/src/device/shell.rs).

const HOUR = 3_600_000;
/** What the worker may take to answer before it counts as silent, in milliseconds. */
const TIMEOUT_MS = 3_000;

const shell = {
  /** Another release than the one in use is here, whole, and waits for the user's word. */
  news: false,
  /** That release is older than the one in use: the host has gone back. */
  older: false,
  /** The app starts without a network. */
  offline: false,
  /** The browser offers to install the app. */
  installable: false,
  /** Where the program stopped, once it did (`note_where_it_stops` in app/src/device/shell.rs). */
  stopped: "",
  /** Takes the newer release and starts it. */
  async use() {
    await ask(waiting, "use");
    location.reload();
  },
  /** Shows the browser's question whether to install the app. Only from a tap. */
  async install() {
    const question = installQuestion;
    installQuestion = undefined;
    await question?.prompt();
    changed();
  },
};
window.evenhand = shell;

/** Tells the program that something of the above has changed. */
function changed() {
  shell.installable = Boolean(installQuestion);
  dispatchEvent(new Event("evenhand-shell"));
}

// A page that comes back from the browser's cache has missed what other tabs did meanwhile.
addEventListener("pageshow", (event) => event.persisted && location.reload());

// ---------------------------------------------------------------- installation

let installQuestion;
addEventListener("beforeinstallprompt", (event) => {
  event.preventDefault();
  installQuestion = event;
  changed();
});
addEventListener("appinstalled", () => {
  installQuestion = undefined;
  changed();
});

// ---------------------------------------------------------------- offline, and newer releases

/** The worker that has the newest release. */
let waiting;

function ask(worker, what) {
  const { port1, port2 } = new MessageChannel();
  return new Promise((answer) => {
    port1.onmessage = ({ data }) => answer(data);
    setTimeout(answer, TIMEOUT_MS, { offline: false, news: false, older: false });
    worker.postMessage(what, [port2]);
  });
}

async function standBy() {
  const registration = await navigator.serviceWorker.register("sw.js", { updateViaCache: "none" });
  const look = async () => {
    waiting = registration.waiting ?? registration.active;
    if (waiting) {
      const state = await ask(waiting, "state");
      // A worker that does not say is of a version up to 0.1.1, and so older.
      Object.assign(shell, { older: state.news, ...state });
    }
    changed();
  };
  const follow = (worker) => worker?.addEventListener("statechange", look);
  registration.addEventListener("updatefound", () => follow(registration.installing));
  follow(registration.installing);
  await look();
  let asked = Date.now();
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState !== "visible" || Math.abs(Date.now() - asked) < HOUR) return;
    asked = Date.now();
    // Without a network there is no newer release; the next look will tell.
    registration.update().catch(() => {});
  });
}

// ---------------------------------------------------------------- storage

/**
 * A connection that stays open holds up a newer version, in another tab, that must change the stores. The program
 * closes its own; this closes it too once the program has stopped.
 */
function letNewerVersionsThrough() {
  let factory;
  try {
    factory = globalThis.indexedDB;
  } catch {
    // Storage is denied: there is no connection to close.
  }
  if (!factory) return;
  factory.open = (...given) => {
    const request = IDBFactory.prototype.open.apply(factory, given);
    request.addEventListener("success", () => {
      const database = request.result;
      database.addEventListener("versionchange", () => database.close());
    });
    return request;
  };
}

// ---------------------------------------------------------------- the program

/** In a frame of another page, that page could lay its own over this one, and so steer what is tapped. */
function refuseFrame() {
  const link = Object.assign(document.createElement("a"), {
    href: location.href,
    target: "_blank",
    rel: "noopener",
    className: "button main",
    textContent: "Open Evenhand by itself",
  });
  const page = Object.assign(document.createElement("main"), { className: "page" });
  const why = document.createElement("p");
  why.textContent = "Evenhand does not run inside another page. Nothing was opened here.";
  page.append(why, link);
  document.body.replaceChildren(page);
}

async function run() {
  const { href: bindings } = document.querySelector("link[rel=modulepreload]");
  const { href: program } = document.querySelector("link[rel=preload][as=fetch]");
  try {
    const { default: start } = await import(bindings);
    await start({ module_or_path: program });
    // The program has drawn its screen; the next paint shows it in the place of this bar.
    document.querySelector(".starting").remove();
  } catch (error) {
    // What stopped while it was starting says so itself (app/rescue.js).
    if (!(error instanceof WebAssembly.RuntimeError)) {
      const why = "The program could not be loaded: there is no network, or this browser is too old for it.";
      dispatchEvent(new CustomEvent("evenhand-stopped", { detail: why }));
    } else {
      throw error;
    }
  }
}

if (window.top === window.self) {
  letNewerVersionsThrough();
  // What the first screen needs is not to share the line with what the worker keeps; nor does a program that stopped
  // hold up the worker, which may have a newer one.
  run().finally(() => {
    // A browser without workers, or a page without https: the app works, but does not start without a network.
    if ("serviceWorker" in navigator) standBy().catch(() => {});
  });
} else {
  refuseFrame();
}
