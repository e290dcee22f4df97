//! An acknowledged entry is not lost: what is put aside, a store that is emptied under the page, one job opened while
//! another is worked on, reads that fail, and how durably each transaction writes.
//!
//! The file is long because each way to lose an entry has its test.

use serde_json::{Value, json};

use crate::browser::Browser;
use crate::faults::{
    NEWER, RECOVERED, beside_the_app, failing, make_and_read, once, refused, stop_program,
    wait_for_sentence,
};
use crate::kills::STORED;
use crate::main_job::read_json;
use crate::pages::jobs::{Jobs, notices, wait_for_notice};
use crate::pages::order::Order;
use crate::pages::pass::Pass;
use crate::pages::{serve_release, tap_named};

/// All that is put aside: keys and values, by key.
const ASIDE: &str =
    "return Object.entries(localStorage).filter(([k]) => /^(aside|unsaved)\\//.test(k)).sort()";

async fn aside(browser: &Browser) -> Vec<(String, String)> {
    let all = browser.run(ASIDE, vec![]).await;
    serde_json::from_value(all).expect("keys and values")
}

async fn stored(browser: &Browser) -> usize {
    let stored = browser.run(STORED, vec![]).await;
    stored.as_array().expect("a list").len()
}

/// Writing fails from the next page on, until `heal()`.
async fn break_writing(browser: &Browser) {
    let script = failing("IDBObjectStore", "put", &refused("UnknownError"));
    browser.before_load(&once(&script)).await;
}

#[tokio::test]
async fn all_is_said_to_be_saved_only_when_nothing_waits() {
    let site = serve_release();
    let browser = Browser::phone().await;
    // Two faults, and only the one of opening heals at first.
    let script = "
        window.shut = window.readOnly = true;
        const { open } = IDBFactory.prototype, { put } = IDBObjectStore.prototype;
        IDBFactory.prototype.open = function (...given) {
            if (shut) throw new DOMException('put there by the test', 'UnknownError');
            return open.apply(this, given);
        };
        IDBObjectStore.prototype.put = function (...given) {
            if (readOnly) { window.tried = true; throw new DOMException('put there by the test', 'UnknownError'); }
            return put.apply(this, given);
        };
        window.said = [];
        new MutationObserver(() => document.querySelectorAll('.notice p').forEach(p => said.push(p.innerText)))
            .observe(document, { subtree: true, childList: true, characterData: true });
    ";
    browser.before_load(script).await;
    make_and_read(&browser, &site).await;
    wait_for_sentence(&browser, "could not be opened").await;
    browser.run("window.shut = false", vec![]).await;
    wait_for_sentence(&browser, "could not be saved").await;
    browser.wait_until("return window.tried", vec![]).await;
    let said = browser.run("return said", vec![]).await;
    assert!(!said.to_string().contains(RECOVERED), "{said}");
    browser.run("window.readOnly = false", vec![]).await;
    wait_for_notice(&browser, RECOVERED).await;
    assert_eq!(stored(&browser).await, 1);
}

/// Entries fail to be read, and jobs do not.
fn unreadable(which: &str) -> String {
    let instead = format!(
        "if (this.name === 'entries' && ({which})) {{ window.tried = (window.tried ?? 0) + 1; {} }}",
        refused("UnknownError")
    );
    failing("IDBObjectStore", "getAll", &instead)
}

/// While a job cannot be read, nothing is said to work again, however often it is tried.
#[tokio::test]
async fn reads_that_go_on_failing_are_not_said_to_work_again() {
    let site = serve_release();
    let browser = Browser::phone().await;
    make_and_read(&browser, &site).await;
    Pass(&browser).wait_until_saved().await;
    browser
        .before_load(&format!(
            "{} window.said = [];
            new MutationObserver(() => document.querySelectorAll('.notice p').forEach(p => said.push(p.innerText)))
                .observe(document, {{ subtree: true, childList: true, characterData: true }});",
            unreadable("true")
        ))
        .await;
    browser.reload().await;
    wait_for_sentence(&browser, "could not be read").await;
    browser.wait_until("return window.tried > 3", vec![]).await;
    let said = browser.run("return said", vec![]).await.to_string();
    assert!(said.contains("could not be read"), "{said}");
    assert!(!said.contains(RECOVERED), "{said}");
    browser.run("heal()", vec![]).await;
    wait_for_notice(&browser, RECOVERED).await;
    browser.wait_for(".pass .pad").await;
}

