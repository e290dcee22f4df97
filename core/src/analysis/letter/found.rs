//! What was found, in the words of a letter.

use super::super::compare::Compared;
use super::super::listed::listed;
use crate::job::{State, Subject};
use crate::note::Note;
use crate::trade::{Measure, Part, Verdict};
use crate::unit::{Kind, Value};

/// The most quantities that are said one by one; the rest share a sentence, so that the letter stays on its page.
const MAX_SAID: usize = 4;

/// Returns what a value above its target, and one below it, does to the playing (C); empty where nothing general holds.
const fn effects(measure: &str) -> (&'static str, &'static str) {
    match measure.as_bytes() {
        b"let_off" => ("soft notes were lost", "the hammer could block"),
        b"spring" => ("the hammer jumped", "fast repeats were lost"),
        b"friction" => ("the keys were stiff", ""),
        b"balance_weight" => ("the touch was heavy", "the touch was light"),
        b"lost_motion" => ("the key moved before the hammer did", ""),
        b"natural_level" | b"sharp_level" => ("the keys were uneven", "the keys were uneven"),
        _ => ("", ""),
    }
}

/// Returns how a measure is called in a letter.
pub(super) fn name(measure: &Measure) -> String {
    match measure.id.as_str() {
        "natural_dip" => "Key dip of the naturals".to_owned(),
        "sharp_dip" => "Key dip of the sharps".to_owned(),
        "natural_level" => "Level of the naturals".to_owned(),
        _ => measure.name.to_string(),
    }
}

/// Returns `on 31 of 88 notes`, `on all 12 notes measured`.
fn on(out: usize, count: usize) -> String {
    match (out == count, count) {
        (true, 1) => "on the 1 note measured".to_owned(),
        (true, count) => format!("on all {count} notes measured"),
        (false, count) => format!("on {out} of {count} notes measured"),
    }
}

/// Returns `too wide`; the words of some measures say so themselves.
fn too(word: &str) -> String {
    match word.starts_with("too ") {
        true => word.to_owned(),
        false => format!("too {word}"),
    }
}

/// Returns what was found: pitch, touch, dip, then what was out, the most first, then the wear.
pub(super) fn sentences(state: &State, compared: &[Compared]) -> Vec<String> {
    let mut said: Vec<String> = pitch(state).into_iter().collect();
    // Also where no step of the job takes them: they are what a client asks about.
    said.extend(
        range(state, "down_weight").map(|at| format!("Touch: the keys went down at {at}.")),
    );
    for id in ["natural_dip", "sharp_dip"] {
        let is_said = compared
            .iter()
            .any(|c| c.measure.id.as_str() == id && c.found.out() > 0);
        if let (false, Some(measure), Some(range)) = (is_said, state.measure(id), range(state, id))
        {
            said.push(format!("{}: {range}.", name(measure)));
        }
    }
    let mut out: Vec<&Compared> = compared.iter().filter(|c| c.judged).collect();
    out.retain(|c| c.found.out() > 0);
    // Of equal counts the earlier step first.
    out.sort_by_key(|c| std::cmp::Reverse(c.found.out()));
    let (first, rest) = out.split_at(out.len().min(MAX_SAID));
    said.extend(first.iter().map(|c| out_sentence(state, c)));
    if !rest.is_empty() {
        let each = rest.iter().map(|c| {
            let name = name(&c.measure).to_lowercase();
            format!("{name} on {}", c.found.out())
        });
        let each: Vec<String> = each.collect();
        said.push(format!("Also out: {} notes.", listed(&each)));
    }
    let worn = worn(state);
    // Nothing wrong is a finding, too.
    let is_judged = compared
        .iter()
        .any(|c| c.judged && !c.found.readings.is_empty());
    if out.is_empty() && is_judged {
        said.push("All that was measured on the notes was in tolerance.".to_owned());
    }
    if worn.is_empty()
        && Part::ALL
            .into_iter()
            .any(|part| part_with(state, part, 0).is_some())
    {
        said.push("No part that was looked at is worn.".to_owned());
    }
    said.extend(worn);
    said
}

