//! An update that breaks off at any file of its release: the one in use goes on, nothing is announced, and the newer one
//! is announced once it has come whole.

use std::fs;
use std::io::{BufRead, BufReader, Write};
use std::net::{Ipv4Addr, SocketAddr, TcpListener, TcpStream};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};
use std::sync::{Arc, Mutex};
use std::thread::JoinHandle;

use serde_json::json;

use crate::browser::Browser;
use crate::offline::{copy_of_release, copy_release_to, release_marked, wait_until_kept};
use crate::pages::jobs::Jobs;
use crate::pages::open_app_at;
use crate::pages::order::Order;
use crate::pages::pass::Pass;

/// What becomes of a file on its way.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Damage {
    /// The host does not have it.
    Missing,
    /// The connection ends in the middle.
    BreaksOff,
    /// One byte is another.
    Altered,
    /// Instead of it comes the page of a network that asks to sign in.
    SignIn,
}

const DAMAGES: [Damage; 4] = [
    Damage::Missing,
    Damage::BreaksOff,
    Damage::Altered,
    Damage::SignIn,
];

const SIGN_IN: &str = "<!doctype html><title>Sign in</title><p>Sign in to use this network.";

/// A static host that spoils one file. Dropping it ends it.
struct Host {
    address: SocketAddr,
    shared: Arc<Shared>,
    thread: Option<JoinHandle<()>>,
}

struct Shared {
    folder: PathBuf,
    spoiled: Mutex<Option<(String, Damage)>>,
    /// How often the spoiled file was sent.
    sent_spoiled: AtomicU32,
    ended: AtomicBool,
}

impl Host {
    fn of(folder: &Path) -> Host {
        let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).expect("a port");
        let address = listener.local_addr().expect("its address");
        let shared = Arc::new(Shared {
            folder: folder.to_owned(),
            spoiled: Mutex::new(None),
            sent_spoiled: AtomicU32::new(0),
            ended: AtomicBool::new(false),
        });
        let own = shared.clone();
        let serve = move || {
            for stream in listener.incoming().map_while(Result::ok) {
                if own.ended.load(Ordering::SeqCst) {
                    return;
                }
                let own = own.clone();
                // The browser may hang up whenever it likes.
                std::thread::spawn(move || own.answer(&stream).ok());
            }
        };
        Host {
            address,
            shared,
            thread: Some(std::thread::spawn(serve)),
        }
    }

    fn url(&self) -> String {
        format!("http://{}/", self.address)
    }

    /// From now on sends this file so, and every other as it is.
    fn spoil(&self, name: &str, damage: Damage) {
        *self.shared.spoiled.lock().expect("the host") = Some((name.to_owned(), damage));
        self.shared.sent_spoiled.store(0, Ordering::SeqCst);
    }

    /// From now on sends every file as it is.
    fn heal(&self) {
        *self.shared.spoiled.lock().expect("the host") = None;
    }

    fn has_sent_spoiled(&self) -> bool {
        self.shared.sent_spoiled.load(Ordering::SeqCst) > 0
    }
}

impl Drop for Host {
    fn drop(&mut self) {
        self.shared.ended.store(true, Ordering::SeqCst);
        // Wakes it, so that it sees that it is to end.
        let _ = TcpStream::connect(self.address);
        let _ = self.thread.take().map(JoinHandle::join);
    }
}

impl Shared {
    /// Answers one request, and closes the connection.
    fn answer(&self, mut stream: &TcpStream) -> std::io::Result<()> {
        let mut lines = BufReader::new(stream).lines();
        let request = lines.next().transpose()?.unwrap_or_default();
        while lines.next().transpose()?.is_some_and(|l| !l.is_empty()) {}
        let path = request.split(' ').nth(1).unwrap_or_default();
        let name = match path.trim_start_matches('/') {
            "" => "index.html",
            name => name,
        };
        let spoiled = self.spoiled.lock().expect("the host").clone();
        let damage = spoiled.filter(|(of, _)| of == name).map(|(_, d)| d);
        let mut body = fs::read(self.folder.join(name)).unwrap_or_default();
        let mut kind = kind_of(name);
        let mut status = if body.is_empty() {
            "404 Not Found"
        } else {
            "200 OK"
        };
        let length = body.len();
        match damage {
            Some(Damage::Missing) => (status, body) = ("404 Not Found", vec![]),
            Some(Damage::BreaksOff) => body.truncate(length / 2),
            // Neither the type nor the length gives it away.
            Some(Damage::Altered) => body[length / 2] ^= 1,
            Some(Damage::SignIn) => (kind, body) = ("text/html", SIGN_IN.into()),
            None => {}
        }
        let told = if damage == Some(Damage::BreaksOff) {
            length
        } else {
            body.len()
        };
        write!(
            stream,
            "HTTP/1.1 {status}\r\nContent-Type: {kind}\r\nContent-Length: {told}\r\nConnection: close\r\n\r\n"
        )?;
        stream.write_all(&body)?;
        if damage.is_some() {
            self.sent_spoiled.fetch_add(1, Ordering::SeqCst);
        }
        Ok(())
    }
}

