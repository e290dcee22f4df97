//! Texts for people: names, verdicts, bands, causes and targets in words.
//! The file is long because every sentence of more than one screen stands here.

use evenhand_core::analysis::belief::NOT_AGAIN;
pub use evenhand_core::analysis::handover::capital;
use evenhand_core::analysis::profile;
use evenhand_core::analysis::suggestion::Reason;
use evenhand_core::analysis::sweep::{SweepNotes, wants_gauge};
use evenhand_core::analysis::travel::{Dimension, Strayed};
use evenhand_core::analysis::weights::{LeadAdvice, Weighed, lead_advice};
use evenhand_core::job::{
    Cause, Correction, Drying, FollowingLength, Incoming, Judged, Remark, Scope, State, Subject,
};
use evenhand_core::note::{Color, Note, Sections};
use evenhand_core::trade::{Adjuster, Band, Measure, MeasureId, Step, Target, Verdict};
use evenhand_core::unit::{DecimalFormat, Force, InchForm, Kind, Length, LengthUnit, Turns, Value};

use crate::device::{local_format, local_time};

/// Said when a part of the program that is loaded after the first screen does not come.
pub const NOT_LOADED: &str = "This part of the program could not be loaded. Nothing that was entered is lost. Check that there is a network, and try again.";

/// The longest text from outside in a sentence, in characters.
const MAX_NAME: usize = 60;

/// Returns a name from a file as it stands in a sentence: at most 60 characters, in its own direction of writing, with
/// characters that cannot be seen shown by their code.
pub fn name(name: &str) -> String {
    let mut shown = String::new();
    for c in name.chars().take(MAX_NAME) {
        match c {
            '\u{61c}'
            | '\u{200e}'
            | '\u{200f}'
            | '\u{202a}'..='\u{202e}'
            | '\u{2066}'..='\u{2069}' => {
                shown.push_str(&format!("[U+{:04X}]", c as u32));
            }
            c if c.is_control() => shown.push(' '),
            c => shown.push(c),
        }
    }
    if name.chars().nth(MAX_NAME).is_some() {
        shown.push('…');
    }
    if shown.is_ascii() {
        shown
    } else {
        // First strong isolate: the sentence around it keeps its order.
        format!("\u{2068}{shown}\u{2069}")
    }
}

/// Returns what merging a file changes: `12 new records: 9 readings, takes back 7 earlier records`.
pub fn incoming(incoming: &Incoming) -> String {
    let some = |count: usize, words: String| (count > 0).then_some(words);
    let n = |count, one, many| counted(count, one, many);
    let (back, fixed) = (incoming.taken_back, incoming.fixed);
    let parts = [
        some(
            incoming.readings,
            n(incoming.readings, "1 reading", "readings"),
        ),
        some(incoming.targets, n(incoming.targets, "1 target", "targets")),
        some(incoming.faults, n(incoming.faults, "1 fault", "faults")),
        some(
            incoming.hours,
            n(incoming.hours, "1 working time", "working times"),
        ),
        some(
            fixed,
            n(fixed, "1 earlier fault fixed", "earlier faults fixed"),
        ),
        some(
            incoming.remarks,
            n(
                incoming.remarks,
                "1 earlier remark changed",
                "earlier remarks changed",
            ),
        ),
        some(
            back,
            format!(
                "takes back {}",
                n(back, "1 earlier record", "earlier records")
            ),
        ),
        some(
            incoming.details.len(),
            format!("changes {}", incoming.details.join(", ")),
        ),
        incoming.archived.map(|archived| match archived {
            true => "archives the job".to_owned(),
            false => "takes the job out of the archive".to_owned(),
        }),
    ];
    let parts: Vec<String> = parts.into_iter().flatten().collect();
    let mut records = n(incoming.entries, "1 new record", "new records");
    let names: Vec<String> = incoming.technicians.iter().cloned().collect();
    if !names.is_empty() {
        records += &format!(" by {}", self::names(&names));
    }
    if parts.is_empty() {
        records
    } else {
        format!("{records}: {}", parts.join(", "))
    }
}

