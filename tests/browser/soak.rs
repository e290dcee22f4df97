//! Eight hours of work on one large job, compressed: readings by touch and by keys, themes, speech, sheets, exports and
//! reloads, drawn by a seed. The memory does not grow, the console stays silent, and the last taps are as quick as the
//! first.
//!
//! In the last quarter the page is never loaded again, so that what leaks would stay.

use std::collections::BTreeSet;
use std::time::Instant;

use evenhand_core::analysis::job_file::{export, open};
use evenhand_core::note::Note;
use serde_json::{Value, json};
use tempfile::TempDir;

use crate::browser::{Browser, Profile};
use crate::device::Device;
use crate::draw::Draw;
use crate::pages::jobs::Jobs;
use crate::pages::order::Order;
use crate::pages::pass::{Pass, WAY_TO};
use crate::pages::preferences::Preferences;
use crate::pages::{serve_release, wait_until_saved};
use crate::worked;

/// How many entries the job has to begin with, and in the end.
const ENTRIES: (usize, usize) = (17_000, 20_000);
/// Ten minutes each.
const ROUNDS: usize = 48;
/// From this round on the page stays.
const LAST_QUARTER: usize = ROUNDS * 3 / 4;
const RELOADS: usize = 40;
const EXPORTS: usize = 12;
/// How many readings of a round are tapped, and timed.
const TAPPED: usize = 20;
/// How much slower the processor is made while taps are timed.
const SLOWED: u32 = 4;

/// How much more the last taps may take than the first.
const TAP_GROWTH: f64 = 1.2;
/// How much the memory may grow in the last quarter, in bytes: what is entered in it, some 760 entries of about a
/// kilobyte each, kept twice (the log, and the state), and the step of 64 KB by which a program grows.
const MEMORY_GROWTH: f64 = 1.5 * 1024.0 * 1024.0;
/// How many more nodes or listeners of the page there may be, by the last quarter's end: one screen more or less.
const NODE_GROWTH: f64 = 200.0;

/// What Chromium says of itself at each load: that it does not check a checksum which others do, and that the app keeps the
/// offer to install it for a button.
const OF_THE_BROWSER: [&str; 2] = [
    "The `integrity` attribute is currently ignored for preload destinations",
    "Banner not shown: beforeinstallpromptevent.preventDefault() called",
];

/// Keeps the program's memories, and the time from each tap to its paint, in milliseconds.
const WATCH: &str = "
    window.memories = new Set();
    for (const name of ['instantiate', 'instantiateStreaming']) {
        const real = WebAssembly[name];
        WebAssembly[name] = async (...given) => {
            const made = await real(...given);
            const { memory } = (made.instance ?? made).exports;
            if (memory) window.memories.add(memory);
            return made;
        };
    }
    window.painted = [];
    window.clicks = 0;
    addEventListener('click', ({ timeStamp }) => {
        window.clicks++;
        requestAnimationFrame(() => {
            const { port1, port2 } = new MessageChannel();
            port1.onmessage = () => window.painted.push(performance.now() - timeStamp);
            port2.postMessage(null);
        });
    }, true);
";

/// What is measured at the end of a round.
struct Row {
    entries: usize,
    heap: f64,
    program: f64,
    nodes: f64,
    listeners: f64,
    taps: Taps,
    did: String,
}

/// What was timed of the taps of a round.
struct Taps {
    /// The time from each tap to its paint, in milliseconds.
    painted: Vec<f64>,
    /// What the main thread worked for each on average, in milliseconds of its own time, with what the test itself asks
    /// meanwhile: told, and not judged.
    work: f64,
}

impl Row {
    fn memory(&self) -> f64 {
        self.heap + self.program
    }
}

fn median(mut of: Vec<f64>) -> f64 {
    assert!(!of.is_empty(), "nothing was measured");
    of.sort_by(f64::total_cmp);
    of[of.len() / 2]
}

/// The phone, and the job that is worked on.
struct Soak {
    browser: Browser,
    /// The address of its job, and that of the pass.
    job: String,
    pass: String,
    draw: Draw,
}

/// What may be changed or looked at between readings.
const LOOKS: [&str; 7] = [
    "theme",
    "speech",
    "sheet of a note",
    "sheet of pages",
    "profile",
    "corrections",
    "plan",
];

