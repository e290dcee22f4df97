//! What is said of a note without a number: marked as out by touch, and a checking pass by the two keys of a pedal.

use evenhand_core::analysis::job_file::open;
use evenhand_core::job::{EntryKind, Job};
use serde_json::json;
use std::time::Duration;

use crate::browser::Browser;
use crate::main_job::read_json;
use crate::outside::{accessibility_faults, schema_faults};
use crate::pages::jobs::Jobs;
use crate::pages::office::Handover;
use crate::pages::order::Order;
use crate::pages::pass::Pass;
use crate::pages::preferences::Preferences;
use crate::pages::{serve_release, tap_named, wait_until_saved};

/// Page down, page up and the arrow to the right, after the WebDriver standard.
const GOOD: &str = "\u{e00f}";
const OUT: &str = "\u{e00e}";
pub const RIGHT: &str = "\u{e014}";

pub async fn wait_for_caption(browser: &Browser, says: &str) {
    let said = "return document.querySelector('.caption')?.innerText.includes(arguments[0])";
    browser.wait_until(said, vec![json!(says)]).await;
}

pub async fn wait_for_verdict(browser: &Browser, says: &str) {
    let said = "return document.querySelector('.said')?.innerText === arguments[0]";
    browser.wait_until(said, vec![json!(says)]).await;
}

#[tokio::test]
async fn a_note_is_marked_as_out_by_a_hold_a_second_touch_or_a_key_and_come_back_to() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("Marks", "30").await;
    Order(&browser).begin("let_off").await;
    let pass = Pass(&browser);
    pass.wait_for_note("A0").await;
    // A second touch on the bar.
    pass.travel_to(5).await;
    pass.wait_for_note("C♯1").await;
    pass.travel_to(5).await;
    wait_for_verdict(&browser, "out, not measured").await;
    // A touch that is held.
    let at = pass.place_of(11).await;
    browser.swipe(at, at, Duration::from_millis(800)).await;
    pass.wait_for_note("G1").await;
    wait_for_verdict(&browser, "out, not measured").await;
    // The key, which goes on.
    pass.travel_to(23).await;
    pass.wait_for_note("G2").await;
    pass.key("mark").await;
    pass.wait_for_note("G♯2").await;
    wait_for_caption(&browser, "3 to come back to").await;
    assert_eq!(pass.bars("marked").await, 3);
    browser.screenshot("marked").await;
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    // A third touch takes the mark off, and Undo puts it back.
    pass.travel_to(11).await;
    pass.wait_for_note("G1").await;
    pass.travel_to(11).await;
    wait_for_caption(&browser, "2 to come back to").await;
    pass.key("undo").await;
    wait_for_caption(&browser, "3 to come back to").await;
    // The rest is swept without them, and the pass goes on past them.
    browser.tap(".sweeps .sweep").await;
    wait_for_caption(&browser, "27 swept, 58 left, 3 to come back to").await;
    pass.wait_for_note("D♯3").await;
    browser.tap(".sweeps .sweep").await;
    let end = pass.through().await;
    assert!(end.contains("85 of 88 swept, 3 to come back to."), "{end}");
    assert!(end.contains("3 out: go through them"), "{end}");
    browser.screenshot("marked-end").await;
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    wait_until_saved(&browser).await;
    pass.back().await;
    Order(&browser)
        .wait_for_line("let_off", "3 to come back to")
        .await;
    let file = Order(&browser).export().await;
    let schema =
        std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../public/evenhand-job.schema.json");
    assert_eq!(schema_faults(&schema, &file), [""; 0]);
    let json = read_json(&file);
    assert_eq!(json["notes"][4]["marked_out"], json!(["let_off"]));
    Handover(&browser).open().await;
    let said = browser.text("main").await;
    assert!(
        said.contains("3 out, not measured. C♯1, G1 and G2."),
        "{said}"
    );
    let table = Handover(&browser).table("readings").await;
    let table = std::fs::read_to_string(table).expect("a table");
    let rows = "\"marked_out\",\"false\",\"true\",\"false\"";
    assert_eq!(table.matches(rows).count(), 3);
    let report = Handover(&browser).letter("report").await;
    assert!(report.contains("3 out, not measured"), "{report}");
}