#[tokio::test]
async fn one_job_that_cannot_be_read_hides_no_other() {
    let site = serve_release();
    let browser = Browser::phone().await;
    make_and_read(&browser, &site).await;
    Pass(&browser).wait_until_saved().await;
    let bad = job_here(&browser).await;
    let jobs = Jobs(&browser);
    jobs.show().await;
    jobs.make("Whole", "").await;
    crate::pages::wait_until_saved(&browser).await;
    let set =
        "sessionStorage.bad = arguments[0]; localStorage.removeItem('jobs'); location.hash = '#/'";
    browser.run(set, vec![json!(bad)]).await;
    let of_bad = "JSON.stringify(given[0]?.lower ?? given[0]?.query?.lower ?? '').includes(sessionStorage.bad)";
    browser.before_load(&unreadable(of_bad)).await;
    browser.run("localStorage.removeItem('jobs')", vec![]).await;
    browser.reload().await;
    wait_for_sentence(&browser, "could not be read").await;
    let listed = "return document.querySelectorAll('.job-name').length === 1";
    browser.wait_until(listed, vec![]).await;
    assert_eq!(jobs.names().await, ["Whole"]);
    jobs.open_first().await;
    Order(&browser).begin("let_off").await;
    Pass(&browser).on_target().await;
    Pass(&browser).wait_until_saved().await;
    browser.run("heal()", vec![]).await;
    wait_for_notice(&browser, RECOVERED).await;
}

#[tokio::test]
async fn a_job_that_waits_to_be_stored_is_listed() {
    let site = serve_release();
    let browser = Browser::phone().await;
    break_writing(&browser).await;
    make_and_read(&browser, &site).await;
    wait_for_sentence(&browser, "could not be saved").await;
    let job = job_here(&browser).await;
    browser
        .run(
            "localStorage.removeItem('jobs'); location.hash = '#/'",
            vec![],
        )
        .await;
    browser.run("localStorage.removeItem('jobs')", vec![]).await;
    browser.reload().await;
    browser.wait_for(".job-name").await;
    assert_eq!(Jobs(&browser).names().await, ["Faulty"]);
    assert_eq!(stored(&browser).await, 0);
    assert!(
        aside(&browser)
            .await
            .iter()
            .all(|(key, _)| key.contains(&job))
    );
}

/// Another tab has put something else under the key: it is not this tab's to delete.
#[tokio::test]
async fn what_was_put_aside_is_deleted_by_its_exact_value() {
    let site = serve_release();
    let browser = Browser::phone().await;
    break_writing(&browser).await;
    make_and_read(&browser, &site).await;
    wait_for_sentence(&browser, "could not be saved").await;
    let before = aside(&browser).await;
    assert!(before.len() > 2, "{before:?}");
    let other = (before[0].0.clone(), "{\"of another tab\"}".to_owned());
    let put = "localStorage.setItem(arguments[0], arguments[1])";
    browser.run(put, vec![json!(other.0), json!(other.1)]).await;
    browser.run("heal()", vec![]).await;
    wait_for_notice(&browser, RECOVERED).await;
    assert_eq!(aside(&browser).await, [other]);
}