impl Soak {
    /// Opens a job of a file.
    async fn begin(seed: u64) -> (Soak, evenhand_tests::RunningSite) {
        let folder = TempDir::new().expect("a folder");
        let file = folder.path().join("long.job.json");
        let job = worked::a_job(ENTRIES.0);
        std::fs::write(&file, export(&job, worked::NINE_MS)).expect("the file is written");
        let site = serve_release();
        let browser = Browser::open(Device::PHONE, Profile::fresh()).await;
        browser.before_load(WATCH).await;
        Jobs::open(&browser, &site).await.choose(&file).await;
        browser.wait_for(".order .step").await;
        wait_until_saved(&browser).await;
        let job = browser.run("return location.hash", vec![]).await;
        let job = job.as_str().unwrap_or_default().to_owned();
        let pass = format!("{job}/pass/let_off");
        browser
            .cdp("Performance.enable", json!({ "timeDomain": "threadTicks" }))
            .await;
        let draw = Draw::of(seed);
        let soak = Soak {
            browser,
            job,
            pass,
            draw,
        };
        (soak, site)
    }

    async fn go(&self, place: &str, there: &str) {
        let go = "location.hash = arguments[0]";
        self.browser.run(go, vec![json!(place)]).await;
        self.browser.wait_for(there).await;
    }

    async fn back_to_pass(&self) {
        self.go(&self.pass, ".pass .strip").await;
    }

    /// Brings a note in hand by a touch on the strip.
    async fn travel(&self, note: u64) {
        let name = Note::new(note as i64).expect("a note").name();
        let began = Instant::now();
        loop {
            let to = vec![json!(note), json!(name)];
            let way = self.browser.run(WAY_TO, to).await;
            match way[0].as_f64().zip(way[1].as_f64()) {
                Some((x, y)) => self.browser.tap_at(x, y).await,
                None => return,
            }
            assert!(began.elapsed().as_secs() < 15, "{name} cannot be reached");
        }
    }

    /// Some readings by touch on the pad, timed.
    async fn tap_readings(&mut self) -> Taps {
        self.slow_down(SLOWED).await;
        let before = self.metric("TaskDuration").await;
        let mut times = Vec::new();
        for at in 0..TAPPED {
            self.travel(1 + (at as u64 * 4) % 88).await;
            // The paint of the touch that led here is not counted.
            let quiet =
                "return painted.length === clicks && !(painted = []).length && !(clicks = 0)";
            self.browser.wait_until(quiet, vec![]).await;
            for key in ["1", "8", "enter"] {
                let place = "const b = document.querySelector(`.pad [data-key='${arguments[0]}']`).getBoundingClientRect(); \
                    return [b.x + b.width / 2, b.y + b.height / 2]";
                let place = self.browser.run(place, vec![json!(key)]).await;
                let at = |i: usize| place[i].as_f64().expect("a place");
                self.browser.tap_at(at(0), at(1)).await;
            }
            let painted = "return painted.length === clicks && clicks >= 3 && painted";
            let painted = self.browser.wait_until(painted, vec![]).await;
            let painted: Vec<f64> = serde_json::from_value(painted).expect("times");
            times.extend(painted);
        }
        let work = self.metric("TaskDuration").await - before;
        self.slow_down(1).await;
        Taps {
            work: work * 1_000.0 / times.len() as f64,
            painted: times,
        }
    }

    /// One of the browser's own figures of the page.
    async fn metric(&self, name: &str) -> f64 {
        let metrics = self.browser.cdp("Performance.getMetrics", json!({})).await;
        let metrics = metrics["metrics"].as_array().expect("metrics").clone();
        let found = metrics.iter().find(|m| m["name"] == name);
        found.and_then(|m| m["value"].as_f64()).expect("a metric")
    }

    async fn slow_down(&self, rate: u32) {
        let rate = json!({ "rate": rate });
        self.browser
            .cdp("Emulation.setCPUThrottlingRate", rate)
            .await;
    }

    /// So many entries by keys: readings anywhere, those that are out corrected, some taken back.
    async fn type_entries(&mut self, count: usize) {
        let mut entered = 0;
        while entered < count {
            let note = 1 + self.draw.below(88);
            self.travel(note).await;
            let tenths = 10 + self.draw.below(22);
            let mut keys = format!("{}.{}\u{e007}", tenths / 10, tenths % 10);
            entered += 1;
            if entered < count && self.draw.below(8) == 0 {
                keys.push('u');
                entered += 1;
            }
            self.browser.type_keys(&keys).await;
        }
    }

