//! The program is killed at a random moment: whatever the screen had shown as saved is there afterwards, in order,
//! nothing twice, nothing altered.
//!
//! Ten kills belong to every run; `./evenhand kill-test 100` makes as many as asked.

use std::time::Duration;

use evenhand_core::note::Note;
use serde_json::{Value, json};

use crate::browser::{Browser, Profile};
use crate::device::Device;
use crate::pages::jobs::Jobs;
use crate::pages::order::Order;
use crate::pages::pass::Pass;
use crate::pages::serve_release;

/// The numbers of one seed (xorshift by Marsaglia, 2003), so that a run can be repeated.
struct Draw(u64);

impl Draw {
    fn below(&mut self, most: u64) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0 % most
    }
}

/// What goes wrong beside the kill.
#[derive(Clone, Copy, Debug)]
enum Variant {
    /// Nothing.
    Plain,
    /// The page is reloaded before, at a random moment too, and readings go on.
    Reloaded,
    /// The tab's own process ends first, as when a phone discards the tab; the rest follows.
    Discarded,
    /// The clock stands an hour back.
    ClockBack,
    /// Another transaction holds the store, so that each write waits.
    Delayed,
}

const VARIANTS: [Variant; 5] = [
    Variant::Plain,
    Variant::Reloaded,
    Variant::Discarded,
    Variant::ClockBack,
    Variant::Delayed,
];

/// How many notes are read when the screen shows them as saved; nothing while it does not.
const SHOWN_AS_SAVED: &str = "
    const saved = document.querySelector('.saved')?.innerText === 'saved';
    const caption = document.querySelector('.caption')?.innerText;
    return saved && caption ? parseInt(caption) : null;
";

/// What was typed for each let-off in the journal, by note, in the journal's order.
pub const STORED: &str = "
    return new Promise((done, failed) => {
        const open = indexedDB.open('evenhand');
        open.onerror = () => failed(open.error);
        open.onsuccess = () => {
            const all = open.result.transaction('entries').objectStore('entries').getAll();
            all.onerror = () => failed(all.error);
            all.onsuccess = () => {
                open.result.close();
                const read = all.result.map(JSON.parse).filter(e => e.act === 'reading');
                done(read.map(e => [e.on.note, e.typed, e.value]));
            };
        };
    });
";

const CLOCK_BACK: &str = "const now = Date.now; Date.now = () => now() - 3600000;";

/// Holds the store for a quarter of a second again and again.
const HOLD: &str = "
    const hold = () => {
        const open = indexedDB.open('evenhand');
        open.onsuccess = () => {
            const until = performance.now() + 250;
            const store = open.result.transaction('entries', 'readwrite').objectStore('entries');
            const again = () => { if (performance.now() < until) store.get('').onsuccess = again; };
            again();
            store.transaction.oncomplete = () => { open.result.close(); setTimeout(hold, 50); };
        };
    };
    hold();
";

/// The name of the note after so many.
fn name_of(before: usize) -> String {
    Note::new(before as i64 + 1).expect("a note").name()
}

/// One instrument that is read until it is done, through any number of deaths.
struct Life {
    profile: Option<Profile>,
    place: String,
    /// What was or will be typed for each note.
    planned: Vec<String>,
    /// How many readings are in the journal.
    stored: usize,
}

#[derive(Debug, Default)]
struct Tally {
    kills: usize,
    /// Readings that the screen had shown as saved before a kill, in all kills together.
    shown: usize,
    /// Readings that were stored although the screen had not come to say so.
    beyond: usize,
}

impl Life {
    fn new(draw: &mut Draw) -> Self {
        let planned = (0..88).map(|_| {
            let tenths = 10 + draw.below(20);
            format!("{}.{}", tenths / 10, tenths % 10)
        });
        Self {
            profile: None,
            place: String::new(),
            planned: planned.collect(),
            stored: 0,
        }
    }

    /// Whether one more death fits: no more than 24 readings are typed before it.
    fn goes_on(&self) -> bool {
        self.stored + 24 < 88
    }

    async fn die_once(&mut self, url: &str, variant: Variant, draw: &mut Draw) -> usize {
        let fresh = self.profile.is_none();
        let profile = self.profile.take().unwrap_or_else(Profile::fresh);
        let browser = Browser::open(Device::PHONE, profile).await;
        if matches!(variant, Variant::ClockBack) {
            browser.before_load(CLOCK_BACK).await;
        }
        if fresh {
            browser.go_to(url).await;
            browser.wait_for("a[href='#/new']").await;
            Jobs(&browser).make("Battery", "").await;
            Order(&browser).begin("let_off").await;
            let place = browser.run("return location.hash", vec![]).await;
            self.place = place.as_str().unwrap_or_default().to_owned();
        } else {
            Pass(&browser).reopen(url, &self.place).await;
            // The place in the pass may be lost, unlike readings: it is gone to by hand then.
            Pass(&browser).travel_to(self.stored as u32 + 1).await;
            Pass(&browser).wait_for_note(&name_of(self.stored)).await;
        }
        Pass(&browser).wait_until_saved().await;
        if matches!(variant, Variant::Delayed) {
            browser.run(HOLD, vec![]).await;
        }
        let shown = self.read_until_killed(&browser, variant, draw).await;
        self.profile = Some(browser.kill());
        shown
    }

