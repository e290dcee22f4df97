//! What a conflict is about, and what was stated, in words.

use crate::job::{
    Details, EntryKind, KeyLever, OwnStep, Scope, Setup, State, Subject, Topic, WorkDay,
};
use crate::note::Note;
use crate::trade::{Band, Instrument, Measure, MeasureId, Place, StepId, Target};
use crate::unit::{DecimalFormat, Length, LengthUnit, Value};

/// Returns what a topic is, in words.
pub(super) fn about(state: &State, topic: &Topic) -> String {
    match topic {
        Topic::Detail(field) => detail_name(field),
        Topic::Setup(field) => setup_name(field),
        Topic::Target(measure, scope) => {
            format!(
                "Target of {}, {}",
                measure_name(state, measure),
                reach(*scope)
            )
        }
        Topic::Kind => "Kind of job".to_owned(),
        Topic::LeftOut(step) => format!("Step {}", step_name(state, step)),
        Topic::OwnStep(step) => format!("Own step {}", step_name(state, step)),
        Topic::Arranged => "Order of the steps".to_owned(),
        Topic::Reading {
            measure,
            on,
            place,
            as_found,
        } => {
            let when = match (as_found, place) {
                (true, _) => "as found",
                (_, Place::Bench) => "on the bench",
                (_, Place::Piano) => "in the piano",
            };
            format!("{}, {}, {when}", measure_name(state, measure), lower(*on))
        }
        Topic::Minutes(step, worked) => {
            let time = format!("Working time of {}", step_name(state, step));
            match worked {
                None => time,
                Some(WorkDay { day, technician }) => {
                    let name = technician.as_deref().unwrap_or("no name given");
                    format!("{time}, {name}, {day}")
                }
            }
        }
        Topic::Remark(id) => match state.remark(*id) {
            Some(remark) if remark.fault => format!("Fault, {}", lower(remark.on)),
            Some(remark) => format!("Remark, {}", lower(remark.on)),
            None => "Remark".to_owned(),
        },
        Topic::Archived => "Archive".to_owned(),
    }
}

/// Returns a subject for use within a sentence: `whole action`, `note 49 (A4)`.
fn lower(on: Subject) -> String {
    let on = on.words();
    on[..1].to_lowercase() + &on[1..]
}

fn measure_name(state: &State, id: &MeasureId) -> String {
    let measure = state.measure(id.as_str());
    measure.map_or_else(|| id.to_string(), |m| m.name.to_string())
}

/// Returns the name of a step, also of one left out.
fn step_name(state: &State, id: &StepId) -> String {
    let trade = state.instrument().steps();
    let trades = || trade.iter().find(|s| s.id == *id);
    let step = state.step(id.as_str()).or_else(trades);
    step.map_or_else(|| id.to_string(), |s| s.name.to_string())
}

fn reach(scope: Scope) -> String {
    match scope {
        Scope::Job => "whole job".to_owned(),
        Scope::Section(s) => format!("section {}", s + 1),
        Scope::Note(n) => format!("note {} ({n})", n.number()),
    }
}

/// Returns a field's key as words, for one without a name of its own.
fn plain(field: &str) -> String {
    let words = field.replace('_', " ");
    let mut letters = words.chars();
    let first = letters.next().map(|c| c.to_uppercase().to_string());
    first.unwrap_or_default() + letters.as_str()
}

fn detail_name(field: &str) -> String {
    match field {
        "name" => "Name of the job",
        "client" => "Client",
        "instrument" => "Instrument",
        "described" => "Instrument, in words",
        "serial" => "Serial number",
        "scope" => "Work agreed",
        "rate_per_hour_cents" => "Rate per hour",
        "currency" => "Currency",
        "for_client" => "Remark for the client",
        "travel_cents" => "Travel",
        "tax_percent_hundredths" => "Tax",
        "valid_days" => "Days that the estimate holds",
        "price_cents" => "Price agreed",
        other => return plain(other),
    }
    .to_owned()
}

fn setup_name(field: &str) -> String {
    match field {
        "sections" => "Section breaks",
        "length_unit" => "Unit of lengths",
        "samples" => "Sample notes",
        "sample_measures" => "What the sample measures",
        "sample_by_note" => "Order of the sample",
        "natural_key" => "Key lever of the naturals",
        "sharp_key" => "Key lever of the sharps",
        "papers_nm" => "Punching stock",
        "trials" => "Trial turns",
        "earlier" => "Last job of this instrument",
        "floats" => "Length left to follow",
        "control_notes" => "Control notes",
        "part_sizes" => "Sizes of the parts to order",
        "part_prices_cents" => "Prices of the parts to order",
        "sample_seed" => "Draw of the sample",
        "measure_all" => "After a turn",
        "earlier_fixed" => "Last job’s share of work",
        other => return plain(other),
    }
    .to_owned()
}

