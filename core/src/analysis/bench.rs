//! The heights of a job: strings, their stand-in on the bench and whether it is off, hammers at rest,
//! and the differences after the action returned to the piano. The calculations are those of [`super::heights`].

use super::SumError;
use super::heights::{
    ActionReturn, BenchOffset, Control, HeightAdvice, NoteLengths, after_return, hammers_at_rest,
    stand_in, string_heights,
};
use crate::job::{LogPosition, State, Subject};
use crate::note::Note;
use crate::trade::{Occasion, Place};
use crate::unit::Length;

/// The heights of all 88 notes, as far as they follow from the readings. [`heights`] computes them; it has no default.
///
/// ```
/// use evenhand_core::analysis::bench::heights;
/// use evenhand_core::job::{ControlNote, EntryKind, Job, ReplicaId, Setup, Subject};
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::{MeasureId, Occasion, Place};
/// use evenhand_core::unit::{Length, Value};
///
/// let (mm, phone) = (|mm: i64| Length::from_mm_hundredths(100 * mm), ReplicaId::new(7));
/// let mut job = Job::new();
/// let control = ControlNote { note: Note::FIRST, bench_nm: mm(160), key_bed_nm: mm(145) };
/// let set = Box::new(Setup { control_notes: Some(vec![control]), ..Setup::default() });
/// job.apply(job.draft(phone, 0, EntryKind::Setup { set }));
/// let (height, on, read) = (MeasureId::of("string_height"), Subject::Note(Note::FIRST), Value::Nm(mm(190)));
/// job.apply(job.reading(phone, 0, height, on, Place::Piano, Occasion::AsFound, read, "190"));
/// let found = heights(job.state());
/// assert_eq!((found.strings[0], found.stand_in[0]), (Some(mm(190)), Some(mm(205))));
/// assert_eq!(found.missing, [Note::LAST]);
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Heights {
    /// Strings above the key bed.
    pub strings: NoteLengths,
    /// The bench offset from the control notes of the setup: how much higher a height reads on the
    /// bench.
    pub offset: Result<BenchOffset, SumError>,
    /// The stand-in strings above the bench datum; all `None` if the offset is unknown.
    pub stand_in: NoteLengths,
    /// Hammers at rest above the key bed, at the target blow.
    pub at_rest: NoteLengths,
    /// Hammers at rest above the bench datum.
    pub at_rest_on_bench: NoteLengths,
    /// The ends of sections whose string height was not measured.
    pub missing: Vec<Note>,
}

/// Returns the heights of a job.
///
/// Strings are measured in the survey at both ends of each section; the latest reading counts. What
/// is missing is reported: [`Heights::missing`] lists readings to take, and an error in
/// [`Heights::offset`] asks for control notes
/// ([`Setup::control_notes`](crate::job::Setup::control_notes)).
///
/// ```
/// use evenhand_core::job::Job;
/// use evenhand_core::analysis::bench::heights;
///
/// let unread = heights(Job::new().state());
/// assert_eq!(unread.missing.len(), 2);
/// assert!(unread.offset.is_err());
/// ```
pub fn heights(state: &State) -> Heights {
    let sections = state.sections();
    let read: Vec<(Note, Length)> = Note::all()
        .filter_map(|note| Some((note, state.string_height(note)?)))
        .collect();
    let strings = string_heights(sections, &read);
    let controls = state.setup().control_notes.iter().flatten();
    let controls: Vec<Control> = controls
        .map(|c| Control {
            note: c.note,
            bench: c.bench_nm,
            key_bed: c.key_bed_nm,
        })
        .collect();
    let offset = BenchOffset::of(&controls);
    let on_bench = |row: &NoteLengths| match &offset {
        Ok(found) => stand_in(row, found.offset),
        Err(_) => [None; Note::COUNT],
    };
    let mut blow = [None; Note::COUNT];
    for note in Note::all() {
        let band = state.band("blow", Subject::Note(note));
        blow[note.index()] = band.map(|b| Length::from_nm(b.aim));
    }
    let at_rest = hammers_at_rest(&strings, &blow);
    let unread = |note: &Note| read.iter().all(|(n, _)| n != note);
    Heights {
        stand_in: on_bench(&strings),
        at_rest_on_bench: on_bench(&at_rest),
        missing: sections.all_ends().into_iter().filter(unread).collect(),
        strings,
        at_rest,
        offset,
    }
}

