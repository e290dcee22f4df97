use evenhand_core::job::{Act, Correction, EntryId, Item, JobId, State, Subject};
use evenhand_core::note::Sections;
use evenhand_core::reckon::advice::{
    Advice, Corrections, Missing, Movement, corrected, corrections_of,
};
use evenhand_core::reckon::papers;
use evenhand_core::trade::{MeasureId, Place, Step, StepId, Verdict};
use evenhand_core::unit::{LengthUnit, Value};
use leptos::prelude::*;

use crate::parts::header::{Header, Saved};
use crate::parts::icons::{DONE, Icon};
use crate::parts::plot;
use crate::parts::require_open_job::RequireOpenJob;
use crate::route::Route;
use crate::state::{Session, use_session};
use crate::text;

/// What to do to which note, in working order: of one step, or of all that can be done where the action is.
#[component]
pub fn CorrectionsScreen(
    /// The step; all with an empty name.
    step: StepId,
) -> impl IntoView {
    view! {
        <RequireOpenJob>
            <CorrectionsOfJob step=step.clone()/>
        </RequireOpenJob>
    }
}

/// One correction as it is shown.
#[derive(Clone, Debug, PartialEq)]
struct Row {
    measure: MeasureId,
    /// What a correction is entered on.
    moves: MeasureId,
    on: Subject,
    place: Place,
    made: Correction,
    words: String,
    /// What is read now and after, and what it disturbs.
    more: String,
    /// Which way the reading goes, as a part of the furthest.
    way: i64,
    /// Whether what can be done leaves it outside its aim.
    stays_off: bool,
}

impl Row {
    fn is(&self, other: &Row) -> bool {
        self.measure == other.measure && self.on == other.on
    }

    fn of(state: &State, advice: &Advice, length: LengthUnit) -> Option<Row> {
        let (expected, give_or_take) = match &advice.movement {
            Movement::Turn {
                expected,
                give_or_take,
                ..
            } => (Some(*expected), *give_or_take),
            Movement::Papers { expected, .. } => (Some(*expected), 0),
            _ => (None, 0),
        };
        let moved = state.measure(advice.moves.as_str())?;
        // What is expected is no finer than what is read.
        let decimals = match length {
            LengthUnit::Inch => 3,
            LengthUnit::Millimetre => moved.form.1,
        };
        let shown = |base: i64| moved.kind.shown(base, length, decimals);
        let slot = state.slot(advice.moves.as_str(), advice.on, advice.place);
        let now = slot.and_then(|s| s.in_force()).map(|r| r.value);
        let mut more =
            now.map_or_else(String::new, |v| format!("reads {}", moved.shown(v, length)));
        if let Some(expected) = expected {
            more = format!("{more}, then {}", shown(expected));
            if give_or_take > 0 {
                more = format!("{more}\u{a0}±\u{a0}{}", shown(give_or_take));
            }
        }
        let mut disturbed: Vec<String> = Vec::new();
        for item in &advice.disturbs {
            let name = state
                .measure(item.measure.as_str())
                .map(|m| m.name.to_lowercase());
            disturbed.extend(name.filter(|n| !disturbed.contains(n)));
        }
        if !disturbed.is_empty() {
            more = format!("{more}; disturbs {}", disturbed.join(", "));
        }
        let after = expected.map(|base| Value::from_base(moved.kind, base));
        let judged = after.and_then(|v| state.judge(advice.moves.as_str(), advice.on, v));
        let papers = matches!(advice.movement, Movement::Papers { .. });
        Some(Row {
            measure: advice.measure.clone(),
            moves: advice.moves.clone(),
            on: advice.on,
            place: advice.place,
            made: advice.made()?,
            words: advice.words(length),
            more,
            way: advice.off.saturating_neg(),
            stays_off: papers && judged.is_some_and(|j| j.verdict != Verdict::OnAim),
        })
    }
}

/// A correction that was ticked on this visit, with its entry.
type Ticked = (Row, EntryId);

/// What is looked at, and what was ticked.
#[derive(Clone, Copy)]
struct Looking {
    session: Session,
    job: Option<JobId>,
    /// The step; all without one.
    chosen: RwSignal<Option<StepId>>,
    steps: Memo<Vec<Step>>,
    found: Memo<Corrections>,
    /// On what the length that floats was read beyond what is plausible.
    strayed: Memo<Vec<Item>>,
    /// The rows as they stood when the step was chosen, so that none moves under the thumb.
    stood: RwSignal<Vec<Row>>,
    ticked: RwSignal<Vec<Ticked>>,
    length: LengthUnit,
}

