//! What was entered can be changed, a half-filled form is kept, a refusal is seen, and the list keeps its place.

use serde_json::json;

use crate::browser::Browser;
use crate::main_job::read_json;
use crate::outside::accessibility_faults;
use crate::pages::fields::Typing;
use crate::pages::jobs::{Jobs, notices};
use crate::pages::office::{Handover, make_in_office};
use crate::pages::order::Order;
use crate::pages::{serve_release, tap_named, wait_for_count, wait_until_saved};

#[tokio::test]
async fn all_that_a_new_job_asked_for_can_be_changed_in_setup_and_taken_back() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await;
    browser.tap("a[href='#/new']").await;
    Jobs(&browser).unfold_form().await;
    for (label, text) in [
        ("Piano", "Studio"),
        ("Remark", "Key at the porter's"),
        ("Rate", "60"),
        ("Currency", "crowns"),
    ] {
        let focus = "const l = [...document.querySelectorAll('form label')].find(l => l.innerText.startsWith(arguments[0])); l?.querySelector('input, textarea').focus(); return !!l";
        browser.wait_until(focus, vec![json!(label)]).await;
        browser.type_keys(text).await;
    }
    browser.type_keys("\u{e007}").await;
    browser.wait_for(".order .step").await;

    let typing = Typing(&browser);
    typing.go("setup/job").await;
    typing.wait_for_text("rate", 0, "60.00").await;
    // Money has its own sentence, and what was typed stays.
    typing.fill("rate", 0, "sixty").await;
    typing.fill("rate", 1, "euros").await;
    typing.enter().await;
    let says = "“sixty” is not a sum of money. Type it in figures, such as 60 or 72.50.";
    typing.wait_for_refusal("rate", says).await;
    assert_eq!(typing.text("rate", 1).await, "euros");
    typing.fill("rate", 0, "72,5").await;
    typing.enter().await;
    typing.fill("name", 0, "Hall").await;
    typing.enter().await;
    let remark = browser
        .run(
            "return document.querySelector('[data-fields^=remark-]').dataset.fields",
            vec![],
        )
        .await;
    let remark = remark
        .as_str()
        .expect("the remark of the new job")
        .to_owned();
    typing.fill(&remark, 0, "Key at the office").await;
    browser.tap("#job > summary h2").await;
    browser.screenshot("setup-job").await;
    wait_until_saved(&browser).await;
    browser.reload().await;
    browser.wait_for("#job").await;
    typing.unfold("job").await;
    typing.wait_for_text("rate", 0, "72.50").await;
    typing.wait_for_text("rate", 1, "euros").await;
    typing.wait_for_text(&remark, 0, "Key at the office").await;
    typing.wait_for_text("name", 0, "Hall").await;

    // Undo takes them back one after the other, on a later visit too.
    for _ in 0..3 {
        browser.tap("button[aria-label=Undo]").await;
    }
    typing
        .wait_for_text(&remark, 0, "Key at the porter's")
        .await;
    typing.wait_for_text("name", 0, "Studio").await;
    typing.wait_for_text("rate", 0, "60.00").await;
    typing.wait_for_text("rate", 1, "crowns").await;
    // An emptied remark is withdrawn, an emptied rate is none.
    typing.fill(&remark, 0, "\u{e003}").await;
    browser.tap("[data-fields=rate] input").await;
    wait_for_count(&browser, "[data-fields^=remark-]", 0).await;
    browser.run("document.activeElement.select()", vec![]).await;
    browser.type_keys("\u{e003}").await;
    browser.tap("[data-fields=name] input").await;
    wait_until_saved(&browser).await;
    browser.back().await;
    browser.wait_for(".order .step").await;
    let file = read_json(&Order(&browser).export().await);
    assert_eq!(file["job"]["rate_per_hour_cents"], json!(0));
    assert_eq!(file["whole"]["remarks"], json!([]));
}

