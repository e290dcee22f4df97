//! The target of one measure, for the job, a section or a note.

use evenhand_core::job::{Act, Scope, State, TargetChange};
use evenhand_core::note::{Note, Sections};
use evenhand_core::trade::{Band, Measure, MeasureId, Per, Shape, Target};
use leptos::prelude::*;

use super::bands::Typed;
use crate::device;
use crate::parts::choice::Choice;
use crate::parts::fields::{Fields, Kept, Spec};
use crate::parts::icons::{AWAY, Icon};
use crate::parts::note_select::NoteSelect;
use crate::state::Session;
use crate::text;

/// What the parts of an editor share. Signals only, so it is copied freely.
#[derive(Clone, Copy)]
struct Editor {
    session: Session,
    measure: StoredValue<Measure>,
    scope: RwSignal<Scope>,
    /// The target in force for the scope.
    target: Memo<Option<Target>>,
    /// Whether each limit is typed by itself.
    limits: RwSignal<bool>,
}

pub fn editor(session: Session, measure: StoredValue<Measure>) -> impl IntoView {
    let scope = RwSignal::new(Scope::Job);
    let id = move || measure.with_value(|m| m.id.clone());
    let target = Memo::new(move |_| {
        session
            .app
            .with_state(|s| s.target_of(id().as_str(), scope.get()))
            .flatten()
    });
    let editor = Editor {
        session,
        measure,
        scope,
        target,
        limits: RwSignal::new(target.with_untracked(|t| t.as_ref().is_some_and(is_uneven))),
    };
    let number = measure.with_value(|m| m.kind.is_number());
    let shape = Memo::new(move |_| target.with(|t| t.as_ref().map_or(Shape::Flat, Target::shape)));
    // New fields for another scope, shape or way of typing, which take nothing over from those before; a changed
    // aim only fills its field.
    let which = move || [(shape.get(), scope.get(), editor.limits.get())];
    let fields = move |shape: Shape| match (number, shape) {
        (false, _) => editor.grades().into_any(),
        (true, Shape::Flat) => editor.flat().into_any(),
        (true, Shape::BySection) => editor.by_section().into_any(),
        (true, Shape::Tapered) => editor.tapered().into_any(),
        (true, Shape::ShareOf) => editor.share().into_any(),
    };
    let shapes = move || (number && scope.get() == Scope::Job).then(|| editor.shapes(shape));
    view! {
        {editor.scopes()}
        {shapes}
        <For each=which key=|which| *which let((shape, _, _))>{fields(shape)}</For>
        {editor.standing()}
        {editor.history()}
    }
}

/// Whether some band reaches further to one side than to the other.
fn is_uneven(target: &Target) -> bool {
    let uneven = |band: &Band| band.widths().is_none();
    match target {
        Target::Flat(band) => uneven(band),
        Target::BySection(bands) => bands.iter().any(uneven),
        Target::Tapered(points) => points.iter().any(|(_, band)| uneven(band)),
        Target::ShareOf { .. } => false,
    }
}

/// The bands of a target, one after the other.
fn bands(target: &Target) -> Vec<Band> {
    match target {
        Target::Flat(band) => vec![*band],
        Target::BySection(bands) => bands.clone(),
        Target::Tapered(points) => points.iter().map(|(_, band)| *band).collect(),
        Target::ShareOf { .. } => Vec::new(),
    }
}

// What is asked of all shapes.
impl Editor {
    fn id(self) -> MeasureId {
        self.measure.with_value(|m| m.id.clone())
    }

    fn per(self) -> Per {
        self.measure.with_value(|m| m.per)
    }

    /// Records a target for the scope in hand, where it differs from what stands.
    fn set(self, target: Target) -> Kept {
        if let Err(refused) = target.check() {
            return Kept::No(refused.to_string());
        }
        if self.target.get_untracked().as_ref() != Some(&target) {
            self.record(Some(target));
        }
        Kept::Yes
    }

    fn record(self, target: Option<Target>) {
        self.session.record(Act::Target {
            measure: self.id(),
            scope: self.scope.get_untracked(),
            target,
        });
    }

