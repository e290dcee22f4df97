//! A stack and a key set worked apart from one file, with sweeps and corrections, and put together by files in both
//! orders, on two phones and in the other engines: the same state, and what differs at its place on each.

use std::fs;
use std::path::{Path, PathBuf};

use evenhand_tests::RunningSite;
use serde_json::{Value, json};

use crate::browser::{Browser, Profile};
use crate::device::Device;
use crate::engine::Engine;
use crate::main_job::{read_json, schema};
use crate::outside::schema_faults;
use crate::pages::fields::Typing;
use crate::pages::jobs::{Jobs, wait_for_notice};
use crate::pages::office::Handover;
use crate::pages::order::Order;
use crate::pages::pass::Pass;
use crate::pages::{serve_release, wait_for_count, wait_until_saved};
use crate::sweeps::sweep;

/// The steps that were worked on.
const WORKED: [&str; 4] = ["let_off", "drop", "natural_dip", "blow"];

/// Opens the pass of a step, through or not.
async fn open_pass(phone: &Browser, step: &str) {
    phone.tap(&format!(".order a[href$='/pass/{step}']")).await;
    phone.wait_for(".pass .strip .here").await;
}

/// Enters what is out, says that the correction was made, and enters what it came to.
async fn correct(phone: &Browser, note: u32, name: &str, out: &str, then: &str) {
    let pass = Pass(phone);
    pass.travel_to(note).await;
    pass.wait_for_note(name).await;
    pass.type_and_enter(out).await;
    pass.wait_for_message(name).await;
    pass.turned().await;
    pass.travel_to(note).await;
    pass.wait_for_note(name).await;
    pass.type_and_enter(then).await;
}

/// Enters values of notes.
async fn measure(phone: &Browser, values: &[(u32, &str, &str)]) {
    let pass = Pass(phone);
    for (note, name, digits) in values {
        pass.travel_to(*note).await;
        pass.wait_for_note(name).await;
        pass.type_and_enter(digits).await;
    }
}

/// Sweeps all that is left of the open pass, and goes back to the order.
async fn sweep_rest(phone: &Browser) {
    Pass(phone).travel_to(88).await;
    sweep(phone, "Whole row").await;
    Pass(phone).through().await;
    wait_until_saved(phone).await;
    Pass(phone).back().await;
}

/// Sets the serial number, and goes back to the order.
async fn set_serial(phone: &Browser, serial: &str) {
    let typing = Typing(phone);
    typing.go("setup/job").await;
    typing.fill("serial", 0, serial).await;
    typing.enter().await;
    typing.wait_until_saved().await;
    phone.back().await;
    phone.wait_for(".order .step").await;
}

/// Signs on this device, and goes back to the order.
async fn sign(phone: &Browser, name: &str) {
    Handover(phone).open().await;
    Handover(phone).sign(name).await;
    wait_until_saved(phone).await;
    phone.back().await;
    phone.wait_for(".order .step").await;
}

/// The stack: let-off and drop.
async fn work_stack(phone: &Browser) {
    Order(phone).begin("let_off").await;
    measure(phone, &[(1, "A0", "35"), (5, "C♯1", "23")]).await;
    correct(phone, 23, "G2", "30", "20").await;
    sweep_rest(phone).await;
    Order(phone).begin("drop").await;
    measure(phone, &[(44, "E4", "25")]).await;
    sweep_rest(phone).await;
    // One dip, for the stack to be tried on.
    Order(phone).begin("natural_dip").await;
    measure(phone, &[(40, "C4", "97")]).await;
    wait_until_saved(phone).await;
    Pass(phone).back().await;
    set_serial(phone, "4711").await;
}

/// The key set: dip and blow.
async fn work_keys(phone: &Browser) {
    Order(phone).begin("natural_dip").await;
    measure(phone, &[(16, "C2", "100"), (28, "C3", "107")]).await;
    sweep_rest(phone).await;
    Order(phone).begin("blow").await;
    correct(phone, 60, "G♯5", "430", "455").await;
    Pass(phone).travel_to(88).await;
    sweep(phone, "Whole row").await;
    Pass(phone).through().await;
    // A sweep that was a slip is taken back, and made anew.
    Pass(phone).on_through("Undo the last").await;
    Pass(phone).on_through("Go to the first to do").await;
    phone.wait_for(".pass .pad").await;
    sweep_rest(phone).await;
    // Two let-offs, for the keys to be tried with.
    Order(phone).begin("let_off").await;
    measure(phone, &[(1, "A0", "31"), (40, "C4", "13")]).await;
    wait_until_saved(phone).await;
    Pass(phone).back().await;
    set_serial(phone, "4717").await;
}

