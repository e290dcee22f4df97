//! Down weight and up weight, the balance weight and friction that follow from them, key leads by
//! moments, and friction at the flanges.
//!
//! Forces at the key are those where the weights lie, [`WEIGHED_BEHIND`] the front edge, with the dampers
//! lifted (P: <https://pianotuningmatters.blogspot.com/2016/07/grand-regulation-part-xxv.html>); at a center they
//! need their radius.

use super::{SumError, divided, positive};
use crate::job::{State, Subject};
use crate::note::Note;
use crate::trade::{self, Verdict};
use crate::unit::{Force, Length};

/// The lowest up weight that still returns the key well (P: 20 g in the bass,
/// <https://grandwork.tools/blogs/chris/weighing-off-the-grand-action-part-3>).
pub const MIN_UP_WEIGHT: Force = Force::from_mgf(20_000);

/// Balance weight and friction of a note, from down weight and up weight. The friction is at least
/// 0. It has no default.
///
/// **Rule** (P: <https://www.moypiano.com/ptg/caut.php/attachments/65/a6/c4/bf/attachment.htm>): the balance weight is the mean of down
/// and up weight, the friction half their difference. Friction is assumed to be equal in both
/// directions, which the trade finds good enough.
/// **Error**: half the sum of the errors of the two readings; weighing to 1 gf gives ± 0.7 gf (M).
///
/// ```
/// use evenhand_core::analysis::weights::Weighed;
/// use evenhand_core::unit::Force;
///
/// let note = Weighed::new(Force::from_mgf(52_000), Force::from_mgf(28_000))?;
/// assert_eq!(note.balance_weight, Force::from_mgf(40_000));
/// assert_eq!(note.friction, Force::from_mgf(12_000));
/// # Ok::<(), evenhand_core::analysis::SumError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Weighed {
    /// The weight of the parts at the front of the key, without friction.
    pub balance_weight: Force,
    /// The friction, added on the way down and subtracted on the way up.
    pub friction: Force,
    /// Whether the up weight is at least [`MIN_UP_WEIGHT`].
    pub returns: bool,
}

impl Weighed {
    /// Computes them from the lowest weight that takes the key down and the highest that it lifts.
    ///
    /// # Errors
    /// [`SumError::Contradiction`] if the up weight exceeds the down weight: friction cannot be
    /// negative, so the two were probably exchanged.
    pub fn new(down: Force, up: Force) -> Result<Weighed, SumError> {
        if up > down {
            return Err(SumError::Contradiction(
                "The up weight is above the down weight. Check whether the two were swapped.",
            ));
        }
        let (down, up_mgf) = (i128::from(down.mgf()), i128::from(up.mgf()));
        Ok(Weighed {
            balance_weight: Force::from_mgf(divided(down + up_mgf, 2)),
            friction: Force::from_mgf(divided(down - up_mgf, 2)),
            returns: up >= MIN_UP_WEIGHT,
        })
    }
}

/// Returns the friction to expect at the key front of a note: 16 gf at note 1, falling evenly to 11
/// gf at note 88 (P: <https://www.moypiano.com/ptg/pianotech.php/1998-October/038299.html>; the straight line
/// between is C).
///
/// ```
/// use evenhand_core::{note::Note, analysis::weights::friction_target, unit::Force};
///
/// assert_eq!(friction_target(Note::FIRST), Force::from_mgf(16_000));
/// assert_eq!(friction_target(Note::LAST), Force::from_mgf(11_000));
/// ```
pub fn friction_target(note: Note) -> Force {
    let line = trade::friction_target();
    let aim = |end: Note| line.band(Some(end), 0, |_| None).map_or(0, |band| band.aim);
    let (first, last) = (aim(Note::FIRST), aim(Note::LAST));
    Force::from_mgf(first - divided(i128::from(first - last) * note.index() as i128, 87))
}