    /// Uses the way in which bands are typed.
    fn typed<T>(self, with: impl FnOnce(Typed<'_>) -> T) -> T {
        let length = self
            .session
            .app
            .with_state_untracked(|s| s.length_unit())
            .unwrap_or_default();
        let limits = self.limits.get_untracked();
        self.measure.with_value(|measure| {
            with(Typed {
                measure,
                length,
                limits,
            })
        })
    }

    /// A name for fields that belong to this measure and scope.
    fn key(self, what: &str) -> String {
        let scope = match self.scope.get_untracked() {
            Scope::Job => "job".to_owned(),
            Scope::Section(s) => format!("s{s}"),
            Scope::Note(n) => format!("n{}", n.number()),
        };
        format!("{}-{scope}-{what}", self.id())
    }

    fn scopes(self) -> Option<impl IntoView> {
        let chosen = Signal::derive(move || match self.scope.get() {
            Scope::Job => 0,
            Scope::Section(_) => 1,
            Scope::Note(_) => 2,
        });
        let choose = Callback::new(move |at: usize| {
            self.scope.set(match at {
                0 => Scope::Job,
                1 => Scope::Section(0),
                _ => Scope::Note(Note::FIRST),
            });
        });
        let name = self.measure.with_value(|m| format!("scope-{}", m.id));
        let which = move || match self.scope.get() {
            Scope::Job => ().into_any(),
            Scope::Section(at) => self.section_select(at).into_any(),
            Scope::Note(note) => {
                let choose = Callback::new(move |n| self.scope.set(Scope::Note(n)));
                view! { <NoteSelect label="Note" note=Signal::stored(note) choose/> }.into_any()
            }
        };
        // What is read once for the whole has no narrower target, and what is read by section none of a note.
        let words: &[&str] = match self.per() {
            Per::Whole => return None,
            Per::Section => &["Job", "Section"],
            _ => &["Job", "Section", "Note"],
        };
        Some(view! {
            <Choice legend="For" group=name words chosen choose/>
            {which}
        })
    }

    fn section_select(self, chosen: u8) -> impl IntoView {
        let sections = self
            .session
            .app
            .with_state_untracked(|s| s.sections().clone())
            .unwrap_or_default();
        let change = move |event| {
            if let Ok(at) = event_target_value(&event).parse() {
                self.scope.set(Scope::Section(at));
            }
        };
        let options: Vec<_> = (0..sections.count())
            .map(|at| {
                let words = section_name(&sections, at);
                view! { <option value=at.to_string() selected=at == usize::from(chosen)>{words}</option> }
            })
            .collect();
        view! {
            <label class="field"><span>"Section"</span><select on:change=change>{options}</select></label>
        }
    }

    fn shapes(self, shape: Memo<Shape>) -> Option<impl IntoView> {
        let chosen = Signal::derive(move || {
            let shape = shape.get();
            Shape::ALL.iter().position(|s| *s == shape).unwrap_or(0)
        });
        let choose = Callback::new(move |at: usize| {
            let wanted = Shape::ALL.get(at).copied().unwrap_or(Shape::Flat);
            let id = self.id();
            let target = self
                .session
                .app
                .with_state_untracked(|s| s.target_as(id.as_str(), wanted))
                .flatten();
            match target {
                Some(target) => drop(self.set(target)),
                None => self
                    .session
                    .app
                    .notify("There is no aim yet that this could start from. Set one first."),
            }
        });
        let name = self.measure.with_value(|m| format!("shape-{}", m.id));
        let words: &[&str] = match self.per() {
            Per::Whole => return None,
            Per::Section => &["The same", "By section"],
            _ => &["The same", "By section", "Tapered", "A share"],
        };
        Some(view! {
            <Choice legend="Over the notes" group=name words chosen choose/>
        })
    }

    /// The fields of one of the bands; `keep` makes the new target of the band that was typed.
    fn band_fields(
        self,
        what: String,
        legend: String,
        at: usize,
        keep: impl Fn(Band) -> Target + Send + Sync + 'static,
    ) -> impl IntoView {
        let specs = self.typed(|t| t.specs());
        let now = Signal::derive(move || {
            let band = self.target.with(|t| {
                let bands = t.as_ref().map(bands).unwrap_or_default();
                bands.get(at).or(bands.last()).copied()
            });
            self.typed(|t| t.texts(band.as_ref()))
        });
        let keep = Callback::new(move |(texts, sure): (Vec<String>, bool)| {
            match self.typed(|t| t.read(&texts, sure)) {
                Ok(band) => self.set(keep(band)),
                Err(kept) => kept,
            }
        });
        view! { <Fields key=self.key(&what) legend specs now keep/> }
    }

    fn flat(self) -> impl IntoView {
        view! {
            {self.band_fields("flat".to_owned(), String::new(), 0, Target::Flat)}
            {self.limits_key()}
        }
    }

    /// Turns between an aim with its widths and limits one by one.
    fn limits_key(self) -> impl IntoView {
        let words = match self.limits.get_untracked() {
            true => "Even on both sides",
            false => "Each limit by itself",
        };
        view! {
            <button class="button" type="button" on:click=move |_| self.limits.update(|l| *l = !*l)>{words}</button>
        }
    }

    fn by_section(self) -> impl IntoView {
        let sections = self
            .session
            .app
            .with_state_untracked(|s| s.sections().clone())
            .unwrap_or_default();
        let count = sections.count();
        let fields: Vec<_> = (0..count)
            .map(|at| {
                let keep = move |band: Band| {
                    let mut all = self
                        .target
                        .with_untracked(|t| t.as_ref().map(bands))
                        .unwrap_or_default();
                    let last = all.last().copied().unwrap_or(band);
                    all.resize(count.max(all.len()), last);
                    all[at] = band;
                    Target::BySection(all)
                };
                self.band_fields(
                    format!("section-{at}"),
                    section_name(&sections, at),
                    at,
                    keep,
                )
            })
            .collect();
        view! { {fields} {self.limits_key()} }
    }

    fn points(self) -> Vec<(Note, Band)> {
        match self.target.get_untracked() {
            Some(Target::Tapered(points)) => points,
            _ => Vec::new(),
        }
    }

    fn tapered(self) -> impl IntoView {
        let notes = Memo::new(move |_| match self.target.get() {
            Some(Target::Tapered(points)) => points.iter().map(|(note, _)| *note).collect(),
            _ => Vec::new(),
        });
        let fields = move || {
            let notes: Vec<Note> = notes.get();
            let alone = notes.len() < 2;
            let point = |note: Note| self.point(note, alone);
            notes.into_iter().map(point).collect_view()
        };
        view! {
            {fields}
            {self.new_point()}
            {self.limits_key()}
        }
    }

    /// One point of a taper, named by its note.
    fn point(self, note: Note, alone: bool) -> impl IntoView {
        let at = self
            .points()
            .iter()
            .position(|(n, _)| *n == note)
            .unwrap_or(0);
        let keep = move |band: Band| {
            let mut points = self.points();
            for point in &mut points {
                if point.0 == note {
                    point.1 = band;
                }
            }
            Target::Tapered(points)
        };
        let away = move |_| {
            let mut points = self.points();
            points.retain(|(n, _)| *n != note);
            drop(self.set(Target::Tapered(points)));
        };
        let label = format!("Take out the point at {note}");
        let out = (!alone).then(|| view! { <button class="tool" type="button" aria-label=label on:click=away><Icon path=AWAY/></button> });
        view! {
            <div class="point">
                {self.band_fields(format!("point-{}", note.number()), format!("At {note}"), at, keep)}
                {out}
            </div>
        }
    }

    fn new_point(self) -> impl IntoView {
        let mut specs = vec![Spec::words("Note")];
        specs.extend(self.typed(|t| t.specs()));
        let empty = vec![String::new(); specs.len()];
        let keep = Callback::new(move |(texts, sure): (Vec<String>, bool)| {
            let note: Note = match texts[0].parse() {
                Ok(note) => note,
                Err(error) => return Kept::No(format!("{error}")),
            };
            match self.typed(|t| t.read(&texts[1..], sure)) {
                Ok(band) => {
                    let mut points = self.points();
                    points.push((note, band));
                    points.sort_by_key(|(n, _)| *n);
                    self.set(Target::Tapered(points))
                }
                Err(kept) => kept,
            }
        });
        view! {
            <Fields key=self.key("point") legend="Another point" specs now=Signal::stored(empty) keep button="Add"/>
        }
    }

    fn share(self) -> impl IntoView {
        let id = self.id();
        let others = self
            .session
            .app
            .with_state_untracked(|s| s.shares(id.as_str()))
            .unwrap_or_default();
        let share = move || match self.target.get() {
            Some(Target::ShareOf {
                of,
                percent,
                within,
                accept,
            }) => Some((of, percent, within, accept)),
            _ => None,
        };
        let now = Signal::derive(move || {
            let Some((_, percent, within, accept)) = share() else {
                return vec![String::new(); 3];
            };
            let widths = self.typed(|t| t.texts(Some(&Band::even(0, within, accept))));
            vec![percent.to_string(), widths[1].clone(), widths[2].clone()]
        });
        let keep = Callback::new(move |(texts, _): (Vec<String>, bool)| {
            let (Some((of, ..)), Ok(percent)) = (
                untrack(share),
                texts[0].trim().trim_end_matches('%').trim_end().parse(),
            ) else {
                return Kept::No("A share is a whole number of per cent, such as 50.".to_owned());
            };
            let zero = ["0".to_owned(), texts[1].clone(), texts[2].clone()];
            match self
                .typed(|t| t.read(&zero, true))
                .map(|band| band.widths())
            {
                Ok(Some((within, accept))) => self.set(Target::ShareOf {
                    of,
                    percent,
                    within,
                    accept,
                }),
                Ok(None) => Kept::No("What may stay is as wide above as below.".to_owned()),
                Err(kept) => kept,
            }
        });
        let names: Vec<_> = others
            .iter()
            .map(|m| {
                let id = m.id.clone();
                let chosen = move || share().is_some_and(|(of, ..)| of == id);
                view! { <option value=m.id.to_string() prop:selected=chosen>{m.name.to_string()}</option> }
            })
            .collect();
        let change = move |event| {
            if let Some((_, percent, within, accept)) = untrack(share) {
                let of = MeasureId::from(event_target_value(&event).as_str());
                drop(self.set(Target::ShareOf {
                    of,
                    percent,
                    within,
                    accept,
                }));
            }
        };
        let mut specs = self.typed(|t| t.specs());
        specs.truncate(3);
        specs[0] = Spec::number("Share", "%");
        view! {
            <label class="field"><span>"Of the reading of the same note"</span><select on:change=change>{names}</select></label>
            <Fields key=self.key("share") specs now keep/>
        }
    }

    /// Which answer is wanted, and which may stay.
    fn grades(self) -> impl IntoView {
        let band = Memo::new(move |_| {
            self.target
                .with(|t| t.as_ref().and_then(|t| bands(t).first().copied()))
        });
        let words = self.measure.with_value(|m| m.grades.clone());
        // What may stay reaches from the wanted answer outwards, so nothing can be chosen that is refused.
        let select = |label: &'static str, side: usize| {
            let of = move |b: &Band| [Some(b.aim), b.accept.0, b.accept.1][side];
            let allowed = move |b: &Band, at: i64| [true, at <= b.aim, b.aim <= at][side];
            let options: Vec<_> = words
                .iter()
                .enumerate()
                .map(|(place, word)| {
                    let at = place as i64;
                    let chosen = move || band.get().as_ref().and_then(of) == Some(at);
                    let closed = move || band.get().is_some_and(|b| !allowed(&b, at));
                    view! { <option value=at.to_string() prop:selected=chosen disabled=closed>{word.to_string()}</option> }
                })
                .collect();
            let change = move |event| {
                let read = event_target_value(&event).parse::<i64>();
                if let (Some(band), Ok(at)) = (band.get_untracked(), read) {
                    drop(self.set(Target::Flat(with_answer(band, side, at))));
                }
            };
            view! {
                <label class="field"><span>{label}</span><select on:change=change>{options}</select></label>
            }
        };
        view! {
            <div class="selects">
                {select("Wanted", 0)} {select("May stay from", 1)} {select("to", 2)}
            </div>
        }
    }

