//! How many touches a job takes: a whole job of each kind by real touches, on an invented action.
//!
//! `./evenhand touches` runs it. Of the notes that are judged, 8 % are exceptions: measured as out, corrected where the
//! app offers a correction, and on target then. Everything else is on target, good or done. The hand takes the keys
//! that settle a row, and whatever leads on at the end of a pass.

use std::collections::BTreeSet;

use evenhand_core::job::Job;
use evenhand_core::job::{EntryKind, ReplicaId, State};
use evenhand_core::note::Note;
use evenhand_core::trade::{Instrument, JobKind, Measure, Occasion, Step};
use evenhand_core::unit::{Kind, LengthUnit, Value};
use serde_json::Value as Json;

use crate::browser::Browser;
use crate::outside::schema_faults;
use crate::pages::jobs::Jobs;
use crate::pages::order::Order;
use crate::pages::{serve_release, wait_until_saved};

/// Percent of the judged notes that are exceptions.
const EXCEPTIONS: u32 = 8;

/// The most touches for a whole job of a kind, from Create job to the exported file.
const GOALS: [(&str, u32); 2] = [("Touch-up in the piano", 180), ("Full reconditioning", 600)];
/// The most touches for thirty notes of let-off with a gauge, three of them exceptions.
const LET_OFF_GOAL: u32 = 12;
/// The most touches from the first screen to the first note.
const FIRST_NOTE_GOAL: u32 = 3;

/// More touches than any job can take: one that has come so far goes round in circles.
const MAX_TOUCHES: u32 = 6_000;

/// The clock of the page, which can be set forward while something dries.
const CLOCK: &str = "window.skip = 0; const now = Date.now; Date.now = () => now() + skip;";

/// What a glance at the screen takes in: which page it is, the note and measure, the keys that are there.
const GLANCE: &str = "
    const seen = e => { const b = e?.getBoundingClientRect(); return b && b.width > 0 && b.height > 0 && !e.disabled; };
    const words = e => (e.ariaLabel ?? e.innerText ?? '').trim().replace(/\\s+/g, ' ');
    const text = selector => document.querySelector(selector)?.innerText?.trim() ?? '';
    document.querySelectorAll('[data-hand]').forEach(e => e.localName !== 'html' && delete e.dataset.hand);
    const keys = [];
    document.querySelectorAll('.screen :is(button, a), .pass :is(button, a)').forEach(e => {
        if (!seen(e) || keys.some(k => k.element === e)) return;
        keys.push({ element: e, key: e.dataset.key ?? null, words: words(e), main: e.classList.contains('main'),
            target: e.classList.contains('target'), sweep: e.classList.contains('sweep'), href: e.getAttribute('href'),
            turned: e.classList.contains('turned'), chip: e.parentElement.classList.contains('chips'),
            place: e.closest('.through, .card, .pad, .message, .sweeps, .chips, .bar')?.className ?? '' });
    });
    keys.forEach((k, at) => { k.element.dataset.hand = at; delete k.element; });
    return { keys, through: !!document.querySelector('.pass .through'), pass: !!document.querySelector('.pass .pad'),
        order: !!document.querySelector('.order .step'), hash: location.hash, note: text('.note-name'),
        more: text('.pass .note small'), message: text('.message'), caption: text('.caption'), aim:
        document.querySelector('.grades')?.dataset.aim ?? null, card: text('.card'), end: text('.through'),
        saved: text('.saved'), value: text('.value output') };
";

/// The finger on one job.
struct Hand<'a> {
    browser: &'a Browser,
    /// The job's state before any work: its steps and measures.
    job: Job,
    /// The exceptions that were looked at, by step, measure and note.
    done: BTreeSet<(String, String, u32)>,
    /// The items that a correction was tried on, so that it is tried once.
    tried: BTreeSet<String>,
}