    /// Opens and closes something.
    async fn look(&mut self, look: &str) {
        let (note, choice) = (1 + self.draw.below(88), self.draw.below(3) as usize);
        let browser = &self.browser;
        let escape = "\u{e00c}";
        let closed = "return document.querySelector('dialog[open]') === null";
        match look {
            "theme" | "speech" => {
                self.go("#/preferences", ".preferences").await;
                let (group, words) = match look {
                    "theme" => ("theme", ["As the phone", "Light", "Dark"]),
                    _ => ("speech", ["No", "Yes", "Yes"]),
                };
                let words = words[choice];
                Preferences(browser).choose(group, words).await;
            }
            "sheet of a note" => {
                self.travel(note).await;
                Pass(browser).more().await;
                browser.type_keys(escape).await;
                browser.wait_until(closed, vec![]).await;
            }
            "sheet of pages" => {
                self.go(&self.job, ".order .step").await;
                browser.tap("[aria-label='Pages of this job']").await;
                browser.wait_for("dialog[open]").await;
                browser.type_keys(escape).await;
                browser.wait_until(closed, vec![]).await;
            }
            "profile" => {
                let place = format!("{}/profile/let_off", self.job);
                self.go(&place, ".picture-of .plot path").await;
            }
            "corrections" => {
                let place = format!("{}/corrections/let_off", self.job);
                self.go(&place, ".corrections .summary").await;
            }
            _ => self.go(&format!("{}/plan", self.job), "main").await,
        }
        self.back_to_pass().await;
    }

    /// Exports the job; the file has all that is stored.
    async fn export(&self) {
        self.go(&self.job, ".order .step").await;
        let file = Order(&self.browser).export().await;
        let bytes = std::fs::read(&file).expect("the export can be read");
        std::fs::remove_file(&file).expect("the file is put away");
        let opened = open(&bytes).expect("a job");
        assert_eq!(opened.notices, Vec::<String>::new());
        wait_until_saved(&self.browser).await;
        assert_eq!(opened.entries.len(), self.stored().await);
        self.back_to_pass().await;
    }

    async fn reload(&self) {
        wait_until_saved(&self.browser).await;
        self.browser.reload().await;
        self.browser.wait_for(".pass .strip").await;
    }

    /// What the page holds once what can be freed was freed.
    async fn measure(&self, taps: Taps, did: String) -> Row {
        wait_until_saved(&self.browser).await;
        // What a handler held is freed in a turn of its own after its element.
        for _ in 0..3 {
            self.browser
                .cdp("HeapProfiler.collectGarbage", json!({}))
                .await;
            tokio::time::sleep(std::time::Duration::from_millis(200)).await;
        }
        let program =
            "return [...window.memories].reduce((all, m) => all + m.buffer.byteLength, 0)";
        let program = self.browser.run(program, vec![]).await;
        let program = program.as_f64().expect("a size");
        assert!(program > 0.0, "the program's memory was not found");
        Row {
            entries: self.stored().await,
            heap: self.metric("JSHeapUsedSize").await,
            program,
            nodes: self.metric("Nodes").await,
            listeners: self.metric("JSEventListeners").await,
            taps,
            did,
        }
    }

    /// How many entries the journal has.
    async fn stored(&self) -> usize {
        let count = "return new Promise((done, failed) => {
            const open = indexedDB.open('evenhand');
            open.onerror = () => failed(open.error);
            open.onsuccess = () => {
                const count = open.result.transaction('entries').objectStore('entries').count();
                count.onsuccess = () => { open.result.close(); done(count.result); };
            };
        });";
        let count: Value = self.browser.run(count, vec![]).await;
        count.as_u64().expect("a count") as usize
    }
}

