//! Tests of the steps, measures, targets, disturbances and cautions against each other.

mod measures;
mod order;

use std::collections::HashSet;

use super::*;
use crate::note::{Note, Sections};
use crate::unit::{Kind, LengthUnit, Value};

/// Measures of earlier jobs that no step takes any more; their readings stay readable.
const RETIRED: [&str; 3] = ["wippen_friction", "jack_friction", "lever_friction"];

const BOTH: [Instrument; 2] = [Instrument::Grand, Instrument::Upright];

fn steps() -> impl Iterator<Item = (Instrument, &'static Step)> {
    BOTH.into_iter()
        .flat_map(|i| i.steps().iter().map(move |s| (i, s)))
}

fn measures() -> impl Iterator<Item = (Instrument, &'static Measure)> {
    BOTH.into_iter()
        .flat_map(|i| i.measures().iter().map(move |m| (i, m)))
}

fn step(instrument: Instrument, id: &str) -> &'static Step {
    let found = instrument.steps().iter().find(|s| s.id.as_str() == id);
    found.unwrap_or_else(|| panic!("no step {id}"))
}

/// Counts the sentences of a text: periods, question and exclamation marks before a space or the end.
fn sentences(text: &str) -> usize {
    let ends = text.char_indices().filter(|(at, c)| {
        matches!(c, '.' | '?' | '!') && !text[at + 1..].starts_with(|next: char| next != ' ')
    });
    ends.count()
}

/// Returns every aim and limit of a target, over all notes.
fn limits(target: &Target) -> Vec<i64> {
    let sections = Sections::default();
    let bands = Note::all().filter_map(|n| target.plain_band(n, &sections));
    let sides = |b: Band| [Some(b.aim), b.within.0, b.within.1, b.accept.0, b.accept.1];
    bands.flat_map(sides).flatten().collect()
}

#[test]
fn no_step_and_no_measure_stands_twice() {
    for instrument in BOTH {
        let steps: HashSet<_> = instrument.steps().iter().map(|s| &s.id).collect();
        assert_eq!(steps.len(), instrument.steps().len(), "{instrument:?}");
        let measures: HashSet<_> = instrument.measures().iter().map(|m| &m.id).collect();
        assert_eq!(
            measures.len(),
            instrument.measures().len(),
            "{instrument:?}"
        );
    }
}

#[test]
fn the_default_orders_break_no_prerequisite() {
    for instrument in BOTH {
        let order = Order::new(instrument.steps().to_vec());
        assert_eq!(order.as_ref().err(), None, "{instrument:?}");
    }
}

#[test]
fn every_step_takes_measures_of_its_instrument() {
    for (instrument, step) in steps() {
        assert!(!step.takes.is_empty(), "{}", step.id);
        for id in &step.takes {
            assert!(
                instrument.measure(id.as_str()).is_some(),
                "{}: {id}",
                step.id
            );
        }
    }
}

#[test]
fn every_measure_of_the_grand_is_taken_by_a_step_or_computed() {
    let taken: HashSet<_> = Instrument::Grand
        .steps()
        .iter()
        .flat_map(Step::yields)
        .collect();
    let untaken = Instrument::Grand.measures().iter();
    let untaken = untaken.filter(|m| !taken.contains(&m.id));
    for measure in untaken {
        let id = measure.id.as_str();
        assert!(RETIRED.contains(&id), "{id}");
    }
}

#[test]
fn retired_measures_can_be_read_and_have_no_target() {
    for id in RETIRED {
        let measure = Instrument::Grand.measure(id).expect(id);
        assert_eq!((&measure.target, measure.source), (&None, None), "{id}");
        assert!(measure.is_plausible(Value::from_base(measure.kind, 2_500)));
    }
}

#[test]
fn every_own_measure_of_the_vertical_is_taken_by_a_step() {
    let taken: HashSet<_> = Instrument::Upright
        .steps()
        .iter()
        .flat_map(|s| &s.takes)
        .collect();
    for measure in upright::measures() {
        assert!(taken.contains(&measure.id), "{}", measure.id);
    }
}

#[test]
fn steps_need_only_steps_and_on_the_grand_only_its_own() {
    let known: HashSet<_> = steps().map(|(_, s)| &s.id).collect();
    for (instrument, step) in steps() {
        for needed in &step.needs {
            assert!(known.contains(needed), "{} needs {needed}", step.id);
            if instrument == Instrument::Grand {
                assert!(
                    instrument.steps().iter().any(|s| s.id == *needed),
                    "{needed}"
                );
            }
        }
    }
}

