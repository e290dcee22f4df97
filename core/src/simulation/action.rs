//! The simulated action: its true values, its readings and what a correction does to it.

use crate::analysis::screw::Screw;
use crate::job::Correction;
use crate::note::{Note, Sections};
use crate::trade::Instrument;
use crate::unit::{Length, Turns};

/// A pseudorandom number generator (splitmix64) with the same sequence on every machine.
///
/// **Source**: P: Steele, Lea and Flood 2014.
///
/// ```
/// use evenhand_core::simulation::Random;
///
/// let (mut one, mut same) = (Random::new(7), Random::new(7));
/// assert_eq!(one.even(), same.even());
/// assert!((2.0..3.0).contains(&one.between(2.0, 3.0)));
/// ```
#[derive(Clone, Debug)]
pub struct Random(u64);

impl Random {
    /// Creates a generator from a seed.
    pub const fn new(seed: u64) -> Random {
        Random(seed)
    }

    /// Returns a uniform number from 0 to below 1.
    pub fn even(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Returns a uniform number between two numbers.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.even()
    }

    /// Returns an approximately normal number with mean 0 and standard deviation 1.
    ///
    /// **Rule**: the sum of twelve uniform numbers minus six (P: Irwin and Hall 1927). **Range**: ±6.
    pub fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.even()).sum::<f64>() - 6.0
    }
}

/// The measures that are adjusted by turning a screw.
pub const TURNED: [&str; 3] = ["blow", "let_off", "drop"];

/// The measures of the simulated bench regulation, in the order of the job.
pub const BENCH: [&str; 5] = ["blow", "let_off", "drop", "checking", "aftertouch"];

/// The standard deviation of one reading, in mm: at the hammer, and at the front of the key.
const NOISE: (f64, f64) = (0.1, 0.05);
/// The standard deviation of one reading of checking distance with a rule, in mm.
const CHECKING_NOISE: f64 = 0.3;

/// The state of one screw of one note.
#[derive(Clone, Copy, Debug, Default)]
struct ScrewState {
    /// Change of the reading in mm per turn.
    response: f64,
    /// Turns that have no effect after the direction changes.
    backlash: f64,
    /// Direction of the last turn, ±1; 0 before the first.
    last: f64,
}

/// The true values of one note, in mm; the ratio is a number.
#[derive(Clone, Copy, Debug, Default)]
struct TrueValues {
    blow: f64,
    let_off: f64,
    drop: f64,
    checking: f64,
    dip: f64,
    ratio: f64,
    /// Part of a change of let-off that the drop loses, because drop is measured from the let-off point.
    coupling: f64,
    /// Part of a change that the felt takes back before the next pass.
    settling: f64,
    /// What the felt has still to take back, in mm: blow, let-off, drop.
    to_settle: [f64; 3],
    screws: [ScrewState; 3],
}

/// A simulated action: the true values of 88 notes, and a generator for the noise of readings.
///
/// ```
/// use evenhand_core::job::Correction;
/// use evenhand_core::note::Note;
/// use evenhand_core::simulation::Action;
/// use evenhand_core::unit::Turns;
///
/// let (mut one, mut same) = (Action::new(7), Action::new(7));
/// assert_eq!(one.read("blow", Note::FIRST), same.read("blow", Note::FIRST));
/// let before = one.truth("blow", Note::FIRST);
/// one.make("blow", Note::FIRST, &Correction::Turned(Turns::from_64ths(16)));
/// assert!(one.truth("blow", Note::FIRST) > before);
/// ```
#[derive(Clone, Debug)]
pub struct Action {
    notes: Vec<TrueValues>,
    chance: Random,
    /// The world of a hand that errs, with the number of readings and turns so far of each measure and note.
    hand: Option<(World, Counts)>,
}

/// How readings and turns go wrong: standard deviations and shares, 0 or more. The default is a careful hand.
///
/// ```
/// use evenhand_core::simulation::World;
///
/// let careful = World::default();
/// assert_eq!((careful.noise, careful.turn_error, careful.slips), (1.0, 0.15, 0.01));
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct World {
    /// The noise of readings, as a factor of the usual one.
    pub noise: f64,
    /// The error of a turn, as a fraction of it.
    pub turn_error: f64,
    /// The share of turns that are made the wrong way.
    pub slips: f64,
    /// The error that all readings of a note and measure share, as a fraction of the noise.
    pub bias: f64,
}

impl Default for World {
    fn default() -> World {
        World {
            noise: 1.0,
            turn_error: 0.15,
            slips: 0.01,
            bias: 0.3,
        }
    }
}

/// The seed, and how often each note of each measure was read and turned.
#[derive(Clone, Debug)]
struct Counts {
    seed: u64,
    read: Vec<[u32; BENCH.len()]>,
    turned: Vec<[u32; BENCH.len()]>,
}

