//! A pass beyond its readings: turns, faults, the strip, the keyboard, the phone's voice and vibration. The file is
//! long because each thing that a hand does in a pass has its test.

use serde_json::{Value, json};

use crate::browser::{Browser, Profile};
use crate::device::Device;
use crate::outside::accessibility_faults;
use crate::pages::corrections::Corrections;
use crate::pages::fields::Typing;
use crate::pages::jobs::Jobs;
use crate::pages::order::Order;
use crate::pages::pass::Pass;
use crate::pages::preferences::Preferences;
use crate::pages::{serve_release, tap_named};

#[tokio::test]
async fn a_turn_is_one_tap_and_the_note_is_read_again() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("Turned", "").await;
    Order(&browser).begin("let_off").await;
    let pass = Pass(&browser);
    pass.type_and_enter("13").await;
    // The next note is in hand, and the correction of the one just read one tap away.
    pass.wait_for_note("A♯0").await;
    pass.wait_for_message("A0 close by 0.7, button down 1/8")
        .await;
    pass.turned().await;
    pass.wait_for_note("A0").await;
    pass.wait_for_message("Turned 1/8 down. Re-measure.").await;
    assert_eq!(pass.reading().await, "");
    assert_eq!(browser.text(".was").await, "was 1.3, close by 0.7");
    assert_eq!(pass.bars("hatched").await, 1);
    // Taken back, the reading holds again, and its correction stands below it.
    pass.key("undo").await;
    pass.wait_for_message("button down 1/8").await;
    assert_eq!(pass.reading().await, "1.3");
    // Another amount was turned: one step more than advised.
    pass.more().await;
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    pass.on_sheet("More").await;
    pass.on_sheet("Turned").await;
    pass.wait_for_message("Turned 3/16 down").await;
    pass.type_and_enter("20").await;
    pass.wait_for_note("A♯0").await;
    // What was just entered is told while the next is in hand.
    assert_eq!(browser.text(".was").await, "A0 2.0, on target");
    assert_eq!(pass.bars("hatched").await, 0);
    assert_eq!(pass.bars("solid").await, 1);
}

#[tokio::test]
async fn a_key_is_weighed_in_one_go_and_told_its_balance_weight_and_friction() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("Weighed", "").await;
    let pass = Pass(&browser);
    // The sample is drawn; these notes are chosen.
    Typing(&browser)
        .choose_samples("1, 45, 46, 57, 58, 88")
        .await;
    browser.wait_for(".order .step").await;
    Order(&browser).begin("weights").await;
    // One picture of the balance weight: it stands still until the key was weighed both ways.
    assert_eq!(pass.bars("hollow").await, 6);
    let bars = "return document.querySelector('.strip g').innerHTML";
    let before = browser.run(bars, vec![]).await;
    pass.type_and_enter("52").await;
    pass.wait_for_note("A0").await;
    assert_eq!(browser.run(bars, vec![]).await, before);
    assert_eq!(pass.caption().await, "0 of 6 balance weights");
    assert_eq!(pass.beside().await, "up weight");
    pass.type_and_enter("28").await;
    pass.wait_for_note("F4").await;
    assert_eq!(pass.caption().await, "1 of 6 balance weights");
    assert_eq!(
        (pass.bars("solid").await, pass.bars("hollow").await),
        (1, 5)
    );
    // Half of the sum, half of the difference; the friction aimed at falls from 16 in the bass.
    pass.wait_for_message(
        "A0: balance weight 40, on target; friction 12, acceptable, too little by 4.",
    )
    .await;
    pass.type_and_enter("30").await;
    pass.type_and_enter("40").await;
    pass.wait_for_message("The up weight is above the down weight")
        .await;
    // 46 gf are 7 too many, and the key's length decides where the lead goes.
    pass.type_and_enter("60").await;
    pass.type_and_enter("32").await;
    pass.wait_for_message("Lead: enter the key lever in Setup.")
        .await;
    browser.screenshot("weighed").await;
}

