//! The browser's processes: started, found again, and ended without mercy.

use std::collections::HashSet;
use std::ffi::OsStr;
use std::fs;
use std::io::{BufRead, BufReader};
use std::os::unix::ffi::OsStrExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use rustix::process::{Pid, Signal, kill_process};

/// A running driver and the browser that it started, told apart from any other by the folder of its profile.
///
/// Dropping it ends every process of both, also while a test panics.
pub struct Processes {
    driver: Child,
    port: u16,
    profile: PathBuf,
}

impl Processes {
    /// Starts a driver on a free port; `profile` is the folder that its browser is going to be given.
    pub fn start(profile: &Path) -> Self {
        let (driver, port) = (0..DRIVER_TRIES)
            .find_map(|_| start_driver())
            .expect("the driver says on which port it listens");
        Self {
            driver,
            port,
            profile: profile.to_owned(),
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
        let started = Instant::now();
        loop {
            let alive = self.alive();
            for pid in &alive {
                // An error says that the process has ended by itself.
                let _ = kill_process(*pid, Signal::KILL);
            }
            let _ = self.driver.try_wait();
            if alive.is_empty() || started.elapsed() > Duration::from_secs(10) {
                return;
            }
            std::thread::sleep(Duration::from_millis(5));
        }
    }
}

/// A driver that chooses a free port may find it taken a moment later, and ends then.
const DRIVER_TRIES: usize = 5;

/// Starts a driver, and returns it with the port on which it says that it listens.
fn start_driver() -> Option<(Child, u16)> {
    let mut driver = Command::new(driver_path())
        .arg("--port=0")
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .expect("chromedriver starts; './evenhand test' installs it");
    let output = driver.stdout.take().expect("the driver's output is piped");
    let mut lines = BufReader::new(output).lines().map_while(Result::ok);
    match lines.find_map(|line| port_in(&line)) {
        Some(port) => Some((driver, port)),
        None => {
            // It has ended by itself; this only clears it away.
            let _ = driver.wait();
            None
        }
    }
}

impl Drop for Processes {
    fn drop(&mut self) {
        self.kill();
    }
}

/// The driver that the set-up found, or the one on the path.
fn driver_path() -> PathBuf {
    std::env::var_os("EVENHAND_DRIVER").map_or_else(|| "chromedriver".into(), PathBuf::from)
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

/// "ChromeDriver was started successfully on port 41005."
fn port_in(line: &str) -> Option<u16> {
    let (_, port) = line.split_once("started successfully on port ")?;
    port.trim_end_matches('.').parse().ok()
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
