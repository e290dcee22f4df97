//! The coupled bench regulation in a world in which hand and readings err, worked through in several ways by competent
//! people.

use super::action::{Action, BENCH, Random, TURNED, World, screw};
use super::{MAX_PASSES, PHONE, job};
use crate::analysis::advice::{Advice, Movement, advice};
use crate::analysis::belief::{Beliefs, Look, after_correction, doubtful};
use crate::job::{Correction, EntryKind, Item, ItemState, Job, Subject, SweptNotes};
use crate::note::Note;
use crate::trade::{MeasureId, Occasion, Place, Verdict};
use crate::unit::{Length, Turns, Value};

/// A way of working through the bench regulation. There is no default.
///
/// ```
/// use evenhand_core::simulation::{Way, World, regulated};
///
/// // The same action: fewer readings if what is known is not measured again.
/// let readings = |way| regulated(7, way, World::default()).effort.readings;
/// assert!(readings(Way::Known { look: true }) < readings(Way::All));
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// As the program leads, every note measured again after a turn.
    All,
    /// The same in the customary order: blow, let-off, drop, checking, aftertouch.
    Customary,
    /// The same by a practised hand: turns in proportion to the error, with a judgment that is off by 10 % and a running
    /// feel for what a turn does.
    Practised,
    /// As the program leads, measuring again only what is not known; with a final look along the row or without.
    Known {
        /// Whether the rows are looked along at the end.
        look: bool,
    },
    /// The same with the look, and blow, drop and checking looked along at the beginning too, with four measured notes of
    /// each 22.
    Swept,
}

impl Way {
    /// Returns whether only what is not known is measured again.
    const fn skips(self) -> bool {
        matches!(self, Way::Known { .. } | Way::Swept)
    }

    /// Returns whether the rows are looked along at the end.
    const fn looks(self) -> bool {
        matches!(self, Way::Known { look: true } | Way::Swept)
    }
}

/// The outcome of one regulation. [`regulated`] returns it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Honest {
    /// The work until nothing is open.
    pub effort: super::Effort,
    /// `false` if it was not over after [`MAX_PASSES`] rounds.
    pub ended: bool,
    /// The number of true values out at the end, after the felt has settled.
    pub truly_out: u32,
    /// Of the turns that were measured after, in how many the reading was where it usually is, and how many there were.
    pub as_expected: (u32, u32),
}

/// What looks out, or all but out, is measured at the final look: seen from this part of the accepted deviation on (M).
const NEARLY_OUT: f64 = 0.97;

/// What the eye sees of a deviation, in mm: the standard deviation of its error (M; a gauge at the let-off).
fn eye(measure: &str) -> f64 {
    match measure {
        "let_off" => 0.1,
        "aftertouch" => 0.07,
        "checking" => 0.3,
        _ => 0.14,
    }
}

/// Regulates the bench of an invented action in one way.
///
/// **Rule**: each note of a measure is measured; what is not on target is corrected once; what is out or no longer holds is
/// measured and corrected again, measure by measure in their order, until nothing is open.
pub fn regulated(seed: u64, way: Way, world: World) -> Honest {
    let mut order = BENCH.to_vec();
    if !matches!(way, Way::Customary) {
        // The dip moves the checking.
        order.swap(3, 4);
    }
    let mut bench = Bench {
        action: Action::in_world(seed, world),
        job: job(),
        way,
        feel: TURNED.map(|id| screw(id).mm_per_turn),
        chance: Random::new(seed ^ 0xFEE1),
        found: Honest::default(),
        looked: Vec::new(),
        swept: Vec::new(),
    };
    for _ in 0..MAX_PASSES {
        for measure in &order {
            bench.pass(measure);
        }
        let is_open = |measure: &'static str| Note::all().any(|note| bench.is_open(measure, note));
        if order.iter().any(|measure| is_open(measure)) {
            continue;
        }
        if !way.looks() || !bench.look(&order) {
            bench.found.ended = true;
            break;
        }
    }
    for measure in &order {
        for note in Note::all() {
            let value = Value::Nm(Length::from_mm(bench.action.truth(measure, note)));
            let judged = bench.job.state().judge(measure, Subject::Note(note), value);
            let is_out = judged.is_some_and(|j| j.verdict == Verdict::Out);
            bench.found.truly_out += u32::from(is_out);
        }
    }
    bench.found
}

/// A correction: the measure that it is made on, what is done, and what the reading should be and how far it usually is from
/// that, in nm.
type Made = (String, Correction, Option<(i64, i64)>);

struct Bench {
    action: Action,
    job: Job,
    way: Way,
    /// The practised hand's feel for each screw, in mm per turn.
    feel: [f64; 3],
    chance: Random,
    found: Honest,
    /// What was measured once more because it stood out in a look.
    looked: Vec<(&'static str, Note)>,
    /// The rows that were looked along at the beginning.
    swept: Vec<&'static str>,
}

impl Bench {
    fn item(measure: &'static str, note: Note) -> Item {
        Item {
            measure: MeasureId::of(measure),
            on: Subject::Note(note),
        }
    }