#[tokio::test]
async fn each_waiting_entry_has_its_key_and_loses_it_when_it_is_stored() {
    let site = serve_release();
    let browser = Browser::phone().await;
    make_and_read(&browser, &site).await;
    Pass(&browser).wait_until_saved().await;
    break_writing(&browser).await;
    browser.reload().await;
    browser.wait_for(".pass .pad").await;
    Pass(&browser).on_target().await;
    wait_for_sentence(&browser, "could not be saved").await;
    Pass(&browser).on_target().await;
    let two = "return Object.entries(localStorage).filter(([k, v]) => k.startsWith('aside/') && v.includes('\"reading\"')).length === 2";
    browser.wait_until(two, vec![]).await;

    // Another tab takes over what this one has put aside, and this one goes on meanwhile: each key is its own.
    let place = browser.run("return location.hash", vec![]).await;
    browser.open_tab().await;
    browser.before_load("sessionStorage.whole = 'yes'").await;
    Pass(&browser)
        .reopen(&site.url(), place.as_str().unwrap_or_default())
        .await;
    Pass(&browser).wait_until_saved().await;
    assert_eq!(stored(&browser).await, 3);
    browser.show_tab(0).await;
    Pass(&browser).on_target().await;
    let kept = "return Object.values(localStorage).filter(v => v.includes('\"reading\"') && v.includes('\"note\":4')).length === 1";
    browser.wait_until(kept, vec![]).await;
    browser.run("heal()", vec![]).await;
    wait_for_notice(&browser, RECOVERED).await;
    assert_eq!(stored(&browser).await, 4);
    assert_eq!(aside(&browser).await, []);
}

/// What another version has put aside, or what is torn, is neither taken for nothing nor deleted; what a former version
/// put aside in lists is taken in.
#[tokio::test]
async fn what_is_put_aside_and_not_understood_stays() {
    let site = serve_release();
    let browser = Browser::phone().await;
    make_and_read(&browser, &site).await;
    Pass(&browser).wait_until_saved().await;
    let put = "
        const job = location.hash.split('/')[1];
        const line = JSON.stringify({ act: 'reading', at_ms: 9, clock: 99, device: '00000000000000ab', measure: 'let_off',
            occasion: 'working', on: { note: 9 }, place: 'bench', seq: 0, typed: '1.9', value: { nm: 1900000 } });
        localStorage.setItem('unsaved/0000000000000001', JSON.stringify([[job, line]]));
        localStorage.setItem('unsaved/0000000000000002', JSON.stringify([[job, line], [job, line, 'newer']]));
        localStorage.setItem('unsaved/0000000000000003', '{\"of\": \"a newer version\"}');
        localStorage.setItem(`aside/${job}/00000000000000ab-0000000000000007`, '{\"torn');
        localStorage.setItem(`aside/${job}/00000000000000ac-0000000000000000`, line);
    ";
    browser.run(put, vec![]).await;
    let before = aside(&browser).await;
    browser.reload().await;
    browser.wait_for(".pass .pad").await;
    wait_for_notice(&browser, "4 records put aside").await;
    let there =
        "return document.querySelector('.caption')?.innerText.startsWith('2 of 88 measured')";
    browser.wait_until(there, vec![]).await;
    Pass(&browser).wait_until_saved().await;
    assert_eq!(stored(&browser).await, 2);
    // Only what was stored is gone, also out of a list of which one item was not read.
    let gone = "unsaved/0000000000000001";
    let mut left: Vec<_> = before.into_iter().filter(|(key, _)| key != gone).collect();
    for (_, value) in left
        .iter_mut()
        .filter(|(key, _)| key == "unsaved/0000000000000002")
    {
        let items: Vec<Value> = serde_json::from_str(value).expect("a list");
        *value = json!([items[1]]).to_string();
    }
    browser
        .wait_until(
            &format!("return localStorage.getItem('{gone}') === null"),
            vec![],
        )
        .await;
    assert_eq!(aside(&browser).await, left);
}

