//! Weights and friction against the examples that technicians have published.

use evenhand_core::analysis::weights::{
    Lead, MIN_UP_WEIGHT, Mass, Weighed, friction_target, mass_for,
};
use evenhand_core::note::Note;
use evenhand_core::unit::{Force, Length};

fn tenths(tenths_gf: i64) -> Force {
    Force::from_mgf(tenths_gf * 100)
}

#[test]
fn worked_examples_of_balance_weight_come_out() {
    for (down, up, balance, source) in [
        (520, 280, 400, "technicians' list of college technicians"),
        (500, 250, 375, "technicians' list, Oct 1998"),
        (600, 300, 450, "technicians' list, Oct 1998"),
        (600, 200, 400, "technicians' list, Oct 1998"),
        (540, 200, 370, "action-weighing blog"),
        (490, 250, 370, "action-weighing blog"),
    ] {
        let note = Weighed::new(tenths(down), tenths(up)).unwrap();
        assert_eq!(note.balance_weight, tenths(balance), "{source}");
        assert_eq!(
            note.balance_weight + note.friction,
            tenths(down),
            "{source}"
        );
    }
}

/// P: the same college technicians' list: 52 down and 28 up make 12 gf of friction, and a gram more
/// of it makes 53 and 27 with the same balance weight.
#[test]
fn the_worked_example_of_friction_comes_out() {
    let before = Weighed::new(tenths(520), tenths(280)).unwrap();
    let after = Weighed::new(tenths(530), tenths(270)).unwrap();
    assert_eq!(before.friction, tenths(120));
    assert_eq!(after.friction, tenths(130));
    assert_eq!(after.balance_weight, before.balance_weight);
}

/// P: technicians' list, Oct 1998: 16 g at note 1, 10 g at note 88; balance weight 38 to 40
/// (technicians' list); up weight never under 20 g (action-weighing blog). The three agree.
#[test]
fn published_targets_agree_with_each_other() {
    assert_eq!(friction_target(Note::FIRST), tenths(160));
    assert_eq!(friction_target(Note::LAST), tenths(100));
    for note in Note::all() {
        for balance in [380, 390, 400] {
            let friction = friction_target(note);
            let (down, up) = (tenths(balance) + friction, tenths(balance) - friction);
            assert!(up >= MIN_UP_WEIGHT, "{note}");
            let weighed = Weighed::new(down, up).unwrap();
            assert_eq!(
                (weighed.balance_weight, weighed.friction),
                (tenths(balance), friction)
            );
        }
    }
}

/// P: the same list: one gram more at the front of the key takes one gram from the balance weight.
#[test]
fn a_gram_at_the_front_takes_a_gram_from_the_balance_weight() {
    let front = Length::from_nm(223_000_000);
    let lead = Lead {
        mass: Mass::from_mg(1_000),
        place: front,
    };
    assert_eq!(lead.effect(front), Ok(tenths(-10)));
    assert_eq!(
        mass_for(tenths(-10), front, front),
        Ok(Mass::from_mg(1_000))
    );
}