    /// Returns the verdict on what holds of a note, `None` if it is to measure.
    fn stands(&self, measure: &'static str, note: Note) -> Option<Verdict> {
        let state = self.job.state();
        let step = state.step(measure)?;
        match state.item_state(step, &Bench::item(measure, note)) {
            ItemState::Read(_, judged) => Some(judged?.verdict),
            ItemState::Swept(_) => Some(Verdict::OnTarget),
            _ => None,
        }
    }

    fn is_open(&self, measure: &'static str, note: Note) -> bool {
        self.stands(measure, note).is_none_or(|v| v == Verdict::Out)
    }

    /// Goes through the notes of a measure that are open.
    fn pass(&mut self, measure: &'static str) {
        self.found.effort.passes += 1;
        if self.way == Way::Swept && matches!(measure, "blow" | "drop" | "checking") {
            self.sweep(measure);
        }
        for note in Note::all()
            .filter(|note| self.is_open(measure, *note))
            .collect::<Vec<_>>()
        {
            self.visit(measure, note);
        }
        if self.way.skips() {
            let again: Vec<Note> = {
                let state = self.job.state();
                let items = state.step(measure).map(|step| doubtful(state, step));
                items
                    .into_iter()
                    .flatten()
                    .filter_map(|i| i.on.note())
                    .collect()
            };
            for note in again {
                self.read(measure, note);
                self.visit(measure, note);
            }
        }
        self.action.settle();
    }

    /// Measures and corrects a note until it is on target, known, or nothing more can be done.
    fn visit(&mut self, measure: &'static str, note: Note) {
        let mut again = true;
        for _ in 0..6 {
            if self.stands(measure, note).is_none() {
                self.read(measure, note);
            }
            let by_belief = self.believed(measure, note);
            let stands = self.stands(measure, note);
            let (verdict, at_edge) = by_belief.unwrap_or((stands, false));
            if verdict == Some(Verdict::OnTarget) && stands == Some(Verdict::Out) {
                // The reading says otherwise than what is known.
                self.read(measure, note);
                continue;
            }
            if verdict == Some(Verdict::OnTarget) {
                // What is left as it is, so near a limit, is measured once more.
                if !(at_edge && again) {
                    return;
                }
                again = false;
                self.read(measure, note);
                continue;
            }
            if verdict.is_none() || !self.correct(measure, note) {
                return;
            }
        }
    }

    /// Returns the verdict on what is believed of a note, and whether it is at the edge; `None` if the way of working
    /// goes by readings, or if what counts is no reading.
    fn believed(&self, measure: &'static str, note: Note) -> Option<(Option<Verdict>, bool)> {
        let (state, on) = (self.job.state(), Subject::Note(note));
        let item = Bench::item(measure, note);
        let is_read = matches!(
            state.item_state(state.step(measure)?, &item),
            ItemState::Read(..)
        );
        if !is_read || !self.way.skips() {
            return None;
        }
        let beliefs = Beliefs::of(state, measure, Place::Bench)?;
        let mean = Value::Nm(Length::from_mm(beliefs.note(note)?.mean));
        let verdict = state.judge(measure, on, mean)?.verdict;
        Some((Some(verdict), beliefs.is_at_the_edge(note)))
    }

    /// Corrects a note, and measures it again unless what came of it is known. Returns `false` if it cannot be corrected.
    fn correct(&mut self, measure: &'static str, note: Note) -> bool {
        let Some((moves, made, expected)) = self.movement(measure, note) else {
            return false;
        };
        self.action.make(&moves, note, &made);
        let (on, place) = (Subject::Note(note), Place::Bench);
        let before = self.in_effect(measure, note);
        let turned = match &made {
            Correction::Turned(turns) => Some(*turns),
            _ => None,
        };
        let act = EntryKind::Correction {
            measure: MeasureId::from(moves.as_str()),
            on,
            place,
            made,
        };
        self.job.apply(self.job.draft(PHONE, 0, act));
        self.found.effort.turns += 1;
        if self.way.skips() {
            for act in after_correction(self.job.state(), &moves, on, place) {
                self.job.apply(self.job.draft(PHONE, 0, act));
            }
        }
        if self.stands(measure, note).is_some() {
            return true;
        }
        self.read(measure, note);
        let after = self.in_effect(measure, note);
        if let (Some((expected, usual)), Some(after)) = (expected, after) {
            self.found.as_expected.1 += 1;
            self.found.as_expected.0 += u32::from((after.nm() - expected).abs() <= usual);
        }
        let k = TURNED.iter().position(|id| *id == measure);
        if let (Some(k), Some(turns), Some((before, after))) = (k, turned, before.zip(after)) {
            let turns = turns.turns();
            if turns.abs() >= 1.0 / 16.0 {
                let feel = &mut self.feel[k];
                let seen = ((after - before).mm() / turns).clamp(0.5 * *feel, 2.0 * *feel);
                *feel += 0.2 * (seen - *feel);
            }
        }
        true
    }

