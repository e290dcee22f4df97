use evenhand_core::job::State;
use evenhand_core::note::Note;
use evenhand_core::reckon::evenness::Evenness;
use evenhand_core::reckon::profile::{Choice, Line, Mark, Profile, choices};
use evenhand_core::trade::{MeasureId, Stage, StepId};
use evenhand_core::unit::{LengthUnit, Value};
use leptos::html::Figure;
use leptos::prelude::*;
use wasm_bindgen::JsCast;

use crate::device;
use crate::parts::header::{Header, Saved};
use crate::parts::plot::{self, Drawn, escaped};
use crate::parts::require_open_job::RequireOpenJob;
use crate::route::Route;
use crate::state::{Session, use_session};
use crate::text;

/// The readings of a step against their band, as found, now and as left, with the figures.
#[component]
pub fn ProfileScreen(
    /// The step.
    step: StepId,
    /// One of its measures; the first with an empty name.
    measure: MeasureId,
) -> impl IntoView {
    view! {
        <RequireOpenJob>
            <ProfileOfJob step=step.clone() measure=measure.clone()/>
        </RequireOpenJob>
    }
}

/// What is looked at, and how.
#[derive(Clone, Copy)]
struct Looking {
    session: Session,
    chosen: RwSignal<Option<(StepId, MeasureId)>>,
    profile: Memo<Option<Profile>>,
    /// The occasions that the reader wants to see.
    wanted: RwSignal<[bool; 3]>,
    /// The note that was chosen in the picture.
    picked: RwSignal<Option<Note>>,
    length: LengthUnit,
}

impl Looking {
    /// The occasions that are shown: wanted, and read.
    fn shown(self) -> [bool; 3] {
        let wanted = self.wanted.get();
        self.profile.with(|p| {
            let read = |i: usize| p.as_ref().is_some_and(|p| p.count(i) > 0);
            [0, 1, 2].map(|i| wanted[i] && read(i))
        })
    }

    fn with<T: Default>(self, at: impl FnOnce(&Profile) -> T) -> T {
        self.profile
            .with(|p| p.as_ref().map(at))
            .unwrap_or_default()
    }
}

/// What each occasion is called, in their order.
const OCCASIONS: [&str; 3] = ["As found", "Now", "As left"];

/// The choice that an address names: its step and measure, its step, else the first that was read.
fn named(choices: &[Choice], step: &StepId, measure: &MeasureId) -> Option<(StepId, MeasureId)> {
    let of_step = || choices.iter().filter(|c| c.step == *step);
    let found = of_step()
        .find(|c| c.measure == *measure)
        .or_else(|| of_step().next())
        .or_else(|| choices.iter().find(|c| c.measure.as_str() == step.as_str()))
        .or_else(|| choices.iter().find(|c| c.read > 0))
        .or(choices.first());
    found.map(|c| (c.step.clone(), c.measure.clone()))
}

#[component]
fn ProfileOfJob(step: StepId, measure: MeasureId) -> impl IntoView {
    let session = use_session();
    let choices = Memo::new(move |_| session.app.with_state(choices).unwrap_or_default());
    let chosen = RwSignal::new(choices.with_untracked(|all| named(all, &step, &measure)));
    let profile = Memo::new(move |_| {
        let (step, measure) = chosen.get()?;
        session
            .app
            .with_state(|state| Profile::of(state, state.step(step.as_str())?, &measure))
            .flatten()
    });
    let looking = Looking {
        session,
        chosen,
        profile,
        wanted: RwSignal::new([true; 3]),
        picked: RwSignal::new(None),
        length: session
            .app
            .with_state_untracked(State::length_unit)
            .unwrap_or_default(),
    };
    let job = session.app.route.with_untracked(|s| s.job());
    let back = job.map_or_else(|| Route::Jobs.href(), |id| Route::Order(id).href());
    let title = Signal::derive(move || looking.with(|p| p.measure.name.to_string()));
    let is_read = Memo::new(move |_| looking.with(|p| p.lines.iter().any(Line::is_read)));
    let corrections = move || Some(Route::Corrections(job?, chosen.get()?.0).href());
    let read = move || {
        let (job, (step, _)) = (job?, chosen.get()?);
        Some(match looking.picked.get() {
            Some(note) => Route::PassAt(job, step, note).href(),
            None => Route::Pass(job, step).href(),
        })
    };
    let read_what = move || match looking.picked.get() {
        Some(note) => format!("Read {}", note.name()),
        None => "Read this step".to_owned(),
    };
    view! {
        <Header back back_label="Back to the order" title line=Signal::stored("Profile".to_owned())>
            <Saved/>
        </Header>
        <main class="page profile">
            <Chooser looking choices/>
            {move || {
                if is_read.get() {
                    view! {
                        <div class="panes">
                            <div class="pane">
                                <Occasions looking/>
                                <Picture looking/>
                                <FiguresTable looking/>
                                <TargetInForce looking/>
                            </div>
                            <Readings looking/>
                        </div>
                    }
                    .into_any()
                } else {
                    view! { <NothingRead looking/> }.into_any()
                }
            }}
        </main>
        <footer class="reach">
            <div class="pair">
                <a class="button" href=read>{read_what}</a>
                <a class="button" href=corrections>"Corrections"</a>
            </div>
        </footer>
    }
}