/// What a person sees of the open job, the same wherever it is opened: the order, each strip with its caption, and the
/// handover with its conflicts.
async fn seen(phone: &Browser) -> Vec<(String, String)> {
    let mut seen = Vec::new();
    // Engines break the lines of the same words elsewhere.
    let words = async |selector: &str| {
        let words = "return [...document.querySelectorAll(arguments[0])].map(e => e.innerText.split(/\\s+/).join('')).join(' | ')";
        let words = phone.run(words, vec![json!(selector)]).await;
        words.as_str().expect("words").to_owned()
    };
    seen.push(("order".to_owned(), words(".order .step").await));
    seen.push(("card".to_owned(), words(".card h2, .card p").await));
    for step in WORKED {
        open_pass(phone, step).await;
        let strip = "return [...document.querySelectorAll('.strip g path')].map(p => p.className.baseVal + p.getAttribute('d')).join()";
        let strip = phone.run(strip, vec![]).await;
        seen.push((
            format!("strip of {step}"),
            strip.as_str().expect("paths").to_owned(),
        ));
        // Without the time that this visit counts.
        let caption = "return document.querySelector('.caption').firstChild.textContent";
        let caption = phone.run(caption, vec![]).await;
        let caption = caption.as_str().expect("words").to_owned();
        seen.push((format!("caption of {step}"), caption));
        Pass(phone).back().await;
    }
    Handover(phone).open().await;
    for part in [".figures", ".points", ".conflicts"] {
        phone.wait_for(part).await;
        seen.push((format!("handover {part}"), words(part).await));
    }
    phone.back().await;
    phone.wait_for(".order .step").await;
    seen
}

/// The key that puts a notice away.
const PUT_AWAY: &str = "button[aria-label='Put this away']";

/// Waits until what differs stands at its place, on a phone that shows the order: in the pass, in the setup, in the
/// handover, and nowhere else.
async fn check_conflicts(phone: &Browser) {
    // What was said of the import is put away first, as one who works on does.
    while phone.count(PUT_AWAY).await > 0 {
        phone.tap(PUT_AWAY).await;
    }
    let pass = Pass(phone);
    open_pass(phone, "let_off").await;
    // From the end of the pass, where the strip stands elsewhere: the touch opens nothing that comes in its place.
    pass.travel_to(1).await;
    pass.wait_for_note("A0").await;
    let other = match pass.reading().await.as_str() {
        "3.5" => ["3.1 mm", "K. Keys"],
        "3.1" => ["3.5 mm", "S. Stack"],
        other => panic!("nobody measured {other}"),
    };
    phone.wait_for(".differing").await;
    let beside = phone.text(".differing").await;
    assert!(other.iter().all(|words| beside.contains(words)), "{beside}");
    assert_eq!(phone.count("dialog[open]").await, 0);
    // Only one of the two measured these, and the sweep of the other changes no number.
    for (note, name, reading) in [(40, "C4", "1.3"), (5, "C♯1", "2.3"), (23, "G2", "2.0")] {
        pass.travel_to(note).await;
        pass.wait_for_note(name).await;
        assert_eq!(pass.reading().await, reading, "{name}");
        assert_eq!(phone.count(".differing").await, 0, "{name}");
    }
    pass.back().await;
    open_pass(phone, "natural_dip").await;
    for (note, name, reading) in [(40, "C4", "9.7"), (28, "C3", "10.7"), (16, "C2", "10.0")] {
        pass.travel_to(note).await;
        pass.wait_for_note(name).await;
        assert!(pass.reading().await.starts_with(reading), "{name}");
        assert_eq!(phone.count(".differing").await, 0, "{name}");
    }
    pass.back().await;
    Typing(phone).go("setup/job").await;
    phone.wait_for(".conflicts").await;
    let stated = phone.text(".conflicts").await;
    for words in ["Serial number", "4711", "S. Stack", "4717", "K. Keys"] {
        assert!(stated.contains(words), "{words}: {stated}");
    }
    phone.back().await;
    phone.wait_for(".order .step").await;
    Handover(phone).open().await;
    wait_for_count(phone, ".conflict", 2).await;
    phone.back().await;
    phone.wait_for(".order .step").await;
}

/// A job file without what differs from device to device: when it was written, and that another file was opened, which
/// is its latest entry.
fn essence(mut file: Value) -> Value {
    let fields = file.as_object_mut().expect("an object");
    for own in ["exported_at_ms", "log_sha256"] {
        fields.remove(own);
    }
    let summary = fields["summary"].as_object_mut().expect("a summary");
    assert!(summary.remove("last_entry_at_ms").is_some());
    let log = fields["log"].as_array_mut().expect("a log");
    log.retain(|entry| entry["act"] != "opened");
    file
}

