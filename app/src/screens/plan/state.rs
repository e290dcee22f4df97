//! The state of the plan screen: the hours of a day, and what follows from them.

use evenhand_core::analysis::estimate::DAY;
use evenhand_core::analysis::job_plan::{JobPlan, PlanLine, job_plan_after};
use evenhand_core::analysis::schedule::OpeningHours;
use evenhand_core::job::{JobId, State};
use leptos::prelude::*;

use crate::device::local_time;
use crate::route::Route;
use crate::state::Session;
use crate::storage::job_summary::JobSummary;
use crate::storage::preferences;

/// A minute, in milliseconds.
pub const MINUTE_MS: i64 = 60_000;

/// The plan of a job. Signals only, so it is copied freely.
#[derive(Clone, Copy)]
pub struct PlanState {
    /// The session of the app.
    pub session: Session,
    /// The job; `None` if the route names none.
    pub job: Option<JobId>,
    /// The working day, in minutes after midnight.
    pub hours: RwSignal<(i64, i64)>,
    /// The days off: a bit for each day of the week, from Sunday.
    pub days_off: RwSignal<u8>,
    /// The other jobs of this device that are in work: how many, and their minutes left.
    pub others: Memo<(usize, i64)>,
    /// Whether this job begins after them.
    pub after_others: RwSignal<bool>,
    /// The present minute, in milliseconds since 1970.
    pub now_ms: Memo<i64>,
    /// What is left, in order, with its times.
    pub job_plan: Memo<JobPlan>,
}

impl PlanState {
    /// Returns the plan of the job that is open.
    pub fn new(session: Session) -> PlanState {
        let stored = preferences::working_day().filter(|(opens, closes)| opens < closes);
        let hours = RwSignal::new(stored.unwrap_or((i64::from(DAY.0), i64::from(DAY.1))));
        let days_off = RwSignal::new(preferences::days_off());
        // To the minute, so that the plan is not computed again at each tick of the clock.
        let now_ms = Memo::new(move |_| session.app.now_ms.get().div_euclid(MINUTE_MS) * MINUTE_MS);
        let job = session.app.job_untracked();
        let others = Memo::new(move |_| {
            session.app.jobs.with(|jobs| {
                let others = jobs.iter().filter(|j| Some(j.id) != job && j.is_in_work());
                let minutes = others.clone().map(JobSummary::minutes_left).sum();
                (others.count(), minutes)
            })
        });
        let after_others = RwSignal::new(preferences::plans_after_others());
        let job_plan = Memo::new(move |_| {
            let (now_ms, hours, off) = (now_ms.get(), hours.get(), days_off.get());
            let busy = match after_others.get() {
                true => others.get().1,
                false => 0,
            };
            session
                .app
                .with_state(|state| agenda_of(state, now_ms, hours, off, busy))
                .flatten()
                .unwrap_or_default()
        });
        PlanState {
            session,
            job,
            hours,
            days_off,
            others,
            after_others,
            now_ms,
            job_plan,
        }
    }

    /// Returns the address of a line's pass.
    pub fn pass(self, line: &PlanLine) -> Option<String> {
        Some(Route::Pass(self.job?, line.step.clone()).href())
    }

    /// Returns a line's step as a link into its pass.
    pub fn link(self, line: &PlanLine) -> impl IntoView + use<> {
        let again = line.remeasure.then_some(", to re-measure");
        view! { <a class="to-step" href=self.pass(line)>{line.name.clone()}{again}</a> }
    }
}

/// Returns the hours of a day, or 8:00 to 16:00 if the stored ones make none.
fn hours((opens, closes): (i64, i64)) -> Option<OpeningHours> {
    let whole = |minutes: i64| u32::try_from(minutes).unwrap_or(0);
    let day = OpeningHours::new(whole(opens), whole(closes));
    day.or_else(|_| OpeningHours::new(DAY.0, DAY.1)).ok()
}

fn agenda_of(state: &State, now_ms: i64, day: (i64, i64), off: u8, busy: i64) -> Option<JobPlan> {
    let today = local_time::weekday_number(now_ms);
    let is_off = std::array::from_fn(|day| off >> ((today + day as u32) % 7) & 1 == 1);
    let hours = hours(day)?.without(is_off);
    let busy = u64::try_from(busy).unwrap_or(0);
    job_plan_after(state, now_ms, local_time::midnight_ms(now_ms), hours, busy).ok()
}