#[tokio::test]
async fn a_length_that_floated_too_far_says_what_brings_it_back() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("Afloat", "").await;
    let job = browser.run("return location.hash", vec![]).await;
    let job = job.as_str().unwrap_or_default().to_owned();
    let go = async |place: &str| {
        let place = json!(format!("{job}/{place}"));
        browser
            .run("location.hash = arguments[0]", vec![place])
            .await;
    };
    go("targets").await;
    browser.wait_for("#travel .choice").await;
    tap_named(&browser, "#travel", "Dip").await;
    for (step, read) in [("blow", "480"), ("let_off", "20"), ("aftertouch", "115")] {
        go(&format!("pass/{step}")).await;
        Pass(&browser).wait_for_note("A0").await;
        Pass(&browser).type_and_enter(read).await;
        Pass(&browser).wait_for_note("A♯0").await;
    }
    go("pass/natural_dip").await;
    let pass = Pass(&browser);
    pass.wait_for_message("Dip is left to follow blow and aftertouch.")
        .await;
    // 46 mm of hammer for 10.25 of the key: the 0.4 mm of dip over 11 are 1.8 mm of blow.
    pass.type_and_enter("114").await;
    pass.wait_for_message(
        "A0 deep by 1.4, it follows: change blow by −1.80 or aftertouch by −0.40",
    )
    .await;
    let corrections = Corrections(&browser);
    corrections.go(&job, "natural_dip").await;
    corrections.wait_for_summary("1 out of range, 0 left").await;
    assert_eq!(corrections.asked().await, format!("{job}/pass/natural_dip"));
    browser.tap(".asked a").await;
    browser.wait_for(".pass .pad").await;
    pass.swipe(false).await;
    pass.wait_for_note("A0").await;
    browser.tap(".message .turned").await;
    let there = "return document.querySelector('.bar h1')?.innerText === 'Blow'";
    browser.wait_until(there, vec![]).await;
    // The very note that strayed, though it was read and others were not.
    pass.wait_for_note("A0").await;
    assert_eq!(pass.reading().await, "48.0");
}

#[tokio::test]
async fn a_fraction_is_of_an_inch_in_a_job_in_millimeters_and_says_so() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("Rule", "").await;
    Order(&browser).begin("let_off").await;
    let pass = Pass(&browser);
    assert_eq!(browser.text(".value small").await, "mm");
    pass.key("1").await;
    pass.key("fraction").await;
    // What it will be stands there before it is entered, with no other unit behind it.
    assert_eq!(pass.reading().await, "1/16 in");
    assert_eq!(browser.text(".value small").await, "");
    pass.key("enter").await;
    pass.wait_for_note("A♯0").await;
    pass.swipe(false).await;
    pass.wait_for_note("A0").await;
    assert_eq!(pass.reading().await, "1.59");
    assert_eq!(browser.text(".value small").await, "mm");
}

/// Where the parts of the pass stand on the screen.
async fn places(browser: &Browser) -> Value {
    let places = "return ['.note', '.message-place', '.strip', '.below', '.pad', '.digits'].map(s => document.querySelector(s).getBoundingClientRect().y)";
    browser.run(places, vec![]).await
}

#[tokio::test]
async fn nothing_moves_while_readings_come_in() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("Still", "").await;
    // Weights have no target and so at first no value that is one tap.
    for (step, readings) in [
        ("weights", ["52", "48", "50"]),
        ("let_off", ["20", "13", "29"]),
    ] {
        Order(&browser).begin(step).await;
        let before = places(&browser).await;
        let pass = Pass(&browser);
        for reading in readings {
            for digit in reading.chars() {
                pass.key(&digit.to_string()).await;
            }
            assert_eq!(places(&browser).await, before, "{step} {reading} typed");
            pass.key("enter").await;
            assert_eq!(places(&browser).await, before, "{step} {reading} entered");
        }
        if step == "let_off" {
            pass.turned().await;
            pass.wait_for_message("Re-measure").await;
            assert_eq!(places(&browser).await, before, "turned");
        }
        browser.tap(".bar a.tool").await;
    }
}

#[tokio::test]
async fn the_target_is_read_whole_on_a_narrow_phone_and_at_twice_the_text_size() {
    let site = serve_release();
    for (width, text) in [(360, 200), (320, 200), (320, 100)] {
        let phone = Device::PHONE.width(width).text_percent(text);
        let browser = Browser::open(phone, Profile::fresh()).await;
        Jobs::open(&browser, &site).await.make("Large", "").await;
        let job = browser.run("return location.hash", vec![]).await;
        let job = job.as_str().unwrap_or_default().to_owned();
        for (step, target) in [
            ("let_off", "2.0 mm, 1.5 to 2.5"),
            ("aftertouch", "1.15 mm, 0.76 to 1.52"),
            ("weights", "no target"),
        ] {
            let place = vec![json!(format!("{job}/pass/{step}"))];
            browser.run("location.hash = arguments[0]", place).await;
            let whole = "
                const cut = e => e.scrollWidth > e.clientWidth || e.scrollHeight > e.clientHeight;
                const [title, line] = ['h1', 'p'].map(s => document.querySelector('.pass .bar ' + s));
                return line?.innerText === arguments[0] && !cut(line) && !cut(title);
            ";
            browser.wait_until(whole, vec![json!(target)]).await;
        }
    }
}