#[tokio::test]
async fn an_entry_for_which_there_is_no_room_aside_is_told() {
    let site = serve_release();
    let browser = Browser::phone().await;
    break_writing(&browser).await;
    let full = "
        const { setItem } = Storage.prototype;
        Storage.prototype.setItem = function (key, value) {
            if (key.startsWith('aside/')) throw new DOMException('put there by the test', 'QuotaExceededError');
            setItem.call(this, key, value);
        };
    ";
    browser.before_load(full).await;
    make_and_read(&browser, &site).await;
    wait_for_sentence(&browser, "lost when this page closes").await;
    browser.run("heal()", vec![]).await;
    wait_for_notice(&browser, RECOVERED).await;
}

/// A long batch comes from a file: it leaves room for what is typed.
#[tokio::test]
async fn a_file_that_waits_leaves_room_for_what_is_typed() {
    let site = serve_release();
    let browser = Browser::phone().await;
    break_writing(&browser).await;
    let jobs = Jobs::open(&browser, &site).await;
    let file = large_file();
    jobs.choose(file.path()).await;
    browser.wait_for(".order .step").await;
    wait_for_sentence(&browser, "could not be put aside").await;
    // Also on a next visit, which finds what this one has put aside.
    let job = job_here(&browser).await;
    for visit in 1..=2 {
        Order(&browser).begin("let_off").await;
        Pass(&browser).on_target().await;
        let kept = "return Object.entries(localStorage).filter(([k, v]) => k.startsWith('aside/') && v.includes('\"let_off\"') && v.includes('\"reading\"')).length === arguments[0]";
        browser.wait_until(kept, vec![json!(visit)]).await;
        let used =
            "return Object.entries(localStorage).reduce((n, [k, v]) => n + k.length + v.length, 0)";
        let used = browser.run(used, vec![]).await.as_u64().expect("a number");
        assert!(used < 2_200_000, "{used}");
        browser
            .run(
                "location.hash = arguments[0]",
                vec![json!(format!("#/{job}"))],
            )
            .await;
        browser.reload().await;
        browser.wait_for(".order .step").await;
    }
}

