//! Tests of what is decided on worn parts, and of the steps that it calls for.

use super::*;
use crate::analysis::estimate::{Basis, estimate};
use crate::analysis::job_plan::job_plan;
use crate::analysis::open_points::conclusions;
use crate::analysis::schedule::OpeningHours;
use crate::analysis::suggestion::suggest_next;
use crate::job::tests::{BENCH, PIANO, Phone, n, on};
use crate::job::{Entry, EntryKind, PointKind, Setup};
use crate::note::Sections;
use crate::trade::Occasion::AsFound;
use crate::trade::{MeasureId, Occasion, StepId};

fn survey(phone: &mut Phone, measure: &str, section: u8, grade: i64) -> Entry {
    phone.read_as(AsFound, measure, Subject::Section(section), PIANO, grade)
}

/// Two sections, 20 notes and 68.
fn two_sections() -> Phone {
    let mut phone = Phone::new(1);
    let sections = Sections::new([n(20)]).ok();
    phone.setup(Setup {
        sections,
        ..Setup::default()
    });
    phone
}

fn has(phone: &Phone, step: &str) -> bool {
    phone.state().step(step).is_some()
}

#[test]
fn only_worn_sections_are_decided_on() {
    let mut phone = two_sections();
    for part in Part::ALL {
        survey(&mut phone, part.wear(), 0, 0);
        survey(&mut phone, part.wear(), 1, 0);
    }
    assert!(!has(&phone, "decisions"));
    let worn = survey(&mut phone, "wear_knuckles", 1, 1);
    survey(&mut phone, "wear_checks", 0, 2);
    let items = phone
        .state()
        .items(phone.state().step("decisions").unwrap());
    let asked: Vec<_> = items.iter().map(|i| (i.measure.as_str(), i.on)).collect();
    let expected = [
        ("decide_knuckles", Subject::Section(1)),
        ("decide_checks", Subject::Section(0)),
    ];
    assert_eq!(asked, expected);
    phone.undo(&worn);
    assert_eq!(phone.progress("decisions").expected, 1);
}

#[test]
fn a_renewal_is_a_step_for_the_notes_for_which_it_is_decided() {
    let mut phone = two_sections();
    for (section, decision) in [(0, 1), (1, 2)] {
        survey(&mut phone, "wear_knuckles", section, 1);
        survey(&mut phone, "decide_knuckles", section, decision);
    }
    assert_eq!(phone.progress("knuckles_renewed").expected, 68);
    assert_eq!(phone.progress("knuckles_brushed").expected, 20);
    // Without a decision every note is treated.
    assert_eq!(phone.progress("checks_brushed").expected, 88);
    let points = |phone: &Phone| {
        let points = conclusions(&phone.job, phone.at_ms).open_points;
        let worn = points.into_iter().filter(|p| p.kind == PointKind::Worn);
        worn.map(|p| p.text).collect::<Vec<_>>()
    };
    let open = "Wear of knuckles: worn in sections 1 and 2, not treated.";
    assert_eq!(points(&phone), [open]);
    phone.pass("knuckles_brushed");
    phone.pass("knuckles_renewed");
    assert_eq!(points(&phone), Vec::<String>::new());
    assert_eq!(
        decided(phone.state()),
        [
            "Renew: knuckles, section 2.",
            "Recondition: knuckles, section 1."
        ]
    );
}

#[test]
fn a_step_that_a_decision_leaves_without_notes_is_no_step() {
    let mut phone = two_sections();
    let drying = |phone: &Phone| phone.state().drying("cauls_in").is_some();
    for (section, decision) in [(0, 2), (1, 0)] {
        survey(&mut phone, "wear_bushings", section, 2);
        survey(&mut phone, "decide_bushings", section, decision);
    }
    let all = phone.state().progress(phone.at_ms);
    let of = |id: &str| &all.iter().find(|(s, _)| s.id.as_str() == id).unwrap().1;
    let cauls = of("cauls_in");
    assert!(cauls.is_empty() && !cauls.is_read() && !cauls.is_recorded() && !cauls.too_late);
    assert!(!drying(&phone));
    let steps = all.iter().filter(|(_, p)| !p.is_empty()).count();
    assert_eq!(State::stage_progress(&all, None).steps, steps);
    // What follows waits for what it needs itself: the cauls are no step, and the key pins before them are.
    let needs = &phone.state().step("cauls_in").unwrap().needs;
    assert!(!needs.is_empty());
    let out = of("cauls_out");
    assert!(
        needs
            .iter()
            .all(|id| of(id.as_str()).is_empty() || out.blocked_by.contains(id))
    );
    assert!(!out.blocked_by.contains(&StepId::of("cauls_in")));
    let next = suggest_next(phone.state(), &all, phone.at_ms);
    assert!(next.iter().all(|n| n.step.as_str() != "cauls_in"));
    let hours = OpeningHours::new(8 * 60, 16 * 60).unwrap();
    let plan = job_plan(phone.state(), phone.at_ms, 0, hours).unwrap();
    assert!(plan.due.is_empty());
    assert!(plan.lines.iter().all(|l| l.step.as_str() != "cauls_in"));
}

