//! Before and after: the readings as found beside those as left, by measure.

use super::evenness::Evenness;
use super::weights::Weighed;
use crate::job::{Job, Reading, State, Subject};
use crate::note::Note;
use crate::trade::{Measure, Occasion, Per, Place, Verdict};
use crate::unit::{Force, Value};

/// The readings of one measure on one occasion, in its stored unit, with their statistics: at most one reading per
/// note. The default is no readings.
///
/// ```
/// use evenhand_core::analysis::compare::ReadingSet;
/// use evenhand_core::job::Job;
/// use evenhand_core::note::Note;
///
/// let job = Job::new();
/// let let_off = job.state().measure("let_off").unwrap();
/// // In nanometers: 2 mm is the aim, 4 mm is out.
/// let readings = vec![(Note::FIRST, 2_000_000), (Note::LAST, 4_000_000)];
/// let set = ReadingSet::of(job.state(), let_off, readings);
/// assert_eq!((set.out(), set.whole.unwrap().moments.mean), (1, 3_000_000.0));
/// assert_eq!(ReadingSet::default().whole, None);
/// ```
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ReadingSet {
    /// One reading per note, from the bass up.
    pub readings: Vec<(Note, i64)>,
    /// The statistics of all readings, or `None` if there are none.
    pub whole: Option<Evenness>,
    /// The statistics of each section, bass first.
    pub sections: Vec<Option<Evenness>>,
    /// How many notes of each section are in tolerance without a number: swept. Empty where none was asked for.
    pub swept: Vec<usize>,
}

impl ReadingSet {
    /// Computes the statistics by the targets in effect. A reading without a target counts as
    /// acceptable.
    pub fn of(state: &State, measure: &Measure, readings: Vec<(Note, i64)>) -> ReadingSet {
        let stands = |note, base| {
            let value = Value::from_base(measure.kind, base);
            let judged = state.judge(measure.id.as_str(), Subject::Note(note), value);
            judged.map_or(Verdict::Acceptable, |j| j.verdict)
        };
        ReadingSet {
            whole: Evenness::of(&readings, stands),
            sections: Evenness::by_section(&readings, state.sections(), stands),
            readings,
            swept: Vec::new(),
        }
    }

    /// Returns how many notes of a section, or of all, are in tolerance, and of how many: measured or swept. `None`
    /// if nothing is known of any.
    pub fn in_tolerance(&self, section: Option<usize>) -> Option<(usize, usize)> {
        let (figures, swept) = match section {
            Some(at) => (*self.sections.get(at)?, self.swept.get(at).copied()),
            None => (self.whole, Some(self.swept.iter().sum())),
        };
        let (within, of) = figures.map_or((0, 0), |f| (f.in_accept, f.moments.count));
        let swept = swept.unwrap_or(0);
        (of + swept > 0).then_some((within + swept, of + swept))
    }

    /// Returns how many readings are out of tolerance.
    pub fn out(&self) -> usize {
        self.whole.map_or(0, |e| e.moments.count - e.in_accept)
    }
}

/// One measure before and after the work. [`compared`] lists them; it has no default.
///
/// ```
/// use evenhand_core::analysis::compare::compared;
/// use evenhand_core::job::{Job, ReplicaId, Subject};
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::{MeasureId, Occasion, Place};
/// use evenhand_core::unit::{Length, Value};
///
/// let (let_off, on) = (MeasureId::of("let_off"), Subject::Note(Note::FIRST));
/// let mut job = Job::new();
/// for (place, occasion, mm) in [(Place::Piano, Occasion::AsFound, 4), (Place::Bench, Occasion::Working, 2)] {
///     let value = Value::Nm(Length::from_mm_hundredths(100 * mm));
///     job.apply(job.reading(ReplicaId::new(7), 0, let_off.clone(), on, place, occasion, value, ""));
/// }
/// let all = compared(&job);
/// assert_eq!((all[0].found.out(), all[0].left.out()), (1, 0));
/// assert_eq!(all[0].left_on_bench, 1);
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Compared {
    /// The measure.
    pub measure: Measure,
    /// Whether it has a target on any note.
    pub judged: bool,
    /// What was found: the survey's readings, otherwise the first of the job
    /// ([`State::found`]).
    pub found: ReadingSet,
    /// The readings as left: the latest that still hold.
    pub left: ReadingSet,
    /// How many of the readings as left were taken on the bench and not in the piano since.
    pub left_on_bench: usize,
}

/// Returns the latest reading on a subject that still holds, with its place. What the survey found
/// is not what was left, and a disturbed reading does not count.
pub fn left<'a>(state: &'a State, measure: &str, on: Subject) -> Option<(&'a Reading, Place)> {
    let latest = state.latest(measure, on)?;
    let holds = latest.cause.is_none() && latest.reading.occasion != Occasion::AsFound;
    holds.then_some((latest.reading, latest.place))
}