impl Looking {
    /// What there is to do now.
    fn live(self) -> Vec<Row> {
        let rows = self.found.with(|found| {
            let row = |state: &State| {
                let rows = found.rows.iter();
                rows.filter_map(|a| Row::of(state, a, self.length))
                    .collect()
            };
            self.session.app.with_state(row)
        });
        rows.unwrap_or_default()
    }

    /// The entry by which a row was ticked, if it still holds.
    fn entry(self, row: &Row) -> Option<EntryId> {
        let entry = self.ticked.with(|ticked| {
            let mut latest = ticked.iter().rev();
            latest.find(|(r, _)| r.is(row)).map(|(_, entry)| *entry)
        })?;
        self.session
            .app
            .with_state(|s| s.is_alive(entry))
            .unwrap_or(false)
            .then_some(entry)
    }

    /// The rows in their places: what was ticked, what is still to do, then what came since.
    fn rows(self) -> Vec<Row> {
        let live = self.live();
        let stood = self.stood.get();
        let mut rows: Vec<Row> = Vec::with_capacity(live.len());
        for row in &stood {
            if self.entry(row).is_some() {
                rows.push(row.clone());
            } else if let Some(now) = live.iter().find(|l| l.is(row)) {
                rows.push(now.clone());
            }
        }
        rows.extend(live.into_iter().filter(|l| !stood.iter().any(|s| s.is(l))));
        rows
    }

    fn choose(self, step: Option<StepId>) {
        self.chosen.set(step);
        let live = untrack(|| self.live());
        self.stood.set(live);
    }

    /// Enters the correction, or takes it back.
    fn tick(self, row: &Row) {
        if let Some(entry) = untrack(|| self.entry(row)) {
            self.session.record(Act::Undo { entry });
            return;
        }
        let recorded = self.session.record(Act::Correction {
            measure: row.moves.clone(),
            on: row.on,
            place: row.place,
            made: row.made.clone(),
        });
        if let Some(entry) = recorded {
            self.ticked
                .update(|ticked| ticked.push((row.clone(), entry)));
        }
    }

    /// The step in which a measure is read.
    fn step_of(self, measure: &MeasureId) -> Option<StepId> {
        let chosen = self.chosen.get_untracked();
        self.steps.with_untracked(|steps| {
            let takes = |s: &&Step| s.takes.contains(measure);
            let own = steps
                .iter()
                .filter(takes)
                .find(|s| chosen.as_ref() == Some(&s.id));
            own.or_else(|| steps.iter().find(takes))
                .map(|s| s.id.clone())
        })
    }

    fn pass_of(self, measure: &MeasureId) -> Option<String> {
        Some(Route::Pass(self.job?, self.step_of(measure)?).href())
    }

    fn name(self, measure: &MeasureId) -> String {
        let measure = self
            .session
            .app
            .with_state_untracked(|s| s.measure(measure.as_str()).cloned())
            .flatten();
        measure.map(|m| m.name.to_string()).unwrap_or_default()
    }
}

/// One step, or all whose place is where the action is.
fn wanted(state: &State, steps: &[Step], chosen: Option<&StepId>) -> Vec<Step> {
    let here = state.place();
    let wanted = |s: &&Step| match chosen {
        Some(step) => s.id == *step,
        None => s.place_or(here) == here,
    };
    steps.iter().filter(wanted).cloned().collect()
}

/// On what the length that floats was read beyond what is plausible, and is left all the same: the others are set anew.
fn strayed(state: &State, steps: &[Step], found: &Corrections) -> Vec<Item> {
    let Some(floats) = state.setup().floats else {
        return Vec::new();
    };
    let moved = |i: &Item| {
        found
            .rows
            .iter()
            .any(|a| a.measure == i.measure && a.on == i.on)
    };
    let mut strayed = Vec::new();
    for step in steps {
        let mut items = state.items(step);
        items.retain(|i| floats.is(i.measure.as_str()) && state.item_state(step, i).is_out());
        items.retain(|i| !moved(i));
        strayed.extend(items);
    }
    strayed
}