#[test]
fn what_is_left_as_decided_stays_open_and_is_told_so() {
    let mut phone = two_sections();
    survey(&mut phone, "wear_hammers", 0, 1);
    survey(&mut phone, "decide_hammers", 0, 0);
    survey(&mut phone, "wear_checks", 1, 2);
    survey(&mut phone, "decide_checks", 1, 0);
    let points = conclusions(&phone.job, phone.at_ms).open_points;
    let said: Vec<&str> = points.iter().map(|p| p.text.as_str()).collect();
    for expected in [
        "Wear of hammers: worn in section 1, left as decided.",
        "Wear of back checks: worn out in section 2, left as decided.",
    ] {
        assert!(said.contains(&expected), "{said:#?}");
    }
    assert_eq!(phone.progress("hammers_shaped").expected, 68);
}

#[test]
fn a_worn_out_part_is_settled_by_its_renewal() {
    let mut phone = two_sections();
    survey(&mut phone, "wear_checks", 0, 2);
    survey(&mut phone, "decide_checks", 0, 2);
    let out = |phone: &Phone| conclusions(&phone.job, phone.at_ms).out();
    assert_eq!(out(&phone), 1);
    for number in 1..=19 {
        phone.read("checks_renewed", on(number), BENCH, 1);
    }
    assert_eq!(out(&phone), 1, "one note is left");
    phone.read("checks_renewed", on(20), BENCH, 1);
    assert_eq!(out(&phone), 0);
}

#[test]
fn a_decision_taken_back_takes_its_step_away_but_not_what_was_done() {
    let mut phone = two_sections();
    let decided = survey(&mut phone, "decide_hammers", 0, 2);
    assert!(has(&phone, "hammers_renewed"));
    phone.undo(&decided);
    assert!(!has(&phone, "hammers_renewed"));
    survey(&mut phone, "decide_hammers", 0, 2);
    phone.read("hammers_renewed", on(3), BENCH, 1);
    survey(&mut phone, "decide_hammers", 0, 1);
    let progress = phone.progress("hammers_renewed");
    assert_eq!((progress.expected, progress.read), (1, 1));
}

#[test]
fn the_state_kept_up_is_the_state_folded_through_decisions() {
    let mut phone = two_sections();
    let mut entries = Vec::new();
    for part in Part::ALL {
        for (measure, grade) in [(part.wear(), 2), (part.decision(), 2), (part.decision(), 1)] {
            entries.push(survey(&mut phone, measure, 1, grade));
            assert_eq!(&State::folded(phone.job.log()), phone.state());
        }
    }
    for entry in entries.iter().rev().take(12) {
        phone.undo(entry);
        assert_eq!(&State::folded(phone.job.log()), phone.state());
    }
}

#[test]
fn the_state_kept_up_is_the_state_folded_through_marks_on_what_nothing_calls_for() {
    let mut phone = two_sections();
    let marked = phone.act(EntryKind::MarkedOut {
        measure: MeasureId::of("knuckles_renewed"),
        on: on(30),
        place: BENCH,
        occasion: Occasion::Working,
        out: true,
    });
    assert!(has(&phone, "knuckles_renewed"));
    assert_eq!(&State::folded(phone.job.log()), phone.state());
    phone.undo(&marked);
    assert!(!has(&phone, "knuckles_renewed"));
    assert_eq!(&State::folded(phone.job.log()), phone.state());
}

#[test]
fn dull_hammers_are_filed_and_what_the_file_changes_is_measured_again() {
    let mut phone = Phone::new(1);
    phone.read("voicing", on(40), PIANO, 1);
    assert!(!has(&phone, "hammers_filed"));
    phone.read("let_off", on(41), PIANO, 2_000_000);
    phone.read("voicing", on(41), PIANO, 0);
    let step = phone.state().step("hammers_filed").unwrap();
    assert_eq!(phone.state().items(step).len(), 1);
    phone.read("hammers_filed", on(41), PIANO, 1);
    assert!(phone.state().disturbed("let_off", on(41), PIANO).is_some());
    // Even again: the tick stays.
    phone.read("voicing", on(41), PIANO, 1);
    assert_eq!(phone.progress("hammers_filed").read, 1);
}

#[test]
fn an_arrangement_and_a_step_left_out_hold_for_renewals_too() {
    let mut phone = two_sections();
    survey(&mut phone, "decide_hammers", 0, 2);
    let ids = |phone: &Phone| -> Vec<StepId> {
        let order = phone.state().order();
        order.steps().iter().map(|s| s.id.clone()).collect()
    };
    let mut steps = ids(&phone);
    let at = |steps: &[StepId], id| steps.iter().position(|s| s.as_str() == id).unwrap();
    let hammers = steps.remove(at(&steps, "hammers_renewed"));
    steps.insert(at(&steps, "dust") + 1, hammers.clone());
    phone.act(EntryKind::Arranged {
        steps: steps.clone(),
    });
    assert_eq!(ids(&phone), steps);
    phone.act(EntryKind::LeftOut {
        step: hammers,
        out: true,
    });
    assert!(!has(&phone, "hammers_renewed"));
}