    /// What follows from the target, where the default comes from, and the way back to it.
    fn standing(self) -> impl IntoView {
        let session = self.session;
        let out = move || {
            let id = self.id();
            match session
                .app
                .with_state(|s| s.out_now(id.as_str()))
                .unwrap_or_default()
            {
                (0, _) if matches!(id.as_str(), "balance_weight" | "friction") => {
                    "It follows from down and up weight; the profile shows it.".to_owned()
                }
                (0, _) => "No reading of the work stands against it yet.".to_owned(),
                (read, 0) => format!("None of the {read} read is out."),
                (read, out) => format!("{out} of the {read} read are out."),
            }
        };
        let default = session.app.with_state_untracked(|s| {
            let id = self.id();
            let trade = s.measure(id.as_str())?.target.as_ref()?;
            Some(text::target(s, id.as_str(), Some(trade), s.length_unit()))
        });
        let source = self.measure.with_value(|m| m.source);
        let default = match (default.flatten(), source) {
            (Some(target), Some(source)) => format!("Default: {target}. {source}."),
            (Some(target), None) => format!("Default: {target}."),
            (None, _) => "There is no default; it is your figure.".to_owned(),
        };
        let set = move || {
            let id = self.id();
            session
                .app
                .with_state(|s| s.target_set(id.as_str(), self.scope.get()).is_some())
                == Some(true)
        };
        let back = move || {
            let words = match self.scope.get() {
                Scope::Job => "Back to the default",
                Scope::Section(_) => "Back to the job’s target",
                Scope::Note(_) => "Back to the wider target",
            };
            set().then(|| view! {
                <button class="button" type="button" on:click=move |_| self.record(None)>{words}</button>
            })
        };
        view! {
            <p role="status">{out}</p>
            <p class="quiet">{default}</p>
            {back}
        }
    }

