//! Nothing goes out: no request to any other place, and nothing of the client's in addresses, titles or logs.

use std::fs;
use std::path::Path;

use evenhand_tests::{RunningSite, Site};
use serde_json::{Value, json};

use crate::browser::{Browser, Profile};
use crate::device::Device;
use crate::main_job::make_and_read_all;
use crate::offline::wait_until_kept;
use crate::pages::jobs::{Jobs, wait_for_notice};
use crate::pages::order::Order;
use crate::pages::pass::Pass;
use crate::pages::{release, serve_release};

const SECRET: &str = "Zzyzx";

/// Keeps what a later question could not know: titles and addresses as they change, and what the policy refused.
const WATCH: &str = "
    window.seen = [];
    document.addEventListener('securitypolicyviolation', e => seen.push(`refused: ${e.violatedDirective} ${e.blockedURI}`));
    setInterval(() => { for (const s of [document.title, location.href]) if (!seen.includes(s)) seen.push(s); }, 20);
    for (const kind of ['log', 'info', 'warn', 'error', 'debug']) {
        const real = console[kind];
        console[kind] = (...said) => { seen.push(`console: ${said.join(' ')}`); real(...said); };
    }
";

#[tokio::test]
async fn a_whole_job_asks_no_other_place_and_tells_nobody_whose_it_is() {
    let site = serve_release();
    let browser = Browser::phone().await;
    browser.before_load(WATCH).await;
    let jobs = Jobs::open(&browser, &site).await;
    jobs.make(SECRET, "20, 52").await;
    Order(&browser).begin("let_off").await;
    let pass = Pass(&browser);
    for _ in 0..4 {
        pass.on_target().await;
    }
    pass.type_and_enter("31").await;
    pass.wait_until_saved().await;
    browser.tap(".bar a.tool").await;
    let file = Order(&browser).export().await;
    assert!(fs::read_to_string(file).expect("the file").contains(SECRET));
    for place in ["#/preferences", "#/new", "#/"] {
        browser
            .run("location.hash = arguments[0]", vec![json!(place)])
            .await;
        browser.wait_for("main").await;
    }
    let asked = "return performance.getEntriesByType('resource').map(e => e.name)";
    let asked = browser.run(asked, vec![]).await;
    let asked: Vec<String> = serde_json::from_value(asked).expect("addresses");
    assert!(asked.iter().any(|url| url.ends_with(".wasm")), "{asked:?}");
    for url in &asked {
        let own = url.starts_with(&site.url()) || url.starts_with(&format!("blob:{}", site.url()));
        assert!(own && !url.contains(SECRET), "{url} was asked for");
    }
    let seen = browser.run("return seen", vec![]).await;
    let seen: Vec<String> = serde_json::from_value(seen).expect("a list");
    assert!(seen.iter().any(|s| s.contains("Evenhand")), "{seen:?}");
    for what in &seen {
        assert!(
            !what.contains(SECRET) && !what.starts_with("refused"),
            "{what}"
        );
    }
    let log = browser.console_log().await;
    assert!(!log.iter().any(|line| line.contains(SECRET)), "{log:?}");
}

/// The policy in force: what it must forbid is tried.
#[tokio::test]
async fn the_policy_refuses_foreign_requests_inline_scripts_and_eval() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await;
    let tried = "
        return (async () => {
            const outcome = {};
            outcome.fetch = await fetch('http://localhost:9/').then(() => 'went', e => e.name);
            outcome.violations = [];
            document.addEventListener('securitypolicyviolation', e => outcome.violations.push(e.effectiveDirective));
            const inline = document.createElement('script');
            inline.textContent = 'window.inline = true';
            document.head.append(inline);
            const image = new Image();
            image.src = 'http://localhost:9/x.png';
            await new Promise(done => setTimeout(done, 200));
            outcome.inline = window.inline ?? false;
            outcome.violations.sort();
            return outcome;
        })();
    ";
    let outcome = browser.run(tried, vec![]).await;
    assert_eq!(outcome["fetch"], "TypeError");
    assert_eq!(outcome["inline"], Value::Bool(false));
    let violations = outcome["violations"].to_string();
    assert!(
        violations.contains("script-src-elem") && violations.contains("img-src"),
        "{violations}"
    );
    let policy = "return document.querySelector('meta[http-equiv]').content";
    let policy = browser.run(policy, vec![]).await;
    let policy = policy
        .as_str()
        .unwrap_or_default()
        .replace("'wasm-unsafe-eval'", "");
    assert!(
        !policy.contains("unsafe-eval")
            && !policy
                .replace("style-src-attr 'unsafe-inline'", "")
                .contains("unsafe-inline"),
        "{policy}"
    );
}

/// A request as the browser has written it down: who asked, and for what.
#[derive(Debug)]
struct Asked {
    /// An origin; `not an origin` for the browser itself.
    initiator: String,
    url: String,
}

/// Every request in a browser's own log: of pages, of workers, and of the browser itself.
fn asked(log: &Path) -> Vec<Asked> {
    let text = fs::read_to_string(log).expect("the browser's log");
    let log: Value = serde_json::from_str(&text).expect("a whole log");
    let start = &log["constants"]["logEventTypes"]["URL_REQUEST_START_JOB"];
    assert!(start.is_u64(), "the log has another form");
    let events = log["events"].as_array().expect("a list of events");
    let text = |value: &Value| value.as_str().unwrap_or_default().to_owned();
    events
        .iter()
        .filter(|event| event["type"] == *start && event["params"]["url"].is_string())
        .map(|event| Asked {
            initiator: text(&event["params"]["initiator"]),
            url: text(&event["params"]["url"]),
        })
        .collect()
}

