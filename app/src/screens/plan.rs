use evenhand_core::job::{Act, JobId, State};
use evenhand_core::reckon::agenda::{Agenda, Cure, Due, Held, Line, agenda};
use evenhand_core::reckon::estimate::DAY;
use evenhand_core::reckon::plan::Hours;
use leptos::html::Figure;
use leptos::prelude::*;

use crate::device;
use crate::parts::header::{Header, Saved};
use crate::parts::plot::{self, DrawnDay};
use crate::parts::require_open_job::RequireOpenJob;
use crate::route::Route;
use crate::state::{Session, use_session};
use crate::storage::preferences;
use crate::text;

/// What can be done now, what cures until when, what sets the finish, and how the days end.
#[component]
pub fn PlanScreen() -> impl IntoView {
    view! {
        <RequireOpenJob>
            <PlanOfJob/>
        </RequireOpenJob>
    }
}

const MINUTE_MS: i64 = 60_000;

/// The plan that is looked at.
#[derive(Clone, Copy)]
struct Looking {
    session: Session,
    job: Option<JobId>,
    /// From when until when is worked, in minutes after midnight.
    hours: RwSignal<(i64, i64)>,
    /// The present minute, in milliseconds since 1970.
    now_ms: Memo<i64>,
    plan: Memo<Agenda>,
}

impl Looking {
    fn pass(self, line: &Line) -> Option<String> {
        Some(Route::Pass(self.job?, line.step.clone()).href())
    }

    /// A line's step as a link into its pass.
    fn link(self, line: &Line) -> impl IntoView + use<> {
        let again = line.again.then_some(", to read again");
        view! { <a class="to-step" href=self.pass(line)>{line.name.clone()}{again}</a> }
    }
}

/// The hours of a day; eight from eight where those kept make none.
fn hours((opens, closes): (i64, i64)) -> Option<Hours> {
    let whole = |minutes: i64| u32::try_from(minutes).unwrap_or(0);
    let day = Hours::new(whole(opens), whole(closes));
    day.or_else(|_| Hours::new(DAY.0, DAY.1)).ok()
}

fn made(state: &State, now_ms: i64, day: (i64, i64)) -> Option<Agenda> {
    agenda(state, now_ms, device::midnight_ms(now_ms), hours(day)?).ok()
}

#[component]
fn PlanOfJob() -> impl IntoView {
    let session = use_session();
    let job = session.app.route.with_untracked(|s| s.job());
    let kept = preferences::working_day().filter(|(opens, closes)| opens < closes);
    let hours = RwSignal::new(kept.unwrap_or((i64::from(DAY.0), i64::from(DAY.1))));
    // To the minute: what is planned in minutes need not be planned anew at each look at the clock.
    let now_ms = Memo::new(move |_| session.app.now_ms.get().div_euclid(MINUTE_MS) * MINUTE_MS);
    let plan = Memo::new(move |_| {
        let (now_ms, hours) = (now_ms.get(), hours.get());
        session
            .app
            .with_state(|state| made(state, now_ms, hours))
            .flatten()
            .unwrap_or_default()
    });
    let looking = Looking {
        session,
        job,
        hours,
        now_ms,
        plan,
    };
    let back = job.map_or_else(|| Route::Jobs.href(), |id| Route::Order(id).href());
    let name = Signal::derive(move || {
        session
            .app
            .with_state(|s| s.details().name.clone())
            .flatten()
            .unwrap_or_default()
    });
    let anything = Memo::new(move |_| plan.with(|p| !p.lines.is_empty() || !p.cures.is_empty()));
    view! {
        <Header back back_label="Back to the order" title=Signal::stored("Plan".to_owned()) line=name>
            <Saved/>
        </Header>
        <main class="page plan" tabindex="0">
            {move || {
                if anything.get() {
                    view! {
                        <div class="panes">
                            <div class="pane">
                                <Figures looking/>
                                <Now looking/>
                                <Curing looking/>
                                <Days looking/>
                                <Chain looking/>
                                <WorkingDay looking/>
                            </div>
                            <Steps looking/>
                        </div>
                    }
                    .into_any()
                } else {
                    let handover = job.map(|id| Route::Handover(id).href());
                    view! {
                        <div class="teach">
                            <h2>"Nothing is left to plan"</h2>
                            <p>"Every step is read and every cure is over. Look at the summary, and hand the job to the office."</p>
                            <a class="button main" href=handover>"Handover"</a>
                        </div>
                    }
                    .into_any()
                }
            }}
        </main>
    }
}

