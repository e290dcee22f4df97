//! From the log to beliefs: the readings and turns of a note in their order, and what other work did to it.

use std::cell::OnceCell;

use super::super::advice::lever;
use super::super::learned::{Responses, learned};
use super::super::travel::Travel;
use super::look::Look;
use super::model::{Belief, VERIFIED, turned};
use super::repeat::{mm, noise};
use crate::job::{Change, Correction, LogPosition, MeasureView, State, Subject};
use crate::note::Note;
use crate::trade::{Adjuster, Occasion, Place};
use crate::unit::{Kind, Length};

/// The part of its dip that a punching takes, since it is compressed under the felt, and the standard deviation (M).
const PUNCHING: (f64, f64) = (0.95, 0.05);

/// A change of a value by work: where in the log, by how much in mm, and the variance; infinite if nothing is known of it.
#[derive(Clone, Copy, Debug)]
pub struct Move {
    position: LogPosition,
    change: f64,
    variance: f64,
}

/// What is known of a note after all entries.
#[derive(Debug, Default)]
pub struct Walk {
    pub belief: Option<Belief>,
    /// The moves by work on the measure itself, corrected by the readings after them.
    moves: Vec<Move>,
}

/// What says something of a note: a reading, or a look along the row.
enum Seen {
    Read(LogPosition, Option<f64>),
    Looked(LogPosition),
}

/// How a change of another measure moves this one: the factor, and its standard deviation.
type Coupling = (f64, f64);

/// Returns the measures that work on a measure moves by a known amount.
pub fn moved_by(measure: &str) -> &'static [&'static str] {
    match measure {
        "let_off" => &["drop", "aftertouch"],
        "blow" => &["aftertouch"],
        "natural_dip" | "sharp_dip" => &["aftertouch", "checking"],
        _ => &[],
    }
}

/// Returns the measures that move this one by a known amount, and how; `ratio` is the action ratio.
fn inputs(measure: &str, ratio: f64) -> Vec<(&'static str, Coupling)> {
    match measure {
        "drop" => vec![("let_off", (-0.5, 0.2))],
        "aftertouch" => vec![
            ("natural_dip", (1.0, 0.0)),
            ("sharp_dip", (1.0, 0.0)),
            ("blow", (-1.0 / ratio, 0.02)),
            ("let_off", (1.0 / ratio, 0.02)),
        ],
        // By the punching, which is a little less than the dip in front of its pin.
        "checking" => vec![("natural_dip", (-0.9, 0.1)), ("sharp_dip", (-0.9, 0.1))],
        _ => Vec::new(),
    }
}

/// One measure at one place, looked up once for all notes.
pub struct Walker<'a> {
    state: &'a State,
    id: &'a str,
    view: MeasureView<'a>,
    place: Place,
    /// The latest look along the row over each note; empty if there is none.
    looks: Vec<Option<LogPosition>>,
    noise: f64,
    responses: Option<Responses>,
    inputs: Vec<Input<'a>>,
    eye: Option<Eye>,
}

/// A measure that moves the one walked.
struct Input<'a> {
    id: &'static str,
    view: MeasureView<'a>,
    by: Coupling,
    /// Made when a note needs it: often nothing was moved since the first reading.
    walker: OnceCell<Option<Walker<'a>>>,
}

impl<'a> Input<'a> {
    /// Returns `None` if the measure is not a length.
    fn of(state: &'a State, id: &'static str, by: Coupling) -> Option<Input<'a>> {
        let view = state.looked(id);
        let is_length = view.measure.is_some_and(|m| m.kind == Kind::Length);
        is_length.then(|| Input {
            id,
            view,
            by,
            walker: OnceCell::new(),
        })
    }

    /// Adds the moves of another measure by work on this one, if there was any after a position.
    fn add_moves(
        &self,
        of: &Walker<'a>,
        note: Note,
        after: Option<LogPosition>,
        to: &mut Vec<Move>,
    ) {
        let own = self.view.measure_state(Subject::Note(note), of.place);
        let last = own.and_then(|own| own.changes().next_back());
        if last.is_none_or(|last| after.is_none_or(|after| last.position < after)) {
            return;
        }
        let walker = || Walker::new(of.state, self.id, of.place);
        let Some(walker) = self.walker.get_or_init(walker) else {
            return;
        };
        let (factor, sd) = self.by;
        let moves = walker.walk(note, &mut Vec::new()).0.moves;
        to.extend(moves.into_iter().map(|m| Move {
            change: factor * m.change,
            variance: factor * factor * m.variance + (sd * m.change).powi(2),
            ..m
        }));
    }
}