/// The measures by stage, with how many notes were read.
#[component]
fn Chooser(looking: Looking, choices: Memo<Vec<Choice>>) -> impl IntoView {
    let groups = move || {
        let all = choices.get();
        let chosen = looking.chosen.get_untracked();
        let group = |stage: Stage| {
            let of_stage = all.iter().enumerate().filter(|(_, c)| c.stage == stage);
            let options: Vec<_> = of_stage
                .map(|(at, c)| {
                    let words = match c.read {
                        0 => c.name.clone(),
                        read => format!("{}, {read} read", c.name),
                    };
                    let is = chosen.as_ref() == Some(&(c.step.clone(), c.measure.clone()));
                    view! { <option value=at.to_string() selected=is>{words}</option> }
                })
                .collect();
            (!options.is_empty())
                .then(|| view! { <optgroup label=stage.name()>{options}</optgroup> })
        };
        Stage::ALL.map(group).collect_view()
    };
    let choose = move |event: web_sys::Event| {
        let at: Option<usize> = event_target_value(&event).parse().ok();
        let choice = choices.with_untracked(|all| all.get(at?).cloned());
        let Some(choice) = choice else { return };
        if let Some(job) = looking.session.app.route.with_untracked(|s| s.job()) {
            Route::Profile(job, choice.step.clone(), choice.measure.clone()).note();
        }
        looking.chosen.set(Some((choice.step, choice.measure)));
    };
    view! {
        <label class="choose">
            <span class="hidden">"What is shown"</span>
            <select on:change=choose>{groups}</select>
        </label>
    }
}

/// What to do where nothing was read.
#[component]
fn NothingRead(looking: Looking) -> impl IntoView {
    let name = move || looking.with(|p| p.measure.name.to_lowercase());
    view! {
        <div class="teach">
            <h2>{move || format!("No {} was read yet", name())}</h2>
            <p>
                "Read this step, and its notes stand here against their band: as found, as they are now and as left, with mean, standard deviation and the greatest step between neighbours."
            </p>
            <p class="quiet">"One reading is enough to begin. Above, what was read already can be chosen."</p>
        </div>
        <TargetInForce looking/>
    }
}

/// Which occasions are shown; each button is the key to its marks.
#[component]
fn Occasions(looking: Looking) -> impl IntoView {
    let button = move |i: usize| {
        let count = move || looking.with(|p| p.count(i));
        let toggle = move |_| looking.wanted.update(|w| w[i] = !w[i]);
        view! {
            <button
                class="button"
                type="button"
                disabled=move || count() == 0
                aria-pressed=move || looking.shown()[i].to_string()
                on:click=toggle
            >
                <svg class="plot key" viewBox="0 0 14 14" aria-hidden="true" inner_html=plot::key(i)/>
                <span>{OCCASIONS[i]}<small class="num">{move || count().to_string()}</small></span>
            </button>
        }
    };
    view! { <div class="occasions" role="group" aria-label="Shown">{[0, 1, 2].map(button).collect_view()}</div> }
}

