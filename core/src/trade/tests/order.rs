//! Tests of the proposed orders and of what each step needs.

use super::*;

/// Published lists have both orders; the dip that is left to follow is set last, from the aftertouch.
#[test]
fn where_the_dip_follows_it_is_set_between_drop_and_aftertouch() {
    for instrument in BOTH {
        let order = Order::blow_first(instrument);
        assert_eq!(Order::new(order.steps().to_vec()), Ok(order.clone()));
        assert_eq!(order.steps().len(), instrument.steps().len());
        let at = |id: &str| order.steps().iter().position(|s| s.id.as_str() == id);
        assert!(at("let_off") < at("natural_dip"), "{instrument:?}");
        assert_eq!(at("natural_dip").map(|at| at + 1), at("aftertouch"));
    }
}

/// A prerequisite is only what physics asks; the rest is a proposed order.
#[test]
fn what_a_step_needs_is_what_it_cannot_be_done_without() {
    for (id, needs) in [
        ("string_height", &["action_out"][..]),
        (
            "travelled",
            &["action_out", "hammers_renewed", "centers_renewed"],
        ),
        ("blown_out", &["hammers_shaped"]),
        ("keys_eased", &["cauls_out"]),
        ("blow", &["stand_in", "play_in"]),
        ("let_off", &["stand_in", "play_in"]),
        ("checking", &["play_in", "stand_in"]),
        ("spring", &["checking"]),
        ("strings_levelled", &[]),
        ("mating", &["strings_levelled", "hammers_spaced"]),
        ("final_regulation", &["action_in", "bedding"]),
        ("play_test", &["action_in"]),
    ] {
        let needs: Vec<StepId> = needs.iter().map(|id| StepId::of(id)).collect();
        assert_eq!(step(Instrument::Grand, id).needs, needs, "{id}");
    }
}

#[test]
fn turns_that_disturb_nothing_are_for_looks_alone() {
    for row in TABLE.iter().filter(|r| r.more_than.is_some()) {
        assert_eq!(row.strength, Strength::Look, "{}", row.work);
    }
}

/// The upright has parts and words of its own.
#[test]
fn no_text_of_the_upright_speaks_of_parts_of_the_grand() {
    let foreign = [
        "bench",
        "knuckle",
        "repetition lever",
        "drop screw",
        "stack",
    ];
    let mut texts: Vec<String> = vec![Instrument::Upright.name().to_owned()];
    for step in Instrument::Upright.steps() {
        let of_step = [&step.name, &step.tools, &step.how, &step.wrong];
        texts.extend(of_step.map(|t| t.to_string()));
        for id in &step.takes {
            let measure = Instrument::Upright.measure(id.as_str()).unwrap();
            let (over, under) = measure.words;
            texts.extend([measure.name.as_ref(), over, under].map(str::to_owned));
            texts.extend(measure.grades.iter().map(|g| g.to_string()));
            let parts = format!("{:?}", measure.adjuster);
            texts.push(parts);
        }
    }
    assert!(texts.len() > 200);
    for text in &texts {
        for word in foreign {
            assert!(!text.to_lowercase().contains(word), "{word}: {text}");
        }
    }
}