/// When it is finished, what is left, and how today ends.
#[component]
fn Figures(looking: Looking) -> impl IntoView {
    let finish = move || looking.plan.with(|p| device::day_and_time(p.finish_ms));
    let left = move || looking.plan.with(|p| text::minutes(p.minutes()));
    let days = move || looking.plan.with(|p| p.days.len().to_string());
    view! {
        <dl class="figures three">
            <div><dt>"Finished"</dt><dd>{finish}</dd></div>
            <div><dt>"Work left"</dt><dd>{left}</dd></div>
            <div><dt>"Days"</dt><dd>{days}</dd></div>
        </dl>
    }
}

/// What can be begun now, and the cures that should run already.
#[component]
fn Now(looking: Looking) -> impl IntoView {
    let due = move |due: Due| {
        let (step, minutes) = (due.step, due.minutes);
        let begin = move |_| {
            let step = step.clone();
            looking.session.record(Act::WaitStarted { step, minutes });
        };
        view! {
            <li>
                <span>{due.name}<small>{format!("is ready to cure for {}", text::minutes(i64::from(minutes)))}</small></span>
                <button class="button" type="button" on:click=begin>"Begin the cure"</button>
            </li>
        }
    };
    let ready = move |(at, line): (usize, Line)| {
        let first = (at == 0).then_some(", first: so the whole is finished soonest");
        view! {
            <li>
                <span>{looking.link(&line)}<small>{text::minutes(i64::from(line.minutes))}{first}</small></span>
            </li>
        }
    };
    view! {
        <section>
            <h2>"Can be done now"</h2>
            <ul class="points lines">
                {move || looking.plan.with(|p| p.due.clone()).into_iter().map(due).collect_view()}
                {move || {
                    let lines = looking.plan.with(|p| p.lines.clone());
                    let lines = lines.into_iter().enumerate().filter(|(_, l)| l.ready);
                    let lines: Vec<_> = lines.map(ready).collect();
                    if lines.is_empty() {
                        view! { <li>"Nothing: everything that is left waits for a cure."</li> }.into_any()
                    } else {
                        lines.into_any()
                    }
                }}
            </ul>
        </section>
    }
}

/// What cures, until when, and what it frees.
#[component]
fn Curing(looking: Looking) -> impl IntoView {
    let line = move |cure: Cure| {
        let now_ms = looking.now_ms.get();
        let left = text::minutes((cure.until_ms - now_ms).max(0) / MINUTE_MS);
        let until = device::day_and_time(cure.until_ms);
        let then = match cure.frees.as_slice() {
            [] => String::new(),
            frees => format!("; then {}", frees.join(", ")),
        };
        view! { <li><span>{cure.name}<small>{format!("until {until}, {left} left{then}")}</small></span></li> }
    };
    (move || {
        let cures = looking.plan.with(|p| p.cures.clone());
        (!cures.is_empty()).then(|| {
            view! {
                <section>
                    <h2>"Curing"</h2>
                    <ul class="points lines">{cures.into_iter().map(line).collect_view()}</ul>
                </section>
            }
        })
    })
    .into_any()
}