/// Returns names in a sentence: at most five, and how many more.
pub fn names(all: &[String]) -> String {
    let (first, more) = all.split_at(all.len().min(5));
    let first: Vec<String> = first.iter().map(|n| name(n)).collect();
    match more.len() {
        0 => first.join(", "),
        n => format!("{} and {n} more", first.join(", ")),
    }
}

/// Returns a subject's short name: `C♯4`, `Section 2`, `Whole piano`.
pub fn subject(on: Subject) -> String {
    match on {
        Subject::Note(n) => n.name(),
        other => other.words(),
    }
}

/// Returns what stands behind the name of a measure: ` of C4`, ` of section 2`, nothing for the whole.
pub fn of_subject(on: Subject) -> String {
    match on {
        Subject::Whole => String::new(),
        Subject::Note(note) => format!(" of {}", note.name()),
        other => format!(" of {}", other.words().to_lowercase()),
    }
}

/// Returns the details of a subject, shown small beside its name: `41, sharp`, or the ends of a section.
pub fn subject_more(on: Subject, state: &State) -> String {
    match on {
        Subject::Whole => String::new(),
        Subject::Section(s) => match state.sections().ends(usize::from(s)) {
            Some((a, b)) => format!("{a} to {b}"),
            None => String::new(),
        },
        Subject::Note(n) => {
            let color = match n.color() {
                Color::Natural => "natural",
                Color::Sharp => "sharp",
            };
            format!("{}, {color}", n.number())
        }
    }
}

/// Returns a section with its notes: `1, A0 to E2`.
pub fn section(sections: &Sections, section: usize) -> String {
    match sections.ends(section) {
        Some((a, b)) => format!("{}, {a} to {b}", section + 1),
        None => (section + 1).to_string(),
    }
}

/// Returns the unit behind a number of this measure.
pub fn unit(measure: &Measure, length: LengthUnit) -> &'static str {
    measure.kind.symbol(length)
}

/// Returns a verdict in words: `on target`, `acceptable, wide by 0.4`, `wide by 0.9`.
pub fn verdict(measure: &Measure, judged: &Judged, value: Value, length: LengthUnit) -> String {
    verdict_in(InchForm::Fraction, measure, judged, value, length)
}

/// As [`verdict`], with inches in one form, for a table.
pub fn verdict_in(
    form: InchForm,
    measure: &Measure,
    judged: &Judged,
    value: Value,
    length: LengthUnit,
) -> String {
    if !measure.kind.is_number() {
        return match judged.verdict {
            Verdict::OnTarget => measure.shown(value, length),
            Verdict::Acceptable => format!("{}, acceptable", measure.shown(value, length)),
            Verdict::Out => format!("{}, out", measure.shown(value, length)),
        };
    }
    let word = if judged.off > 0 {
        measure.words.0
    } else {
        measure.words.1
    };
    let off = Value::from_base(measure.kind, judged.off.saturating_abs());
    let by = measure.shown_in(form, off, length);
    match judged.verdict {
        Verdict::OnTarget => "on target".to_owned(),
        Verdict::Acceptable => format!("acceptable, {word} by {by}"),
        Verdict::Out => format!("{word} by {by}"),
    }
}

/// Returns what a sweep says of a note: `swept, on target`, `swept, good`, `done`.
pub fn swept(measure: &Measure) -> &'static str {
    match measure.kind {
        Kind::Tick => "done",
        Kind::Good => "swept, good",
        _ => "swept, on target",
    }
}

/// Returns what is said of a note that was adjusted and not measured again: of punchings the thickness is known, and no turn.
pub fn not_again(measure: &Measure) -> &'static str {
    match measure.adjuster {
        Some(Adjuster::BalancePunchings | Adjuster::FrontPunchings) => {
            "not measured again: what the punchings do is known"
        }
        _ => NOT_AGAIN,
    }
}

