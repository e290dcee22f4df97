//! Prints the goal's table and the coverage of what is expected after a turn, on invented actions:
//! `cargo run --release -p evenhand-core --features simulation --example honest -- 300`, and on wish the first seed.
//! No test uses these seeds. What was looked at while a rule was made had other ones.

use evenhand_core::simulation::{Honest, Way, World, regulated};

const WAYS: [(Way, &str); 6] = [
    (Way::All, "measure everything again"),
    (Way::Customary, "the same, customary order"),
    (Way::Practised, "practised hand, everything again"),
    (Way::Known { look: false }, "skip what is known"),
    (Way::Known { look: true }, "and a final look"),
    (Way::Swept, "and rows looked along first"),
];

fn main() {
    let asked = |at, or| {
        std::env::args()
            .nth(at)
            .map_or(Some(or), |n| n.parse::<u64>().ok())
    };
    let Some((actions, first)) = asked(1, 300).zip(asked(2, 91_000_000)) else {
        eprintln!("Say how many actions, and the first seed.");
        std::process::exit(2);
    };
    let usual = World::default();
    let worlds = [
        ("usual noise, 1 % slips", usual),
        (
            "doubled noise, 1 % slips",
            World {
                noise: 2.0,
                ..usual
            },
        ),
        (
            "usual noise, no slips",
            World {
                slips: 0.0,
                ..usual
            },
        ),
        (
            "noise 1.5 times, 1 % slips",
            World {
                noise: 1.5,
                ..usual
            },
        ),
    ];
    println!(
        "{actions} invented actions of 88 notes from seed {first}, coupled bench regulation, hand 15 %, backlash, bias"
    );
    for (name, world) in worlds {
        println!("\n{name:<34} readings   turns  truly out  never  usually holds");
        for (way, of) in WAYS {
            let all: Vec<Honest> = (0..actions)
                .map(|n| regulated(first + n, way, world))
                .collect();
            let mean = |f: fn(&Honest) -> u32| {
                all.iter().map(|h| f64::from(f(h))).sum::<f64>() / all.len() as f64
            };
            let never = all.iter().filter(|h| !h.ended).count();
            let held: u32 = all.iter().map(|h| h.as_expected.0).sum();
            let of_all: u32 = all.iter().map(|h| h.as_expected.1).sum();
            let held = match of_all {
                0 => "–".to_owned(),
                n => format!("{:.1} %", 100.0 * f64::from(held) / f64::from(n)),
            };
            println!(
                "{of:<34} {:8.1} {:7.1} {:10.3} {never:6} {held:>12}",
                mean(|h| h.effort.readings),
                mean(|h| h.effort.turns),
                mean(|h| h.truly_out),
            );
        }
    }
}