/// Returns what an entry states, in words.
pub(super) fn value(state: &State, stated: &EntryKind) -> String {
    let length = state.length_unit();
    match stated {
        EntryKind::Details { set } => detail(set),
        EntryKind::Setup { set } => setup(state, set),
        EntryKind::Target {
            measure, target, ..
        } => match (state.measure(measure.as_str()), target) {
            (_, None) => "back to the wider target".to_owned(),
            (Some(measure), Some(target)) => self::target(state, measure, target, length),
            (None, Some(_)) => "a target of a newer version".to_owned(),
        },
        EntryKind::KindChosen { kind } => kind.name.clone(),
        EntryKind::LeftOut { out: true, .. } => "left out".to_owned(),
        EntryKind::LeftOut { out: false, .. } => "in the job".to_owned(),
        EntryKind::OwnStep { step } => own_step(state, step),
        EntryKind::Arranged { steps } => {
            let names: Vec<String> = steps.iter().map(|s| step_name(state, s)).collect();
            names.join(", ")
        }
        EntryKind::Reading { measure, value, .. } => match state.measure(measure.as_str()) {
            Some(measure) => with_unit(measure, *value, length),
            None => value.base().to_string(),
        },
        EntryKind::MinutesStated { minutes, .. } => format!("{minutes} min"),
        EntryKind::RemarkChanged { text, .. } if text.trim().is_empty() => "withdrawn".to_owned(),
        EntryKind::RemarkChanged { text, .. } => text.clone(),
        EntryKind::Archived { archived: true } => "archived".to_owned(),
        EntryKind::Archived { archived: false } => "in the list of jobs".to_owned(),
        // No other kind states anything.
        _ => String::new(),
    }
}

fn with_unit(measure: &Measure, value: Value, length: LengthUnit) -> String {
    let shown = measure.shown(value, length);
    match measure.kind.symbol(length) {
        "" => shown,
        unit => format!("{shown} {unit}"),
    }
}

fn detail(set: &Details) -> String {
    let texts = [
        &set.name,
        &set.client,
        &set.described,
        &set.serial,
        &set.scope,
        &set.currency,
        &set.for_client,
    ];
    if let Some(text) = texts.into_iter().flatten().next() {
        return match text.as_str() {
            "" => "empty".to_owned(),
            text => text.to_owned(),
        };
    }
    let money = [set.rate_per_hour_cents, set.travel_cents, set.price_cents];
    let hundredths = |n: u32| DecimalFormat::fixed(2).print(i64::from(n), 100);
    if let Some(percent) = set.tax_percent_hundredths {
        return format!("{} %", hundredths(percent));
    }
    if let Some(days) = set.valid_days {
        return format!("{days} days");
    }
    match (set.instrument, money.into_iter().flatten().next()) {
        (Some(Instrument::Grand), _) => "grand".to_owned(),
        (Some(Instrument::Upright), _) => "upright".to_owned(),
        (_, Some(cents)) => hundredths(cents),
        // A field that this list does not have yet.
        (None, None) => serde_json::to_string(set).unwrap_or_default(),
    }
}

fn lengths(all: &[Length], unit: LengthUnit) -> String {
    let all: Vec<String> = all.iter().map(|l| l.shown(unit, 3)).collect();
    format!("{} {}", all.join(", "), unit.symbol())
}

fn notes(notes: &[Note]) -> String {
    let names: Vec<String> = notes.iter().map(|n| n.name()).collect();
    match names.is_empty() {
        true => "none".to_owned(),
        false => names.join(", "),
    }
}

fn key(key: &KeyLever, unit: LengthUnit) -> String {
    let [front, back, pin] =
        [key.front_nm, key.back_nm, key.front_pin_nm].map(|l| l.shown(unit, 2));
    format!(
        "front {front}, back {back}, front pin {pin} {}",
        unit.symbol()
    )
}

