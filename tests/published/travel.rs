//! The travel balance against the relation and the signs that technicians have published.

use evenhand_core::analysis::travel::Travel;
use evenhand_core::unit::Length;

fn mm(hundredths: i64) -> Length {
    Length::from_mm_hundredths(hundredths)
}

/// The published targets together: dip 10.0 (technicians' lists, 9.5 to 11), blow 45 (44 to 48),
/// let-off 2.0, aftertouch 1.15 (0.035 to 0.050 in).
fn published() -> Travel {
    Travel {
        dip: mm(1000),
        lost_motion: mm(0),
        blow: mm(4500),
        let_off: mm(200),
        aftertouch: mm(115),
    }
}

/// P: technicians' list, Jan 2010: (blow − let-off) / (dip − aftertouch) = action ratio.
#[test]
fn the_ratio_relation_holds_both_ways() {
    let ratio = published().ratio().unwrap();
    assert!((ratio - (45.0 - 2.0) / (10.0 - 1.15)).abs() < 1e-12);
    for hundredths in (400..700).step_by(7) {
        let ratio = hundredths as f64 / 100.0;
        let mut note = published();
        note.aftertouch = note.aftertouch_at(ratio).unwrap();
        // A nanometer of rounding in 8 mm.
        assert!((note.ratio().unwrap() - ratio).abs() < 1e-6);
    }
}

/// P: the same list calls 5.5 and 6.1 usual figures for an action: with them the published dips
/// and blows leave an aftertouch, and the short dip with the long blow leaves too little.
#[test]
fn published_dimensions_leave_an_aftertouch_at_published_ratios() {
    for ratio in [5.5, 6.1] {
        let left = published().aftertouch_at(ratio).unwrap();
        assert!(left > mm(115) && left < mm(320), "{left:?} at {ratio}");
    }
    let tight = Travel {
        dip: mm(950),
        blow: mm(4800),
        ..published()
    };
    assert!(tight.aftertouch_at(5.0).unwrap() < mm(89));
}

/// P: key-dip article, part 1: deeper dip, shorter blow and wider let-off each give more aftertouch.
#[test]
fn the_published_signs_hold() {
    let before = published();
    for ratio in [4.5, 5.0, 5.5, 6.0, 6.5] {
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
