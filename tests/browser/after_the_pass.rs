//! The end of a pass: those out are gone through, what is right now is said in one touch, samples propose what is next,
//! and the list of corrections begins with what is out.

use evenhand_core::analysis::job_file::open;
use evenhand_core::job::{Correction, Entry, EntryKind, ItemState, Job};
use serde_json::{Value, json};

use crate::browser::Browser;
use crate::by_foot::{wait_for_caption, wait_for_verdict};
use crate::outside::accessibility_faults;
use crate::pages::fields::Typing;
use crate::pages::jobs::Jobs;
use crate::pages::order::Order;
use crate::pages::pass::Pass;
use crate::pages::{serve_release, tap_named, wait_until_saved};

#[tokio::test]
async fn what_was_out_is_right_now_in_one_touch_and_stays_without_a_number() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("Right", "").await;
    Order(&browser).begin("let_off").await;
    let pass = Pass(&browser);
    pass.travel_to(87).await;
    pass.wait_for_note("B7").await;
    pass.key("mark").await;
    pass.wait_for_note("C8").await;
    pass.type_and_enter("13").await;
    // The last note is corrected at the end of the pass.
    let end = pass.through().await;
    assert!(end.contains("C8 close by 0.7, button down 1/8"), "{end}");
    browser.screenshot("right-end").await;
    pass.go_through_those_out().await;
    pass.wait_for_note("B7").await;
    wait_for_verdict(&browser, "out, not measured").await;
    browser.screenshot("right-marked").await;
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    tap_named(&browser, ".message", "Now right").await;
    pass.wait_for_note("C8").await;
    pass.wait_for_message("button down 1/8").await;
    browser.screenshot("right-out").await;
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    let before = browser.taps();
    tap_named(&browser, ".message", "Now right").await;
    let end = pass.through().await;
    assert_eq!(browser.taps() - before, 1);
    assert!(
        end.contains("2 of 88 swept, 86 not measured, none out."),
        "{end}"
    );
    // Both entries of the last one are taken back together.
    pass.on_through("Undo the last").await;
    pass.wait_for_note("C8").await;
    wait_for_verdict(&browser, "close by 0.7").await;
    wait_until_saved(&browser).await;
    pass.back().await;
    let file = Order(&browser).export().await;
    let opened = open(&std::fs::read(&file).expect("the file")).expect("a job");
    let job = Job::from_entries(opened.entries);
    let step = job.state().step("let_off").expect("the step");
    let items = job.state().items(step);
    assert!(matches!(
        job.state().item_state(step, &items[86]),
        ItemState::Swept(_)
    ));
    assert!(job.state().item_state(step, &items[87]).is_out());
}

#[tokio::test]
async fn all_that_were_marked_and_set_by_hand_are_right_in_one_touch() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site)
        .await
        .make("All right", "")
        .await;
    Order(&browser).begin("let_off").await;
    let pass = Pass(&browser);
    pass.wait_for_note("A0").await;
    for (note, count) in [(5, 1), (11, 2), (23, 3)] {
        pass.hold(note).await;
        wait_for_caption(&browser, &format!("{count} to come back to")).await;
    }
    browser.tap(".sweeps .sweep").await;
    let end = pass.through().await;
    assert!(end.contains("85 of 88 swept, 3 to come back to."), "{end}");
    browser.screenshot("all-right-before").await;
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    let before = browser.taps();
    pass.on_through("All 3 now right").await;
    wait_for_caption(&browser, "88 swept").await;
    assert_eq!(browser.taps() - before, 1);
    let none = "return document.querySelector('.settle') === null";
    browser.wait_until(none, vec![]).await;
    browser.screenshot("all-right-after").await;
    wait_until_saved(&browser).await;
    pass.back().await;
    let file = Order(&browser).export().await;
    let opened = open(&std::fs::read(&file).expect("the file")).expect("a job");
    // Of each note: set by eye, and looked at.
    let by_eye = |e: &&Entry| {
        matches!(
            e.kind,
            EntryKind::Correction {
                made: Correction::ByEye,
                ..
            }
        )
    };
    assert_eq!(opened.entries.iter().filter(by_eye).count(), 3);
    let looks =
        |e: &&Entry| matches!(&e.kind, EntryKind::Swept { notes, .. } if notes.from == notes.to);
    assert_eq!(opened.entries.iter().filter(looks).count(), 3);
}