#[test]
fn stages_follow_each_other_through_each_order() {
    for instrument in BOTH {
        let stages: Vec<_> = instrument.steps().iter().map(|s| s.stage).collect();
        assert!(stages.is_sorted(), "{instrument:?}");
        assert_eq!(
            stages.iter().collect::<HashSet<_>>().len(),
            Stage::ALL.len()
        );
    }
}

#[test]
fn the_three_climates_and_both_samples_are_read_alike() {
    for instrument in BOTH {
        let takes = |id| &step(instrument, id).takes;
        assert_eq!(takes("climate"), takes("climate_return"));
        assert_eq!(takes("found_sample"), takes("left_sample"));
    }
    let bench = step(Instrument::Grand, "climate_bench");
    assert_eq!(bench.takes, step(Instrument::Grand, "climate").takes);
    assert_eq!(bench.place, Some(Place::Bench));
}

#[test]
fn bench_readings_are_read_again_in_the_piano() {
    let last = step(Instrument::Grand, "final_regulation");
    assert_eq!(last.place, Some(Place::Piano));
    for id in &last.takes {
        assert_eq!(
            step(Instrument::Grand, id.as_str()).place,
            Some(Place::Bench)
        );
    }
}

#[test]
fn a_vertical_is_regulated_where_it_stands() {
    let bench = Instrument::Upright
        .steps()
        .iter()
        .filter(|s| s.stage == Stage::Regulate);
    assert!(bench.clone().count() > 8);
    for step in bench {
        assert_eq!(step.place, Some(Place::Piano), "{}", step.id);
    }
}

#[test]
fn cauls_stay_in_overnight() {
    assert_eq!(step(Instrument::Grand, "cauls_in").drying_minutes, 12 * 60);
    let drying: Vec<_> = steps().filter(|(_, s)| s.drying_minutes > 0).collect();
    // What is glued dries too, where it is decided.
    let is_renewal = |step: &Step| Part::ALL.iter().any(|p| p.renewal() == step.id.as_str());
    let (glued, treated): (Vec<_>, Vec<_>) = drying.into_iter().partition(|(_, s)| is_renewal(s));
    assert_eq!(treated.len(), 2, "one on each instrument");
    assert_eq!(glued.len(), 14, "seven on each instrument");
    for (instrument, drying_step) in treated {
        let waits_for_it = |s: &Step| s.needs.contains(&drying_step.id);
        assert!(
            instrument.steps().iter().any(waits_for_it),
            "{}",
            drying_step.id
        );
    }
}

#[test]
fn every_step_is_told_in_three_sentences_at_most() {
    for (_, step) in steps() {
        assert!(!step.tools.is_empty(), "{}", step.id);
        assert!(
            (1..=3).contains(&sentences(&step.how)),
            "{}: {}",
            step.id,
            step.how
        );
        assert!(
            (1..=3).contains(&sentences(&step.wrong)),
            "{}: {}",
            step.id,
            step.wrong
        );
        assert!(
            !step.how.contains('!') && !step.wrong.contains('!'),
            "{}",
            step.id
        );
        assert!(step.minutes > 0, "{}", step.id);
    }
}

#[test]
fn work_that_can_hurt_has_its_caution() {
    use Caution::{Blades, Dust, Heat, HeavyAction, Ivory, Lead, Mains, Solvents, Tension};
    let work: &[(Caution, &[&str])] = &[
        (
            HeavyAction,
            &[
                "action_out",
                "action_in",
                "stack_on",
                "bedding_bench",
                "bedding",
                "final_regulation",
            ],
        ),
        (
            Heat,
            &[
                "travelled",
                "stack_lubricated",
                "knuckles_brushed",
                "cloth_brushed",
                "buttons_brushed",
                "pins_polished",
                "capstans_polished",
            ],
        ),
        (
            Solvents,
            &[
                "cauls_in",
                "pins_polished",
                "capstans_polished",
                "stack_lubricated",
                "key_tops",
                "centre_pins",
            ],
        ),
        (
            Dust,
            &[
                "dust",
                "hammers_shaped",
                "hammer_felt",
                "blown_out",
                "checks_brushed",
                "knuckles_brushed",
                "cloth_brushed",
                "buttons_brushed",
                "mating",
                "voicing",
            ],
        ),
        (Lead, &["dust", "keys_eased", "weights"]),
        (Blades, &["voicing", "centre_pins"]),
        (
            Tension,
            &[
                "string_height",
                "strings_levelled",
                "mating",
                "final_regulation",
                "tuning",
                "damper_key",
                "damper_tray",
            ],
        ),
        (Mains, &["action_out", "damper_tray", "pedals"]),
        (Ivory, &["key_tops"]),
    ];
    for (caution, ids) in work {
        for id in *ids {
            assert!(
                step(Instrument::Grand, id).cautions.contains(caution),
                "{id}: {caution:?}"
            );
        }
    }
    // The same work on the upright has the same cautions.
    for (_, step) in steps() {
        let met = work
            .iter()
            .filter(|(_, ids)| ids.contains(&step.id.as_str()));
        for (caution, _) in met {
            assert!(step.cautions.contains(caution), "{}: {caution:?}", step.id);
        }
    }
}