/// How far from its aim a measure was after it was bent or set by eye.
struct Eye {
    /// The mean square less that of a reading, in mm².
    variance: f64,
    /// How many notes were measured after. The eye is the same in every section.
    count: usize,
}

impl Eye {
    fn of(state: &State, id: &str, place: Place, noise: f64) -> Option<Eye> {
        let view = state.looked(id);
        let Adjuster::ByEye { .. } = view.measure?.adjuster? else {
            return None;
        };
        let mut count = 0;
        let (mut squares, mut accepted) = (0.0, 0.0f64);
        for note in Note::all() {
            let on = Subject::Note(note);
            let (Some(band), Some(known)) = (view.band(on), view.measure_state(on, place)) else {
                continue;
            };
            accepted = Length::from_nm(band.accept.1.unwrap_or(band.aim) - band.aim).mm();
            let mut changes = known.changes().peekable();
            for reading in known.readings() {
                let mut bent = false;
                while let Some(change) = changes.next_if(|c| c.position < reading.position) {
                    bent = change.made == Correction::ByEye;
                }
                if let Some(value) = mm(reading.value).filter(|_| bent) {
                    squares += (value - Length::from_nm(band.aim).mm()).powi(2);
                    count += 1;
                }
            }
        }
        let read_after = count as f64;
        let assumed = 4.0 * (accepted / 4.0).powi(2);
        let read = read_after * noise;
        Some(Eye {
            variance: (assumed + (squares - read).max(0.0)) / (4.0 + read_after),
            count,
        })
    }
}