/// Returns what a mark says of a note: `out, not measured`; of what is ticked off `to come back to`.
pub fn marked(measure: &Measure) -> &'static str {
    match measure.kind {
        Kind::Tick => "to come back to",
        _ => "out, not measured",
    }
}

/// Returns what a look or a stroke says of a row: `done`, `good`, `on target`, or that a gauge was used ([`wants_gauge`]).
pub fn swept_word(measure: &Measure) -> &'static str {
    match measure.kind {
        _ if wants_gauge(measure.id.as_str()) => "on target (gauge)",
        Kind::Tick => "done",
        Kind::Good => "good",
        _ => "on target",
    }
}

/// Returns what the one key beside a message says: `rest on target`, `rest by gauge`.
pub fn swept_rest(measure: &Measure) -> String {
    match wants_gauge(measure.id.as_str()) {
        true => "rest by gauge".to_owned(),
        false => format!("rest {}", swept_word(measure)),
    }
}

/// Returns what a key says that sweeps the rest of a section, the whole row, or the rest of the sample.
pub fn swept_key(measure: &Measure, row: bool, sample: bool) -> String {
    let gauge = wants_gauge(measure.id.as_str());
    let word = if gauge {
        "by gauge"
    } else {
        swept_word(measure)
    };
    match (sample, row, gauge) {
        (true, ..) => format!("Rest of sample {word}"),
        (_, true, _) => format!("Whole row {word}"),
        (_, _, true) => format!("Rest {}", swept_word(measure)),
        (_, _, false) => format!("Rest of section {word}"),
    }
}

/// Returns the notes of a sweep: `F2 to C5, 29 notes`.
pub fn swept_range(sweep: &SweepNotes) -> String {
    let (from, to) = (sweep.notes.from.name(), sweep.notes.to.name());
    format!("{from} to {to}, {} notes", sweep.count)
}

/// Returns what follows from the two weights of a note. `None` until both are measured.
pub fn weighed(state: &State, step: &Step, on: Subject) -> Option<String> {
    let mark = |id| profile::mark(state, step, id, on, step.occasion);
    let force = |id| mark(id)?.value.force();
    let (down, up) = (force("down_weight")?, force("up_weight")?);
    if let Err(error) = Weighed::new(down, up) {
        return Some(error.to_string());
    }
    let length = state.length_unit();
    let one = |id| {
        let (measure, mark) = (state.measure(id)?, mark(id)?);
        let value = measure.shown(mark.value, length);
        let said = verdict(measure, &mark.judged?, mark.value, length);
        Some(format!("{} {value}, {said}", measure.name.to_lowercase()))
    };
    let (weight, friction) = (one("balance_weight")?, one("friction")?);
    let lead = on.note().and_then(|note| lead(state, note, down, up));
    let lead = lead.unwrap_or_default();
    Some(format!("{}: {weight}; {friction}.{lead}", subject(on)))
}

/// Returns what to do about a balance weight that is not on target, as a sentence after a space.
fn lead(state: &State, note: Note, down: Force, up: Force) -> Option<String> {
    Some(match lead_advice(state, note, down, up)? {
        LeadAdvice::FrictionFirst => " Friction first, then lead.".to_owned(),
        LeadAdvice::TooLittleUp => " No lead: too little up weight.".to_owned(),
        LeadAdvice::NoLever => " Lead: enter the key lever in Setup.".to_owned(),
        LeadAdvice::Put(lead) => {
            let grams = (lead.mass.mg() + 500) / 1000;
            let unit = state.length_unit();
            let decimals = if unit == LengthUnit::Inch { 2 } else { 0 };
            let at = lead.place.abs();
            let at = at.shown_in(InchForm::Decimal, unit, decimals);
            let unit = unit.symbol();
            match lead.place > Length::ZERO {
                true => format!(" Lead: {grams} g, {at} {unit} before the pin."),
                false => {
                    format!(" Lead: out in front, or {grams} g, {at} {unit} behind the pin.")
                }
            }
        }
    })
}