#[tokio::test]
async fn every_kind_of_record_is_taken_by_keys() {
    let site = serve_release();
    let browser = Browser::open(Device::DESK, Profile::fresh()).await;
    Jobs::open(&browser, &site).await.make("Kinds", "20").await;
    let job = browser.run("return location.hash", vec![]).await;
    let job = job.as_str().unwrap_or_default().to_owned();
    // Enter goes on, so what was read is looked at by going back.
    for (step, keys, shown, unit) in [
        ("climate", "45\u{e007}21.5\u{e007}", "21.5", "°C"),
        ("pitch_a4", "440.5\u{e007}", "440.5", "Hz"),
        ("string_height", "1952\u{e007}", "195.2", "mm"),
        ("wear", "2", "worn", ""),
        ("key_pin", "3.7\u{e007}", "3.70", "mm"),
        ("screws", "\u{e007}", "done", ""),
        ("keys_eased", "n", "needs work", ""),
        ("spring", "3", "firm rise", ""),
        ("weights", "52\u{e007}", "52", "gf"),
    ] {
        let place = format!("{job}/pass/{step}");
        browser
            .run("location.hash = arguments[0]", vec![json!(place)])
            .await;
        let there = "return location.hash === arguments[0] && document.querySelector('.pass .pad') !== null";
        browser.wait_until(there, vec![json!(place)]).await;
        browser.type_keys(keys).await;
        browser.type_keys("\u{e012}").await;
        let read = "return document.querySelector('.value').innerText.replace(/\\s+/g, ' ').trim() === arguments[0]";
        let shown = format!("{shown} {unit}");
        browser.wait_until(read, vec![json!(shown.trim())]).await;
    }
}

#[tokio::test]
async fn the_time_of_one_long_work_is_stated() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("Timed", "").await;
    Order(&browser).begin("tuning").await;
    let pass = Pass(&browser);
    pass.key("1").await;
    assert!(pass.through().await.contains("1 of 1 done"));
    browser.tap(".through input").await;
    browser.type_keys("95\u{e007}").await;
    let says = "return document.querySelector('.through').innerText.includes('1 h 35 min so far, as stated')";
    browser.wait_until(says, vec![]).await;
}

#[tokio::test]
async fn a_fault_stands_at_its_note_and_a_note_is_found_by_number() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("Faults", "").await;
    Order(&browser).begin("jack_position").await;
    let pass = Pass(&browser);
    pass.more().await;
    browser.tap("dialog form input").await;
    browser.type_keys("49\u{e007}").await;
    pass.wait_for_note("A4").await;
    pass.more().await;
    pass.on_sheet("worn").await;
    pass.on_sheet("Keep as a fault").await;
    pass.wait_for_message("Fault: worn").await;
    assert_eq!(pass.beside().await, "49, fault");
    pass.more().await;
    pass.on_sheet("Fixed").await;
    browser.tap("[aria-label='Close']").await;
    let plain = "return document.querySelector('.note small').innerText === '49, natural'";
    browser.wait_until(plain, vec![]).await;
    browser.tap("[aria-label='Skip this note']").await;
    pass.wait_for_note("A♯4").await;
    assert!(pass.caption().await.starts_with("0 of 88 done"));
}

#[tokio::test]
async fn the_strip_is_widened_for_a_narrow_phone() {
    let site = serve_release();
    let browser = Browser::open(Device::PHONE.width(320), Profile::fresh()).await;
    Jobs::open(&browser, &site)
        .await
        .make("Narrow", "20, 52")
        .await;
    Order(&browser).begin("let_off").await;
    let pass = Pass(&browser);
    let wide = "return document.querySelector('.strip path.hollow').getBoundingClientRect().width";
    let before = browser.run(wide, vec![]).await.as_f64();
    browser.tap(".zoom").await;
    browser.tap(".zoom").await;
    let after = browser.run(wide, vec![]).await.as_f64();
    assert!(after.zip(before).is_some_and(|(a, b)| a > 3.9 * b));
    // 22 notes are in view: the middle of the picture is the eleventh or twelfth.
    pass.travel_to(45).await;
    pass.wait_for_note("G♯1").await;
}