impl Hand<'_> {
    fn state(&self) -> &State {
        self.job.state()
    }

    async fn glance(&self) -> Json {
        self.browser.run(GLANCE, vec![]).await
    }

    /// Taps a key that a glance has seen, and waits until the screen has answered. Returns what is seen then.
    async fn tap(&self, seen: &Json, key: &Json) -> Json {
        let keys = seen["keys"].as_array().expect("keys");
        let at = keys.iter().position(|k| k == key).expect("the key");
        self.browser.tap(&format!("[data-hand='{at}']")).await;
        self.answer(seen).await
    }

    /// Waits until something is seen that was not, and nothing moves any more.
    async fn answer(&self, before: &Json) -> Json {
        let mut last = before.clone();
        for _ in 0..200 {
            let now = self.glance().await;
            if now != *before && now == last {
                return now;
            }
            last = now;
            tokio::time::sleep(std::time::Duration::from_millis(8)).await;
        }
        panic!("a touch did nothing: {}", summary(before));
    }

    /// Taps the strip where a note stands.
    async fn travel(&self, seen: &Json, note: u32) -> Json {
        crate::pages::pass::Pass(self.browser).travel_to(note).await;
        self.answer(seen).await
    }

    /// Types a value and enters it.
    async fn enter(&self, seen: &Json, digits: &str) -> Json {
        let mut seen = seen.clone();
        for digit in digits.chars() {
            let key = key_of(&seen, |k| k["key"] == digit.to_string()).expect("a digit");
            seen = self.tap(&seen, &key).await;
        }
        let enter = key_of(&seen, |k| k["key"] == "enter").expect("Enter");
        self.tap(&seen, &enter).await
    }

    /// Works the job until nothing is left, and exports it. Returns the file.
    async fn work(&mut self) -> std::path::PathBuf {
        let mut seen = self.glance().await;
        loop {
            assert!(self.browser.taps() < MAX_TOUCHES, "{}", summary(&seen));
            if seen["through"] == true {
                match self.lead_on(&seen) {
                    Some(key) => seen = self.tap(&seen, &key).await,
                    None => break,
                }
            } else if seen["pass"] == true {
                seen = self.act(seen).await;
            } else if seen["order"] == true {
                let key = key_of(&seen, |k| k["main"] == true && has(k, "place", "card"));
                let key = key.expect("the card's key");
                if has(&key, "words", "drying") && !has(&key, "words", "Start") {
                    // A night passes, and the app sees the clock within seconds.
                    let night = "window.skip += 24 * 3600 * 1000";
                    self.browser.run(night, vec![]).await;
                    let is_dry = "return !document.querySelector('.card .main').innerText.includes('drying')";
                    self.browser.wait_until(is_dry, vec![]).await;
                    seen = self.glance().await;
                } else if has(&key, "words", "Handover") {
                    break;
                } else {
                    seen = self.tap(&seen, &key).await;
                }
            } else {
                tokio::time::sleep(std::time::Duration::from_millis(20)).await;
                seen = self.glance().await;
            }
        }
        wait_until_saved(self.browser).await;
        if seen["order"] != true {
            let back = key_of(&seen, |k| has(k, "words", "Handover"))
                .or_else(|| key_of(&seen, |k| has(k, "words", "Back to the order")))
                .expect("a way to the end");
            self.tap(&seen, &back).await;
        }
        if self.browser.count(".figures").await == 0 {
            return Order(self.browser).export().await;
        }
        self.browser.tap(".screen .reach .main").await;
        self.browser.download(".job.json").await
    }

    /// Returns what leads on from the end of a pass, or `None` if nothing does.
    fn lead_on(&self, seen: &Json) -> Option<Json> {
        let on = |words: &str| {
            key_of(seen, |k| {
                has(k, "place", "through")
                    && k["words"].as_str().unwrap_or_default().starts_with(words)
            })
        };
        on("Start the")
            .or_else(|| on("Re-measure these"))
            .or_else(|| on("Go to the first"))
            .or_else(|| on("Next"))
            .or_else(|| on("Back to the order").filter(|_| !has(seen, "end", "Everything is done")))
    }

    /// Does what the current item of a pass asks for.
    async fn act(&mut self, seen: Json) -> Json {
        let id = step_of(&seen);
        let step = self.state().order().step(&id).expect("a step").clone();
        let name = seen["more"].as_str().unwrap_or_default().to_lowercase();
        let measure = self.measure(&step, &name);
        let note = Note::all().find(|n| n.name() == seen["note"].as_str().unwrap_or_default());
        // A row: the exceptions by name, then one stroke.
        let sweeps = |k: &Json| k["sweep"] == true;
        if let Some(sweep) = last_key_of(&seen, sweeps) {
            if let Some(next) = self.next_exception(&step, &measure) {
                self.done
                    .insert((id, measure.id.to_string(), next.number().into()));
                let mut at = seen;
                if note != Some(next) {
                    at = self.travel(&at, next.number().into()).await;
                }
                return self.exception(at, &step, &measure, next).await;
            }
            return self.tap(&seen, &sweep).await;
        }
        if let Some(note) = note
            && is_exception(&step, &measure, note)
            && self
                .done
                .insert((id, measure.id.to_string(), note.number().into()))
        {
            return self.exception(seen, &step, &measure, note).await;
        }
        self.right(&seen, &measure, note).await
    }

    /// Enters that the current item is as it should be: with one touch where there is a target.
    async fn right(&self, seen: &Json, measure: &Measure, note: Option<Note>) -> Json {
        let target = |k: &Json| k["target"] == true;
        let answer = match measure.kind {
            Kind::Tick | Kind::Good => Some("1".to_owned()),
            Kind::Grade => {
                let aim = seen["aim"].as_str();
                Some(
                    aim.unwrap_or(if measure.grades.len() == 3 { "0" } else { "1" })
                        .to_owned(),
                )
            }
            _ => None,
        };
        if let Some(answer) = answer {
            let key = key_of(seen, |k| k["key"] == answer && has(k, "place", "pad"));
            return self.tap(seen, &key.expect("an answer")).await;
        }
        if let Some(key) = key_of(seen, target) {
            return self.tap(seen, &key).await;
        }
        let digits = reading(measure, note);
        // What was just measured of another note offers itself.
        let value = measure
            .read_typed(&digits, LengthUnit::Millimeter)
            .expect("a value");
        let shown = measure.shown(value, LengthUnit::Millimeter);
        match key_of(seen, |k| k["chip"] == true && k["words"] == shown) {
            Some(chip) => self.tap(seen, &chip).await,
            None => self.enter(seen, &digits).await,
        }
    }

    /// Enters what is out, makes the correction that is offered, and measures again. One key that says all of it is
    /// taken where there is one.
    async fn exception(&mut self, seen: Json, step: &Step, measure: &Measure, note: Note) -> Json {
        let works = step.occasion == Occasion::Working;
        if let Some(key) = key_of(&seen, |k| has(k, "words", "now right")).filter(|_| works) {
            return self.tap(&seen, &key).await;
        }
        let out = match measure.kind {
            Kind::Good => Some("0".to_owned()),
            Kind::Tick => None,
            Kind::Grade => {
                let aim = seen["aim"].as_str().and_then(|a| a.parse::<u32>().ok());
                Some(aim.map_or(1, |aim| aim.saturating_sub(1)).to_string())
            }
            _ => None,
        };
        let mut seen = match out {
            Some(answer) => {
                let key = key_of(&seen, |k| k["key"] == answer && has(k, "place", "pad"));
                self.tap(&seen, &key.expect("an answer")).await
            }
            None if measure.kind == Kind::Tick => {
                return self.right(&seen, measure, Some(note)).await;
            }
            None => {
                let digits = out_reading(self.state(), measure, note);
                self.enter(&seen, &digits).await
            }
        };
        if !works {
            return seen;
        }
        if let Some(turned) = key_of(&seen, |k| k["turned"] == true)
            && self
                .tried
                .insert(format!("{}/{}/{note}", step.id, measure.id))
        {
            seen = self.tap(&seen, &turned).await;
        } else if measure.kind != Kind::Good {
            // Nothing is offered: it is left, and stands as out.
            return seen;
        }
        if seen["pass"] != true || seen["through"] == true {
            return seen;
        }
        if seen["note"] != note.name() {
            seen = self.travel(&seen, note.number().into()).await;
        }
        self.right(&seen, measure, Some(note)).await
    }

    fn measure(&self, step: &Step, more: &str) -> Measure {
        let measures = step
            .takes
            .iter()
            .filter_map(|id| self.state().measure(id.as_str()));
        let mut named = measures
            .clone()
            .filter(|m| more.contains(&m.name.to_lowercase()));
        let first = measures.clone().next();
        // The longest name wins: “natural dip” is no “dip”.
        let best = named.next().map(|first| {
            named.fold(
                first,
                |a, b| if b.name.len() > a.name.len() { b } else { a },
            )
        });
        best.or(first).expect("a measure").clone()
    }

    fn next_exception(&self, step: &Step, measure: &Measure) -> Option<Note> {
        let id = (step.id.to_string(), measure.id.to_string());
        let is_new = |n: &Note| {
            !self
                .done
                .contains(&(id.0.clone(), id.1.clone(), n.number().into()))
        };
        let items = self.state().items(step).into_iter();
        let mut notes = items
            .filter(|i| i.measure == measure.id)
            .filter_map(|i| i.on.note());
        notes.find(|n| is_exception(step, measure, *n) && is_new(n))
    }
}

