//! Worked examples of balance weight that were not found again.

use evenhand_core::analysis::weights::Weighed;
use evenhand_core::unit::Force;

/// Remembered as of a technicians' list of October 1998; the stored messages of that month have other pairs.
#[test]
fn remembered_examples_of_balance_weight_come_out() {
    let gf = |tenths: i64| Force::from_mgf(tenths * 100);
    for (down, up, balance, friction) in [
        (500, 250, 375, 125),
        (600, 300, 450, 150),
        (600, 200, 400, 200),
    ] {
        let note = Weighed::new(gf(down), gf(up)).unwrap();
        assert_eq!(note.balance_weight, gf(balance), "{down} {up}");
        assert_eq!(note.friction, gf(friction), "{down} {up}");
    }
}
