//! Handover: figures, open points, letters, tables, the technician and the export.

use evenhand_core::analysis::compare::{ReadingSet, compared};
use evenhand_core::analysis::decisions::{decided, parts_csv, parts_to_order};
use evenhand_core::analysis::hours::{Hours, hours, hours_csv};
use evenhand_core::analysis::job_file::{conflicts_csv, materials_csv, open_points_csv};
use evenhand_core::analysis::open_points::{open_points, values_out};
use evenhand_core::job::{
    EntryKind, JobId, OpenPoint, PartToOrder, PointKind, Progress, Setup, State, readings_csv,
};
use evenhand_core::trade::{Part, Stage, Step};
use leptos::prelude::*;
use leptos::task::spawn_local;

use crate::device::files;
use crate::parts::conflicts::{OpenConflicts, open_conflicts};
use crate::parts::header::{Header, Saved};
use crate::parts::icons::{EXPORT, Icon};
use crate::parts::photos::{Thumbnails, WithPhotos, photos_where};
use crate::parts::prices::PartPrice;
use crate::parts::radio_group::RadioGroup;
use crate::parts::require_open_job::RequireOpenJob;
use crate::route::Route;
use crate::screens::new_job::Field;
use crate::state::use_session;
use crate::storage::preferences;
use crate::text;

/// The handover: figures, open points, letters, tables and the job file.
#[component]
pub fn HandoverScreen() -> impl IntoView {
    view! {
        <RequireOpenJob>
            <HandoverOfJob/>
        </RequireOpenJob>
    }
}

#[component]
fn HandoverOfJob() -> impl IntoView {
    let session = use_session();
    let back = session.app.route.with_untracked(Route::order_href);
    let all = Memo::new(move |_| {
        let now_ms = session.app.now_ms.get_untracked();
        session
            .app
            .with_state(|s| s.progress(now_ms))
            .unwrap_or_default()
    });
    let worked = Memo::new(move |_| session.app.with_state(hours).unwrap_or_default());
    let name = Signal::derive(move || session.app.job_name());
    let job = session.app.job_untracked();
    let whole = move || all.with(|all| State::stage_progress(all, None));
    let out = Memo::new(move |_| session.app.with_state(values_out).unwrap_or_default());
    let out_count = move || out.with(Vec::len);
    let again = move || all.with(|all| all.iter().map(|(_, p)| p.to_remeasure).sum::<usize>());
    let points = move || {
        let points = |s: &State| all.with(|all| out.with(|out| open_points(s, all, out)));
        session.app.with_state(points).unwrap_or_default()
    };
    view! {
        <Header back back_label="Back to the order" title=Signal::stored("Handover".to_owned()) line=name>
            <Saved/>
        </Header>
        <main class="page" tabindex="0">
            <dl class="figures">
                <div><dt>"Steps done"</dt><dd>{move || format!("{} of {}", whole().done, whole().steps)}</dd></div>
                <div><dt>"Working time"</dt><dd>{move || text::minutes(worked.with(Hours::minutes))}</dd></div>
                <div><dt>"Out of tolerance"</dt><dd>{out_count}</dd></div>
                <div><dt>"To re-measure"</dt><dd>{again}</dd></div>
            </dl>
            <Letters/>
            <section>
                <h2>"Open points"</h2>
                {move || {
                    let points = points();
                    if points.is_empty() {
                        let read = all.with(|all| all.iter().any(|(_, p)| p.read > 0));
                        let none = if read { "None: everything measured is in tolerance." } else { "Nothing was measured yet." };
                        view! { <p class="quiet">{none}</p> }.into_any()
                    } else {
                        view! {
                            <ul class="points">{points.into_iter().map(|point| point_line(job, point)).collect_view()}</ul>
                        }
                        .into_any()
                    }
                }}
            </section>
            <OpenConflicts open=open_conflicts(session, |_| true)/>
            <Parts/>
            <Photos/>
            {move || before_and_after()}
            <section>
                <h2>"By stage"</h2>
                <table class="table">
                    <thead><tr><th>"Stage"</th><th class="num">"Steps done"</th><th class="num">"Time"</th></tr></thead>
                    <tbody>
                        {move || worked.with(|worked| Stage::ALL.map(|stage| stage_row(&all.get(), worked, stage)).collect_view())}
                    </tbody>
                </table>
                <Untimed worked/>
            </section>
            <Tables/>
            <Sender/>
        </main>
        <ExportCard/>
    }
}

/// Returns an open point, as a link to the pass where it can be settled.
fn point_line(job: Option<JobId>, point: OpenPoint) -> impl IntoView + use<> {
    let href = match point.kind {
        PointKind::NotBegun if point.step.is_none() => job.map(Route::Order),
        _ => job
            .zip(point.step)
            .map(|(job, step)| Route::Pass(job, step)),
    };
    let text = point.text;
    match href {
        Some(to) => view! { <li><a href=to.href()>{text}</a></li> }.into_any(),
        None => view! { <li>{text}</li> }.into_any(),
    }
}

