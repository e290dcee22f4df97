//! The profile of a step: the readings of one measure, note by note, as found, now and as left,
//! with their bands and the statistics by section. The file is long because its types carry their examples.

use super::compare::ReadingSet;
use super::evenness::Evenness;
use super::weights::Weighed;
use crate::job::{Judged, Reading, State, Subject, Sweep};
use crate::note::{Color, Note};
use crate::trade::{Band, Measure, MeasureId, Occasion, Per, Place, Stage, Step, StepId, Verdict};
use crate::unit::{Kind, Value};

/// The occasions, in the order of the job.
pub const OCCASIONS: [Occasion; 3] = [Occasion::AsFound, Occasion::Working, Occasion::AsLeft];

/// One reading in the profile. [`mark`] returns it; it has no default.
///
/// ```
/// use evenhand_core::analysis::profile::mark;
/// use evenhand_core::job::{Job, ReplicaId, Subject};
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::{MeasureId, Occasion, Place, Verdict};
/// use evenhand_core::unit::{Length, Value};
///
/// let (on, value) = (Subject::Note(Note::FIRST), Value::Nm(Length::from_mm_hundredths(400)));
/// let mut job = Job::new();
/// let let_off = MeasureId::of("let_off");
/// job.apply(job.reading(ReplicaId::new(7), 0, let_off, on, Place::Bench, Occasion::Working, value, "4"));
/// let step = job.state().step("let_off").unwrap();
/// let mark = mark(job.state(), step, "let_off", on, Occasion::Working).unwrap();
/// assert_eq!((mark.value, mark.verdict(), mark.remeasure), (value, Some(Verdict::Out), false));
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mark {
    /// The reading.
    pub value: Value,
    /// The reading against its target, or `None` if there is no target.
    pub judged: Option<Judged>,
    /// Whether later work disturbed it, so that it must be re-measured.
    pub remeasure: bool,
}

impl Mark {
    /// Returns whether it is on target, acceptable or out, or `None` if there is no target.
    pub fn verdict(&self) -> Option<Verdict> {
        self.judged.map(|j| j.verdict)
    }
}

/// One note, section or the whole action in the profile. Part of [`Profile`]; it has no default.
///
/// ```
/// use evenhand_core::analysis::profile::Profile;
/// use evenhand_core::job::{Job, Subject};
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::MeasureId;
///
/// let job = Job::new();
/// let step = job.state().step("let_off").unwrap();
/// let profile = Profile::of(job.state(), step, &MeasureId::of("let_off")).unwrap();
/// let line = profile.lines[0];
/// assert_eq!((line.on, line.is_read()), (Subject::Note(Note::FIRST), false));
/// assert_eq!(line.band.unwrap().aim, 2_000_000);
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ProfileLine {
    /// The note, section or whole action.
    pub on: Subject,
    /// The band in effect there.
    pub band: Option<Band>,
    /// The readings, one for each of [`OCCASIONS`].
    pub marks: [Option<Mark>; 3],
    /// What holds now in the place of a reading: it was turned and not measured again, or looked along.
    pub swept: Option<Sweep>,
}

impl ProfileLine {
    /// Returns the reading of an occasion, given by its index in [`OCCASIONS`]; `None` for the present one where the note
    /// was settled without a number since.
    fn holds(&self, occasion: usize) -> Option<Mark> {
        self.marks[occasion].filter(|_| occasion != 1 || self.swept.is_none())
    }

    /// Returns whether there is any reading.
    pub fn is_read(&self) -> bool {
        self.marks.iter().any(Option::is_some)
    }
}