fn kind_of(name: &str) -> &'static str {
    match name.rsplit('.').next() {
        Some("html") => "text/html; charset=utf-8",
        Some("js") => "text/javascript",
        Some("css") => "text/css",
        Some("wasm") => "application/wasm",
        Some("svg") => "image/svg+xml",
        Some("png") => "image/png",
        _ => "application/json",
    }
}

/// The files of the release in a folder, as its worker names them, and the worker.
fn files_of(folder: &Path) -> Vec<String> {
    let worker = fs::read_to_string(folder.join("sw.js")).expect("the worker");
    let names = fs::read_dir(folder).expect("the release");
    let names = names.filter_map(|file| file.ok()?.file_name().into_string().ok());
    let mut names: Vec<String> = names
        .filter(|name| name == "sw.js" || worker.contains(&format!("\"{name}\"")))
        .collect();
    names.sort();
    names
}

/// Asks the host for a newer release, and returns once what came of it has settled: whether one waits.
const UPDATE: &str = "return (async () => {
    const registration = await navigator.serviceWorker.getRegistration();
    // Refused where the worker itself did not come.
    await registration.update().catch(() => {});
    const installing = registration.installing;
    if (installing) await new Promise(end => {
        const look = () => installing.state !== 'installing' && end();
        installing.addEventListener('statechange', look);
        look();
    });
    return registration.waiting !== null;
})()";

/// Waits until the page is of a release, and shows the pass with its reading.
async fn wait_for_pass_of(browser: &Browser, release: usize) {
    let is = "return document.body?.dataset.release === arguments[0]";
    browser
        .wait_until(is, vec![json!(release.to_string())])
        .await;
    browser.wait_for(".pass .pad").await;
    let pass = Pass(browser);
    assert!(pass.caption().await.starts_with("1 of 88 measured"));
}

#[tokio::test]
async fn an_update_that_breaks_off_at_any_of_its_files_changes_nothing() {
    let folder = copy_of_release();
    // Release after release, each later than any build.
    let release = |number: usize| {
        copy_release_to(folder.path());
        let later = 90_000_000_000 + number;
        release_marked(
            folder.path(),
            &later.to_string(),
            "public/sw.js",
            &format!("data-release={number}"),
        );
    };
    release(0);
    let files = files_of(folder.path());
    assert!(files.iter().any(|name| name.ends_with(".wasm")));
    let host = Host::of(folder.path());
    let browser = Browser::phone().await;
    open_app_at(&browser, &host.url()).await;
    Jobs(&browser).make("Updated", "").await;
    Order(&browser).begin("let_off").await;
    Pass(&browser).on_target().await;
    Pass(&browser).wait_until_saved().await;
    wait_until_kept(&browser).await;

    for (before, name) in files.iter().enumerate() {
        release(before + 1);
        for damage in DAMAGES {
            // The worker has no checksum: it is what the checksums stand in.
            if name == "sw.js" && damage == Damage::Altered {
                continue;
            }
            host.spoil(name, damage);
            let waits = browser.run(UPDATE, vec![]).await;
            assert!(host.has_sent_spoiled(), "{name}: not asked for");
            assert_eq!(waits, json!(false), "{name}, {damage:?}");
            assert_eq!(browser.count(".newer").await, 0, "{name}, {damage:?}");
        }
        // The release in use starts, although the host goes on spoiling the file.
        browser.reload().await;
        wait_for_pass_of(&browser, before).await;
        assert_eq!(browser.count(".newer").await, 0, "{name}");

        // Whole, it is announced, and taken at the user's word.
        host.heal();
        browser.run(UPDATE, vec![]).await;
        browser.wait_for(".newer button").await;
        wait_for_pass_of(&browser, before).await;
        browser.tap(".newer button").await;
        wait_for_pass_of(&browser, before + 1).await;
    }
    // Of the releases before nothing is left.
    let caches = "return caches.keys().then(names => names.length === 2)";
    browser.wait_until(caches, vec![]).await;
    // And the last one starts without a network.
    let url = host.url();
    drop(host);
    browser.go_to("about:blank").await;
    browser.go_to(&url).await;
    wait_for_pass_of(&browser, files.len()).await;
}