#[tokio::test]
async fn a_row_that_was_settled_at_once_is_taken_back_at_once() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("Back", "").await;
    // Two answers: a mark is the answer “needs work”.
    for (step, marked) in [
        ("let_off", "2 to come back to"),
        ("checks_squared", "2 out"),
    ] {
        Order(&browser).begin(step).await;
        let pass = Pass(&browser);
        pass.wait_for_note("A0").await;
        pass.hold(5).await;
        pass.hold(11).await;
        wait_for_caption(&browser, marked).await;
        browser.tap(".sweeps .sweep").await;
        pass.through().await;
        pass.on_through("All 2 now right").await;
        let none = "return document.querySelector('.settle') === null";
        browser.wait_until(none, vec![]).await;
        pass.on_through("Undo the last").await;
        wait_for_caption(&browser, marked).await;
        pass.back().await;
    }
}

#[tokio::test]
async fn the_samples_propose_what_to_do_with_the_notes_between() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site)
        .await
        .make("Samples", "30, 60")
        .await;
    // The notes are drawn; these are chosen.
    Typing(&browser)
        .choose_samples("1, 9, 20, 31, 45, 60, 61, 75, 88")
        .await;
    Order(&browser).begin("hammer_swings").await;
    let pass = Pass(&browser);
    let samples = pass.caption().await;
    let samples: usize = samples
        .split(" of ")
        .nth(1)
        .and_then(|t| t.split(' ').next()?.parse().ok())
        .expect("a count");
    pass.type_and_enter("2").await;
    for _ in 1..samples {
        pass.on_target().await;
    }
    let end = pass.through().await;
    assert!(
        end.contains(&format!("{samples} of {samples} measured, 1 out.")),
        "{end}"
    );
    let key = |words: &'static str| {
        let find = "return [...document.querySelectorAll('.through button')].find(b => b.innerText.startsWith(arguments[0]))?.innerText ?? null";
        (find, vec![json!(words)])
    };
    let (find, args) = key("Rest tried by hand");
    let rest: Value = browser.wait_until(find, args).await;
    let rest = rest.as_str().expect("words").to_owned();
    browser.screenshot("samples-end").await;
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    let count = |words: &str| -> usize {
        let number = words.rsplit(", ").next().and_then(|t| t.split(' ').next());
        number.and_then(|n| n.parse().ok()).expect("a number")
    };
    let rest_count = count(&rest);
    let (find, args) = key("Measure around");
    let around = browser.wait_until(find, args).await;
    let around = around.as_str().expect("words").to_owned();
    assert_eq!(rest_count + count(&around) + samples, 88);
    pass.on_through(&rest).await;
    let swept = format!(
        "{rest_count} swept, {samples} of {} measured",
        samples + rest_count
    );
    browser
        .wait_until(
            "return document.querySelector('.through p').innerText.includes(arguments[0])",
            vec![json!(swept)],
        )
        .await;
    pass.on_through(&around).await;
    pass.wait_for_note("A♯0").await;
    pass.on_target().await;
    pass.wait_for_note("B0").await;
}

#[tokio::test]
async fn the_list_of_corrections_begins_with_those_out_alone() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("List", "").await;
    Order(&browser).begin("let_off").await;
    let pass = Pass(&browser);
    // Out, acceptable by a turn of 1/16, acceptable by less, and on target.
    for digits in ["13", "24", "23", "20"] {
        pass.type_and_enter(digits).await;
    }
    wait_for_caption(&browser, "4 of 88 measured, 1 out").await;
    browser.tap("[aria-label='About this step']").await;
    tap_named(&browser, "dialog[open]", "Corrections").await;
    let rows = "return [...document.querySelectorAll('.todo tbody tr:not(.group) th')].map(e => e.innerText.split(' ')[0]).join(' ') === arguments[0]";
    browser.wait_until(rows, vec![json!("A0")]).await;
    let all = "return [...document.querySelectorAll('.corrections .choices button')].map(b => b.innerText)";
    let all = browser.run(all, vec![]).await;
    assert_eq!(all, json!(["Only those out: 1", "All off target: 2"]));
    browser.screenshot("corrections-only-out").await;
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    tap_named(&browser, ".corrections .choices", "All off target: 2").await;
    browser.wait_until(rows, vec![json!("A0 A♯0")]).await;
    // The way back leads to the note.
    browser.tap(".bar a.tool").await;
    pass.wait_for_note("C♯1").await;
}

