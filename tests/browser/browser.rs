//! A browser in a test's hand: opened on a device and a profile, tapped, asked, killed and reopened.
//!
//! The file is long because it is the one driver of all browser tests.
//!
//! Everything here panics with a sentence when it cannot do what it was asked, since that ends the test.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use fantoccini::actions::{
    Actions, InputSource, KeyAction, KeyActions, MOUSE_BUTTON_LEFT, PointerAction, TouchActions,
};
use fantoccini::wd::{PrintConfiguration, PrintSize, WebDriverCompatibleCommand};
use fantoccini::{Client, ClientBuilder};
use hyper_util::client::legacy::connect::HttpConnector;
use serde_json::{Value, json};
use tempfile::TempDir;

use crate::device::Device;
use crate::engine::Engine;
use crate::processes::{Processes, browser_path};

/// How long a test waits for something that should happen at once on a quick machine.
const TIMEOUT: Duration = Duration::from_secs(15);
const POLL_INTERVAL: Duration = Duration::from_millis(15);

/// What a browser keeps between two starts, and the folder of its downloads. Removed when dropped.
pub struct Profile {
    folder: TempDir,
    /// Whether the browser writes down each request that it makes.
    notes_requests: bool,
}

impl Profile {
    /// Nothing stored yet.
    pub fn fresh() -> Self {
        let folder = TempDir::with_prefix("evenhand-browser-").expect("a temporary folder");
        let profile = Self {
            folder,
            notes_requests: false,
        };
        for part in [profile.data(), profile.downloads()] {
            fs::create_dir(part).expect("a folder inside the temporary one");
        }
        profile
    }

    /// The same, for a Chromium that writes down each request that it makes.
    pub fn noting_requests(self) -> Self {
        Self {
            notes_requests: true,
            ..self
        }
    }

    /// Where it writes that down; whole once the browser has quit.
    pub fn net_log(&self) -> PathBuf {
        self.folder.path().join("net-log.json")
    }

    /// The folder into which the browser puts downloads.
    pub fn downloads(&self) -> PathBuf {
        self.folder.path().join("downloads")
    }

    /// The folder of what it stores.
    pub fn data(&self) -> PathBuf {
        self.folder.path().join("data")
    }
}

/// A browser with one page. Dropping it ends every one of its processes.
pub struct Browser {
    // Fields are dropped in this order: the processes must end before their profile goes.
    client: Client,
    processes: Processes,
    profile: Profile,
    device: Device,
    taps: AtomicU32,
}

// Opening, closing, killing.
impl Browser {
    /// A phone on which nothing has been stored.
    pub async fn phone() -> Self {
        Self::open(Device::PHONE, Profile::fresh()).await
    }

    /// A browser on a device, with what an earlier one has left in the profile.
    pub async fn open(device: Device, profile: Profile) -> Self {
        Self::open_in(Engine::Chromium, device, profile).await
    }

    /// A browser of some engine. What is below the surface, such as the developer tools' protocol, is Chromium's alone.
    pub async fn open_in(engine: Engine, device: Device, profile: Profile) -> Self {
        let processes = Processes::start(engine, &profile.data());
        let capabilities = engine.capabilities(&device, &profile);
        let client = ClientBuilder::new(HttpConnector::new())
            .capabilities(serde_json::from_value(capabilities).expect("an object"))
            .connect(&processes.address())
            .await
            .unwrap_or_else(|error| panic!("{engine:?} opens: {error}"));
        let browser = Self {
            client,
            processes,
            profile,
            device,
            taps: AtomicU32::new(0),
        };
        match engine {
            Engine::Chromium => browser.set_up().await,
            Engine::Firefox | Engine::WebKit => browser.set_size().await,
        }
        browser
    }

    /// As near to the device's size as the window can come.
    async fn set_size(&self) {
        let (width, height) = (self.device.width, self.device.height);
        let sized = self.client.set_window_rect(0, 0, width, height).await;
        sized.expect("the window takes a size");
    }

    async fn set_up(&self) {
        let downloads = json!({ "behavior": "allow", "downloadPath": self.profile.downloads() });
        self.cdp("Browser.setDownloadBehavior", downloads).await;
        let theme = json!({ "features": [
            { "name": "prefers-color-scheme", "value": self.device.color_scheme() },
        ]});
        self.cdp("Emulation.setEmulatedMedia", theme).await;
    }