/// A mass, such as that of a key lead, in whole milligrams. Any integer is allowed. It has no
/// default.
///
/// ```
/// use evenhand_core::analysis::weights::{LEADS, Mass};
///
/// assert_eq!(Mass::from_mg(6_000).mg(), 6_000);
/// assert!(LEADS.is_sorted());
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Mass(i64);

impl Mass {
    /// Creates it from whole milligrams.
    pub const fn from_mg(mg: i64) -> Mass {
        Mass(mg)
    }

    /// Returns whole milligrams.
    pub const fn mg(self) -> i64 {
        self.0
    }
}

/// A lead in a key. Its place is measured from the balance pin, positive toward the player. It has
/// no default.
///
/// ```
/// use evenhand_core::analysis::weights::{Lead, Mass};
/// use evenhand_core::unit::{Force, Length};
///
/// let mm = |mm: i64| Length::from_nm(mm * 1_000_000);
/// // 10 g halfway to the front edge take 5 gf off the balance weight.
/// let lead = Lead { mass: Mass::from_mg(10_000), place: mm(110) };
/// assert_eq!(lead.effect(mm(220))?, Force::from_mgf(-5_000));
/// # Ok::<(), evenhand_core::analysis::SumError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Lead {
    /// Its mass.
    pub mass: Mass,
    /// The distance from the balance pin to its center; negative behind the pin.
    pub place: Length,
}

impl Lead {
    /// Returns the change of the balance weight if this lead is put in; taking it out has the
    /// opposite effect.
    ///
    /// **Rule** (P: moments): `−m·d/Lf`, with `d` from the balance pin to the lead and `Lf` from
    /// the balance pin to where the weights are read. A lead in front of the pin reduces the balance weight.
    /// **Error**: 1 mm in `d` at 100 mm is 1 %. A lead does not change friction, but adds mass.
    ///
    /// # Errors
    /// [`SumError::NotPositive`] if `front` is not above 0.
    pub fn effect(self, front: Length) -> Result<Force, SumError> {
        let lever = front_lever(front)?;
        let moment = i128::from(self.mass.0) * i128::from(self.place.nm());
        Ok(Force::from_mgf(divided(-moment, lever)))
    }
}

fn front_lever(front: Length) -> Result<i128, SumError> {
    match front.nm() {
        nm @ 1.. => Ok(i128::from(nm)),
        _ => Err(SumError::NotPositive(
            "The key's length from the balance pin to the weights",
        )),
    }
}

/// Returns the mass to put in at a place to change the balance weight by `change` (negative makes
/// the key lighter to play). A negative mass is to be taken out there.
///
/// # Errors
/// Returns an error if `place` is 0 or `front` is not above 0.
pub fn mass_for(change: Force, place: Length, front: Length) -> Result<Mass, SumError> {
    let lever = front_lever(front)?;
    let nm = i128::from(place.nm());
    if nm == 0 {
        return Err(SumError::NotPositive(
            "The lead's distance from the balance pin",
        ));
    }
    let moment = -i128::from(change.mgf()) * lever;
    Ok(Mass(divided(moment * nm.signum(), nm.abs())))
}

/// Returns, for each mass at hand, the place where it changes the balance weight by `change`, if
/// that is within `reach` (nearest and furthest from the balance pin, negative behind it). The
/// lightest lead comes first: it adds the least inertia.
///
/// # Errors
/// [`SumError::NotPositive`] if `front` is not above 0.
///
/// ```
/// use evenhand_core::analysis::weights::{Mass, places_for};
/// use evenhand_core::unit::{Force, Length};
///
/// // 3 gf lighter, key 220 mm in front of the pin, leads of 6 and 14 g.
/// let masses = [14_000, 6_000].map(Mass::from_mg);
/// let reach = (Length::from_nm(30_000_000), Length::from_nm(190_000_000));
/// let leads = places_for(Force::from_mgf(-3_000), &masses, Length::from_nm(220_000_000), reach)?;
/// assert_eq!(leads[0].place, Length::from_nm(110_000_000));
/// # Ok::<(), evenhand_core::analysis::SumError>(())
/// ```
pub fn places_for(
    change: Force,
    masses: &[Mass],
    front: Length,
    reach: (Length, Length),
) -> Result<Vec<Lead>, SumError> {
    let lever = front_lever(front)?;
    let mut leads: Vec<Lead> = masses
        .iter()
        .filter(|mass| mass.0 > 0)
        .map(|&mass| Lead {
            mass,
            place: Length::from_nm(divided(
                -i128::from(change.mgf()) * lever,
                i128::from(mass.0),
            )),
        })
        .filter(|lead| reach.0 <= lead.place && lead.place <= reach.1)
        .collect();
    leads.sort_by_key(|lead| lead.mass);
    leads.dedup();
    Ok(leads)
}

