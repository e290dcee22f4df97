//! The browser's processes: started, found again, and ended without mercy.

use std::collections::HashSet;
use std::ffi::OsStr;
use std::fs;
use std::io::{BufRead, BufReader};
use std::net::TcpStream;
use std::os::unix::ffi::OsStrExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Stdio};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use rustix::process::{Pid, Signal, kill_process};

use crate::engine::{Engine, Screen};

/// A running driver and the browser that it started, told apart from any other by the folder of its profile.
///
/// Dropping it ends every process of both, also while a test panics.
pub struct Processes {
    driver: Child,
    port: u16,
    profile: PathBuf,
    /// Ended after the browser that shows itself there.
    _screen: Option<Screen>,
}

impl Processes {
    /// Starts a driver on a free port; `profile` is the folder that its browser is going to be given.
    pub fn start(engine: Engine, profile: &Path) -> Self {
        let screen = (engine == Engine::WebKit).then(Screen::start);
        let (driver, port) = (0..DRIVER_TRIES)
            .find_map(|_| start_driver(engine, profile, screen.as_ref()))
            .expect("the driver listens on a port");
        Self {
            driver,
            port,
            profile: profile.to_owned(),
            _screen: screen,
        }
    }

    /// Where the driver listens.
    pub fn address(&self) -> String {
        format!("http://127.0.0.1:{}", self.port)
    }

    /// The processes alive at this moment, the driver's own among them.
    pub fn alive(&self) -> Vec<Pid> {
        family(self.driver.id(), &self.profile)
    }

    /// SIGKILL to all of them, as when a battery comes out. Returns when none is left.
    fn kill(&mut self) {
        kill_family(self.driver.id(), &self.profile, || {
            let _ = self.driver.try_wait();
        });
    }

    /// The same from another thread after a while.
    pub fn kill_after(&self, time: Duration) -> JoinHandle<()> {
        let (driver, profile) = (self.driver.id(), self.profile.clone());
        std::thread::spawn(move || {
            std::thread::sleep(time);
            kill_family(driver, &profile, || {});
        })
    }
}

impl Processes {
    /// First Chromium's processes that draw pages, then all.
    pub fn kill_tab_after(&self, time: Duration) -> JoinHandle<()> {
        let (driver, profile) = (self.driver.id(), self.profile.clone());
        std::thread::spawn(move || {
            std::thread::sleep(time);
            for pid in family(driver, &profile) {
                let command = fs::read(format!("/proc/{}/cmdline", pid.as_raw_nonzero()));
                let command = command.unwrap_or_default();
                if String::from_utf8_lossy(&command).contains("--type=renderer") {
                    // An error says that the process has ended by itself.
                    let _ = kill_process(pid, Signal::KILL);
                }
            }
            std::thread::sleep(Duration::from_millis(300));
            kill_family(driver, &profile, || {});
        })
    }
}

/// SIGKILL until none is alive; `meanwhile` may clear away those that have ended.
fn kill_family(root: u32, marker: &Path, mut meanwhile: impl FnMut()) {
    let started = Instant::now();
    loop {
        let alive = family(root, marker);
        for pid in &alive {
            // An error says that the process has ended by itself.
            let _ = kill_process(*pid, Signal::KILL);
        }
        meanwhile();
        if alive.is_empty() || started.elapsed() > Duration::from_secs(10) {
            return;
        }
        std::thread::sleep(Duration::from_millis(5));
    }
}

/// A driver that chooses a free port may find it taken a moment later, and ends then.
const DRIVER_TRIES: usize = 5;

/// Starts a driver, and returns it with the port on which it listens.
fn start_driver(engine: Engine, profile: &Path, screen: Option<&Screen>) -> Option<(Child, u16)> {
    let mut command = engine.driver(profile);
    if let Some(screen) = screen {
        command.env("DISPLAY", screen.name());
    }
    let asked = command.get_args().find_map(|argument| {
        let port = argument.to_str()?.strip_prefix("--port=")?.parse();
        port.ok().filter(|port: &u16| *port > 0)
    });
    let mut driver = command
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap_or_else(|error| {
            panic!("{command:?} starts ({error}); './evenhand test' installs it")
        });
    let output = driver.stdout.take().expect("the driver's output is piped");
    let port = match asked {
        Some(port) => answers(port).then_some(port),
        None => {
            let mut lines = BufReader::new(output).lines().map_while(Result::ok);
            let port = lines.find_map(|line| engine.port_in(&line));
            // Whatever else it says must go somewhere, or a driver that talks would stand still.
            std::thread::spawn(move || lines.for_each(drop));
            port
        }
    };
    match port {
        Some(port) => Some((driver, port)),
        None => {
            // It has ended by itself, or another took its port; this only clears it away.
            let _ = driver.kill();
            let _ = driver.wait();
            None
        }
    }
}

/// Whether somebody listens on a port within a few seconds.
fn answers(port: u16) -> bool {
    let began = Instant::now();
    while began.elapsed() < Duration::from_secs(10) {
        if TcpStream::connect(("127.0.0.1", port)).is_ok() {
            return true;
        }
        std::thread::sleep(Duration::from_millis(20));
    }
    false
}

impl Drop for Processes {
    fn drop(&mut self) {
        self.kill();
    }
}

/// The browser that the set-up found; without one the driver looks for its own.
pub fn browser_path() -> Option<PathBuf> {
    std::env::var_os("EVENHAND_BROWSER")
        .map(PathBuf::from)
        .or_else(|| {
            let usual = "/usr/bin/chromium";
            Path::new(usual).exists().then(|| usual.into())
        })
}

/// `root`, all that descends from it, and all that names `marker` in its command line: a process whose parent has ended
/// is no longer a descendant.
fn family(root: u32, marker: &Path) -> Vec<Pid> {
    let mut members = HashSet::from([root]);
    let processes: Vec<_> = fs::read_dir("/proc")
        .expect("/proc, which Linux has")
        .filter_map(|entry| Process::read(&entry.ok()?.path()))
        .collect();
    loop {
        let before = members.len();
        for process in &processes {
            if members.contains(&process.parent) || process.names(marker) {
                members.insert(process.id);
            }
        }
        if members.len() == before {
            break;
        }
    }
    processes
        .iter()
        .filter(|process| members.contains(&process.id))
        .filter_map(|process| Pid::from_raw(process.id.try_into().ok()?))
        .collect()
}

struct Process {
    id: u32,
    parent: u32,
    command: Vec<u8>,
}

impl Process {
    /// Nothing for what is not a process, and for a process that has ended and only waits for its parent.
    fn read(folder: &Path) -> Option<Self> {
        let id = folder.file_name().and_then(OsStr::to_str)?.parse().ok()?;
        let stat = fs::read_to_string(folder.join("stat")).ok()?;
        // "4711 (name) S 4700 …", where the name may hold spaces and parentheses.
        let mut fields = stat.rsplit_once(')')?.1.split_whitespace();
        if fields.next()? == "Z" {
            return None;
        }
        Some(Self {
            id,
            parent: fields.next()?.parse().ok()?,
            command: fs::read(folder.join("cmdline")).unwrap_or_default(),
        })
    }

    fn names(&self, marker: &Path) -> bool {
        let marker = marker.as_os_str().as_bytes();
        self.command
            .windows(marker.len())
            .any(|part| part == marker)
    }
}