fn pitch(state: &State) -> Option<String> {
    let reading = state.found("pitch_a4", Subject::Whole)?;
    let measure = state.measure("pitch_a4")?;
    let length = state.length_unit();
    let shown = |base: i64| measure.shown(Value::from_base(measure.kind, base), length);
    let stood = format!("The pitch of A4 was {} Hz", shown(reading.value.base()));
    let judged = state.judge("pitch_a4", Subject::Whole, reading.value);
    let words = match judged.map(|j| (j.off, j.band.aim)) {
        None | Some((0, _)) => String::new(),
        Some((off, aim)) => {
            let way = if off > 0 { "above" } else { "below" };
            format!(", {} {way} {}", shown(off.saturating_abs()), shown(aim))
        }
    };
    Some(format!("{stood}{words}."))
}

/// Returns what was found of a measure over the notes: `9.4 to 10.2 mm`.
fn range(state: &State, id: &str) -> Option<String> {
    let measure = state.measure(id)?;
    let length = state.length_unit();
    let found =
        Note::all().filter_map(|note| Some(state.found(id, Subject::Note(note))?.value.base()));
    let (least, most) = (found.clone().min()?, found.max()?);
    let shown = |base| measure.shown(Value::from_base(measure.kind, base), length);
    let unit = match measure.kind {
        Kind::Force => "g",
        kind => kind.symbol(length),
    };
    let (least, most) = (shown(least), shown(most));
    Some(match least == most {
        true => format!("{least} {unit}"),
        false => format!("{least} to {most} {unit}"),
    })
}

/// Returns `Let-off was too wide on 31 of 88 notes measured: soft notes were lost.`
fn out_sentence(state: &State, c: &Compared) -> String {
    let id = c.measure.id.as_str();
    let side = |(note, base): &(Note, i64)| {
        let value = Value::from_base(c.measure.kind, *base);
        let judged = state.judge(id, Subject::Note(*note), value);
        let out = judged.filter(|j| j.verdict == Verdict::Out);
        out.map_or(0, |j| j.off.signum())
    };
    let sides: Vec<i64> = c.found.readings.iter().map(side).collect();
    let count = |way| sides.iter().filter(|side| **side == way).count();
    let (above, below, all) = (count(1), count(-1), sides.len());
    let (high, low) = (too(c.measure.words.0), too(c.measure.words.1));
    let (does_high, does_low) = effects(id);
    let (how, does) = match (above, below) {
        (above, 0) => (format!("{high} {}", on(above, all)), does_high),
        (0, below) => (format!("{low} {}", on(below, all)), does_low),
        (above, below) => (
            format!("{high} on {above} and {low} on {below} of {all} notes measured"),
            if does_high == does_low { does_high } else { "" },
        ),
    };
    let does = match does {
        "" => String::new(),
        does => format!(": {does}"),
    };
    format!("{} was {how}{does}.", name(&c.measure))
}

/// Returns a sentence on what is worn, and one on what is worn out.
fn worn(state: &State) -> Vec<String> {
    let said = [(2, "Worn out"), (1, "Worn")]
        .into_iter()
        .filter_map(|(grade, word)| {
            let parts: Vec<String> = Part::ALL
                .into_iter()
                .filter_map(|part| part_with(state, part, grade))
                .collect();
            (!parts.is_empty()).then(|| format!("{word}: {}.", parts.join("; ")))
        });
    said.collect()
}

fn part_with(state: &State, part: Part, grade: u8) -> Option<String> {
    let sections = (0..state.sections().count()).filter(|section| {
        let on = Subject::Section(*section as u8);
        let read = state.found(part.wear(), on);
        read.is_some_and(|r| r.value == Value::Grade(grade))
    });
    let sections: Vec<usize> = sections.collect();
    (!sections.is_empty()).then(|| part_where(state, part, &sections))
}

/// Returns `knuckles, F4 to C8`; without notes for the whole row.
pub(super) fn part_where(state: &State, part: Part, sections: &[usize]) -> String {
    let name = part.name(state.instrument());
    if sections.len() == state.sections().count() {
        return name.to_owned();
    }
    let ends = sections.iter().filter_map(|s| state.sections().ends(*s));
    // Sections side by side are one stretch.
    let mut stretches: Vec<(Note, Note)> = Vec::new();
    for (low, high) in ends {
        match stretches.last_mut() {
            Some(last) if last.1.up() == Some(low) => last.1 = high,
            _ => stretches.push((low, high)),
        }
    }
    let words = stretches
        .iter()
        .map(|(low, high)| format!("{low} to {high}"));
    let words: Vec<String> = words.collect();
    format!("{name} {}", listed(&words))
}