    fn in_effect(&self, measure: &str, note: Note) -> Option<Length> {
        let state = self
            .job
            .state()
            .measure_state(measure, Subject::Note(note), Place::Bench)?;
        state.in_effect()?.value.length()
    }

    fn read(&mut self, measure: &'static str, note: Note) {
        let value = Value::Nm(self.action.read(measure, note));
        let (id, on) = (MeasureId::of(measure), Subject::Note(note));
        let working = Occasion::Working;
        let entry = self
            .job
            .reading(PHONE, 0, id, on, Place::Bench, working, value, "");
        self.job.apply(entry);
        self.found.effort.readings += 1;
    }

    /// Returns the correction, the measure that it is made on, and what the reading should be and how far it usually is
    /// from that, in nm.
    fn movement(&mut self, measure: &'static str, note: Note) -> Option<Made> {
        let advised = advice(self.job.state(), measure, Subject::Note(note), Place::Bench);
        let of = |advised: Advice| {
            let expected = match &advised.movement {
                Movement::Turn {
                    expected,
                    give_or_take,
                    ..
                } if advised.moves == advised.measure => Some((*expected, *give_or_take)),
                _ => None,
            };
            let made = advised.made()?;
            Some((advised.moves.as_str().to_owned(), made, expected))
        };
        match (self.way, TURNED.iter().position(|id| *id == measure)) {
            (Way::Practised, Some(k)) => {
                let state = self.job.state();
                let aim = state.band(measure, Subject::Note(note))?.aim;
                let off = (Length::from_nm(aim) - self.in_effect(measure, note)?).mm();
                let wanted = off / self.feel[k] * (1.0 + 0.1 * self.chance.normal());
                let finest = screw(measure).resolution.in_64ths() as f64;
                let turns = (wanted * 64.0 / finest).round() * finest;
                let turns = Turns::from_64ths((turns as i64).clamp(-64, 64));
                (turns.in_64ths() != 0)
                    .then(|| (measure.to_owned(), Correction::Turned(turns), None))
            }
            _ => of(advised?),
        }
    }

    /// Returns how far a note is seen off its aim, in mm, and where it is out on that side.
    fn seen(&mut self, measure: &'static str, note: Note) -> Option<(f64, f64)> {
        let band = self.job.state().band(measure, Subject::Note(note))?;
        let off = self.action.truth(measure, note) - Length::from_nm(band.aim).mm();
        let off = off + eye(measure) * self.chance.normal();
        let (low, high) = band.accept;
        let limit = if off > 0.0 { high } else { low };
        let limit = limit.map(|limit| Length::from_nm(limit - band.aim).mm().abs());
        Some((off, limit.unwrap_or(f64::INFINITY)))
    }

    /// Looks along a row once, before anything of it is measured: what stands out and four of each 22 notes are left.
    fn sweep(&mut self, measure: &'static str) {
        let Some(look) = Look::of(measure).filter(|_| !self.swept.contains(&measure)) else {
            return;
        };
        self.swept.push(measure);
        let is_anchor = |note: Note| matches!(note.index() % 22, 2 | 7 | 13 | 18);
        let stands_out = |note: &Note| {
            let seen = self.seen(measure, *note);
            is_anchor(*note) || seen.is_none_or(|(off, _)| off.abs() > look.flagged)
        };
        let notes = SweptNotes {
            from: Note::FIRST,
            to: Note::LAST,
            except: Note::all().filter(stands_out).collect(),
        };
        let act = EntryKind::Swept {
            measure: MeasureId::of(measure),
            notes,
            place: Place::Bench,
            occasion: Occasion::Working,
        };
        self.job.apply(self.job.draft(PHONE, 0, act));
    }

    /// Looks along the rows, and measures what looks out: what was not measured since it was turned, and of the others once
    /// more each. Returns `true` if anything did.
    fn look(&mut self, order: &[&'static str]) -> bool {
        let mut found = false;
        for measure in order {
            for note in Note::all() {
                let state = self.job.state();
                let item = Bench::item(measure, note);
                let now = state
                    .step(measure)
                    .map(|step| state.item_state(step, &item));
                let is_meant = match now {
                    Some(ItemState::Swept(_)) => true,
                    Some(ItemState::Read(..)) => !self.looked.contains(&(*measure, note)),
                    _ => false,
                };
                let seen = self.seen(measure, note).filter(|_| is_meant);
                if seen.is_some_and(|(off, limit)| off.abs() > NEARLY_OUT * limit) {
                    self.looked.push((measure, note));
                    self.read(measure, note);
                    self.visit(measure, note);
                    found = true;
                }
            }
        }
        found
    }
}