impl<'a> Walker<'a> {
    /// Returns `None` if the measure is not a length.
    pub fn new(state: &'a State, id: &'a str, place: Place) -> Option<Walker<'a>> {
        let inputs = inputs(id, ratio(state)).into_iter();
        let inputs = inputs.filter_map(|(id, by)| Input::of(state, id, by));
        let noise = noise(state, id)?;
        let view = state.looked(id);
        Some(Walker {
            state,
            id,
            looks: view.latest_looks(place),
            view,
            place,
            noise,
            responses: learned(state, id),
            inputs: inputs.collect(),
            eye: Eye::of(state, id, place, noise),
        })
    }

    /// Returns whether enough turns of each section were measured; what is not turned follows from lengths alone.
    pub fn verified(&self) -> Vec<bool> {
        let sections = 0..self.state.sections().count();
        let is_verified = |section: usize| match &self.responses {
            None if let Some(eye) = &self.eye => eye.count >= VERIFIED,
            Some(known) => known.section(section).is_some_and(|r| r.used >= VERIFIED),
            None => true,
        };
        sections.map(is_verified).collect()
    }

    /// Returns what is known of a note after all entries. Adds the readings after its own turns to `seen`, each with its
    /// distance from what was expected, in standard deviations.
    pub fn note(&self, note: Note, seen: &mut Vec<(LogPosition, f64)>) -> Walk {
        let (mut walk, read) = self.walk(note, seen);
        if !read.is_some_and(|read| self.is_accounted_for(read, Subject::Note(note))) {
            walk.belief = None;
        }
        walk
    }

    /// Walks through the entries of a note, and returns with what they say the latest that was measured or looked along.
    /// Other work may have spoiled it since.
    fn walk(&self, note: Note, seen: &mut Vec<(LogPosition, f64)>) -> (Walk, Option<LogPosition>) {
        let on = Subject::Note(note);
        let own = self.view.measure_state(on, self.place);
        let look = self.looks.get(note.index()).copied().flatten();
        if own.is_none() && look.is_none() {
            return (Walk::default(), None);
        }
        // What moved it before anything was known of it changes nothing that is known.
        let read = own.and_then(|own| own.readings().find(|r| r.occasion != Occasion::AsFound));
        let changed = own.and_then(|own| own.changes().next());
        let positions = [read.map(|r| r.position), changed.map(|c| c.position), look];
        let known_from = positions.into_iter().flatten().min();
        let mut outside: Vec<Move> = Vec::new();
        for input in &self.inputs {
            input.add_moves(self, note, known_from, &mut outside);
        }
        outside.sort_unstable_by_key(|m| m.position);
        let mut outside = outside.into_iter().peekable();
        let mut changes = own.into_iter().flat_map(|o| o.changes()).peekable();
        let mut walk = Walk::default();
        // The moves since the latest reading, in one, and what was known before them.
        let mut pending: Option<(Move, Option<Belief>)> = None;
        let mut read = None;
        let readings = |before: bool| {
            let all = own.into_iter().flat_map(|o| o.readings());
            let meant = all.filter(move |r| {
                let is_before = look.is_none_or(|look| r.position < look);
                r.occasion != Occasion::AsFound && is_before == before
            });
            meant.map(|r| Seen::Read(r.position, mm(r.value)))
        };
        let seen_in_order = readings(true).chain(look.map(Seen::Looked));
        for now in seen_in_order.chain(readings(false)).map(Some).chain([None]) {
            let end = now
                .as_ref()
                .map(|(Seen::Read(at, _) | Seen::Looked(at))| *at);
            let before = |at: LogPosition| end.is_none_or(|end| at < end);
            loop {
                let change = changes.peek().map(|c| c.position).filter(|at| before(*at));
                let other = outside.peek().map(|m| m.position).filter(|at| before(*at));
                let by_own = match (change, other) {
                    (None, None) => break,
                    (Some(change), Some(other)) => change < other,
                    (change, _) => change.is_some(),
                };
                let mut by_eye = false;
                let made = match by_own {
                    true => changes.next().map(|c| {
                        by_eye = c.made == Correction::ByEye;
                        self.move_of(note, c)
                    }),
                    false => outside.next(),
                };
                let Some(made) = made else { break };
                if by_own {
                    let (sum, _) = pending.get_or_insert((
                        Move {
                            change: 0.0,
                            variance: 0.0,
                            ..made
                        },
                        walk.belief,
                    ));
                    sum.change += made.change;
                    sum.variance += made.variance;
                }
                if by_eye {
                    let aim = self
                        .view
                        .band(on)
                        .map(|band| Length::from_nm(band.aim).mm());
                    walk.belief = self.eye.as_ref().zip(aim).map(|(eye, mean)| Belief {
                        mean,
                        variance: eye.variance,
                    });
                    continue;
                }
                walk.belief = walk
                    .belief
                    .filter(|_| made.variance.is_finite())
                    .map(|b| b.moved(made.change, made.variance));
            }
            let (position, value) = match now {
                Some(Seen::Read(at, Some(value))) => (at, value),
                Some(Seen::Looked(at)) => {
                    if let Some(known) = self.looked(on, walk.belief.zip(read)) {
                        (walk.belief, read) = (Some(known), Some(at));
                        walk.moves.extend(pending.take().map(|(made, _)| made));
                    }
                    continue;
                }
                _ => continue,
            };
            read = Some(position);
            let moved = pending.take();
            let Some(belief) = walk.belief else {
                walk.belief = Some(self.first(note, position, value));
                // A move of which nothing is known is the difference of two readings.
                if let Some((made, was)) = moved {
                    walk.moves.push(was.map_or(made, |was| Move {
                        change: value - was.mean,
                        variance: was.variance + self.noise,
                        ..made
                    }));
                }
                continue;
            };
            let update = belief.read(value, self.noise);
            if let Some((mut made, was)) = moved {
                seen.push((position, update.z));
                match was {
                    Some(was) if update.gain == 1.0 => {
                        made.change = value - was.mean;
                        made.variance = was.variance + self.noise;
                    }
                    _ => {
                        let gain = made.variance / (belief.variance + self.noise);
                        made.change += gain * (value - belief.mean);
                        made.variance *= 1.0 - gain;
                    }
                }
                walk.moves.push(made);
            }
            walk.belief = Some(update.belief);
        }
        walk.moves.extend(pending.map(|(made, _)| made));
        (walk, read)
    }

    /// Returns what is known after a look, with what was known before and by which reading. `None` if nothing is known of
    /// such looks.
    fn looked(&self, on: Subject, before: Option<(Belief, LogPosition)>) -> Option<Belief> {
        let mut look = Look::of(self.id)?;
        let band = self.view.band(on)?;
        let aim = Length::from_nm(band.aim).mm();
        let before = before.filter(|(_, read)| self.is_accounted_for(*read, on));
        if before.is_some() {
            // A final look flags what looks out.
            let accepted = Length::from_nm(band.accept.1.unwrap_or(band.aim) - band.aim);
            look.flagged = accepted.mm().max(look.flagged);
        }
        let before = before.map_or(Belief::unknown(aim), |(known, _)| known);
        Some(before.looked(aim, look))
    }

    /// Returns what is known after a first reading.
    fn first(&self, note: Note, position: LogPosition, value: f64) -> Belief {
        let known = self.responses.as_ref();
        match known.and_then(|r| r.compared(note, position)) {
            Some(first) => Belief {
                mean: first.expected(value),
                variance: self.noise * (1.0 - first.pull).max(0.1),
            },
            None => Belief {
                mean: value,
                variance: self.noise,
            },
        }
    }

    fn move_of(&self, note: Note, change: &Change) -> Move {
        let (change_mm, variance) = match &change.made {
            Correction::Turned(turns) => {
                let section = self.state.sections().of(note);
                let known = self.responses.as_ref().and_then(|r| r.section(section));
                known.map(|known| turned(turns.turns(), known))
            }
            Correction::Punchings(punchings) if self.id.ends_with("_dip") => {
                let thicker = punchings.iter().fold(Length::ZERO, |sum, p| sum + *p);
                lever(self.state, Subject::Note(note)).ok().map(|lever| {
                    let taken = lever.dip_taken(thicker).mm();
                    (-PUNCHING.0 * taken, (PUNCHING.1 * taken).powi(2))
                })
            }
            _ => None,
        }
        .unwrap_or((0.0, f64::INFINITY));
        Move {
            position: change.position,
            change: change_mm,
            variance,
        }
    }

    /// Returns whether all work that voids a reading is in the walk: entered turns of the note itself, and of what
    /// moves it by a known amount.
    fn is_accounted_for(&self, read: LogPosition, on: Subject) -> bool {
        let entered = |view: &MeasureView<'_>, position: LogPosition| {
            let known = view.measure_state(on, self.place);
            known.is_some_and(|k| k.changes().rev().any(|c| c.position == position))
        };
        let works = self.view.works_since(read, on, self.place);
        works.into_iter().all(|(id, from, position)| {
            from == on
                && match id == self.id {
                    true => entered(&self.view, position),
                    false => {
                        let mut inputs = self.inputs.iter();
                        let input = inputs.find(|input| input.id == id);
                        input.is_some_and(|input| entered(&input.view, position))
                    }
                }
        })
    }
}

/// Returns the action ratio by the aims of the job, or 5 if there are none (M).
fn ratio(state: &State) -> f64 {
    let aim = |measure: &str| {
        let band = state.band(measure, Subject::Note(Note::FIRST))?;
        Some(Length::from_nm(band.aim))
    };
    let of = || {
        let travel = Travel {
            dip: aim("natural_dip")?,
            lost_motion: Length::ZERO,
            blow: aim("blow")?,
            let_off: aim("let_off")?,
            aftertouch: aim("aftertouch")?,
        };
        travel.ratio().ok()
    };
    of().filter(|ratio| (1.0..20.0).contains(ratio))
        .unwrap_or(5.0)
}
