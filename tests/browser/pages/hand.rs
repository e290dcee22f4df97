//! A hand that works a whole job by touch, taking the fewest that the app offers; or by the keys of a keyboard alone.

use std::collections::{BTreeMap, BTreeSet};

use evenhand_core::job::{Job, State};
use evenhand_core::note::Note;
use evenhand_core::trade::{Measure, Occasion, Step};
use evenhand_core::unit::{Kind, LengthUnit};
use serde_json::Value as Json;

use super::keys::{ENTER, Keys};
use super::order::Order;
use super::wait_until_saved;
use super::worn::{is_out, out_reading, reading};
use crate::browser::Browser;

/// More touches than any job can take: one that has come so far goes round in circles.
const MAX_TOUCHES: u32 = 6_000;

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
pub struct Hand<'a> {
    browser: &'a Browser,
    /// The job's state before any work: its steps and measures.
    job: Job,
    /// The exceptions that were looked at, by step, measure and note.
    done: BTreeSet<(String, String, u32)>,
    /// The items that a correction was tried on, so that it is tried once.
    tried: BTreeSet<String>,
    /// The touches in each step, and outside of all under an empty name.
    pub tally: BTreeMap<String, u32>,
    /// The keyboard that is used instead of touches.
    keys: Option<Keys<'a>>,
}

impl<'a> Hand<'a> {
    /// A hand on a job that was just created.
    pub fn new(browser: &'a Browser, job: Job) -> Self {
        Self {
            browser,
            job,
            done: BTreeSet::new(),
            tried: BTreeSet::new(),
            tally: BTreeMap::new(),
            keys: None,
        }
    }

    /// A hand that touches nothing, and works by a keyboard.
    pub fn by_keys(browser: &'a Browser, job: Job) -> Self {
        Self {
            keys: Some(Keys::new(browser)),
            ..Self::new(browser, job)
        }
    }

    /// What was wrong with how the focus was shown, by keyboard.
    pub fn focus_faults(&self) -> Vec<String> {
        self.keys.as_ref().map(Keys::faults).unwrap_or_default()
    }

    /// The state before any work.
    pub fn state(&self) -> &State {
        self.job.state()
    }

    /// All that a glance at the screen takes in.
    pub async fn glance(&self) -> Json {
        self.browser.run(GLANCE, vec![]).await
    }

    /// Taps a key that a glance has seen, and waits until the screen has answered. Returns what is seen then.
    pub async fn tap(&self, seen: &Json, key: &Json) -> Json {
        // What was seen may have been drawn anew since.
        let now = self.glance().await;
        let keys = now["keys"].as_array().expect("keys");
        let at = keys.iter().position(|k| k == key);
        let at = at.unwrap_or_else(|| panic!("{} is gone: {}", key["words"], summary(&now)));
        let element = format!("[data-hand='{at}']");
        match &self.keys {
            Some(keys) => keys.press(&element).await,
            None => self.browser.tap(&element).await,
        }
        self.answer(seen).await
    }

    /// Waits until something is seen that was not, and nothing moves any more.
    async fn answer(&self, before: &Json) -> Json {
        let mut last = before.clone();
        for _ in 0..200 {
            let now = self.glance().await;
            if now != *before && now == last {
                if let Some(keys) = &self.keys {
                    keys.check_focus(&summary(before)).await;
                }
                return now;
            }
            last = now;
            tokio::time::sleep(std::time::Duration::from_millis(8)).await;
        }
        panic!("a touch did nothing: {}", summary(before));
    }

    /// Taps the strip where a note stands.
    pub async fn travel(&self, seen: &Json, note: u32) -> Json {
        match &self.keys {
            Some(keys) => keys.travel_to(note).await,
            None => super::pass::Pass(self.browser).travel_to(note).await,
        }
        self.answer(seen).await
    }

    /// Touches the strip where a note stands, and holds it: the note is out, not measured.
    async fn hold(&self, seen: &Json, note: u32) -> Json {
        match &self.keys {
            Some(keys) => keys.mark(note).await,
            None => super::pass::Pass(self.browser).hold(note).await,
        }
        self.answer(seen).await
    }

    /// Types a value.
    pub async fn type_in(&self, seen: &Json, digits: &str) -> Json {
        let mut seen = seen.clone();
        if self.keys.is_some() {
            self.browser.type_keys(digits).await;
            return self.answer(&seen).await;
        }
        for digit in digits.chars() {
            let key = key_of(&seen, |k| k["key"] == digit.to_string()).expect("a digit");
            seen = self.tap(&seen, &key).await;
        }
        seen
    }

    /// Types a value and enters it.
    pub async fn enter(&self, seen: &Json, digits: &str) -> Json {
        let seen = self.type_in(seen, digits).await;
        if self.keys.is_some() {
            self.browser.type_keys(ENTER).await;
            return self.answer(&seen).await;
        }
        let enter = key_of(&seen, |k| k["key"] == "enter").expect("Enter");
        self.tap(&seen, &enter).await
    }