#[tokio::test]
async fn a_half_filled_new_job_is_kept_until_it_is_created_or_started_over() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await;
    let name = "return document.querySelector('form main > label input')?.value";
    let upright = "return document.querySelectorAll('input[name=instrument]')[1]?.checked";
    browser.tap("a[href='#/new']").await;
    browser.tap("form main > label input").await;
    browser.type_keys("Half").await;
    Jobs(&browser).unfold_form().await;
    tap_named(&browser, "form", "Upright").await;
    browser.reload().await;
    browser.wait_for("form .reminder").await;
    assert_eq!(browser.run(name, vec![]).await, json!("Half"));
    assert_eq!(browser.run(upright, vec![]).await, json!(true));
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    browser.screenshot("new-job-kept").await;
    // Gone elsewhere and back.
    browser.tap(".bar a.tool").await;
    browser.wait_for(".job-list").await;
    browser.tap("a[href='#/new']").await;
    browser.wait_for("form .reminder").await;
    tap_named(&browser, "form", "Start over").await;
    wait_for_count(&browser, "form .reminder", 0).await;
    assert_eq!(browser.run(name, vec![]).await, json!(""));
    assert_eq!(browser.run(upright, vec![]).await, json!(false));

    browser.tap("form main > label input").await;
    browser.type_keys("Whole").await;
    browser.tap("button[type=submit]").await;
    browser.wait_for(".order .step").await;
    // The next one begins empty.
    let jobs = Jobs(&browser);
    jobs.show().await;
    assert_eq!(jobs.names().await, ["Whole"]);
    browser.tap("a[href='#/new']").await;
    browser.wait_for("form main > label input").await;
    assert_eq!(browser.run(name, vec![]).await, json!(""));
    assert_eq!(browser.count("form .reminder").await, 0);
}

#[tokio::test]
async fn what_is_emptied_in_the_form_of_the_next_job_is_empty_in_it() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("Hall", "").await;
    let typing = Typing(&browser);
    typing.go("setup/job").await;
    typing.fill("serial", 0, "0417").await;
    typing.enter().await;
    typing.wait_until_saved().await;
    Handover(&browser).open().await;
    Handover(&browser).next_job().await;
    Jobs(&browser).unfold_form().await;
    let emptied = "const label = [...document.querySelectorAll('form label')].find(l => l.innerText.startsWith('Serial')); \
        const input = label.querySelector('input'); const before = input.value; input.focus(); input.select(); return before";
    assert_eq!(browser.run(emptied, vec![]).await, json!("0417"));
    browser.type_keys("\u{e017}").await;
    make_in_office(&browser, &[("Piano", "A year later")]).await;
    typing.go("setup/job").await;
    typing.wait_for_text("serial", 0, "").await;
}

#[tokio::test]
async fn an_empty_form_makes_a_job_that_is_known_by_its_day_or_its_client() {
    let site = serve_release();
    let browser = Browser::phone().await;
    let jobs = Jobs::open(&browser, &site).await;
    browser.tap("a[href='#/new']").await;
    browser.tap("button[type=submit]").await;
    browser.wait_for(".order .step").await;
    jobs.show().await;
    let names = jobs.names().await;
    let year = names[0].rsplit(' ').next().unwrap_or_default();
    assert!(
        names[0].starts_with("Grand, ") && year.parse::<u32>().is_ok_and(|y| y > 2025),
        "{names:?}"
    );
    // A client is enough to know the job by.
    browser.tap("a[href='#/new']").await;
    jobs.unfold_form().await;
    browser.tap(".more-in > label input").await;
    browser.type_keys("Client 17").await;
    browser.tap("button[type=submit]").await;
    browser.wait_for(".order .step").await;
    jobs.show().await;
    assert_eq!(jobs.names().await[0], "Client 17, grand");
}

