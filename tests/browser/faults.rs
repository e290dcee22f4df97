//! The storage fails in every way that a browser knows: each is a sentence that stays until it is over, with the
//! entries kept, the export one tap away and the recovery announced. And the program itself stops.
//!
//! Faults are put into the browser before the app loads; the app has no hooks for them. The file is long because each
//! way to fail has its test.

use evenhand_tests::RunningSite;
use serde_json::{Value, json};

use crate::browser::Browser;
use crate::kills::STORED;
use crate::main_job::{let_offs, read_json};
use crate::outside::accessibility_faults;
use crate::pages::jobs::{Jobs, notices, wait_for_notice};
use crate::pages::order::Order;
use crate::pages::pass::Pass;
use crate::pages::serve_release;

pub const RECOVERED: &str = "Storage works again: everything is saved.";

/// `window.faulty` says whether the fault is in force; `heal()` ends it.
const FAULTY: &str = "window.faulty = true; window.heal = () => { window.faulty = false; };";

/// In place of a method of a prototype, one that may fail.
pub fn failing(prototype: &str, method: &str, instead: &str) -> String {
    format!(
        "{FAULTY} {{ const real = {prototype}.prototype.{method};
         {prototype}.prototype.{method} = function (...given) {{ if (window.faulty) {{ {instead} }} return real.apply(this, given); }}; }}"
    )
}

pub fn refused(name: &str) -> String {
    format!("throw new DOMException('put there by the test', '{name}');")
}

/// What a person sees of the fault.
pub async fn sentence(browser: &Browser) -> String {
    browser.text(".fault p").await
}

pub async fn wait_for_sentence(browser: &Browser, says: &str) {
    let there = "return document.querySelector('.fault p')?.innerText.includes(arguments[0])";
    browser.wait_until(there, vec![json!(says)]).await;
}

/// Goes to a page of the same site that is not the app.
pub async fn beside_the_app(browser: &Browser, site: &RunningSite) {
    let page = format!("{}evenhand-job.schema.json", site.url());
    browser.go_to(&page).await;
}

/// A job with one let-off reading, entered while the fault is in force or not.
pub async fn make_and_read(browser: &Browser, site: &RunningSite) {
    Jobs::open(browser, site).await.make("Faulty", "").await;
    Order(browser).begin("let_off").await;
    Pass(browser).on_target().await;
    Pass(browser).wait_for_note("A♯0").await;
}

/// The readings in the log of a job file: measure, note and nanometers.
pub fn readings(file: &Value) -> Vec<(&str, u64, i64)> {
    let log = file["log"].as_array().expect("a log").iter();
    log.filter(|e| e["act"] == "reading")
        .map(|e| {
            let measure = e["measure"].as_str().expect("a measure");
            let note = e["on"]["note"].as_u64().expect("a note");
            (measure, note, e["value"]["nm"].as_i64().expect("a length"))
        })
        .collect()
}

/// The fault ends, which is announced; after a reload the reading is there.
async fn heals(browser: &Browser) {
    browser.run("heal()", vec![]).await;
    browser.tap(".fault .tool").await;
    browser.tap(".fault .notice-keys button:last-child").await;
    wait_for_notice(browser, RECOVERED).await;
    assert_eq!(browser.count(".fault").await, 0);
    Pass(browser).wait_until_saved().await;
    browser.run("sessionStorage.whole = 'yes'", vec![]).await;
    browser.reload().await;
    browser.wait_for(".pass .pad").await;
    assert!(
        Pass(browser)
            .caption()
            .await
            .starts_with("1 of 88 measured")
    );
}

/// The storage is in order in pages that are loaded after the first.
pub fn once(script: &str) -> String {
    format!("if (!sessionStorage.whole) {{ {script} }}")
}

#[tokio::test]
async fn a_storage_that_does_not_open_keeps_the_entries_and_says_when_it_does() {
    let site = serve_release();
    for (script, says) in [
        (
            failing("IDBFactory", "open", &refused("UnknownError")),
            "could not be opened",
        ),
        // Never an answer: as while another tab holds an older version.
        (
            failing(
                "IDBFactory",
                "open",
                "return Object.create(IDBOpenDBRequest.prototype, { addEventListener: { value() {} }, onsuccess: { set() {} }, onerror: { set() {} }, onblocked: { set() {} }, onupgradeneeded: { set() {} } });",
            ),
            "does not answer",
        ),
        // Half way through the first upgrade.
        (
            failing(
                "IDBDatabase",
                "createObjectStore",
                &format!("if (given[0] === 'jobs') {}", refused("ConstraintError")),
            ),
            "could not be opened",
        ),
    ] {
        let browser = Browser::phone().await;
        browser.before_load(&once(&script)).await;
        make_and_read(&browser, &site).await;
        wait_for_sentence(&browser, says).await;
        assert!(sentence(&browser).await.contains("not saved"), "{says}");
        if says.contains("answer") {
            // What was asked before never answers; a new page asks anew, and finds what was put aside.
            continue;
        }
        heals(&browser).await;
    }
}