/// A job file of some 6 MB.
fn large_file() -> tempfile::NamedTempFile {
    use std::io::Write;
    let mut log = vec![
        r#"{"act":"made","at_ms":1,"clock":1,"device":"00000000000000ab","job":"00000000000000cd","seq":0}"#.to_owned(),
    ];
    let text = "long ".repeat(300);
    log.extend((1..4000).map(|seq| {
        format!(r#"{{"act":"remark","at_ms":1,"clock":{},"device":"00000000000000ab","fault":false,"on":"whole","seq":{seq},"text":"{text}"}}"#, seq + 1)
    }));
    let mut file = tempfile::Builder::new()
        .suffix(".job.json")
        .tempfile()
        .expect("a file");
    let text = format!(
        r#"{{"format":"evenhand-job","version":1,"log":[{}]}}"#,
        log.join(",\n")
    );
    file.write_all(text.as_bytes()).expect("written");
    file
}

/// The clock of the phone is set back while a write hangs: that it hangs is told all the same.
#[tokio::test]
async fn a_clock_that_is_set_back_does_not_hide_a_write_that_hangs() {
    let site = serve_release();
    let browser = Browser::phone().await;
    let hung = "
        window.faulty = false;
        const { commit } = IDBTransaction.prototype;
        IDBTransaction.prototype.commit = function () {
            const wait = () => {
                if (window.faulty) this.objectStore('jobs').get('').onsuccess = wait;
                else commit.apply(this);
            };
            wait();
        };
    ";
    browser.before_load(hung).await;
    make_and_read(&browser, &site).await;
    Pass(&browser).wait_until_saved().await;
    let back = "window.faulty = true; const now = Date.now; setTimeout(() => { Date.now = () => now() - 3600000; }, 500)";
    browser.run(back, vec![]).await;
    Pass(&browser).on_target().await;
    wait_for_sentence(&browser, "does not answer").await;
    browser.run("window.faulty = false", vec![]).await;
    wait_for_notice(&browser, RECOVERED).await;
}

/// Texts of a file have no bound of their own; in the list of jobs, for which local storage has little room, they do.
#[tokio::test]
async fn a_long_name_is_cut_in_the_list_alone() {
    let site = serve_release();
    let browser = Browser::phone().await;
    let name = "n".repeat(180);
    Jobs::open(&browser, &site).await.make(&name, "").await;
    let cut = "return JSON.parse(localStorage.jobs)[0].name.length";
    assert_eq!(browser.run(cut, vec![]).await, json!(121));
    let file = read_json(&Order(&browser).export().await);
    assert_eq!(file["job"]["name"], json!(name));
}

#[tokio::test]
async fn a_store_that_is_emptied_under_the_page_gets_the_whole_job_again() {
    let site = serve_release();
    let deleted = "return new Promise(done => { const gone = indexedDB.deleteDatabase('evenhand'); gone.onsuccess = () => done(true); })";
    for (empty, go_on) in [
        // The browser's own “clear the data of this site”, or another page of it; seen even if nothing more is entered.
        (deleted, true),
        (deleted, false),
        // The stores are there, and empty.
        ("return new Promise(done => { const open = indexedDB.open('evenhand'); open.onsuccess = () => {
            const of = open.result.transaction(['entries', 'jobs'], 'readwrite');
            of.objectStore('entries').clear(); of.objectStore('jobs').clear();
            of.oncomplete = () => { open.result.close(); done(true); };
        }; })", true),
    ] {
        let browser = Browser::phone().await;
        make_and_read(&browser, &site).await;
        for _ in 0..7 {
            Pass(&browser).on_target().await;
        }
        Pass(&browser).wait_until_saved().await;
        browser.run(empty, vec![]).await;
        if go_on {
            Pass(&browser).on_target().await;
        }
        wait_for_notice(&browser, "was deleted while this page was open").await;
        let read = if go_on { 9 } else { 8 };
        let all = "return document.querySelector('.caption').innerText.startsWith(`${arguments[0]} of 88 measured`)
            && document.querySelector('.bar .saved').innerText === 'saved'";
        browser.wait_until(all, vec![json!(read)]).await;
        assert_eq!(stored(&browser).await, read);
        browser.reload().await;
        browser.wait_for(".pass .pad").await;
        let caption = Pass(&browser).caption().await;
        assert!(caption.starts_with(&format!("{read} of 88 measured")), "{caption}");
        assert_eq!(notices(&browser).await, [""; 0]);
    }
}

/// The acts that are stored, by job.
const ACTS: &str = "
    return new Promise((done, failed) => {
        const open = indexedDB.open('evenhand');
        open.onsuccess = () => {
            const store = open.result.transaction('entries').objectStore('entries');
            const [keys, lines] = [store.getAllKeys(), store.getAll()];
            lines.onsuccess = () => {
                open.result.close();
                const jobs = {};
                keys.result.forEach((key, at) => (jobs[key.split('/')[0]] ??= []).push(JSON.parse(lines.result[at]).act));
                done(jobs);
            };
        };
    });
";

async fn acts_of(browser: &Browser, job: &str) -> Vec<String> {
    let all = browser.run(ACTS, vec![]).await;
    serde_json::from_value(all[job].clone()).unwrap_or_default()
}

async fn job_here(browser: &Browser) -> String {
    let here = browser
        .run("return location.hash.split('/')[1]", vec![])
        .await;
    here.as_str().unwrap_or_default().to_owned()
}