    /// SIGKILL to every process of the browser, as when the battery comes out; what it had stored is left.
    pub fn kill(self) -> Profile {
        // Dropping the processes is what kills them.
        self.profile
    }

    /// Asks the browser to quit, as a person does who closes its last window.
    pub async fn quit(self) -> Profile {
        self.client
            .clone()
            .close()
            .await
            .expect("the browser quits");
        self.profile
    }

    /// As [`Browser::kill`], from another thread after a while, whatever is being done then: what is asked of the
    /// browser after that fails.
    pub fn kill_after(&self, time: Duration) -> JoinHandle<()> {
        self.processes.kill_after(time)
    }

    /// First the processes that draw pages, as when a phone discards a tab, and the rest a third of a second later.
    pub fn kill_tab_after(&self, time: Duration) -> JoinHandle<()> {
        self.processes.kill_tab_after(time)
    }

    /// How many processes of this browser are alive.
    pub fn processes(&self) -> usize {
        self.processes.alive().len()
    }
}

// Going and looking.
impl Browser {
    /// Goes to an address and returns when the page has loaded.
    pub async fn go_to(&self, url: &str) {
        self.client.goto(url).await.expect("the page loads");
    }

    /// The browser's own Back.
    pub async fn back(&self) {
        self.client.back().await.expect("the browser goes back");
    }

    /// The browser's own reload.
    pub async fn reload(&self) {
        self.client.refresh().await.expect("the page reloads");
    }

    /// The title of the page.
    pub async fn title(&self) -> String {
        self.client.title().await.expect("the page has a title")
    }

    /// What the body of a script function returns, given `arguments[0]` and so on; a promise is awaited.
    pub async fn run(&self, body: &str, arguments: Vec<Value>) -> Value {
        let answer = self.client.execute(body, arguments).await;
        answer.unwrap_or_else(|error| panic!("the script failed: {error}\n{body}"))
    }

    /// As [`Browser::run`], of a browser that may be gone.
    pub async fn try_run(&self, body: &str) -> Option<Value> {
        self.client.execute(body, vec![]).await.ok()
    }

    /// As [`Browser::type_keys`], into a browser that may be gone.
    pub async fn try_type_keys(&self, keys: &str) -> Option<()> {
        self.client.perform_actions(keyboard(keys)).await.ok()
    }

    /// As [`Browser::run`], with arguments, of a browser that may be gone.
    pub async fn try_ask(&self, body: &str, arguments: Vec<Value>) -> Option<Value> {
        self.client.execute(body, arguments).await.ok()
    }

    /// As [`Browser::tap`], in a browser that may be gone.
    pub async fn try_tap(&self, selector: &str) -> Option<()> {
        let started = Instant::now();
        loop {
            let place = self.try_ask(PLACE_TO_TAP, vec![json!(selector)]).await?;
            if let Some((x, y)) = place["x"].as_f64().zip(place["y"].as_f64()) {
                return self.try_tap_at(x, y).await;
            }
            assert!(started.elapsed() < TIMEOUT, "{selector} cannot be tapped");
        }
    }

    /// As [`Browser::tap_at`], in a browser that may be gone.
    pub async fn try_tap_at(&self, x: f64, y: f64) -> Option<()> {
        let finger = TouchActions::new("finger".into())
            .then(move_to(x, y, Duration::ZERO))
            .then(down())
            .then(up());
        self.client.perform_actions(finger).await.ok()
    }

    /// Runs a script in every page that is loaded from now on, before the page's own.
    pub async fn before_load(&self, script: &str) {
        let script = json!({ "source": script });
        self.cdp("Page.addScriptToEvaluateOnNewDocument", script)
            .await;
    }

    /// Opens a second tab, which is looked at and tapped from now on.
    pub async fn open_tab(&self) {
        let tab = self.client.new_window(true).await.expect("a new tab");
        let switched = self.client.switch_to_window(tab.handle).await;
        switched.expect("the new tab");
        self.set_up().await;
    }

    /// Looks at the first or the second tab from now on.
    pub async fn show_tab(&self, which: usize) {
        let tabs = self.client.windows().await.expect("the tabs");
        let switched = self.client.switch_to_window(tabs[which].clone()).await;
        switched.expect("that tab");
    }

    /// Closes the tab that is looked at; the first is looked at then.
    pub async fn close_tab(&self) {
        self.client.close_window().await.expect("the tab closes");
        self.show_tab(0).await;
    }