#[tokio::test]
async fn a_pass_says_how_long_it_has_taken_and_what_is_left() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("Time", "").await;
    let later = "const real = Date.now; let by = 0; Date.now = () => real() + by; window.later = minutes => { by += minutes * 60000; };";
    browser.run(later, vec![]).await;
    Order(&browser).begin("let_off").await;
    let pass = Pass(&browser);
    pass.wait_for_note("A0").await;
    let time = "return document.querySelector('.caption .time')?.innerText ?? null";
    assert_eq!(browser.run(time, vec![]).await, Value::Null);
    for note in ["A♯0", "B0", "C1"] {
        browser.run("later(2)", vec![]).await;
        pass.on_target().await;
        pass.wait_for_note(note).await;
    }
    let says = browser.wait_until("return document.querySelector('.caption .time')?.innerText.startsWith('6 min, about ') && document.querySelector('.caption .time').innerText", vec![]).await;
    assert!(
        says.as_str().is_some_and(|s| s.ends_with(" left")),
        "{says}"
    );
    browser.screenshot("pass-time").await;
    assert!(pass.caption().await.starts_with("3 of 88 measured"));
}

#[tokio::test]
async fn what_is_out_and_not_measured_stands_first_on_the_corrections() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("Marked", "").await;
    Order(&browser).begin("let_off").await;
    let pass = Pass(&browser);
    pass.wait_for_note("A0").await;
    pass.type_and_enter("27").await;
    pass.wait_for_note("A♯0").await;
    for (note, count) in [(11, 1), (23, 2)] {
        pass.hold(note).await;
        wait_for_caption(&browser, &format!("{count} to come back to")).await;
    }
    browser
        .run(
            "location.hash = location.hash.replace('/pass/', '/corrections/')",
            vec![],
        )
        .await;
    browser.wait_for(".corrections .marked-out").await;
    let said = browser.text(".corrections .pane").await;
    assert!(said.starts_with("Out, not measured"), "{said}");
    assert!(said.contains("Let-off: G1, G2"), "{said}");
    assert!(said.contains("button up"), "{said}");
    browser.screenshot("corrections-marked").await;
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    browser.tap(".marked-out a").await;
    pass.wait_for_note("G1").await;
}

#[tokio::test]
async fn a_row_that_was_set_by_hand_leads_on_in_the_same_touch() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("Lead on", "").await;
    let pass = Pass(&browser);
    // Ticks lead on with the stroke.
    Order(&browser).begin("checks_brushed").await;
    pass.wait_for_note("A0").await;
    pass.key("next").await;
    let left = "return !location.hash.endsWith('checks_brushed')";
    browser.wait_until(left, vec![]).await;
    browser.wait_for(".pass .pad").await;
    pass.back().await;
    Order(&browser).wait_for_line("checks_brushed", "88").await;
    let is_done = "return document.querySelector(`a.step[href$='checks_brushed']`).classList.contains('done')";
    browser.wait_until(is_done, vec![]).await;
    // Exceptions that were set by hand, too.
    Order(&browser).begin("checks_squared").await;
    pass.wait_for_note("A0").await;
    pass.hold(5).await;
    wait_for_caption(&browser, "1 out").await;
    browser.tap(".sweeps .sweep").await;
    pass.through().await;
    browser.screenshot("leads-on").await;
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    pass.on_through("Now right, next step").await;
    browser
        .wait_until("return !location.hash.endsWith('checks_squared')", vec![])
        .await;
    browser.wait_for(".pass .pad, .order .step").await;
    wait_until_saved(&browser).await;
}