#[component]
fn CorrectionsOfJob(step: StepId) -> impl IntoView {
    let session = use_session();
    let job = session.app.route.with_untracked(|s| s.job());
    let steps = Memo::new(move |_| session.app.with_state(corrected).unwrap_or_default());
    let chosen = RwSignal::new(None);
    let looked_at = Memo::new(move |_| {
        let chosen = chosen.get();
        let of = |s: &State| steps.with(|all| wanted(s, all, chosen.as_ref()));
        session.app.with_state(of).unwrap_or_default()
    });
    let found = Memo::new(move |_| {
        let of = |s: &State| looked_at.with(|steps| corrections_of(s, steps));
        session.app.with_state(of).unwrap_or_default()
    });
    let strayed = Memo::new(move |_| {
        let of = |s: &State| looked_at.with(|steps| found.with(|f| strayed(s, steps, f)));
        session.app.with_state(of).unwrap_or_default()
    });
    let looking = Looking {
        session,
        job,
        chosen,
        steps,
        found,
        strayed,
        stood: RwSignal::new(Vec::new()),
        ticked: RwSignal::new(Vec::new()),
        length: session
            .app
            .with_state_untracked(State::length_unit)
            .unwrap_or_default(),
    };
    let known = steps.with_untracked(|steps| steps.iter().any(|s| s.id == step));
    looking.choose(known.then_some(step));
    let rows = Memo::new(move |_| looking.rows());
    let title = Signal::derive(move || match chosen.get() {
        Some(step) => steps.with(|all| {
            let step = all.iter().find(|s| s.id == step);
            step.map(|s| s.name.to_string()).unwrap_or_default()
        }),
        None => "All steps".to_owned(),
    });
    let back = job.map_or_else(|| Route::Jobs.href(), |id| Route::Order(id).href());
    let profile = move || {
        let step = chosen.get()?;
        Some(Route::Profile(job?, step, MeasureId::of("")).href())
    };
    let read = move || Some(Route::Pass(job?, chosen.get()?).href());
    view! {
        <Header back back_label="Back to the order" title line=Signal::stored("Corrections".to_owned())>
            <Saved/>
        </Header>
        <main class="page corrections">
            <Chooser looking/>
            <Summary looking rows/>
            <div class="panes">
                <div class="pane" tabindex="0" role="region" aria-label="To do">
                    <Asked looking/>
                    <StrayedLine looking/>
                    <ToDo looking rows/>
                </div>
                <div class="pane">
                    <ReadFirst looking/>
                    <PickList looking rows/>
                </div>
            </div>
        </main>
        <Show when=move || chosen.get().is_some()>
            <footer class="reach">
                <div class="pair">
                    <a class="button" href=profile>"Profile"</a>
                    <a class="button" href=read>"Read this step"</a>
                </div>
            </footer>
        </Show>
    }
}

/// All steps, or one.
#[component]
fn Chooser(looking: Looking) -> impl IntoView {
    let options = move || {
        let chosen = looking.chosen.get_untracked();
        let option = |step: &Step| {
            let is = chosen.as_ref() == Some(&step.id);
            view! { <option value=step.id.to_string() selected=is>{step.name.to_string()}</option> }
        };
        looking
            .steps
            .with(|steps| steps.iter().map(option).collect_view())
    };
    let choose = move |event: web_sys::Event| {
        let value = event_target_value(&event);
        let step = StepId::from(value.as_str());
        if let Some(job) = looking.job {
            Route::Corrections(job, step.clone()).note();
        }
        looking.choose((!value.is_empty()).then_some(step));
    };
    view! {
        <label class="choose">
            <span class="hidden">"Whose corrections"</span>
            <select on:change=choose>
                <option value="">"All steps"</option>
                {options}
            </select>
        </label>
    }
}

fn counted(count: usize, one: &str, many: &str) -> String {
    match count {
        1 => format!("1 {one}"),
        n => format!("{n} {many}"),
    }
}

