//! The hours of a job: whose, on which day, at which step, and what they cost. Every screen, letter,
//! table and file that says a working time takes it from here.

use std::collections::BTreeMap;
use std::fmt;

use crate::job::{Day, Details, Item, Job, Progress, State, Table, TimeSource, WorkTime};
use crate::trade::{Place, Stage, Step, StepId};
use crate::unit::DecimalFormat;

/// Working time and its price.
///
/// ```
/// use evenhand_core::analysis::hours::Total;
/// use evenhand_core::job::Details;
///
/// let details = Details { rate_per_hour_cents: Some(6_000), ..Details::default() };
/// assert_eq!(Total::of(&details, 90).cents, Some(9_000));
/// assert_eq!(Total::of(&Details::default(), 90).cents, None);
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Total {
    /// Working minutes.
    pub minutes: i64,
    /// The price in hundredths of the currency, or `None` if the job has no rate.
    pub cents: Option<i64>,
}

impl Total {
    /// Computes the price of minutes at the rate of the job, rounded to the nearest hundredth.
    pub fn of(details: &Details, minutes: i64) -> Total {
        let price = |rate: u32| (minutes.saturating_mul(i64::from(rate)) + 30) / 60;
        Total {
            minutes,
            cents: details.rate().map(price),
        }
    }
}

/// The hours of a job. [`hours`] computes them; the default is none.
///
/// ```
/// use evenhand_core::analysis::hours::{Hours, hours};
/// use evenhand_core::job::{Job, ReplicaId, Subject};
/// use evenhand_core::trade::{MeasureId, Occasion, Place};
/// use evenhand_core::unit::Value;
///
/// let mut job = Job::new();
/// assert_eq!(hours(job.state()), Hours::default());
/// let (dust, done) = (MeasureId::of("dust"), Value::Done(true));
/// job.apply(job.reading(ReplicaId::new(7), 0, dust, Subject::Whole, Place::Bench, Occasion::Working, done, ""));
/// let found = hours(job.state());
/// assert_eq!(found.minutes(), 0);
/// assert_eq!(found.warnings(), ["Done, no time counted: Dust and vacuum."]);
/// ```
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Hours {
    /// By day, person and step of the order. What was counted for less than half a minute is left out.
    pub lines: Vec<HoursLine>,
    /// The steps that are done without working time, in the order of the job: their ids and names.
    pub untimed: Vec<(StepId, String)>,
    /// The steps that were ticked off much faster than the work takes, in the order of the job: their ids
    /// and names.
    pub ticked: Vec<(StepId, String)>,
}

/// The hours of one person on one day at one step. Part of [`Hours`]; it has no default.
///
/// ```
/// use evenhand_core::analysis::hours::hours;
/// use evenhand_core::job::{Details, EntryKind, Job, ReplicaId, WorkDay};
/// use evenhand_core::trade::{Stage, StepId};
///
/// let mut job = Job::new();
/// let set = Box::new(Details { rate_per_hour_cents: Some(6_000), ..Details::default() });
/// let worked = WorkDay { day: "2026-11-25".parse()?, technician: None };
/// let stated = job.state().minutes_stated(StepId::of("tuning"), 90, worked, None);
/// for kind in [EntryKind::Details { set }, stated] {
///     job.apply(job.draft(ReplicaId::new(7), 0, kind));
/// }
/// let line = &hours(job.state()).lines[0];
/// assert_eq!((line.name.as_str(), line.stage, line.cents), ("Tuning", Stage::Return, Some(9_000)));
/// # Ok::<(), evenhand_core::job::DayError>(())
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct HoursLine {
    /// The time.
    pub time: WorkTime,
    /// The stage of the step.
    pub stage: Stage,
    /// The name of the step.
    pub name: String,
    /// The price in hundredths of the currency, or `None` if the job has no rate. The prices of all lines
    /// add up to that of the whole time.
    pub cents: Option<i64>,
}