    fn history(self) -> impl IntoView {
        let session = self.session;
        let rows = move || {
            let id = self.id();
            let row = |s: &State, c: &TargetChange| {
                let target = text::target(s, id.as_str(), c.target.as_ref(), s.length_unit());
                let back = if c.is_alive() { "" } else { ", taken back" };
                let when = device::day_and_time(c.at_ms);
                let about = format!("{}, {when}{back}", text::scope(c.scope));
                view! { <li><span>{target} <small>{about}</small></span></li> }
            };
            let all = |s: &State| -> Vec<_> {
                let history = s.target_history(id.as_str());
                history.iter().rev().map(|c| row(s, c)).collect()
            };
            let rows = session.app.with_state(all).unwrap_or_default();
            (!rows.is_empty())
                .then(|| view! { <h3>"Changes so far"</h3><ul class="rows">{rows}</ul> })
        };
        view! { {rows} }
    }
}

/// The band of a grade with another answer: the one that is wanted (0), the lowest (1) or the
/// highest (2) that may stay.
fn with_answer(mut band: Band, side: usize, at: i64) -> Band {
    match side {
        0 => {
            band.aim = at;
            band.within = (Some(at), Some(at));
            band.accept = (
                band.accept.0.map(|low| low.min(at)),
                band.accept.1.map(|high| high.max(at)),
            );
        }
        1 => band.accept.0 = Some(at),
        _ => band.accept.1 = Some(at),
    }
    band
}

/// A section with its ends: `Section 2, F2 to C5`.
fn section_name(sections: &Sections, at: usize) -> String {
    match sections.ends(at) {
        Some((low, high)) => format!("Section {}, {low} to {high}", at + 1),
        None => format!("Section {}", at + 1),
    }
}