/// A pass is open, and another job is opened by its file or by its address: what the pass records at its end belongs
/// to its own job.
#[tokio::test]
async fn a_pass_that_ends_because_another_job_is_opened_ends_in_its_own() {
    let site = serve_release();
    let (office, browser) = (Browser::phone().await, Browser::phone().await);
    Jobs::open(&office, &site).await.make("Other", "").await;
    let file = Order(&office).export().await;
    make_and_read(&browser, &site).await;
    let own = job_here(&browser).await;
    // The file is dropped on the pass.
    let bytes = std::fs::read_to_string(file).expect("the file");
    let drop = "
        const data = new DataTransfer();
        data.items.add(new File([arguments[0]], 'other.job.json'));
        dispatchEvent(new DragEvent('drop', { dataTransfer: data, cancelable: true }));
    ";
    browser.run(drop, vec![json!(bytes)]).await;
    browser.wait_for(".order .step").await;
    let other = job_here(&browser).await;
    assert_ne!(own, other);
    crate::pages::wait_until_saved(&browser).await;
    let closed = |acts: &[String]| acts.iter().filter(|a| *a == "pass_closed").count();
    assert_eq!(closed(&acts_of(&browser, &other).await), 0);
    assert_eq!(closed(&acts_of(&browser, &own).await), 1);
    // The list knows of the entry too.
    let entries = "return JSON.parse(localStorage.jobs).find(j => j.id === arguments[0]).entries";
    let listed = browser.run(entries, vec![json!(own)]).await;
    assert_eq!(listed, json!(acts_of(&browser, &own).await.len()));

    // By the demo, on a wide window, beside the open pass; and there and back by addresses.
    let desk = Browser::open(
        crate::device::Device::DESK,
        crate::browser::Profile::fresh(),
    )
    .await;
    Jobs::open(&desk, &site).await.make("Beside", "").await;
    Order(&desk).begin("let_off").await;
    let own = job_here(&desk).await;
    tap_named(&desk, "aside", "Demo job").await;
    desk.wait_for(".order .step").await;
    let demo = job_here(&desk).await;
    crate::pages::wait_until_saved(&desk).await;
    let (of_demo, of_own) = (acts_of(&desk, &demo).await, acts_of(&desk, &own).await);
    assert_eq!(of_own.last().map(String::as_str), Some("pass_closed"));
    assert_ne!(of_demo.last().map(String::as_str), Some("pass_closed"));
}

#[tokio::test]
async fn a_job_that_cannot_be_read_is_not_listed_as_an_empty_one_nor_exported_in_part() {
    let site = serve_release();
    let browser = Browser::phone().await;
    make_and_read(&browser, &site).await;
    Pass(&browser).wait_until_saved().await;
    Pass(&browser).back().await;
    browser.tap(".bar a.tool").await;
    // The list of jobs was lost with local storage, and the entries cannot be read.
    // It is lost as the page begins: the page before would write it again.
    let lost = "localStorage.lost ??= (localStorage.removeItem('jobs'), 'yes');";
    let script = failing("IDBObjectStore", "getAll", &refused("UnknownError"));
    browser
        .before_load(&once(&format!("{lost} {script}")))
        .await;
    browser.go_to("about:blank").await;
    browser.go_to(&format!("{}#/", site.url())).await;
    wait_for_sentence(&browser, "could not be read").await;
    let listed = browser.run("return localStorage.jobs ?? ''", vec![]).await;
    assert!(!listed.to_string().contains("without a name"), "{listed}");
    assert_eq!(browser.count(".job-name").await, 0);
    browser.run("heal()", vec![]).await;
    wait_for_notice(&browser, RECOVERED).await;
    assert_eq!(Jobs(&browser).names().await, ["Faulty"]);

    // One that was listed so by an earlier version is read again.
    let wrong = "const jobs = JSON.parse(localStorage.jobs); jobs[0].name = 'Job without a name'; jobs[0].entries = 0; localStorage.jobs = JSON.stringify(jobs); sessionStorage.whole = 'yes'";
    browser.run(wrong, vec![]).await;
    browser.reload().await;
    let there = "return document.querySelector('.job-name')?.textContent.trim() === 'Faulty'";
    browser.wait_until(there, vec![]).await;

    // It is listed, and cannot be read when it is to be exported.
    browser.run("sessionStorage.clear()", vec![]).await;
    browser.reload().await;
    browser.wait_for(".job-name").await;
    tap_named(&browser, ".job-list", "Export").await;
    browser.tap(".reach .main").await;
    let told = "return [...document.querySelectorAll('.notice p')].some(p => /not exported/i.test(p.innerText))";
    browser.wait_until(told, vec![]).await;
    let exported = browser
        .run("return JSON.parse(localStorage.jobs)[0].exported", vec![])
        .await;
    assert_eq!(exported, json!(0));
}