    /// The text that a person sees in the first element that the selector names.
    pub async fn text(&self, selector: &str) -> String {
        self.wait_for(selector).await;
        let text = "return document.querySelector(arguments[0]).innerText";
        let text = self.run(text, vec![json!(selector)]).await;
        text.as_str().unwrap_or_default().to_owned()
    }

    /// How many elements the selector names.
    pub async fn count(&self, selector: &str) -> u64 {
        let count = "return document.querySelectorAll(arguments[0]).length";
        let count = self.run(count, vec![json!(selector)]).await;
        count.as_u64().expect("a count")
    }

    /// Waits until an element is there.
    pub async fn wait_for(&self, selector: &str) {
        let there = "return document.querySelector(arguments[0]) !== null";
        self.wait_until(there, vec![json!(selector)]).await;
    }

    /// Waits until the body of a script function returns something true, and returns it.
    pub async fn wait_until(&self, body: &str, arguments: Vec<Value>) -> Value {
        let started = Instant::now();
        loop {
            let answer = self.run(body, arguments.clone()).await;
            if is_true(&answer) {
                return answer;
            }
            if started.elapsed() >= TIMEOUT {
                let page = "return location.hash + ': ' + document.body?.innerText.slice(0, 600)";
                let page = self.run(page, vec![]).await;
                panic!(
                    "waited {TIMEOUT:?} in vain for {body} with {arguments:?}; last answer {answer}; the page shows {page}"
                );
            }
            tokio::time::sleep(POLL_INTERVAL).await;
        }
    }

    /// Errors of the page since the last call: failed loads, failed scripts, refused policies.
    pub async fn console_errors(&self) -> Vec<String> {
        self.console("SEVERE").await
    }

    /// All that the page has logged since the last call.
    pub async fn console_log(&self) -> Vec<String> {
        self.console("").await
    }

    /// The messages of a level of the console; of any, when it is empty.
    async fn console(&self, level: &str) -> Vec<String> {
        let log = self.command("se/log", json!({ "type": "browser" })).await;
        log.as_array()
            .expect("a log")
            .iter()
            .filter(|entry| level.is_empty() || entry["level"] == level)
            .map(|entry| entry["message"].as_str().unwrap_or_default().to_owned())
            .collect()
    }

    /// Writes what the screen shows to `target/screenshots/NAME.png`.
    pub async fn screenshot(&self, name: &str) -> PathBuf {
        let picture = self.client.screenshot().await.expect("a screenshot");
        let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).with_file_name("screenshots");
        fs::create_dir_all(&folder).expect("a folder for screenshots");
        let path = folder.join(name).with_extension("png");
        fs::write(&path, picture).expect("the screenshot is written");
        path
    }

    /// The page as it prints, as a PDF named `target/screenshots/NAME.pdf`.
    pub async fn print(&self, name: &str, size: PrintSize) -> PathBuf {
        let sheet = PrintConfiguration::builder().size(size).build();
        let pdf = self.client.print(sheet.expect("a sheet of paper")).await;
        let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).with_file_name("screenshots");
        fs::create_dir_all(&folder).expect("a folder for screenshots");
        let path = folder.join(name).with_extension("pdf");
        fs::write(&path, pdf.expect("the page prints")).expect("the PDF is written");
        path
    }

    /// The folder of downloads.
    pub fn download_folder(&self) -> PathBuf {
        self.profile.downloads()
    }

    /// The first finished download whose name ends so.
    pub async fn download(&self, ending: &str) -> PathBuf {
        self.download_that(|name| name.ends_with(ending)).await
    }

    /// The first finished download whose name is of this kind. The browser holds the name with an empty file first.
    pub async fn download_that(&self, is: impl Fn(&str) -> bool) -> PathBuf {
        let started = Instant::now();
        loop {
            let found = fs::read_dir(self.profile.downloads())
                .expect("the folder of downloads")
                .filter_map(|entry| Some(entry.ok()?.path()))
                .filter(|path| path.metadata().is_ok_and(|file| file.len() > 0))
                .find(|path| is(&path.file_name().unwrap_or_default().to_string_lossy()));
            if let Some(path) = found {
                return path;
            }
            assert!(started.elapsed() < TIMEOUT, "no such download");
            tokio::time::sleep(POLL_INTERVAL).await;
        }
    }
}

