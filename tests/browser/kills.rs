//! The program is killed at a random moment: whatever the screen had shown as saved is there afterwards, in order,
//! nothing twice, nothing altered.
//!
//! A kill of each kind belongs to every run; `./evenhand kill-test 100` makes as many as asked.

mod acts;
mod imports;
mod life;
mod rows;
mod updates;

use std::collections::BTreeMap;
use std::fmt;

use evenhand_core::note::Note;

use crate::draw::Draw;
use crate::pages::serve_release;
use imports::Imports;
use life::Life;
use updates::Updates;

/// What is being done when the program is killed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Kind {
    /// Let-offs are read, one after the other.
    Reading,
    /// Sections are swept, and now and then taken back.
    Sweep,
    /// What is out is corrected.
    Correction,
    /// Notes are marked as out, and now and then taken back.
    Mark,
    /// Photos are taken.
    Photo,
    /// A job file is opened.
    Import,
    /// A newer release comes, and is taken or not, while let-offs are read.
    Update,
}

impl Kind {
    fn name(self) -> String {
        format!("{self:?}").to_lowercase()
    }
}

const KINDS: [Kind; 7] = [
    Kind::Reading,
    Kind::Sweep,
    Kind::Correction,
    Kind::Mark,
    Kind::Photo,
    Kind::Import,
    Kind::Update,
];

/// What goes wrong beside the kill.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Variant {
    /// Nothing.
    Plain,
    /// The page is reloaded before, at a random moment too, and the work goes on.
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

/// The name of a note by its number, from 1.
fn name_of(number: u64) -> String {
    Note::new(number as i64).expect("a note").name()
}

/// What was counted of the kills of one kind.
#[derive(Debug, Default)]
struct Tally {
    kills: usize,
    /// Entries that the screen had shown as saved before a kill, in all kills together. All of them were there afterwards.
    shown: usize,
    /// Entries that were stored although the screen had not come to say so.
    beyond: usize,
    /// How often a newer release, or a whole file, was there after the kill.
    taken: usize,
}

impl Tally {
    fn count(&mut self, shown: usize, beyond: usize) {
        self.kills += 1;
        self.shown += shown;
        self.beyond += beyond;
    }
}

/// The figures of a run, by kind.
struct Tallies(BTreeMap<Kind, Tally>);

impl fmt::Display for Tallies {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(
            f,
            "| kind       | kills | shown as saved | lost | stored beyond | whole or newer |"
        )?;
        for (kind, tally) in &self.0 {
            let kind = kind.name();
            let (kills, shown, beyond) = (tally.kills, tally.shown, tally.beyond);
            let taken = match tally.taken {
                0 => String::new(),
                taken => taken.to_string(),
            };
            // The first entry lost would have ended the run.
            writeln!(
                f,
                "| {kind:<10} | {kills:>5} | {shown:>14} | {:>4} | {beyond:>13} | {taken:>14} |",
                0
            )?;
        }
        Ok(())
    }
}

/// Kills in rounds of these kinds, each round in an order of its own.
async fn kills(count: usize, seed: u64, kinds: &[Kind]) -> Tallies {
    let site = serve_release();
    let mut work = Life::new(site.url());
    let mut imports = Imports::new(site.url());
    let mut updates = Updates::new();
    let mut tallies = BTreeMap::<Kind, Tally>::new();
    let mut round = Vec::new();
    for at in 0..count {
        if round.is_empty() {
            round = Draw::of(seed + at as u64).shuffled(kinds);
        }
        let kind = round.pop().expect("a kind");
        // Each kill has dice of its own: how many were thrown before depends on how quick the machine was.
        let mut draw = Draw::of((seed << 32) + at as u64 + 1);
        let variant = VARIANTS[at % VARIANTS.len()];
        let what = format!("seed {seed}, kill {at}, {kind:?}, {variant:?}");
        let tally = tallies.entry(kind).or_default();
        match kind {
            Kind::Import => imports.kill_once(&mut draw, tally, &what).await,
            Kind::Update => updates.kill_once(&mut draw, tally, &what).await,
            kind => work.kill_once(kind, variant, &mut draw, tally, &what).await,
        }
        if (at + 1) % 50 == 0 {
            println!("{} kills of {count}", at + 1);
        }
    }
    Tallies(tallies)
}

#[tokio::test]
async fn a_kill_of_each_kind_at_a_random_moment_loses_nothing_that_was_shown_as_saved() {
    let tallies = kills(KINDS.len(), 20, &KINDS).await;
    println!("{tallies}");
    assert!(tallies.0.values().all(|tally| tally.kills == 1));
    assert_eq!(tallies.0.len(), KINDS.len());
    let shown: usize = tallies.0.values().map(|tally| tally.shown).sum();
    assert!(shown > 0, "nothing was at stake:\n{tallies}");
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
    let mut kinds = KINDS.to_vec();
    if let Ok(only) = std::env::var("EVENHAND_KIND") {
        kinds.retain(|kind| kind.name() == only);
        assert!(!kinds.is_empty(), "'{only}' is no kind of kill");
    }
    let began = std::time::Instant::now();
    let tallies = kills(count as usize, seed, &kinds).await;
    println!(
        "{count} kills survived (seed {seed}) in {} s:\n{tallies}",
        began.elapsed().as_secs()
    );
}
