//! How many touches a job takes: a whole job of each kind by real touches, on an invented action.
//!
//! `./evenhand touches` runs it. Of the notes that are judged, 8 % are exceptions. In the samples they are measured as
//! out, and during the work corrected where the app offers a correction. In a row each is marked as out by a touch that
//! is held on its bar, and when all were set by hand one key says so. Everything else is on target, good or done. The
//! hand takes the keys that settle a row, and whatever leads on at the end of a pass.

use evenhand_core::job::{EntryKind, Job, JobId, ReplicaId, State, Subject};
use evenhand_core::note::Note;
use evenhand_core::trade::{Instrument, JobKind, MeasureId, Occasion, Place};
use evenhand_core::unit::{Kind, Value};

use crate::browser::Browser;
use crate::outside::schema_faults;
use crate::pages::hand::{Hand, has, key_of, summary};
use crate::pages::jobs::Jobs;
use crate::pages::order::Order;
use crate::pages::pass::Pass;
use crate::pages::serve_release;
use crate::pages::worn::{is_out, out_reading};

/// The most touches for a whole job of a kind, from Create job to the exported file.
const GOALS: [(&str, u32); 2] = [("Touch-up in the piano", 180), ("Full reconditioning", 600)];
/// The most touches for thirty notes of let-off with a gauge, three of them exceptions.
const LET_OFF_GOAL: u32 = 12;
/// The most touches from the first screen to the first note.
const FIRST_NOTE_GOAL: u32 = 3;

/// The clock of the page, which can be set forward while something dries.
pub const CLOCK: &str = "window.skip = 0; const now = Date.now; Date.now = () => now() + skip;";

/// Returns the touches of a job of a kind without any of this: a touch for each that is on target, three more for each
/// number without a target, five for each exception, and two to open and leave each step.
fn one_by_one(state: &State) -> u32 {
    let mut touches = 6 + 2;
    for step in state.order().steps() {
        touches += 2;
        for item in state.items(step) {
            let measure = state.measure(item.measure.as_str()).expect("a measure");
            let is_aimed =
                !measure.kind.is_number() || state.band(measure.id.as_str(), item.on).is_some();
            touches += if is_aimed { 1 } else { 4 };
            let note = item.on.note();
            touches += 5 * u32::from(note.is_some_and(|n| is_out(state, step, measure, n)));
        }
    }
    touches
}

/// Returns a job of a kind before any work, with the sample that is drawn for the job of this address.
pub fn job_of(kind: &JobKind, address: &str) -> Job {
    let mut job = Job::new();
    let id = address.trim_start_matches("#/").split('/').next();
    let id: JobId = id.and_then(|id| id.parse().ok()).expect("a job's address");
    let drawn = EntryKind::sample_of(id, &[]).expect("a sample");
    job.apply(job.draft(ReplicaId::new(1), 0, drawn));
    let act = EntryKind::KindChosen {
        kind: Box::new(kind.clone()),
    };
    let phone = ReplicaId::new(1);
    job.apply(job.draft(phone, 0, act));
    // Where the dampers end, as the hand will enter it: the steps after it go as far.
    let (measure, on) = (MeasureId::of("damper_end"), Subject::Whole);
    let (end, at) = (Value::from_base(Kind::Count, 66), Occasion::Working);
    job.apply(job.reading(phone, 0, measure, on, Place::Piano, at, end, "66"));
    job
}

/// Returns where the browser is: `#/JOB/pass/let_off`.
pub async fn address(browser: &Browser) -> String {
    let hash = browser.run("return location.hash", vec![]).await;
    hash.as_str().expect("an address").to_owned()
}

/// Works a job of a kind. Returns the touches from Create job to the exported file, and what they were before.
async fn whole_job(kind: &JobKind) -> (u32, u32) {
    let site = serve_release();
    let browser = Browser::phone().await;
    browser.before_load(CLOCK).await;
    Jobs::open(&browser, &site).await;
    work_whole_job(&browser, kind).await
}

/// The same from the list of jobs of a browser in which [`CLOCK`] runs.
pub async fn work_whole_job(browser: &Browser, kind: &JobKind) -> (u32, u32) {
    browser.tap("a[href='#/new']").await;
    browser
        .tap(&format!(".kind input[value='{}']", kind.name))
        .await;
    let before = browser.taps();
    browser.tap("button[type=submit]").await;
    browser.wait_for(".order .step").await;
    let job = job_of(kind, &address(browser).await);
    let today = one_by_one(job.state());
    let mut hand = Hand::new(browser, job);
    let file = hand.work().await;
    let touches = browser.taps() - before;
    if std::env::var("EVENHAND_VERBOSE").is_ok_and(|v| !v.is_empty()) {
        for (step, touches) in &hand.tally {
            println!(
                "{touches:5}  {}",
                if step.is_empty() { "between" } else { step }
            );
        }
    }
    let schema = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../public/evenhand-job.schema.json"
    );
    assert_eq!(schema_faults(schema.as_ref(), &file), [""; 0]);
    assert_done(&file, kind);
    (touches, today)
}

