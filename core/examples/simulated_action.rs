//! Prints what advice is worth on invented actions:
//! `cargo run --release -p evenhand-core --features simulation --example simulated_action -- 200`.
//!
//! For each policy and measure: passes, turns and readings until all 88 notes are within accept and
//! on target, as mean and standard deviation over the actions; then the differences, paired by action, with
//! their 95 % interval.

use evenhand_core::simulation::{
    Effort, Order, Outcome, PairedResult, Policy, TURNED, alone, coupled,
};

const POLICIES: [(Policy, &str); 3] = [
    (Policy::Default, "default"),
    (Policy::Learned, "learned"),
    (Policy::ByEye, "by eye"),
];

const ORDERS: [(Order, &str); 3] = [
    (Order::Proposed, "proposed order"),
    (Order::Heedless, "heedless order"),
    (Order::Rounds, "full rounds"),
];

fn main() {
    let asked = std::env::args().nth(1);
    let actions: u64 = match asked.as_deref().map(str::parse) {
        None => 200,
        Some(Ok(n)) if n > 1 => n,
        _ => {
            eprintln!("Say how many actions, 2 or more.");
            std::process::exit(2);
        }
    };
    println!("{actions} invented actions of 88 notes; mean ± standard deviation\n");
    for measure in TURNED {
        println!("{measure} alone");
        let rows = POLICIES.map(|(policy, name)| {
            let all: Vec<Outcome> = (0..actions).map(|s| alone(s, measure, policy)).collect();
            print_row(name, &all);
            all
        });
        print_differences("learned", &rows[1], "default", &rows[0]);
        print_differences("learned", &rows[1], "by eye", &rows[2]);
        println!();
    }
    println!("the coupled bench regulation");
    let run = |policy, order| -> Vec<Outcome> {
        (0..actions).map(|s| coupled(s, policy, order)).collect()
    };
    let by_policy = POLICIES.map(|(policy, name)| {
        let all = run(policy, Order::Proposed);
        print_row(&format!("{name}, proposed order"), &all);
        all
    });
    let by_order = [ORDERS[1], ORDERS[2]].map(|(order, name)| {
        let all = run(Policy::Learned, order);
        print_row(&format!("learned, {name}"), &all);
        all
    });
    print_differences("learned", &by_policy[1], "default", &by_policy[0]);
    print_differences("learned", &by_policy[1], "by eye", &by_policy[2]);
    print_differences("proposed", &by_policy[1], "heedless", &by_order[0]);
    print_differences("proposed", &by_policy[1], "full rounds", &by_order[1]);
}

type Band = (&'static str, fn(&Outcome) -> Option<Effort>);
const BANDS: [Band; 2] = [("accept", |o| o.accept), ("aim", |o| o.aim)];
type What = (&'static str, fn(&Effort) -> u32);
const WHAT: [What; 3] = [
    ("passes", |e| e.passes),
    ("turns", |e| e.turns),
    ("readings", |e| e.readings),
];

fn print_row(name: &str, all: &[Outcome]) {
    for (band, until) in BANDS {
        let reached: Vec<Effort> = all.iter().filter_map(until).collect();
        let figures: Vec<String> = WHAT
            .iter()
            .map(|(what, of)| {
                let values: Vec<f64> = reached.iter().map(|e| f64::from(of(e))).collect();
                let (mean, sd) = mean_and_sd(&values);
                format!("{mean:7.2} ± {sd:5.2} {what}")
            })
            .collect();
        let missed = all.len() - reached.len();
        let missed = if missed > 0 {
            format!("  ({missed} never)")
        } else {
            String::new()
        };
        println!("  {name:<26} {band:<7}{}{missed}", figures.join("  "));
    }
    let out: Vec<f64> = all.iter().map(|o| f64::from(o.truly_out)).collect();
    println!(
        "  {name:<26} truly out of accept at the end: {:.2} notes",
        mean_and_sd(&out).0
    );
}

fn mean_and_sd(values: &[f64]) -> (f64, f64) {
    let n = values.len().max(1) as f64;
    let mean = values.iter().sum::<f64>() / n;
    let squares: f64 = values.iter().map(|v| (v - mean).powi(2)).sum();
    (mean, (squares / (n - 1.0).max(1.0)).sqrt())
}

fn print_differences(a: &str, these: &[Outcome], b: &str, those: &[Outcome]) {
    for (band, until) in BANDS {
        for (what, of) in WHAT {
            let of = |o: &Outcome| until(o).map(|e| f64::from(of(&e)));
            let Some(c) = PairedResult::of(these.iter().map(of), those.iter().map(of)) else {
                continue;
            };
            println!(
                "  {a} less {b:<12} {band:<7}{what:<9} {:+8.2} ({:+.2} to {:+.2}), {:+.1} %, {} pairs",
                c.mean,
                c.low,
                c.high,
                100.0 * c.part,
                c.pairs
            );
        }
    }
}
