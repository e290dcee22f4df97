//! Nothing of a pass is cut off where notes are swept and marked: on a phone, in the office, narrow, on its side, and at
//! larger text.

use crate::browser::{Browser, Profile};
use crate::by_foot::{RIGHT, wait_for_caption, wait_for_verdict};
use crate::device::Device;
use crate::pages::jobs::Jobs;
use crate::pages::order::Order;
use crate::pages::pass::Pass;
use crate::pages::serve_release;

/// What stands in the upper half of a pass and is cut off there; empty if all of it is in sight.
const CUT: &str = "
    const read = document.querySelector('.pass .read').getBoundingClientRect();
    const cut = e => {
        const box = e.getBoundingClientRect();
        const text = document.createRange();
        text.selectNodeContents(e);
        const words = text.getBoundingClientRect();
        // The large name and value have lines no higher than their letters.
        const isLarge = e.matches('.note, .value');
        const inner = !isLarge && (words.width > box.width + 1 || words.height > box.height + 1);
        return box.width && (inner || box.bottom > read.bottom + 1 || box.right > read.right + 1);
    };
    const all = [...document.querySelectorAll('.read :is(.note, .value, .said, .sweep, .message, .message .button)')];
    return all.filter(cut).map(e => `${e.className}: ${e.innerText}`).join('; ');
";

/// Goes through the states of a pass without numbers on a device, and takes their pictures. Returns what is cut off.
async fn cut_off(device: Device, name: &str) -> Vec<String> {
    let site = serve_release();
    let browser = Browser::open(device, Profile::fresh()).await;
    Jobs::open(&browser, &site)
        .await
        .make("Room", "30, 60")
        .await;
    Order(&browser).begin("let_off").await;
    let pass = Pass(&browser);
    pass.wait_for_note("A0").await;
    let mut faults = Vec::new();
    let mut look = async |state: &str| {
        browser.screenshot(&format!("room-{state}-{name}")).await;
        let cut = browser.run(CUT, vec![]).await;
        let cut = cut.as_str().unwrap_or_default();
        if !cut.is_empty() {
            faults.push(format!("{state}: {cut}"));
        }
    };
    look("sweeps").await;
    pass.travel_to(5).await;
    pass.type_and_enter("13").await;
    pass.wait_for_note("D1").await;
    look("beside").await;
    pass.key("2").await;
    look("typed").await;
    pass.key("undo").await;
    pass.travel_to(5).await;
    pass.wait_for_note("C♯1").await;
    look("out").await;
    pass.travel_to(11).await;
    pass.wait_for_note("G1").await;
    browser.type_keys("o").await;
    pass.travel_to(11).await;
    wait_for_verdict(&browser, "out, not measured").await;
    look("marked").await;
    pass.travel_to(12).await;
    pass.wait_for_note("G♯1").await;
    browser.type_keys(&format!("r{}", RIGHT.repeat(5))).await;
    browser.wait_for(".sweeps.range").await;
    look("range").await;
    browser.type_keys("\u{e007}").await;
    wait_for_caption(&browser, "6 swept").await;
    browser.screenshot(&format!("room-swept-{name}")).await;
    faults
}

#[tokio::test]
async fn nothing_is_cut_off_where_notes_are_swept_and_marked() {
    let on_its_side = Device {
        width: 740,
        height: 360,
        ..Device::PHONE
    };
    let devices = [
        (Device::PHONE, "phone"),
        (Device::PHONE.dark(), "phone-dark"),
        (Device::DESK, "desk"),
        (Device::DESK.dark(), "desk-dark"),
        (Device::PHONE.width(320), "narrow"),
        (Device::PHONE.text_percent(130), "text-130"),
        (Device::PHONE.text_percent(200), "text-200"),
        (on_its_side, "landscape"),
    ];
    let mut faults = Vec::new();
    for (device, name) in devices {
        let cut = cut_off(device, name).await;
        faults.extend(cut.into_iter().map(|fault| format!("{name}: {fault}")));
    }
    assert_eq!(faults, [""; 0]);
}