#[tokio::test]
async fn a_range_is_dragged_on_the_strip_or_chosen_by_keys() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site)
        .await
        .make("Range", "20, 52")
        .await;
    Order(&browser).begin("blow").await;
    let pass = Pass(&browser);
    pass.wait_for_note("A0").await;
    browser.screenshot("range-before").await;
    tap_named(&browser, ".sweeps", "Range…").await;
    browser.wait_for(".sweeps.range").await;
    let (from, to) = (pass.place_of(21).await, pass.place_of(51).await);
    browser.swipe(from, to, Duration::from_millis(300)).await;
    let says =
        "return document.querySelector('.sweeps.range .sweep').innerText.includes(arguments[0])";
    browser
        .wait_until(says, vec![json!("F2 to B4, 31 notes")])
        .await;
    assert_eq!(pass.note().await, "A0", "a drag of a range does not travel");
    browser.screenshot("range-dragged").await;
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    // A touch moves the nearer end.
    pass.travel_to(52).await;
    browser
        .wait_until(says, vec![json!("F2 to C5, 32 notes")])
        .await;
    browser.tap(".sweeps.range .sweep").await;
    wait_for_caption(&browser, "32 swept, 56 left").await;
    // Without a range a drag travels, as ever.
    let (from, to) = (pass.place_of(10).await, pass.place_of(15).await);
    browser.swipe(from, to, Duration::from_millis(300)).await;
    pass.wait_for_note("B1").await;
    // By keys: the range begins at the note in hand.
    browser.type_keys(&format!("r{}", RIGHT.repeat(2))).await;
    browser
        .wait_until(says, vec![json!("B1 to C♯2, 3 notes")])
        .await;
    browser.type_keys("\u{e007}").await;
    wait_for_caption(&browser, "35 swept, 53 left").await;
    browser.type_keys("r\u{e00c}").await;
    browser
        .wait_until(
            "return document.querySelector('.sweeps.range') === null",
            vec![],
        )
        .await;
    wait_until_saved(&browser).await;
}

#[tokio::test]
async fn a_number_entered_twice_in_a_row_offers_itself_for_the_next_five() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("Run", "").await;
    Order(&browser).begin("blow").await;
    let pass = Pass(&browser);
    pass.type_and_enter("455").await;
    pass.wait_for_note("A♯0").await;
    assert!(!pass.repeat("45.5 ×5").await);
    assert!(pass.repeat("45.5").await);
    pass.wait_for_note("B0").await;
    browser.screenshot("run-offered").await;
    assert!(pass.repeat("45.5 ×5").await);
    pass.wait_for_note("E1").await;
    wait_for_caption(&browser, "7 of 88 measured").await;
    pass.key("undo").await;
    pass.wait_for_note("B0").await;
    wait_for_caption(&browser, "2 of 88 measured").await;
    // The next undo takes back one.
    pass.key("undo").await;
    wait_for_caption(&browser, "1 of 88 measured").await;
}

/// A voice that writes down what it is asked to say.
const VOICE: &str = "
    window.said = [];
    const put = (on, name, value) => Object.defineProperty(on, name, { value, configurable: true });
    put(window, 'speechSynthesis', { cancel() { said.push('cut off'); }, speak(u) { said.push(u.text); } });
";