/// Returns a sentence for each section whose stand-in is out, by the end that is farthest off: of one
/// section, or of all of them.
pub(super) fn stand_in_sentences(state: &State, section: Option<usize>) -> Vec<String> {
    let sections = state.sections();
    let off = |at: usize| {
        let ends = sections.all_ends().into_iter();
        let ends = ends.filter(|note| sections.of(*note) == at);
        let off = ends.filter_map(|note| {
            let latest = state.latest("stand_in", Subject::Note(note))?;
            latest.is_out().then_some(latest.judged?.off)
        });
        let nm = off.max_by_key(|off| off.unsigned_abs())?;
        let how = if nm > 0 { "high" } else { "low" };
        let length = Length::from_nm(nm).abs().brief(state.length_unit());
        Some(format!("Stand-in of section {} is {length} {how}.", at + 1))
    };
    let asked = (0..sections.count()).filter(|at| section.is_none_or(|s| s == *at));
    asked.filter_map(off).collect()
}

/// Returns how the action came back into the piano, by section, or `None` if the action is out or
/// no note was measured at both places.
///
/// It compares the blow of the notes measured on the bench and again in the piano, before anything
/// was turned there, with the tolerance of the blow.
///
/// ```
/// use evenhand_core::job::Job;
/// use evenhand_core::analysis::bench::returned;
///
/// assert_eq!(returned(Job::new().state()), None);
/// ```
pub fn returned(state: &State) -> Option<ActionReturn> {
    let pairs: Vec<(Note, Length, Length)> = pairs(state).into_iter().map(|p| p.read).collect();
    let (first, ..) = pairs.first()?;
    let band = state.band("blow", Subject::Note(*first))?;
    let aim = Length::from_nm(band.within.1?.saturating_sub(band.aim));
    Some(after_return(state.sections(), &pairs, aim))
}

/// Returns how the action came back, as sentences: of one section, or of all of them. Empty where
/// nothing came back otherwise than it left the bench, and once every control note of the section
/// was turned or measured again in the piano.
pub fn returned_sentences(state: &State, section: Option<usize>) -> Vec<String> {
    let Some(back) = returned(state) else {
        return Vec::new();
    };
    let came = |mean: Length| {
        let how = if mean > Length::ZERO { "long" } else { "short" };
        format!("came back {} {how}.", mean.abs().brief(state.length_unit()))
    };
    let stands: Vec<usize> = pairs(state)
        .iter()
        .filter(|p| p.stands)
        .map(|p| state.sections().of(p.read.0))
        .filter(|of| section.is_none_or(|s| s == *of))
        .collect();
    if let (Some(mean), false) = (back.whole, stands.is_empty()) {
        return vec![format!(
            "The whole action {} Check how the key frame is bedded before you turn single notes.",
            came(mean)
        )];
    }
    let sections = back.sections.iter();
    let said = sections.filter(|s| stands.contains(&s.section));
    said.filter_map(|s| {
        let todo = match s.advice {
            HeightAdvice::MoveSection(_) => {
                "Check its stand-in and string heights; then turn its capstans by the same amount before you turn single notes."
            }
            HeightAdvice::ReadMore => "Measure one more.",
            HeightAdvice::Leave | HeightAdvice::AdjustNotes(_) => return None,
        };
        Some(format!("Section {} {} {todo}", s.section + 1, came(s.mean)))
    })
    .collect()
}

/// A control note: its blow as it left the bench, and as first measured in the piano.
struct Pair {
    read: (Note, Length, Length),
    /// Whether it was neither turned nor measured again since.
    stands: bool,
}