/// Returns the step of the pass that is open, by its address.
fn step_of(seen: &Json) -> String {
    let hash = seen["hash"].as_str().unwrap_or_default();
    let step = hash.split("/pass/").nth(1).unwrap_or_default();
    step.split('/').next().unwrap_or_default().to_owned()
}

fn has(of: &Json, field: &str, words: &str) -> bool {
    of[field].as_str().is_some_and(|text| text.contains(words))
}

fn key_of(seen: &Json, is: impl Fn(&Json) -> bool) -> Option<Json> {
    seen["keys"].as_array()?.iter().find(|k| is(k)).cloned()
}

/// Of the keys that sweep the last reaches farthest.
fn last_key_of(seen: &Json, is: impl Fn(&Json) -> bool) -> Option<Json> {
    seen["keys"].as_array()?.iter().rfind(|k| is(k)).cloned()
}

/// What a failure is told with.
fn summary(seen: &Json) -> String {
    let keys = seen["keys"].as_array().into_iter().flatten();
    let keys: Vec<&str> = keys.filter_map(|k| k["words"].as_str()).collect();
    format!(
        "at {} {} {}: {} {} keys {keys:?}",
        seen["hash"], seen["note"], seen["more"], seen["message"], seen["caption"]
    )
}

/// Returns whether a note is an exception: 8 % of those of a step, the same in every run.
fn is_exception(step: &Step, measure: &Measure, note: Note) -> bool {
    let text = format!("{}/{}", step.id, measure.id);
    let seed = text
        .bytes()
        .fold(7u32, |h, b| h.wrapping_mul(31).wrapping_add(b.into()));
    // Spread over the row by a step that is prime to 100.
    let place = (u32::from(note.number()) * 37 + seed) % 100;
    measure.kind != Kind::Tick && place < EXCEPTIONS
}