/// Returns the hours of a job.
///
/// **Rule**: the time of each person, day and step is rounded to whole minutes, and every sum is a sum of
/// these. A step of the user's own that was taken out again, or that a newer version made, counts as work on
/// the bench.
///
/// ```
/// use evenhand_core::analysis::hours::hours;
/// use evenhand_core::job::{Job, JobId, ReplicaId};
///
/// let now_ms = 1_790_000_000_000;
/// let entries = evenhand_core::demo::entries(JobId::new(1), ReplicaId::new(2), now_ms);
/// let hours = hours(Job::from_entries(entries).state());
/// let lines: i64 = hours.lines.iter().map(|line| line.time.minutes()).sum();
/// assert!(lines > 0);
/// assert_eq!(hours.minutes(), lines);
/// assert_eq!(hours.by_stage().iter().map(|(_, minutes)| minutes).sum::<i64>(), lines);
/// ```
pub fn hours(state: &State) -> Hours {
    let mut times = state.work_times();
    times.retain(|t| t.is_stated() || t.minutes() > 0);
    let order = state.order().steps();
    let place = |id: &StepId| {
        order
            .iter()
            .position(|s| s.id == *id)
            .unwrap_or(order.len())
    };
    times.sort_by_cached_key(|t| (t.worked.clone(), place(&t.step), t.step.clone()));
    let price = |minutes| Total::of(state.details(), minutes).cents;
    let mut so_far = 0;
    let line = |time: WorkTime| {
        let (stage, name) = stage_of(state, time.step.as_str())
            .unwrap_or_else(|| (Stage::Regulate, time.step.to_string()));
        // The steps of a sum that runs, so that no hundredth is lost between the lines.
        let before = price(so_far);
        so_far += time.minutes();
        let cents = price(so_far).zip(before).map(|(to, from)| to - from);
        HoursLine {
            time,
            stage,
            name,
            cents,
        }
    };
    let lines = times.into_iter().map(line).collect();
    let all = state.progress(0);
    let those = |is: fn(&Step, &Progress) -> bool| {
        let found = all.iter().filter(|(step, progress)| is(step, progress));
        found
            .map(|(step, _)| (step.id.clone(), step.name.to_string()))
            .collect()
    };
    Hours {
        lines,
        untimed: those(|step, progress| is_untimed(step, progress, 0)),
        ticked: those(is_ticked),
    }
}

impl Hours {
    /// Returns a sentence on the steps that are done without time, and one on those whose time is only that of
    /// ticking them off.
    pub fn warnings(&self) -> Vec<String> {
        let said = |says: &str, steps: &[(StepId, String)]| {
            let names: Vec<&str> = steps.iter().map(|(_, name)| name.as_str()).collect();
            (!names.is_empty()).then(|| format!("{says}: {}.", names.join("; ")))
        };
        let untimed = said("Done, no time counted", &self.untimed);
        let ticked = said("Ticked off faster than the work takes", &self.ticked);
        untimed.into_iter().chain(ticked).collect()
    }

    /// Returns the working time of the job in minutes.
    pub fn minutes(&self) -> i64 {
        self.lines.iter().map(|line| line.time.minutes()).sum()
    }

    /// Returns the minutes of each stage that took any, in the order of the work.
    pub fn by_stage(&self) -> Vec<(Stage, i64)> {
        self.sums(|line| line.stage)
    }

    /// Returns the minutes of each person who worked, by name; `None` stands for the unnamed.
    pub fn by_technician(&self) -> Vec<(Option<String>, i64)> {
        self.sums(|line| line.time.worked.technician.clone())
    }

    /// Returns the minutes of each day with work.
    pub fn by_day(&self) -> Vec<(Day, i64)> {
        self.sums(|line| line.time.worked.day)
    }

    fn sums<K: Ord>(&self, key: impl Fn(&HoursLine) -> K) -> Vec<(K, i64)> {
        let mut sums = BTreeMap::new();
        for line in &self.lines {
            *sums.entry(key(line)).or_default() += line.time.minutes();
        }
        sums.into_iter()
            .filter(|(_, minutes)| *minutes > 0)
            .collect()
    }
}

/// Returns the stage and the name of a step, also of one left out after work on it. Returns `None`
/// if it is unknown.
pub(super) fn stage_of(state: &State, step: &str) -> Option<(Stage, String)> {
    let known = state.step(step).or_else(|| {
        let trade = state.instrument().steps();
        trade.iter().find(|s| s.id.as_str() == step)
    });
    known.map(|s| (s.stage, s.name.to_string()))
}

/// A step that usually takes fewer minutes, such as a look at the thermometer, is not asked for its time.
const MIN_MINUTES_ASKED: u32 = 5;

/// Counted time is real from this part of the usual minutes on: one in four.
const REAL_PART: u64 = 4;