// Touching and typing.
impl Browser {
    /// Taps an element with a finger, once it stands still and nothing covers it; scrolls to it if it is out of sight.
    pub async fn tap(&self, selector: &str) {
        let place = self.wait_until(PLACE_TO_TAP, vec![json!(selector)]).await;
        let (x, y) = (place["x"].as_f64(), place["y"].as_f64());
        self.tap_at(x.expect("a place"), y.expect("a place")).await;
    }

    /// Taps a place of the viewport with a finger.
    pub async fn tap_at(&self, x: f64, y: f64) {
        let finger = TouchActions::new("finger".into())
            .then(move_to(x, y, Duration::ZERO))
            .then(down())
            .then(up());
        self.perform(finger).await;
        self.taps.fetch_add(1, Ordering::Relaxed);
    }

    /// Touches a place of the viewport and holds it for a time: one touch.
    pub async fn hold_at(&self, x: f64, y: f64, time: Duration) {
        self.swipe((x, y), (x, y), time).await;
        self.taps.fetch_add(1, Ordering::Relaxed);
    }

    /// Taps places of the viewport one after the other, as fast as the browser takes it. Unlike [`Browser::tap`]
    /// it does not look whether something covers them.
    pub async fn tap_all_at(&self, places: &[(f64, f64)]) {
        let mut finger = TouchActions::new("finger".into());
        for (x, y) in places {
            let to = move_to(*x, *y, Duration::ZERO);
            finger = finger.then(to).then(down()).then(up());
        }
        self.perform(finger).await;
        self.taps.fetch_add(places.len() as u32, Ordering::Relaxed);
    }

    /// How often the finger has tapped since the browser was opened.
    pub fn taps(&self) -> u32 {
        self.taps.load(Ordering::Relaxed)
    }

    /// Draws a finger from one place to another.
    pub async fn swipe(&self, from: (f64, f64), to: (f64, f64), time: Duration) {
        let finger = TouchActions::new("finger".into())
            .then(move_to(from.0, from.1, Duration::ZERO))
            .then(down())
            .then(move_to(to.0, to.1, time))
            .then(up());
        self.perform(finger).await;
    }

    /// Draws two fingers apart or together, level with each other around a place.
    pub async fn pinch(&self, (x, y): (f64, f64), apart: (f64, f64)) {
        let finger = |name: &str, side: f64| {
            let at = |apart: f64, time| move_to(x + side * apart / 2.0, y, time);
            TouchActions::new(name.into())
                .then(at(apart.0, Duration::ZERO))
                .then(down())
                .then(at(apart.1, Duration::from_millis(200)))
                .then(up())
        };
        let fingers = vec![finger("left", -1.0), finger("right", 1.0)];
        self.perform(fingers).await;
    }

    /// Types on a hardware keyboard, into whatever has the focus. `\u{e007}` is Enter, after the WebDriver standard.
    pub async fn type_keys(&self, keys: &str) {
        self.perform(keyboard(keys)).await;
    }

    /// Goes back by a stop, with Shift and Tab.
    pub async fn shift_tab(&self) {
        let (shift, tab) = ('\u{e008}', '\u{e004}');
        let keys = KeyActions::new("keyboard".into())
            .then(KeyAction::Down { value: shift })
            .then(KeyAction::Down { value: tab })
            .then(KeyAction::Up { value: tab })
            .then(KeyAction::Up { value: shift });
        self.perform(keys).await;
    }

    /// Puts a file into a file input, as the platform's file chooser would.
    pub async fn choose_file(&self, selector: &str, file: &Path) {
        self.wait_for(selector).await;
        let input = self
            .client
            .find(fantoccini::Locator::Css(selector))
            .await
            .expect("a file input");
        let path = file.to_str().expect("a path in UTF-8");
        input.send_keys(path).await.expect("the file is chosen");
    }

    /// As [`Browser::choose_file`], in a browser that may be gone.
    pub async fn try_choose_file(&self, selector: &str, file: &Path) -> Option<()> {
        let input = self.client.find(fantoccini::Locator::Css(selector));
        let path = file.to_str().expect("a path in UTF-8");
        input.await.ok()?.send_keys(path).await.ok()
    }

    async fn perform(&self, actions: impl Into<Actions>) {
        let done = self.client.perform_actions(actions).await;
        done.expect("the browser takes the input");
    }
}