/// The file that came out has the kind, and no step of it is left undone.
pub fn assert_done(file: &std::path::Path, kind: &JobKind) {
    let opened = evenhand_core::analysis::job_file::open(&std::fs::read(file).expect("the file"));
    let job = Job::from_entries(opened.expect("a job").entries);
    assert_eq!(job.state().kind(), Some(kind));
    let all = job.state().progress(i64::MAX / 2);
    let left = all.iter().filter(|(_, p)| p.left() > 0);
    let left: Vec<String> = left
        .map(|(s, p)| format!("{}: {} left", s.name, p.left()))
        .collect();
    assert_eq!(left, [""; 0], "{}", kind.name);
}

/// Returns the touches of a pass of let-off with a gauge over thirty notes, three of them exceptions.
async fn let_off_pass() -> u32 {
    let site = serve_release();
    let browser = Browser::phone().await;
    let jobs = Jobs::open(&browser, &site).await;
    jobs.make_of("Touch-up in the piano", "Thirty", "30").await;
    let kind = &JobKind::built_in(Instrument::Grand)[0];
    Order(&browser).begin("let_off").await;
    Pass(&browser).wait_for_note("A0").await;
    let job = job_of(kind, &address(&browser).await);
    let measure = job.state().measure("let_off").expect("a measure").clone();
    let hand = Hand::new(&browser, job);
    let before = browser.taps();
    let mut seen = hand.glance().await;
    for number in [5u32, 11, 23] {
        let note = Note::new(number.into()).expect("a note");
        seen = hand.travel(&seen, number).await;
        seen = match key_of(&seen, |k| has(k, "words", "now right")) {
            Some(key) => hand.tap(&seen, &key).await,
            None => {
                let digits = out_reading(hand.state(), &measure, note);
                // The key that sweeps enters the last one.
                match number {
                    23 => hand.type_in(&seen, &digits).await,
                    _ => hand.enter(&seen, &digits).await,
                }
            }
        };
    }
    if key_of(&seen, |k| k["sweep"] == true).is_none() {
        seen = hand.travel(&seen, 1).await;
    }
    // The key of the section, which stands before that of the row.
    let sweep = key_of(&seen, |k| k["sweep"] == true).expect("a key that sweeps");
    let says = hand.tap(&seen, &sweep).await;
    assert!(has(&says, "caption", "swept"), "{}", summary(&says));
    browser.taps() - before
}

/// Returns the touches from the first screen to the first note.
async fn first_note() -> u32 {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await;
    browser.tap("a[href='#/new']").await;
    browser.tap("button[type=submit]").await;
    browser.tap(".order a[href$='/pass/let_off']").await;
    Pass(&browser).wait_for_note("A0").await;
    browser.taps()
}

#[tokio::test]
async fn the_first_note_is_three_touches_from_the_first_screen() {
    assert!(first_note().await <= FIRST_NOTE_GOAL);
}

/// `./evenhand touches` runs this.
#[tokio::test]
#[ignore = "takes its time: ./evenhand touches"]
async fn touches_of_each_kind() {
    let only = std::env::var("EVENHAND_KIND").unwrap_or_default();
    let mut missed = Vec::new();
    let mut say = |what: &str, touches: u32, was: Option<u32>, goal: Option<u32>| {
        let was = was.map_or_else(String::new, |was| format!(", one by one {was}"));
        let is_met = goal.is_none_or(|goal| touches <= goal);
        let goal = goal.map_or_else(String::new, |goal| {
            format!(", goal {goal}{}", if is_met { "" } else { ": MISSED" })
        });
        println!("{what}: {touches} touches{was}{goal}");
        if !is_met {
            missed.push(what.to_owned());
        }
    };
    for kind in JobKind::built_in(Instrument::Grand) {
        if !kind.name.contains(&only) {
            continue;
        }
        let (touches, was) = whole_job(&kind).await;
        let goal = GOALS.iter().find(|(name, _)| *name == kind.name);
        say(&kind.name, touches, Some(was), goal.map(|g| g.1));
    }
    if "Let-off".contains(&only) {
        say(
            "Let-off of 30 notes, 3 exceptions",
            let_off_pass().await,
            Some(40),
            Some(LET_OFF_GOAL),
        );
        say(
            "First screen to first note",
            first_note().await,
            None,
            Some(FIRST_NOTE_GOAL),
        );
    }
    assert!(missed.is_empty(), "missed: {}", missed.join("; "));
}