fn setup(state: &State, set: &Setup) -> String {
    let unit = state.length_unit();
    if let Some(sections) = &set.sections {
        return notes(sections.breaks());
    }
    if let Some(unit) = set.length_unit {
        return match unit {
            LengthUnit::Millimeter => "millimeters".to_owned(),
            LengthUnit::Inch => "inches".to_owned(),
        };
    }
    if let Some(samples) = &set.samples {
        return notes(samples);
    }
    if let Some(measures) = &set.sample_measures {
        let names: Vec<String> = measures.iter().map(|m| measure_name(state, m)).collect();
        return match names.is_empty() {
            true => "all".to_owned(),
            false => names.join(", "),
        };
    }
    if let Some(by_note) = set.sample_by_note {
        return match by_note {
            true => "note by note",
            false => "measure by measure",
        }
        .to_owned();
    }
    if let Some(lever) = set.natural_key.as_ref().or(set.sharp_key.as_ref()) {
        return key(lever, unit);
    }
    if let Some(punchings) = &set.punchings_nm {
        return match punchings.is_empty() {
            true => "none".to_owned(),
            false => lengths(punchings, unit),
        };
    }
    if let Some(trials) = &set.trials {
        let trial = |t: &crate::job::Trial| {
            let name = measure_name(state, &t.measure);
            let change = lengths(&[t.before_nm, t.after_nm], unit);
            format!("{name}, {} turn: {change}", t.turned_64ths)
        };
        let all: Vec<String> = trials.iter().map(trial).collect();
        return match all.is_empty() {
            true => "none".to_owned(),
            false => all.join("; "),
        };
    }
    if let Some(earlier) = &set.earlier {
        return format!("job {}", earlier.job);
    }
    if let Some(following) = set.following {
        return match following {
            crate::job::FollowingLength::Aftertouch => "aftertouch",
            crate::job::FollowingLength::Blow => "blow",
            crate::job::FollowingLength::Dip => "dip",
        }
        .to_owned();
    }
    if let Some(control) = &set.control_notes {
        let one = |c: &crate::job::ControlNote| {
            let [bench, bed] = [c.bench_nm, c.key_bed_nm].map(|l| l.shown(unit, 2));
            format!("{}: bench {bench}, piano {bed} {}", c.note, unit.symbol())
        };
        let all: Vec<String> = control.iter().map(one).collect();
        return all.join("; ");
    }
    if let Some(sizes) = &set.part_sizes {
        let all: Vec<String> = sizes
            .iter()
            .map(|(part, size)| format!("{part}: {size}"))
            .collect();
        return all.join("; ");
    }
    if let Some(prices) = &set.part_prices_cents {
        let one = |(part, cents): (&String, &u32)| {
            format!(
                "{part}: {}",
                DecimalFormat::fixed(2).print(i64::from(*cents), 100)
            )
        };
        let all: Vec<String> = prices.iter().map(one).collect();
        return all.join("; ");
    }
    if let Some(seed) = set.sample_seed {
        return format!("number {seed}");
    }
    if let Some(all) = set.measure_all {
        return match all {
            true => "measure every note".to_owned(),
            false => "measure what is not known".to_owned(),
        };
    }
    if let Some(fixed) = &set.earlier_fixed {
        return format!("{} steps", fixed.len());
    }
    // A field that this list does not have yet.
    serde_json::to_string(set).unwrap_or_default()
}

fn own_step(state: &State, step: &OwnStep) -> String {
    let after = step.after.as_ref();
    let after = after.map_or_else(String::new, |id| {
        format!(", after {}", step_name(state, id))
    });
    format!("{}, {} min{after}", step.name, step.minutes)
}

fn target(state: &State, measure: &Measure, target: &Target, length: LengthUnit) -> String {
    let joined = |parts: Vec<String>| parts.join("; ");
    match target {
        Target::Flat(flat) => band(measure, flat, length),
        Target::BySection(bands) => {
            let bands = bands.iter().enumerate();
            joined(
                bands
                    .map(|(at, b)| format!("section {}: {}", at + 1, band(measure, b, length)))
                    .collect(),
            )
        }
        Target::Tapered(points) => joined(
            points
                .iter()
                .map(|(note, b)| format!("{note}: {}", band(measure, b, length)))
                .collect(),
        ),
        Target::ShareOf {
            of,
            percent,
            within,
            accept,
        } => {
            let of = measure_name(state, of).to_lowercase();
            let [within, accept] = [*within, *accept]
                .map(|base| with_unit(measure, Value::from_base(measure.kind, base), length));
            format!(
                "{percent} % of the {of}, on target within {within}, acceptable within {accept}"
            )
        }
    }
}

/// Returns a band in words: `2.0 mm, on target 1.7 to 2.3, acceptable 1.5 to 2.5`.
fn band(measure: &Measure, band: &Band, length: LengthUnit) -> String {
    let aim = with_unit(measure, Value::from_base(measure.kind, band.aim), length);
    if !measure.kind.is_number() {
        return aim;
    }
    let shown = |base: i64| measure.shown(Value::from_base(measure.kind, base), length);
    let range = |word: &str, (low, high): (Option<i64>, Option<i64>)| match (low, high) {
        (Some(low), Some(high)) => format!(", {word} {} to {}", shown(low), shown(high)),
        (Some(low), None) => format!(", {word} from {}", shown(low)),
        (None, Some(high)) => format!(", {word} up to {}", shown(high)),
        (None, None) => String::new(),
    };
    let within = range("on target", band.within);
    format!("{aim}{within}{}", range("acceptable", band.accept))
}