/// Returns `true` if a step is done and no time is counted or stated for it: less than half a minute.
///
/// A step that usually takes under five minutes is only if its pass has been open for five. A statement of
/// 0 minutes is a statement.
pub fn is_untimed(step: &Step, progress: &Progress, open_minutes: i64) -> bool {
    let was_long = open_minutes >= i64::from(MIN_MINUTES_ASKED);
    let is_short = (1..MIN_MINUTES_ASKED).contains(&step.minutes) && !was_long;
    let is_done = progress.expected > 0 && progress.is_recorded();
    is_done && !is_short && progress.minutes == 0 && !progress.time_stated
}

/// Returns `true` if a step is done and has time, but only that of ticking it off ([`is_real`]).
fn is_ticked(step: &Step, progress: &Progress) -> bool {
    let is_done = progress.expected > 0 && progress.is_recorded();
    is_done && progress.minutes > 0 && !took_its_time(step, progress)
}

/// Returns `true` if the minutes are stated, or counted for a quarter of the usual time or more.
fn took_its_time(step: &Step, progress: &Progress) -> bool {
    let done = (progress.read + progress.to_remeasure) as u64;
    let usual_ms = u64::from(step.minutes) * 60_000 * done / progress.expected.max(1) as u64;
    let spent_ms = u64::try_from(progress.spent_ms).unwrap_or(0);
    let counted = spent_ms.saturating_mul(REAL_PART) >= usual_ms;
    progress.time_stated || counted
}

/// Returns `true` if a step that is done wherever the action is was done both on the bench and in the piano.
fn is_of_two_places(state: &State, step: &Step) -> bool {
    let has = |place| {
        let read = |item: &Item| {
            let known = state.measure_state(item.measure.as_str(), item.on, place);
            known.is_some_and(|known| known.readings().next().is_some())
        };
        state.items(step).iter().any(read)
    };
    step.place.is_none() && has(Place::Bench) && has(Place::Piano)
}

/// Returns `true` if the time of a step is that of its work, so that it teaches how long the work takes on
/// this instrument.
///
/// **Rule** (M): stated minutes are real. Counted minutes are real from a quarter of what the step usually
/// takes for as many items on: a skilled hand may be twice as fast, but 88 ticks in a minute were made after
/// the work. No time at all teaches nothing, and neither does that of a step that was done once on the bench and
/// once in the piano, since its minutes are those of both.
///
/// ```
/// use evenhand_core::analysis::hours::is_real;
/// use evenhand_core::job::{Job, Progress};
///
/// let job = Job::new();
/// // An hour is usual.
/// let state = job.state();
/// let let_off = state.step("let_off").unwrap();
/// let all = |minutes: i64| Progress {
///     expected: 88,
///     read: 88,
///     spent_ms: minutes * 60_000,
///     minutes,
///     ..Progress::default()
/// };
/// assert!(is_real(state, let_off, &all(15)));
/// assert!(!is_real(state, let_off, &all(14)));
/// assert!(is_real(state, let_off, &Progress { time_stated: true, ..all(5) }));
/// ```
pub fn is_real(state: &State, step: &Step, progress: &Progress) -> bool {
    progress.minutes > 0 && took_its_time(step, progress) && !is_of_two_places(state, step)
}

/// The most minutes that one person can work on a day.
pub const MAX_MINUTES: u32 = 24 * 60;

/// The text is not a working time. It says no more than that, and has no default; its own text is a sentence for a
/// technician.
///
/// ```
/// use evenhand_core::analysis::hours::{MinutesError, read_minutes};
///
/// assert_eq!(read_minutes("soon"), Err(MinutesError));
/// // The sentence shows two times that can be read.
/// assert!(MinutesError.to_string().contains("such as 95") && read_minutes("95").is_ok());
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MinutesError;

impl fmt::Display for MinutesError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(
            "Enter minutes, such as 95, or hours and minutes, such as 1:35. A day has 24 hours.",
        )
    }
}

impl std::error::Error for MinutesError {}