#[tokio::test]
async fn two_fingers_widen_the_strip_and_leave_the_note_in_hand() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("Pinched", "").await;
    Order(&browser).begin("let_off").await;
    let pass = Pass(&browser);
    pass.travel_to(40).await;
    pass.wait_for_note("C4").await;
    let wide = "return document.querySelector('.strip path.hollow').getBoundingClientRect().width";
    let width = async || browser.run(wide, vec![]).await.as_f64().expect("a width");
    let before = width().await;
    let middle = "const r = document.querySelector('.strip').getBoundingClientRect(); return [r.x + r.width / 2, r.y + r.height / 2]";
    let middle = browser.run(middle, vec![]).await;
    let at = |i: usize| middle[i].as_f64().expect("a place");
    let middle = (at(0), at(1));
    browser.pinch(middle, (80.0, 150.0)).await;
    assert!(width().await > 1.9 * before);
    pass.wait_for_note("C4").await;
    browser.pinch(middle, (80.0, 150.0)).await;
    assert!(width().await > 3.9 * before);
    browser.pinch(middle, (200.0, 40.0)).await;
    assert!(width().await < 2.1 * before);
    pass.wait_for_note("C4").await;
}

#[tokio::test]
async fn another_order_of_the_notes_keeps_the_place_and_asks_for_nothing_twice() {
    let site = serve_release();
    let browser = Browser::phone().await;
    let jobs = Jobs::open(&browser, &site).await;
    jobs.make("Half way", "").await;
    let pass = Pass(&browser);
    Order(&browser).begin("let_off").await;
    for next in ["A♯0", "B0", "C1", "C♯1"] {
        pass.on_target().await;
        pass.wait_for_note(next).await;
    }
    let order = async |words: &str| {
        browser.tap(".bar a.tool").await;
        browser.tap(".bar a.tool").await;
        let likes = Preferences::open(&browser).await;
        likes.choose("order", words).await;
        likes.leave().await;
        browser.tap("a.job").await;
        Order(&browser).begin("let_off").await;
    };
    // The sharp is the place that was left; what follows in the new order was read, or is asked for.
    order("Naturals first").await;
    pass.wait_for_note("C♯1").await;
    pass.on_target().await;
    pass.wait_for_note("D♯1").await;
    assert!(pass.caption().await.starts_with("5 of 88 measured"));
    order("Down").await;
    pass.wait_for_note("D♯1").await;
    pass.on_target().await;
    // D1 is the last below that was not read.
    pass.wait_for_note("D1").await;
    pass.on_target().await;
    assert!(
        pass.through()
            .await
            .contains("7 of 88 measured, 81 not measured")
    );
}

/// Stand-ins for what a phone has and a headless browser lacks, each writing down what was asked of it.
const PHONE_PARTS: &str = "
    window.said = []; window.felt = []; window.awake = [];
    const put = (on, name, value) => Object.defineProperty(on, name, { value, configurable: true });
    put(window, 'speechSynthesis', { cancel() {}, speak(u) { said.push(u.text); } });
    put(navigator, 'vibrate', pattern => { felt.push(pattern); return true; });
    const lock = { release: async () => { awake.push('let go'); } };
    put(navigator, 'wakeLock', { request: async kind => { awake.push(kind); return lock; } });
";

#[tokio::test]
async fn a_reading_is_said_and_felt_while_the_screen_stays_awake() {
    let site = serve_release();
    let browser = Browser::phone().await;
    let jobs = Jobs::open(&browser, &site).await;
    browser.run(PHONE_PARTS, vec![]).await;
    let likes = Preferences::open(&browser).await;
    likes.choose("speech", "Yes").await;
    likes.leave().await;
    jobs.make("Aloud", "").await;
    browser.run("said.length = felt.length = 0", vec![]).await;
    Order(&browser).begin("let_off").await;
    let pass = Pass(&browser);
    pass.on_target().await;
    pass.wait_for_note("A♯0").await;
    pass.type_and_enter("13").await;
    pass.wait_for_note("B0").await;
    let told = browser.run("return [said, felt, awake]", vec![]).await;
    assert_eq!(
        told[0],
        json!(["A0", "on target. A-sharp 0", "close, button down 1/8. B0"])
    );
    assert_eq!(told[1][0], json!(30));
    assert!(told[1][1].is_array(), "{}", told[1]);
    assert_eq!(told[2], json!(["screen"]));
    // Seen again after it was hidden, the page asks anew; left, the pass lets go.
    browser
        .run(
            "document.dispatchEvent(new Event('visibilitychange', { bubbles: true }))",
            vec![],
        )
        .await;
    browser
        .wait_until(
            "return awake.filter(a => a === 'screen').length === 2",
            vec![],
        )
        .await;
    browser.tap(".bar a.tool").await;
    browser
        .wait_until("return awake.at(-1) === 'let go'", vec![])
        .await;
}

