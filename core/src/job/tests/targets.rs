//! Tests of targets and verdicts.

use super::*;
use crate::note::Sections;
use crate::trade::{Band, Target, Verdict, damper_lift_target, let_off_taper};
use crate::unit::Length;

fn flat(hundredths: i64) -> Option<Target> {
    Some(Target::Flat(Band::mm(hundredths, 30, 50)))
}

fn aim(phone: &Phone, note: i64) -> i64 {
    phone.state().band("let_off", on(note)).unwrap().aim / 10_000
}

#[test]
fn a_note_wins_over_its_section_and_that_over_the_job_and_that_over_the_trade() {
    let mut phone = Phone::new(1);
    phone.setup(Setup {
        sections: Sections::new([20, 52, 72].map(n)).ok(),
        ..Setup::default()
    });
    assert_eq!(aim(&phone, 30), 200);
    phone.target("let_off", Scope::Job, flat(210));
    phone.target("let_off", Scope::Section(1), flat(220));
    phone.target("let_off", Scope::Note(n(30)), flat(230));
    assert_eq!([30, 31, 60].map(|note| aim(&phone, note)), [230, 220, 210]);
    // Withdrawn: the target of the wider scope is in effect again.
    phone.target("let_off", Scope::Note(n(30)), None);
    assert_eq!(aim(&phone, 30), 220);
    phone.target("let_off", Scope::Section(1), None);
    phone.target("let_off", Scope::Job, None);
    assert_eq!(aim(&phone, 30), 200);
}

#[test]
fn a_targets_history_is_kept_and_undo_restores_the_one_before() {
    let mut phone = Phone::new(1);
    phone.target("let_off", Scope::Job, flat(210));
    let second = phone.target("let_off", Scope::Job, flat(250));
    phone.undo(&second);
    assert_eq!(aim(&phone, 30), 210);
    let history = phone.state().target_history("let_off");
    assert_eq!(history.len(), 2);
    assert_eq!(history[1].position.id, second.id);
    let alive: Vec<bool> = history.iter().map(TargetChange::is_alive).collect();
    assert_eq!(alive, [true, false]);
}

#[test]
fn a_verdict_is_by_the_target_in_force_when_it_is_looked_at() {
    let mut phone = Phone::new(1);
    let value = phone.read("let_off", on(30), BENCH, 2_600_000);
    let EntryKind::Reading { value, .. } = value.kind else {
        panic!("not a reading")
    };
    let judge = |phone: &Phone| phone.state().judge("let_off", on(30), value).unwrap();
    assert_eq!(
        (judge(&phone).verdict, judge(&phone).off),
        (Verdict::Out, 600_000)
    );
    phone.target("let_off", Scope::Job, flat(250));
    assert_eq!(
        (judge(&phone).verdict, judge(&phone).off),
        (Verdict::OnTarget, 100_000)
    );
    assert_eq!(phone.progress("let_off").out, 0);
}

#[test]
fn an_aim_outside_its_own_band_changes_nothing() {
    let mut phone = Phone::new(1);
    phone.target("let_off", Scope::Job, flat(210));
    let mut band = Band::mm(250, 30, 50);
    band.aim = 0;
    phone.target("let_off", Scope::Job, Some(Target::Flat(band)));
    assert_eq!(aim(&phone, 30), 210);
}

#[test]
fn targets_taper_over_the_notes_and_differ_by_section() {
    let mut phone = Phone::new(1);
    phone.setup(Setup {
        sections: Sections::new([20, 52].map(n)).ok(),
        ..Setup::default()
    });
    phone.target("let_off", Scope::Job, Some(let_off_taper()));
    assert_eq!([1, 28, 88].map(|note| aim(&phone, note)), [250, 200, 150]);
    let bands = [260, 240, 220].map(|a| Band::mm(a, 30, 50)).to_vec();
    phone.target("let_off", Scope::Job, Some(Target::BySection(bands)));
    assert_eq!([1, 21, 88].map(|note| aim(&phone, note)), [260, 240, 220]);
    let by_section = phone.state().band("let_off", Subject::Section(2)).unwrap();
    assert_eq!(by_section.aim, 2_200_000);
}

#[test]
fn a_share_follows_the_reading_in_force_and_that_in_the_piano_first() {
    let mut phone = Phone::new(1);
    phone.target("damper_lift", Scope::Job, Some(damper_lift_target()));
    let aim = |phone: &Phone| phone.state().band("damper_lift", on(40)).unwrap().aim;
    // The aim of the blow, 45 mm, until the blow is measured.
    assert_eq!(aim(&phone), 22_500_000);
    phone.read_as(Occasion::AsFound, "blow", on(40), PIANO, 48_000_000);
    assert_eq!(aim(&phone), 24_000_000);
    phone.read("blow", on(40), BENCH, 45_600_000);
    assert_eq!(aim(&phone), 22_800_000);
    phone.read("blow", on(40), PIANO, 45_400_000);
    assert_eq!(aim(&phone), 22_700_000);
}

#[test]
fn a_share_of_itself_or_of_another_share_has_no_band() {
    let mut phone = Phone::new(1);
    let share = |of: &str| {
        Some(Target::ShareOf {
            of: MeasureId::from(of),
            percent: 50,
            within: 1,
            accept: 1,
        })
    };
    phone.target("a", Scope::Job, share("b"));
    phone.target("b", Scope::Job, share("a"));
    phone.target("c", Scope::Job, share("c"));
    for measure in ["a", "b", "c"] {
        assert_eq!(phone.state().band(measure, on(1)), None);
    }
}

/// The ranges are P, makers' manuals as quoted on technicians' lists: dip 9.5 to 11 mm, blow 44 to 48.
#[test]
fn the_length_that_floats_may_stay_wherever_it_is_plausible() {
    let mut phone = Phone::new(1);
    let says = |phone: &Phone, measure: &str, hundredths: i64| {
        let value = Value::Nm(Length::from_mm_hundredths(hundredths));
        phone.state().judge(measure, on(40), value).unwrap().verdict
    };
    let following = |following| Setup {
        following: Some(following),
        ..Setup::default()
    };
    assert_eq!(says(&phone, "natural_dip", 1060), Verdict::Out);
    phone.setup(following(FollowingLength::Dip));
    assert_eq!(says(&phone, "natural_dip", 1000), Verdict::OnTarget);
    assert_eq!(says(&phone, "natural_dip", 1060), Verdict::Acceptable);
    assert_eq!(says(&phone, "natural_dip", 1110), Verdict::Out);
    assert_eq!(says(&phone, "blow", 4720), Verdict::Out);
    // A target that accepts more widens the band; the target itself stays as it was set.
    let wide = Some(Target::Flat(Band::mm(1000, 10, 150)));
    phone.target("natural_dip", Scope::Job, wide.clone());
    assert_eq!(says(&phone, "natural_dip", 1150), Verdict::Acceptable);
    assert_eq!(phone.state().target("natural_dip", on(40)), wide);
    phone.setup(following(FollowingLength::Blow));
    assert_eq!(says(&phone, "blow", 4720), Verdict::Acceptable);
    assert_eq!(says(&phone, "blow", 4380), Verdict::Acceptable);
    assert_eq!(says(&phone, "blow", 4290), Verdict::Out);
}

#[test]
fn a_value_of_another_kind_is_not_judged() {
    let phone = Phone::new(1);
    let judged = phone.state().judge("let_off", on(1), Value::Good(true));
    assert_eq!(judged, None);
}
