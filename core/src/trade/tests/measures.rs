//! Tests of the measures: targets, ranges, grades, and how the pad reads what is typed.

use super::*;

#[test]
fn every_target_of_a_number_or_grade_says_where_it_comes_from() {
    for (instrument, measure) in measures() {
        let told = measure.kind.is_number() || measure.kind == Kind::Grade;
        let needs = told && measure.target.is_some();
        let id = measure.id.as_str();
        assert_eq!(measure.source.is_some(), needs, "{instrument:?} {id}");
    }
}

#[test]
fn every_target_is_sound() {
    for (_, measure) in measures() {
        assert!(
            measure.target.as_ref().is_none_or(Target::is_sound),
            "{}",
            measure.id
        );
    }
    for target in [
        let_off_taper(),
        balance_weight_target(),
        friction_target(),
        damper_lift_target(),
    ] {
        assert!(target.is_sound(), "{target:?}");
    }
}

#[test]
fn a_number_is_believed_over_a_range_that_holds_its_accept_band() {
    for (_, measure) in measures() {
        if !measure.kind.is_number() {
            assert_eq!(measure.plausible, None, "{}", measure.id);
            continue;
        }
        let (low, high) = measure
            .plausible
            .unwrap_or_else(|| panic!("{}", measure.id));
        assert!(low < high, "{}", measure.id);
        for limit in measure.target.iter().flat_map(limits) {
            assert!((low..=high).contains(&limit), "{}: {limit}", measure.id);
        }
    }
}

#[test]
fn a_grade_wants_one_of_its_answers() {
    for (_, measure) in measures() {
        assert_eq!(
            measure.kind == Kind::Grade,
            !measure.grades.is_empty(),
            "{}",
            measure.id
        );
        // What is decided is neither right nor wrong.
        let is_decision = Part::of_decision(measure.id.as_str()).is_some();
        assert!(!is_decision || measure.target.is_none(), "{}", measure.id);
        if measure.kind == Kind::Grade && !is_decision {
            let target = measure.target.as_ref().expect("a grade has a target");
            let answers = 0..measure.grades.len() as i64;
            assert!(
                limits(target).iter().all(|l| answers.contains(l)),
                "{}",
                measure.id
            );
        }
    }
}

#[test]
fn grades_are_judged_as_the_trade_does() {
    let judged = |instrument: Instrument, id: &str, word: &str| {
        let measure = instrument.measure(id).expect(id);
        let grade = measure.grades.iter().position(|g| g == word).expect(word);
        let band = measure
            .target
            .as_ref()
            .and_then(|t| t.band(None, 0, |_| None));
        band.expect(id).judge(grade as i64)
    };
    let grand = |id, word| judged(Instrument::Grand, id, word);
    assert_eq!(grand("spring", "firm rise"), Verdict::OnTarget);
    assert_eq!(grand("spring", "slow"), Verdict::Out);
    assert_eq!(grand("spring", "jumps"), Verdict::Out);
    assert_eq!(grand("wear_hammers", "worn"), Verdict::Acceptable);
    assert_eq!(grand("wear_hammers", "worn out"), Verdict::Out);
    assert_eq!(grand("voicing", "even"), Verdict::OnTarget);
    assert_eq!(
        judged(Instrument::Upright, "spring", "firm return"),
        Verdict::OnTarget
    );
}

#[test]
fn the_pad_puts_the_point_where_the_trade_does() {
    let mm = LengthUnit::Millimeter;
    for (id, typed, meant) in [
        ("let_off", "18", "1.8"),
        ("let_off", "2", "2"),
        ("blow", "45", "45"),
        ("blow", "455", "45.5"),
        ("drop", "15", "1.5"),
        ("natural_dip", "98", "9.8"),
        ("natural_dip", "105", "10.5"),
        ("natural_level", "15", "0.15"),
        ("natural_level", "-15", "-0.15"),
        ("natural_level", "2", "0.2"),
        ("sharp_level", "125", "12.5"),
        ("aftertouch", "115", "1.15"),
        ("aftertouch", "12", "1.2"),
        ("aftertouch", "9", "0.9"),
        ("checking", "15", "15"),
        ("checking", "155", "15.5"),
        ("key_pin", "371", "3.71"),
        ("string_height", "196", "196"),
        ("string_height", "1965", "196.5"),
        ("key_height", "635", "63.5"),
        ("hammer_friction", "35", "3.5"),
        ("hammer_friction", "12", "1.2"),
        ("hammer_felt", "85", "8.5"),
        ("pitch_a4", "4405", "440.5"),
        ("temperature", "215", "21.5"),
        ("humidity", "45", "45"),
        ("down_weight", "52", "52"),
        ("hammer_swings", "6", "6"),
    ] {
        let measure = Instrument::Grand.measure(id).expect(id);
        assert_eq!(measure.pointed(typed, mm), meant, "{id} {typed}");
    }
}

#[test]
fn the_taper_of_let_off_falls_from_bass_to_treble() {
    let taper = let_off_taper();
    let sections = Sections::default();
    let aims: Vec<i64> = Note::all()
        .filter_map(|n| taper.plain_band(n, &sections))
        .map(|b| b.aim)
        .collect();
    assert_eq!(aims.len(), Note::COUNT);
    assert!(aims.windows(2).all(|w| w[0] > w[1]));
    assert_eq!(
        (aims[0], aims[27], aims[87]),
        (2_500_000, 2_000_000, 1_500_000)
    );
}

#[test]
fn a_worn_reading_is_believed_and_a_slip_of_the_unit_is_not() {
    let is_plausible = |id: &str, nm: i64| {
        let measure = Instrument::Grand.measure(id).expect(id);
        measure.is_plausible(Value::from_base(measure.kind, nm))
    };
    // 45 in typed for 45 mm; a worn hammer line at 51 mm.
    assert!(!is_plausible("blow", 45 * 25_400_000));
    assert!(is_plausible("blow", 51_000_000));
    assert!(is_plausible("let_off", 0));
    assert!(!is_plausible("let_off", 20_000_000));
    assert!(is_plausible("natural_dip", 11_500_000));
}

#[test]
fn the_aims_of_a_job_in_inches_stand_on_a_rule_and_near_the_usual_ones() {
    for instrument in [Instrument::Grand, Instrument::Upright] {
        let all = inch_targets(instrument);
        let aim = |id: &str| {
            let found = all.iter().find(|(m, _)| m.as_str() == id);
            let band = found
                .unwrap_or_else(|| panic!("no {id}"))
                .1
                .band(None, 0, |_| None);
            band.unwrap().aim
        };
        for (id, target) in &all {
            assert!(target.is_sound(), "{id}");
            let measure = instrument.measure(id.as_str()).unwrap();
            let usual = measure
                .target
                .as_ref()
                .unwrap()
                .band(None, 0, |_| None)
                .unwrap();
            let shown = measure.shown(
                Value::from_base(Kind::Length, aim(id.as_str())),
                LengthUnit::Inch,
            );
            assert!(shown.contains('/') && !shown.contains('.'), "{id}: {shown}");
            let (low, high) = usual.accept;
            let near = low.unwrap()..=high.unwrap();
            assert!(near.contains(&aim(id.as_str())), "{id}: {shown}");
        }
        // Travel balance: at a plausible ratio they leave the aftertouch that they aim at.
        let travel = (aim("blow") - aim("let_off")) as f64;
        let ratio = travel / (aim("natural_dip") - aim("aftertouch")) as f64;
        let (low, high) = PLAUSIBLE_RATIO;
        assert!((low..=high).contains(&ratio), "{instrument:?}: {ratio}");
    }
}
