//! Finding jobs: words, states, months and the order of the list. Shown once there are more than a screen of them.

use evenhand_core::analysis::calendar::Event;
use evenhand_core::analysis::overview::Standing;
use leptos::prelude::*;

use crate::device::local_time;
use crate::route::Route;
use crate::state::{Due, ListRow, Sort, Which, use_session};

/// The field for words, the states with their counts, the months of next visits, and the order.
#[component]
pub fn Toolbar(
    /// All jobs.
    rows: Memo<Vec<ListRow>>,
    /// Those that are shown.
    shown: Memo<Vec<ListRow>>,
) -> impl IntoView {
    let session = use_session();
    let view = session.app.list_view;
    let find = move |event| view.update(|v| v.find = event_target_value(&event));
    // Enter opens the only job that is found.
    let open_only = move |event: web_sys::KeyboardEvent| {
        let only = shown.with_untracked(|rows| match rows.as_slice() {
            [row] => Some(row.line.id),
            _ => None,
        });
        let is_found = view.with_untracked(|v| !v.find.trim().is_empty());
        if let Some(id) = only.filter(|_| is_found && event.key() == "Enter") {
            Route::Order(id).go();
        }
    };
    let chips = [
        (Which::All, "All"),
        (Which::Standing(Standing::Survey), Standing::Survey.name()),
        (Which::Standing(Standing::Agreed), Standing::Agreed.name()),
        (Which::Standing(Standing::InWork), Standing::InWork.name()),
        (Which::Standing(Standing::Done), Standing::Done.name()),
        (Which::NotExported, "Not exported"),
        (Which::Archived, "Archived"),
    ];
    let chip = move |(which, name): (Which, &'static str)| {
        let count = move || rows.with(|rows| rows.iter().filter(|row| which.takes(row)).count());
        let is_chosen = move || view.with(|v| v.which == which);
        view! {
            <Show when=move || (count() > 0) || is_chosen()>
                <button class="filter" type="button" aria-pressed=move || is_chosen().to_string() on:click=move |_| view.update(|v| v.which = which)>
                    {name}" "<span class="num">{count}</span>
                </button>
            </Show>
        }
    };
    let months = Memo::new(move |_| {
        let mut months: Vec<(Due, usize)> = Vec::new();
        rows.with(|rows| {
            let rows = rows.iter().filter(|row| !row.line.archived);
            for due in rows.filter_map(ListRow::due) {
                match months.iter_mut().find(|(of, _)| *of == due) {
                    Some((_, count)) => *count += 1,
                    None => months.push((due, 1)),
                }
            }
        });
        months.sort_unstable();
        months
    });
    let option = move |(due, count): (Due, usize)| {
        let words = format!("{}: {count}", due_words(due));
        view! { <option value=due_key(Some(due)) selected=move || view.with(|v| v.due == Some(due))>{words}</option> }
    };
    let choose_due = move |event| {
        let key = event_target_value(&event);
        let all = months.get_untracked();
        let due = all
            .into_iter()
            .map(|(due, _)| due)
            .find(|due| due_key(Some(*due)) == key);
        view.update(|v| v.due = due);
    };
    let choose_sort = move |event| {
        let name = event_target_value(&event);
        if let Some((sort, _)) = Sort::ALL.into_iter().find(|(_, of)| *of == name) {
            view.update(|v| v.sort = sort);
        }
    };
    let sorts = Sort::ALL.map(|(sort, name)| {
        view! { <option value=name selected=move || view.with(|v| v.sort == sort)>{name}</option> }
    });
    // Demos are nobody's piano; what is archived is in no calendar but its own.
    let calendar = move |_| {
        let which = view.with_untracked(|v| v.which);
        let mut rows = shown.get_untracked();
        rows.retain(|r| !r.line.invented && (!r.line.archived || which == Which::Archived));
        session.download_calendar(&events(&rows));
    };
    view! {
        <div class="finding" role="search">
            <input class="find" type="search" autocomplete="off" placeholder="Find a piano, client, serial number or technician" aria-label="Find a piano, client, serial number or technician"
                prop:value=move || view.with(|v| v.find.clone()) on:input=find on:keydown=open_only/>
            <label class="by"><span>"Sort by"</span><select on:change=choose_sort>{sorts.collect_view()}</select></label>
            <Show when=move || months.with(|m| !m.is_empty())>
                <label class="by"><span>"Next visit"</span>
                    <select class="due-by" on:change=choose_due>
                        <option value="" selected=move || view.with(|v| v.due.is_none())>"Any time"</option>
                        {move || months.get().into_iter().map(option).collect_view()}
                    </select>
                </label>
                <button class="button calendar" type="button" on:click=calendar>"Calendar file"</button>
            </Show>
            <div class="filters" role="group" aria-label="Show">{chips.map(chip).collect_view()}</div>
        </div>
    }
}

fn due_words(due: Due) -> String {
    match due {
        Due::Overdue => "Overdue".to_owned(),
        Due::Month(year, month) => {
            let day = format!("{year:04}-{month:02}-01").parse();
            day.map(local_time::short_month).unwrap_or_default()
        }
    }
}

fn due_key(due: Option<Due>) -> String {
    match due {
        None => String::new(),
        Some(Due::Overdue) => "overdue".to_owned(),
        Some(Due::Month(year, month)) => format!("{year}-{month}"),
    }
}

/// Returns the next visits and the ends of drying of jobs.
pub fn events(rows: &[ListRow]) -> Vec<Event> {
    let of = |row: &ListRow| {
        let shown = row.line.overview.as_ref();
        shown.map(|o| {
            o.events(
                (row.line.id, row.instrument),
                &row.line.name,
                row.next_visit,
            )
        })
    };
    rows.iter().filter_map(of).flatten().collect()
}