/// Returns the measures that are compared note by note, in the order of the work: numbers and
/// grades taken on notes. Heights of stand-ins and strings are set once and not among them.
pub fn quantities(state: &State) -> Vec<&Measure> {
    let mut all: Vec<&Measure> = Vec::new();
    let order = state.order();
    for id in order.steps().iter().flat_map(|s| &s.takes) {
        let Some(measure) = state.measure(id.as_str()) else {
            continue;
        };
        let on_notes = matches!(measure.per, Per::Note | Per::Natural | Per::Sharp);
        let compares = measure.kind.is_number() || !measure.grades.is_empty();
        if on_notes && compares && all.iter().all(|m| m.id != measure.id) {
            all.push(measure);
        }
    }
    all
}

/// Returns every measure that was read, before and after, with balance weight and friction after
/// the weights that they are computed from.
pub fn compared(job: &Job) -> Vec<Compared> {
    let state = job.state();
    let mut all: Vec<Compared> = Vec::new();
    for measure in quantities(state) {
        let id = measure.id.as_str();
        all.push(compare(
            state,
            measure,
            |on| found(state, id, on),
            |on| {
                let (reading, place) = left(state, id, on)?;
                Some((reading.value.base(), place))
            },
        ));
        if id == "up_weight" {
            all.extend(weights(state));
        }
    }
    all.retain(|c| !c.found.readings.is_empty() || !c.left.readings.is_empty());
    all
}

fn found(state: &State, measure: &str, on: Subject) -> Option<i64> {
    Some(state.found(measure, on)?.value.base())
}

/// Returns balance weight and friction before and after.
fn weights(state: &State) -> impl Iterator<Item = Compared> {
    let weighed = |down: i64, up: i64| {
        let [down, up] = [down, up].map(Force::from_mgf);
        Weighed::new(down, up).ok()
    };
    let before = move |on| {
        let [down, up] = ["down_weight", "up_weight"].map(|id| state.found_at(id, on));
        let ((down, place), (up, up_place)) = (down?, up?);
        let is_found = |r: &Reading| r.occasion == Occasion::AsFound;
        let together = place == up_place && is_found(down) == is_found(up);
        let weighed = || weighed(down.value.base(), up.value.base());
        together.then(weighed).flatten()
    };
    let after = move |on| {
        let [down, up] = ["down_weight", "up_weight"].map(|id| left(state, id, on));
        let ((down, place), (up, up_place)) = (down?, up?);
        let weighed = weighed(down.value.base(), up.value.base())?;
        (place == up_place).then_some((weighed, place))
    };
    ["balance_weight", "friction"]
        .into_iter()
        .filter_map(move |id| {
            let of = |weighed: Weighed| match id {
                "friction" => weighed.friction.mgf(),
                _ => weighed.balance_weight.mgf(),
            };
            let found = |on| before(on).map(of);
            let left = |on| after(on).map(|(weighed, place)| (of(weighed), place));
            Some(compare(state, state.measure(id)?, found, left))
        })
}

/// Compares a measure by what was found and what was left on a note.
fn compare(
    state: &State,
    measure: &Measure,
    found: impl Fn(Subject) -> Option<i64>,
    left: impl Fn(Subject) -> Option<(i64, Place)>,
) -> Compared {
    let id = measure.id.as_str();
    let (mut before, mut after, mut left_on_bench) = (Vec::new(), Vec::new(), 0);
    let mut judged = false;
    for note in Note::all() {
        let on = Subject::Note(note);
        judged |= state.band(id, on).is_some();
        if let Some(base) = found(on) {
            before.push((note, base));
        }
        if let Some((base, place)) = left(on) {
            after.push((note, base));
            left_on_bench += usize::from(place == Place::Bench);
        }
    }
    let sections = state.sections();
    let swept = |is: &dyn Fn(Subject) -> bool| {
        let mut counts = vec![0; sections.count()];
        for note in Note::all().filter(|note| is(Subject::Note(*note))) {
            counts[sections.of(note)] += 1;
        }
        counts
    };
    let mut found_set = ReadingSet::of(state, measure, before);
    let is_unread = |on: &Subject| {
        found_set
            .readings
            .iter()
            .all(|(note, _)| *on != Subject::Note(*note))
    };
    found_set.swept = swept(&|on| is_unread(&on) && state.is_swept_found(id, on));
    let mut left_set = ReadingSet::of(state, measure, after);
    left_set.swept = swept(&|on| state.swept_now(id, on).is_some());
    Compared {
        judged,
        found: found_set,
        left: left_set,
        left_on_bench,
        measure: measure.clone(),
    }
}
