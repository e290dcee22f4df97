//! A whole bench regulation by thumb: an invented action is read and corrected note by note as the phone says, and
//! what was disturbed on the way is re-measured until nothing is left to do.

use std::collections::HashMap;

use evenhand_core::analysis::job_file::open;
use evenhand_core::job::{Correction, Entry, EntryKind, Job, State, Subject};
use evenhand_core::note::Note;
use evenhand_core::simulation::Action;
use evenhand_core::trade::{Instrument, Measure, Place, Stage, Step, Target, Verdict};
use evenhand_core::unit::{Kind, Length, LengthUnit, Turns, Value};

use crate::browser::Browser;
use crate::pages::fields::Typing;
use crate::pages::jobs::Jobs;
use crate::pages::order::Order;
use crate::pages::pass::{Pass, Seen};
use crate::pages::serve_release;

/// What the invented action answers to; everything else is found as it should be. Beside each, how far outside its accept
/// band, in mm, a truth can lie whose reading was inside: three times the noise of a reading, the rounding to what
/// is typed, and what felt gave back since.
const SIMULATED: [(&str, f64); 7] = [
    ("natural_dip", 0.3),
    ("sharp_dip", 0.3),
    ("blow", 0.4),
    ("let_off", 0.4),
    ("drop", 0.4),
    ("checking", 0.9),
    ("aftertouch", 0.25),
];

/// More rechecks than any action should take, and more passes through those out of one step.
const MAX_ROUNDS: usize = 30;
const MAX_PASSES: usize = 6;

/// So many answers that are all alike are tapped without looking in between.
const AT_ONCE: u64 = 11;

/// A technician at the bench, with a phone.
struct Bench<'a> {
    browser: &'a Browser,
    action: Action,
    by_name: HashMap<String, Note>,
    /// What was read, in order: of which measure, and the value.
    readings: Vec<(String, Value)>,
    corrections: usize,
}

impl Bench<'_> {
    /// Goes through the pass that is open: reads what is asked for, corrects what is out as the phone says, and
    /// reads it again.
    async fn pass(&mut self, step: &Step) {
        let page = Pass(self.browser);
        let id = step.takes.first().expect("a measure").as_str();
        let measure = Instrument::Grand.measure(id).expect("one of the grand's");
        let (mut last, mut tries) = (None, 0);
        let mut seen = page.look(None, 0).await;
        while !seen.is_through() {
            // What is offered is for the note that its sentence begins with, else for the one in hand.
            let first_word = seen.text("message").split_whitespace().next();
            let of = first_word.and_then(|word| self.by_name.get(word));
            let in_hand = self.by_name.get(seen.text("name")).copied();
            let offered = seen.place("offer").zip(of.copied().or(in_hand));
            if let Some((_, note)) = offered
                && last != Some(note)
            {
                (last, tries) = (Some(note), 0);
            }
            seen = match offered {
                // A hand that does not get there in three goes leaves it for the next pass.
                Some((_, note)) if tries < 3 => {
                    tries += 1;
                    self.corrections += 1;
                    let made = made(seen.text("offer"), seen.text("message"));
                    self.action.make(id, note, &made);
                    page.tap_offer(&seen).await
                }
                _ => self.read(measure, in_hand, &seen).await,
            };
        }
        self.action.settle();
    }

    /// Reads the note in hand; where every answer is the same, those that follow it too.
    async fn read(&mut self, measure: &Measure, note: Option<Note>, seen: &Seen) -> Seen {
        let id = measure.id.as_str();
        let mm = LengthUnit::Millimeter;
        let page = Pass(self.browser);
        let (read, of) = seen.read();
        let is_simulated = SIMULATED.iter().any(|(simulated, _)| *simulated == id);
        if let (true, Some(note)) = (is_simulated, note) {
            let digits = digits(measure, self.action.read(id, note).max(Length::ZERO));
            let value = measure.read_typed(&digits, mm).expect("a length");
            self.readings.push((id.to_owned(), value));
            let shown = measure.shown(value, mm);
            let on_target = format!("On target {shown}");
            let chip = seen.place(&on_target).or_else(|| seen.place(&shown));
            let taps = chip.map_or_else(|| typed(seen, &digits), |chip| vec![chip]);
            // A length under 10 with one decimal takes three taps at most.
            let most = if measure.form == (1, 1) { 3 } else { 5 };
            assert!(taps.len() <= most, "{id} {shown}: {} taps", taps.len());
            page.tap_places(&taps).await;
            return page.look(Some(seen), 0).await;
        }
        let value = wanted(measure);
        let key = value.base().to_string();
        let one_tap = match measure.kind {
            Kind::Length => seen.place("target"),
            _ => seen.place(&key),
        };
        let Some(place) = one_tap else {
            // Nothing is wanted, so whatever is plausible was found.
            let length = value.length().expect("a length");
            self.readings.push((id.to_owned(), value));
            page.tap_places(&typed(seen, &digits(measure, length)))
                .await;
            return page.look(Some(seen), 0).await;
        };
        let alike = (of - read).min(AT_ONCE);
        let all = (0..alike).map(|_| (id.to_owned(), value));
        self.readings.extend(all);
        page.tap_places(&vec![place; alike as usize]).await;
        page.look(Some(seen), read + alike).await
    }

    /// Follows the pass of a step that was opened, and goes through those out after its last note until none is; ends
    /// at the order.
    async fn follow(&mut self, step: &Step) {
        let page = Pass(self.browser);
        for _ in 0..MAX_PASSES {
            self.pass(step).await;
            let says = page.through().await;
            assert!(!says.contains("to re-measure"), "{}: {says}", step.id);
            if says.contains("Look along the row") {
                page.on_through("None stands out").await;
                page.through().await;
            }
            if says.contains("none out") {
                return page.back().await;
            }
            page.go_through_those_out().await;
        }
        panic!("{} has no end", step.id);
    }
}