/// The statistics of one occasion, of one reading or more. Part of [`Profile`]; it has no default.
///
/// ```
/// use evenhand_core::analysis::profile::Profile;
/// use evenhand_core::job::{Job, ReplicaId, Subject};
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::{MeasureId, Occasion, Place};
/// use evenhand_core::unit::{Length, Value};
///
/// let (let_off, mut job) = (MeasureId::of("let_off"), Job::new());
/// for (note, mm) in [(Note::FIRST, 2), (Note::LAST, 4)] {
///     let (on, value) = (Subject::Note(note), Value::Nm(Length::from_mm_hundredths(100 * mm)));
///     let entry = job.reading(ReplicaId::new(7), 0, let_off.clone(), on, Place::Bench, Occasion::Working, value, "");
///     job.apply(entry);
/// }
/// let step = job.state().step("let_off").unwrap();
/// let [found, now, _] = Profile::of(job.state(), step, &let_off).unwrap().figures;
/// assert_eq!((found, now.unwrap().all.moments.mean), (None, 3_000_000.0));
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Figures {
    /// Over all notes that were measured.
    pub all: Evenness,
    /// Of each section, bass first, or `None` if it has no reading.
    pub sections: Vec<Option<Evenness>>,
}

/// One measure of a step over the instrument. [`Profile::of`] computes it; it has no default.
///
/// ```
/// use evenhand_core::analysis::profile::Profile;
/// use evenhand_core::job::Job;
/// use evenhand_core::trade::MeasureId;
///
/// let job = Job::new();
/// let step = job.state().step("let_off").unwrap();
/// let profile = Profile::of(job.state(), step, &MeasureId::of("let_off")).unwrap();
/// assert_eq!((profile.lines.len(), profile.count(1)), (88, 0));
/// assert!(profile.has_target());
/// assert!(Profile::of(job.state(), step, &MeasureId::of("no such measure")).is_none());
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Profile {
    /// The measure.
    pub measure: Measure,
    /// Every note (or section, or the whole action) that it is taken on, from the bass up.
    pub lines: Vec<ProfileLine>,
    /// The statistics, one for each of [`OCCASIONS`]; `None` without a reading on a note, and for
    /// grades and marks, which have no mean.
    pub figures: [Option<Figures>; 3],
}

impl Profile {
    /// Computes the profile of a measure as a step reads it, or returns `None` if there is no such
    /// measure.
    ///
    /// Readings of the work are those at the place of the step, so that readings on the bench and
    /// those against the strings are separate. Readings as found and as left are the same for both
    /// places; so is everything for a step that may be done at either.
    ///
    /// ```
    /// use evenhand_core::job::{ReplicaId, Job, JobId};
    /// use evenhand_core::analysis::profile::Profile;
    ///
    /// let demo = evenhand_core::demo::entries(JobId::new(1), ReplicaId::new(2), 1_790_000_000_000);
    /// let job = Job::from_entries(demo);
    /// let step = job.state().step("let_off").unwrap();
    /// let profile = Profile::of(job.state(), &step, &step.takes[0]).unwrap();
    /// let [found, now, left] = &profile.figures;
    /// assert_eq!(now.as_ref().unwrap().all.moments.count, 40);
    /// assert!(found.is_some() && left.is_none());
    /// ```
    pub fn of(state: &State, step: &Step, measure: &MeasureId) -> Option<Profile> {
        let measure = state.measure(measure.as_str())?;
        let lines: Vec<ProfileLine> = subjects(state, measure)
            .into_iter()
            .map(|on| line(state, step, measure, on))
            .collect();
        let figures = [0, 1, 2].map(|occasion| figures(state, measure, &lines, occasion));
        Some(Profile {
            measure: measure.clone(),
            lines,
            figures,
        })
    }

    /// Returns whether any note has a band.
    pub fn has_target(&self) -> bool {
        self.lines.iter().any(|l| l.band.is_some())
    }

    /// Returns the number of readings of an occasion, given by its index in [`OCCASIONS`].
    pub fn count(&self, occasion: usize) -> usize {
        let read = |l: &&ProfileLine| l.holds(occasion).is_some();
        self.lines.iter().filter(read).count()
    }
}