#[tokio::test]
async fn an_entry_that_cannot_be_written_is_kept_exported_and_written_later() {
    let site = serve_release();
    let browser = Browser::phone().await;
    let script = failing("IDBObjectStore", "put", &refused("UnknownError"));
    browser.before_load(&once(&script)).await;
    make_and_read(&browser, &site).await;
    wait_for_sentence(&browser, "could not be saved").await;
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    browser.screenshot("storage-fault").await;
    // The export is one tap away.
    browser.tap(".fault .notice-keys button:first-child").await;
    let file = browser.download(".job.json").await;
    let file = read_json(&file);
    assert_eq!(readings(&file), [("let_off", 1, 2_000_000)]);
    assert_eq!(let_offs(&file), [2.0]);
    // A battery that comes out now loses nothing either: local storage has what the journal refused.
    browser.reload().await;
    browser.wait_for(".pass .pad").await;
    wait_for_sentence(&browser, "could not be saved").await;
    assert!(
        Pass(&browser)
            .caption()
            .await
            .starts_with("1 of 88 measured")
    );
    heals(&browser).await;
}

/// Transactions that do not end before [`FAULTY`] is healed, and in `said` each word of saving that was shown, with a
/// mark before those shown as trouble.
const HELD_UP: &str = "
    window.faulty = true; window.heal = () => { window.faulty = false; };
    const commit = IDBTransaction.prototype.commit;
    IDBTransaction.prototype.commit = function () {
        const wait = () => {
            if (window.faulty) this.objectStore('jobs').get('').onsuccess = wait;
            else commit.apply(this);
        };
        wait();
    };
    window.said = [];
    new MutationObserver(() => document.querySelectorAll('.bar .saved').forEach(saved => {
        const now = (saved.classList.contains('not-yet') ? '! ' : '') + saved.innerText;
        if (said.at(-1) !== now) said.push(now);
    })).observe(document, { subtree: true, childList: true, characterData: true, attributes: true });
";

async fn said_of_saving(browser: &Browser) -> Vec<String> {
    let said = browser.run("return said", vec![]).await;
    serde_json::from_value(said).expect("words")
}

#[tokio::test]
async fn saving_under_way_is_no_trouble_until_it_is_held_up() {
    let site = serve_release();
    let browser = Browser::phone().await;
    browser.before_load(HELD_UP).await;
    Jobs::open(&browser, &site).await.demo().await;
    let saving =
        "return /^saving [0-9]{4}$/.test(document.querySelector('.bar .saved')?.innerText)";
    browser.wait_until(saving, vec![]).await;
    assert_eq!(browser.count(".not-yet").await, 0);
    assert_eq!(browser.count(".fault").await, 0);
    browser.run("heal()", vec![]).await;
    Order(&browser).begin("let_off").await;
    Pass(&browser).wait_until_saved().await;

    // It stands by itself: what does not answer is told, and kept aside meanwhile.
    browser
        .run("window.faulty = true; said.length = 0", vec![])
        .await;
    Pass(&browser).on_target().await;
    wait_for_sentence(&browser, "does not answer").await;
    assert!(sentence(&browser).await.ends_with("1 not saved"));
    assert_eq!(said_of_saving(&browser).await, ["saving", "! 1 not saved"]);
    let aside = "return Object.keys(localStorage).some(key => key.startsWith('aside/'))";
    assert_eq!(browser.run(aside, vec![]).await, json!(true));
    browser.run("heal()", vec![]).await;
    wait_for_notice(&browser, RECOVERED).await;
    Pass(&browser).wait_until_saved().await;
    assert_eq!(browser.count(".fault").await, 0);
    // It is saved, so nothing stands aside any more.
    assert_eq!(browser.run(aside, vec![]).await, json!(false));
}