/// How much there is to do.
#[component]
fn Summary(looking: Looking, rows: Memo<Vec<Row>>) -> impl IntoView {
    let words = move || {
        let done = rows.with(|rows| rows.iter().filter(|r| looking.entry(r).is_some()).count());
        let open = rows.with(Vec::len) - done;
        looking.found.with(|found| {
            let of =
                |is: fn(&Movement) -> bool| found.rows.iter().filter(|a| is(&a.movement)).count();
            let missing = of(|m| matches!(m, Movement::Missing(_)));
            if open + done + found.left + missing == 0 {
                return String::new();
            }
            let mut parts = Vec::new();
            if open > 0 {
                parts.push(counted(open, "correction to make", "corrections to make"));
            }
            if done > 0 {
                parts.push(format!("{done} made"));
            }
            if missing > 0 {
                parts.push(counted(
                    missing,
                    "waits for what is missing",
                    "wait for what is missing",
                ));
            }
            let strayed = looking.strayed.with(Vec::len);
            if strayed > 0 {
                parts.push(format!("{strayed} floated too far"));
            }
            parts.push(format!("{} left as they are", found.left - strayed));
            let mut words = format!("{}.", parts.join(", "));
            if open > 0 {
                let readings = counted(found.readings, "reading", "readings");
                words = format!("{words} After that, {readings}");
                words = match found.saves {
                    0 => format!("{words}."),
                    saves => format!("{words}; this order saves {saves}."),
                };
            }
            words
        })
    };
    view! { <p class="summary" role="status">{words}</p> }
}

/// Why something is needed, what the link says and where it leads.
type Asks = (&'static str, &'static str, String);