/// What a random number is for.
#[derive(Clone, Copy)]
enum For {
    Reading,
    Bias,
    Turn,
    Slip,
}

impl Counts {
    /// Returns the generator for one use: keyed by note, measure and count, so that two ways of working on one action
    /// meet the same errors.
    fn random(&self, what: For, note: Note, measure: usize, count: u32) -> Random {
        let key = [
            what as u64,
            note.index() as u64,
            measure as u64,
            u64::from(count),
        ];
        let mut seed = self.seed ^ 0x5EED;
        for part in key {
            seed = (seed ^ part)
                .wrapping_mul(0xD129_0D3B_0A6F_5C35)
                .rotate_left(29);
        }
        Random::new(seed)
    }
}

impl Action {
    /// Creates the action of a seed.
    ///
    /// The responses of its screws are the default responses times a factor for the instrument
    /// (standard deviation 0.25), for each section (0.06) and for each note (0.08). The starting errors
    /// have a standard deviation of 1.2 mm in blow, 0.6 mm in let-off, 0.7 mm in drop and 1.5 mm in
    /// checking for each note, and half as much for an offset of all notes.
    pub fn new(seed: u64) -> Action {
        Action::of(seed, 1.0)
    }

    /// Creates the same action in a world in which hand and readings err, the errors keyed by note, measure and count.
    pub fn in_world(seed: u64, world: World) -> Action {
        let counts = Counts {
            seed,
            read: vec![[0; BENCH.len()]; Note::COUNT],
            turned: vec![[0; BENCH.len()]; Note::COUNT],
        };
        Action {
            hand: Some((world, counts)),
            ..Action::new(seed)
        }
    }

    /// Creates the same action on a well maintained piano: the starting errors are half as large.
    pub fn looked_after(seed: u64) -> Action {
        Action::of(seed, 0.5)
    }

    fn of(seed: u64, errors: f64) -> Action {
        let mut chance = Random::new(seed);
        let sections = sections();
        let of_instrument = TURNED.map(|_| factor(&mut chance, 0.25));
        let of_section: Vec<[f64; 3]> = (0..sections.count())
            .map(|_| TURNED.map(|_| factor(&mut chance, 0.06)))
            .collect();
        let rough = TURNED.map(|id| screw(id).mm_per_turn);
        let mut offset = |spread: f64| 0.5 * errors * spread * chance.normal();
        let offsets = [1.2, 0.6, 0.7, 1.5].map(&mut offset);
        let ratio = 4.85 + 0.1 * chance.normal();
        let notes = Note::all().map(|note| {
            let section = of_section[sections.of(note)];
            let mut off = |at: usize, spread: f64| offsets[at] + errors * spread * chance.normal();
            let (blow, let_off) = (45.0 + off(0, 1.2), (2.0 + off(1, 0.6)).max(0.3));
            let (drop, checking) = ((2.0 + off(2, 0.7)).max(0.3), 15.0 + off(3, 1.5));
            let sharp = if note.is_sharp() { -0.1 } else { 0.0 };
            TrueValues {
                blow,
                let_off,
                drop,
                checking,
                dip: 10.0 + sharp + 0.15 * chance.normal(),
                ratio: ratio * (1.0 + 0.012 * chance.normal()),
                coupling: chance.between(0.3, 0.7),
                settling: chance.between(0.0, 0.08),
                to_settle: [0.0; 3],
                screws: [0, 1, 2].map(|k| ScrewState {
                    response: rough[k] * of_instrument[k] * section[k] * factor(&mut chance, 0.08),
                    // Up to a little less than a 64th of a turn.
                    backlash: chance.between(0.0, 0.012),
                    last: 0.0,
                }),
            }
        });
        Action {
            notes: notes.collect(),
            chance,
            hand: None,
        }
    }

    /// Returns the true value of a measure, in mm: a reading without noise. Returns 0 for a measure that is
    /// not simulated.
    ///
    /// The aftertouch follows from dip, blow, let-off and the ratio of the note (see
    /// [`crate::analysis::travel`]).
    pub fn truth(&self, measure: &str, note: Note) -> f64 {
        let t = &self.notes[note.index()];
        match measure {
            "blow" => t.blow,
            "let_off" => t.let_off,
            "drop" => t.drop,
            "checking" => t.checking,
            "natural_dip" | "sharp_dip" => t.dip,
            "aftertouch" => t.dip - (t.blow - t.let_off) / t.ratio,
            _ => 0.0,
        }
    }

