//! Tests of the travel balance and the fit of the ratio.

use super::*;
use proptest::prelude::*;

fn mm(mm: f64) -> Length {
    Length::from_mm(mm)
}

fn usual() -> Travel {
    Travel {
        dip: mm(10.0),
        lost_motion: mm(0.0),
        blow: mm(45.0),
        let_off: mm(2.0),
        aftertouch: mm(1.15),
    }
}

/// A note that balances at this ratio with this blow.
fn balanced(ratio: f64, blow: f64) -> Travel {
    let note = Travel {
        blow: mm(blow),
        ..usual()
    };
    let aftertouch = note.aftertouch_at(ratio).unwrap();
    Travel { aftertouch, ..note }
}

fn n(number: i64) -> Note {
    Note::new(number).unwrap()
}

#[test]
fn a_deeper_dip_gives_more_aftertouch() {
    let deeper = Travel {
        dip: mm(10.3),
        ..usual()
    };
    let more = deeper.aftertouch_at(5.0).unwrap() - usual().aftertouch_at(5.0).unwrap();
    assert_eq!(more, mm(0.3));
}

#[test]
fn lost_motion_is_taken_from_the_aftertouch() {
    let loose = Travel {
        lost_motion: mm(0.4),
        ..usual()
    };
    let less = usual().aftertouch_at(5.0).unwrap() - loose.aftertouch_at(5.0).unwrap();
    assert_eq!(less, mm(0.4));
}

#[test]
fn a_note_that_does_not_fit_is_pointed_out_with_its_amount() {
    let mut samples: Vec<_> = [1, 3, 4, 6, 8, 9, 11]
        .into_iter()
        .map(|k| (n(k), balanced(5.2, 44.0 + 0.2 * k as f64)))
        .collect();
    samples[3].1.aftertouch = samples[3].1.aftertouch + mm(0.8);
    let fit = RatioFit::of(&samples).unwrap();
    let odd: Vec<_> = fit.odd().collect();
    assert_eq!(odd.len(), 1);
    assert_eq!(odd[0].note, n(6));
    assert!((odd[0].aftertouch.mm() - 0.8).abs() < 1e-3, "{odd:?}");
    assert!((fit.ratio - 5.2).abs() < 1e-4);
    assert_eq!(fit.fitted, 6);
}

#[test]
fn small_scatter_makes_no_note_odd() {
    let samples: Vec<_> = (1..=9)
        .map(|k| {
            let mut t = balanced(5.2, 45.0);
            t.aftertouch = t.aftertouch + mm(if k % 2 == 0 { 0.05 } else { -0.05 });
            (n(k), t)
        })
        .collect();
    let fit = RatioFit::of(&samples).unwrap();
    assert_eq!(fit.odd().count(), 0);
    assert!(fit.standard_error.unwrap() > 0.0);
}

#[test]
fn naturals_and_sharps_are_fitted_apart() {
    let samples: Vec<_> = Note::all()
        .map(|note| {
            (
                note,
                balanced(if note.is_sharp() { 5.6 } else { 5.2 }, 45.0),
            )
        })
        .collect();
    let (naturals, sharps) = fit_by_color(&samples);
    assert!((naturals.unwrap().ratio - 5.2).abs() < 1e-4);
    assert!((sharps.unwrap().ratio - 5.6).abs() < 1e-4);
    let (_, none) = fit_by_color(&[(n(1), usual())]);
    assert!(none.unwrap_err().to_string().contains("too few"));
}

#[test]
fn notes_without_travel_are_named_and_left_out() {
    let stuck = Travel {
        dip: mm(1.0),
        ..usual()
    };
    let fit = RatioFit::of(&[(n(1), usual()), (n(3), stuck)]).unwrap();
    assert_eq!(fit.unusable, [n(3)]);
    assert_eq!((fit.fitted, fit.standard_error), (1, None));
    assert!(RatioFit::of(&[(n(3), stuck)]).is_err());
}

#[test]
fn a_ratio_that_is_none_is_refused() {
    for ratio in [0.0, -5.0, f64::NAN, f64::INFINITY] {
        assert!(usual().aftertouch_at(ratio).is_err());
        assert!(solve_note(n(1), &usual(), Dimension::Dip, ratio, (mm(9.0), mm(11.0))).is_err());
    }
}

fn dimension() -> impl Strategy<Value = Dimension> {
    prop::sample::select(Dimension::ALL.to_vec())
}

proptest! {
    #[test]
    fn whichever_floats_the_five_balance(
        dip in 9.0..11.5f64, lost in 0.0..0.5f64, blow in 42.0..49.0f64,
        let_off in 0.5..3.5f64, after in 0.3..2.0f64, ratio in 4.0..7.0f64, following in dimension(),
    ) {
        let mut t = Travel {
            dip: mm(dip), lost_motion: mm(lost), blow: mm(blow), let_off: mm(let_off), aftertouch: mm(after),
        };
        let solved = t.solved(following, ratio).unwrap();
        set(&mut t, following, solved);
        prop_assert!((t.key_mm() * ratio - t.hammer_mm()).abs() < 1e-4);
    }

    #[test]
    fn each_way_back_brings_it_back(
        dip in 8.0..13.0f64, blow in 40.0..50.0f64, ratio in 4.0..7.0f64, following in dimension(),
    ) {
        let t = Travel { dip: mm(dip), blow: mm(blow), ..usual() };
        let limits = (usual().get(following), usual().get(following));
        let found = solve_note(n(1), &t, following, ratio, limits).unwrap();
        for (other, change) in found.strayed.into_iter().flat_map(|s| s.bring_back) {
            let mut fixed = t;
            set(&mut fixed, other, t.get(other) + change);
            let back = fixed.solved(following, ratio).unwrap();
            prop_assert!((back - limits.0).abs().nm() < 50, "{other:?}: {back:?}");
        }
    }

    #[test]
    fn no_lengths_make_it_stumble(a in any::<[i64; 5]>(), ratio in any::<f64>(), following in dimension()) {
        let l = Length::from_nm;
        let t = Travel { dip: l(a[0]), lost_motion: l(a[1]), blow: l(a[2]), let_off: l(a[3]), aftertouch: l(a[4]) };
        let _ = t.solved(following, ratio);
        let _ = solve_note(n(1), &t, following, ratio, (l(a[0]), l(a[1])));
        let _ = RatioFit::of(&[(n(1), t), (n(2), t), (n(3), usual())]);
    }
}

fn set(t: &mut Travel, dimension: Dimension, to: Length) {
    match dimension {
        Dimension::Dip => t.dip = to,
        Dimension::LostMotion => t.lost_motion = to,
        Dimension::Blow => t.blow = to,
        Dimension::LetOff => t.let_off = to,
        Dimension::Aftertouch => t.aftertouch = to,
    }
}
