//! From a reading to a movement of the hand, for one reading or for all of a step. The file is long
//! because the cases of one decision are kept side by side.
//!
//! **Rule**: a reading that is on target is left. Any other is moved to the aim by its adjuster
//! ([`Adjuster`]): turned by the response learned on this instrument ([`super::learned`]), changed
//! by punchings from the job's stock and the lever of the key ([`super::punchings`]), or bent or set
//! by eye. Aftertouch has no adjuster of its own. It is corrected by moving the length that the job
//! leaves to follow, through the travel balance ([`super::travel`]); that length is then not
//! corrected to its own target as well, or the two corrections would undo each other without end. A
//! change finer than the hand can make is left.
//!
//! **Range**: readings in effect that still hold. A disturbed reading is re-measured first.
//!
//! The file is long because its types carry their examples.

mod model;

pub use model::{Advice, LeaveReason, Missing, Movement};

use std::cell::OnceCell;

use super::learned::{Responses, learned};
use super::punchings::{Lever, Stock};
use super::screw::{Correction as Turned, Screw, correction};
use super::travel::Travel;
use super::working_order::{holds, reached};
use crate::job::{Correction, FollowingLength, Item, State, Subject};
use crate::note::Note;
use crate::trade::{Adjuster, Measure, MeasureId, Place, Verdict};
use crate::unit::{Length, Turns, Value};

/// Returns what to do about the reading in effect of a measure on a note, a section or the whole
/// action. Returns `None` if there is no reading, no target, or no way to move it.
///
/// The cost does not grow with the job: only the readings of this measure are looked at, and
/// responses are learned only if the reading is not on target. For many notes use one [`Adviser`].
///
/// ```
/// use evenhand_core::job::{ReplicaId, Job, Subject};
/// use evenhand_core::note::Note;
/// use evenhand_core::analysis::advice::advice;
/// use evenhand_core::trade::{MeasureId, Occasion, Place};
/// use evenhand_core::unit::{Length, LengthUnit, Value};
///
/// let mut job = Job::new();
/// let (a4, let_off) = (Subject::Note(Note::new(49)?), MeasureId::of("let_off"));
/// let read = Value::Nm(Length::from_mm_hundredths(130));
/// let entry = job.reading(ReplicaId::new(7), 0, let_off, a4, Place::Bench, Occasion::Working, read, "1.3");
/// job.apply(entry);
/// let todo = advice(job.state(), "let_off", a4, Place::Bench).unwrap();
/// assert_eq!(todo.words(LengthUnit::Millimeter), "button down 1/8");
/// # Ok::<(), evenhand_core::note::NoteError>(())
/// ```
pub fn advice(state: &State, measure: &str, on: Subject, place: Place) -> Option<Advice> {
    Adviser::new(state, measure)?.advice(on, place)
}

/// Gives advice on many notes of one measure.
///
/// What is learned of the instrument, and the sets of punchings, are computed on first use and then
/// reused.
///
/// ```
/// use evenhand_core::analysis::advice::Adviser;
/// use evenhand_core::job::{Job, Subject};
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::Place;
///
/// let job = Job::new();
/// let adviser = Adviser::new(job.state(), "let_off").unwrap();
/// // Nothing has been measured yet.
/// assert_eq!(adviser.advice(Subject::Note(Note::FIRST), Place::Bench), None);
/// assert!(Adviser::new(job.state(), "no such measure").is_none());
/// ```
pub struct Adviser<'a> {
    state: &'a State,
    measure: &'a Measure,
    /// The measure that is moved, if it is not `measure` itself.
    following: Option<&'a Measure>,
    responses: OnceCell<Option<Responses>>,
    stock: OnceCell<Option<Stock>>,
}

/// The change that a movement should bring about.
#[derive(Clone, Copy)]
struct Wanted {
    /// The present value of the measure that is moved, in nanometers; for adjustment by eye in the
    /// unit of the measure.
    now: i64,
    /// The wanted change.
    change: i64,
    /// The accepted deviation from the wanted change.
    near: i64,
}