#[tokio::test]
async fn a_full_phone_is_told_and_saving_goes_on_when_there_is_room() {
    let site = serve_release();
    let browser = Browser::phone().await;
    let origin = site.url().trim_end_matches('/').to_owned();
    // Before the first write: Chromium remembers for a while how much room there was.
    let full = json!({ "origin": origin, "quotaSize": 1 });
    browser.cdp("Storage.overrideQuotaForOrigin", full).await;
    make_and_read(&browser, &site).await;
    wait_for_sentence(&browser, "no room left").await;
    let room = json!({ "origin": origin });
    browser.cdp("Storage.overrideQuotaForOrigin", room).await;
    wait_for_notice(&browser, RECOVERED).await;
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
async fn a_journal_that_cannot_be_read_is_not_taken_for_an_empty_one() {
    let site = serve_release();
    let browser = Browser::phone().await;
    make_and_read(&browser, &site).await;
    Pass(&browser).wait_until_saved().await;
    let script = failing("IDBObjectStore", "getAll", &refused("UnknownError"));
    browser.before_load(&once(&script)).await;
    browser.reload().await;
    wait_for_sentence(&browser, "could not be read").await;
    assert_eq!(browser.count(".pad").await, 0);
    browser.run("heal()", vec![]).await;
    wait_for_notice(&browser, RECOVERED).await;
    browser.wait_for(".pass .pad").await;
    assert!(
        Pass(&browser)
            .caption()
            .await
            .starts_with("1 of 88 measured")
    );
}

#[tokio::test]
async fn local_storage_may_be_denied() {
    let site = serve_release();
    let browser = Browser::phone().await;
    let denied = "Object.defineProperty(window, 'localStorage', { get() { throw new DOMException('denied by the test', 'SecurityError'); } });";
    browser.before_load(denied).await;
    make_and_read(&browser, &site).await;
    Pass(&browser).wait_until_saved().await;
    let said = notices(&browser).await;
    assert!(
        said.iter()
            .any(|s| s.contains("does not keep the preferences")),
        "{said:?}"
    );
    // Undo knows this phone's own entries all the same.
    Pass(&browser).key("undo").await;
    Pass(&browser).wait_for_note("A0").await;
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
async fn a_record_that_cannot_be_read_is_set_aside_and_named() {
    let site = serve_release();
    let browser = Browser::phone().await;
    make_and_read(&browser, &site).await;
    Pass(&browser).on_target().await;
    Pass(&browser).wait_until_saved().await;
    let tear = "
        return new Promise(done => {
            const open = indexedDB.open('evenhand');
            open.onsuccess = () => {
                const store = open.result.transaction('entries', 'readwrite').objectStore('entries');
                store.getAll().onsuccess = found => store.getAllKeys().onsuccess = keys => {
                    const at = found.target.result.findIndex(line => JSON.parse(line).act === 'reading');
                    store.put(found.target.result[at].slice(0, 40), keys.target.result[at]);
                };
                store.transaction.oncomplete = () => { open.result.close(); done(true); };
            };
        });
    ";
    browser.run(tear, vec![]).await;
    browser.reload().await;
    let said = wait_for_notice(&browser, "could not be read").await;
    assert!(
        said.contains("stored record") && said.contains("set aside"),
        "{said}"
    );
    browser.wait_for(".pass .pad").await;
    assert!(
        Pass(&browser)
            .caption()
            .await
            .starts_with("1 of 88 measured")
    );
}

/// The last record of a job is torn: what is entered next takes another key, so that the torn one stays.
#[tokio::test]
async fn a_torn_last_record_is_not_overwritten() {
    let site = serve_release();
    let browser = Browser::phone().await;
    make_and_read(&browser, &site).await;
    Pass(&browser).wait_until_saved().await;
    let tear = "
        return new Promise(done => {
            const open = indexedDB.open('evenhand');
            open.onsuccess = () => {
                const store = open.result.transaction('entries', 'readwrite').objectStore('entries');
                store.getAllKeys().onsuccess = keys => store.put('{\"torn', keys.target.result.at(-1));
                store.transaction.oncomplete = () => { open.result.close(); done(location.hash); };
            };
        });
    ";
    let pass = browser.run(tear, vec![]).await;
    // Read again by the same visit, which counts on from what it reads.
    browser.run("location.hash = '#/'", vec![]).await;
    browser.wait_for(".job-list").await;
    Jobs(&browser).make("Other", "").await;
    browser
        .run("location.hash = arguments[0]", vec![pass])
        .await;
    wait_for_notice(&browser, "set aside").await;
    browser.wait_for(".pass .pad").await;
    // As they lie there: the torn one is no JSON.
    let lines = "return new Promise(done => {
        const open = indexedDB.open('evenhand');
        open.onsuccess = () => {
            const all = open.result.transaction('entries').objectStore('entries').getAll();
            all.onsuccess = () => { open.result.close(); done(all.result); };
        };
    })";
    let before = browser.run(lines, vec![]).await;
    Pass(&browser).on_target().await;
    Pass(&browser).wait_until_saved().await;
    let after = browser.run(lines, vec![]).await;
    let (before, after) = (
        before.as_array().expect("a list"),
        after.as_array().expect("a list"),
    );
    assert!(after.len() > before.len(), "{after:?}");
    assert!(after.contains(&json!("{\"torn")), "{after:?}");
}