/// Reads a working time as people write it: minutes, or hours and minutes, up to [`MAX_MINUTES`].
///
/// # Errors
/// [`MinutesError`] if it is anything else.
///
/// ```
/// use evenhand_core::analysis::hours::read_minutes;
///
/// for text in ["95", " 95 min ", "1:35", "1h35", "1 h 35 min"] {
///     assert_eq!(read_minutes(text), Ok(95), "{text}");
/// }
/// assert_eq!(read_minutes("2 h"), Ok(120));
/// assert!(read_minutes("1:75").is_err());
/// assert!(read_minutes("1441").is_err());
/// ```
pub fn read_minutes(text: &str) -> Result<u32, MinutesError> {
    let text = text.trim().to_lowercase();
    let text = text.strip_suffix("min").unwrap_or(&text).trim();
    let number = |digits: &str| {
        let digits = digits.trim();
        let is_short = (1..=4).contains(&digits.len());
        let is_number = is_short && digits.bytes().all(|b| b.is_ascii_digit());
        digits.parse::<u32>().ok().filter(|_| is_number)
    };
    let minutes = match text.split_once([':', 'h']) {
        None => number(text),
        Some((hours, "")) if text.ends_with('h') => number(hours).map(|h| h * 60),
        Some((hours, minutes)) => {
            let minutes = number(minutes).filter(|m| *m < 60);
            number(hours).zip(minutes).map(|(h, m)| h * 60 + m)
        }
    };
    minutes.filter(|m| *m <= MAX_MINUTES).ok_or(MinutesError)
}

/// The columns of the table of hours.
const COLUMNS: [&str; 16] = [
    "job_id",
    "job",
    "client",
    "serial",
    "date",
    "technician",
    "stage",
    "step",
    "step_name",
    "minutes",
    "hours",
    "rate",
    "amount",
    "currency",
    "source",
    "stated_by",
];

/// Returns the table of hours as CSV: a row for each person, day and step, then one for each step that is
/// done without time.
///
/// `amount` is the price at the rate of the job; it is empty without one. `source` is `counted`, `ticked` (counted, but less
/// than the work takes), `stated` or `none`.
///
/// ```
/// use evenhand_core::analysis::hours::hours_csv;
/// use evenhand_core::job::{Job, ReplicaId, WorkDay};
/// use evenhand_core::trade::StepId;
///
/// let mut job = Job::new();
/// let worked = WorkDay { day: "2026-11-25".parse()?, technician: Some("R. Sample".to_owned()) };
/// let stated = job.state().minutes_stated(StepId::of("tuning"), 95, worked, None);
/// job.apply(job.draft(ReplicaId::new(7), 1_000, stated));
/// let table = hours_csv(&job);
/// let row = table.lines().nth(1).unwrap();
/// assert!(row.ends_with(r#""2026-11-25","R. Sample","Return","tuning","Tuning",95,1.58,"","","","stated","""#));
/// # Ok::<(), evenhand_core::job::DayError>(())
/// ```
pub fn hours_csv(job: &Job) -> String {
    let state = job.state();
    let hours = hours(state);
    let mut table = Table::new(&COLUMNS);
    let currency = state.details().currency.as_deref().unwrap_or_default();
    for line in &hours.lines {
        table.job(state);
        table.cell(line.time.worked.day.to_string());
        table.text(line.time.worked.technician.as_deref().unwrap_or_default());
        table.cell(line.stage.name());
        table.text(line.time.step.as_str());
        table.text(&line.name);
        let minutes = line.time.minutes();
        table.cell(minutes.to_string());
        table.cell(DecimalFormat::fixed(2).print(minutes, 60));
        let money = |cents| DecimalFormat::fixed(2).print(cents, 100);
        let amount = line.cents.map(money);
        let rate = state.details().rate();
        let rate = rate
            .filter(|_| amount.is_some())
            .map(|r| money(i64::from(r)));
        table.cell(rate.unwrap_or_default());
        table.cell(amount.as_deref().unwrap_or_default());
        table.text(if amount.is_some() { currency } else { "" });
        let (source, by) = match &line.time.source {
            TimeSource::Counted if hours.ticked.iter().any(|(id, _)| *id == line.time.step) => {
                ("ticked", None)
            }
            TimeSource::Counted => ("counted", None),
            TimeSource::Stated { by, .. } => ("stated", by.as_deref()),
        };
        table.cell(source);
        table.text(by.unwrap_or_default());
        table.end_row();
    }
    for (step, name) in &hours.untimed {
        table.job(state);
        let stage = state.step(step.as_str()).map_or("", |s| s.stage.name());
        for cell in ["", "", stage] {
            table.cell(cell);
        }
        table.text(step.as_str());
        table.text(name);
        for cell in ["0", "0", "", "", "", "none", ""] {
            table.cell(cell);
        }
        table.end_row();
    }
    table.finish()
}

#[cfg(test)]
mod tests;
