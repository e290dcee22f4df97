//! Without a network: the app starts and works, a newer release waits for the user's word, and one that breaks off
//! leaves the old one working.

use std::fs;
use std::path::Path;

use evenhand_tests::Site;
use serde_json::json;

use crate::browser::Browser;
use crate::pages::jobs::Jobs;
use crate::pages::order::Order;
use crate::pages::pass::Pass;
use crate::pages::release;

/// Waits until the whole release is kept.
pub async fn wait_until_kept(browser: &Browser) {
    browser
        .wait_until(
            "return window.evenhand?.offline && navigator.serviceWorker.controller !== null",
            vec![],
        )
        .await;
}

/// A copy of the release, to be changed.
pub fn copy_of_release() -> tempfile::TempDir {
    let copy = tempfile::tempdir().expect("a folder");
    copy_release_to(copy.path());
    copy
}

/// Puts the files of the release into a folder.
pub fn copy_release_to(folder: &Path) {
    for file in fs::read_dir(release()).expect("the release") {
        let file = file.expect("a file").path();
        let name = file.file_name().expect("a name");
        fs::copy(&file, folder.join(name)).expect("a copy");
    }
}

/// Later than any build.
const LATER: &str = "99999999999";

/// Makes of the release in a folder a newer one, by the same step that ends a build.
fn renew(folder: &Path) {
    release_anew(folder, LATER);
}

/// Makes of the release in a folder another of that number, by the same step that ends a build. Its page says the number.
pub fn release_anew(folder: &Path, number: &str) {
    release_with(folder, number, "public/sw.js");
}

/// As [`release_anew`], with this worker.
fn release_with(folder: &Path, number: &str, worker: &str) {
    release_marked(folder, number, worker, &format!("data-newer={number}"));
}

/// As [`release_with`], with this attribute of the page's body to know it by.
pub fn release_marked(folder: &Path, number: &str, worker: &str, mark: &str) {
    let page = folder.join("index.html");
    let text = fs::read_to_string(&page).expect("the page");
    let marked = text.replace("<body>", &format!("<body {mark}>"));
    assert_ne!(marked, text, "the page can be marked");
    fs::write(&page, marked).expect("the page is written");
    let source = |file: &str| Path::new(env!("CARGO_MANIFEST_DIR")).join("..").join(file);
    fs::copy(source(worker), folder.join("sw.js")).expect("the worker");
    let noted = std::process::Command::new("node")
        .arg(source("app/release.mjs"))
        .env("TRUNK_STAGING_DIR", folder)
        .env("SOURCE_DATE_EPOCH", number)
        .status();
    assert!(noted.expect("node").success());
}

#[tokio::test]
async fn the_app_starts_and_works_without_a_network_in_a_sub_path() {
    let site = Site::of(release()).beneath("pianos/grands").start();
    let site = site.expect("the release is served");
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("Offline", "").await;
    wait_until_kept(&browser).await;
    // Exactly the release is kept: what the page names, what it loads, and nothing else.
    let kept = "
        const names = await caches.keys();
        const own = await caches.open(names.find(n => !n.endsWith('choice')));
        return (await own.keys()).map(r => r.url.replace(/.*pianos.grands./, '')).sort();
    ";
    let kept = browser
        .run(&format!("return (async () => {{ {kept} }})()"), vec![])
        .await;
    let mut expected: Vec<String> = fs::read_dir(release())
        .expect("the release")
        .filter_map(|file| file.ok()?.file_name().into_string().ok())
        .filter(|name| {
            name != "sw.js" && !name.ends_with(".png") && !name.ends_with(".schema.json")
        })
        .map(|name| name.replace("index.html", ""))
        .collect();
    expected.sort();
    assert_eq!(kept, json!(expected));

    let url = site.url();
    site.stop();
    browser.go_to("about:blank").await;
    browser.go_to(&url).await;
    Order(&browser).begin("let_off").await;
    Pass(&browser).on_target().await;
    Pass(&browser).wait_until_saved().await;
    browser.reload().await;
    browser.wait_for(".pass .pad").await;
    assert!(
        Pass(&browser)
            .caption()
            .await
            .starts_with("1 of 88 measured")
    );
}