/// Returns the digits of a value of a measure without a target: what an action of its kind has, a little more or less
/// by note.
fn reading(measure: &Measure, note: Option<Note>) -> String {
    let by_note = note.map_or(0, |n| u32::from(n.number()) % 3);
    let base = match measure.id.as_str() {
        "humidity" => 45,
        "temperature" => 21,
        "pitch_a4" => 440,
        "string_height" => 1900,
        "stand_in" => 1900,
        "key_pin" | "front_pin" => 365,
        "key_height" => 640,
        "sharp_dip" => 100,
        "down_weight" => 50 + by_note,
        "up_weight" => 22 + by_note,
        "hammer_swings" => 5,
        "hammer_felt" => 8,
        "damper_end" => 66,
        _ => 10,
    };
    base.to_string()
}

/// Returns the digits of a value that is outside the tolerance of a note, on the side that wear takes.
fn out_reading(state: &State, measure: &Measure, note: Note) -> String {
    let band = state.band(measure.id.as_str(), evenhand_core::job::Subject::Note(note));
    let Some(band) = band else {
        return reading(measure, Some(note));
    };
    let beyond = band.accept.1.unwrap_or(band.aim);
    let past = beyond + (beyond - band.aim).max(1) / 2;
    let shown = measure.shown(Value::from_base(measure.kind, past), LengthUnit::Millimeter);
    shown
        .chars()
        .filter(char::is_ascii_digit)
        .collect::<String>()
        .trim_start_matches('0')
        .to_owned()
}

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
            touches += 5 * u32::from(note.is_some_and(|n| is_exception(step, measure, n)));
        }
    }
    touches
}