#[tokio::test]
async fn a_field_that_is_refused_is_shown_and_said_beside_the_button() {
    let site = serve_release();
    let browser = Browser::phone().await;
    let jobs = Jobs::open(&browser, &site).await;
    browser.tap("a[href='#/new']").await;
    jobs.unfold_form().await;
    browser.tap("input.breaks").await;
    browser.type_keys("20, 99").await;
    browser.tap("input.rate").await;
    browser.type_keys("1/2").await;
    // From the top of the form, where the field is folded away.
    browser.tap("form .more:last-of-type > summary").await;
    let folded = "return !document.querySelector('form .more:last-of-type').open";
    browser.wait_until(folded, vec![]).await;
    browser.tap("form main > label input").await;
    browser.type_keys("Hall").await;
    browser.tap("button[type=submit]").await;
    let shown = "
        const field = document.activeElement, box = field.getBoundingClientRect();
        const view = document.querySelector('form main').getBoundingClientRect();
        const said = document.querySelector('.reach [role=alert]').innerText;
        return field.matches(arguments[0]) && box.top >= view.top && box.bottom <= view.bottom
            && document.getElementById(field.getAttribute('aria-describedby')).innerText.length > 0 && said;
    ";
    let said = browser.wait_until(shown, vec![json!("input.breaks")]).await;
    assert!(
        said.as_str()
            .unwrap_or_default()
            .starts_with("Section breaks: "),
        "{said}"
    );
    browser.screenshot("new-job-refused").await;
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    browser.run("document.activeElement.select()", vec![]).await;
    browser.type_keys("20, 52").await;
    browser.tap("form main > label input").await;
    browser.tap("button[type=submit]").await;
    let said = browser.wait_until(shown, vec![json!("input.rate")]).await;
    assert_eq!(
        said,
        json!(
            "Rate per hour: “1/2” is not a sum of money. Type it in figures, such as 60 or 72.50."
        )
    );
    browser.run("document.activeElement.select()", vec![]).await;
    browser.type_keys("60").await;
    browser.tap("button[type=submit]").await;
    browser.wait_for(".order .step").await;
}

/// How far a job's line is from the top of the list, in pixels.
const BELOW_TOP: &str = "
    const line = [...document.querySelectorAll('.job-name')].find(n => n.textContent.trim() === arguments[0]);
    const list = document.querySelector('.job-list');
    return line ? line.getBoundingClientRect().top - list.getBoundingClientRect().top : null;
";

#[tokio::test]
async fn the_list_keeps_its_place_and_shows_the_open_job() {
    let site = serve_release();
    let phone = Browser::phone().await;
    let jobs = Jobs::open(&phone, &site).await;
    for number in 1..=14 {
        jobs.make(&format!("Room {number}"), "").await;
        jobs.show().await;
    }
    let middle = vec![json!("Room 5")];
    // Lines that come into view get their heights with the next frames.
    let scroll = "
        document.querySelector('.job-list').scrollTop = 1200;
        const frame = () => new Promise(requestAnimationFrame);
        return frame().then(frame).then(frame).then(frame);
    ";
    phone.run(scroll, vec![]).await;
    let before = phone.run(BELOW_TOP, middle.clone()).await;
    for elsewhere in [
        ".bar a[href='#/preferences']",
        ".job-row:nth-child(10) .job",
    ] {
        phone.tap(elsewhere).await;
        let gone = "return document.querySelector('.screen .job-list') === null";
        phone.wait_until(gone, vec![]).await;
        phone.tap(".bar a.tool").await;
        let same = BELOW_TOP.replace("return line ?", "const now = line ?")
            + "return now !== null && Math.abs(now - arguments[1]) < 3";
        phone
            .wait_until(&same, vec![middle[0].clone(), before.clone()])
            .await;
    }
    let last = phone
        .run(
            "return document.querySelector('.jobs .job-row:last-child .job').hash",
            vec![],
        )
        .await;
    assert_eq!(notices(&phone).await, [""; 0]);

    // On a desk the open job is in view beside a link that was followed.
    let profile = phone.quit().await;
    let desk = Browser::open(crate::device::Device::DESK, profile).await;
    desk.go_to(&format!(
        "{}{}",
        site.url(),
        last.as_str().expect("an address")
    ))
    .await;
    desk.wait_for(".side .job[aria-current]").await;
    let in_view = "const line = document.querySelector('.side .job[aria-current]').getBoundingClientRect(); const list = document.querySelector('.side .job-list').getBoundingClientRect(); return line.top >= list.top && line.bottom <= list.bottom";
    desk.wait_until(in_view, vec![]).await;
    desk.screenshot("desk-open-job-in-view").await;
}