#[tokio::test]
async fn a_whole_checking_pass_is_taken_by_two_keys_without_a_look() {
    let site = serve_release();
    let browser = Browser::phone().await;
    let jobs = Jobs::open(&browser, &site).await;
    browser.run(VOICE, vec![]).await;
    let likes = Preferences::open(&browser).await;
    likes.choose("speech", "Yes").await;
    likes.leave().await;
    jobs.make("By foot", "").await;
    browser.run("said.length = 0", vec![]).await;
    Order(&browser).begin("checking").await;
    let pass = Pass(&browser);
    pass.wait_for_note("A0").await;
    let before = browser.taps();
    for note in 1..=88 {
        browser
            .type_keys(if note % 11 == 0 { OUT } else { GOOD })
            .await;
    }
    let end = pass.through().await;
    assert!(end.contains("80 of 88 swept, 8 to come back to."), "{end}");
    // The same two keys go through those out: seven were set and are right, one is left.
    browser.type_keys(GOOD).await;
    pass.wait_for_note("G1").await;
    browser.type_keys(OUT).await;
    pass.wait_for_note("F♯2").await;
    browser.type_keys(&GOOD.repeat(7)).await;
    let end = pass.through().await;
    assert!(end.contains("87 of 88 swept, 1 to come back to."), "{end}");
    assert_eq!(browser.taps() - before, 0, "no touch");
    let said = browser.run("return said", vec![]).await;
    let said: Vec<String> = serde_json::from_value(said).expect("what was said");
    let spoken: Vec<&String> = said.iter().filter(|s| *s != "cut off").collect();
    assert_eq!(spoken[0], "A0");
    assert_eq!(spoken[1], "on target. A-sharp 0");
    assert_eq!(spoken[11], "marked. G-sharp 1");
    assert_eq!(spoken[88], "marked. End, 8 out");
    let words = |s: &&String| s.split_whitespace().count();
    assert!(spoken.iter().all(|s| words(s) <= 6), "{spoken:?}");
    let cut_off = said.len() - spoken.len();
    assert_eq!(
        cut_off,
        spoken.len(),
        "each press cuts off what was said before"
    );
    wait_until_saved(&browser).await;
    pass.back().await;
    let file = Order(&browser).export().await;
    let opened = open(&std::fs::read(&file).expect("the file")).expect("a job");
    let numbers = opened.entries.iter();
    let numbers = numbers.filter(|e| matches!(e.kind, EntryKind::Reading { .. }));
    assert_eq!(numbers.count(), 0, "a foot measures nothing");
}