// Below the surface.
impl Browser {
    /// A command of the Chrome DevTools Protocol.
    pub async fn cdp(&self, command: &str, parameters: Value) -> Value {
        let body = json!({ "cmd": command, "params": parameters });
        self.command("goog/cdp/execute", body).await
    }

    async fn command(&self, path: &'static str, body: Value) -> Value {
        let answer = self.client.issue_cmd(SessionCommand { path, body }).await;
        answer.unwrap_or_else(|error| panic!("the browser refused {path}: {error}"))
    }
}

/// A POST to the session that the WebDriver standard does not know.
#[derive(Debug)]
struct SessionCommand {
    path: &'static str,
    body: Value,
}

impl WebDriverCompatibleCommand for SessionCommand {
    fn endpoint(
        &self,
        base: &url::Url,
        session: Option<&str>,
    ) -> Result<url::Url, url::ParseError> {
        base.join(&format!(
            "session/{}/{}",
            session.unwrap_or_default(),
            self.path
        ))
    }

    fn method_and_body(&self, _: &url::Url) -> (http::Method, Option<String>) {
        (http::Method::POST, Some(self.body.to_string()))
    }
}

/// What Chromium is asked for.
pub fn chromium(device: &Device, profile: &Profile) -> Value {
    let data = profile.data();
    let mut arguments: Vec<String> = FLAGS.map(String::from).to_vec();
    arguments.push(format!("--user-data-dir={}", data.display()));
    if profile.notes_requests {
        arguments.push(format!("--log-net-log={}", profile.net_log().display()));
    }
    if rustix::process::geteuid().is_root() {
        arguments.push("--no-sandbox".into());
    }
    let mut options = json!({
        "args": arguments,
        "mobileEmulation": device.emulation(),
        "prefs": {
            "download.default_directory": profile.downloads(),
            "download.prompt_for_download": false,
            "webkit.webprefs.default_font_size": device.text_pixels(),
        },
    });
    if let Some(path) = browser_path() {
        options["binary"] = json!(path);
    }
    json!({
        "goog:chromeOptions": options,
        "goog:loggingPrefs": { "browser": "ALL" },
    })
}

const FLAGS: [&str; 11] = [
    "--headless",
    "--disable-gpu",
    "--disable-quic",
    "--disable-dev-shm-usage",
    "--no-first-run",
    "--no-default-browser-check",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--hide-crash-restore-bubble",
    "--password-store=basic",
];

/// Where to tap the element `arguments[0]`, or the reason why a finger cannot do it now.
const PLACE_TO_TAP: &str = r"
    const element = document.querySelector(arguments[0]);
    if (!element || element.disabled) return false;
    const sees = box => box.width > 0 && box.height > 0;
    const middle = box => ({ x: box.x + box.width / 2, y: box.y + box.height / 2 });
    let box = element.getBoundingClientRect();
    let place = middle(box);
    const inside = place.x >= 0 && place.y >= 0 && place.x < innerWidth && place.y < innerHeight;
    if (!inside) element.scrollIntoView({ block: 'center', inline: 'center', behavior: 'instant' });
    return new Promise(answer => requestAnimationFrame(() => {
        const later = element.getBoundingClientRect();
        const still = inside && later.x === box.x && later.y === box.y;
        const hit = document.elementFromPoint(place.x, place.y);
        // Inside the window and still clipped by its scrolling parent: scroll to it, and look again.
        if (!element.contains(hit)) element.scrollIntoView({ block: 'center', inline: 'center', behavior: 'instant' });
        answer(sees(later) && still && element.contains(hit) && place);
    }));
";

fn is_true(value: &Value) -> bool {
    !matches!(value, Value::Null | Value::Bool(false))
}

fn keyboard(keys: &str) -> KeyActions {
    let mut keyboard = KeyActions::new("keyboard".into());
    for value in keys.chars() {
        keyboard = keyboard
            .then(KeyAction::Down { value })
            .then(KeyAction::Up { value });
    }
    keyboard
}

fn move_to(x: f64, y: f64, time: Duration) -> PointerAction {
    PointerAction::MoveTo {
        duration: Some(time),
        x,
        y,
    }
}

fn down() -> PointerAction {
    PointerAction::Down {
        button: MOUSE_BUTTON_LEFT,
    }
}

fn up() -> PointerAction {
    PointerAction::Up {
        button: MOUSE_BUTTON_LEFT,
    }
}