/// A record of the job is torn: its file says so, on the screen of the one who opens it too.
#[tokio::test]
async fn the_file_of_a_job_with_a_torn_record_says_that_it_is_not_whole() {
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
                store.transaction.oncomplete = () => { open.result.close(); done(true); };
            };
        });
    ";
    browser.run(tear, vec![]).await;
    browser.reload().await;
    wait_for_notice(&browser, "set aside").await;
    browser.wait_for(".pass .pad").await;
    Pass(&browser).back().await;
    let path = Order(&browser).export().await;
    assert_eq!(read_json(&path)["set_aside"], json!(["{\"torn"]));
    let other = Browser::phone().await;
    Jobs::open(&other, &site).await.choose(&path).await;
    wait_for_notice(&other, "not the whole job").await;
    // And so does the file of that one, after a reload too.
    crate::pages::wait_until_saved(&other).await;
    other.reload().await;
    wait_for_notice(&other, "kept as it was").await;
    other.wait_for(".order .step").await;
    let again = Order(&other).export().await;
    assert_eq!(read_json(&again)["set_aside"], json!(["{\"torn"]));
}

/// Not the program, which has stopped, but the page lets a newer version have the storage.
#[tokio::test]
async fn a_program_that_has_stopped_holds_up_no_newer_version() {
    let site = serve_release();
    let browser = Browser::phone().await;
    make_and_read(&browser, &site).await;
    Pass(&browser).wait_until_saved().await;
    stop_program(&browser).await;
    browser.open_tab().await;
    beside_the_app(&browser, &site).await;
    assert_eq!(browser.run(NEWER, vec![]).await, json!(true));
}

/// In `modes`, each transaction that can write, with its durability.
const WATCH: &str = "
    window.modes = [];
    const { transaction } = IDBDatabase.prototype;
    IDBDatabase.prototype.transaction = function (...given) {
        const made = transaction.apply(this, given);
        if (made.mode !== 'readonly') modes.push(made.durability);
        return made;
    };
";

/// Whether the browser then writes it to the disk is its own affair, which no test here can see.
#[tokio::test]
async fn every_transaction_that_writes_is_strict() {
    let site = serve_release();
    let browser = Browser::phone().await;
    browser.before_load(WATCH).await;
    make_and_read(&browser, &site).await;
    Pass(&browser).key("undo").await;
    Pass(&browser).on_target().await;
    Pass(&browser).wait_until_saved().await;
    Pass(&browser).back().await;
    let file = Order(&browser).export().await;
    browser.tap(".bar a.tool").await;
    browser.wait_for(".order .step").await;
    browser.tap(".bar a.tool").await;
    Jobs(&browser).demo().await;
    crate::pages::wait_until_saved(&browser).await;
    // And into a store that was emptied.
    let empty = "return new Promise(done => { const gone = indexedDB.deleteDatabase('evenhand'); gone.onsuccess = () => done(true); })";
    browser.run(empty, vec![]).await;
    Order(&browser).begin("let_off").await;
    wait_for_notice(&browser, "was deleted").await;
    Pass(&browser).wait_until_saved().await;
    // And on a phone that opens the file.
    let other = Browser::phone().await;
    other.before_load(WATCH).await;
    Jobs::open(&other, &site).await.choose(&file).await;
    other.wait_for(".order .step").await;
    crate::pages::wait_until_saved(&other).await;
    for (phone, least) in [(&browser, 6), (&other, 1)] {
        let modes = phone.run("return modes", vec![]).await;
        let modes = modes.as_array().expect("a list").clone();
        assert!(modes.len() >= least, "{modes:?}");
        let strict = |mode: &Value| *mode == json!("strict");
        assert!(modes.iter().all(strict), "{modes:?}");
    }
}
