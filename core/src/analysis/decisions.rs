//! What the survey graded, what was decided on it, and the parts to order.
//!
//! **Rule** (C). What is decided for a kind of part in a section counts; where nothing is decided, its grade does: worn
//! parts are reconditioned, worn-out parts renewed. Only what is decided is ordered.

use super::listed;
use super::survey::Wear;
use crate::job::{Job, PartToOrder, State, Subject, Table};
use crate::note::Note;
use crate::trade::{Decision, Part};
use crate::unit::{DecimalFormat, Kind};

/// What is known of a kind of part in a section.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Graded {
    pub part: Part,
    /// The section, 0 in the bass.
    pub section: usize,
    pub wear: Option<Wear>,
    pub decision: Option<Decision>,
}

impl Graded {
    /// Returns the wear that is treated: as decided, otherwise as graded.
    pub fn treated(&self) -> Option<Wear> {
        match self.decision {
            Some(Decision::Leave) => Some(Wear::Sound),
            Some(Decision::Recondition) => Some(Wear::Worn),
            Some(Decision::Renew) => Some(Wear::WornOut),
            None => self.wear,
        }
    }
}

/// Returns what is graded or decided, part by part, each from the bass up.
pub(super) fn graded(state: &State) -> Vec<Graded> {
    let mut all = Vec::new();
    for part in Part::ALL {
        for section in 0..state.sections().count() {
            let read = |measure| state.surveyed(measure, Subject::Section(section as u8));
            let wear = read(part.wear()).and_then(|r| Wear::of(r.value));
            let decision = read(part.decision()).and_then(|r| Decision::of(r.value));
            if wear.is_some() || decision.is_some() {
                all.push(Graded {
                    part,
                    section,
                    wear,
                    decision,
                });
            }
        }
    }
    all
}

/// Returns the sections for which something is decided for a part.
fn sections_decided(graded: &[Graded], part: Part, decision: Decision) -> Vec<usize> {
    let of = |g: &&Graded| g.part == part && g.decision == Some(decision);
    graded.iter().filter(of).map(|g| g.section).collect()
}

/// Returns the notes of sections that need a part: of damper felts those that have a damper.
fn notes_in(state: &State, part: Part, sections: &[usize]) -> usize {
    let has_one = |n: &Note| part != Part::Dampers || *n <= state.last_damped();
    let in_sections = |n: &Note| sections.contains(&state.sections().of(*n));
    Note::all().filter(|n| has_one(n) && in_sections(n)).count()
}

/// Returns `the whole row` or `sections 1 and 2`.
fn sections_words(state: &State, sections: &[usize]) -> String {
    match sections.len() == state.sections().count() {
        true => "the whole row".to_owned(),
        false => listed::sections(sections.iter().copied()),
    }
}

/// Returns what is decided, as sentences: renewals first, then reconditioning, then what stays as it is.
///
/// ```
/// use evenhand_core::analysis::decisions::decided;
/// use evenhand_core::job::{Job, ReplicaId, Subject};
/// use evenhand_core::trade::{MeasureId, Occasion, Place};
/// use evenhand_core::unit::Value;
///
/// let mut job = Job::new();
/// let (measure, on) = (MeasureId::of("decide_knuckles"), Subject::Section(0));
/// let renew = Value::Grade(2);
/// job.apply(job.reading(ReplicaId::new(7), 0, measure, on, Place::Piano, Occasion::AsFound, renew, ""));
/// assert_eq!(decided(job.state()), ["Renew: knuckles, the whole row."]);
/// // The renewal is a step of the job now.
/// assert!(job.state().step("knuckles_renewed").is_some());
/// ```
pub fn decided(state: &State) -> Vec<String> {
    let graded = graded(state);
    let all = [
        (Decision::Renew, "Renew"),
        (Decision::Recondition, "Recondition"),
        (Decision::Leave, "Leave as it is"),
    ];
    let said = all.into_iter().filter_map(|(decision, word)| {
        let parts: Vec<String> = Part::ALL
            .into_iter()
            .filter_map(|part| {
                let sections = sections_decided(&graded, part, decision);
                let name = part.name(state.instrument());
                let on = sections_words(state, &sections);
                (!sections.is_empty()).then(|| format!("{name}, {on}"))
            })
            .collect();
        (!parts.is_empty()).then(|| format!("{word}: {}.", parts.join("; ")))
    });
    said.collect()
}

/// Returns the parts to order: what the survey decided to renew and is not fitted yet, in the order of the survey.
///
/// ```
/// use evenhand_core::analysis::decisions::parts_to_order;
/// use evenhand_core::job::{EntryKind, Job, ReplicaId, Setup, Subject};
/// use evenhand_core::trade::{MeasureId, Occasion, Place};
/// use evenhand_core::unit::Value;
///
/// let phone = ReplicaId::new(7);
/// let mut job = Job::new();
/// let (measure, on) = (MeasureId::of("decide_bushings"), Subject::Section(0));
/// let renew = Value::Grade(2);
/// job.apply(job.reading(phone, 0, measure, on, Place::Piano, Occasion::AsFound, renew, ""));
/// let cloth = &parts_to_order(job.state())[0];
/// assert_eq!((cloth.count, cloth.size.as_deref()), (352, None));
///
/// let sizes = [("bushings".to_owned(), "1.2 mm".to_owned())].into();
/// let set = Box::new(Setup { part_sizes: Some(sizes), ..Setup::default() });
/// job.apply(job.draft(phone, 1_000, EntryKind::Setup { set }));
/// assert_eq!(parts_to_order(job.state())[0].size.as_deref(), Some("1.2 mm"));
/// ```
pub fn parts_to_order(state: &State) -> Vec<PartToOrder> {
    let mut parts = parts_decided(state);
    parts.retain(|p| !is_fitted(state, p.part));
    parts
}

