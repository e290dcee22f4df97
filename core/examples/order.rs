//! Prints the order of an instrument: `cargo run -p evenhand-core --example order -- vertical`.
//!
//! Without a word it prints the grand's, then the vertical's.

use evenhand_core::note::{Note, Sections};
use evenhand_core::trade::{Band, Instrument, Measure, Per, Place, Stage, Step};
use evenhand_core::unit::{LengthUnit, Value};

fn main() {
    let both = [Instrument::Grand, Instrument::Upright];
    let asked = std::env::args().nth(1);
    let matching = |i: &Instrument| {
        asked
            .as_ref()
            .is_none_or(|a| i.name().eq_ignore_ascii_case(a))
    };
    let chosen: Vec<Instrument> = both.into_iter().filter(matching).collect();
    if chosen.is_empty() {
        eprintln!("There is no order of that name. Say grand or vertical, or nothing for both.");
        std::process::exit(2);
    }
    for instrument in chosen {
        print_order(instrument);
    }
}

fn print_order(instrument: Instrument) {
    let steps = instrument.steps();
    let minutes: u32 = steps.iter().map(|s| s.minutes).sum();
    println!(
        "{}: {} steps, {:.1} h\n",
        instrument.name(),
        steps.len(),
        f64::from(minutes) / 60.0
    );
    for stage in Stage::ALL {
        let of_stage: Vec<&Step> = steps.iter().filter(|s| s.stage == stage).collect();
        let minutes: u32 = of_stage.iter().map(|s| s.minutes).sum();
        println!("{} ({minutes} min)", stage.name());
        for step in of_stage {
            print_step(instrument, step);
        }
        println!();
    }
}

fn print_step(instrument: Instrument, step: &Step) {
    let place = match step.place {
        Some(Place::Piano) => "piano",
        Some(Place::Bench) => "bench",
        None => "either",
    };
    let drying = match step.drying_minutes {
        0 => String::new(),
        m => format!(", dries {} h", m / 60),
    };
    let needs: Vec<&str> = step.needs.iter().map(|s| s.as_str()).collect();
    println!(
        "  {:<18} {:<58} {:<8} {:<6} {:>3} min{drying}{}",
        step.id,
        step.name,
        per(step.per),
        place,
        step.minutes,
        match needs.is_empty() {
            true => String::new(),
            false => format!("  after {}", needs.join(", ")),
        }
    );
    for id in &step.takes {
        if let Some(measure) = instrument.measure(id.as_str()) {
            println!("      {:<34} {}", measure.name, target(measure));
        }
    }
}

const fn per(per: Per) -> &'static str {
    match per {
        Per::Whole => "whole",
        Per::Section => "section",
        Per::SectionEnds => "ends",
        Per::Note => "note",
        Per::Natural => "natural",
        Per::Sharp => "sharp",
        Per::Sample => "sample",
        Per::Damped => "damped",
    }
}

/// The target as aim, aim band and accept band; of a grade, the answer that is wanted.
fn target(measure: &Measure) -> String {
    let Some(target) = &measure.target else {
        return "reading only".to_owned();
    };
    match target.plain_band(Note::FIRST, &Sections::default()) {
        Some(band) => banded(measure, &band),
        None => "from another reading".to_owned(),
    }
}

fn banded(measure: &Measure, band: &Band) -> String {
    let mm = LengthUnit::Millimeter;
    let shown = |base: i64| measure.shown(Value::from_base(measure.kind, base), mm);
    if !measure.kind.is_number() {
        return shown(band.aim);
    }
    let side = |limit: Option<i64>| limit.map_or_else(|| "…".to_owned(), shown);
    format!(
        "{} {}, aim {} to {}, accept {} to {}",
        shown(band.aim),
        measure.kind.symbol(mm),
        side(band.within.0),
        side(band.within.1),
        side(band.accept.0),
        side(band.accept.1)
    )
}