    /// Takes a reading with noise, rounded to 0.1 mm at the hammer (checking to 0.5 mm) and to 0.05 mm at
    /// the key.
    pub fn read(&mut self, measure: &str, note: Note) -> Length {
        let (noise, hundredths) = match measure {
            "checking" => (CHECKING_NOISE, 50),
            "blow" | "let_off" | "drop" => (NOISE.0, 10),
            _ => (NOISE.1, 5),
        };
        let error = match (&mut self.hand, BENCH.iter().position(|id| *id == measure)) {
            (Some((world, counts)), Some(k)) => {
                let count = &mut counts.read[note.index()][k];
                *count += 1;
                let count = *count;
                let bias = counts.random(For::Bias, note, k, 0).normal();
                let once = counts.random(For::Reading, note, k, count).normal();
                world.noise * (once + world.bias * bias)
            }
            _ => self.chance.normal(),
        };
        let read = self.truth(measure, note) + noise * error;
        let finest = f64::from(hundredths) / 100.0;
        Length::from_mm_hundredths((read / finest).round() as i64 * i64::from(hundredths))
    }

    /// Applies a correction to the true values, with backlash, settling and its effect on other measures.
    pub fn make(&mut self, measure: &str, note: Note, made: &Correction) {
        match made {
            Correction::Turned(turns) => self.turn(measure, note, turns.turns()),
            Correction::Punchings(punchings) => {
                // Paper is compressed a little under the felt.
                let give = match &mut self.hand {
                    Some((_, counts)) => {
                        let (turned, k) = (&mut counts.turned[note.index()], BENCH.len() - 1);
                        turned[k] += 1;
                        let count = turned[k];
                        counts.random(For::Turn, note, k, count).between(0.9, 1.0)
                    }
                    None => self.chance.between(0.9, 1.0),
                };
                let thicker: f64 = punchings.iter().map(|p| p.mm()).sum();
                let lever = 220.0 / 200.0;
                let t = &mut self.notes[note.index()];
                t.dip -= give * thicker * lever;
                // With a shallower dip the back check rises less and the hammer checks a little farther.
                t.checking += give * thicker;
            }
            Correction::ByEye => {
                let aim = 15.0;
                let off = self.notes[note.index()].checking - aim;
                let chance = match &mut self.hand {
                    Some((_, counts)) => {
                        let turned = &mut counts.turned[note.index()];
                        turned[3] += 1;
                        let count = turned[3];
                        counts.random(For::Turn, note, 3, count).normal()
                    }
                    None => self.chance.normal(),
                };
                let left = (0.15 * off.abs() + 0.3) * chance;
                self.notes[note.index()].checking = aim + left;
            }
        }
    }

    fn turn(&mut self, measure: &str, note: Note, turns: f64) {
        let Some(k) = TURNED.iter().position(|id| *id == measure) else {
            return;
        };
        let mut turns = turns;
        if let Some((world, counts)) = &mut self.hand {
            let count = &mut counts.turned[note.index()][k];
            *count += 1;
            let count = *count;
            let slips = counts.random(For::Slip, note, k, count).even() < world.slips;
            turns *= 1.0 + world.turn_error * counts.random(For::Turn, note, k, count).normal();
            turns *= if slips { -1.0 } else { 1.0 };
        }
        let t = &mut self.notes[note.index()];
        let screw = &mut t.screws[k];
        let back = screw.last * turns < 0.0;
        let lost = if back {
            screw.backlash.min(turns.abs())
        } else {
            0.0
        };
        screw.last = turns.signum();
        let moved = screw.response * (turns - lost * turns.signum());
        t.to_settle[k] -= t.settling * moved;
        match k {
            0 => t.blow += moved,
            1 => {
                t.let_off += moved;
                t.drop -= t.coupling * moved;
            }
            _ => t.drop += moved,
        }
    }

    /// Lets the felt take back its part of the turns, as playing the keys between two passes does.
    pub fn settle(&mut self) {
        for t in &mut self.notes {
            let [blow, let_off, drop] = std::mem::take(&mut t.to_settle);
            t.blow += blow;
            t.let_off += let_off;
            t.drop += drop;
        }
    }
}

/// Returns a random factor around 1 with a standard deviation of `spread`, within 0.4 to 1.8.
fn factor(chance: &mut Random, spread: f64) -> f64 {
    (1.0 + spread * chance.normal()).clamp(0.4, 1.8)
}

/// Returns the sections of the simulated instrument.
pub fn sections() -> Sections {
    let breaks = [20, 52, 72].map(Note::new);
    Sections::new(breaks.into_iter().flatten()).unwrap_or_default()
}

/// Returns the screw of a measure of the grand, or a typical one if the measure has none.
pub(super) fn screw(measure: &str) -> Screw {
    let known = Instrument::Grand.measure(measure).and_then(Screw::of);
    known.unwrap_or(Screw {
        part: "screw",
        directions: ("down", "up"),
        mm_per_turn: 5.0,
        resolution: Turns::from_64ths(4),
    })
}