/// The picture, with the note that a finger, the slider or the arrow keys chose.
#[component]
fn Picture(looking: Looking) -> impl IntoView {
    let place = NodeRef::<Figure>::new();
    let sheet = plot::sheet_of(place);
    let sections = move || {
        looking
            .session
            .app
            .with_state(|s| s.sections().clone())
            .unwrap_or_default()
    };
    let drawn = Memo::new(move |_| {
        let (shown, sections) = (looking.shown(), sections());
        looking.profile.with(|p| {
            p.as_ref()
                .map(|p| plot::draw(p, shown, &sections, looking.length, sheet.get()))
        })
    });
    let draw =
        move |of: fn(&Drawn) -> String| drawn.with(|d| d.as_ref().map(of)).unwrap_or_default();
    let view_box = move || {
        let height = drawn.with(|d| d.as_ref().map_or(0.0, |d| d.height)) as i32;
        format!("0 0 {} {height}", sheet.get().width as i32)
    };
    let picked = looking.picked;
    let on_point = move |event: web_sys::PointerEvent| {
        let target: Option<web_sys::Element> =
            event.current_target().and_then(|t| t.dyn_into().ok());
        let Some(target) = target else { return };
        let x = event.client_x() as f32 - target.get_bounding_client_rect().left() as f32;
        if let Some(note) = drawn.with_untracked(|d| d.as_ref().map(|d| d.note_at(x))) {
            picked.set(nearest(looking, note, None));
        }
    };
    let slid = move |event: web_sys::Event| {
        if let Some(note) = event_target_value(&event)
            .parse()
            .ok()
            .and_then(|n| Note::new(n).ok())
        {
            // A step of the slider leaves the note, also where its neighbour is of the other colour.
            let from = picked.get_untracked().filter(|from| *from != note);
            picked.set(nearest(looking, note, from));
        }
    };
    let said = move || match picked.get() {
        Some(note) => read_out(looking, note),
        None => "Tap the picture, or move the slider, for a note.".to_owned(),
    };
    let at = move || {
        let note = picked.get()?;
        let x = drawn.with(|d| d.as_ref().map(|d| d.x(note)))?;
        Some(format!("left:{}px", x as i32))
    };
    let notes = move || looking.with(|p| p.lines.iter().any(|l| l.on.note().is_some()));
    view! {
        <figure class="picture-of" node_ref=place>
            <svg
                class="plot"
                viewBox=view_box
                role="img"
                aria-label=move || caption(looking)
                inner_html=move || draw(|d| d.inside.clone())
                on:pointerdown=on_point
            />
            {move || at().map(|at| view! { <i class="pick" style=at></i> })}
            <Show when=notes>
                <input
                    type="range"
                    min="1"
                    max="88"
                    aria-label="Note"
                    aria-valuetext=said
                    prop:value=move || picked.get().map_or(1, Note::number).to_string()
                    on:input=slid
                />
                <p class="read-out">{said}</p>
            </Show>
            <figcaption class="quiet">
                "Inner band: aim. Outer band: may stay. Round: natural, square: sharp. On a stem: out. Hatched: read again."
                " The strong line is the greatest step between neighbours."
            </figcaption>
        </figure>
    }
}

/// The note nearest to this one that the measure is taken on, other than `but`.
fn nearest(looking: Looking, note: Note, but: Option<Note>) -> Option<Note> {
    looking.profile.with_untracked(|p| {
        let notes = p.as_ref()?.lines.iter().filter_map(|l| l.on.note());
        let notes = notes.filter(|n| Some(*n) != but);
        notes.min_by_key(|n| n.number().abs_diff(note.number()))
    })
}

/// What the picture shows, for screen readers.
fn caption(looking: Looking) -> String {
    looking.with(|p| {
        let counted = (0..3).filter(|i| p.count(*i) > 0);
        let counts: Vec<String> = counted
            .map(|i| format!("{} read {}", p.count(i), OCCASIONS[i].to_lowercase()))
            .collect();
        format!(
            "{} by note against its band: {}. The tables hold the same figures.",
            p.measure.name,
            counts.join(", ")
        )
    })
}

/// The latest occasion that a line has a reading of, with the reading.
fn latest(line: &Line) -> Option<&Mark> {
    line.marks.iter().rev().flatten().next()
}

/// A note's readings in words.
fn read_out(looking: Looking, note: Note) -> String {
    looking.with(|p| {
        let line = p.lines.iter().find(|l| l.on.note() == Some(note));
        let Some(line) = line else {
            return String::new();
        };
        let read = (0..3).filter_map(|i| {
            let shown = p.measure.shown(line.marks[i]?.value, looking.length);
            Some(format!("{} {shown}", OCCASIONS[i].to_lowercase()))
        });
        let read: Vec<String> = read.collect();
        let unit = text::unit(&p.measure, looking.length);
        let said = match latest(line) {
            Some(_) => format!(
                "{} {unit}, {}",
                read.join(", "),
                stands(p, line, looking.length)
            ),
            None => "not read".to_owned(),
        };
        format!("{} ({}): {said}", note.name(), note.number())
    })
}