#[tokio::test]
async fn a_touch_up_is_worked_to_its_end_by_the_pedal_alone_but_for_four_numbers() {
    let site = serve_release();
    let browser = Browser::phone().await;
    let jobs = Jobs::open(&browser, &site).await;
    jobs.make_of("Touch-up in the piano", "Pedal", "").await;
    Order(&browser).begin("climate").await;
    let pass = Pass(&browser);
    pass.type_and_enter("45").await;
    pass.type_and_enter("21").await;
    pass.through().await;
    browser.type_keys(GOOD).await;
    let at = "return location.hash.endsWith(arguments[0])";
    browser.wait_until(at, vec![json!("pitch_a4")]).await;
    pass.on_target().await;
    pass.through().await;
    let mut touches = browser.taps();
    browser.type_keys(GOOD).await;
    browser.wait_until(at, vec![json!("found_sample")]).await;
    // A press before the next pass is there would be lost.
    browser.wait_for(".pass .pad").await;
    let mut presses = 2;
    for (step, next) in [
        ("found_sample", "let_off"),
        ("let_off", "drop"),
        ("drop", "aftertouch"),
        ("aftertouch", "spring"),
        ("spring", "damper_end"),
        ("damper_key", "play_test"),
        ("play_test", "left_sample"),
    ] {
        if step == "damper_key" {
            // Where the dampers end is a number too.
            assert_eq!(browser.taps(), touches, "no touch");
            pass.type_and_enter("66").await;
            pass.through().await;
            touches = browser.taps();
            browser.type_keys(GOOD).await;
            browser.wait_until(at, vec![json!(step)]).await;
            browser.wait_for(".pass .pad").await;
            presses += 1;
        }
        // Of the samples nothing is out.
        let notes = match step {
            "found_sample" => 24,
            "damper_key" => 66,
            _ => 88,
        };
        let out = |n: usize| notes > 24 && n.is_multiple_of(11);
        let keys: String = (1..=notes)
            .map(|n| if out(n) { OUT } else { GOOD })
            .collect();
        browser.type_keys(&keys).await;
        pass.through().await;
        presses += notes + 1;
        if notes > 24 {
            // Through those out, each of which was set; then on.
            let marked = (1..=notes).filter(|n| out(*n)).count();
            browser.type_keys(&GOOD.repeat(1 + marked)).await;
            pass.through().await;
            presses += 1 + marked;
        }
        browser.type_keys(GOOD).await;
        browser.wait_until(at, vec![json!(next)]).await;
        browser.wait_for(".pass .pad").await;
    }
    browser.type_keys(&GOOD.repeat(24)).await;
    pass.through().await;
    presses += 24;
    assert_eq!(browser.taps(), touches, "no touch");
    assert_eq!(presses, 2 + 25 + 5 * (88 + 1 + 9) + 1 + (66 + 1 + 7) + 24);
    wait_until_saved(&browser).await;
    pass.back().await;
    // Every step is done, and the foot has measured nothing.
    let file = Order(&browser).export().await;
    let opened = open(&std::fs::read(&file).expect("the file")).expect("a job");
    let job = Job::from_entries(opened.entries);
    let all = job.state().progress(i64::MAX / 2);
    let left = all.iter().filter(|(_, p)| !p.is_read());
    let left: Vec<&str> = left.map(|(s, _)| s.id.as_str()).collect();
    assert_eq!(left, [""; 0]);
    let mut numbers = 0;
    for (step, _) in &all {
        for item in job.state().items(step) {
            let read = job.state().item_state(step, &item).reading().is_some();
            let kind = job.state().measure(item.measure.as_str()).map(|m| m.kind);
            let is_number = kind.is_some_and(|kind| kind.is_number());
            numbers += usize::from(read && is_number);
        }
    }
    assert_eq!(numbers, 4, "what was typed");
}

#[tokio::test]
async fn the_keys_of_a_pedal_are_learned_and_kept() {
    let site = serve_release();
    let browser = Browser::phone().await;
    let jobs = Jobs::open(&browser, &site).await;
    let likes = Preferences::open(&browser).await;
    let says = "return document.querySelector(`[data-pedal='${arguments[0]}']`).innerText === arguments[1]";
    browser
        .wait_until(says, vec![json!(0), json!("Good, next: Page down")])
        .await;
    browser.tap("[data-pedal='0']").await;
    browser
        .wait_until(
            says,
            vec![json!(0), json!("Press the key for “Good, next”")],
        )
        .await;
    browser.screenshot("pedal-learns").await;
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    // The other key's meaning stays, and so do those that are typed with.
    for (key, why) in [(OUT, "other answer"), ("5", "for typing")] {
        browser.type_keys(key).await;
        let refused = "return document.querySelector('.pedal').innerText.includes(arguments[0])";
        browser.wait_until(refused, vec![json!(why)]).await;
        browser.tap("[data-pedal='0']").await;
    }
    browser.type_keys(RIGHT).await;
    browser
        .wait_until(says, vec![json!(0), json!("Good, next: Arrow right")])
        .await;
    likes.leave().await;
    jobs.make("Arrow", "").await;
    browser.reload().await;
    browser.wait_for(".order .step").await;
    Order(&browser).begin("checks_squared").await;
    let pass = Pass(&browser);
    pass.wait_for_note("A0").await;
    browser.type_keys(&format!("{RIGHT}{OUT}")).await;
    pass.wait_for_note("B0").await;
    assert!(
        pass.caption().await.starts_with("2 of 88"),
        "{}",
        pass.caption().await
    );
    assert!(pass.caption().await.contains("1 out"));
}