/// Returns a band in words: `2.0 mm, 1.5 to 2.5`.
pub fn band(measure: &Measure, band: &Band, length: LengthUnit) -> String {
    let shown = |base: i64| measure.shown(Value::from_base(measure.kind, base), length);
    if !measure.kind.is_number() {
        return shown(band.aim);
    }
    let aim = measure.with_unit(&shown(band.aim), length);
    // A limit that comes from a fraction of an inch is no finer than a gauge.
    let shown = |base: i64| match (measure.kind, length) {
        (Kind::Length, LengthUnit::Millimeter) if base % 10_000 != 0 => {
            measure.kind.shown(base, length, 2)
        }
        _ => shown(base),
    };
    match band.accept {
        (Some(low), Some(high)) => format!("{aim}, {} to {}", shown(low), shown(high)),
        (Some(low), None) => format!("{aim}, at least {}", shown(low)),
        (None, Some(high)) => format!("{aim}, at most {}", shown(high)),
        (None, None) => aim,
    }
}

/// Returns why a reading no longer holds.
pub fn cause(state: &State, measure: &Measure, cause: &Cause) -> String {
    let own = measure.name.to_lowercase();
    if cause.work == measure.id {
        return "Adjusted since it was measured. Re-measure.".to_owned();
    }
    let work = state
        .measure(cause.work.as_str())
        .map_or_else(|| cause.work.to_string(), |m| m.name.to_lowercase());
    format!("Re-measure: {work} changed since this {own} was measured.")
}

/// Returns what the length left to follow follows from. `None` if it is not this measure.
pub fn following(state: &State, measure: &str) -> Option<&'static str> {
    let following = state.setup().following.filter(|f| f.is(measure))?;
    Some(match following {
        FollowingLength::Aftertouch => "Aftertouch is left to follow dip and blow.",
        FollowingLength::Blow => "Blow is left to follow dip and aftertouch.",
        FollowingLength::Dip => "Dip is left to follow blow and aftertouch.",
    })
}

/// Returns the changes that would each bring a strayed length back: `blow by −1.94`.
pub fn ways_back(strayed: &Strayed, of: &[Dimension], unit: LengthUnit) -> Vec<String> {
    let wanted = strayed.bring_back.iter().filter(|(d, _)| of.contains(d));
    let words = wanted.map(|(d, change)| {
        let sign = if *change > Length::ZERO { "+" } else { "" };
        let decimals = if unit == LengthUnit::Inch { 3 } else { 2 };
        format!("{} by {sign}{}", d.name(), change.shown(unit, decimals))
    });
    words.collect()
}

/// Returns a turn: `1/8 down`.
pub fn turn(measure: &Measure, turns: Turns) -> String {
    let way = match measure.adjuster {
        Some(Adjuster::Turned { directions, .. }) if turns > Turns::NONE => directions.0,
        Some(Adjuster::Turned { directions, .. }) => directions.1,
        _ => "",
    };
    if turns == Turns::NONE {
        return "not turned".to_owned();
    }
    let far = if turns < Turns::NONE { -turns } else { turns };
    format!("{far} {way}")
}

/// Returns what was done to move a reading: `Turned 1/8 down`.
pub fn made(measure: &Measure, made: &Correction) -> String {
    match made {
        Correction::Turned(turns) => format!("Turned {}", turn(measure, *turns)),
        Correction::Punchings(_) => "Punchings changed".to_owned(),
        Correction::ByEye => "Set by eye".to_owned(),
    }
}