/// How far behind the front edge of the key the weights lie (C), where the finger plays.
pub const WEIGHED_BEHIND: Length = Length::from_nm(13_000_000);

/// The masses of key leads at hand (M).
pub const LEADS: [Mass; 3] = [Mass(6_000), Mass(9_000), Mass(14_000)];

/// The room that a lead keeps from the balance pin and from the ends of the key (M).
const LEAD_ROOM: i64 = 30_000_000;

/// What brings a key to the balance weight that is wanted. [`lead_advice`] returns it; it has no default.
///
/// ```
/// use evenhand_core::analysis::weights::{LeadAdvice, lead_advice};
/// use evenhand_core::job::Job;
/// use evenhand_core::note::Note;
/// use evenhand_core::unit::Force;
///
/// let gf = |gf: i64| Force::from_mgf(1000 * gf);
/// let advice = lead_advice(Job::new().state(), Note::FIRST, gf(70), gf(20));
/// assert_eq!(advice, Some(LeadAdvice::FrictionFirst));
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LeadAdvice {
    /// Friction is out: treat it before any lead.
    FrictionFirst,
    /// A lead would take the up weight below [`MIN_UP_WEIGHT`].
    TooLittleUp,
    /// The length of the key is not known: enter its lever in the setup.
    NoLever,
    /// Put in this lead. Behind the balance pin, the same moment taken out in front of it does as well.
    Put(Lead),
}

/// Returns the lead that brings a note to the balance weight aimed at, or `None` if the balance weight is on
/// target or the weights contradict each other.
///
/// The lead is the lightest of [`LEADS`] that has a place on the key; if none has, it is the mass that
/// does it at the farthest place, in one lead or several.
///
/// **Rule**: moments ([`Lead::effect`]), with the lever from the balance pin to where the weights are read.
///
/// ```
/// use evenhand_core::analysis::weights::{LeadAdvice, lead_advice};
/// use evenhand_core::job::Job;
/// use evenhand_core::note::Note;
/// use evenhand_core::unit::Force;
///
/// let (job, gf) = (Job::new(), |gf: i64| Force::from_mgf(1000 * gf));
/// let advice = |down, up| lead_advice(job.state(), Note::FIRST, gf(down), gf(up));
/// assert_eq!(advice(55, 25), None);
/// assert_eq!(advice(70, 20), Some(LeadAdvice::FrictionFirst));
/// assert_eq!(advice(60, 32), Some(LeadAdvice::NoLever));
/// ```
pub fn lead_advice(state: &State, note: Note, down: Force, up: Force) -> Option<LeadAdvice> {
    let weighed = Weighed::new(down, up).ok()?;
    let band = |id| state.band(id, Subject::Note(note));
    let (wanted, friction) = (band("balance_weight")?, band("friction")?);
    if wanted.judge(weighed.balance_weight.mgf()) == Verdict::OnTarget {
        return None;
    }
    if friction.judge(weighed.friction.mgf()) == Verdict::Out {
        return Some(LeadAdvice::FrictionFirst);
    }
    let change = Force::from_mgf(wanted.aim) - weighed.balance_weight;
    if up + change < MIN_UP_WEIGHT {
        return Some(LeadAdvice::TooLittleUp);
    }
    let setup = state.setup();
    let key = match note.is_sharp() {
        true => setup.sharp_key,
        false => setup.natural_key,
    };
    let Some(key) = key else {
        return Some(LeadAdvice::NoLever);
    };
    let room = Length::from_nm(LEAD_ROOM);
    let lever = key.front_nm - WEIGHED_BEHIND;
    let (near, far, reach) = match change < Force::from_mgf(0) {
        true => (room, lever - room, (room, lever - room)),
        false => {
            let far = room - key.back_nm;
            (room, far, (far, Length::ZERO - room))
        }
    };
    // A key too short for a lead is a wrong length.
    if far.abs() <= near {
        return Some(LeadAdvice::NoLever);
    }
    let listed = places_for(change, &LEADS, lever, reach).ok()?;
    let lead = match listed.first() {
        Some(lead) => *lead,
        None => Lead {
            mass: mass_for(change, far, lever).ok()?,
            place: far,
        },
    };
    Some(LeadAdvice::Put(lead))
}