    /// Works the job until nothing is left, and exports it. Returns the file.
    pub async fn work(&mut self) -> std::path::PathBuf {
        let mut seen = self.glance().await;
        loop {
            assert!(self.browser.taps() < MAX_TOUCHES, "{}", summary(&seen));
            let (step, before) = (step_of(&seen), self.browser.taps());
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
                } else if has(&key, "words", "Handover") || key["words"] == "Check" {
                    // What may have moved a little is proposed for a look, and left.
                    break;
                } else {
                    seen = self.tap(&seen, &key).await;
                }
            } else {
                tokio::time::sleep(std::time::Duration::from_millis(20)).await;
                seen = self.glance().await;
            }
            *self.tally.entry(step).or_default() += self.browser.taps() - before;
        }
        wait_until_saved(self.browser).await;
        if let Some(keys) = &self.keys {
            keys.press("a[href$='/handover']").await;
            self.browser.wait_for(".figures").await;
            keys.press(".screen .reach .main").await;
            return self.browser.download(".job.json").await;
        }
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
            .or_else(|| on("Now right, next step"))
            .or_else(|| {
                key_of(seen, |k| {
                    has(k, "words", "right now") || has(k, "words", "now right")
                })
            })
            .or_else(|| on("Next").filter(|k| !has(k, "words", "Handover")))
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
        let sweeps = |k: &Json| k["sweep"] == true && !has(k, "words", "Range");
        if let Some(sweep) = last_key_of(&seen, sweeps) {
            if let Some(next) = self.next_exception(&step, &measure) {
                self.done
                    .insert((id, measure.id.to_string(), next.number().into()));
                // During the work what is out is marked by a hold, and set without a number; so is what is good or not.
                if step.occasion == Occasion::Working || measure.kind == Kind::Good {
                    return self.hold(&seen, next.number().into()).await;
                }
                let mut at = seen;
                if note != Some(next) {
                    at = self.travel(&at, next.number().into()).await;
                }
                return self.exception(at, &step, &measure, next).await;
            }
            // A row of ticks can lead on.
            let row = key_of(&seen, |k| {
                k["key"] == "next" && has(k, "words", "Whole row")
            });
            return self.tap(&seen, &row.unwrap_or(sweep)).await;
        }
        if let Some(note) = note
            && is_out(self.state(), &step, &measure, note)
            && self
                .done
                .insert((id, measure.id.to_string(), note.number().into()))
        {
            return self.exception(seen, &step, &measure, note).await;
        }
        self.right(&seen, &step, &measure, note).await
    }

    /// Enters that the current item is as it should be: with one touch where there is a target.
    async fn right(&self, seen: &Json, step: &Step, measure: &Measure, note: Option<Note>) -> Json {
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
            let key = key_of(seen, |k| k["key"] == "rest")
                .or_else(|| key_of(seen, |k| k["key"] == "next"))
                .or_else(|| key_of(seen, |k| k["key"] == answer && has(k, "place", "pad")));
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
        let run = key_of(seen, |k| k["chip"] == true && has(k, "words", "the next 5"))
            .filter(|_| self.is_run(step, measure, note));
        match run.or_else(|| key_of(seen, |k| k["chip"] == true && k["words"] == shown)) {
            Some(chip) => self.tap(seen, &chip).await,
            None => self.enter(seen, &digits).await,
        }
    }

    /// Returns whether the next five notes of a step read the same as this one.
    fn is_run(&self, step: &Step, measure: &Measure, note: Option<Note>) -> bool {
        let items = self.state().items(step).into_iter();
        let own = items.filter(|i| i.measure == measure.id);
        let notes = own.map(|i| i.on.note()).skip_while(|n| *n != note);
        let same = |n: &Option<Note>| reading(measure, *n) == reading(measure, note);
        notes.take(5).take_while(same).count() == 5
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
                return self.right(&seen, step, measure, Some(note)).await;
            }
            None => {
                let digits = out_reading(self.state(), measure, note);
                self.enter(&seen, &digits).await
            }
        };
        if !works {
            return seen;
        }
        if let Some(turned) = key_of(&seen, |k| k["turned"] == true && k["href"].is_null())
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
        self.right(&seen, step, measure, Some(note)).await
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
        notes.find(|n| is_out(self.state(), step, measure, *n) && is_new(n))
    }
}

/// Returns the step of the pass that is open, by its address.
fn step_of(seen: &Json) -> String {
    let hash = seen["hash"].as_str().unwrap_or_default();
    let step = hash.split("/pass/").nth(1).unwrap_or_default();
    step.split('/').next().unwrap_or_default().to_owned()
}

/// Whether a field holds these words.
pub fn has(of: &Json, field: &str, words: &str) -> bool {
    of[field].as_str().is_some_and(|text| text.contains(words))
}

/// The first key that is meant.
pub fn key_of(seen: &Json, is: impl Fn(&Json) -> bool) -> Option<Json> {
    seen["keys"].as_array()?.iter().find(|k| is(k)).cloned()
}

/// Of the keys that sweep the last reaches farthest.
fn last_key_of(seen: &Json, is: impl Fn(&Json) -> bool) -> Option<Json> {
    seen["keys"].as_array()?.iter().rfind(|k| is(k)).cloned()
}

/// What a failure is told with.
pub fn summary(seen: &Json) -> String {
    let keys = seen["keys"].as_array().into_iter().flatten();
    let keys: Vec<&str> = keys.filter_map(|k| k["words"].as_str()).collect();
    format!(
        "at {} {} {}: {} {} keys {keys:?}",
        seen["hash"], seen["note"], seen["more"], seen["message"], seen["caption"]
    )
}
