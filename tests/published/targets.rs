//! The default targets against what others have published. Each range stands beside its
//! source as the project's notes on the trade name it; what is common practice without a
//! source, and what comes from memory, is not checked here.

use evenhand_core::note::{Note, Sections};
use evenhand_core::trade::{
    Band, Instrument, TABLE, Target, Verdict, balance_weight_target, causes_of, damper_lift_target,
    disturbed_by, friction_target, let_off_taper,
};
use evenhand_core::unit::{Length, LengthUnit};
use std::collections::BTreeSet;

const MM: i64 = 1_000_000;
const GF: i64 = 1_000;

fn note(number: i64) -> Note {
    Note::new(number).expect("a note of the piano")
}

fn inches(text: &str) -> i64 {
    Length::read(text, LengthUnit::Inch).expect("a length").nm()
}

/// The band of a target on a note; the two instruments' defaults are flat, or tapered over the notes.
fn band_of(target: &Target, at: Note) -> Band {
    target.plain_band(at, &Sections::default()).expect("a band")
}

fn band(instrument: Instrument, id: &str) -> Band {
    let measure = instrument.measure(id).expect("a measure of the instrument");
    band_of(measure.target.as_ref().expect("a target"), note(40))
}

/// Asserts that aim and aim band lie inside a published range.
fn aims_inside(band: Band, low: i64, high: i64) {
    let (from, to) = band.within;
    assert!(low <= from.expect("a lower end"), "{band:?}");
    assert!(to.expect("an upper end") <= high, "{band:?}");
    assert!(from <= Some(band.aim) && Some(band.aim) <= to);
}

#[test]
fn a4_is_aimed_at_standard_pitch() {
    // ISO 16: 440 Hz, to within half a hertz.
    let pitch = band(Instrument::Grand, "pitch_a4");
    assert_eq!(pitch.aim, 440_000);
    assert_eq!(pitch.within, (Some(439_500), Some(440_500)));
    // What equal temperament makes of that aim at the ends of the keyboard.
    let hertz = pitch.aim as f64 / 1000.0;
    assert!((Note::FIRST.frequency_hz(hertz) - 27.5).abs() < 1e-9);
    assert!((Note::LAST.frequency_hz(hertz) - 4186.009).abs() < 1e-3);
}

#[test]
fn the_grands_blow_lies_where_makers_manuals_put_it() {
    // 44 to 48 mm in makers' manuals, as quoted on technicians' lists.
    aims_inside(band(Instrument::Grand, "blow"), 44 * MM, 48 * MM);
}

#[test]
fn the_natural_dip_lies_where_makers_manuals_put_it() {
    // 9.5 to 11 mm, technicians' lists quoting makers' manuals.
    let dip = band(Instrument::Grand, "natural_dip");
    aims_inside(dip, 95 * MM / 10, 11 * MM);
    assert!(dip.accept.0 >= Some(95 * MM / 10) && dip.accept.1 <= Some(11 * MM));
}

#[test]
fn checking_is_aimed_at_over_the_published_range() {
    // 14 to 16 mm, technicians' list.
    let checking = band(Instrument::Grand, "checking");
    assert_eq!(checking.within, (Some(14 * MM), Some(16 * MM)));
}

#[test]
fn every_published_aftertouch_may_stay_and_the_aim_is_among_them() {
    // 0.035 to 0.050 in, technicians' lists.
    let (low, high) = (inches("0.035"), inches("0.050"));
    assert_eq!((low, high), (889_000, 1_270_000));
    let aftertouch = band(Instrument::Grand, "aftertouch");
    assert!((low..=high).contains(&aftertouch.aim));
    for nm in [low, high] {
        assert_ne!(aftertouch.judge(nm), Verdict::Out);
    }
    assert_eq!(aftertouch.judge(inches("0.020")), Verdict::Out);
    assert_eq!(aftertouch.judge(inches("0.070")), Verdict::Out);
}

#[test]
fn balance_weights_that_were_published_are_on_aim() {
    // 38 to 40 gf, technicians' list.
    let weight = band_of(&balance_weight_target(), note(40));
    for gf in [38, 39, 40] {
        assert_eq!(weight.judge(gf * GF), Verdict::OnTarget, "{gf}");
    }
    assert_eq!(weight.judge(50 * GF), Verdict::Out);
}

#[test]
fn friction_falls_from_sixteen_to_ten() {
    // Technicians' list, October 1998: 16 gf at note 1 falling to 10 at note 88.
    let aims: Vec<i64> = Note::all()
        .map(|n| band_of(&friction_target(), n).aim)
        .collect();
    assert_eq!((aims[0], aims[87]), (16 * GF, 10 * GF));
    assert!(aims.windows(2).all(|w| w[1] <= w[0]));
}

#[test]
fn a_key_that_comes_up_with_less_than_twenty_is_out() {
    // Up weight never under 20 gf, action-weighing blog.
    let up = band(Instrument::Grand, "up_weight");
    assert_eq!(up.judge(20 * GF), Verdict::OnTarget);
    assert_eq!(up.judge(20 * GF - 1), Verdict::Out);
}

