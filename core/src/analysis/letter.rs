//! The letter to the client: on one page what was found, done and left, the price, and the next visit. Everything but
//! the technician's own sentence is computed from the job; nothing is stored.
//!
//! **Rule** (C): only what was measured or done is said, in words and counts. Steps that were never begun, cautions,
//! remarks for the technician and the devices that wrote the job are in no letter.

mod done;
mod found;
mod pictures;

pub use pictures::LetterPicture;

use super::decisions::parts_to_order;
use super::handover::handover;
use super::hours::{Total, hours};
use super::quote::{tax, tax_percent};
use crate::job::{Day, Job, State};
use crate::trade::{Instrument, Stage};

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
/// let letter = client_letter(&job, 0, "2026-11-26".parse()?);
/// assert_eq!(letter.found, ["Let-off was too wide on the 1 note measured: soft notes were lost."]);
/// assert_eq!(letter.done, ["Let-off: checked on 1 of 88 notes, 1 adjusted. Now 1 is on target."]);
/// assert_eq!(letter.next, (2027, 11));
/// # Ok::<(), evenhand_core::job::DayError>(())
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct ClientLetter {
    /// What it is about: `Your grand piano: what we found and what we did`.
    pub title: String,
    /// The work agreed, as typed; empty if none is.
    pub asked: String,
    /// What was found, as sentences.
    pub found: Vec<String>,
    /// What was done, as sentences.
    pub done: Vec<String>,
    /// What was left as it is, and why, as sentences.
    pub left: Vec<String>,
    /// The technician's own sentence; empty if there is none.
    pub own: String,
    /// At most two rows of notes before and after, those with the most that was out first.
    pub pictures: Vec<LetterPicture>,
    /// The year and the month (1 to 12) of the next visit.
    pub next: (i64, u32),
    /// What is done then, as a sentence.
    pub next_why: String,
    /// The price; `None` if no price is agreed and the hours or the rate are not known.
    pub price: Option<LetterPrice>,
}

/// The price in a letter, in hundredths of the currency. Part of [`ClientLetter`]; it has no default.
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
    /// `true` if the total was typed; then the letter shows nothing else.
    pub is_agreed: bool,
    /// The working minutes.
    pub minutes: i64,
    /// The price of the work.
    pub work_cents: i64,
    /// The parts that were renewed, with their count and price.
    pub parts: Vec<(&'static str, usize, i64)>,
    /// The price of the travel, 0 for none.
    pub travel_cents: i64,
    /// The tax in hundredths of a percent, 0 for none, and its amount.
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
        let work_cents = Total::of(details, minutes).cents.filter(|_| minutes > 0);
        if agreed.is_none() && work_cents.is_none() {
            return None;
        }
        let work_cents = work_cents.unwrap_or(0);
        let parts = renewed(state);
        let travel_cents = i64::from(details.travel_cents.unwrap_or(0));
        let of_parts: i64 = parts.iter().map(|(.., cents)| cents).sum();
        let net = work_cents
            .saturating_add(of_parts)
            .saturating_add(travel_cents);
        let tax = (tax_percent(details), tax(details, net));
        Some(LetterPrice {
            is_agreed: agreed.is_some(),
            minutes,
            work_cents,
            parts,
            travel_cents,
            tax,
            total_cents: agreed.map_or(net.saturating_add(tax.1), i64::from),
        })
    }
}

/// Returns the parts with a price whose renewal is done.
fn renewed(state: &State) -> Vec<(&'static str, usize, i64)> {
    let is_done = |renewal| {
        let step = state.step(renewal);
        step.is_some_and(|step| state.progress_of(step).is_recorded())
    };
    let parts = parts_to_order(state).into_iter();
    let parts = parts.filter(|p| is_done(p.part.renewal()));
    let priced = parts.filter_map(|p| {
        let cents = i64::from(p.each_cents?) * p.count as i64;
        Some((p.name, p.count, cents))
    });
    priced.collect()
}

/// Returns the letter of a job at a wall time in milliseconds since 1970 (UTC), which is `today` where it is written.
pub fn client_letter(job: &Job, now_ms: i64, today: Day) -> ClientLetter {
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
    let done = done::sentences(&rows, &all);
    let did = match done.is_empty() {
        true => "what we found",
        false => "what we found and what we did",
    };
    let text = |text: &Option<String>| text.as_deref().unwrap_or_default().trim().to_owned();
    ClientLetter {
        title: format!("Your {piano}: {did}"),
        asked: text(&details.scope),
        found,
        done,
        left: done::left(state, &rows),
        own: text(&details.for_client),
        pictures: pictures::pictures(state, &report.compared, &rows),
        next: month_after(today, report.next.months),
        next_why: next_why(state, &all),
        price: LetterPrice::of(job),
    }
}

/// Returns the year and the month that many months after a day.
fn month_after(today: Day, months: u32) -> (i64, u32) {
    let (year, month, _) = today.date();
    let of_year = month - 1 + months;
    (year + i64::from(of_year / 12), of_year % 12 + 1)
}

fn next_why(state: &State, all: &[(crate::trade::Step, crate::job::Progress)]) -> String {
    let tunes = |(step, p): &&(crate::trade::Step, crate::job::Progress)| {
        step.id.as_str() == "tuning" && p.is_begun()
    };
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
    /// let letter = client_letter(&Job::new(), 0, "2026-11-26".parse()?);
    /// let text = letter.plain_text("Workshop\nNovember 26, 2026", &[], "November 2027");
    /// assert!(text.starts_with("Workshop\nNovember 26, 2026\n\nYour grand piano: what we found"));
    /// assert!(text.ends_with("Next visit: November 2027, a look at the action.\n"));
    /// # Ok::<(), evenhand_core::job::DayError>(())
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