/// How the latest reading of a line stands against its target.
fn stands(profile: &Profile, line: &Line, length: LengthUnit) -> String {
    match latest(line) {
        Some(mark) if mark.again => "read again".to_owned(),
        Some(mark) => match &mark.judged {
            Some(judged) => text::verdict(&profile.measure, judged, mark.value, length),
            None => "no target".to_owned(),
        },
        None => String::new(),
    }
}

/// A row of a table: its head, then its cells.
fn row(out: &mut String, class: &str, head: &str, cells: &[String]) {
    out.push_str("<tr class=\"");
    out.push_str(class);
    out.push_str("\"><th scope=\"row\">");
    out.push_str(head);
    out.push_str("</th>");
    for cell in cells {
        out.push_str("<td class=\"num\">");
        out.push_str(cell);
        out.push_str("</td>");
    }
    out.push_str("</tr>");
}

/// The head of a table.
fn head(columns: &[String]) -> String {
    let mut out = String::from("<tr>");
    for (at, column) in columns.iter().enumerate() {
        out.push_str(if at == 0 {
            "<th scope=\"col\">"
        } else {
            "<th scope=\"col\" class=\"num\">"
        });
        out.push_str(column);
        out.push_str("</th>");
    }
    out.push_str("</tr>");
    out
}

/// Every note that was read, as the picture shows it.
#[component]
fn Readings(looking: Looking) -> impl IntoView {
    let columns = move || {
        let shown = looking.shown();
        let mut columns = vec!["Note".to_owned()];
        columns.extend(
            (0..3)
                .filter(|i| shown[*i])
                .map(|i| OCCASIONS[i].to_owned()),
        );
        columns.push("Against the target".to_owned());
        head(&columns)
    };
    let rows = move || {
        let shown = looking.shown();
        looking.with(|p| {
            let mut out = String::new();
            for line in &p.lines {
                let read = (0..3).filter(|i| shown[*i]).map(|i| line.marks[i]);
                let read: Vec<Option<Mark>> = read.collect();
                if read.iter().all(Option::is_none) {
                    continue;
                }
                let shown = |mark: &Option<Mark>| {
                    mark.map_or_else(
                        || "–".to_owned(),
                        |m| escaped(&p.measure.shown(m.value, looking.length)),
                    )
                };
                let mut cells: Vec<String> = read.iter().map(shown).collect();
                cells.push(escaped(&stands(p, line, looking.length)));
                let mark = latest(line);
                let class = match mark.and_then(Mark::verdict) {
                    _ if mark.is_some_and(|m| m.again) => "again",
                    Some(evenhand_core::trade::Verdict::Out) => "out",
                    _ => "",
                };
                let head = match line.on.note() {
                    Some(note) => format!("{} <small>{}</small>", note.name(), note.number()),
                    None => text::subject(line.on),
                };
                row(&mut out, class, &head, &cells);
            }
            out
        })
    };
    let unit = move || looking.with(|p| text::unit(&p.measure, looking.length).to_owned());
    view! {
        <section class="pane readings" aria-label="Readings" tabindex="0">
            <h2>"Readings"{move || match unit().as_str() {
                "" => String::new(),
                unit => format!(", {unit}"),
            }}</h2>
            <table class="table">
                <thead inner_html=columns></thead>
                <tbody inner_html=rows></tbody>
            </table>
        </section>
    }
}

/// The figures of evenness, for all notes and each section.
#[component]
fn FiguresTable(looking: Looking) -> impl IntoView {
    let body = move || looking.with(|p| figures(p, looking.shown(), looking.length));
    let unit = move || looking.with(|p| text::unit(&p.measure, looking.length).to_owned());
    view! {
        <Show when=move || !body().is_empty()>
            <section aria-label="Figures">
                <h2>"Figures, "{unit}</h2>
                <div class="sideways" tabindex="0" role="region" aria-label="Figures by section">
                    <table class="table figures-of" inner_html=body></table>
                </div>
            </section>
        </Show>
    }
}

