//! The letter to the client, short: what was found, done and left, the price, and the next visit. Everything but
//! the technician's own sentence is computed from the job; nothing is stored.
//!
//! **Rule** (C): only what was measured or done is said, in words and counts. Steps that were never begun, cautions,
//! remarks for the technician, conflicts and the devices that wrote the job are in no letter. A letter of work that goes on
//! says so.

mod done;
mod found;
mod pictures;

pub use pictures::LetterPicture;

use super::decisions::{is_fitted, parts_decided};
use super::handover::handover;
use super::hours::{Total, hours};
use super::overview::{Standing, check, standing, work_days};
use super::quote::{tax, tax_in, tax_percent};
use crate::job::{Day, Job, Progress, State};
use crate::trade::{Instrument, Stage, Step};

/// The letter to the client. [`client_letter`] computes it; it has no default.
///
/// ```
/// use evenhand_core::analysis::letter::client_letter;
/// use evenhand_core::job::{Job, ReplicaId, Subject};
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::{MeasureId, Occasion, Place};
/// use evenhand_core::unit::{Length, Value};
///
/// let (let_off, on) = (MeasureId::of("let_off"), Subject::Note(Note::FIRST));
/// let mut job = Job::new();
/// for (occasion, mm) in [(Occasion::AsFound, 4), (Occasion::Working, 2)] {
///     let value = Value::Nm(Length::from_mm_hundredths(100 * mm));
///     job.apply(job.reading(ReplicaId::new(7), 0, let_off.clone(), on, Place::Bench, occasion, value, ""));
/// }
/// let letter = client_letter(&job, 0, 0);
/// assert_eq!(letter.found, ["Let-off was too wide on the 1 note measured: soft notes were lost."]);
/// assert_eq!(letter.done[0], "Let-off: checked on 1 of 88 notes, 1 adjusted. Now 1 is on target.");
/// assert!(letter.done[1].starts_with("The work is not finished"));
/// // A year from the work, on the first day of 1970.
/// assert_eq!((letter.worked[0].date(), letter.next), ((1970, 1, 1), (1971, 1)));
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct ClientLetter {
    /// What it is about: `Your grand piano: what we found and what we did`.
    pub title: String,
    /// The days of the work, the earliest first.
    pub worked: Vec<Day>,
    /// The work agreed, as typed; empty if none is.
    pub asked: String,
    /// What was found, as sentences.
    pub found: Vec<String>,
    /// What was done, and that the work goes on if it does, as sentences.
    pub done: Vec<String>,
    /// What was left as it is, and why, as sentences.
    pub left: Vec<String>,
    /// The technician's own sentence; empty if there is none.
    pub own: String,
    /// At most two rows of notes before and after, those with the most that was out first.
    pub pictures: Vec<LetterPicture>,
    /// The year and the month (1 to 12) of the next visit, counted from the latest work.
    pub next: (i64, u32),
    /// What is done then, as a sentence.
    pub next_why: String,
    /// The price; `None` if there is nothing to charge.
    pub price: Option<LetterPrice>,
    /// The number of open conflicts, for the technician alone: what counts now is in the letter.
    pub conflicts: usize,
    /// What else to see to before it goes out, as sentences for the technician alone.
    pub warnings: Vec<String>,
}