impl<'a> Adviser<'a> {
    /// Creates an adviser for a measure of a job. Returns `None` if the job has no measure with
    /// this id.
    pub fn new(state: &'a State, measure: &str) -> Option<Adviser<'a>> {
        let following = match (measure, state.setup().following) {
            ("aftertouch", Some(FollowingLength::Blow)) => state.measure("blow"),
            _ => None,
        };
        Some(Adviser {
            state,
            measure: state.measure(measure)?,
            following,
            responses: OnceCell::new(),
            stock: OnceCell::new(),
        })
    }

    /// Returns what is learned of turning, or `None` if the measure is not moved by turning.
    pub fn responses(&self) -> Option<&Responses> {
        let moved = self.following.unwrap_or(self.measure);
        let learn = || learned(self.state, moved.id.as_str());
        self.responses.get_or_init(learn).as_ref()
    }

    /// Returns the stock of punchings if it was prepared for an advice.
    pub(super) fn into_stock(self) -> Option<Stock> {
        self.stock.into_inner().flatten()
    }

    /// Returns the punchings at hand, prepared for choosing, or `None` if the setup names none or
    /// names ones that cannot be used.
    pub fn stock(&self) -> Option<&Stock> {
        let punchings = self.state.setup().punchings_nm.as_deref();
        let stock = || Stock::of(punchings.filter(|p| !p.is_empty())?).ok();
        self.stock.get_or_init(stock).as_ref()
    }

    /// Returns what to do about the reading in effect. See [`advice`].
    pub fn advice(&self, on: Subject, place: Place) -> Option<Advice> {
        let id = self.measure.id.as_str();
        let reading = self.state.measure_state(id, on, place)?.in_effect()?.value;
        let judged = match self.state.judge(id, on, reading) {
            Some(judged) => judged,
            None if id == "sharp_dip" => return self.sharp_dip(on, place, reading),
            None => return None,
        };
        let again = self.state.disturbed(id, on, place);
        let swept = match again {
            Some(_) => self.state.swept_now(id, on).filter(|s| s.place == place),
            None => None,
        };
        let movement = match again {
            // Turned and not measured again, or looked along since.
            _ if let Some(sweep) = swept => Movement::Leave(match sweep.expected {
                Some(_) => LeaveReason::Known,
                None => LeaveReason::OnTarget,
            }),
            _ if judged.verdict == Verdict::OnTarget && again.is_none() => {
                Movement::Leave(LeaveReason::OnTarget)
            }
            Some(cause) => Movement::Remeasure { work: cause.work },
            None if self.follows_aftertouch(on, place) => Movement::Leave(LeaveReason::Follows),
            None => {
                let half = judged
                    .band
                    .within
                    .1
                    .map_or(0, |high| high - judged.band.aim);
                self.movement(on, place, reading.base(), judged.off, half / 2)?
            }
        };
        Some(self.advised(on, place, (judged.off, judged.verdict), movement))
    }

    fn advised(
        &self,
        on: Subject,
        place: Place,
        (off, verdict): (i64, Verdict),
        movement: Movement,
    ) -> Advice {
        let moves = self.moves(on);
        let moved = matches!(
            movement,
            Movement::Turn { .. } | Movement::Punchings { .. } | Movement::ByEye { .. }
        );
        let disturbs = match moved {
            true => disturbed(self.state, &moves, on, place),
            false => Vec::new(),
        };
        Advice {
            measure: self.measure.id.clone(),
            moves,
            on,
            place,
            off,
            verdict,
            movement,
            disturbs,
        }
    }

    /// Returns whether this length is left to follow and the aftertouch of its note was read; then
    /// the aftertouch decides.
    fn follows_aftertouch(&self, on: Subject, place: Place) -> bool {
        let id = self.measure.id.as_str();
        let following = self.state.setup().following.is_some_and(|f| f.is(id));
        let after = || self.state.measure_state("aftertouch", on, place);
        matches!(id, "natural_dip" | "blow")
            && following
            && after().is_some_and(|s| s.in_effect().is_some())
    }

    /// Returns the measure that is moved to correct this one on a subject.
    fn moves(&self, on: Subject) -> MeasureId {
        if self.measure.id.as_str() != "aftertouch" {
            return self.measure.id.clone();
        }
        match (self.state.setup().following, on.note()) {
            (Some(FollowingLength::Blow), _) => MeasureId::of("blow"),
            (Some(FollowingLength::Dip), Some(note)) => MeasureId::of(dip_of(note)),
            _ => self.measure.id.clone(),
        }
    }

    /// Returns the movement that removes the deviation `off` from a reading.
    fn movement(
        &self,
        on: Subject,
        place: Place,
        now: i64,
        off: i64,
        near: i64,
    ) -> Option<Movement> {
        let wanted = Wanted {
            now,
            change: off.saturating_neg(),
            near,
        };
        if self.measure.id.as_str() == "aftertouch" {
            return self.aftertouch(on, place, wanted);
        }
        match self.measure.adjuster? {
            Adjuster::Turned { .. } => self.turn(on, wanted),
            Adjuster::BalancePunchings => Some(self.punchings(on, wanted, Rail::Balance)),
            Adjuster::FrontPunchings => Some(self.punchings(on, wanted, Rail::Front)),
            Adjuster::ByEye { part, directions } => Some(by_eye(part, directions, wanted.change)),
        }
    }

    /// Returns the movement that corrects an aftertouch: a change of the dip by the same amount, or
    /// a change of the blow by that amount times the action ratio, whichever is left to follow.
    fn aftertouch(&self, on: Subject, place: Place, wanted: Wanted) -> Option<Movement> {
        let now_of = |measure: &str| {
            let read = self.state.measure_state(measure, on, place)?.in_effect()?;
            Some(read.value.base())
        };
        match self.state.setup().following {
            None => Some(Movement::Missing(Missing::FollowingLength)),
            Some(FollowingLength::Aftertouch) => Some(Movement::Leave(LeaveReason::Follows)),
            Some(FollowingLength::Dip) => {
                let now = now_of(dip_of(on.note()?)).unwrap_or(0);
                Some(self.punchings(on, Wanted { now, ..wanted }, Rail::Front))
            }
            Some(FollowingLength::Blow) => {
                let ratio = self.ratio(on, place)?;
                let by_ratio = |nm: i64| Length::from_mm(Length::from_nm(nm).mm() * ratio).nm();
                let wanted = Wanted {
                    now: now_of("blow").unwrap_or(0),
                    change: by_ratio(wanted.change).saturating_neg(),
                    near: by_ratio(wanted.near),
                };
                match self.following?.adjuster? {
                    Adjuster::Turned { .. } => self.turn(on, wanted),
                    Adjuster::ByEye { part, directions } => {
                        Some(by_eye(part, directions, wanted.change))
                    }
                    Adjuster::BalancePunchings | Adjuster::FrontPunchings => None,
                }
            }
        }
    }

    /// Returns the action ratio of one note from its own readings, or from its aims if a length was
    /// not read.
    fn ratio(&self, on: Subject, place: Place) -> Option<f64> {
        let of = |measure: &str| {
            let read = self
                .state
                .measure_state(measure, on, place)
                .and_then(|s| s.in_effect());
            let nm = match read {
                Some(read) => read.value.base(),
                None => self.state.band(measure, on)?.aim,
            };
            Some(Length::from_nm(nm))
        };
        let travel = Travel {
            dip: of(dip_of(on.note()?)).or_else(|| of("natural_dip"))?,
            lost_motion: Length::ZERO,
            blow: of("blow")?,
            let_off: of("let_off")?,
            aftertouch: of("aftertouch")?,
        };
        travel.ratio().ok()
    }

    /// Returns what to do about the dip of a sharp. It has no target of its own: it is set to give
    /// the aftertouch.
    fn sharp_dip(&self, on: Subject, place: Place, reading: Value) -> Option<Advice> {
        let after = self
            .state
            .measure_state("aftertouch", on, place)
            .and_then(|s| s.in_effect());
        let judged = after.and_then(|r| self.state.judge("aftertouch", on, r.value));
        let again = ["sharp_dip", "aftertouch"]
            .into_iter()
            .find_map(|m| self.state.disturbed(m, on, place));
        let (seen, movement) = match (judged, again) {
            (None, _) => {
                let missing = Movement::Missing(Missing::Aftertouch);
                ((0, Verdict::Acceptable), missing)
            }
            (Some(j), Some(cause)) => {
                ((j.off, j.verdict), Movement::Remeasure { work: cause.work })
            }
            (Some(j), None) if j.verdict == Verdict::OnTarget => {
                ((j.off, j.verdict), Movement::Leave(LeaveReason::OnTarget))
            }
            (Some(j), None) => {
                let near = j.band.within.1.map_or(0, |high| high - j.band.aim) / 2;
                let movement = self.movement(on, place, reading.base(), j.off, near)?;
                ((j.off, j.verdict), movement)
            }
        };
        Some(self.advised(on, place, seen, movement))
    }

    fn turn(&self, on: Subject, wanted: Wanted) -> Option<Movement> {
        let responses = self.responses()?;
        let moved = self.following.unwrap_or(self.measure);
        let response = match on.note() {
            Some(note) => responses.of(self.state, moved.id.as_str(), note)?,
            None => responses.whole()?,
        };
        let target = Length::from_nm(wanted.now.saturating_add(wanted.change));
        let now = self.expected(responses, on, Length::from_nm(wanted.now));
        let screw = &responses.screw;
        Some(match correction(now, target, &response, screw) {
            Turned::Leave => Movement::Leave(LeaveReason::TooFine),
            Turned::TryFirst => trial(screw, wanted),
            Turned::Turn {
                turns,
                direction,
                expected,
                give_or_take,
            } => Movement::Turn {
                part: screw.part,
                direction,
                turns,
                expected: expected.nm(),
                give_or_take: give_or_take.nm(),
                trial: false,
            },
        })
    }

    /// Returns the value to turn from: of a first reading what the first readings of its section let expect.
    fn expected(&self, responses: &Responses, on: Subject, now: Length) -> Length {
        let of = || {
            // The length left to follow is turned for the sake of another reading.
            let note = on.note().filter(|_| self.following.is_none())?;
            let id = self.measure.id.as_str();
            let at = |place| self.state.measure_state(id, on, place)?.in_effect();
            let mut now = [Place::Bench, Place::Piano].into_iter().filter_map(at);
            let read = now.next()?;
            let is_alone = now.next().is_none();
            let first = responses
                .compared(note, read.position)
                .filter(|_| is_alone)?;
            Some(Length::from_mm(first.expected(read.value.length()?.mm())))
        };
        of().unwrap_or(now)
    }

    fn punchings(&self, on: Subject, wanted: Wanted, rail: Rail) -> Movement {
        let lever = match lever(self.state, on) {
            Ok(lever) => lever,
            Err(missing) => return Movement::Missing(missing),
        };
        let Some(stock) = self.stock() else {
            return Movement::Missing(Missing::Punchings);
        };
        let punching = |nm: i64| match rail {
            Rail::Balance => lever.punching_for_rise(Length::from_nm(nm)),
            Rail::Front => lever.punching_for_dip(Length::from_nm(nm)),
        };
        let present = present(self.state, on, rail);
        let exchange = stock.swap(
            &present,
            punching(wanted.change),
            punching(wanted.near).abs(),
        );
        let moved = match rail {
            Rail::Balance => lever.rise(exchange.change),
            Rail::Front => -lever.dip_taken(exchange.change),
        };
        let left = wanted.change.abs_diff(moved.nm());
        if exchange.change == Length::ZERO || left >= wanted.change.unsigned_abs() {
            return Movement::Leave(LeaveReason::TooFine);
        }
        Movement::Punchings {
            exchange,
            expected: wanted.now.saturating_add(moved.nm()),
        }
    }
}

/// The rail at which punchings lie under a key.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Rail {
    Balance,
    Front,
}