/// Returns the thickness of a punching: `0.25 mm`, `0.010 in`.
pub fn thickness(punching: Length, length: LengthUnit) -> String {
    let decimals = match length {
        LengthUnit::Millimeter => 2,
        LengthUnit::Inch => 3,
    };
    let shown = punching.shown_in(InchForm::Decimal, length, decimals);
    format!("{shown} {}", length.symbol())
}

/// Returns a remark or fault: `Fault: sluggish`.
pub fn remark(remark: &Remark) -> String {
    let kind = if remark.fault { "Fault" } else { "Remark" };
    let since = remark.origin.as_ref().map(|origin| {
        let day = local_time::long_date(origin.noted_at_ms);
        format!(" (open since {day})")
    });
    format!("{kind}: {}{}", remark.text, since.unwrap_or_default())
}

/// Returns what is said of a step's notes that are in: `measured` if it takes numbers, otherwise `done`.
pub fn taken(state: &State, step: &Step) -> &'static str {
    let number = |id: &MeasureId| {
        state
            .measure(id.as_str())
            .is_some_and(|m| m.kind.is_number())
    };
    if step.takes.iter().any(number) {
        "measured"
    } else {
        "done"
    }
}

/// Returns `one` for a count of one, such as `1 note`, otherwise the count before `many`, such as `3 notes`.
pub fn counted(count: usize, one: &str, many: &str) -> String {
    match count {
        1 => one.to_owned(),
        n => format!("{n} {many}"),
    }
}

/// Returns a length of time: `9 h 12 min`.
pub fn minutes(minutes: i64) -> String {
    match (minutes / 60, minutes % 60) {
        (0, m) => format!("{m} min"),
        (h, 0) => format!("{h} h"),
        (h, m) => format!("{h} h {m} min"),
    }
}

/// Returns about how long a job takes, in whole hours or days of eight hours: `4 h`, `3 days`.
pub fn about_time(minutes: u32) -> String {
    match minutes.div_ceil(60) {
        hours @ ..=8 => format!("{hours} h"),
        hours => format!("{} days", hours.div_ceil(8)),
    }
}

/// Returns the name of the one who did the work, or that nobody is named.
pub fn technician(name: Option<String>) -> String {
    name.unwrap_or_else(|| "No name given".to_owned())
}

/// Returns a sum of money in hundredths, as it is typed: `60.00`.
pub fn cents(cents: i64) -> String {
    DecimalFormat::fixed(2).print(cents, 100)
}

/// Returns hundredths of a percent: `19 %`, `8.1 %`.
pub fn percent(hundredths: u32) -> String {
    let number = DecimalFormat::EXACT.print(i64::from(hundredths), 100);
    format!("{number} %")
}

/// Returns a sum of money in hundredths as the phone's region writes it: `€3,462.75`, or `60.00` without a currency.
pub fn money(amount: i64, currency: &str) -> String {
    let written = local_format::money(amount, currency.trim());
    written.unwrap_or_else(|| {
        format!("{} {currency}", cents(amount))
            .trim_end()
            .to_owned()
    })
}

/// Returns the state of a drying time.
pub fn wait(wait: &Drying, now_ms: i64) -> String {
    match &wait.ended {
        Some(reason) if reason.is_empty() => "drying ended early".to_owned(),
        Some(reason) => format!("drying ended early: {reason}"),
        None if wait.is_over(now_ms) => "dry".to_owned(),
        None => format!(
            "drying until {}, {} left",
            local_time::day_and_time(wait.until_ms),
            minutes(wait.minutes_left(now_ms))
        ),
    }
}