/// The price in a letter and in the report, in hundredths of the currency. Part of [`ClientLetter`]; it has no default.
///
/// ```
/// use evenhand_core::analysis::letter::LetterPrice;
/// use evenhand_core::job::{Details, EntryKind, Job, ReplicaId};
///
/// let mut job = Job::new();
/// let set = Box::new(Details { price_cents: Some(22_000), ..Details::default() });
/// job.apply(job.draft(ReplicaId::new(7), 0, EntryKind::Details { set }));
/// let price = LetterPrice::of(&job).unwrap();
/// assert_eq!((price.is_agreed, price.total_cents), (true, 22_000));
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LetterPrice {
    /// `true` if the total was typed; then nothing else is shown but the tax in it.
    pub is_agreed: bool,
    /// `true` if the total is not agreed and the work goes on.
    pub is_so_far: bool,
    /// The working minutes.
    pub minutes: i64,
    /// The price of the work.
    pub work_cents: i64,
    /// The parts that were renewed, with their count and price.
    pub parts: Vec<(&'static str, usize, i64)>,
    /// The price of the travel, 0 for none.
    pub travel_cents: i64,
    /// The tax in hundredths of a percent, 0 for none, and its amount: on the rest, or in the price agreed.
    pub tax: (u32, i64),
    /// What the client pays.
    pub total_cents: i64,
}

impl LetterPrice {
    /// Returns the price of a job: the one agreed, otherwise hours at the rate, renewed parts with a price, travel and tax.
    pub fn of(job: &Job) -> Option<LetterPrice> {
        let state = job.state();
        let details = state.details();
        let minutes = hours(state).minutes();
        let agreed = details.price_cents.filter(|cents| *cents > 0);
        let agreed = agreed.map(i64::from);
        let work = Total::of(details, minutes).cents.filter(|_| minutes > 0);
        let parts = renewed(state);
        let travel_cents = i64::from(details.travel_cents.unwrap_or(0));
        if agreed.or(work).is_none() && parts.is_empty() && travel_cents == 0 {
            return None;
        }
        let work_cents = work.unwrap_or(0);
        let of_parts: i64 = parts.iter().map(|(.., cents)| cents).sum();
        let net = work_cents
            .saturating_add(of_parts)
            .saturating_add(travel_cents);
        let of_tax = agreed.map_or_else(|| tax(details, net), |all| tax_in(details, all));
        Some(LetterPrice {
            is_agreed: agreed.is_some(),
            is_so_far: agreed.is_none() && !is_finished(state, &state.progress(0)),
            minutes,
            work_cents,
            parts,
            travel_cents,
            tax: (tax_percent(details), of_tax),
            total_cents: agreed.unwrap_or(net.saturating_add(of_tax)),
        })
    }
}

/// Returns whether no more work is to come: every step is done, or the job is archived.
fn is_finished(state: &State, all: &[(Step, Progress)]) -> bool {
    state.is_archived() || standing(state, all) == Standing::Done
}

/// Returns the parts with a price whose renewal is done.
fn renewed(state: &State) -> Vec<(&'static str, usize, i64)> {
    let parts = parts_decided(state).into_iter();
    let parts = parts.filter(|p| is_fitted(state, p.part));
    let priced = parts.filter_map(|p| {
        let cents = i64::from(p.each_cents?) * p.count as i64;
        Some((p.name, p.count, cents))
    });
    priced.collect()
}

/// Returns the letter of a job at a wall time in milliseconds since 1970 (UTC), where the clocks are this many minutes ahead
/// of UTC.
pub fn client_letter(job: &Job, now_ms: i64, utc_offset_minutes: i16) -> ClientLetter {
    let state = job.state();
    let details = state.details();
    let all = state.progress(now_ms);
    let report = handover(job, now_ms);
    let rows = done::rows(state, &all);
    let piano = match state.instrument() {
        Instrument::Grand => "grand piano",
        Instrument::Upright => "upright piano",
    };
    let found = found::sentences(state, &report.compared);
    let mut done = done::sentences(&rows, &all);
    let did = match done.is_empty() {
        true => "what we found",
        false => "what we found and what we did",
    };
    let goes_on = !state.is_archived() && standing(state, &all) == Standing::InWork;
    let whole = State::stage_progress(&all, None);
    if goes_on {
        done.push(match whole.steps - whole.done {
            1 => "The work is not finished: 1 step to do.".to_owned(),
            left => format!("The work is not finished: {left} steps to do."),
        });
    }
    let text = |text: &Option<String>| text.as_deref().unwrap_or_default().trim().to_owned();
    let price = LetterPrice::of(job);
    let (year, month, _) = check(job, &all, utc_offset_minutes).date();
    ClientLetter {
        title: format!("Your {piano}: {did}"),
        worked: work_days(job, utc_offset_minutes),
        asked: text(&details.scope),
        found,
        done,
        left: done::left(state, &rows, &all, goes_on),
        own: text(&details.for_client),
        pictures: pictures::pictures(state, &report.compared, &rows),
        next: (year, month),
        next_why: next_why(state, &all),
        conflicts: job.concurrent().len(),
        warnings: warnings(state, price.as_ref(), goes_on),
        price,
    }
}

/// Returns what to see to before the letter goes out, beside the conflicts.
fn warnings(state: &State, price: Option<&LetterPrice>, goes_on: bool) -> Vec<String> {
    let minutes = hours(state).minutes();
    let is_agreed = price.is_some_and(|p| p.is_agreed);
    let mut said = Vec::new();
    if goes_on {
        said.push("The letter says that the work is not finished. If it is, archive the job or leave out the open steps.".to_owned());
    }
    if !is_agreed && minutes == 0 {
        said.push("No hours are counted, so none are in the price.".to_owned());
    } else if !is_agreed && state.details().rate().is_none() {
        said.push("No rate is set, so the hours are not in the price.".to_owned());
    }
    said
}

fn next_why(state: &State, all: &[(Step, Progress)]) -> String {
    let tunes = |(step, p): &&(Step, Progress)| step.id.as_str() == "tuning" && p.is_begun();
    let regulates = all
        .iter()
        .any(|(step, p)| step.stage == Stage::Regulate && p.is_begun());
    let mut why = match regulates {
        true => "a look at what was set",
        false => "a look at the action",
    }
    .to_owned();
    if all.iter().any(|row| tunes(&row)) {
        why += ", and tuning";
    }
    if state.open_faults().next().is_some() {
        why += "; what is left is seen to first";
    }
    why + "."
}

impl ClientLetter {
    /// Returns the letter as plain text, to send where no page can be sent. The app writes what depends on the region:
    /// the head, the rows of the price, and the month of the next visit.
    ///
    /// ```
    /// use evenhand_core::analysis::letter::client_letter;
    /// use evenhand_core::job::Job;
    ///
    /// let letter = client_letter(&Job::new(), 0, 0);
    /// let text = letter.plain_text("Workshop\nNovember 26, 2026", &[], "November 2027");
    /// assert!(text.starts_with("Workshop\nNovember 26, 2026\n\nYour grand piano: what we found"));
    /// assert!(text.ends_with("Next visit: November 2027, a look at the action.\n"));
    /// ```
    pub fn plain_text(&self, head: &str, price: &[Vec<String>], next: &str) -> String {
        let mut parts = vec![head.trim().to_owned(), self.title.clone()];
        if !self.asked.is_empty() {
            parts.push(format!("You asked for: {}", self.asked));
        }
        let listed = [
            ("Found", &self.found),
            ("Done", &self.done),
            ("Left for later", &self.left),
        ];
        for (title, lines) in listed {
            if !lines.is_empty() {
                parts.push(format!("{title}\n{}", lines.join("\n")));
            }
        }
        if !self.own.is_empty() {
            parts.push(self.own.clone());
        }
        let row = |cells: &Vec<String>| {
            let cells: Vec<&str> = cells.iter().map(String::as_str).collect();
            let cells: Vec<&str> = cells.into_iter().filter(|c| !c.is_empty()).collect();
            cells.join(": ")
        };
        if !price.is_empty() {
            let rows: Vec<String> = price.iter().map(row).collect();
            parts.push(format!("Price\n{}", rows.join("\n")));
        }
        parts.push(format!("Next visit: {next}, {}", self.next_why));
        parts.retain(|part| !part.is_empty());
        parts.join("\n\n") + "\n"
    }
}

#[cfg(test)]
mod tests;