/// Returns the force that the same flange friction needs at another radius.
///
/// **Rule** (P: moments): the torque of a center is constant, so force times radius is. A flange
/// maker's 3.5 gf at 23 mm is 0.6 gf at the hammer, at 130 mm.
///
/// # Errors
/// [`SumError::NotPositive`] if a radius is not above 0.
pub fn at_radius(force: Force, from: Length, to: Length) -> Result<Force, SumError> {
    let from = positive(from.mm(), "The radius at which the friction was measured")?;
    let to = positive(to.mm(), "The radius to convert to")?;
    Ok(Force::from_gf(force.gf() * from / to))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::{EntryKind, Job, KeyLever, ReplicaId, Setup};

    fn gf(gf: i64) -> Force {
        Force::from_mgf(gf * 1000)
    }

    fn mm(mm: i64) -> Length {
        Length::from_nm(mm * 1_000_000)
    }

    #[test]
    fn more_friction_spreads_the_weights_and_leaves_the_balance_weight() {
        let clean = Weighed::new(gf(52), gf(28)).unwrap();
        let stiff = Weighed::new(gf(53), gf(27)).unwrap();
        assert_eq!(clean.balance_weight, stiff.balance_weight);
        assert_eq!(stiff.friction, clean.friction + gf(1));
        assert!(clean.returns);
        assert!(!Weighed::new(gf(60), gf(19)).unwrap().returns);
    }

    #[test]
    fn weights_in_each_others_place_are_pointed_out() {
        let said = Weighed::new(gf(25), gf(50)).unwrap_err().to_string();
        assert!(said.contains("swapped") && said.contains("kept"));
        let extreme = Weighed::new(Force::from_mgf(i64::MAX), Force::from_mgf(i64::MIN));
        assert_eq!(extreme.unwrap().friction, Force::from_mgf(i64::MAX));
    }

    #[test]
    fn friction_falls_evenly_from_bass_to_treble() {
        let mut before = gf(17);
        for note in Note::all() {
            let here = friction_target(note);
            assert!(here < before);
            before = here;
        }
    }

    #[test]
    fn a_lead_in_front_makes_the_key_lighter_and_one_behind_makes_it_heavier() {
        let lead = |place| Lead {
            mass: Mass::from_mg(14_000),
            place: mm(place),
        };
        assert_eq!(lead(110).effect(mm(220)), Ok(gf(-7)));
        assert_eq!(lead(-110).effect(mm(220)), Ok(gf(7)));
        assert_eq!(lead(0).effect(mm(220)), Ok(gf(0)));
        assert!(lead(110).effect(mm(0)).is_err());
    }

    #[test]
    fn the_mass_for_a_change_makes_that_change() {
        for (change, place) in [(-3, 110), (-3, -80), (5, 60), (5, -60)] {
            let mass = mass_for(gf(change), mm(place), mm(220)).unwrap();
            let place = mm(place);
            let made = Lead { mass, place }.effect(mm(220)).unwrap();
            assert!((made.mgf() - change * 1000).abs() <= 1, "{made:?}");
        }
        assert!(mass_for(gf(1), mm(0), mm(220)).is_err());
        assert!(mass_for(gf(1), mm(10), mm(-1)).is_err());
    }

    #[test]
    fn only_places_within_reach_are_offered_and_the_lightest_lead_first() {
        let masses = [14_000, 3_000, 6_000, 0, -5].map(Mass::from_mg);
        let leads = places_for(gf(-3), &masses, mm(220), (mm(30), mm(190))).unwrap();
        let offered: Vec<i64> = leads.iter().map(|l| l.mass.mg()).collect();
        assert_eq!(offered, [6_000, 14_000]);
        for lead in leads {
            assert!((lead.effect(mm(220)).unwrap().mgf() + 3000).abs() <= 1);
        }
        let behind = places_for(gf(3), &masses, mm(220), (mm(-120), mm(-30))).unwrap();
        assert!(behind.iter().all(|l| l.place < Length::ZERO) && !behind.is_empty());
    }

    /// A job whose natural keys are `front` and `back` mm long before and behind the balance pin.
    fn with_keys(front: i64, back: i64) -> Job {
        let mut job = Job::new();
        let set = Box::new(Setup {
            natural_key: Some(KeyLever {
                front_nm: mm(front),
                back_nm: mm(back),
                front_pin_nm: mm(200),
            }),
            ..Setup::default()
        });
        job.apply(job.draft(ReplicaId::new(1), 0, EntryKind::Setup { set }));
        job
    }

    #[test]
    fn a_heavy_key_is_told_which_lead_and_where() {
        let job = with_keys(223, 130);
        let advice = |down, up| lead_advice(job.state(), Note::FIRST, gf(down), gf(up));
        // By hand: 42 gf are 3 too many; the weights lie 223 − 13 = 210 mm from the pin; 3 · 210 / 6 = 105 mm.
        let put = |mg, place| {
            let mass = Mass::from_mg(mg);
            Some(LeadAdvice::Put(Lead { mass, place }))
        };
        assert_eq!(advice(57, 27), put(6_000, mm(105)));
        // 35 gf are 4 too few: 4 · 210 / 9 = 93.3 mm behind the pin; with 6 g it would be 140 mm.
        assert_eq!(advice(50, 20), put(9_000, Length::from_nm(-93_333_333)));
        // 54 gf are 15 too many, more than 14 g can do: 15 · 210 / 180 = 17.5 g at the farthest place.
        assert_eq!(advice(69, 39), put(17_500, mm(180)));
    }

    #[test]
    fn no_lead_is_offered_against_friction_or_a_weak_return() {
        let job = with_keys(223, 130);
        let advice = |down, up| lead_advice(job.state(), Note::FIRST, gf(down), gf(up));
        // Balance weight 45, friction 25 where 16 is expected.
        assert_eq!(advice(70, 20), Some(LeadAdvice::FrictionFirst));
        // Balance weight 42, friction 20: 3 gf less leave an up weight of 19.
        assert_eq!(advice(62, 22), Some(LeadAdvice::TooLittleUp));
        assert_eq!(advice(55, 25), None);
        assert_eq!(advice(25, 55), None);
        let short = with_keys(60, 50);
        let said = lead_advice(short.state(), Note::FIRST, gf(57), gf(27));
        assert_eq!(said, Some(LeadAdvice::NoLever));
    }

    #[test]
    fn friction_at_a_longer_radius_needs_less_force() {
        let hammer = at_radius(Force::from_mgf(3_500), mm(23), mm(130)).unwrap();
        assert_eq!(hammer, Force::from_mgf(619));
        assert!(at_radius(gf(3), mm(0), mm(130)).is_err());
        assert!(at_radius(gf(3), mm(23), mm(-1)).is_err());
    }
}