#[test]
fn every_caution_is_shown_somewhere() {
    for caution in Caution::ALL {
        assert!(
            steps().any(|(_, s)| s.cautions.contains(&caution)),
            "{caution:?}"
        );
    }
}

#[test]
fn the_disturbance_table_speaks_of_measures_that_exist() {
    let vertical_only = ["lost_motion", "rail_set"];
    for row in TABLE {
        for id in [row.work].iter().chain(row.disturbs) {
            let home = if vertical_only.contains(id) {
                Instrument::Upright
            } else {
                Instrument::Grand
            };
            assert!(home.measure(id).is_some(), "{id}");
        }
        assert!(
            !row.disturbs.contains(&row.work),
            "{} disturbs itself",
            row.work
        );
    }
}

#[test]
fn a_step_of_the_trades_order_disturbs_only_what_comes_after_it_or_is_known_to() {
    // A later step that disturbs an earlier one costs a second pass, so each pair is listed here.
    let known = [
        ("sharp_dip", "aftertouch"),
        ("strings_levelled", "blow"),
        ("strings_levelled", "let_off"),
        ("strings_levelled", "drop"),
        ("strings_levelled", "checking"),
        ("mating", "blow"),
        ("mating", "let_off"),
        ("mating", "drop"),
        ("mating", "checking"),
        ("hammers_filed", "blow"),
        ("hammers_filed", "let_off"),
        ("hammers_filed", "drop"),
        ("hammers_filed", "checking"),
        ("hammers_filed", "aftertouch"),
        ("hammers_filed", "mating"),
        ("hammers_filed", "down_weight"),
        ("hammers_filed", "up_weight"),
        ("bedding", "key_height"),
        ("bedding", "natural_level"),
        ("bedding", "sharp_level"),
        ("bedding", "natural_dip"),
        ("bedding", "sharp_dip"),
        ("bedding", "blow"),
    ];
    let order = Instrument::Grand.steps();
    let own = |id: &str| {
        order
            .iter()
            .position(|s| s.takes.iter().any(|m| m.as_str() == id) && s.stage > Stage::Survey)
    };
    let mut back: Vec<_> = Vec::new();
    for row in TABLE.iter().filter(|r| r.strength == Strength::Voids) {
        let later = |id: &&&str| own(id).zip(own(row.work)).is_some_and(|(d, w)| d < w);
        back.extend(row.disturbs.iter().filter(later).map(|d| (row.work, *d)));
    }
    for pair in &back {
        assert!(known.contains(pair), "{pair:?}");
    }
    assert_eq!(back.len(), known.len());
}

#[test]
fn ticks_and_beddings_and_shaped_hammers_tell_of_work() {
    for (_, measure) in measures() {
        let tells =
            measure.kind == Kind::Tick || matches!(measure.id.as_str(), "bedding" | "hammer_felt");
        assert_eq!(measure.records_work, tells, "{}", measure.id);
    }
}

#[test]
fn a_turn_that_a_hand_can_do_is_seen_as_a_change() {
    let mut turned = Vec::new();
    for measure in Instrument::Grand.measures() {
        if let Some(Adjuster::Turned {
            response,
            resolution,
            ..
        }) = &measure.adjuster
        {
            let least = response * resolution.in_64ths() / 64;
            assert!(measure.repeat <= least, "{}: {least}", measure.id);
            turned.push(measure.id.as_str());
        }
    }
    assert_eq!(turned, ["blow", "let_off", "drop"]);
}

/// Common practice, no source: nobody tunes without the action, and the climate that matters is the one
/// after the work.
#[test]
fn what_closes_the_job_at_the_piano_waits_for_the_action() {
    for instrument in BOTH {
        for id in ["tuning", "climate_return", "voicing", "play_test"] {
            let mut before = vec![StepId::of(id)];
            let mut at = 0;
            while let Some(id) = before.get(at).cloned() {
                at += 1;
                let of_it = instrument.steps().iter().filter(|s| s.id == id);
                for need in of_it.flat_map(|s| &s.needs) {
                    if !before.contains(need) {
                        before.push(need.clone());
                    }
                }
            }
            let action_in = StepId::of("action_in");
            assert!(before.contains(&action_in), "{instrument:?} {id}");
        }
    }
    let needs = &step(Instrument::Upright, "climate_return").needs;
    assert_eq!(*needs, [StepId::of("spring")]);
}