#[tokio::test]
async fn what_a_newer_version_has_stored_is_left_alone() {
    let site = serve_release();
    let browser = Browser::phone().await;
    beside_the_app(&browser, &site).await;
    let newer = "
        return new Promise(done => {
            const open = indexedDB.open('evenhand', 9);
            open.onupgradeneeded = () => open.result.createObjectStore('of a newer version');
            open.onsuccess = () => { open.result.close(); done(true); };
        });
    ";
    browser.run(newer, vec![]).await;
    make_and_read(&browser, &site).await;
    wait_for_sentence(&browser, "from a newer version").await;
    assert!(
        Pass(&browser)
            .caption()
            .await
            .starts_with("1 of 88 measured")
    );
    let version = "return indexedDB.databases().then(all => all.map(d => d.version))";
    assert_eq!(browser.run(version, vec![]).await, json!([9]));
}

#[tokio::test]
async fn a_program_that_stops_says_so_hands_out_what_is_stored_and_starts_again() {
    let site = serve_release();
    let browser = Browser::phone().await;
    make_and_read(&browser, &site).await;
    Pass(&browser).wait_until_saved().await;
    stop_program(&browser).await;
    assert_eq!(browser.text("h1").await, "Evenhand has stopped");
    // Where it stopped is a place in a source file.
    assert!(browser.text("main").await.contains(".rs:"));
    assert!(browser.text("button.copy").await.contains("Faulty"));
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    browser.screenshot("stopped").await;
    browser.tap("button.copy").await;
    let file = browser.download(".job.json").await;
    browser.tap(".reach .button:last-child").await;
    browser.wait_for("a[href='#/new']").await;
    assert_eq!(Jobs(&browser).names().await, ["Faulty"]);

    // The copy opens as any job file, with nothing to say against it.
    let other = Browser::phone().await;
    Jobs::open(&other, &site).await.choose(&file).await;
    other.wait_for(".order .step").await;
    Order(&other).wait_for_line("let_off", "1 of 88").await;
    assert_eq!(notices(&other).await, [""; 0]);
}

#[tokio::test]
async fn the_page_of_a_stopped_program_reads_past_what_is_malformed() {
    let site = serve_release();
    let browser = Browser::phone().await;
    make_and_read(&browser, &site).await;
    Pass(&browser).wait_until_saved().await;
    let put = "const set = (key, value) => localStorage.setItem(key, value);
        set('unsaved/0000000000000001', '5'); set('unsaved/0000000000000002', '[7, null, [], [1, 2], \"x\"]');
        set('unsaved/0000000000000003', '[['); set('aside/', '5'); set('aside/0/0', '[[');
        set(`aside/${location.hash.split('/')[1]}/0000000000000abc-0000000000000001`, '{\"act\":');";
    browser.run(put, vec![]).await;
    stop_program(&browser).await;
    let copy = browser.text("button.copy").await;
    // The torn one under the key of an entry is handed out with the others.
    assert_eq!(copy, "Take a copy of Faulty: 9 records");
    assert_eq!(browser.count("button.copy").await, 1);
}

#[tokio::test]
async fn a_program_that_cannot_open_the_storage_hands_out_what_was_put_aside() {
    let site = serve_release();
    let browser = Browser::phone().await;
    let shut = "IDBFactory.prototype.open = () => { throw new DOMException('put there by the test', 'UnknownError') }";
    browser.before_load(shut).await;
    make_and_read(&browser, &site).await;
    wait_for_sentence(&browser, "could not be opened").await;
    stop_program(&browser).await;
    let why = browser.text("[role=alert]").await;
    assert!(why.contains("could not be read just now"), "{why}");
    let copy = browser.text("button.copy").await;
    assert_eq!(copy, "Take a copy of Faulty: 8 records");
}

/// Stops the program: the framework cannot go on without this; what it stands for is any fault of the program.
pub async fn stop_program(browser: &Browser) {
    let break_it =
        "Node.prototype.cloneNode = () => { throw new Error('put there by the test'); };";
    browser.run(break_it, vec![]).await;
    browser.run("location.hash = '#/new'", vec![]).await;
    browser.wait_for("button.copy").await;
}