/// The rows of figures, a group for each occasion.
fn figures(profile: &Profile, shown: [bool; 3], length: LengthUnit) -> String {
    let measure = &profile.measure;
    let said =
        |base: f64| measure.shown(Value::from_base(measure.kind, base.round() as i64), length);
    let of = |e: &Evenness| {
        let step = e.greatest_step.map_or_else(
            || "–".to_owned(),
            |s| {
                let by = said(s.by.unsigned_abs() as f64);
                format!("{by} <small>{} to {}</small>", s.from.name(), s.to.name())
            },
        );
        [
            e.moments.count.to_string(),
            e.in_aim.to_string(),
            e.in_accept.to_string(),
            said(e.moments.mean),
            e.moments.sd.map_or_else(|| "–".to_owned(), said),
            said(e.range() as f64),
            step,
        ]
    };
    const ROWS: [&str; 7] = [
        "Read",
        "In aim",
        "In tolerance",
        "Mean",
        "SD (n − 1)",
        "Range",
        "Greatest step",
    ];
    let mut out = String::new();
    for occasion in (0..3).filter(|i| shown[*i]) {
        let Some(figures) = &profile.figures[occasion] else {
            continue;
        };
        let sections = figures.sections.iter().enumerate();
        let several = figures.sections.len() > 1;
        let mut columns = vec![OCCASIONS[occasion].to_owned(), "All".to_owned()];
        let mut of_columns = vec![Some(of(&figures.all))];
        for (at, section) in sections.filter(|_| several) {
            columns.push(format!("<span class=\"hidden\">Section </span>{}", at + 1));
            of_columns.push(section.as_ref().map(of));
        }
        out.push_str("<tbody>");
        out.push_str(&head(&columns));
        for (at, name) in ROWS.iter().enumerate() {
            if (at == 1 || at == 2) && !profile.has_target() {
                continue;
            }
            let cell = |c: &Option<[String; 7]>| {
                c.as_ref().map_or_else(|| "–".to_owned(), |c| c[at].clone())
            };
            let cells: Vec<String> = of_columns.iter().map(cell).collect();
            row(&mut out, "", name, &cells);
        }
        out.push_str("</tbody>");
    }
    out
}

/// The target in force, note by note where it differs, and how it came to be.
#[component]
fn TargetInForce(looking: Looking) -> impl IntoView {
    let lines = move || looking.with(|p| bands(p, looking.length));
    let history = move || {
        let measure = looking.chosen.get()?.1;
        looking.session.app.with_state(|state| {
            let name = measure.as_str();
            let changes = state.target_history(name).iter().filter(|c| c.is_alive());
            let said = changes.map(|c| {
                let target = text::target(state, name, c.target.as_ref(), looking.length);
                format!(
                    "{}, {}: {target}",
                    device::date(c.at_ms),
                    text::scope(c.scope)
                )
            });
            said.collect::<Vec<_>>()
        })
    };
    let change = move || {
        let job = looking.session.app.route.with_untracked(|s| s.job())?;
        Some(Route::Targets(job, looking.chosen.get()?.1).href())
    };
    let list = |lines: Vec<String>| {
        lines
            .into_iter()
            .map(|l| view! { <li>{l}</li> })
            .collect_view()
    };
    view! {
        <section aria-label="Target">
            <h2>"Target in force"</h2>
            <ul class="points">{move || list(lines())}</ul>
            {move || {
                let history = history().filter(|h| !h.is_empty())?;
                Some(view! { <h2>"Changes of the target"</h2><ul class="points">{list(history)}</ul> })
            }}
            <a class="button" href=change>"Change the target"</a>
        </section>
    }
}

/// The bands in words: each run of notes with one band, or, where they are many, the ends of a taper.
fn bands(profile: &Profile, length: LengthUnit) -> Vec<String> {
    let said = |line: &Line| match &line.band {
        Some(band) => text::band(&profile.measure, band, length),
        None => "no target".to_owned(),
    };
    let mut runs: Vec<(&Line, &Line)> = Vec::new();
    for line in &profile.lines {
        match runs.last_mut() {
            Some((first, last)) if first.band == line.band => *last = line,
            _ => runs.push((line, line)),
        }
    }
    let name = |line: &Line| text::subject(line.on);
    match runs.as_slice() {
        [] => Vec::new(),
        [(only, _)] => vec![said(only)],
        [(first, _), .., (_, last)] if runs.len() > 8 => vec![format!(
            "from {} at {} to {} at {}",
            said(first),
            name(first),
            said(last),
            name(last)
        )],
        runs => runs
            .iter()
            .map(|(first, last)| match first.on == last.on {
                true => format!("{}: {}", name(first), said(first)),
                false => format!("{} to {}: {}", name(first), name(last), said(first)),
            })
            .collect(),
    }
}