/// The days as they are worked, drawn, and how today ends.
#[component]
fn Days(looking: Looking) -> impl IntoView {
    let place = NodeRef::<Figure>::new();
    let sheet = plot::sheet_of(place);
    let drawn = Memo::new(move |_| {
        looking.plan.with(|p| {
            let first = looking.hours.get().0 / 60;
            plot::days(
                &drawn_days(p),
                looking.now_ms.get(),
                60 * MINUTE_MS,
                first,
                sheet.get(),
            )
        })
    });
    let view_box = move || {
        format!(
            "0 0 {} {}",
            sheet.get().width as i32,
            drawn.with(|d| d.height) as i32
        )
    };
    let label = move || {
        let days = looking.plan.with(|p| p.days.len());
        format!("The work by day, {days} days. The table holds the same steps with their times.")
    };
    view! {
        <section>
            <h2>"The days"</h2>
            <p>{move || looking.plan.with(|p| evening(p, looking.now_ms.get()))}</p>
            <figure class="picture-of" node_ref=place>
                <svg
                    class="plot days"
                    viewBox=view_box
                    role="img"
                    aria-label=label
                    inner_html=move || drawn.with(|d| d.inside.clone())
                />
                <figcaption class="quiet">
                    "Blocks: work, numbered as in the table. Hatched: cures. The line is now."
                </figcaption>
            </figure>
        </section>
    }
}

/// At most two weeks of days are drawn; the table goes on.
const DRAWN_DAYS: usize = 14;

fn drawn_days(plan: &Agenda) -> Vec<DrawnDay> {
    let running = plan.cures.iter().map(|c| (c.from_ms, c.until_ms));
    let to_come = plan.lines.iter().filter(|l| l.free_ms > l.end_ms);
    let to_come = to_come.map(|l| (l.end_ms, l.free_ms));
    let cures: Vec<(i64, i64)> = running.chain(to_come).collect();
    let days = plan.days.iter().take(DRAWN_DAYS);
    let day = |day: &evenhand_core::reckon::agenda::Day| DrawnDay {
        name: device::weekday(day.opens_ms),
        open: (day.opens_ms, day.closes_ms),
        works: day
            .pieces
            .iter()
            .map(|(at, from, to)| (at + 1, *from, *to))
            .collect(),
        cures: cures.clone(),
    };
    days.map(day).collect()
}