/// Returns a job of a kind before any work.
fn job_of(kind: &JobKind) -> Job {
    let mut job = Job::new();
    let act = EntryKind::KindChosen {
        kind: Box::new(kind.clone()),
    };
    job.apply(job.draft(ReplicaId::new(1), 0, act));
    job
}

/// Works a job of a kind. Returns the touches from Create job to the exported file, and what they were before.
async fn whole_job(kind: &JobKind) -> (u32, u32) {
    let site = serve_release();
    let browser = Browser::phone().await;
    browser.before_load(CLOCK).await;
    Jobs::open(&browser, &site).await;
    browser.tap("a[href='#/new']").await;
    browser
        .tap(&format!(".kind input[value='{}']", kind.name))
        .await;
    let before = browser.taps();
    browser.tap("button[type=submit]").await;
    browser.wait_for(".order .step").await;
    let job = job_of(kind);
    let today = one_by_one(job.state());
    let mut hand = Hand {
        browser: &browser,
        job,
        done: BTreeSet::new(),
        tried: BTreeSet::new(),
    };
    let file = hand.work().await;
    let touches = browser.taps() - before;
    let schema = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../public/evenhand-job.schema.json"
    );
    assert_eq!(schema_faults(schema.as_ref(), &file), [""; 0]);
    assert_done(&file, kind);
    (touches, today)
}

/// The file that came out has the kind, and no step of it is left undone.
fn assert_done(file: &std::path::Path, kind: &JobKind) {
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
    crate::pages::pass::Pass(&browser).wait_for_note("A0").await;
    let job = job_of(kind);
    let step = job.state().step("let_off").expect("a step").clone();
    let measure = job.state().measure("let_off").expect("a measure").clone();
    let mut hand = Hand {
        browser: &browser,
        job,
        done: BTreeSet::new(),
        tried: BTreeSet::new(),
    };
    let before = browser.taps();
    let mut seen = hand.glance().await;
    for number in [5u32, 11, 23] {
        let note = Note::new(number.into()).expect("a note");
        seen = hand.travel(&seen, number).await;
        seen = match key_of(&seen, |k| has(k, "words", "now right")) {
            Some(key) => hand.tap(&seen, &key).await,
            None => {
                let digits = out_reading(hand.state(), &measure, note);
                hand.enter(&seen, &digits).await
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
    hand.done.insert((step.id.to_string(), String::new(), 0));
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
    crate::pages::pass::Pass(&browser).wait_for_note("A0").await;
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
    if only.is_empty() {
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
