//! What the readings of a step say together, to be read where they are taken: the change of climate
//! at the climate, the stand-ins that are off at the stand-ins, and how the action came back at the
//! final regulation.

use super::bench::{returned_sentences, stand_in_sentences};
use super::handover::climate;
use crate::job::{Item, State, Subject};
use crate::trade::{Stage, Step};

/// Returns what the readings of a step say together, as sentences; of an item only what concerns it.
///
/// ```
/// use evenhand_core::analysis::notices::notices;
/// use evenhand_core::job::Job;
///
/// let job = Job::new();
/// let of = |step| notices(job.state(), job.state().step(step).unwrap(), None);
/// assert!(of("blow").is_empty());
/// assert!(of("stand_in")[0].starts_with("Not judged yet"));
/// ```
pub fn notices(state: &State, step: &Step, item: Option<&Item>) -> Vec<String> {
    let takes = |id: &str| match item {
        Some(item) => item.measure.as_str() == id,
        None => step.takes.iter().any(|m| m.as_str() == id),
    };
    let section = item.and_then(|item| match item.on {
        Subject::Whole => None,
        Subject::Section(section) => Some(usize::from(section)),
        Subject::Note(note) => Some(state.sections().of(note)),
    });
    let mut said = Vec::new();
    if step.stage != Stage::Survey && (takes("humidity") || takes("temperature")) {
        let (all, warning) = climate(state);
        // At the bench nothing is known yet of the return.
        let here = all.last().map(|c| c.place) == Some(step.place_or(state.place()));
        said.extend(warning.filter(|_| here));
    }
    if takes("stand_in") {
        said.extend(stand_in_sentences(state, section));
        if state.bench_offset().is_none() {
            said.push(
                "Not judged yet: one control note is needed. Enter it in Setup, under String heights."
                    .to_owned(),
            );
        }
    }
    if step.stage == Stage::Return && takes("blow") {
        said.extend(returned_sentences(state, section));
    }
    said
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::open_points::conclusions;
    use crate::job::{ControlNote, EntryKind, Job, ReplicaId, Setup};
    use crate::note::{Note, Sections};
    use crate::trade::{MeasureId, Occasion, Place, Verdict};
    use crate::unit::{Length, Value};

    const PHONE: ReplicaId = ReplicaId::new(1);

    fn n(number: i64) -> Note {
        Note::new(number).unwrap()
    }

    fn mm(hundredths: i64) -> Length {
        Length::from_mm_hundredths(hundredths)
    }

    fn record(job: &mut Job, measure: &'static str, on: Subject, place: Place, value: Value) {
        let (id, working) = (MeasureId::of(measure), Occasion::Working);
        let at_ms = job.log().entries().len() as i64;
        job.apply(job.reading(PHONE, at_ms, id, on, place, working, value, ""));
    }

    fn set(job: &mut Job, set: Setup) {
        let set = Box::new(set);
        job.apply(job.draft(PHONE, 0, EntryKind::Setup { set }));
    }

    fn said(job: &Job, step: &str) -> Vec<String> {
        notices(job.state(), job.state().step(step).unwrap(), None)
    }

    /// Stand-ins 0.15 mm low and 0.6 mm high in section 2, right in section 1.
    fn stand_ins() -> Job {
        let mut job = Job::new();
        let sections = Sections::new([n(20)]).ok();
        set(
            &mut job,
            Setup {
                sections,
                ..Setup::default()
            },
        );
        for (note, string, stand_in) in [
            (1, 19_000, 20_500),
            (20, 19_300, 20_825),
            (21, 19_100, 20_585),
            (88, 19_400, 20_960),
        ] {
            let on = Subject::Note(n(note));
            record(
                &mut job,
                "string_height",
                on,
                Place::Piano,
                Value::Nm(mm(string)),
            );
            record(
                &mut job,
                "stand_in",
                on,
                Place::Bench,
                Value::Nm(mm(stand_in)),
            );
        }
        job
    }

    #[test]
    fn a_stand_in_is_judged_by_the_string_height_and_the_bench() {
        let mut job = stand_ins();
        let verdict = |job: &Job, note| {
            let latest = job.state().latest("stand_in", Subject::Note(n(note)));
            latest.unwrap().judged.map(|j| j.verdict)
        };
        // Without a control note there is no verdict, and the pass says what is missing.
        assert_eq!(verdict(&job, 88), None);
        assert!(said(&job, "stand_in")[0].contains("one control note is needed"));
        let control = |note, bench_nm| ControlNote {
            note: n(note),
            bench_nm: mm(bench_nm),
            key_bed_nm: mm(14_500),
        };
        let control_notes = Some(vec![control(1, 15_990), control(88, 16_010)]);
        set(
            &mut job,
            Setup {
                control_notes,
                ..Setup::default()
            },
        );
        assert_eq!(verdict(&job, 1), Some(Verdict::OnTarget));
        assert_eq!(verdict(&job, 20), Some(Verdict::OnTarget));
        assert_eq!(verdict(&job, 21), Some(Verdict::OnTarget));
        assert_eq!(verdict(&job, 88), Some(Verdict::Out));
        let off = "Stand-in of section 2 is 0.6 high.";
        assert_eq!(said(&job, "stand_in"), [off]);
        let item = |note| Item {
            measure: MeasureId::of("stand_in"),
            on: Subject::Note(n(note)),
        };
        let step = job.state().step("stand_in").unwrap();
        assert!(notices(job.state(), step, Some(&item(1))).is_empty());
        assert_eq!(notices(job.state(), step, Some(&item(21))), [off]);
        let points = conclusions(&job, 0).open_points;
        assert!(points.iter().any(|p| p.text.contains(off)), "{points:?}");
        // Set again, it is on target; 0.3 off is accepted.
        let on = Subject::Note(n(88));
        record(
            &mut job,
            "stand_in",
            on,
            Place::Bench,
            Value::Nm(mm(20_930)),
        );
        assert_eq!(verdict(&job, 88), Some(Verdict::Acceptable));
        assert!(said(&job, "stand_in").is_empty());
    }

    #[test]
    fn the_change_of_climate_is_told_at_the_climate_of_the_return() {
        let mut job = Job::new();
        let mut air = |place, permille| {
            let (whole, warm) = (Subject::Whole, Value::Millicelsius(21_000));
            record(&mut job, "temperature", whole, place, warm);
            record(
                &mut job,
                "humidity",
                whole,
                place,
                Value::Permille(permille),
            );
            ["climate", "climate_bench", "climate_return"].map(|step| said(&job, step))
        };
        assert!(air(Place::Bench, 400).iter().all(Vec::is_empty));
        // Less than one percent of moisture.
        assert!(air(Place::Piano, 420).iter().all(Vec::is_empty));
        let [survey, bench, back] = air(Place::Piano, 600);
        assert!(survey.is_empty() && bench.is_empty());
        assert!(back[0].starts_with("The wood swells"), "{back:?}");
    }

    #[test]
    fn how_the_action_came_back_is_told_at_the_final_regulation_alone() {
        let mut job = Job::new();
        let on = [1, 88].map(|note| Subject::Note(n(note)));
        let blow = |job: &mut Job, place, hundredths| {
            for on in on {
                record(job, "blow", on, place, Value::Nm(mm(hundredths)));
            }
        };
        blow(&mut job, Place::Bench, 4500);
        let (whole, done) = (Subject::Whole, Value::Done(true));
        record(&mut job, "action_in", whole, Place::Piano, done);
        blow(&mut job, Place::Piano, 4595);
        let all = said(&job, "final_regulation");
        assert!(
            all[0].starts_with("Section 1 came back 0.95 long."),
            "{all:?}"
        );
        assert!(said(&job, "blow").is_empty() && said(&job, "let_off").is_empty());
        let step = job.state().step("final_regulation").unwrap();
        let item = |measure| Item {
            measure: MeasureId::of(measure),
            on: on[0],
        };
        assert_eq!(notices(job.state(), step, Some(&item("blow"))), all);
        assert!(notices(job.state(), step, Some(&item("let_off"))).is_empty());
        // Measured again, the notes speak for themselves.
        blow(&mut job, Place::Piano, 4500);
        assert!(said(&job, "final_regulation").is_empty());
    }
}