#[tokio::test]
async fn a_newer_release_waits_until_it_is_taken_and_a_broken_one_changes_nothing() {
    let folder = copy_of_release();
    let site = Site::of(folder.path())
        .start()
        .expect("the release is served");
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("Updated", "").await;
    Order(&browser).begin("let_off").await;
    Pass(&browser).on_target().await;
    Pass(&browser).wait_until_saved().await;
    wait_until_kept(&browser).await;
    let update =
        "return navigator.serviceWorker.getRegistration().then(r => r.update()).then(() => true)";
    let newer = "return document.body.dataset.newer !== undefined";

    // A newer release of which one file does not come as it should: it is not taken at all.
    renew(folder.path());
    let page = fs::read_to_string(folder.path().join("index.html")).expect("the page");
    fs::write(
        folder.path().join("index.html"),
        page.replace("</html>", ""),
    )
    .expect("a torn page");
    browser.run(update, vec![]).await;
    let gone =
        "return navigator.serviceWorker.getRegistration().then(r => !r.installing && !r.waiting)";
    browser.wait_until(gone, vec![]).await;
    browser.reload().await;
    browser.wait_for(".pass .pad").await;
    assert_eq!(browser.run(newer, vec![]).await, json!(false));
    assert_eq!(browser.count(".newer").await, 0);

    // It comes whole: announced, and not taken by a reload.
    fs::write(folder.path().join("index.html"), page).expect("the page");
    browser.run(update, vec![]).await;
    browser.wait_for(".newer button").await;
    browser.screenshot("newer-version").await;
    browser.reload().await;
    browser.wait_for(".newer button").await;
    assert_eq!(browser.run(newer, vec![]).await, json!(false));
    // Taken when the user says so; the job is open at its place.
    browser.tap(".newer button").await;
    browser.wait_until(newer, vec![]).await;
    browser.wait_for(".pass .pad").await;
    assert!(
        Pass(&browser)
            .caption()
            .await
            .starts_with("1 of 88 measured")
    );
    assert_eq!(browser.count(".newer").await, 0);
    // And it is the release that starts without a network from then on.
    let url = site.url();
    site.stop();
    browser.go_to("about:blank").await;
    browser.go_to(&url).await;
    browser.wait_until(newer, vec![]).await;
    browser.wait_for(".pass .pad").await;
}

/// The host goes back to an older release: it is called so, and the one in use goes on.
#[tokio::test]
async fn a_host_that_goes_back_to_an_older_release_is_told_of_as_older() {
    let folder = copy_of_release();
    let site = Site::of(folder.path())
        .start()
        .expect("the release is served");
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await;
    wait_until_kept(&browser).await;
    release_anew(folder.path(), "1");
    let update =
        "return navigator.serviceWorker.getRegistration().then(r => r.update()).then(() => true)";
    browser.run(update, vec![]).await;
    browser.wait_for(".newer button").await;
    let said = browser.text(".newer").await;
    assert!(said.contains("gone back to an older version"), "{said}");
    assert!(said.contains("Use the older one"), "{said}");
    assert!(!said.contains("new version"), "{said}");
    browser.screenshot("older-version").await;

    // Taken all the same, what the host had before is newer.
    browser.tap(".newer button").await;
    let taken = "return document.body.dataset.newer !== undefined";
    browser.wait_until(taken, vec![]).await;
    copy_release_to(folder.path());
    browser.wait_for("main").await;
    browser.run(update, vec![]).await;
    browser.wait_for(".newer button").await;
    let said = browser.text(".newer").await;
    assert!(said.contains("A new version is ready"), "{said}");
}

/// The host goes back to release 0.1.1, whose worker knows no numbers: it is called older too, and can be left again.
#[tokio::test]
async fn the_worker_of_the_first_release_is_told_of_as_older() {
    let folder = copy_of_release();
    let site = Site::of(folder.path())
        .start()
        .expect("the release is served");
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await;
    wait_until_kept(&browser).await;
    release_with(folder.path(), "1", "tests/browser/worker-0.1.1.js");
    let update =
        "return navigator.serviceWorker.getRegistration().then(r => r.update()).then(() => true)";
    browser.run(update, vec![]).await;
    browser.wait_for(".newer button").await;
    let said = browser.text(".newer").await;
    assert!(said.contains("gone back to an older version"), "{said}");
    browser.tap(".newer button").await;
    let taken = "return document.body.dataset.newer !== undefined";
    browser.wait_until(taken, vec![]).await;
    browser.wait_for("main").await;
}

/// What the browser has cleared of the kept release is not taken for kept, and is fetched again.
#[tokio::test]
async fn a_program_that_the_browser_has_cleared_is_not_said_to_be_kept() {
    let folder = copy_of_release();
    let site = Site::of(folder.path())
        .start()
        .expect("the release is served");
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await;
    wait_until_kept(&browser).await;
    let clear = "return (async () => {
        for (const name of await caches.keys()) {
            const cache = await caches.open(name);
            for (const { url } of await cache.keys()) if (url.endsWith('.wasm')) return cache.delete(url);
        }
    })()";
    let state = "return new Promise(answer => {
        const { port1, port2 } = new MessageChannel();
        port1.onmessage = ({ data }) => answer(data.offline);
        navigator.serviceWorker.controller.postMessage('state', [port2]);
    })";
    assert_eq!(browser.run(clear, vec![]).await, json!(true));
    let (url, port) = (site.url(), site.port());
    site.stop();
    assert_eq!(browser.run(state, vec![]).await, json!(false));
    // With a network it is whole again.
    let site = Site::of(folder.path()).port(port).start();
    let site = site.expect("the release is served");
    browser.wait_until(state, vec![]).await;
    site.stop();
    browser.go_to("about:blank").await;
    browser.go_to(&url).await;
    browser.wait_for("a[href='#/new']").await;
}
