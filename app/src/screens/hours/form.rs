//! The sheet that enters or corrects a time.

use evenhand_core::analysis::hours::{HoursLine, read_minutes};
use evenhand_core::job::{Day, State, WorkDay};
use evenhand_core::trade::{Step, StepId};
use leptos::ev::SubmitEvent;
use leptos::prelude::*;

use crate::device::local_time;
use crate::parts::sheet::Sheet;
use crate::state::use_session;
use crate::text;

/// What the sheet is about.
#[derive(Clone, PartialEq)]
pub struct Editing {
    /// Whose day the fields begin with.
    worked: WorkDay,
    /// The step and its name; chosen in the sheet if `None`.
    step: Option<(StepId, String)>,
    /// The line that is corrected: its minutes.
    corrected: Option<i64>,
}

impl Editing {
    /// Returns a new time.
    pub fn new(worked: WorkDay, step: Option<(StepId, String)>) -> Editing {
        Editing {
            worked,
            step,
            corrected: None,
        }
    }

    /// Returns the correction of a line.
    pub fn of(line: &HoursLine) -> Editing {
        Editing {
            worked: line.time.worked.clone(),
            step: Some((line.time.step.clone(), line.name.clone())),
            corrected: Some(line.time.minutes()),
        }
    }
}

/// Returns today, the last day for which time can be stated.
fn today() -> Day {
    local_time::day(local_time::now_ms())
}

/// A sheet with who, when, at which step and how long.
#[component]
pub fn TimeSheet(of: Editing, close: Callback<()>) -> impl IntoView {
    let session = use_session();
    let Editing {
        worked,
        step,
        corrected,
    } = of;
    let who = RwSignal::new(worked.technician.clone().unwrap_or_default());
    let day = RwSignal::new(worked.day.to_string());
    let (step, name) = step.unzip();
    let chosen = RwSignal::new(step);
    let minutes = RwSignal::new(corrected.map(|m| m.to_string()).unwrap_or_default());
    let refused = RwSignal::new(String::new());
    let before = corrected.map(|_| worked);
    let of = move |day: Day| {
        let name = who.get().trim().to_owned();
        let technician = (!name.is_empty()).then_some(name);
        WorkDay { day, technician }
    };
    // What stands there is replaced, or added to if a line is moved there: it is said before it happens.
    let stands = {
        let before = before.clone();
        move || {
            let worked = of(day.get().parse().ok()?);
            let is_own = before.as_ref() == Some(&worked);
            let step = chosen.get().filter(|_| !is_own)?;
            let has = |s: &State| {
                let times = s.work_times_of(step.as_str());
                times
                    .iter()
                    .find(|t| t.worked == worked)
                    .map(|t| t.minutes())
            };
            let has = text::minutes(session.app.with_state(has).flatten()?);
            Some(match before {
                Some(_) => format!("{has} already entered. This time is added."),
                None => format!("{has} already entered. This time replaces it."),
            })
        }
    };
    let save = move |event: SubmitEvent| {
        event.prevent_default();
        let Some(step) = chosen.get_untracked() else {
            return refused.set("Choose the step.".to_owned());
        };
        let day: Day = match day.get_untracked().parse() {
            Ok(day) if day <= today() => day,
            Ok(_) => {
                return refused
                    .set("That day is still to come. Choose today or an earlier day.".to_owned());
            }
            Err(error) => return refused.set(error.to_string()),
        };
        let minutes = match minutes.with_untracked(|text| read_minutes(text)) {
            Ok(minutes) => minutes,
            Err(error) => return refused.set(error.to_string()),
        };
        let worked = untrack(|| of(day));
        let is_same = before.as_ref() == Some(&worked) && Some(i64::from(minutes)) == corrected;
        if !is_same {
            let instead_of = before.clone();
            let stated = session
                .app
                .with_state_untracked(|s| s.minutes_stated(step, minutes, worked, instead_of));
            stated.map(|stated| session.record(stated));
        }
        close.run(());
    };
    let select = name.is_none().then(|| {
        let choose = move |event| {
            let id = event_target_value(&event);
            chosen.set((!id.is_empty()).then(|| StepId::from(id.as_str())));
        };
        let options = |s: &State| {
            let steps = s.order().steps().iter();
            let option = |step: &Step| {
                view! { <option value=step.id.to_string()>{step.name.to_string()}</option> }
            };
            steps.map(option).collect_view()
        };
        view! {
            <label class="field">
                <span>"Step"</span>
                <select on:change=choose>
                    <option value="">"Choose the step"</option>
                    {session.app.with_state_untracked(options)}
                </select>
            </label>
        }
    });
    let names = session.app.with_state_untracked(State::technician_names);
    let names = names.unwrap_or_default().into_iter();
    let names = names
        .map(|name| view! { <option value=name></option> })
        .collect_view();
    let title = name.unwrap_or_else(|| "Enter time".to_owned());
    view! {
        <Sheet title close>
            <form class="time" novalidate on:submit=save>
                {select}
                <label class="field">
                    <span>"Who did the work"</span>
                    <input type="text" list="technicians" autocomplete="off" maxlength="100" placeholder="No name given" bind:value=who/>
                </label>
                <datalist id="technicians">{names}</datalist>
                <label class="field">
                    <span>"Day"</span>
                    <input type="date" max=today().to_string() bind:value=day/>
                </label>
                <label class="field">
                    <span>"Working time at this step on that day"</span>
                    <input type="text" autocomplete="off" maxlength="12" placeholder="95 or 1:35" bind:value=minutes/>
                </label>
                <p class="quiet">{stands}</p>
                <p class="refused" role="alert">{refused}</p>
                <button class="button main" type="submit">"Save"</button>
            </form>
        </Sheet>
    }
}