/// Returns a trial turn: 1/8 turn, or the resolution of the screw if that is coarser. It is large
/// enough to show what a turn does (M).
fn trial(screw: &Screw, wanted: Wanted) -> Movement {
    let size = screw.resolution.in_64ths().max(8);
    let (larger, smaller) = screw.directions;
    let (turns, direction) = match wanted.change < 0 {
        true => (Turns::from_64ths(-size), smaller),
        false => (Turns::from_64ths(size), larger),
    };
    let moved = Length::from_mm(turns.turns() * screw.mm_per_turn);
    Movement::Turn {
        part: screw.part,
        direction,
        turns,
        expected: wanted.now.saturating_add(moved.nm()),
        give_or_take: moved.abs().nm(),
        trial: true,
    }
}

fn by_eye(part: &'static str, directions: (&'static str, &'static str), change: i64) -> Movement {
    let (larger, smaller) = directions;
    Movement::ByEye {
        part,
        direction: if change < 0 { smaller } else { larger },
    }
}

/// Returns the measure of the dip of a note.
pub(super) const fn dip_of(note: Note) -> &'static str {
    if note.is_sharp() {
        "sharp_dip"
    } else {
        "natural_dip"
    }
}

/// Returns the lever of the key of a note; for the whole action that of a natural.
pub(super) fn lever(state: &State, on: Subject) -> Result<Lever, Missing> {
    let (key, missing) = match on.note() {
        Some(note) if note.is_sharp() => (state.setup().sharp_key, Missing::SharpKey),
        _ => (state.setup().natural_key, Missing::NaturalKey),
    };
    let key = key.ok_or(missing)?;
    // Lengths that cannot be a lever are asked for again.
    Lever::new(key.front_nm, key.back_nm, key.front_pin_nm).map_err(|_| missing)
}

