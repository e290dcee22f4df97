//! The default targets against what others have published. Each range stands beside its
//! source; what is common practice without a source, and what comes from memory, is not checked here.

use evenhand_core::note::{Note, Sections};
use evenhand_core::trade::{
    Band, HOUSE_PITCHES, Instrument, Strength, TABLE, Target, Verdict, balance_weight_target,
    causes_of, damper_lift_target, derived_range, disturbed_by, friction_target, let_off_taper,
    pitch_target,
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

/// Asserts the verdict of the default target on published values.
fn judged(instrument: Instrument, id: &str, at: Note, values: &[i64], verdict: Verdict) {
    let measure = instrument.measure(id).expect("a measure of the instrument");
    let band = band_of(measure.target.as_ref().expect("a target"), at);
    for value in values {
        assert_eq!(band.judge(*value), verdict, "{id}: {value}");
    }
}

#[test]
fn a4_is_aimed_at_standard_pitch() {
    // ISO 16, http://www.hawaiilibrary.net/articles/ISO_16: 440 Hz. Gazzetta Ufficiale, 12 May 1989, 089G0200,
    // article 3: ± 0.5 Hz.
    let pitch = band(Instrument::Grand, "pitch_a4");
    assert_eq!(pitch.aim, 440_000);
    assert_eq!(pitch.within, (Some(439_500), Some(440_500)));
    // What equal temperament makes of that aim at the ends of the keyboard.
    let hertz = pitch.aim as f64 / 1000.0;
    assert!((Note::FIRST.frequency_hz(hertz) - 27.5).abs() < 1e-9);
    assert!((Note::LAST.frequency_hz(hertz) - 4186.009).abs() < 1e-3);
}

#[test]
fn the_house_pitches_of_continental_europe_can_be_chosen() {
    // The same page: 442 to 443 Hz.
    for hertz in [442, 443] {
        assert!(HOUSE_PITCHES.contains(&(hertz * 1_000)));
        let chosen = band_of(&pitch_target(hertz * 1_000), note(49));
        assert_eq!(chosen.judge(hertz * 1_000), Verdict::OnTarget);
    }
    judged(
        Instrument::Grand,
        "pitch_a4",
        note(49),
        &[443_000],
        Verdict::Out,
    );
}

#[test]
fn the_grands_blow_lies_where_makers_manuals_put_it() {
    // 44 to 48 mm: https://www.moypiano.com/ptg/pianotech.php/2002-October/120239.html, 2002.
    aims_inside(band(Instrument::Grand, "blow"), 44 * MM, 48 * MM);
    // 1 3/4 in: https://www.manualslib.com/manual/3083539/Steinway-And-Sons-S.html.
    judged(
        Instrument::Grand,
        "blow",
        note(40),
        &[inches("1 3/4")],
        Verdict::Acceptable,
    );
    // Left to follow, it came out at 44 to 49: http://moypiano.com/ptg/pianotech.php/2009-February/004685.html.
    let (low, high) = derived_range("blow", Instrument::Grand).expect("a range");
    for nm in [44 * MM, 49 * MM, inches("1 7/8")] {
        assert!((low..=high).contains(&nm), "{nm}");
    }
}

#[test]
fn the_natural_dip_lies_where_makers_manuals_put_it() {
    // 9.5 to 11 mm: https://www.moypiano.com/ptg/pianotech.php/2002-October/120239.html, 2002.
    let dip = band(Instrument::Grand, "natural_dip");
    aims_inside(dip, 95 * MM / 10, 11 * MM);
    assert!(dip.accept.0 >= Some(95 * MM / 10) && dip.accept.1 <= Some(11 * MM));
    let range = derived_range("natural_dip", Instrument::Grand);
    assert_eq!(range, Some((95 * MM / 10, 11 * MM)));
    // 0.390 in: http://www.moypiano.com/ptg/pianotech.php/2010-July/025990.html.
    judged(
        Instrument::Grand,
        "natural_dip",
        note(40),
        &[inches(".390")],
        Verdict::OnTarget,
    );
}

#[test]
fn published_heights_of_the_sharps_are_not_out() {
    // 12 mm, 1/2 in: https://www.moypiano.com/ptg/pianotech.php/1998-September/037340.html.
    judged(
        Instrument::Grand,
        "sharp_level",
        note(41),
        &[inches("1/2")],
        Verdict::OnTarget,
    );
    judged(
        Instrument::Grand,
        "sharp_level",
        note(41),
        &[12 * MM],
        Verdict::Acceptable,
    );
}

#[test]
fn checking_is_aimed_at_over_the_published_range() {
    // 14 to 16 mm: http://www.moypiano.com/ptg/pianotech.php/2003-May/135642.html, 2003.
    let checking = band(Instrument::Grand, "checking");
    assert_eq!(checking.within, (Some(14 * MM), Some(16 * MM)));
    // 5/8 in: https://thepianoplace.com/blogs/allblogs/tech-talk-repetition-lever-spring-adjustment, 2021.
    judged(
        Instrument::Grand,
        "checking",
        note(40),
        &[inches("5/8")],
        Verdict::OnTarget,
    );
}

#[test]
fn every_published_aftertouch_may_stay_and_the_aim_is_among_them() {
    // 0.030 to 0.060 in by customer and action, usually at most 0.050:
    // http://moypiano.com/ptg/pianotech.php/1999-August/050752.html, 1999; samples of 0.030, 0.040 and 0.060 in:
    // "Metric measurements", my.ptg.org, 8 March 2024.
    let ends = [inches("0.030"), inches("0.060")];
    assert_eq!(ends, [762_000, 1_524_000]);
    let aftertouch = band(Instrument::Grand, "aftertouch");
    assert_eq!(aftertouch.accept, (Some(ends[0]), Some(ends[1])));
    assert_eq!(
        derived_range("aftertouch", Instrument::Grand),
        Some((ends[0], ends[1]))
    );
    let at = note(40);
    judged(
        Instrument::Grand,
        "aftertouch",
        at,
        &ends,
        Verdict::Acceptable,
    );
    // 0.045 in: http://www.moypiano.com/ptg/caut.php/2004-June/011928.html, 2004.
    let middle = [inches("0.040"), inches("0.045"), inches("0.050")];
    judged(
        Instrument::Grand,
        "aftertouch",
        at,
        &middle,
        Verdict::OnTarget,
    );
    let beyond = [ends[0] - 1, ends[1] + 1];
    judged(Instrument::Grand, "aftertouch", at, &beyond, Verdict::Out);
}

#[test]
fn published_clearances_of_the_rest_cushion_may_stay() {
    // About 2 mm: https://thetunersblog.blogspot.com/search/label/Grand%20%20piano%20action, 2014; up to 5/16 in:
    // http://www.moypiano.com/ptg/pianotech.php/2010-July/025990.html, 2010.
    judged(
        Instrument::Grand,
        "rest_cushion",
        note(40),
        &[2 * MM],
        Verdict::OnTarget,
    );
    judged(
        Instrument::Grand,
        "rest_cushion",
        note(40),
        &[inches("5/16")],
        Verdict::Acceptable,
    );
    // The shanks must not rest on it: the same page.
    judged(
        Instrument::Grand,
        "rest_cushion",
        note(40),
        &[0],
        Verdict::Out,
    );
}

#[test]
fn balance_weights_that_were_published_are_on_aim() {
    // 38 to 40 gf: https://www.moypiano.com/ptg/caut.php/attachments/65/a6/c4/bf/attachment.htm, about 2003.
    let weight = band_of(&balance_weight_target(), note(40));
    for gf in [38, 39, 40] {
        assert_eq!(weight.judge(gf * GF), Verdict::OnTarget, "{gf}");
    }
    // The mean of a new grand, 39.4: http://moypiano.com/ptg/pianotech.php/1995-March/001010.html, 1995.
    assert_eq!(weight.judge(39_400), Verdict::OnTarget);
    // Before and after its keys were eased, 45 and 39:
    // http://www.moypiano.com/ptg/caut.php/2004-March/011311.html, 2004.
    assert_eq!(weight.judge(45 * GF), Verdict::Out);
    assert_eq!(weight.judge(50 * GF), Verdict::Out);
}

#[test]
fn friction_falls_from_sixteen_to_eleven() {
    // Around 16 in the bass and 11 in the treble:
    // https://www.moypiano.com/ptg/pianotech.php/1998-October/038299.html, 1998.
    let aims: Vec<i64> = Note::all()
        .map(|n| band_of(&friction_target(), n).aim)
        .collect();
    assert_eq!((aims[0], aims[87]), (16 * GF, 11 * GF));
    assert!(aims.windows(2).all(|w| w[1] <= w[0]));
    // C3 32.5 and C5 21 that should be about 13: http://www.moypiano.com/ptg/pianotech.php/2003-May/134232.html.
    let judge = |n: i64, mgf| band_of(&friction_target(), note(n)).judge(mgf);
    assert_eq!(judge(28, 32_500), Verdict::Out);
    assert_eq!(judge(52, 21 * GF), Verdict::Out);
    assert_eq!(judge(52, 13 * GF), Verdict::OnTarget);
}

#[test]
fn a_key_that_comes_up_with_less_than_twenty_is_out() {
    // https://grandwork.tools/blogs/chris/weighing-off-the-grand-action-part-3.
    let up = band(Instrument::Grand, "up_weight");
    assert_eq!(up.judge(20 * GF), Verdict::OnTarget);
    assert_eq!(up.judge(20 * GF - 1), Verdict::Out);
}

#[test]
fn the_usual_key_height_is_believed_without_asking() {
    // To the underside of the key covering, 63 mm: http://moypiano.com/ptg/pianotech.php/2009-February/004790.html;
    // 2 1/2 in: https://azpianoservice.com/piano-regulation; 2.594 in:
    // https://88keyspianowarehouse.com/steinway-o-action-project/.
    let height = Instrument::Grand.measure("key_height").expect("key height");
    let (low, high) = height.plausible.expect("a range");
    for nm in [63 * MM, inches("2 1/2"), inches("2.594")] {
        assert!((low..=high).contains(&nm));
    }
    assert_eq!(
        height.target, None,
        "the case decides, so the figure is the user's"
    );
}

#[test]
fn hammer_flanges_have_the_makers_friction() {
    // 2 to 5 g at 23 mm: https://my.ptg.org/discussion/grand-hammer-shank-flange-pinning-torque, 2023.
    let at = note(40);
    judged(
        Instrument::Grand,
        "hammer_friction",
        at,
        &[2 * GF, 5 * GF],
        Verdict::OnTarget,
    );
    judged(
        Instrument::Grand,
        "hammer_friction",
        at,
        &[2 * GF - 1, 5 * GF + 1],
        Verdict::Out,
    );
    // A hammer that swings 5 times has 2 g: http://moypiano.com/ptg/pianotech.php/1995-March/001010.html, 1995.
    judged(
        Instrument::Grand,
        "hammer_swings",
        at,
        &[5],
        Verdict::OnTarget,
    );
    // 6, 5 and 4 swings from bass to top:
    // http://www.moypiano.com/ptg/pianotech.php/2006-January/184490.html, 2006.
    judged(
        Instrument::Grand,
        "hammer_swings",
        at,
        &[4, 5, 6],
        Verdict::OnTarget,
    );
}

#[test]
fn the_caul_is_chosen_over_the_pin_by_the_makers_figure() {
    // 0.002 in over the pin, 0.05 mm to the hundredth: https://erwinspiano.com/keybushingcauls.
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
    // Twice the core wire, 2.5 mm in the bass, 2 mm at the low plain wire, 1.5 at the top:
    // https://www.moypiano.com/ptg/pianotech.php/attachments/74/75/50/88/attachment.htm.
    let aim = |n| band_of(&let_off_taper(), n).aim;
    assert_eq!(aim(Note::FIRST), 25 * MM / 10);
    assert_eq!(aim(Note::LAST), 15 * MM / 10);
    // Between them somewhere, the low plain wire: 2.0 mm.
    assert!(Note::all().any(|n| aim(n) == 2 * MM));
    // A gauge of 1/16 in for the treble: http://www.londonpianotuning.co.uk/grand-regulation-part-xv/.
    let top = band_of(&let_off_taper(), Note::LAST);
    assert_eq!(top.judge(inches("1/16")), Verdict::OnTarget);
    // 3 mm is out for a grand: http://www.moypiano.com/ptg/caut.php/2004-May/011903.html, 2004.
    judged(
        Instrument::Grand,
        "let_off",
        note(40),
        &[3 * MM],
        Verdict::Out,
    );
}

#[test]
fn dampers_start_at_half_of_the_blow() {
    // Of the vertical: https://api.brainscape.com/flashcards/regulation-21247600/packs/23283580.
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
    // 45 to 48 mm: https://mmdigest.com/Archives/Digests/201002/2010.02.15.07.html, 2010.
    aims_inside(band(Instrument::Upright, "blow"), 45 * MM, 48 * MM);
    // 46 mm: http://leepianotuning.com/UprightReg.html, 2011; 1 7/8 in:
    // https://mmdigest.com/Archives/Digests/201102/2011.02.09.09.html, 2011.
    let at = note(40);
    judged(
        Instrument::Upright,
        "blow",
        at,
        &[46 * MM],
        Verdict::OnTarget,
    );
    judged(
        Instrument::Upright,
        "blow",
        at,
        &[inches("1 7/8")],
        Verdict::Acceptable,
    );
}

#[test]
fn the_verticals_let_off_is_an_eighth_of_an_inch() {
    // 1/8 in: https://mmdigest.com/Archives/Digests/201002/2010.02.15.07.html, 2010; 1 to 3 mm, whose wide end is
    // aimed at: https://api.brainscape.com/flashcards/regulation-21247600/packs/23283580.
    let let_off = band(Instrument::Upright, "let_off");
    assert_eq!(let_off.judge(inches("1/8")), Verdict::OnTarget);
    assert_eq!(let_off.judge(3 * MM), Verdict::OnTarget);
    // The grand's is closer, and its aim would not do for the vertical.
    assert!(band(Instrument::Grand, "let_off").aim < let_off.within.0.expect("a lower end"));
}

#[test]
fn the_verticals_checking_is_as_published() {
    // 15 mm: https://mmdigest.com/Archives/Digests/201002/2010.02.15.07.html, 2010.
    assert_eq!(band(Instrument::Upright, "checking").aim, 15 * MM);
    // 5/8 in: https://thepianomechanic.blogspot.com/2011/12/what-is-this-lost-motion.html, 2011.
    judged(
        Instrument::Upright,
        "checking",
        note(40),
        &[inches("5/8")],
        Verdict::OnTarget,
    );
}

#[test]
fn no_perceptible_lost_motion_is_on_target() {
    // https://www.moypiano.com/ptg/pianotech.php/attachments/20060504/64b00213/attachment.html, 2006.
    judged(
        Instrument::Upright,
        "lost_motion",
        note(40),
        &[0],
        Verdict::OnTarget,
    );
}

#[test]
fn key_height_and_key_dip_disturb_the_checking_distance() {
    // http://www.londonpianotuning.co.uk/grand-regulation-part-xxii/: both directly affect it.
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
    assert!(
        TABLE
            .iter()
            .all(|row| row.work != "spring" || row.strength == Strength::Look)
    );
}
