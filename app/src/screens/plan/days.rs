//! The days of the plan as a picture, and the working day.

use evenhand_core::analysis::job_plan::{self, JobPlan, PlanLine};
use leptos::html::Figure;
use leptos::prelude::*;

use super::state::{MINUTE_MS, PlanState};
use crate::device::local_time;
use crate::parts::plot::{self, calendar};
use crate::parts::radio_group::RadioGroup;
use crate::storage::preferences;
use crate::text;

/// The picture of the days, and how the first day ends.
#[component]
pub fn Days(plan: PlanState) -> impl IntoView {
    let place = NodeRef::<Figure>::new();
    let size = plot::plot_size(place);
    let drawn = Memo::new(move |_| {
        plan.job_plan.with(|p| {
            let first = plan.hours.get().0 / 60;
            calendar::draw(
                &drawn_days(p),
                plan.now_ms.get(),
                60 * MINUTE_MS,
                first,
                size.get(),
            )
        })
    });
    let view_box = move || {
        format!(
            "0 0 {} {}",
            size.get().width as i32,
            drawn.with(|d| d.height) as i32
        )
    };
    let label = move || {
        let days = plan.job_plan.with(|p| p.days.len());
        format!("The work by day, {days} days. The table holds the same steps with their times.")
    };
    view! {
        <section>
            <h2>"The days"</h2>
            <p>{move || plan.job_plan.with(|p| evening(p, plan.now_ms.get()))}</p>
            <figure class="picture-of" node_ref=place>
                <svg
                    class="plot days"
                    viewBox=view_box
                    role="img"
                    aria-label=label
                    inner_html=move || drawn.with(|d| d.svg.clone())
                />
                <figcaption class="quiet">
                    "Blocks: work, numbered as in the table. Hatched: drying. The line is now."
                </figcaption>
            </figure>
        </section>
    }
}

/// The number of days that are drawn; the table shows all.
const MAX_DRAWN_DAYS: usize = 14;

fn drawn_days(plan: &JobPlan) -> Vec<calendar::CalendarDay> {
    let running = plan.drying.iter().map(|c| (c.from_ms, c.until_ms));
    let to_come = plan.lines.iter().filter(|l| l.free_ms > l.end_ms);
    let to_come = to_come.map(|l| (l.end_ms, l.free_ms));
    let drying: Vec<(i64, i64)> = running.chain(to_come).collect();
    let days = plan.days.iter().take(MAX_DRAWN_DAYS);
    let day = |day: &job_plan::PlanDay| calendar::CalendarDay {
        name: local_time::weekday(day.opens_ms),
        open: (day.opens_ms, day.closes_ms),
        works: day
            .pieces
            .iter()
            .map(|(at, from, to)| (at + 1, *from, *to))
            .collect(),
        drying: drying.clone(),
    };
    days.map(day).collect()
}

/// Returns how the first day of work ends.
fn evening(plan: &JobPlan, now_ms: i64) -> String {
    let Some(day) = plan.days.first() else {
        return "No work is left, only drying.".to_owned();
    };
    let today = local_time::midnight_ms(day.opens_ms) == local_time::midnight_ms(now_ms);
    let name = if today {
        "Today".to_owned()
    } else {
        local_time::weekday(day.opens_ms)
    };
    let done = |at: usize| {
        plan.lines
            .get(at)
            .is_some_and(|l| l.end_ms <= day.closes_ms)
    };
    let (whole, part): (Vec<_>, Vec<_>) = day.pieces.iter().partition(|(at, ..)| done(*at));
    let last = |pieces: &[&(usize, i64, i64)]| {
        let line = pieces.last().and_then(|(at, ..)| plan.lines.get(*at));
        line.map(|l| l.name.clone()).unwrap_or_default()
    };
    let mut words = format!("{name} ends at {}", local_time::clock(day.end_ms()));
    words = match whole.len() {
        0 => words,
        1 => format!("{words} with {} done", last(&whole)),
        n => format!(
            "{words} with {n} steps done, the last of them {}",
            last(&whole)
        ),
    };
    if !part.is_empty() {
        words = format!("{words}; {} goes on the next day", last(&part));
    }
    let drying = |l: &&PlanLine| {
        l.free_ms > l.end_ms && l.end_ms <= day.closes_ms && l.free_ms > day.closes_ms
    };
    let over_night: Vec<&str> = plan
        .lines
        .iter()
        .filter(drying)
        .map(|l| l.name.as_str())
        .collect();
    if !over_night.is_empty() {
        words = format!("{words}. Drying overnight: {}", over_night.join(", "));
    }
    format!("{words}.")
}

/// The days off and the hours of a working day.
#[component]
pub fn WorkingDay(plan: PlanState) -> impl IntoView {
    let choose = move |opens: bool| {
        move |event: web_sys::Event| {
            let Ok(minutes) = event_target_value(&event).parse::<i64>() else {
                return;
            };
            let (from, until) = plan.hours.get_untracked();
            // The other end moves along, so that the day keeps at least an hour.
            let day = match opens {
                true => (minutes, until.max(minutes + 60)),
                false => (from.min(minutes - 60), minutes),
            };
            preferences::set_working_day(day);
            plan.hours.set(day);
        }
    };
    let options = move |opens: bool| {
        let range = if opens { 0..=46 } else { 2..=48 };
        let option = |half: i64| {
            let minutes = half * 30;
            let chosen = move || {
                let (from, until) = plan.hours.get();
                minutes == if opens { from } else { until }
            };
            view! { <option value=minutes.to_string() prop:selected=chosen>{local_time::clock_of(minutes)}</option> }
        };
        range.map(option).collect_view()
    };
    let day_off = move |number: u32| {
        let is_off = move || plan.days_off.get() >> number & 1 == 1;
        let switch = move |_| {
            plan.days_off.update(|off| *off ^= 1 << number);
            preferences::set_days_off(plan.days_off.get_untracked());
        };
        view! {
            <button class="button" type="button" aria-pressed=move || is_off().to_string() on:click=switch>
                {local_time::weekday_name(number)}
            </button>
        }
    };
    let others = move || {
        let (count, minutes) = plan.others.get();
        let jobs = text::counted(
            count,
            "One other job on this device is",
            "other jobs on this device are",
        );
        let left = text::minutes(minutes);
        format!("{jobs} in work: {left} left, as of when each was last open.")
    };
    let chosen = Signal::derive(move || usize::from(plan.after_others.get()));
    let begin = Callback::new(move |at| {
        plan.after_others.set(at == 1);
        preferences::set_plans_after_others(at == 1);
    });
    view! {
        <section class="working-day">
            <Show when=move || plan.others.get().0 != 0>
                <h2>"Other jobs in work"</h2>
                <p class="quiet">{others}</p>
                <RadioGroup legend="This job begins" group="begins" words=&["Now", "After the other jobs"] chosen choose=begin/>
            </Show>
            <h2>"Days off"</h2>
            <div class="choices days-off" role="group" aria-label="Days off">{(0..7).map(|n| day_off((n + 1) % 7)).collect_view()}</div>
            <h2>"Working day"</h2>
            <div class="pair">
                <label class="choose">"From"<select on:change=choose(true)>{options(true)}</select></label>
                <label class="choose">"Until"<select on:change=choose(false)>{options(false)}</select></label>
            </div>
        </section>
    }
}
