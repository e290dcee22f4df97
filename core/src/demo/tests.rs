//! Tests of the demo job: it shows every state that a screen can show.

use super::*;
use crate::analysis::response::{NoiseModel, Prior, TurnResult as Turned, learn};
use crate::analysis::suggestion::{Reason, suggest_next};
use crate::analysis::travel::{Travel, fit_by_color};
use crate::job::{Change, ItemState, MeasureState, Reading};

const NOW_MS: i64 = 1_790_000_000_000;

fn demo() -> Job {
    Job::from_entries(entries(JobId::new(1), ReplicaId::new(2), NOW_MS))
}

#[test]
fn the_demo_shows_every_state_of_a_step() {
    let job = demo();
    let all = job.state().progress(NOW_MS);
    let of = |id: &str| &all.iter().find(|(s, _)| s.id.as_str() == id).unwrap().1;
    assert!(of("blow").is_read());
    let runs = |id| of(id).drying.as_ref().map(|w| !w.is_over(NOW_MS));
    assert_eq!(runs("lyre_glued"), Some(true));
    assert_eq!(runs("cauls_in"), Some(false));
    assert_eq!(of("aftertouch").to_remeasure, 3);
    assert_eq!(of("let_off").read, 40);
    assert_eq!(of("let_off").out, 5);
    assert_eq!(of("drop").read, 0);
    let first = &suggest_next(job.state(), &all, NOW_MS)[0];
    assert_eq!(first.step.as_str(), "aftertouch");
    assert_eq!(
        first.reason,
        Reason::Remeasure {
            count: 3,
            adjusted: 0
        }
    );
}

/// No step begins before those that it needs are done and dry.
#[test]
fn the_demo_keeps_to_its_order() {
    let job = demo();
    let state = job.state();
    let mut steps: Vec<(Step, i64, i64)> = Vec::new();
    for step in state.order().steps() {
        let takes = |e: &&Entry| matches!(&e.kind, EntryKind::Reading { measure, .. } if step.takes.contains(measure));
        // Measures of the survey are taken again during the work.
        let own = |e: &&Entry| match step.occasion {
            Occasion::Working => e.at_ms > NOW_MS - 34 * 60 * MINUTE_MS,
            _ => true,
        };
        let here = |e: &&Entry| e.id.replica == ReplicaId::new(2);
        let entries = job.log().entries().iter().filter(here);
        let entries = entries.filter(takes).filter(own);
        let times: Vec<i64> = entries.map(|e| e.at_ms).collect();
        if let (Some(first), Some(last)) = (times.iter().min(), times.iter().max()) {
            let dried = state.drying(step.id.as_str()).map_or(*last, |w| w.until_ms);
            steps.push((step.clone(), *first, dried));
        }
    }
    assert!(steps.len() > 30);
    for (step, first, _) in &steps {
        for id in &step.needs {
            let needed = steps.iter().find(|(s, ..)| s.id == *id);
            // Three notes were measured early, to show disturbed readings.
            let early = step.id.as_str() == "aftertouch";
            if let Some((_, _, dried)) = needed.filter(|_| !early) {
                assert!(dried <= first, "{} before {id}", step.id);
            }
        }
    }
}

#[test]
fn samples_of_the_demo_balance_as_their_ratio_says() {
    let job = demo();
    let found = |id, n| {
        let measure_state = job
            .state()
            .measure_state(id, Subject::Note(n), Place::Piano)?;
        measure_state.of(Occasion::AsFound)?.value.length()
    };
    let travel = |n: Note| {
        let dip = if n.is_sharp() {
            "sharp_dip"
        } else {
            "natural_dip"
        };
        let travel = Travel {
            dip: found(dip, n)?,
            lost_motion: Length::ZERO,
            blow: found("blow", n)?,
            let_off: found("let_off", n)?,
            aftertouch: found("aftertouch", n)?,
        };
        Some((n, travel))
    };
    let samples: Vec<_> = Note::all().filter_map(travel).collect();
    let (naturals, sharps) = fit_by_color(&samples);
    for (fit, ratio) in [(naturals.unwrap(), 4.86), (sharps.unwrap(), 4.95)] {
        assert!((fit.ratio - ratio).abs() < 0.05, "{fit:?}");
        assert_eq!(fit.odd().count(), 0);
    }
}

/// Common practice, no source: overstrung bass strings lie over those of the tenor.
#[test]
fn bass_strings_of_the_demo_lie_higher_than_the_tenor_s() {
    let job = demo();
    for (id, place) in [("string_height", Place::Piano), ("stand_in", Place::Bench)] {
        let height = |number| {
            let on = Subject::Note(note(number));
            let places = [place, Place::Piano, Place::Bench];
            let read = places
                .into_iter()
                .find_map(|p| job.state().measure_state(id, on, p)?.latest());
            read.unwrap().value.base()
        };
        let breaks = job.state().sections().all_ends();
        let (bass, tenor) = (breaks[1].number(), breaks[2].number());
        assert_eq!(tenor, bass + 1);
        assert!(height(bass.into()) > height(tenor.into()), "{id}");
        assert!(height(tenor.into()) < height(88), "{id}");
    }
}