/// Returns why a step is proposed now.
pub fn reason(state: &State, reason: &Reason) -> String {
    let named = |id: &evenhand_core::trade::StepId| {
        state
            .step(id.as_str())
            .map_or_else(|| id.to_string(), |s| s.name.to_string())
    };
    match reason {
        Reason::StartDrying { minutes: m } => {
            format!("All in. Start the {} drying time.", minutes(i64::from(*m)))
        }
        Reason::DryingOver { of } => format!("“{}” is dry.", named(of)),
        Reason::Remeasure { count, adjusted } => match count - adjusted {
            0 => format!("{count} to re-measure: adjusted since."),
            other if other == *count => format!("{count} to re-measure: later work changed them."),
            other => format!(
                "{count} to re-measure: {adjusted} adjusted since, {other} spoiled by later work."
            ),
        },
        Reason::GoOn { left: 1 } => "One is left.".to_owned(),
        Reason::GoOn { left } => format!("{left} are left."),
        Reason::Ready => "Ready to start.".to_owned(),
        Reason::Look { sentence } => sentence.clone(),
        Reason::Drying { of, until_ms } => format!(
            "“{}” is drying until {}. Nothing else can be done now.",
            named(of),
            local_time::day_and_time(*until_ms)
        ),
    }
}

/// Returns a target in words, or, without one, that the wider target is in effect again.
pub fn target(state: &State, measure: &str, target: Option<&Target>, length: LengthUnit) -> String {
    let Some(measure) = state.measure(measure) else {
        return String::new();
    };
    match target {
        None => "back to the wider target".to_owned(),
        Some(Target::Flat(flat)) => band(measure, flat, length),
        Some(Target::BySection(bands)) => {
            let said = bands.iter().enumerate();
            let said: Vec<String> = said
                .map(|(at, b)| format!("section {}: {}", at + 1, band(measure, b, length)))
                .collect();
            said.join("; ")
        }
        Some(Target::Tapered(points)) => {
            let said = points.iter();
            let said: Vec<String> = said
                .map(|(note, b)| format!("{} at {}", band(measure, b, length), note.name()))
                .collect();
            said.join("; ")
        }
        Some(Target::ShareOf { of, percent, .. }) => {
            let of = state.measure(of.as_str());
            let of = of.map(|m| m.name.to_lowercase()).unwrap_or_default();
            format!("{percent} % of the {of}")
        }
    }
}

/// Returns how far a change reaches, in words.
pub fn scope(scope: Scope) -> String {
    match scope {
        Scope::Job => "whole job".to_owned(),
        Scope::Section(s) => format!("section {}", s + 1),
        Scope::Note(n) => n.name(),
    }
}

/// Returns the sections of typed breaks, each given as the last note below it.
///
/// # Errors Returns a sentence that says what is wrong.
pub fn breaks(typed: &str) -> Result<Sections, String> {
    let notes = Note::read_list(typed).map_err(|e| e.to_string())?;
    Sections::new(notes).map_err(|e| e.to_string())
}

/// Returns notes in words, with commas: `A0, E2, C5`.
pub fn notes(notes: &[Note]) -> String {
    let names: Vec<String> = notes.iter().map(|n| n.name()).collect();
    names.join(", ")
}

/// Returns a length without its unit: to a tenth of a millimeter, or to a hundredth if it is no whole tenth.
pub fn length(length: Length, unit: LengthUnit) -> String {
    length.brief(unit)
}

/// Returns the question about a value outside its plausible range; in an inch job with the millimeters, which show a
/// wrong unit best.
pub fn doubt(measure: &Measure, value: Value, length: LengthUnit) -> String {
    let shown = |value: Value| measure.shown(value, length);
    let plain = match (value, length) {
        (Value::Nm(_), LengthUnit::Inch) => {
            format!(
                ", that is {} mm",
                measure.shown(value, LengthUnit::Millimeter)
            )
        }
        _ => String::new(),
    };
    let usual = measure.plausible.map_or_else(String::new, |(low, high)| {
        let [low, high] = [low, high].map(|base| shown(Value::from_base(measure.kind, base)));
        format!(" Usual is {low} to {high}.")
    });
    let value = measure.with_unit(&shown(value), length);
    format!("{value}{plain}?{usual}")
}