/// What is wanted of a measure, else the middle of what is plausible.
fn wanted(measure: &Measure) -> Value {
    match (&measure.target, measure.plausible) {
        (Some(Target::Flat(band)), _) => Value::from_base(measure.kind, band.aim),
        (_, plausible) => {
            let (low, high) = plausible.expect("a plausible range");
            let whole = (low + high) / 2 / 1_000_000 * 1_000_000;
            Value::from_base(measure.kind, whole)
        }
    }
}

/// The keys of the pad for a length, as few as say it: the point comes by itself.
fn digits(measure: &Measure, length: Length) -> String {
    let mm = LengthUnit::Millimeter;
    let finest = 10_i64.pow(6 - measure.form.1);
    let round = (length.nm() + finest / 2).div_euclid(finest) * finest;
    let shown = measure.shown(Value::Nm(Length::from_nm(round)), mm);
    let mut digits: String = shown.chars().filter(char::is_ascii_digit).collect();
    let value = measure.read_typed(&digits, mm);
    while let Some(fewer) = digits.strip_suffix('0')
        && measure.read_typed(fewer, mm) == value
    {
        digits = fewer.to_owned();
    }
    digits
}

/// Where the keys for these digits stand, and Enter.
fn typed(seen: &Seen, digits: &str) -> Vec<(f64, f64)> {
    let keys = digits.chars().map(String::from).chain(["enter".to_owned()]);
    keys.map(|key| seen.place(&key).expect("a key of the pad"))
        .collect()
}

/// What was done, by the words of the button and of the message: `Turned 3/16 down`, `take out 0.127, put in 0.254 mm`.
fn made(button: &str, message: &str) -> Correction {
    match button {
        "Set by eye" => Correction::ByEye,
        "Punchings changed" => {
            let punchings = |before: &str| -> Vec<Length> {
                let Some((_, list)) = message.split_once(before) else {
                    return Vec::new();
                };
                let list = list.split([',', 'm', '\n']).next().unwrap_or_default();
                let punchings = list.split('+').map(|punching| {
                    let mm: f64 = punching.trim().parse().expect("a thickness");
                    Length::from_mm(mm)
                });
                punchings.collect()
            };
            let out = punchings("take out ").into_iter().map(|punching| -punching);
            Correction::Punchings(out.chain(punchings("put in ")).collect())
        }
        turned => {
            // Every screw of the action makes the reading larger when it goes down.
            let mut in_64ths = 0;
            for word in turned.split_whitespace().skip(1) {
                match (word, word.split_once('/')) {
                    ("down", _) => {}
                    ("up", _) => in_64ths = -in_64ths,
                    (_, Some((above, below))) => {
                        let whole = |n: &str| n.parse::<i64>().expect("a part of a turn");
                        in_64ths += whole(above) * 64 / whole(below);
                    }
                    (whole, None) => in_64ths += 64 * whole.parse::<i64>().expect("turns"),
                }
            }
            Correction::Turned(Turns::from_64ths(in_64ths))
        }
    }
}