#[test]
fn the_usual_key_height_is_believed_without_asking() {
    // 60 to 68 mm plausible, 63 to 63.5 usual: technicians' pages.
    let height = Instrument::Grand.measure("key_height").expect("key height");
    assert_eq!(height.plausible, Some((60 * MM, 68 * MM)));
    let (low, high) = height.plausible.expect("a range");
    for nm in [63 * MM, 635 * MM / 10] {
        assert!((low..=high).contains(&nm));
    }
    assert_eq!(
        height.target, None,
        "the case decides, so the figure is the user's"
    );
}

#[test]
fn centre_pins_have_the_flange_makers_friction() {
    // Technicians' forum quoting a flange maker's manual, 2023: gram-force, at 23 mm for the hammer.
    for (id, aim, tolerance) in [
        ("hammer_friction", 3_500, 1_500),
        ("wippen_friction", 2_500, 1_500),
        ("jack_friction", 1_500, 500),
        ("lever_friction", 5_500, 1_500),
    ] {
        let friction = band(Instrument::Grand, id);
        assert_eq!(friction.aim, aim, "{id}");
        assert_eq!(friction.judge(aim - tolerance), Verdict::OnTarget, "{id}");
        assert_eq!(friction.judge(aim + tolerance), Verdict::OnTarget, "{id}");
        assert_eq!(friction.judge(aim + tolerance + 1), Verdict::Out, "{id}");
    }
}

#[test]
fn the_caul_is_chosen_over_the_pin_by_the_makers_figure() {
    // Caul maker's data: 0.002 in over the pin, which is 0.05 mm to the hundredth.
    let over = Length::from_nm(inches("0.002")).shown(LengthUnit::Millimeter, 2);
    let steps = Instrument::Grand.steps();
    let pins = steps
        .iter()
        .find(|s| s.id.as_str() == "key_pin")
        .expect("key pins");
    assert!(
        pins.how.contains(&format!("{over} mm over the pin")),
        "{}",
        pins.how
    );
}

#[test]
fn the_let_off_taper_is_as_published() {
    // Technicians' list, twice the core wire: 2.5 mm in the bass, 1.5 at the top.
    let aim = |n| band_of(&let_off_taper(), n).aim;
    assert_eq!(aim(Note::FIRST), 25 * MM / 10);
    assert_eq!(aim(Note::LAST), 15 * MM / 10);
    // Between them somewhere, the low plain wire: 2.0 mm.
    assert!(Note::all().any(|n| aim(n) == 2 * MM));
}

#[test]
fn dampers_start_at_half_of_the_blow() {
    // Trade flashcards, and the player-piano technicians' digest of 2010 for the vertical.
    for instrument in [Instrument::Grand, Instrument::Upright] {
        let blow = band(instrument, "blow").aim;
        let lift = damper_lift_target().band(Some(note(40)), 0, |id| {
            assert_eq!(id.as_str(), "blow");
            Some(blow)
        });
        assert_eq!(lift.expect("a band").aim * 2, blow);
    }
}

#[test]
fn the_verticals_blow_lies_in_the_published_range() {
    // 45 to 48 mm, player-piano technicians' digest, 2010.
    aims_inside(band(Instrument::Upright, "blow"), 45 * MM, 48 * MM);
}

#[test]
fn the_half_blow_pedal_leaves_half_of_the_blow() {
    // What its name says; common practice, no source for the figure.
    let left = band(Instrument::Upright, "half_blow_pedal").aim;
    assert_eq!(left * 2, band(Instrument::Upright, "blow").aim);
}

#[test]
fn the_verticals_let_off_is_an_eighth_of_an_inch() {
    // 1/8 in, player-piano technicians' digest, 2010; 1 to 3 mm in trade flashcards, whose
    // wide end is aimed at.
    let let_off = band(Instrument::Upright, "let_off");
    assert_eq!(let_off.judge(inches("1/8")), Verdict::OnTarget);
    assert_eq!(let_off.judge(3 * MM), Verdict::OnTarget);
    // The grand's is closer, and its aim would not do for the vertical.
    assert!(band(Instrument::Grand, "let_off").aim < let_off.within.0.expect("a lower end"));
}

#[test]
fn the_verticals_checking_is_as_published() {
    // 15 mm, player-piano technicians' digest, 2010.
    assert_eq!(band(Instrument::Upright, "checking").aim, 15 * MM);
}

#[test]
fn key_height_and_key_dip_disturb_the_checking_distance() {
    // Grand regulation article series, part XXII: both directly affect it.
    let causes: BTreeSet<&str> = causes_of("checking").map(|row| row.work).collect();
    for work in ["natural_level", "sharp_level", "natural_dip", "sharp_dip"] {
        assert!(causes.contains(work), "{work}");
    }
}

#[test]
fn checking_disturbs_the_repetition_spring_and_nothing_else() {
    // The same part XXII.
    let disturbed: Vec<&str> = disturbed_by("checking")
        .flat_map(|row| row.disturbs)
        .copied()
        .collect();
    assert_eq!(disturbed, ["spring"]);
    // Nor does anything that the spring does come back to the checking.
    assert!(TABLE.iter().all(|row| row.work != "spring"));
}
