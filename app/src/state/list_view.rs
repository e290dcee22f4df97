//! Which jobs the list shows, and in which order.

use evenhand_core::analysis::instrument::{Identity, instrument_ids, instruments, latest};
use evenhand_core::analysis::overview::{Standing, natural_key};
use evenhand_core::job::{Day, JobId};

use crate::storage::job_summary::JobSummary;

/// Which jobs are shown.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Which {
    /// All that are not archived.
    #[default]
    All,
    /// Those that are so far, and not archived.
    Standing(Standing),
    /// Those with work that is not exported.
    NotExported,
    /// The archived ones.
    Archived,
}

impl Which {
    /// Returns whether a row is one of them.
    pub fn takes(self, row: &ListRow) -> bool {
        let line = &row.line;
        let standing = line.overview.as_ref().map(|o| o.standing);
        match self {
            Which::All => !line.archived,
            Which::Standing(of) => !line.archived && standing == Some(of),
            Which::NotExported => line.has_unexported_work(),
            Which::Archived => line.archived,
        }
    }
}

/// What the list is sorted by.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Sort {
    /// The latest work first.
    #[default]
    Latest,
    /// The name of the piano.
    Piano,
    /// The client.
    Client,
    /// How far they are.
    Standing,
    /// The next visit, soonest first.
    NextVisit,
}

impl Sort {
    /// All, each with its name.
    pub const ALL: [(Sort, &str); 5] = [
        (Sort::Latest, "Last work"),
        (Sort::Piano, "Piano"),
        (Sort::Client, "Client"),
        (Sort::Standing, "State"),
        (Sort::NextVisit, "Next visit"),
    ];
}

/// Which visits are due.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Due {
    /// Those before this month.
    Overdue,
    /// Those of a month: the year, and the month from 1.
    Month(i64, u32),
}

/// How the list of jobs is shown. Kept while the app is open, so that coming back shows the same.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ListView {
    /// The words that are looked for in name, client, serial number, description and technicians.
    pub find: String,
    /// Which jobs are shown.
    pub which: Which,
    /// Whose next visit is due then; `None` for any.
    pub due: Option<Due>,
    /// What the list is sorted by.
    pub sort: Sort,
}

/// A job of the list.
#[derive(Clone, Debug, PartialEq)]
pub struct ListRow {
    /// What is known of it.
    pub line: JobSummary,
    /// When the instrument is next to be visited, if this is the latest job on it.
    pub next_visit: Option<Day>,
    /// Whether that is over.
    pub is_overdue: bool,
    /// How many jobs of the instrument there are.
    pub visits: usize,
    /// The id of the instrument in a calendar.
    pub instrument: JobId,
}

impl ListRow {
    /// Returns the month of the next visit.
    pub fn due(&self) -> Option<Due> {
        let (year, month, _) = self.next_visit?.date();
        Some(match self.is_overdue {
            true => Due::Overdue,
            false => Due::Month(year, month),
        })
    }
}

/// Returns the jobs with the next visit of each instrument, by the day of today.
pub fn list_rows(jobs: &[JobSummary], today: Day) -> Vec<ListRow> {
    let identities = identities(jobs);
    let instruments = instruments(&identities);
    let worked: Vec<i64> = jobs.iter().map(JobSummary::worked_ms).collect();
    let ids = instrument_ids(&identities, &worked);
    let latest = latest(&instruments, &worked);
    let mut visits = vec![0; jobs.len()];
    for instrument in &instruments {
        visits[*instrument] += 1;
    }
    let (year, month, _) = today.date();
    let row = |(at, line): (usize, &JobSummary)| {
        let shown = line.overview.as_ref().filter(|_| latest[at]);
        let next_visit = shown.and_then(|o| o.next_visit(line.archived, today));
        ListRow {
            line: line.clone(),
            is_overdue: next_visit.is_some_and(|day| {
                let (y, m, _) = day.date();
                (y, m) < (year, month)
            }),
            next_visit,
            visits: visits[instruments[at]],
            instrument: ids[at],
        }
    };
    jobs.iter().enumerate().map(row).collect()
}

/// Returns the jobs on the instrument of a job, the latest work first.
pub fn visits_of(jobs: &[JobSummary], rows: Vec<ListRow>, id: JobId) -> Vec<ListRow> {
    let instruments = instruments(&identities(jobs));
    let at = jobs.iter().position(|l| l.id == id);
    let instrument = at.map(|at| instruments[at]);
    let of_instrument = rows.into_iter().zip(&instruments);
    let visits = of_instrument.filter(|(_, of)| Some(**of) == instrument);
    in_order(visits.map(|(row, _)| row).collect(), Sort::Latest)
}

/// Returns rows in an order; equals stay as they were. One sort for all orders keeps the program small.
fn in_order(rows: Vec<ListRow>, sort: Sort) -> Vec<ListRow> {
    let mut keyed: Vec<(i64, String, usize)> = Vec::new();
    for (at, row) in rows.iter().enumerate() {
        let (line, shown) = (&row.line, row.line.overview.as_ref());
        let name = || natural_key(&line.name);
        let (number, text) = match sort {
            Sort::Latest => (-line.worked_ms(), String::new()),
            Sort::Piano => (0, name()),
            Sort::Client => {
                let client = shown.map_or(String::new(), |o| natural_key(&o.client));
                (
                    i64::from(client.is_empty()),
                    format!("{client}\n{}", name()),
                )
            }
            Sort::Standing => (shown.map_or(0, |o| o.standing as i64), String::new()),
            Sort::NextVisit => match row.next_visit {
                Some(day) => (0, day.to_string()),
                None => (1, String::new()),
            },
        };
        keyed.push((number, text, at));
    }
    keyed.sort_unstable();
    let at = keyed.into_iter().map(|(_, _, at)| rows[at].clone());
    at.collect()
}

fn identities(jobs: &[JobSummary]) -> Vec<Identity<'_>> {
    let known = jobs.iter().map(|l| match &l.overview {
        Some(shown) => Identity::of(l.id, shown, &l.described),
        None => Identity {
            job: l.id,
            serial: "",
            client: "",
            described: "",
            earlier: None,
        },
    });
    known.collect()
}

impl ListView {
    /// Returns whether it shows only some jobs.
    pub fn is_filtered(&self) -> bool {
        self.which != Which::All || self.due.is_some() || !self.find.trim().is_empty()
    }

    /// Returns the rows that are shown, in their order. Whoever looks for words finds archived jobs, too.
    pub fn shown(&self, rows: &[ListRow]) -> Vec<ListRow> {
        let words: Vec<String> = self
            .find
            .split_whitespace()
            .map(str::to_lowercase)
            .collect();
        let shown = rows.iter().filter(|r| self.shows(r, &words));
        in_order(shown.cloned().collect(), self.sort)
    }

    fn shows(&self, row: &ListRow, words: &[String]) -> bool {
        let finds_archived = self.which == Which::All && !words.is_empty();
        let is_due = self.due.is_none() || row.due() == self.due;
        (finds_archived || self.which.takes(row))
            && is_due
            && (words.is_empty() || has_all(&row.line, words))
    }
}

fn has_all(line: &JobSummary, words: &[String]) -> bool {
    let shown = line.overview.as_ref();
    let known = shown.map(|o| format!("{} {} {}", o.client, o.serial, o.technicians.join(" ")));
    let known = known.unwrap_or_default();
    let text = format!("{} {known} {}", line.name, line.described).to_lowercase();
    words.iter().all(|word| text.contains(word))
}