/// Asserts that two files say the same, part by part.
fn assert_same(one: &Value, other: &Value, what: &str) {
    let (one, other) = (one.as_object(), other.as_object());
    let (one, other) = (one.expect("an object"), other.expect("an object"));
    let names = |file: &serde_json::Map<String, Value>| file.keys().cloned().collect::<Vec<_>>();
    assert_eq!(names(one), names(other), "{what}");
    for (name, part) in one {
        assert_eq!(part, &other[name], "{what}: {name}");
    }
}

/// Two phones that worked apart from a common file, each with the file that it exported then.
async fn worked_apart(site: &RunningSite) -> [(Browser, PathBuf); 2] {
    let (stack, keys) = (Browser::phone().await, Browser::phone().await);
    Jobs::open(&stack, site)
        .await
        .make("Shared", "20, 52")
        .await;
    let common = Order(&stack).export().await;
    fs::rename(&common, common.with_extension("sent")).expect("the file is set aside");
    let common = common.with_extension("sent");
    stack.back().await;
    Jobs::open(&keys, site).await.choose(&common).await;
    keys.wait_for(".order .step").await;
    sign(&stack, "S. Stack").await;
    sign(&keys, "K. Keys").await;
    work_stack(&stack).await;
    work_keys(&keys).await;
    let files = [
        export_anew(&stack, "stack").await,
        export_anew(&keys, "keys").await,
    ];
    let [one, other] = files;
    [(stack, one), (keys, other)]
}

/// Exports the job from its order, under a name of its own, and goes back to the order.
async fn export_anew(phone: &Browser, name: &str) -> PathBuf {
    let file = Order(phone).export().await;
    let path = file.with_file_name(name).with_extension("file.json");
    fs::rename(&file, &path).expect("the file is renamed");
    phone.back().await;
    phone.wait_for(".order .step").await;
    path
}

/// Opens the file of the other phone, and reads that it tells of what differs.
async fn merge(phone: &Browser, file: &Path) {
    Jobs(phone).show().await;
    Jobs(phone).merge(file).await;
    let said = wait_for_notice(phone, "Two people differ").await;
    assert!(said.contains("4711") && said.contains("4717"), "{said}");
    phone.wait_for(".order .step").await;
    wait_until_saved(phone).await;
}

#[tokio::test]
async fn a_stack_and_a_key_set_come_together_in_both_orders() {
    let site = serve_release();
    let [(stack, of_stack), (keys, of_keys)] = worked_apart(&site).await;
    merge(&stack, &of_keys).await;
    merge(&keys, &of_stack).await;
    stack.screenshot("two-phones-order").await;
    // Before anybody looks at a pass, which is an entry.
    let merged = [
        export_anew(&stack, "stack-merged").await,
        export_anew(&keys, "keys-merged").await,
    ];
    let on_stack = seen(&stack).await;
    assert_eq!(seen(&keys).await, on_stack);
    check_conflicts(&stack).await;
    check_conflicts(&keys).await;
    for file in &merged {
        assert_eq!(schema_faults(&schema(), file), [""; 0]);
    }
    let [one, other] = merged.clone().map(|file| essence(read_json(&file)));
    assert_same(&one, &other, "the two phones");
    assert_eq!(one["conflicts"].as_array().map(Vec::len), Some(2));

    // The merged file of either brings the other nothing new.
    Jobs(&stack).show().await;
    Jobs(&stack).choose(&merged[1]).await;
    wait_for_notice(&stack, "nothing new").await;

    // The other engines come to the same, in either order.
    for (engine, files) in [
        (Engine::Firefox, [&of_stack, &of_keys]),
        (Engine::WebKit, [&of_keys, &of_stack]),
    ] {
        let phone = Browser::open_in(engine, Device::PHONE, Profile::fresh()).await;
        Jobs::open(&phone, &site).await.choose(files[0]).await;
        phone.wait_for(".order .step").await;
        merge(&phone, files[1]).await;
        let text = Order(&phone).export_text().await;
        let there: Value = serde_json::from_str(&text).expect("the file is JSON");
        assert_same(&essence(there), &one, &format!("{engine:?}"));
        phone.back().await;
        phone.wait_for(".order .step").await;
        assert_eq!(seen(&phone).await, on_stack, "{engine:?}");
        // In WebKit's low window the strip cannot be touched exactly enough.
        if engine == Engine::Firefox {
            check_conflicts(&phone).await;
        }
    }
}