/// Links to the letters, and to the next job of the instrument.
#[component]
fn Letters() -> impl IntoView {
    let job = use_session().app.job_untracked();
    let link = |to: fn(evenhand_core::job::JobId) -> Route,
                words: &'static str,
                small: &'static str| {
        job.map(|id| {
            view! { <li><a class="letter-link" href=to(id).href()>{words}<small>{small}</small></a></li> }
        })
    };
    view! {
        <section>
            <h2>"For the office and the client"</h2>
            <ul class="letters">
                {link(Route::Letter, "Client letter", "Found, done, left, price; to share or print")}
                {link(Route::Report, "Report", "What was found, done and left, to print")}
                {link(Route::Estimate, "Estimate", "Hours, parts and days from the survey, to print")}
                {link(Route::NextJob, "Next job of this instrument", "Compares with what this one leaves")}
            </ul>
        </section>
    }
}

/// What was decided on the wear, and the parts to order with their sizes, which are asked here where they are not known.
#[component]
fn Parts() -> impl IntoView {
    let session = use_session();
    let decided = Memo::new(move |_| session.app.with_state(decided).unwrap_or_default());
    let parts = Memo::new(move |_| session.app.with_state(parts_to_order).unwrap_or_default());
    let save = move |part: Part, size: String| {
        let mut sizes = session.app.setup().part_sizes.unwrap_or_default();
        if sizes
            .get(part.key())
            .map(String::as_str)
            .unwrap_or_default()
            != size
        {
            sizes.insert(part.key().to_owned(), size);
            let set = Setup {
                part_sizes: Some(sizes),
                ..Setup::default()
            };
            session.record(EntryKind::Setup { set: Box::new(set) });
        }
    };
    let row = move |line: PartToOrder| {
        let count = match line.part {
            Part::BackRail => text::counted(line.count, "for 1 key", "keys"),
            _ => text::counted(line.count, "1 piece", "pieces"),
        };
        let about = format!("{count}, {}", line.on);
        let measured =
            (!line.measured.is_empty()).then(|| view! { <small>{line.measured}</small> });
        view! {
            <li class="to-order">
                <p><strong>{line.name}</strong>{format!(": {about}")}</p>
                {measured}
                <label>
                    {line.part.size()}
                    <input type="text" maxlength="300" autocomplete="off" prop:value=line.size.unwrap_or_default()
                        on:change=move |event| save(line.part, event_target_value(&event).trim().to_owned())/>
                </label>
                <PartPrice part=line.part label="Price of one piece".to_owned()/>
            </li>
        }
    };
    view! {
        <Show when=move || !decided.with(Vec::is_empty)>
            <section class="form">
                <h2>"Decisions on wear"</h2>
                <ul class="points">{move || decided.get().into_iter().map(|said| view! { <li>{said}</li> }).collect_view()}</ul>
            </section>
        </Show>
        <Show when=move || !parts.with(Vec::is_empty)>
            <section class="form">
                <h2>"Parts to order"</h2>
                <ul class="parts">{move || parts.get().into_iter().map(row).collect_view()}</ul>
            </section>
        </Show>
    }
}

/// The photos of the job.
#[component]
fn Photos() -> impl IntoView {
    let photos = photos_where(|_| true);
    view! {
        <Show when=move || !photos.with(Vec::is_empty)>
            <section>
                <h2>"Photos"</h2>
                <Thumbnails photos/>
            </section>
        </Show>
    }
}

/// How many of each quantity were in tolerance as found, and how many are.
fn before_and_after() -> Option<impl IntoView> {
    let all = use_session()
        .app
        .open_job
        .with(|o| o.as_ref().map(|o| compared(&o.job)));
    let mut all = all.unwrap_or_default();
    all.retain(|c| c.judged);
    if all.is_empty() {
        return None;
    }
    let rows = all.into_iter().map(|c| {
        let cell = |set: ReadingSet| {
            let counts = set.in_tolerance(None);
            counts.map_or_else(String::new, |(within, of)| format!("{within} of {of}"))
        };
        view! {
            <tr>
                <th scope="row">{c.measure.name.to_string()}</th>
                <td class="num">{cell(c.found)}</td>
                <td class="num">{cell(c.left)}</td>
            </tr>
        }
    });
    Some(view! {
        <section>
            <h2>"In tolerance"</h2>
            <table class="table">
                <thead><tr><th>"Quantity"</th><th class="num">"Found"</th><th class="num">"Now"</th></tr></thead>
                <tbody>{rows.collect_view()}</tbody>
            </table>
        </section>
    })
}

