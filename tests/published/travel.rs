//! The travel balance against the relation, the signs and the example that technicians have published.

use evenhand_core::analysis::travel::{Dimension, RatioFit, Travel};
use evenhand_core::note::Note;
use evenhand_core::trade::PLAUSIBLE_RATIO;
use evenhand_core::unit::{InchForm, Length, LengthUnit};

fn mm(hundredths: i64) -> Length {
    Length::from_mm_hundredths(hundredths)
}

fn inches(text: &str) -> Length {
    Length::read(text, LengthUnit::Inch).expect("a length")
}

/// P: "Drop", college technicians' archive, 3 June 2004,
/// <http://www.moypiano.com/ptg/caut.php/2004-June/011928.html>: blow 44, let-off 2, dip 10.0 under 300 g,
/// aftertouch 0.045 in.
fn published() -> Travel {
    Travel {
        dip: mm(1000),
        lost_motion: mm(0),
        blow: mm(4400),
        let_off: mm(200),
        aftertouch: inches(".045"),
    }
}

/// The same page: (44 − 2)/(10 − 1.143) = 4.742, reckoned from its figures.
#[test]
fn the_published_example_has_its_ratio_and_gives_each_length_back() {
    let note = published();
    assert_eq!(note.aftertouch, Length::from_nm(1_143_000));
    let ratio = note.ratio().unwrap();
    assert!((ratio - 4.742).abs() < 5e-4, "{ratio}");
    assert!(PLAUSIBLE_RATIO.0 <= ratio && ratio <= PLAUSIBLE_RATIO.1);
    for dimension in Dimension::ALL {
        let back = note.solved(dimension, ratio).unwrap() - note.get(dimension);
        assert!(back.abs() <= Length::from_nm(5), "{dimension:?}");
    }
    let fit = RatioFit::of(&[(Note::FIRST, note)]).unwrap();
    assert!((fit.ratio - ratio).abs() < 1e-12);
}

/// P: "Action Ratios", 6 January 2010,
/// <https://www.moypiano.com/ptg/pianotech.php/2010-January/018138.html>: (blow − let-off) / (dip −
/// aftertouch) = action ratio.
#[test]
fn the_ratio_relation_holds_both_ways() {
    let (low, high) = PLAUSIBLE_RATIO;
    for hundredths in ((100.0 * low) as i64..=(100.0 * high) as i64).step_by(7) {
        let ratio = hundredths as f64 / 100.0;
        let mut note = published();
        note.aftertouch = note.aftertouch_at(ratio).unwrap();
        // A nanometer of rounding in 8 mm.
        assert!((note.ratio().unwrap() - ratio).abs() < 1e-6);
    }
}

/// P: "Grand Regulation: Key Dip – Part 1",
/// <https://grandwork.tools/blogs/chris/grand-regulation-key-dip-part-1>: deeper dip, shorter blow and wider
/// let-off each give more aftertouch.
#[test]
fn the_published_signs_hold() {
    let before = published();
    for ratio in [PLAUSIBLE_RATIO.0, 4.742, 5.0, PLAUSIBLE_RATIO.1] {
        let at = |note: Travel| note.aftertouch_at(ratio).unwrap();
        for more in [1, 10, 50, 100] {
            let mut deeper = before;
            deeper.dip = before.dip + mm(more);
            let mut shorter = before;
            shorter.blow = before.blow - mm(more);
            let mut wider = before;
            wider.let_off = before.let_off + mm(more);
            for changed in [deeper, shorter, wider] {
                assert!(at(changed) > at(before));
            }
        }
    }
}

/// P: "Steinway regulation", 12 April 2000, <http://moypiano.com/ptg/caut.php/2000-April/002438.html>: .390 −
/// .062 = .328; half of it .164; .164 + .062 = .226 in.
#[test]
fn the_published_sum_in_inches_comes_out() {
    let shown = |length: Length| length.shown_in(InchForm::Decimal, LengthUnit::Inch, 3);
    let left = inches(".390") - inches(".062");
    let half = Length::from_nm(left.nm() / 2);
    let sum = half + inches(".062");
    assert_eq!([left, half, sum].map(shown), ["0.328", "0.164", "0.226"]);
    assert_eq!(sum, inches(".226"));
}

/// Lengths given in both units, to the digit that is given.
#[test]
fn inches_and_millimeters_agree_as_given() {
    for (inch, millimeters, decimals, source) in [
        (
            "1.75",
            "44.5",
            1,
            "http://www.moypiano.com/ptg/caut.php/2004-October/012890.html",
        ),
        (
            "1/8",
            "3",
            0,
            "http://www.moypiano.com/ptg/caut.php/2004-May/011903.html",
        ),
    ] {
        let shown = inches(inch).shown(LengthUnit::Millimeter, decimals);
        assert_eq!(shown, millimeters, "{inch} {source}");
    }
}