#[test]
fn the_demo_shows_what_a_job_can_hold() {
    let job = demo();
    let state = job.state();
    let all = state.progress(NOW_MS);
    let of = |id: &str| all.iter().find(|(s, _)| s.id.as_str() == id);
    assert!(of("hammer_swings").is_none(), "left out");
    let glued = &of("loose_tops").unwrap().1;
    assert!(glued.drying.as_ref().is_some_and(|w| w.is_over(NOW_MS)));
    assert_eq!(of("string_height").unwrap().1.read, 8);
    assert!(of("wear").unwrap().1.out > 0);
    assert_eq!(of("jack_position").unwrap().1.out, 1);
    let faults = state.remarks().filter(|r| r.fault).count();
    assert_eq!((faults, state.remarks().count()), (2, 4));
    let setup = state.setup();
    assert!(setup.natural_key.is_some() && setup.sharp_key.is_some());
    assert!(setup.punchings_nm.as_ref().is_some_and(|p| p.len() == 6));
    assert!(setup.trials.is_some());
    assert_ne!(
        read(&job, "humidity", Place::Piano),
        read(&job, "humidity", Place::Bench)
    );
}

fn read(job: &Job, id: &str, place: Place) -> Option<i64> {
    let measure_state = job.state().measure_state(id, Subject::Whole, place)?;
    Some(measure_state.latest()?.value.base())
}

#[test]
fn targets_of_the_demo_differ_by_job_section_and_note() {
    let job = demo();
    let aim = |id, n| job.state().band(id, Subject::Note(note(n))).unwrap().aim;
    assert_eq!(
        (aim("let_off", 29), aim("let_off", 30)),
        (2_000_000, 2_400_000)
    );
    assert_eq!(aim("let_off", 80), 1_500_000);
    assert_eq!(aim("key_height", 1), 63_500_000);
}

#[test]
fn two_phones_of_the_demo_differ_on_one_note() {
    let job = demo();
    let differing = |n: &Note| {
        let measure_state = job
            .state()
            .measure_state("blow", Subject::Note(*n), Place::Bench);
        !measure_state.unwrap().others(Occasion::Working).is_empty()
    };
    let notes: Vec<_> = Note::all().filter(differing).collect();
    assert_eq!(notes, [note(60)]);
    let phones: std::collections::BTreeSet<_> =
        job.log().entries().iter().map(|e| e.id.replica).collect();
    assert_eq!(phones.len(), 2);
}

#[test]
fn turns_of_the_demo_teach_what_they_were_made_with() {
    let job = demo();
    for (id, turned, default, made_with) in [
        ("blow", CAPSTANS_TURNED.len() + 3, 8.0, 8.576),
        ("let_off", BUTTONS_TURNED.len(), 5.0, 5.248),
    ] {
        let trials: Vec<_> = Note::all().flat_map(|n| turns_of(&job, id, n)).collect();
        assert_eq!(trials.len(), turned, "{id}");
        let learned = learn(&trials, Prior::rough(default), NoiseModel::default()).unwrap();
        let off = (learned.mm_per_turn - made_with).abs();
        assert!(off < 2.0 * learned.standard_error, "{id}: {learned:?}");
    }
}

/// The turns of a note with the readings before and after them.
fn turns_of(job: &Job, id: &str, n: Note) -> Vec<Turned> {
    let measure_state = job
        .state()
        .measure_state(id, Subject::Note(n), Place::Bench);
    let length = |r: Option<&Reading>| r.unwrap().value.length().unwrap();
    let turned = |measure_state: &MeasureState, change: &Change| Turned {
        turned: change.turned().unwrap(),
        before: length(
            measure_state
                .readings()
                .rfind(|r| r.position < change.position),
        ),
        after: length(
            measure_state
                .readings()
                .find(|r| r.position > change.position),
        ),
    };
    measure_state
        .into_iter()
        .flat_map(|measure_state| measure_state.changes().map(|c| turned(measure_state, c)))
        .collect()
}

#[test]
fn readings_of_the_demo_are_plausible() {
    let job = demo();
    for entry in job.log().entries() {
        if let EntryKind::Reading { measure, value, .. } = &entry.kind {
            let known = job.state().measure(measure.as_str()).unwrap();
            assert!(known.is_plausible(*value), "{measure}: {value:?}");
        }
    }
}

#[test]
fn the_demo_says_that_it_is_invented() {
    let job = demo();
    assert_eq!(job.state().details().invented, Some(true));
    assert!(job.log().entries().iter().all(|e| e.at_ms <= NOW_MS));
}

#[test]
fn disturbed_readings_of_the_demo_name_the_blow_as_the_cause() {
    let job = demo();
    let state = job.state();
    let step = state.step("aftertouch").unwrap();
    for item in state.items(step) {
        if let ItemState::Remeasure(.., cause) = state.item_state(step, &item) {
            assert_eq!(cause.work.as_str(), "blow");
        }
    }
}
