//! The engines that the app is tried in, each with its driver: how it is started, and what it is asked for.

use std::net::TcpListener;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

use serde_json::{Value, json};

use crate::browser::Profile;
use crate::device::Device;

/// A browser's engine.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Engine {
    /// Chromium, in which everything is tried.
    Chromium,
    /// Firefox, headless; its window is never narrower than 450 pixels.
    Firefox,
    /// WebKitGTK, the engine nearest to the one on iPhones. Its driver keeps nothing between two
    /// sessions and its window is never narrower than its toolbar.
    WebKit,
}

impl Engine {
    /// The driver's command, before the port.
    pub fn driver(self, profile: &Path) -> Command {
        let mut command = Command::new(self.driver_path());
        // Each keeps what it keeps inside the profile's folder, whatever else this machine's user has.
        match self {
            Engine::Chromium => command.arg("--port=0"),
            Engine::Firefox => command.args(["--port", "0"]).env("HOME", profile),
            Engine::WebKit => command
                .arg(format!("--port={}", free_port()))
                .arg("--host=127.0.0.1")
                .env("HOME", profile)
                .env("XDG_DATA_HOME", profile)
                .env("XDG_CACHE_HOME", profile)
                .env("XDG_CONFIG_HOME", profile)
                .env("WEBKIT_DISABLE_COMPOSITING_MODE", "1")
                // As root there is no other way; what it opens are our own pages.
                .env("WEBKIT_DISABLE_SANDBOX_THIS_IS_DANGEROUS", "1"),
        };
        command
    }

    /// The driver that the set-up found, or the one on the path.
    fn driver_path(self) -> PathBuf {
        let (variable, usual) = match self {
            Engine::Chromium => ("EVENHAND_DRIVER", "chromedriver"),
            Engine::Firefox => ("EVENHAND_GECKODRIVER", "geckodriver"),
            Engine::WebKit => ("EVENHAND_WEBKITDRIVER", "WebKitWebDriver"),
        };
        std::env::var_os(variable).map_or_else(|| usual.into(), PathBuf::from)
    }

    /// The port in a line of the driver's output.
    pub fn port_in(self, line: &str) -> Option<u16> {
        let (_, port) = match self {
            // "ChromeDriver was started successfully on port 41005."
            Engine::Chromium => line.split_once("started successfully on port ")?,
            // "1700000000000 geckodriver INFO Listening on 127.0.0.1:41005"
            Engine::Firefox => line.split_once("Listening on 127.0.0.1:")?,
            Engine::WebKit => return None,
        };
        port.trim_end_matches('.').trim().parse().ok()
    }

    /// What a new session is asked for.
    pub fn capabilities(self, device: &Device, profile: &Profile) -> Value {
        match self {
            Engine::Chromium => crate::browser::chromium(device, profile),
            Engine::Firefox => json!({
                "moz:firefoxOptions": {
                    "args": ["-headless", "-profile", profile.data()],
                    "prefs": {
                        "ui.systemUsesDarkTheme": i32::from(device.dark),
                        "dom.w3c_touch_events.enabled": 1,
                        "app.update.enabled": false,
                        "datareporting.policy.dataSubmissionEnabled": false,
                        "browser.download.folderList": 2,
                        "browser.download.dir": profile.downloads(),
                        "browser.download.useDownloadDir": true,
                        "browser.helperApps.neverAsk.saveToDisk": "application/json",
                    },
                },
            }),
            Engine::WebKit => json!({
                "webkitgtk:browserOptions": {
                    "binary": mini_browser(),
                    "args": ["--automation"],
                },
            }),
        }
    }
}

/// The browser that comes with WebKitGTK's driver.
fn mini_browser() -> PathBuf {
    let libraries = std::fs::read_dir("/usr/lib")
        .into_iter()
        .flatten()
        .flatten();
    let found = libraries
        .flat_map(|folder| ["webkit2gtk-4.1", "webkitgtk-6.0"].map(|w| folder.path().join(w)))
        .map(|folder| folder.join("MiniBrowser"))
        .find(|path| path.is_file());
    found.expect("WebKitGTK's MiniBrowser; './evenhand test' installs it")
}

/// A port that nobody listens on at this moment.
fn free_port() -> u16 {
    let listener = TcpListener::bind("127.0.0.1:0").expect("a free port");
    listener.local_addr().expect("its address").port()
}

/// A screen that nobody sees, for a browser that cannot do without one; ended when dropped.
pub struct Screen {
    server: Child,
    name: String,
}

impl Screen {
    /// Starts a virtual screen larger than any device.
    pub fn start() -> Self {
        use std::io::{BufRead, BufReader};
        let mut server = Command::new("Xvfb")
            .args([
                "-displayfd",
                "1",
                "-screen",
                "0",
                "1400x1000x24",
                "-nolisten",
                "tcp",
            ])
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("Xvfb starts; './evenhand test' installs it");
        let output = server.stdout.take().expect("its output is piped");
        let mut number = String::new();
        BufReader::new(output)
            .read_line(&mut number)
            .expect("Xvfb says which display it serves");
        let name = format!(":{}", number.trim());
        Self { server, name }
    }

    /// Its name for `DISPLAY`.
    pub fn name(&self) -> &str {
        &self.name
    }
}

impl Drop for Screen {
    fn drop(&mut self) {
        let _ = self.server.kill();
        let _ = self.server.wait();
    }
}