/// Returns the punchings known from the log to lie under a key at a rail, thickest first: those put
/// in and not taken out since.
fn present(state: &State, on: Subject, rail: Rail) -> Vec<Length> {
    let measures: &[&str] = match rail {
        Rail::Balance => &["key_height", "natural_level", "sharp_level"],
        Rail::Front => &["natural_dip", "sharp_dip"],
    };
    let places = [Place::Bench, Place::Piano];
    let states = measures
        .iter()
        .flat_map(|m| places.map(|p| state.measure_state(m, on, p)));
    let mut changes: Vec<_> = states.flatten().flat_map(|s| s.changes()).collect();
    changes.sort_unstable_by_key(|c| c.position);
    let mut here: Vec<Length> = Vec::new();
    for change in changes {
        let Correction::Punchings(punchings) = &change.made else {
            continue;
        };
        for punching in punchings {
            if *punching > Length::ZERO {
                here.push(*punching);
            } else if let Some(at) = here.iter().position(|p| *p == -*punching) {
                here.remove(at);
            }
        }
    }
    here.sort_unstable_by_key(|p| std::cmp::Reverse(*p));
    here
}

/// Returns the readings that hold now and that a movement disturbs.
fn disturbed(state: &State, moves: &MeasureId, on: Subject, place: Place) -> Vec<Item> {
    reached(state, moves.as_str(), on, place)
        .filter(|(measure, on)| holds(state, measure, *on, place))
        .map(|(measure, on)| Item {
            measure: MeasureId::of(measure),
            on,
        })
        .collect()
}

#[cfg(test)]
mod tests;