/// How the first day of work ends.
fn evening(plan: &Agenda, now_ms: i64) -> String {
    let Some(day) = plan.days.first() else {
        return "No work is left; the cures run by themselves.".to_owned();
    };
    let today = device::midnight_ms(day.opens_ms) == device::midnight_ms(now_ms);
    let name = if today {
        "Today"
    } else {
        device::weekday(day.opens_ms)
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
    let mut words = format!("{name} ends at {}", device::clock(day.end_ms()));
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
    let cures =
        |l: &&Line| l.free_ms > l.end_ms && l.end_ms <= day.closes_ms && l.free_ms > day.closes_ms;
    let over_night: Vec<&str> = plan
        .lines
        .iter()
        .filter(cures)
        .map(|l| l.name.as_str())
        .collect();
    if !over_night.is_empty() {
        words = format!("{words}. Overnight cures: {}", over_night.join(", "));
    }
    format!("{words}.")
}

/// The critical path: what sets the finish, the work between two cures in one line.
#[component]
fn Chain(looking: Looking) -> impl IntoView {
    (move || {
        let links = looking.plan.with(chain);
        let best = looking.plan.with(|p| p.is_best);
        let only_work = links.len() == 1;
        (!links.is_empty()).then(|| {
            view! {
                <section>
                    <h2>"What sets the finish"</h2>
                    <ol class="points chain">{links.into_iter().map(|l| view! { <li>{l}</li> }).collect_view()}</ol>
                    {only_work.then(|| view! { <p class="quiet">"No cure holds the job up."</p> })}
                    {(!best).then(|| view! { <p class="quiet">"There may be an order that finishes a little earlier; this is the best that was found."</p> })}
                </section>
            }
        })
    })
    .into_any()
}

fn chain(plan: &Agenda) -> Vec<String> {
    let mut links: Vec<String> = Vec::new();
    let mut work: Vec<&Line> = Vec::new();
    let close = |links: &mut Vec<String>, work: &mut Vec<&Line>| {
        let minutes = text::minutes(work.iter().map(|l| i64::from(l.minutes)).sum());
        match work.as_slice() {
            [] => {}
            [only] => links.push(format!("{}: {minutes}", only.name)),
            [first, .., last] => links.push(format!(
                "{} steps one after the other, {} to {}: {minutes}",
                work.len(),
                first.name,
                last.name
            )),
        }
        work.clear();
    };
    for line in plan.critical() {
        let before = work.last().copied();
        let cure = match &line.critical {
            Some(Held::Follows(name)) => {
                let own = before.filter(|b| b.name == *name && b.free_ms > b.end_ms);
                let running = plan.cures.iter().find(|c| c.name == *name);
                own.map(|b| b.free_ms)
                    .or(running.map(|c| c.until_ms))
                    .map(|until| (name, until))
            }
            _ => None,
        };
        if let Some((name, until)) = cure {
            close(&mut links, &mut work);
            links.push(format!(
                "The cure of {name}, until {}",
                device::day_and_time(until)
            ));
        }
        work.push(line);
    }
    let last = work.last().copied();
    close(&mut links, &mut work);
    if let Some(last) = last.filter(|l| l.free_ms > l.end_ms) {
        let until = device::day_and_time(last.free_ms);
        links.push(format!("The cure of {}, until {until}", last.name));
    }
    links
}

/// From when until when is worked.
#[component]
fn WorkingDay(looking: Looking) -> impl IntoView {
    let choose = move |opens: bool| {
        move |event: web_sys::Event| {
            let Ok(minutes) = event_target_value(&event).parse::<i64>() else {
                return;
            };
            let (from, until) = looking.hours.get_untracked();
            // The other end gives way, so that the day stays one.
            let day = match opens {
                true => (minutes, until.max(minutes + 60)),
                false => (from.min(minutes - 60), minutes),
            };
            preferences::set_working_day(day);
            looking.hours.set(day);
        }
    };
    let options = move |opens: bool| {
        let range = if opens { 0..=46 } else { 2..=48 };
        let option = |half: i64| {
            let minutes = half * 30;
            let chosen = move || {
                let (from, until) = looking.hours.get();
                minutes == if opens { from } else { until }
            };
            let words = format!("{:02}:{:02}", minutes / 60, minutes % 60);
            view! { <option value=minutes.to_string() prop:selected=chosen>{words}</option> }
        };
        range.map(option).collect_view()
    };
    view! {
        <section class="working-day">
            <h2>"Working day"</h2>
            <div class="pair">
                <label class="choose">"From"<select on:change=choose(true)>{options(true)}</select></label>
                <label class="choose">"Until"<select on:change=choose(false)>{options(false)}</select></label>
            </div>
        </section>
    }
}

/// Everything that is left, in order, with its times.
#[component]
fn Steps(looking: Looking) -> impl IntoView {
    let rows = move || {
        let mut rows = String::new();
        looking.plan.with(|plan| {
            for (at, line) in plan.lines.iter().enumerate() {
                let mut more = text::minutes(i64::from(line.minutes));
                if line.free_ms > line.end_ms {
                    let until = device::day_and_time(line.free_ms);
                    more = format!("{more}, cures until {until}");
                }
                if line.critical.is_none() {
                    more = format!("{more}, can wait");
                }
                let again = if line.again { ", to read again" } else { "" };
                rows.push_str(&format!(
                    "<tr><td class=\"num\">{}</td><th scope=\"row\"><a class=\"to-step\" href=\"{}\">{}{again}</a><small>{more}</small></th><td class=\"num\">{}</td></tr>",
                    at + 1,
                    plot::escaped(&looking.pass(line).unwrap_or_default()),
                    plot::escaped(&line.name),
                    device::day_and_time(line.start_ms),
                ));
            }
        });
        rows
    };
    view! {
        <section class="pane steps" aria-label="Steps in order" tabindex="0">
            <h2>"Steps in order"</h2>
            <table class="table">
                <thead>
                    <tr><th scope="col" class="num">"No."</th><th scope="col">"Step"</th><th scope="col" class="num">"Begins"</th></tr>
                </thead>
                <tbody inner_html=rows></tbody>
            </table>
        </section>
    }
}
