//! The main job in the other engines, as far as their drivers allow.

use std::fs;

use serde_json::Value;

use crate::browser::{Browser, Profile};
use crate::device::Device;
use crate::engine::Engine;
use crate::main_job::{let_offs, make_and_read_all, schema, tenths};
use crate::outside::schema_faults;
use crate::pages::jobs::Jobs;
use crate::pages::order::Order;
use crate::pages::pass::Pass;
use crate::pages::serve_release;

/// A job is made, 88 readings are taken, the browser is killed (`killed`) or the page reloaded, and the
/// file that comes out is valid and opens with the same entries in a browser that has stored nothing.
async fn main_job(engine: Engine, killed: bool) {
    let site = serve_release();
    let mut browser = Browser::open_in(engine, Device::PHONE, Profile::fresh()).await;
    make_and_read_all(&browser, &site).await;
    if killed {
        let profile = browser.kill();
        browser = Browser::open_in(engine, Device::PHONE, profile).await;
        browser.go_to(&site.url()).await;
    } else {
        browser.reload().await;
    }
    assert!(Pass(&browser).through().await.contains("88 of 88 measured"));
    browser.tap(".bar a.tool").await;
    let text = Order(&browser).export_text().await;
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("handed-out.job.json");
    fs::write(&file, &text).expect("the file is written");
    assert_eq!(schema_faults(&schema(), &file), [""; 0]);
    let first: Value = serde_json::from_str(&text).expect("the file is JSON");
    let expected: Vec<f64> = (1..=88).map(|n| f64::from(tenths(n)) / 10.0).collect();
    assert_eq!(let_offs(&first), expected);
    drop(browser);

    let other = Browser::open_in(engine, Device::PHONE, Profile::fresh()).await;
    Jobs::open(&other, &site).await.choose(&file).await;
    other.wait_for(".order .step").await;
    let copied: Value =
        serde_json::from_str(&Order(&other).export_text().await).expect("the copy is JSON");
    assert_eq!(copied["log"], first["log"]);
    assert_eq!(copied["notes"], first["notes"]);
}

#[tokio::test]
async fn the_main_job_survives_a_kill_in_firefox() {
    main_job(Engine::Firefox, true).await;
}

/// Its driver keeps nothing between two sessions, so that a reload stands for the kill.
#[tokio::test]
async fn the_main_job_survives_a_reload_in_webkit() {
    main_job(Engine::WebKit, false).await;
}