/// The steps that are done without time, and the way to the hours.
#[component]
fn Untimed(worked: Memo<Hours>) -> impl IntoView {
    let href = use_session()
        .app
        .job_untracked()
        .map(|id| Route::Hours(id).href());
    let warnings = move || {
        let said = worked.with(Hours::warnings).into_iter();
        said.map(|said| view! { <p class="untimed">{said}</p> })
            .collect_view()
    };
    view! {
        {warnings}
        <a class="letter-link" href=href>"Hours"<small>"Who, when and how long: check and correct"</small></a>
    }
}

fn stage_row(all: &[(Step, Progress)], worked: &Hours, stage: Stage) -> impl IntoView + use<> {
    let sum = State::stage_progress(all, Some(stage));
    let time = worked.by_stage().into_iter().find(|(of, _)| *of == stage);
    let minutes = time.map_or(0, |(_, minutes)| minutes);
    // Work at a step that was left out later still counts.
    (sum.steps > 0 || minutes > 0).then(|| {
        view! {
            <tr>
                <th scope="row">{stage.name()}</th>
                <td class="num">{format!("{} of {}", sum.done, sum.steps)}</td>
                <td class="num">{text::minutes(minutes)}</td>
            </tr>
        }
    })
}

/// The tables for spreadsheets.
#[component]
fn Tables() -> impl IntoView {
    let session = use_session();
    let now_ms = session.app.now_ms.get_untracked();
    let mark = RwSignal::new(usize::from(!preferences::tables_have_mark()));
    let choose_mark = Callback::new(move |at: usize| {
        preferences::set_tables_have_mark(at == 0);
        mark.set(at);
    });
    let open_points = move |_| {
        session.download_table("-open-points.csv", |job| open_points_csv(job, now_ms));
    };
    view! {
        <section>
            <h2>"Tables (CSV)"</h2>
            <div class="tables">
                <button class="button" type="button" on:click=move |_| session.download_table("-readings.csv", readings_csv)>"Readings"</button>
                <button class="button" type="button" on:click=move |_| session.download_table("-materials.csv", materials_csv)>"Materials"</button>
                <button class="button" type="button" on:click=move |_| session.download_table("-parts.csv", parts_csv)>"Parts to order"</button>
                <button class="button" type="button" on:click=move |_| session.download_table("-hours.csv", hours_csv)>"Hours"</button>
                <button class="button" type="button" on:click=open_points>"Open points"</button>
                <button class="button" type="button" on:click=move |_| session.download_table("-conflicts.csv", conflicts_csv)>"Conflicts"</button>
            </div>
            <div class="form tables-for">
                <RadioGroup legend="The tables are for" group="table-mark" words=&["A spreadsheet", "Another program"] chosen=mark choose=choose_mark
                    note="For a spreadsheet the file begins with a mark by which it knows the letters (UTF-8). Another program may take the mark for a part of the first column."/>
            </div>
        </section>
    }
}

/// Fields for the technician, and the head of the letters.
#[component]
fn Sender() -> impl IntoView {
    let technician = RwSignal::new(preferences::technician().unwrap_or_default());
    let letterhead = RwSignal::new(preferences::letterhead());
    // What the field holds, and not its signal: a field that is taken out of the page may tell of its change later.
    let save = move |keep: fn(&str)| move |event| keep(event_target_value(&event).trim());
    view! {
        <section class="sender form">
            <h2>"On this device"</h2>
            <div on:change=save(preferences::set_technician)>
                <Field label="Technician" value=technician/>
            </div>
            <label on:change=save(preferences::set_letterhead)>
                "Letterhead: name and address"
                <textarea rows="3" maxlength="400" autocomplete="off" bind:value=letterhead></textarea>
            </label>
            <small>"Your name goes with what you record here, so that the report can say who did what."</small>
        </section>
    }
}

/// The buttons to export or share the job file.
#[component]
fn ExportCard() -> impl IntoView {
    let session = use_session();
    let size = Memo::new(move |_| {
        let size = |s: &State| {
            let (photos, bytes) = s.photos_in_file();
            (!photos.is_empty()).then_some((photos.len(), bytes))
        };
        session.app.with_state(size).flatten()
    });
    let export = move |shared: bool| {
        let id = session
            .app
            .open_job
            .with_untracked(|o| o.as_ref().map(|o| o.id));
        spawn_local(session.export_jobs(id.into_iter().collect(), shared));
    };
    view! {
        <footer class="reach">
            {move || size.get().map(|size| view! { <WithPhotos size=Some(size)/> })}
            <button class="button main" type="button" on:click=move |_| export(false)><Icon path=EXPORT/>"Export the job file"</button>
            <Show when=files::can_share>
                <button class="button" type="button" on:click=move |_| export(true)>"Share"</button>
            </Show>
        </footer>
    }
}