#[tokio::test]
async fn in_the_browsers_own_log_a_whole_job_asks_our_host_alone() {
    let site = serve_release();
    let profile = Profile::fresh().noting_requests();
    let browser = Browser::open(Device::PHONE, profile).await;
    make_and_read_all(&browser, &site).await;
    wait_until_kept(&browser).await;
    browser.tap(".bar a.tool").await;
    let file = Order(&browser).export().await;
    browser.run("location.hash = '#/'", vec![]).await;
    Jobs(&browser).choose(&file).await;
    wait_for_notice(&browser, "nothing new").await;
    let look =
        "return navigator.serviceWorker.getRegistration().then(r => r.update()).then(() => true)";
    browser.run(look, vec![]).await;
    for place in ["#/preferences", "#/new", "#/"] {
        browser
            .run("location.hash = arguments[0]", vec![json!(place)])
            .await;
        browser.wait_for("main").await;
    }
    browser.reload().await;
    browser.wait_for("main").await;
    // From our page to another origin, so that it is seen that the log would tell of it.
    let other = site.url().replace("127.0.0.1", "localhost") + "icon.svg";
    browser
        .run("location.href = arguments[0]", vec![json!(other)])
        .await;
    browser
        .wait_until("return location.hostname === 'localhost'", vec![])
        .await;
    let all = asked(&browser.quit().await.net_log());
    assert!(all.iter().all(|a| !a.url.contains("Quay")), "{all:?}");
    // What a browser asks its maker for on its own account has no page for its initiator.
    let origin = site.url().trim_end_matches('/').to_owned();
    let by_us: Vec<&str> = all
        .iter()
        .filter(|a| a.initiator == origin)
        .map(|a| a.url.as_str())
        .collect();
    let kept = fs::read_dir(release()).expect("the release").count();
    assert!(
        by_us.len() > kept,
        "the worker's requests are missing: {by_us:?}"
    );
    for needed in ["_bg.wasm", "/sw.js", "/manifest.webmanifest"] {
        assert!(
            by_us.iter().any(|url| url.ends_with(needed)),
            "{needed} in {by_us:?}"
        );
    }
    let foreign = by_us
        .into_iter()
        .filter(|url| !url.starts_with(&site.url()));
    assert_eq!(foreign.collect::<Vec<_>>(), [other.as_str()]);
    let other_pages = all
        .iter()
        .filter(|a| a.initiator != "not an origin" && a.initiator != origin);
    for asked in other_pages {
        assert!(other.starts_with(&asked.initiator), "{asked:?}");
    }
}

/// The headers that SECURITY.md asks a host for.
fn headers() -> String {
    let page = include_str!("../../SECURITY.md");
    let from = page.split("## What a host should send").nth(1);
    let block = from.and_then(|rest| rest.split("```").nth(1));
    let lines = block.expect("a block of headers").trim();
    lines
        .lines()
        .filter(|line| line.contains(": "))
        .collect::<Vec<_>>()
        .join("\n")
}

/// Puts the app into a frame of another page of its site, and returns what the frame shows once it has come.
async fn framed(browser: &Browser, site: &RunningSite) -> String {
    browser
        .go_to(&format!("{}evenhand-job.schema.json", site.url()))
        .await;
    let frame = "
        const frame = document.createElement('iframe');
        frame.src = './';
        document.body.replaceChildren(frame);
        return new Promise(done => frame.onload = () => done(true));
    ";
    browser.run(frame, vec![]).await;
    let words = "return document.querySelector('iframe').contentDocument?.body?.innerText ?? ''";
    // The bar that stands there before the program has begun.
    let begun = "return document.querySelector('iframe').contentDocument?.querySelector('.starting') == null";
    browser.wait_until(begun, vec![]).await;
    let words = browser.run(words, vec![]).await;
    words.as_str().unwrap_or_default().to_owned()
}

#[tokio::test]
async fn the_app_does_not_run_in_a_frame_and_leads_out_of_it() {
    let site = serve_release();
    let browser = Browser::phone().await;
    let shown = framed(&browser, &site).await;
    assert!(
        shown.contains("does not run inside another page"),
        "{shown}"
    );
    let link = "const a = document.querySelector('iframe').contentDocument.querySelector('a'); return [a.target, a.href]";
    let link = browser.run(link, vec![]).await;
    assert_eq!(link, json!(["_blank", site.url()]));
    // The program was not even started.
    let started = "return document.querySelector('iframe').contentDocument.querySelector('.job-list, .reach') !== null";
    assert_eq!(browser.run(started, vec![]).await, json!(false));
}

#[tokio::test]
async fn with_the_headers_that_a_host_should_send_the_app_works_and_no_frame_shows_it() {
    let site = Site::of(release()).sending(&headers()).start();
    let site = site.expect("the release is served");
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("Guarded", "").await;
    crate::offline::wait_until_kept(&browser).await;
    let file = Order(&browser).export().await;
    assert!(file.exists());
    assert_eq!(browser.console_errors().await, [""; 0]);
    let outside = "return navigator.serviceWorker.getRegistration().then(r => r.unregister()).then(() => caches.keys()).then(keys => Promise.all(keys.map(k => caches.delete(k)))).then(() => true)";
    browser.run(outside, vec![]).await;
    assert_eq!(framed(&browser, &site).await, "");
}