#[test]
fn the_estimate_counts_what_is_decided_and_not_what_is_replaced() {
    let mut phone = two_sections();
    for (section, wear, decision) in [(0, 2, 2), (1, 0, -1)] {
        survey(&mut phone, "wear_hammers", section, wear);
        if decision >= 0 {
            survey(&mut phone, "decide_hammers", section, decision);
        }
    }
    let estimate = estimate(&phone.job);
    let line = |id: &str| estimate.lines.iter().find(|l| l.step.id.as_str() == id);
    let hung = line("hammers_renewed").unwrap();
    assert_eq!(hung.basis, Basis::Decided { notes: 20 });
    // 480 min for 88 notes: 109 for 20.
    assert_eq!(hung.minutes, [109; 3]);
    assert!(
        line("hammers_shaped").is_none(),
        "new hammers are not shaped"
    );
    let remedies: Vec<_> = estimate
        .parts
        .iter()
        .map(|p| (p.remedy, p.pieces))
        .collect();
    assert_eq!(remedies, [("new hammers", 20)]);
}

#[test]
fn only_what_is_renewed_is_ordered_with_its_size_and_count() {
    let mut phone = two_sections();
    survey(&mut phone, "wear_centres", 0, 2);
    assert_eq!(parts_to_order(phone.state()), []);
    survey(&mut phone, "decide_centers", 0, 2);
    survey(&mut phone, "decide_bushings", 0, 2);
    survey(&mut phone, "decide_bushings", 1, 2);
    survey(&mut phone, "decide_dampers", 1, 2);
    for (measure, base) in [("key_pin", 3_710_000), ("front_pin", 4_000_000)] {
        phone.read(measure, Subject::Section(0), BENCH, base);
    }
    phone.read("damper_end", Subject::Whole, PIANO, 68);
    let part_sizes = Some([("centers".to_owned(), "20½".to_owned())].into());
    phone.setup(Setup {
        part_sizes,
        ..Setup::default()
    });
    let lines = parts_to_order(phone.state());
    let told: Vec<_> = lines
        .iter()
        .map(|l| {
            (
                l.name,
                l.count,
                l.on.as_str(),
                l.size.as_deref(),
                l.measured.as_str(),
            )
        })
        .collect();
    let pins = "balance pins 3.71 mm, front pins 4.00 mm";
    let expected = [
        ("key bushings", 352, "the whole row", None, pins),
        ("center pins", 80, "section 1", Some("20½"), ""),
        ("damper felts", 48, "section 2", None, ""),
    ];
    assert_eq!(told, expected);
    let table = parts_csv(&phone.job);
    assert_eq!(table.lines().count(), 4);
    assert!(
        table.contains(r#""centers","center pins","20½","",80,"section 1","","","""#),
        "{table}"
    );
}

#[test]
fn a_step_with_nothing_to_do_is_not_counted() {
    use crate::trade::Stage;
    let mut phone = Phone::new(1);
    let count = |phone: &Phone| {
        let all = phone.state().progress(phone.at_ms);
        let stage = State::stage_progress(&all, Some(Stage::Recondition));
        (stage.done, stage.steps)
    };
    let (_, steps) = count(&phone);
    survey(&mut phone, "decide_hammers", 0, 2);
    // New hammers are hung and not shaped: one step more, one less.
    assert_eq!(phone.progress("hammers_shaped").expected, 0);
    assert_eq!(count(&phone), (0, steps));
}

#[test]
fn what_is_fitted_everywhere_is_not_ordered() {
    let mut phone = two_sections();
    survey(&mut phone, "decide_checks", 0, 2);
    survey(&mut phone, "decide_hammers", 1, 2);
    let ordered = |phone: &Phone| -> Vec<Part> {
        let parts = parts_to_order(phone.state()).into_iter();
        parts.map(|p| p.part).collect()
    };
    for number in 1..=19 {
        phone.read("checks_renewed", on(number), BENCH, 1);
    }
    let both = [Part::Hammers, Part::Checks];
    assert_eq!(ordered(&phone), both, "one note is left");
    phone.read("checks_renewed", on(20), BENCH, 1);
    assert_eq!(ordered(&phone), [Part::Hammers]);
    assert_eq!(parts_csv(&phone.job).lines().count(), 2);
    let decided = parts_decided(phone.state());
    assert_eq!(decided.iter().map(|p| p.part).collect::<Vec<_>>(), both);
    // More is decided: those are ordered.
    survey(&mut phone, "decide_checks", 1, 2);
    assert_eq!(ordered(&phone), both);
}