/// Makes the database, and keeps it in its first upgrade until [`LET_GO`] is said in some tab: nobody else can open
/// it meanwhile.
const OCCUPY: &str = "
    return new Promise(done => {
        const open = indexedDB.open('evenhand', 1);
        let held = true;
        addEventListener('storage', ({ key }) => { if (key === 'let go') held = false; });
        open.onupgradeneeded = () => {
            const entries = open.result.createObjectStore('entries');
            open.result.createObjectStore('jobs');
            const again = () => { if (held) entries.get('').onsuccess = again; };
            again();
            done(true);
        };
        open.onsuccess = () => open.result.close();
    });
";

const LET_GO: &str = "localStorage.setItem('let go', '')";

/// A tab in which the app can be opened, beside one that holds the storage.
async fn held_by_another_tab(browser: &Browser, site: &RunningSite) {
    beside_the_app(browser, site).await;
    browser.run(OCCUPY, vec![]).await;
    browser.open_tab().await;
}

#[tokio::test]
async fn entries_wait_while_another_tab_holds_the_storage_and_are_written_when_it_lets_go() {
    let site = serve_release();
    let browser = Browser::phone().await;
    held_by_another_tab(&browser, &site).await;
    make_and_read(&browser, &site).await;
    wait_for_sentence(&browser, "does not answer").await;
    // Work goes on, and each try to open waits too.
    Pass(&browser).on_target().await;
    Pass(&browser).wait_for_note("B0").await;
    assert!(sentence(&browser).await.contains("not saved"));
    browser.run(LET_GO, vec![]).await;
    wait_for_notice(&browser, RECOVERED).await;
    Pass(&browser).wait_until_saved().await;
    browser.reload().await;
    browser.wait_for(".pass .pad").await;
    assert!(
        Pass(&browser)
            .caption()
            .await
            .starts_with("2 of 88 measured")
    );
}

/// A newer version opens the storage.
pub const NEWER: &str = "
    return new Promise((done, failed) => {
        const open = indexedDB.open('evenhand', 2);
        open.onblocked = () => failed(new Error('held up'));
        open.onerror = () => failed(open.error);
        open.onsuccess = () => { open.result.close(); done(true); };
    });
";

#[tokio::test]
async fn a_newer_version_in_another_tab_is_let_through_and_told_and_nothing_is_lost() {
    let site = serve_release();
    let browser = Browser::phone().await;
    make_and_read(&browser, &site).await;
    Pass(&browser).wait_until_saved().await;
    browser.open_tab().await;
    beside_the_app(&browser, &site).await;
    // It opens, so the app has closed its connection.
    browser.run(NEWER, vec![]).await;
    browser.show_tab(0).await;
    // Told at once, and not with the next entry.
    wait_for_sentence(&browser, "from a newer version").await;
    assert!(sentence(&browser).await.ends_with(" saved"));
    Pass(&browser).on_target().await;
    Pass(&browser).wait_for_note("B0").await;
    assert!(sentence(&browser).await.ends_with("1 not saved"));
    // What the newer version finds: the stored entries untouched, and the last beside them.
    let stored = browser.run(STORED, vec![]).await;
    assert_eq!(stored.as_array().map(Vec::len), Some(1));
    let aside = "return Object.keys(localStorage).filter(k => k.startsWith('aside/')).map(k => localStorage[k]).join()";
    let aside = browser.run(aside, vec![]).await;
    assert!(aside.to_string().contains("let_off"), "{aside}");
    // And the export has both.
    browser.tap(".fault .notice-keys button:first-child").await;
    let file = browser.download(".job.json").await;
    let both = [("let_off", 1, 2_000_000), ("let_off", 2, 2_000_000)];
    assert_eq!(readings(&read_json(&file)), both);
}

/// The list of jobs comes late, or the storage is tried again: neither takes the hand off the field.
#[tokio::test]
async fn what_is_being_typed_is_not_disturbed_when_the_storage_answers() {
    let site = serve_release();
    let browser = Browser::phone().await;
    held_by_another_tab(&browser, &site).await;
    Jobs::open(&browser, &site).await;
    browser.tap("a[href='#/new']").await;
    browser.tap("form main > label input").await;
    browser.type_keys("Typed ").await;
    wait_for_sentence(&browser, "does not answer").await;
    browser.run(LET_GO, vec![]).await;
    wait_for_notice(&browser, RECOVERED).await;
    browser.type_keys("whole").await;
    browser.tap("button[type=submit]").await;
    browser.wait_for(".order .step").await;
    browser.tap(".bar a.tool").await;
    assert_eq!(Jobs(&browser).names().await, ["Typed whole"]);
}
