//! Weights and friction against the examples that technicians have published.
//!
//! Messages of the technicians' archives are one person's practice each, not a standard.

use evenhand_core::analysis::weights::{
    Lead, MIN_UP_WEIGHT, Mass, Weighed, friction_target, mass_for,
};
use evenhand_core::note::Note;
use evenhand_core::unit::{Force, Length};

/// "College technicians' archive", attachment, about 2003.
const COLLEGE: &str =
    "https://www.moypiano.com/ptg/caut.php/attachments/65/a6/c4/bf/attachment.htm";
/// "moment of inertia in keys", 12 Oct 1998.
const INERTIA: &str = "https://www.moypiano.com/ptg/pianotech.php/1998-October/038299.html";
/// "KS34 Mason A weighoff".
const WEIGHOFF: &str = "https://grandwork.tools/blogs/chris/ks34-mason-a-weighoff";
/// "Kawai heavy action", 22 Mar 2004.
const HEAVY: &str = "http://www.moypiano.com/ptg/caut.php/2004-March/011311.html";
/// An attachment of 13 Jul 2006: means of an action. The page gives the weights; the results are reckoned.
const MEANS: &str =
    "https://www.moypiano.com/ptg/pianotech.php/attachments/20060713/047be728/attachment.html";
/// "Hammer Weights?", 8 May 2003: 64 and three coins of 5.7 g, rounded to 81.
const COINS: &str = "http://www.moypiano.com/ptg/pianotech.php/2003-May/134232.html";
/// "Weighing off the grand action – Part 3", undated.
const PART_3: &str = "https://grandwork.tools/blogs/chris/weighing-off-the-grand-action-part-3";
/// "Of Touchweight and Ratios".
const RATIOS: &str = "http://home.broadpark.no/~rbrekne/referhtml/touchweight.html";
/// A message of October 2008: the equation of balance.
const EQUATION: &str = "https://www.moypiano.com/ptg/pianotech.php/2008-October/228161.html";

fn tenths(tenths_gf: i64) -> Force {
    Force::from_mgf(tenths_gf * 100)
}

/// Down weight, up weight, balance weight and friction in tenths of a gram-force.
const WEIGHED: [(i64, i64, i64, i64, &str); 13] = [
    (520, 280, 400, 120, COLLEGE),
    (530, 270, 400, 130, COLLEGE),
    (540, 200, 370, 170, WEIGHOFF),
    (490, 250, 370, 120, WEIGHOFF),
    (500, 200, 350, 150, INERTIA),
    (460, 240, 350, 110, INERTIA),
    (500, 260, 380, 120, INERTIA),
    (470, 230, 350, 120, INERTIA),
    (520, 180, 350, 170, INERTIA),
    (700, 200, 450, 250, HEAVY),
    (480, 300, 390, 90, HEAVY),
    (480, 280, 380, 100, MEANS),
    (810, 160, 485, 325, COINS),
];

#[test]
fn worked_examples_of_balance_weight_and_friction_come_out() {
    for (down, up, balance, friction, source) in WEIGHED {
        let note = Weighed::new(tenths(down), tenths(up)).unwrap();
        assert_eq!(note.balance_weight, tenths(balance), "{down} {up} {source}");
        assert_eq!(note.friction, tenths(friction), "{down} {up} {source}");
    }
}

/// The same sums the other way round: from the balance weight and friction that are wanted to the weights.
#[test]
fn weights_are_the_balance_weight_with_friction_added_and_taken_off() {
    for (balance, friction, down, up) in [
        // INERTIA: 35 and 15 make 50 and 20; 35 and 12 make 47 and 23; 38 and 12 make 50 and 26.
        (350, 150, 500, 200),
        (350, 120, 470, 230),
        (380, 120, 500, 260),
    ] {
        assert_eq!(tenths(balance) + tenths(friction), tenths(down));
        assert_eq!(tenths(balance) - tenths(friction), tenths(up));
        let note = Weighed::new(tenths(down), tenths(up)).unwrap();
        assert_eq!(
            (note.balance_weight, note.friction),
            (tenths(balance), tenths(friction))
        );
    }
}

/// [`INERTIA`]: a balance weight of 35 with 17 of friction leaves an up weight of 18, and the key may fail to
/// repeat. [`PART_3`]: no less than 20 in the bass.
#[test]
fn an_up_weight_of_eighteen_does_not_return() {
    assert!(
        !Weighed::new(tenths(520), tenths(180)).unwrap().returns,
        "{INERTIA}"
    );
    assert!(
        Weighed::new(tenths(540), tenths(200)).unwrap().returns,
        "{PART_3}"
    );
    assert_eq!(MIN_UP_WEIGHT, tenths(200));
}

/// [`INERTIA`]: around 16 in the bass and 11 in the treble; [`COLLEGE`]: balance weight 38 to 40;
/// [`PART_3`]: up weight never under 20. The three agree.
#[test]
fn published_targets_agree_with_each_other() {
    assert_eq!(friction_target(Note::FIRST), tenths(160));
    assert_eq!(friction_target(Note::LAST), tenths(110));
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

/// What a lead changes: its mass in mg and its place in per mille of the lever, the change in tenths of a
/// gram-force.
#[test]
fn leads_change_the_balance_weight_as_published() {
    let lever = Length::from_nm(210_000_000);
    for (mg, place, change, source) in [
        // A gram more at the front takes a gram from the balance weight; 5 take 5.
        (1_000, 1_000, -10, COLLEGE),
        (5_000, 1_000, -50, EQUATION),
        // At a key ratio of 2 : 1, 10 g over the capstan are 5 g at the front, and make the key heavier.
        (10_000, -500, 50, RATIOS),
    ] {
        let place = Length::from_nm(lever.nm() / 1_000 * place);
        let mass = Mass::from_mg(mg);
        let lead = Lead { mass, place };
        assert_eq!(lead.effect(lever), Ok(tenths(change)), "{source}");
        assert_eq!(mass_for(tenths(change), place, lever), Ok(mass), "{source}");
    }
}