/// What the sums still need, with the place to enter it.
#[component]
fn Asked(looking: Looking) -> impl IntoView {
    let asked = move |missing: Missing| {
        let job = looking.job?;
        Some(match missing {
            Missing::NaturalKey | Missing::SharpKey => (
                "The sum of the papers needs them: front edge, front pin and back of one key, each from the balance pin.",
                "Enter the key levers",
                Route::Setup(job, "keys").href(),
            ),
            Missing::Papers => (
                "Enter the thicknesses that you have, and the papers are chosen from them.",
                "Enter the paper stock",
                Route::Setup(job, "papers").href(),
            ),
            Missing::Floats => (
                "Aftertouch has no adjuster of its own: blow or dip moves it, whichever floats on this job.",
                "Choose what floats",
                Route::Targets(job, MeasureId::of("aftertouch")).href(),
            ),
            Missing::Aftertouch => (
                "A sharp goes as deep as gives the aftertouch, so that has to be read first.",
                "Read the aftertouch",
                looking.pass_of(&MeasureId::of("aftertouch"))?,
            ),
        })
    };
    let card = |((words, link, href), names): (Asks, Vec<&'static str>)| {
        view! {
            <section class="asked">
                <h2>"Missing: "{names.join(", ")}</h2>
                <p>{words}</p>
                <a class="button" href=href>{link}</a>
            </section>
        }
    };
    (move || {
        // What is entered in one place is asked for once.
        let mut cards: Vec<(Asks, Vec<&'static str>)> = Vec::new();
        for missing in looking.found.with(|f| f.missing.clone()) {
            let Some(asks) = asked(missing) else { continue };
            match cards.iter_mut().find(|(known, _)| *known == asks) {
                Some((_, names)) => names.push(missing.name()),
                None => cards.push((asks, vec![missing.name()])),
            }
        }
        cards.into_iter().map(card).collect_view()
    })
    .into_any()
}

/// Where the length that floats went too far, and what is done about it.
#[component]
fn StrayedLine(looking: Looking) -> impl IntoView {
    (move || {
        let items = looking.strayed.get();
        let first = items.first()?;
        let floats = looking.session.app.with_state(|s| text::floats(s, first.measure.as_str()))??;
        let names: Vec<String> = items.iter().map(|i| text::subject(i.on)).collect();
        let pass = looking.pass_of(&first.measure);
        Some(view! {
            <section class="asked">
                <h2>{looking.name(&first.measure)}" too far off: "{names.join(", ")}</h2>
                <p>{floats}" Its pass says by how much each would bring it back."</p>
                {pass.map(|href| view! { <a class="button" href=href>"Look at it in the pass"</a> })}
            </section>
        })
    })
    .into_any()
}

/// The corrections in working order, a group for each thing that is moved.
#[component]
fn ToDo(looking: Looking, rows: Memo<Vec<Row>>) -> impl IntoView {
    let groups = Memo::new(move |_| {
        let mut groups: Vec<MeasureId> = Vec::new();
        rows.with(|rows| {
            for row in rows {
                if !groups.contains(&row.moves) {
                    groups.push(row.moves.clone());
                }
            }
        });
        groups
    });
    let is_empty = move || groups.with(Vec::is_empty);
    view! {
        <Show when=move || !is_empty() fallback=move || view! { <NothingToDo looking/> }>
            <table class="table todo">
                <thead class="hidden"><tr><th scope="col">"Note"</th><th scope="col">"What to do"</th><th scope="col">"Made"</th></tr></thead>
                <For each=move || groups.get() key=Clone::clone let(moves)>
                    <Group looking rows moves/>
                </For>
            </table>
        </Show>
    }
}

#[component]
fn Group(looking: Looking, rows: Memo<Vec<Row>>, moves: MeasureId) -> impl IntoView {
    let name = looking.name(&moves);
    let pass = looking.pass_of(&moves);
    let of = StoredValue::new(moves);
    let own = Memo::new(move |_| {
        let own = |r: &&Row| of.with_value(|m| r.moves == *m);
        rows.with(|rows| rows.iter().filter(own).cloned().collect::<Vec<_>>())
    });
    let sections = looking
        .session
        .app
        .with_state_untracked(|s| s.sections().clone())
        .unwrap_or_default();
    let picture = move || {
        let done = |r: &Row| looking.entry(r).is_some();
        own.with(|rows| drawn(rows, &sections, done))
    };
    let label = format!("{name}: which notes, and which way the reading goes");
    view! {
        <tbody>
            <tr class="group">
                <th colspan="3" scope="rowgroup">
                    <span class="group-head">
                        <span>{name.clone()}</span>
                        {pass.map(|href| view! { <a class="button" href=href>"Read"<span class="hidden">" "{name}</span></a> })}
                    </span>
                    <svg class="plot moves" viewBox="0 0 360 44" role="img" aria-label=label inner_html=picture/>
                </th>
            </tr>
            <For each=move || own.get() key=|r| (r.measure.clone(), r.on, r.words.clone(), r.more.clone()) let(row)>
                <RowLine looking row/>
            </For>
        </tbody>
    }
}

fn drawn(rows: &[Row], sections: &Sections, done: impl Fn(&Row) -> bool) -> String {
    let bars: Vec<_> = rows
        .iter()
        .filter_map(|r| Some((r.on.note()?, r.way, done(r))))
        .collect();
    plot::movements(&bars, sections)
}

#[component]
fn RowLine(looking: Looking, row: Row) -> impl IntoView {
    let row = StoredValue::new(row);
    let done = move || row.with_value(|r| looking.entry(r).is_some());
    let tick = move |_| row.with_value(|r| looking.tick(r));
    let (name, number) = row.with_value(|r| {
        (
            text::subject(r.on),
            r.on.note().map(|n| n.number().to_string()),
        )
    });
    let (what, more) = row.with_value(|r| (r.words.clone(), r.more.clone()));
    let label = format!("{name}: {what}, made");
    view! {
        <tr class:done=done>
            <th scope="row">{name}" "<small>{number}</small></th>
            <td>
                {what}
                <small>{move || if done() { "made, read it again".to_owned() } else { more.clone() }}</small>
            </td>
            <td>
                <button class="tick" type="button" aria-pressed=move || done().to_string() aria-label=label on:click=tick>
                    <Icon path=DONE/>
                </button>
            </td>
        </tr>
    }
}

/// What to do where nothing is to be corrected.
#[component]
fn NothingToDo(looking: Looking) -> impl IntoView {
    (move || {
        let (left, waits) = looking.found.with(|f| (f.left, f.rows.len()));
        let waits = waits + looking.strayed.with(Vec::len);
        let here = looking.session.app.with_state(State::place).unwrap_or(Place::Piano);
        let all = looking.chosen.with(Option::is_none);
        let (head, words) = match (left, waits) {
            (0, 0) if all && here == Place::Piano => (
                "Nothing to correct in the piano",
                "What is read on the bench is corrected there. Choose its step above.",
            ),
            (0, 0) if all => (
                "Nothing to correct on the bench",
                "What is read in the piano is corrected there. Choose its step above.",
            ),
            (0, 0) => (
                "Nothing was read here yet",
                "Read the step. Each reading that lies off its aim then stands here with what to turn, bend or lay under.",
            ),
            (_, 0) => (
                "Nothing to correct",
                "Every reading stands in its aim, or so near that no hand can do it finer.",
            ),
            _ => (
                "Nothing to turn yet",
                "What is named here comes first; then this list fills itself.",
            ),
        };
        let read = looking
            .chosen
            .get()
            .and_then(|step| Some(Route::Pass(looking.job?, step).href()));
        view! {
            <div class="teach">
                <h2>{head}</h2>
                <p>{words}</p>
                {read.filter(|_| left + waits == 0).map(|href| view! { <a class="button main" href=href>"Read this step"</a> })}
            </div>
        }
    })
    .into_any()
}

/// What no longer holds and has to be read before anything is moved by it.
#[component]
fn ReadFirst(looking: Looking) -> impl IntoView {
    let groups = move || {
        let mut groups: Vec<(MeasureId, Vec<String>)> = Vec::new();
        looking.found.with(|found| {
            for advice in &found.rows {
                let Movement::ReadAgain { work } = &advice.movement else {
                    continue;
                };
                // What was ticked here stands in its own place.
                let own = *work == advice.moves
                    && looking
                        .ticked
                        .with(|t| t.iter().any(|(r, _)| r.on == advice.on && r.moves == *work));
                if own {
                    continue;
                }
                let name = text::subject(advice.on);
                match groups.iter_mut().find(|(m, _)| *m == advice.measure) {
                    Some((_, names)) => names.push(name),
                    None => groups.push((advice.measure.clone(), vec![name])),
                }
            }
        });
        groups
    };
    let line = move |(measure, names): (MeasureId, Vec<String>)| {
        let name = looking.name(&measure);
        let pass = looking.pass_of(&measure);
        view! {
            <li>
                <span><b>{name.clone()}</b>": "{names.join(", ")}</span>
                {pass.map(|href| view! { <a class="button" href=href>"Read"<span class="hidden">" "{name}</span></a> })}
            </li>
        }
    };
    (move || {
        let groups = groups();
        (!groups.is_empty()).then(|| {
            view! {
                <section>
                    <h2>"Read again first"</h2>
                    <p class="quiet">"Later work disturbed these. What to do follows from the new reading."</p>
                    <ul class="points again">{groups.into_iter().map(line).collect_view()}</ul>
                </section>
            }
        })
    })
    .into_any()
}

/// The papers to lay ready, and where none at hand fits.
#[component]
fn PickList(looking: Looking, rows: Memo<Vec<Row>>) -> impl IntoView {
    let length = looking.length;
    (move || {
        let picks = looking.found.with(|f| f.picks.clone());
        let short = picks.iter().any(|p| p.missing > 0);
        let off: Vec<String> = rows.with(|rows| {
            let off = rows.iter().filter(|r| r.stays_off);
            off.map(|r| text::subject(r.on)).collect()
        });
        let line = |p: &papers::Pick| {
            let missing = match p.missing {
                0 => "–".to_owned(),
                n => format!("{n} missing"),
            };
            view! {
                <tr>
                    <th scope="row">{papers::shown(p.thickness, length)}" "{length.symbol()}</th>
                    <td class="num">{p.needed.to_string()}</td>
                    {short.then(|| view! { <td class="num">{missing}</td> })}
                </tr>
            }
        };
        let job = looking.job?;
        (!picks.is_empty()).then(|| {
            view! {
                <section>
                    <h2>"Papers to lay ready"</h2>
                    <table class="table">
                        <thead>
                            <tr>
                                <th scope="col">"Thickness"</th>
                                <th scope="col" class="num">"How many"</th>
                                {short.then(|| view! { <th scope="col" class="num">"From the stock"</th> })}
                            </tr>
                        </thead>
                        <tbody>{picks.iter().map(line).collect_view()}</tbody>
                    </table>
                    {(!off.is_empty()).then(|| view! {
                        <p>"No papers in the stock bring "{off.join(", ")}" into the aim; a thinner or another thickness is missing."</p>
                        <a class="button" href=Route::Setup(job, "papers").href()>"Look at the paper stock"</a>
                    })}
                </section>
            }
        })
    })
    .into_any()
}