/// Returns everything that a measure can be taken on, from the bass up: all notes, even if the step
/// takes samples.
fn subjects(state: &State, measure: &Measure) -> Vec<Subject> {
    let of_colour = |color: Option<Color>| {
        Note::all()
            .filter(|n| color.is_none_or(|c| n.color() == c))
            .map(Subject::Note)
            .collect()
    };
    match measure.per {
        Per::Whole => vec![Subject::Whole],
        Per::Section => (0..state.sections().count() as u8)
            .map(Subject::Section)
            .collect(),
        Per::Natural => of_colour(Some(Color::Natural)),
        Per::Sharp => of_colour(Some(Color::Sharp)),
        Per::Note | Per::Sample | Per::SectionEnds | Per::Damped => of_colour(None),
    }
}

/// Returns the reading of an occasion that belongs to a step: during the work and as left the
/// latest, with its place.
fn reading<'a>(
    state: &'a State,
    step: &Step,
    measure: &str,
    on: Subject,
    occasion: Occasion,
) -> Option<(&'a Reading, Option<Place>)> {
    if occasion == Occasion::AsFound {
        return Some((state.surveyed(measure, on)?, None));
    }
    let own_place = match (occasion, step.occasion) {
        (Occasion::Working, Occasion::Working) => step.place,
        _ => None,
    };
    let at = |place| {
        Some((
            state.measure_state(measure, on, place)?.of(occasion)?,
            Some(place),
        ))
    };
    [Place::Bench, Place::Piano]
        .into_iter()
        .filter(|place| own_place.is_none_or(|own| own == *place))
        .filter_map(at)
        .max_by_key(|(reading, _)| reading.position)
}

/// Returns what was read, or computed from readings, of a measure on an occasion, as it belongs to
/// a step.
pub fn mark(state: &State, step: &Step, id: &str, on: Subject, occasion: Occasion) -> Option<Mark> {
    let (value, remeasure) = match id {
        "balance_weight" | "friction" => {
            let [down, up] =
                ["down_weight", "up_weight"].map(|id| mark(state, step, id, on, occasion));
            let (down, up) = (down?, up?);
            let weighed = Weighed::new(down.value.force()?, up.value.force()?).ok()?;
            let force = match id {
                "friction" => weighed.friction,
                _ => weighed.balance_weight,
            };
            (
                Value::from_base(Kind::Force, force.mgf()),
                down.remeasure || up.remeasure,
            )
        }
        _ => {
            let (reading, place) = reading(state, step, id, on, occasion)?;
            // Only the reading in effect can need re-measuring; a reading as found or replaced cannot.
            let remeasure = place.is_some_and(|place| {
                let in_effect = state
                    .measure_state(id, on, place)
                    .and_then(|measure_state| measure_state.in_effect());
                in_effect.is_some_and(|r| r.position == reading.position)
                    && state.disturbed(id, on, place).is_some()
            });
            (reading.value, remeasure)
        }
    };
    Some(Mark {
        value,
        judged: state.judge(id, on, value),
        remeasure,
    })
}

fn line(state: &State, step: &Step, measure: &Measure, on: Subject) -> ProfileLine {
    let id = measure.id.as_str();
    ProfileLine {
        on,
        band: state.band(id, on),
        marks: OCCASIONS.map(|occasion| mark(state, step, id, on, occasion)),
        swept: state.swept_now(id, on).copied(),
    }
}

fn figures(
    state: &State,
    measure: &Measure,
    lines: &[ProfileLine],
    occasion: usize,
) -> Option<Figures> {
    if !measure.kind.is_number() {
        return None;
    }
    let read = lines
        .iter()
        .filter_map(|l| Some((l.on.note()?, l.holds(occasion)?.value.base())));
    let row = ReadingSet::of(state, measure, read.collect());
    Some(Figures {
        all: row.whole?,
        sections: row.sections,
    })
}