async fn soak(seed: u64) -> Vec<Row> {
    let (mut soak, _site) = Soak::begin(seed).await;
    soak.back_to_pass().await;
    // One reload in each round before the last quarter, and the others where the dice say.
    let mut twice = soak.draw.shuffled(&(0..LAST_QUARTER).collect::<Vec<_>>());
    twice.truncate(RELOADS - LAST_QUARTER);
    let twice: BTreeSet<usize> = twice.into_iter().collect();
    let mut rows = Vec::new();
    println!(
        "| round | entries | JS heap | program |  nodes | listeners | tap to paint | work per tap | did"
    );
    for round in 0..ROUNDS {
        let mut did = String::new();
        let looks = soak.draw.shuffled(&LOOKS);
        // In the first round that counts as the last quarter everything is done once, so that what is made once is there.
        let most = if round == LAST_QUARTER { 7 } else { 4 };
        for look in looks.into_iter().take(most) {
            soak.look(look).await;
            did += &format!("{look}, ");
        }
        let taps = soak.tap_readings().await;
        let left = ROUNDS - round;
        let missing = ENTRIES.1.saturating_sub(soak.stored().await);
        soak.type_entries(missing / left).await;
        if round % (ROUNDS / EXPORTS) == 0 {
            soak.export().await;
            did += "export";
        }
        let row = soak.measure(taps, did).await;
        let mb = |bytes: f64| format!("{:.2} MB", bytes / 1024.0 / 1024.0);
        println!(
            "| {:>5} | {:>7} | {:>7} | {:>7} | {:>6} | {:>9} | {:>9.1} ms | {:>9.1} ms | {}",
            round + 1,
            row.entries,
            mb(row.heap),
            mb(row.program),
            row.nodes,
            row.listeners,
            median(row.taps.painted.clone()),
            row.taps.work,
            row.did
        );
        rows.push(row);
        let mut messages = soak.browser.console_log().await;
        messages.retain(|message| !OF_THE_BROWSER.iter().any(|own| message.contains(own)));
        assert_eq!(messages, Vec::<String>::new(), "round {}", round + 1);
        // The page of the last quarter is a fresh one.
        if round + 1 < LAST_QUARTER {
            soak.reload().await;
        }
        if twice.contains(&round) || round + 1 == LAST_QUARTER {
            soak.reload().await;
        }
    }
    rows
}

/// `./evenhand soak` runs this.
#[tokio::test]
#[ignore = "takes its time: ./evenhand soak"]
async fn eight_hours_of_work() {
    let number = std::env::var("EVENHAND_SEED").ok();
    let seed = number.and_then(|text| text.parse().ok()).unwrap_or(1);
    let began = Instant::now();
    let rows = soak(seed).await;
    println!("{} s, seed {seed}", began.elapsed().as_secs());
    assert!(rows[ROUNDS - 1].entries >= ENTRIES.1);
    let quarter = ROUNDS - LAST_QUARTER;
    let taps = |rows: &[Row]| {
        let painted: Vec<f64> = rows.iter().flat_map(|r| r.taps.painted.clone()).collect();
        let count = painted.len();
        let painted = median(painted);
        let work = median(rows.iter().map(|row| row.taps.work).collect());
        println!(
            "{count} taps, processor slowed {SLOWED} times: medians {painted:.1} ms to the paint, {work:.1} ms of work"
        );
        (painted, work)
    };
    let (first, last) = (taps(&rows[..quarter]), taps(&rows[LAST_QUARTER..]));
    let (painted, work) = (last.0 / first.0, last.1 / first.1);
    println!(
        "the last quarter beside the first: tap to paint {painted:.2} times, work {work:.2} times"
    );
    // Three rounds each, so that no single one decides; the first of the page is left out, since in it all is made.
    let of = |rows: &[Row], what: fn(&Row) -> f64| median(rows.iter().map(what).collect());
    let begins = &rows[LAST_QUARTER + 1..LAST_QUARTER + 4];
    let ends = &rows[ROUNDS - 3..];
    let grown = |what: fn(&Row) -> f64| of(ends, what) - of(begins, what);
    let (memory, nodes) = (grown(Row::memory), grown(|row| row.nodes));
    let listeners = grown(|row| row.listeners);
    println!(
        "grown in the last quarter: memory {:.0} KB, nodes {nodes}, listeners {listeners}",
        memory / 1024.0
    );
    assert!(painted <= TAP_GROWTH, "the taps have become slower");
    assert!(memory <= MEMORY_GROWTH, "the memory grows");
    assert!(nodes <= NODE_GROWTH, "nodes are left over");
    assert!(listeners <= NODE_GROWTH, "listeners are left over");
}