/// Returns whether a part is renewed on every note for which that is decided.
pub(super) fn is_fitted(state: &State, part: Part) -> bool {
    let step = state.step(part.renewal());
    let progress = step.map(|step| state.progress_of(step));
    progress.is_some_and(|p| p.expected > 0 && p.is_recorded())
}

/// Returns the parts that the survey decided to renew, also those that are fitted, in the order of the survey.
pub fn parts_decided(state: &State) -> Vec<PartToOrder> {
    let graded = graded(state);
    let instrument = state.instrument();
    let sizes = state.setup().part_sizes.as_ref();
    let prices = state.setup().part_prices_cents.as_ref();
    let line = |part: Part| {
        let sections = sections_decided(&graded, part, Decision::Renew);
        let notes = notes_in(state, part, &sections);
        let size = sizes.and_then(|all| all.get(part.key()));
        (notes > 0).then(|| PartToOrder {
            part,
            name: part.name(instrument),
            size: size.filter(|s| !s.trim().is_empty()).cloned(),
            measured: match part {
                Part::Bushings => pins(state, &sections),
                _ => String::new(),
            },
            count: notes * part.per_note(instrument) as usize,
            each_cents: prices.and_then(|all| all.get(part.key())).copied(),
            on: sections_words(state, &sections),
        })
    };
    Part::ALL.into_iter().filter_map(line).collect()
}

/// Returns the thickness of the key pins of sections, from which the bushing cloth follows.
fn pins(state: &State, sections: &[usize]) -> String {
    let rails = [("key_pin", "balance pins"), ("front_pin", "front pins")];
    let of = |(measure, name): (&str, &str)| {
        let read = |s: &usize| state.latest(measure, Subject::Section(*s as u8));
        let mut nm: Vec<i64> = sections
            .iter()
            .filter_map(read)
            .map(|l| l.reading.value.base())
            .collect();
        nm.sort_unstable();
        let shown = |nm: i64| Kind::Length.shown(nm, state.length_unit(), 2);
        let (first, last) = (shown(*nm.first()?), shown(*nm.last()?));
        let unit = state.length_unit().symbol();
        Some(match first == last {
            true => format!("{name} {first} {unit}"),
            false => format!("{name} {first} to {last} {unit}"),
        })
    };
    let said: Vec<String> = rails.into_iter().filter_map(of).collect();
    said.join(", ")
}

/// Returns the table of the parts to order, as CSV: one row each.
///
/// ```
/// use evenhand_core::analysis::decisions::parts_csv;
/// use evenhand_core::job::Job;
///
/// let header = parts_csv(&Job::new());
/// assert!(header.ends_with("\"measured\",\"count\",\"for\",\"price_each\",\"amount\",\"currency\"\r\n"));
/// ```
pub fn parts_csv(job: &Job) -> String {
    let mut table = PartsTable::default();
    table.add(job);
    table.finish()
}

/// The table of the parts to order of several jobs, as CSV: one row each, job after job. Empty by default.
///
/// ```
/// use evenhand_core::analysis::decisions::{PartsTable, parts_csv};
/// use evenhand_core::job::{Job, ReplicaId, Subject};
/// use evenhand_core::trade::{MeasureId, Occasion, Place};
/// use evenhand_core::unit::Value;
///
/// let mut job = Job::new();
/// let (measure, on) = (MeasureId::of("decide_hammers"), Subject::Section(0));
/// let renew = Value::Grade(2);
/// job.apply(job.reading(ReplicaId::new(7), 0, measure, on, Place::Piano, Occasion::AsFound, renew, ""));
/// let mut table = PartsTable::default();
/// table.add(&job);
/// table.add(&job);
/// assert_eq!(table.rows(), 2 * (parts_csv(&job).lines().count() - 1));
/// ```
pub struct PartsTable {
    table: Table,
    rows: usize,
}

impl Default for PartsTable {
    fn default() -> Self {
        let table = Table::new(&[
            "job_id",
            "job",
            "client",
            "serial",
            "part",
            "name",
            "size",
            "measured",
            "count",
            "for",
            "price_each",
            "amount",
            "currency",
        ]);
        PartsTable { table, rows: 0 }
    }
}

impl PartsTable {
    /// Appends the parts to order of a job.
    pub fn add(&mut self, job: &Job) {
        let (state, table) = (job.state(), &mut self.table);
        for line in parts_to_order(state) {
            table.job(state);
            table.cell(line.part.key());
            table.cell(line.name);
            table.text(line.size.as_deref().unwrap_or_default());
            table.cell(&line.measured);
            table.cell(line.count.to_string());
            table.cell(&line.on);
            let money = |cents: i64| DecimalFormat::fixed(2).print(cents, 100);
            let each = line.each_cents.map(i64::from);
            let amount = each.map(|each| each * line.count as i64);
            for cents in [each, amount] {
                table.cell(cents.map(money).unwrap_or_default());
            }
            let currency = state.details().currency.as_deref();
            table.text(currency.filter(|_| each.is_some()).unwrap_or_default());
            table.end_row();
            self.rows += 1;
        }
    }

    /// Returns the number of its rows, the header line not counted.
    pub fn rows(&self) -> usize {
        self.rows
    }

    /// Returns the table.
    pub fn finish(self) -> String {
        self.table.finish()
    }
}

#[cfg(test)]
mod tests;