#[tokio::test]
async fn hand_and_theme_are_kept_and_what_is_missing_is_said() {
    let site = serve_release();
    let browser = Browser::phone().await;
    let jobs = Jobs::open(&browser, &site).await;
    let lacks = "Object.defineProperty(navigator, 'vibrate', { value: undefined })";
    browser.run(lacks, vec![]).await;
    let likes = Preferences::open(&browser).await;
    let page = browser.text(".preferences").await;
    assert!(page.contains("This browser cannot vibrate."), "{page}");
    likes.choose("hand", "Left").await;
    likes.choose("theme", "Dark").await;
    browser.reload().await;
    browser.wait_for(".preferences").await;
    let ground = "return getComputedStyle(document.body).backgroundColor";
    assert_eq!(browser.run(ground, vec![]).await, json!("rgb(23, 20, 17)"));
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    browser.screenshot("preferences-dark").await;
    likes.leave().await;
    jobs.make("Left", "").await;
    Order(&browser).begin("let_off").await;
    let left =
        "const x = k => document.querySelector(`.pad [data-key='${k}']`).getBoundingClientRect().x;
        return x('enter') < x('1') && x('1') < x('2') && x('undo') < x('7')";
    assert_eq!(browser.run(left, vec![]).await, Value::Bool(true));
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    browser.screenshot("pass-left-dark").await;
    Pass(&browser).more().await;
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    browser.screenshot("note-dark").await;
}

#[tokio::test]
async fn a_pass_of_eighty_eight_is_taken_by_keys_and_typing_calipers() {
    let site = serve_release();
    let browser = Browser::open(Device::DESK, Profile::fresh()).await;
    Jobs::open(&browser, &site).await.make("By keys", "").await;
    Order(&browser).begin("let_off").await;
    let pass = Pass(&browser);
    // One note far out is turned (t) and re-measured; calipers end a reading with Enter or with Tab.
    browser.type_keys("13\u{e007}t").await;
    pass.wait_for_message("Turned 1/8 down").await;
    let rest = [
        "20\u{e007}",
        "1.98\u{e004}",
        "2,02\u{e007}",
        "5/64in\u{e004}",
    ]
    .repeat(22);
    browser.type_keys(&rest.concat()).await;
    let through = pass.through().await;
    assert!(through.contains("88 of 88 measured, none out"), "{through}");
    // A key of the screen that has the focus does not take a caliper's Enter for itself.
    browser.type_keys("\u{e012}").await;
    pass.wait_for_note("C8").await;
    let focus = "document.querySelector('[aria-label=\"About this step\"]').focus()";
    browser.run(focus, vec![]).await;
    browser.type_keys("2.1\u{e007}").await;
    assert!(pass.through().await.contains("88 of 88 measured"));
    assert_eq!(browser.count("dialog[open]").await, 0);
}

#[tokio::test]
async fn those_out_are_gone_through_after_the_last_note() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site)
        .await
        .make("Those out", "20")
        .await;
    Order(&browser).begin("rest_cushion").await;
    let pass = Pass(&browser);
    pass.type_and_enter("30").await;
    pass.type_and_enter("92").await;
    assert!(pass.through().await.contains("2 of 2 measured, 1 out."));
    let main = browser.text(".through .main").await;
    assert_eq!(main, "1 out: go through it");
    let next = "return [...document.querySelectorAll('.through a')].some(a => a.innerText.startsWith('Next: '))";
    assert_eq!(browser.run(next, vec![]).await, json!(true));
    pass.go_through_those_out().await;
    // In hand with its reading and what to do about it.
    pass.wait_for_message("rest cushion raise").await;
    assert_eq!(pass.reading().await, "9.2");
    pass.turned().await;
    pass.type_and_enter("30").await;
    assert!(pass.through().await.contains("2 of 2 measured, none out."));
}