/// Returns the control notes of the return, from the bass; empty if the action is out.
fn pairs(state: &State) -> Vec<Pair> {
    if state.place() != Place::Piano {
        return Vec::new();
    }
    let done = |measure: &str| {
        let at = |place| state.measure_state(measure, Subject::Whole, place);
        let states = [at(Place::Piano), at(Place::Bench)].into_iter().flatten();
        let readings = states.flat_map(|s| s.readings().map(|r| (r.position, r.value.base())));
        let done = readings.filter(|(_, done)| *done != 0);
        done.map(|(position, _)| position).collect::<Vec<_>>()
    };
    let action_out = done("action_out").into_iter().max();
    // Slid out and in again later, it is still the same return.
    let ins = done("action_in").into_iter();
    let Some(action_in) = ins.filter(|at| Some(*at) > action_out).min() else {
        return Vec::new();
    };
    Note::all()
        .filter_map(|note| pair(state, note, action_in))
        .collect()
}

fn pair(state: &State, note: Note, since: LogPosition) -> Option<Pair> {
    let on = Subject::Note(note);
    let bench = state.measure_state("blow", on, Place::Bench)?;
    let piano = state.measure_state("blow", on, Place::Piano)?;
    let left = bench.readings().rev().find(|r| r.position < since)?;
    let mut back = piano.readings().filter(|r| since < r.position);
    let first = back.find(|r| r.occasion == Occasion::Working)?;
    let mut changes = piano.changes().filter(|c| since < c.position);
    let turned = changes.next_back().map(|c| c.position);
    let turned_first = piano
        .changes()
        .any(|c| since < c.position && c.position < first.position);
    let latest = piano.latest().map(|r| r.position);
    (!turned_first).then_some(Pair {
        read: (note, left.value.length()?, first.value.length()?),
        stands: turned.is_none() && latest == Some(first.position),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::{ControlNote, Correction, EntryKind, Job, ReplicaId, Setup};
    use crate::note::Sections;
    use crate::trade::MeasureId;
    use crate::unit::{Turns, Value};

    const PHONE: ReplicaId = ReplicaId::new(1);

    fn n(number: i64) -> Note {
        Note::new(number).unwrap()
    }

    fn mm(hundredths: i64) -> Length {
        Length::from_mm_hundredths(hundredths)
    }

    fn record(job: &mut Job, measure: &'static str, on: Subject, place: Place, value: Value) {
        let id = MeasureId::of(measure);
        let working = Occasion::Working;
        job.apply(job.reading(PHONE, 0, id, on, place, working, value, ""));
    }

    fn read(job: &mut Job, measure: &'static str, number: i64, place: Place, hundredths: i64) {
        let value = Value::Nm(mm(hundredths));
        record(job, measure, Subject::Note(n(number)), place, value);
    }

    fn with(controls: Vec<ControlNote>) -> Job {
        let mut job = Job::new();
        let set = Box::new(Setup {
            sections: Sections::new([n(20)]).ok(),
            control_notes: Some(controls),
            ..Setup::default()
        });
        job.apply(job.draft(PHONE, 0, EntryKind::Setup { set }));
        job
    }

    #[test]
    fn stand_ins_and_hammers_follow_from_the_survey_and_the_control_notes() {
        let control = |note: i64, bench: i64| ControlNote {
            note: n(note),
            bench_nm: mm(bench),
            key_bed_nm: mm(14_500),
        };
        let mut job = with(vec![control(1, 16_000), control(88, 16_020)]);
        for (note, height) in [(1, 19_000), (20, 19_380), (21, 19_200)] {
            read(&mut job, "string_height", note, Place::Piano, height);
        }
        let found = heights(job.state());
        assert_eq!(found.missing, [n(88)]);
        assert_eq!(found.offset.as_ref().unwrap().offset, mm(1510));
        assert_eq!(found.strings[9], Some(mm(19_180)));
        assert_eq!(found.stand_in[9], Some(mm(20_690)));
        assert_eq!(found.at_rest[9], Some(mm(14_680)));
        assert_eq!(found.at_rest_on_bench[9], Some(mm(16_190)));
        assert_eq!(found.strings[40], None);
    }

    #[test]
    fn a_section_that_came_back_longer_is_moved_before_a_capstan_is_turned() {
        let mut job = with(Vec::new());
        for (note, blow) in [(1, 4500), (20, 4510), (21, 4490), (88, 4500)] {
            read(&mut job, "blow", note, Place::Bench, blow);
        }
        assert_eq!(returned(job.state()), None);
        let done = Value::Done(true);
        record(&mut job, "action_in", Subject::Whole, Place::Piano, done);
        for (note, blow) in [(1, 4600), (20, 4600), (21, 4495), (88, 4580)] {
            read(&mut job, "blow", note, Place::Piano, blow);
        }
        let back = returned(job.state()).unwrap();
        assert_eq!(back.sections[0].mean, mm(95));
        assert_eq!(back.sections[0].advice, HeightAdvice::MoveSection(vec![]));
        assert_eq!(
            back.sections[1].advice,
            HeightAdvice::AdjustNotes(vec![n(88)])
        );
        let said = "Section 1 came back 0.95 long. Check its stand-in and string heights; then turn its capstans by the same amount before you turn single notes.";
        assert_eq!(returned_sentences(job.state(), None), [said]);
        assert_eq!(returned_sentences(job.state(), Some(0)), [said]);
        assert!(returned_sentences(job.state(), Some(1)).is_empty());
        // Slid in again for an adjustment, the action still came back as it did the first time.
        record(&mut job, "action_in", Subject::Whole, Place::Piano, done);
        assert_eq!(returned(job.state()), Some(back));
        // A note that was turned before it was measured does not show how the action came back.
        let turned = EntryKind::Correction {
            measure: MeasureId::of("blow"),
            on: Subject::Note(n(40)),
            place: Place::Piano,
            made: Correction::Turned(Turns::from_64ths(8)),
        };
        record(&mut job, "action_out", Subject::Whole, Place::Piano, done);
        read(&mut job, "blow", 40, Place::Bench, 4500);
        record(&mut job, "action_in", Subject::Whole, Place::Piano, done);
        job.apply(job.draft(PHONE, 0, turned));
        read(&mut job, "blow", 40, Place::Piano, 4700);
        assert_eq!(returned(job.state()), None);
    }

    #[test]
    fn one_control_note_asks_for_one_more_until_it_is_turned() {
        let mut job = with(Vec::new());
        read(&mut job, "blow", 10, Place::Bench, 4500);
        let done = Value::Done(true);
        record(&mut job, "action_in", Subject::Whole, Place::Piano, done);
        read(&mut job, "blow", 10, Place::Piano, 4400);
        let said = "Section 1 came back 1.0 short. Measure one more.";
        assert_eq!(returned_sentences(job.state(), None), [said]);
        // Every control note was seen to: what is left is its own reading.
        let turned = EntryKind::Correction {
            measure: MeasureId::of("blow"),
            on: Subject::Note(n(10)),
            place: Place::Piano,
            made: Correction::Turned(Turns::from_64ths(8)),
        };
        job.apply(job.draft(PHONE, 0, turned));
        assert!(returned_sentences(job.state(), None).is_empty());
        assert!(returned(job.state()).is_some());
    }

    #[test]
    fn two_sections_that_came_back_alike_point_to_the_key_frame() {
        let mut job = with(Vec::new());
        for note in [1, 20, 21, 88] {
            read(&mut job, "blow", note, Place::Bench, 4500);
        }
        let done = Value::Done(true);
        record(&mut job, "action_in", Subject::Whole, Place::Piano, done);
        for note in [1, 20, 21, 88] {
            read(&mut job, "blow", note, Place::Piano, 4600);
        }
        let said = "The whole action came back 1.0 long. Check how the key frame is bedded before you turn single notes.";
        assert_eq!(returned_sentences(job.state(), Some(1)), [said]);
    }
}