/// Tells the phone what the corrections need to know: the levers of the keys, the punchings at hand, and that the dip is left to follow.
async fn set_up(browser: &Browser) {
    let typing = Typing(browser);
    typing.go("setup/keys").await;
    for key in ["key-natural", "key-sharp"] {
        for (at, mm) in ["220", "130", "200"].into_iter().enumerate() {
            typing.fill(key, at, mm).await;
        }
        typing.enter().await;
    }
    typing.unfold("punchings").await;
    browser.tap("#punchings .pair button").await;
    typing.wait_for_words("#punchings", "8 thicknesses").await;
    typing.go("targets").await;
    browser.tap("#travel .choice label:nth-of-type(3)").await;
    typing
        .wait_for_words(
            "#travel summary",
            "dip is left to follow blow and aftertouch",
        )
        .await;
    browser.tap(".bar a.tool").await;
    browser.wait_for(".order .step").await;
}

#[tokio::test]
async fn a_whole_bench_regulation_ends_with_nothing_out_and_nothing_to_read_again() {
    let site = serve_release();
    let browser = Browser::phone().await;
    let jobs = Jobs::open(&browser, &site).await;
    jobs.make("Bench by thumb", "20, 52, 72").await;
    set_up(&browser).await;
    let order = Order(&browser);
    let mut bench = Bench {
        browser: &browser,
        action: Action::looked_after(7),
        by_name: Note::all().map(|n| (n.name(), n)).collect(),
        readings: Vec::new(),
        corrections: 0,
    };
    // The climate and the weights are pairs of readings, which no adjustment disturbs here.
    let order_of_grand = Instrument::Grand.steps().iter();
    let is_played = |s: &&Step| s.stage == Stage::Regulate && s.takes.len() == 1;
    let steps: Vec<&Step> = order_of_grand
        .filter(|s| s.id.as_str() == "action_out" || is_played(s))
        .collect();
    for step in &steps {
        order.begin(step.id.as_str()).await;
        bench.follow(step).await;
    }
    // As the card at the bottom says, until it speaks of other stages of the job.
    let mut rechecks = 0;
    loop {
        let card = order.card().await;
        if !card.contains("to re-measure") {
            break;
        }
        // A hint may stand above it.
        let is_named = |step: &&&Step| card.lines().any(|line| line == step.name);
        let step = steps.iter().find(is_named);
        let step = step.unwrap_or_else(|| panic!("not gone through: {card}"));
        order.do_now().await;
        bench.follow(step).await;
        rechecks += 1;
        assert!(rechecks < MAX_ROUNDS, "no end");
    }
    // Punchings under the keys were changed for the aftertouch, so that something was disturbed.
    assert!(rechecks > 0 && bench.corrections > 44);
    let file = std::fs::read(order.export().await).expect("the file can be read");
    let opened = open(&file).expect("it is a job file");
    assert_eq!(opened.notices, [""; 0]);
    holds_all(&bench, &opened.entries);
    ends_well(&bench, Job::from_entries(opened.entries).state(), &steps);
}

/// Every reading that was made stands in the log, in order, and every correction.
fn holds_all(bench: &Bench<'_>, entries: &[Entry]) {
    let readings = entries.iter().filter_map(|entry| match &entry.kind {
        EntryKind::Reading { measure, value, .. } => Some((measure.as_str().to_owned(), *value)),
        _ => None,
    });
    assert_eq!(readings.collect::<Vec<_>>(), bench.readings);
    let made = |entry: &&Entry| matches!(entry.kind, EntryKind::Correction { .. });
    assert_eq!(entries.iter().filter(made).count(), bench.corrections);
}

/// Nothing is disturbed and nothing out; the truth, which no reading shows, lies in its band too, but for the few at the
/// edge of it of which the noise of a reading hides that.
fn ends_well(bench: &Bench<'_>, state: &State, steps: &[&Step]) {
    for step in steps {
        for item in state.items(step) {
            let stands = state.item_state(step, &item);
            assert!(
                stands.is_valid() && !stands.is_out(),
                "{item:?}: {stands:?}"
            );
        }
    }
    let (mut judged, mut out) = (0, 0);
    for (measure, noise) in SIMULATED {
        for note in Note::all() {
            let truth = bench.action.truth(measure, note);
            let value = Value::Nm(Length::from_mm(truth));
            let on = Subject::Note(note);
            let is_read = state.measure_state(measure, on, Place::Bench).is_some();
            let found = state.judge(measure, on, value);
            let Some(found) = found.filter(|_| is_read) else {
                continue;
            };
            judged += 1;
            if found.verdict == Verdict::Out {
                out += 1;
                let side = |nm: Option<i64>| Length::from_nm(nm.expect("a limit")).mm();
                let (low, high) = found.band.accept;
                let by = (side(low) - truth).max(truth - side(high));
                assert!(by < noise, "{measure} {note}: out by {by}");
            }
        }
    }
    assert!(out * 20 < judged, "{out} of {judged} are truly out");
}