    /// Types readings until the browser is gone; returns how many the screen had shown as saved.
    async fn read_until_killed(
        &self,
        browser: &Browser,
        variant: Variant,
        draw: &mut Draw,
    ) -> usize {
        let death = Duration::from_micros(draw.below(1_500_000));
        let reload = matches!(variant, Variant::Reloaded).then(|| draw.below(4));
        let killer = match variant {
            Variant::Discarded => browser.kill_tab_after(death),
            _ => browser.kill_after(death),
        };
        let mut shown = self.stored;
        for (typed, note) in self.planned.iter().zip(1u64..).skip(self.stored).take(24) {
            if Some(note - self.stored as u64) == reload {
                let reload = "location.reload()";
                if browser.try_run(reload).await.is_none() {
                    break;
                }
                let mut back = Some(Value::Null);
                while back == Some(Value::Null) {
                    back = browser.try_run(SHOWN_AS_SAVED).await;
                }
                // What was typed last may be lost if the screen had not shown it as saved, and so may the place.
                let in_hand = browser
                    .try_run("return document.querySelector('.note-name').innerText")
                    .await;
                let expected = (json!(note - 1), json!(name_of(note as usize - 1)));
                if back.zip(in_hand) != Some(expected) {
                    break;
                }
            }
            let keys = format!("{typed}\u{e007}");
            if browser.try_type_keys(&keys).await.is_none() {
                break;
            }
            // Sometimes a glance, sometimes a longer look, so that death comes at any moment of a write.
            for _ in 0..=draw.below(6) {
                match browser.try_run(SHOWN_AS_SAVED).await {
                    Some(count) => shown = count.as_u64().map_or(shown, |n| n as usize),
                    None => break,
                }
            }
        }
        killer.join().expect("the killer has done its work");
        shown
    }

    /// Reopens after a death and looks at what is there.
    async fn look(&mut self, url: &str, shown: usize, what: &str) {
        let profile = self.profile.take().expect("the profile of the dead");
        let browser = Browser::open(Device::PHONE, profile).await;
        Pass(&browser).reopen(url, &self.place).await;
        let stored = browser.run(STORED, vec![]).await;
        let stored = stored.as_array().expect("a list").clone();
        assert!(
            stored.len() >= shown,
            "{what}: {shown} readings were shown as saved, {} are there",
            stored.len()
        );
        for ((reading, typed), note) in stored.iter().zip(&self.planned).zip(1..) {
            assert_eq!(
                (&reading[0], &reading[1]),
                (&json!(note), &json!(typed)),
                "{what}"
            );
        }
        let caption = Pass(&browser).caption().await;
        assert!(
            caption.starts_with(&format!("{} of 88 measured", stored.len())),
            "{what}: {} readings are stored, the screen says {caption}",
            stored.len()
        );
        self.stored = stored.len();
        self.profile = Some(browser.kill());
    }
}

async fn kills(count: usize, seed: u64) -> Tally {
    let site = serve_release();
    let mut draw = Draw(seed);
    let mut tally = Tally::default();
    let mut life = Life::new(&mut draw);
    for at in 0..count {
        let variant = VARIANTS[at % VARIANTS.len()];
        let what = format!("seed {seed}, kill {at}, {variant:?}");
        if !life.goes_on() {
            life = Life::new(&mut draw);
        }
        let shown = life.die_once(&site.url(), variant, &mut draw).await;
        let before = life.stored;
        life.look(&site.url(), shown, &what).await;
        tally.kills += 1;
        tally.shown += shown - before.min(shown);
        tally.beyond += life.stored - shown;
    }
    tally
}

#[tokio::test]
async fn ten_kills_at_random_moments_lose_nothing_that_was_shown_as_saved() {
    let tally = kills(10, 20).await;
    assert_eq!(tally.kills, 10);
    assert!(tally.shown > 0, "nothing was at stake: {tally:?}");
}

/// `./evenhand kill-test N` runs this.
#[tokio::test]
#[ignore = "takes its time: ./evenhand kill-test"]
async fn many_kills() {
    let number = |name, usual| {
        std::env::var(name)
            .ok()
            .and_then(|text| text.parse().ok())
            .unwrap_or(usual)
    };
    let count = number("EVENHAND_KILLS", 100);
    let seed = number("EVENHAND_SEED", 1);
    let tally = kills(count as usize, seed).await;
    println!(
        "{} kills survived of {count} (seed {seed}): {} readings had been shown as saved before a kill, none was lost; \
         {} more were stored already.",
        tally.kills, tally.shown, tally.beyond
    );
}
