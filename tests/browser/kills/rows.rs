//! The records of the journal as they lie in the store, byte for byte.

use serde_json::{Value, json};

use crate::browser::Browser;

/// The keys and lines of the journal whose keys begin so, in its order. The argument: the beginning.
pub const ROWS: &str = "
    const [begin] = arguments;
    return (async () => {
        const all = await indexedDB.databases();
        // Opened before the app does, it would be made without its stores.
        if (!all.some(d => d.name === 'evenhand')) return [];
        const asked = request => new Promise((done, failed) => {
            request.onsuccess = () => done(request.result);
            request.onerror = () => failed(request.error);
        });
        const database = await asked(indexedDB.open('evenhand'));
        try {
            if (!database.objectStoreNames.contains('entries')) return [];
            const store = database.transaction('entries').objectStore('entries');
            const range = IDBKeyRange.bound(begin, begin + '\\uffff');
            const [keys, lines] = await Promise.all([asked(store.getAllKeys(range)), asked(store.getAll(range))]);
            return keys.map((key, at) => [key, lines[at]]);
        } finally {
            database.close();
        }
    })();
";

/// A record: its key, and its line.
pub type Row = (String, String);

/// All records after a restart, where there were some before: the store is waited for, since a slow browser may not name
/// it yet.
pub async fn rows_again(browser: &Browser, earlier: &[Row]) -> Vec<Row> {
    if !earlier.is_empty() {
        let is_there =
            "return indexedDB.databases().then(all => all.some(d => d.name === 'evenhand'))";
        browser.wait_until(is_there, vec![]).await;
    }
    rows(browser, "").await
}

/// The records whose keys begin so.
pub async fn rows(browser: &Browser, begin: &str) -> Vec<Row> {
    rows_in(browser.run(ROWS, vec![json!(begin)]).await)
}

pub fn rows_in(answer: Value) -> Vec<Row> {
    serde_json::from_value(answer).expect("a list of keys and lines")
}

/// What an entry is told by: what was done to what. Nothing for what is no work, such as the opening of a pass.
///
/// Of an undo it is the place, among the work of the job, of what it takes back.
pub fn work_in(rows: &[Row], what: &str) -> Vec<Value> {
    let mut ids = Vec::new();
    let mut work = Vec::new();
    for (key, line) in rows {
        let entry: Value = serde_json::from_str(line)
            .unwrap_or_else(|error| panic!("{what}: the record {key} is torn ({error}): {line}"));
        let act = &entry["act"];
        let told = match act.as_str().unwrap_or_default() {
            "reading" => json!([act, entry["on"]["note"], entry["typed"]]),
            "swept" => json!([act, entry["notes"]["from"], entry["notes"]["to"]]),
            "correction" | "marked_out" | "photographed" => json!([act, entry["on"]["note"]]),
            "undo" => {
                let of = (&entry["entry"]["device"], &entry["entry"]["seq"]);
                let at = ids.iter().position(|(device, seq)| (device, seq) == of);
                json!([act, at])
            }
            _ => continue,
        };
        let id = (entry["device"].clone(), entry["seq"].clone());
        assert!(!ids.contains(&id), "{what}: {id:?} is there twice");
        ids.push(id);
        work.push(told);
    }
    work
}

/// Each of the earlier records is still there, and unaltered.
pub fn assert_kept(earlier: &[Row], now: &[Row], what: &str) {
    let now: std::collections::BTreeMap<_, _> = now.iter().map(|(key, line)| (key, line)).collect();
    for (key, line) in earlier {
        let (found, there) = (now.get(key), now.len());
        let all = earlier.len();
        assert_eq!(
            found,
            Some(&line),
            "{what}: the record {key}; {there} are there and {all} were"
        );
    }
}

fn row(seq: u64, typed: &str) -> Row {
    let line = format!(
        r#"{{"act":"reading","clock":{seq},"device":"7","on":{{"note":1}},"seq":{seq},"typed":"{typed}"}}"#
    );
    (format!("job/{seq:016x}-7-{seq:016x}"), line)
}

#[test]
fn what_is_unaltered_is_found_kept() {
    let earlier = [row(1, "1.8"), row(2, "1.9")];
    let now = [row(1, "1.8"), row(2, "1.9"), row(3, "2.0")];
    assert_kept(&earlier, &now, "here");
    let told = json!([["reading", 1, "1.8"], ["reading", 1, "1.9"]]);
    assert_eq!(json!(work_in(&earlier, "here")), told);
}

#[test]
#[should_panic(expected = "here: the record job/0000000000000002")]
fn a_record_that_is_gone_is_found() {
    assert_kept(&[row(1, "1.8"), row(2, "1.9")], &[row(1, "1.8")], "here");
}

#[test]
#[should_panic(expected = "here: the record job/0000000000000001")]
fn a_record_that_was_altered_is_found() {
    assert_kept(&[row(1, "1.8")], &[row(1, "1.9")], "here");
}

#[test]
#[should_panic(expected = "is there twice")]
fn an_entry_that_is_there_twice_is_found() {
    work_in(&[row(1, "1.8"), row(1, "1.8")], "here");
}

#[test]
#[should_panic(expected = "is torn")]
fn a_record_that_is_torn_is_found() {
    let (key, line) = row(1, "1.8");
    work_in(&[(key, line[..20].to_owned())], "here");
}