/// A measure that has a profile, listed under the step that works on it. [`choices`] lists them; it has no default.
///
/// ```
/// use evenhand_core::analysis::profile::choices;
/// use evenhand_core::job::Job;
/// use evenhand_core::trade::Stage;
///
/// let all = choices(Job::new().state());
/// let let_off = all.iter().find(|c| c.measure.as_str() == "let_off").unwrap();
/// assert_eq!((let_off.stage, let_off.read), (Stage::Regulate, 0));
/// // A tick has no profile.
/// assert!(all.iter().all(|c| c.measure.as_str() != "dust"));
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Choice {
    /// The step.
    pub step: StepId,
    /// Its stage.
    pub stage: Stage,
    /// The measure.
    pub measure: MeasureId,
    /// Its name for people.
    pub name: String,
    /// The number of notes or sections with a reading.
    pub read: usize,
}

/// Returns the measures that have a profile, in the order of the job: all that are taken on notes
/// or sections, except ticks. One that the survey or the final check shares with the work is listed
/// under the work.
pub fn choices(state: &State) -> Vec<Choice> {
    let order = state.order();
    let works = |step: &Step| step.occasion == Occasion::Working;
    let worked_on = |id: &MeasureId| {
        let mut steps = order.steps().iter().filter(|s| works(s));
        steps.any(|s| s.yields().any(|m| m == *id))
    };
    let mut choices: Vec<Choice> = Vec::new();
    for step in order.steps() {
        for id in step.yields() {
            let Some(measure) = state.measure(id.as_str()) else {
                continue;
            };
            let pictured = measure.kind != Kind::Tick && measure.per != Per::Whole;
            let elsewhere = !works(step)
                && (worked_on(&id) || choices.iter().any(|c: &Choice| c.measure == id));
            if !pictured || elsewhere {
                continue;
            }
            let on = subjects(state, measure);
            let name = measure.name.to_string();
            let is_read = |on: &&Subject| {
                let mut occasions = OCCASIONS.into_iter();
                occasions.any(|o| mark(state, step, id.as_str(), **on, o).is_some())
            };
            let read = on.iter().filter(is_read).count();
            choices.push(Choice {
                step: step.id.clone(),
                stage: step.stage,
                measure: id,
                name,
                read,
            });
        }
    }
    choices
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::{Job, JobId, ReplicaId};

    fn demo() -> Job {
        let entries = crate::demo::entries(JobId::new(1), ReplicaId::new(2), 1_790_000_000_000);
        Job::from_entries(entries)
    }

    fn profile(job: &Job, step: &str, measure: &str) -> Profile {
        let step = job.state().step(step).unwrap();
        Profile::of(job.state(), step, &MeasureId::from(measure)).unwrap()
    }

    fn read(job: &mut Job, place: Place, occasion: Occasion, mm: i64) {
        let entry = job.reading(
            ReplicaId::new(2),
            1_790_000_000_000,
            MeasureId::of("let_off"),
            Subject::Note(Note::FIRST),
            place,
            occasion,
            Value::from_base(Kind::Length, mm * 1_000_000),
            "",
        );
        job.apply(entry);
    }

    #[test]
    fn what_was_found_and_what_is_now_stand_side_by_side() {
        let job = demo();
        let let_off = profile(&job, "let_off", "let_off");
        assert_eq!(let_off.lines.len(), 88);
        assert_eq!(let_off.count(1), 40);
        // The sample notes, and nothing else, were read as found.
        assert_eq!(let_off.count(0), job.state().samples().len());
        let out = |l: &&ProfileLine| l.marks[1].and_then(|m| m.verdict()) == Some(Verdict::Out);
        assert_eq!(let_off.lines.iter().filter(out).count(), 5);
    }

    #[test]
    fn balance_weight_and_friction_have_a_picture_where_both_weights_were_read() {
        let job = demo();
        let state = job.state();
        let [weight, friction] =
            ["balance_weight", "friction"].map(|id| profile(&job, "weights", id));
        assert_eq!(weight.count(0), state.samples().len());
        for (weight, friction) in weight.lines.iter().zip(&friction.lines) {
            let found = |id| Some(state.surveyed(id, weight.on)?.value.base());
            let read = found("down_weight").zip(found("up_weight"));
            let computed = [weight, friction].map(|l| l.marks[0].map(|m| m.value.base()));
            assert_eq!(computed[0], read.map(|(down, up)| (down + up) / 2));
            assert_eq!(computed[1], read.map(|(down, up)| (down - up) / 2));
        }
        // The target falls from 16 gf to 11 over the notes.
        let aims = [0, 87].map(|i: usize| friction.lines[i].band.unwrap().aim);
        assert_eq!(aims, [16_000, 11_000]);
        let choices = choices(state);
        let weighed = choices.iter().filter(|c| c.step.as_str() == "weights");
        assert_eq!(weighed.count(), 4);
    }

    #[test]
    fn the_figures_of_the_sections_add_up_to_those_of_all() {
        let job = demo();
        let blow = profile(&job, "blow", "blow");
        let now = blow.figures[1].as_ref().unwrap();
        let sum =
            |of: fn(&Evenness) -> usize| -> usize { now.sections.iter().flatten().map(of).sum() };
        assert_eq!(sum(|e| e.moments.count), now.all.moments.count);
        assert_eq!(sum(|e| e.in_aim), now.all.in_aim);
        assert_eq!(sum(|e| e.in_accept), now.all.in_accept);
    }

    #[test]
    fn a_disturbed_reading_is_told_from_one_that_holds() {
        let job = demo();
        let aftertouch = profile(&job, "aftertouch", "aftertouch");
        let remeasure = |l: &&ProfileLine| l.marks[1].is_some_and(|m| m.remeasure);
        let notes: Vec<u8> = aftertouch
            .lines
            .iter()
            .filter(remeasure)
            .filter_map(|l| Some(l.on.note()?.number()))
            .collect();
        assert_eq!(notes, [11, 12, 24]);
        let found = |l: &&ProfileLine| l.marks[0].is_some_and(|m| m.remeasure);
        assert_eq!(aftertouch.lines.iter().filter(found).count(), 0);
    }

    #[test]
    fn a_reading_against_the_strings_does_not_hide_that_of_the_bench() {
        let mut job = Job::new();
        read(&mut job, Place::Bench, Occasion::Working, 2);
        read(&mut job, Place::Piano, Occasion::Working, 3);
        read(&mut job, Place::Piano, Occasion::AsLeft, 4);
        let at = |step| {
            profile(&job, step, "let_off").lines[0]
                .marks
                .map(|m| m.map(|m| m.value.base()))
        };
        assert_eq!(at("let_off"), [None, Some(2_000_000), Some(4_000_000)]);
        assert_eq!(
            at("final_regulation"),
            [None, Some(3_000_000), Some(4_000_000)]
        );
    }

    #[test]
    fn a_measure_of_one_colour_has_its_notes_alone() {
        let job = demo();
        assert_eq!(profile(&job, "natural_dip", "natural_dip").lines.len(), 52);
        assert_eq!(profile(&job, "sharp_level", "sharp_level").lines.len(), 36);
    }

    #[test]
    fn each_measure_that_has_a_picture_is_offered_once_where_it_is_worked_on() {
        let job = demo();
        let choices = choices(job.state());
        let steps = |measure: &str| -> Vec<&str> {
            let of = choices.iter().filter(|c| c.measure.as_str() == measure);
            of.map(|c| c.step.as_str()).collect()
        };
        assert_eq!(steps("let_off"), ["let_off", "final_regulation"]);
        assert_eq!(steps("string_height"), ["string_height"]);
        // A tick and what is taken of the whole have none.
        assert!(steps("action_out").is_empty() && steps("humidity").is_empty());
        let let_off = choices
            .iter()
            .find(|c| c.step.as_str() == "let_off")
            .unwrap();
        assert!((40..88).contains(&let_off.read));
    }
}
