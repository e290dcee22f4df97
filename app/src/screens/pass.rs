use std::collections::HashMap;

use evenhand_core::job::{Act, Item, ItemState, State, Subject};
use evenhand_core::note::Note;
use evenhand_core::trade::{Measure, Step, StepId};
use evenhand_core::unit::{LengthUnit, Value};
use leptos::prelude::*;

use crate::desk::{Desk, desk};
use crate::device;
use crate::parts::gate::Gate;
use crate::parts::header::{Header, Saved};
use crate::parts::icons::{Icon, SHEET};
use crate::parts::pad::{Key, Pad};
use crate::parts::strip::{Bar, Strip, bars};
use crate::place::Screen;
use crate::screens::pass::sheet::Sheet;
use crate::store::prefs;
use crate::words;

mod keys;
mod sheet;

/// The main screen: one step through the notes.
#[component]
pub fn Pass(step: StepId) -> impl IntoView {
    view! {
        <Gate>
            <PassOfJob id=step.clone()/>
        </Gate>
    }
}

#[component]
fn PassOfJob(id: StepId) -> impl IntoView {
    let desk = desk();
    let step = desk
        .open
        .with_untracked(|o| o.as_ref()?.job.state().step(id.as_str()));
    match step {
        Some(step) => view! { <PassOfStep step/> }.into_any(),
        None => {
            let back = desk
                .screen
                .with_untracked(|s| s.job())
                .map(|id| Screen::Order(id).href());
            view! {
                <Header back=back.unwrap_or_default() title=Signal::stored("Pass".to_owned())/>
                <main class="page"><p>"This step is not in the order of the job. Choose another from the order."</p></main>
            }
                .into_any()
        }
    }
}

/// The order in which a pass goes through the notes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum NoteOrder {
    /// From the bass up.
    #[default]
    Up,
    /// From the treble down.
    Down,
    /// The naturals, then the sharps.
    NaturalsFirst,
    /// The sample notes.
    Samples,
    /// Those that were out when it was chosen.
    OnlyOut,
    /// Those that were disturbed when it was chosen.
    OnlyAgain,
}

/// A pass that is under way. Signals only, so it is copied freely.
#[derive(Clone, Copy)]
pub struct Walk {
    desk: Desk,
    step: StoredValue<Step>,
    /// The items in the order they are gone through.
    items: RwSignal<Vec<Item>>,
    /// The place in `items`; past the last, the pass is through.
    at: RwSignal<usize>,
    /// What is typed and not entered.
    typed: RwSignal<String>,
    /// A value that is asked about, because it is not plausible.
    asked: RwSignal<Option<(Value, String)>>,
    /// Why what was typed was refused.
    refused: RwSignal<String>,
    /// Whether the sheet is open.
    sheet: RwSignal<bool>,
    order: RwSignal<NoteOrder>,
}

/// What is shown of the item in hand.
#[derive(Clone, PartialEq)]
struct InHand {
    on: Subject,
    name: String,
    more: String,
    measure: Measure,
    value: Option<Value>,
    verdict: Option<(String, &'static str)>,
    found: Option<Value>,
    cause: Option<String>,
    other: Option<String>,
    target: String,
}

impl Walk {
    fn new(desk: Desk, step: Step, items: Vec<Item>, at: usize) -> Walk {
        Walk {
            desk,
            step: StoredValue::new(step),
            items: RwSignal::new(items),
            at: RwSignal::new(at),
            typed: RwSignal::new(String::new()),
            asked: RwSignal::new(None),
            refused: RwSignal::new(String::new()),
            sheet: RwSignal::new(false),
            order: RwSignal::new(NoteOrder::Up),
        }
    }

    fn item(self) -> Option<Item> {
        let at = self.at.get();
        self.items.with(|items| items.get(at).cloned())
    }

    fn item_untracked(self) -> Option<Item> {
        let at = self.at.get_untracked();
        self.items.with_untracked(|items| items.get(at).cloned())
    }

    /// Goes to a place of the list; what was typed there is put away.
    fn go(self, at: usize) {
        self.typed.set(String::new());
        self.asked.set(None);
        self.refused.set(String::new());
        let most = self.items.with_untracked(Vec::len);
        self.at.set(at.min(most));
        let job = self.desk.screen.with_untracked(|s| s.job());
        // Only the whole list has places that mean the same the next time.
        if let (Some(job), NoteOrder::Up) = (job, self.order.get_untracked()) {
            self.step
                .with_value(|s| prefs::keep_pass_place(job, s.id.as_str(), at.min(most)));
        }
    }

    fn step_by(self, by: isize) {
        self.go(self.at.get_untracked().saturating_add_signed(by));
    }

    /// Goes to a note, or to the nearest one that the pass takes; of the measure in hand where several are read.
    fn go_to(self, note: Note) {
        let measure = self.item_untracked().map(|i| i.measure);
        let nearest = self.items.with_untracked(|items| {
            let mut places = items.iter().enumerate().filter_map(|(at, item)| {
                let own = item.on.note()?;
                let same = measure.as_ref().is_none_or(|m| *m == item.measure);
                same.then_some((own.number().abs_diff(note.number()), at))
            });
            let first = places.next()?;
            Some(places.fold(first, |a, b| if b.0 < a.0 { b } else { a }).1)
        });
        if let Some(at) = nearest {
            self.go(at);
        }
    }

    /// Enters a value for the item in hand and goes on; asks once where it is not plausible.
    fn enter(self, value: Value, typed: String) {
        let desk = self.desk;
        let Some(item) = self.item_untracked() else {
            return;
        };
        let measure = self
            .desk
            .look_once(|s| s.measure(item.measure.as_str()))
            .flatten();
        let sure = self
            .asked
            .with_untracked(|a| a.as_ref().is_some_and(|a| a.0 == value));
        if !sure && measure.is_some_and(|m| !m.believes(value)) {
            self.asked.set(Some((value, typed)));
            return;
        }
        let (place, occasion) = self.step.with_value(|step| {
            let now = self
                .desk
                .look_once(State::place)
                .unwrap_or(evenhand_core::trade::Place::Bench);
            (step.place_or(now), step.occasion())
        });
        desk.take(|job| {
            let (measure, device, now) = (item.measure.clone(), desk.device(), device::now_ms());
            job.reading(
                device, now, measure, item.on, place, occasion, value, &typed,
            )
        });
        self.step_by(1);
    }

    /// Enters what is typed.
    fn enter_typed(self) {
        let typed = self.typed.get_untracked();
        if let Some((value, typed)) = self.asked.get_untracked() {
            return self.enter(value, typed);
        }
        let Some(item) = self.item_untracked() else {
            return;
        };
        let read = self.desk.look_once(|s| {
            let measure = s.measure(item.measure.as_str())?;
            Some(measure.read_typed(&typed, s.length_unit()))
        });
        match read.flatten() {
            Some(Ok(value)) => self.enter(value, typed),
            Some(Err(error)) => self.refused.set(error.to_string()),
            None => {}
        }
    }

    /// Does what a key of the pad says.
    fn press(self, key: Key) {
        match key {
            Key::Enter => self.enter_typed(),
            Key::Undo => self.undo(),
            Key::Answer(value) => {
                let shown = self.item_untracked().and_then(|item| {
                    self.desk
                        .look_once(|s| {
                            Some(
                                s.measure(item.measure.as_str())?
                                    .shown(value, s.length_unit()),
                            )
                        })
                        .flatten()
                });
                self.enter(value, shown.unwrap_or_default());
            }
            key => {
                self.asked.set(None);
                self.refused.set(String::new());
                self.typed.update(|typed| edit(typed, &key));
            }
        }
    }

    /// What is typed goes first; then the last thing done is taken back, and shown.
    fn undo(self) {
        if self.asked.with_untracked(Option::is_some)
            || self.typed.with_untracked(|t| !t.is_empty())
        {
            self.typed.set(String::new());
            self.asked.set(None);
            return;
        }
        let Some(act) = self.desk.undo() else {
            return self
                .refused
                .set("There is nothing to take back.".to_owned());
        };
        if let Act::Reading { measure, on, .. } = act {
            let back = self.items.with_untracked(|items| {
                items
                    .iter()
                    .position(|i| i.measure == measure && i.on == on)
            });
            if let Some(at) = back {
                self.go(at);
            }
        }
    }

    /// Arranges the items anew, and begins at the first that is not read.
    fn arrange(self, order: NoteOrder) {
        self.order.set(order);
        let step = self.step.get_value();
        let items = self
            .desk
            .look_once(|s| arranged(s, &step, order))
            .unwrap_or_default();
        let at = self
            .desk
            .look_once(|s| first_unread(s, &step, &items))
            .unwrap_or(0);
        self.items.set(items);
        self.go(at);
    }
}

/// One key's change of what is typed.
fn edit(typed: &mut String, key: &Key) {
    const LONGEST: usize = 12;
    match key {
        Key::Erase => {
            typed.pop();
        }
        Key::Type('-') => match typed.strip_prefix('-') {
            Some(rest) => *typed = rest.to_owned(),
            None => typed.insert(0, '-'),
        },
        Key::Type('.') if typed.contains(['.', '/', ' ']) => {}
        Key::Type(c) if typed.len() < LONGEST => typed.push(*c),
        Key::Fraction => match typed.split_once('/') {
            Some((above, below)) => {
                let next = match below {
                    "16" => "32",
                    "32" => "64",
                    "64" => "8",
                    _ => "16",
                };
                *typed = format!("{above}/{next}");
            }
            // `1.3` and then the fraction key is 1 3/16.
            None if !typed.is_empty() => *typed = format!("{}/16", typed.replace('.', " ")),
            None => {}
        },
        _ => {}
    }
}

fn arranged(state: &State, step: &Step, order: NoteOrder) -> Vec<Item> {
    let mut items = state.items(step);
    match order {
        NoteOrder::Up => {}
        // Measure by measure still, each from the treble.
        NoteOrder::Down => {
            items.reverse();
            items.sort_by_key(|i| step.takes.iter().position(|m| *m == i.measure));
        }
        NoteOrder::NaturalsFirst => items.sort_by_key(|i| {
            let measure = step.takes.iter().position(|m| *m == i.measure);
            (measure, i.on.note().is_some_and(Note::is_sharp))
        }),
        NoteOrder::Samples => {
            let samples = state.samples();
            items.retain(|i| i.on.note().is_none_or(|n| samples.contains(&n)));
        }
        NoteOrder::OnlyOut => items.retain(|i| state.item_state(step, i).is_out()),
        NoteOrder::OnlyAgain => {
            items.retain(|i| matches!(state.item_state(step, i), ItemState::Again(..)));
        }
    }
    items
}

fn first_unread(state: &State, step: &Step, items: &[Item]) -> usize {
    let unread = |i: &Item| !matches!(state.item_state(step, i), ItemState::Read(..));
    items.iter().position(unread).unwrap_or(items.len())
}

#[component]
fn PassOfStep(step: Step) -> impl IntoView {
    let desk = desk();
    let job = desk.screen.with_untracked(|s| s.job());
    let walk = begin(desk, &step);
    let id = step.id.clone();
    desk.record(Act::PassOpened { step: id.clone() });
    on_cleanup(move || desk.record(Act::PassClosed { step: id.clone() }));
    keys::follow(walk);

    let in_hand = Memo::new(move |_| {
        let item = walk.item()?;
        desk.look(|s| walk.step.with_value(|step| in_hand(s, step, &item)))?
    });
    let title = Signal::stored(step.name.to_string());
    let line = Signal::derive(move || {
        in_hand.with(|h| h.as_ref().map(|h| h.target.clone()).unwrap_or_default())
    });
    let back = job.map(|id| Screen::Order(id).href()).unwrap_or_default();
    let through = Memo::new(move |_| walk.at.get() >= walk.items.with(Vec::len));
    view! {
        <div class="pass">
            <Header back back_label="Back to the order" title line>
                <Saved/>
                <button class="tool" type="button" aria-label="About this step" on:click=move |_| walk.sheet.set(true)>
                    <Icon path=SHEET/>
                </button>
            </Header>
            <main class="read" tabindex="0" on:pointerdown=swipe_from() on:pointerup=swipe_to(walk)>
                <Show when=move || !through.get() fallback=move || view! { <Through walk/> }>
                    <Reading walk in_hand/>
                </Show>
            </main>
            <StripOfPass walk in_hand/>
            <Show when=move || !through.get()>
                <PadOfPass walk in_hand/>
            </Show>
            <Show when=move || walk.sheet.get()>
                <Sheet walk/>
            </Show>
        </div>
    }
}

/// A walk through a step: of the disturbed readings where there are any, else of all, at
/// the place where it was left or at the first that is not read.
fn begin(desk: Desk, step: &Step) -> Walk {
    let again = desk
        .look_once(|s| arranged(s, step, NoteOrder::OnlyAgain))
        .unwrap_or_default();
    if !again.is_empty() {
        let walk = Walk::new(desk, step.clone(), again, 0);
        walk.order.set(NoteOrder::OnlyAgain);
        return walk;
    }
    let items = desk.look_once(|s| s.items(step)).unwrap_or_default();
    let job = desk.screen.with_untracked(|s| s.job());
    let left = job.and_then(|j| prefs::pass_place(j, step.id.as_str()));
    let unread = |at: &usize| {
        let state = |s: &State| {
            let item = items.get(*at)?;
            Some(!matches!(s.item_state(step, item), ItemState::Read(..)))
        };
        desk.look_once(state).flatten() == Some(true)
    };
    let first = || {
        desk.look_once(|s| first_unread(s, step, &items))
            .unwrap_or(0)
    };
    let at = left.filter(unread).unwrap_or_else(first);
    Walk::new(desk, step.clone(), items, at)
}

fn in_hand(state: &State, step: &Step, item: &Item) -> Option<InHand> {
    let id = item.measure.as_str();
    let measure = state.measure(id)?;
    let length = state.length_unit();
    let stands = state.item_state(step, item);
    let value = stands.reading().map(|r| r.value);
    let verdict = value.zip(stands.judged()).map(|(value, judged)| {
        let tone = match judged.verdict {
            evenhand_core::trade::Verdict::OnAim => "in",
            evenhand_core::trade::Verdict::Accepted => "near",
            evenhand_core::trade::Verdict::Out => "out",
        };
        (words::verdict(&measure, &judged, value, length), tone)
    });
    let place = step.place_or(state.place());
    let slot = state.slot(id, item.on, place);
    let found = slot
        .and_then(|s| s.of(evenhand_core::trade::Occasion::AsFound))
        .map(|r| r.value)
        .filter(|v| Some(*v) != value);
    let other = slot.and_then(|s| s.others().first().map(|r| measure.shown(r.value, length)));
    let cause = match &stands {
        ItemState::Again(.., cause) => Some(words::cause(state, &measure, cause)),
        _ => None,
    };
    let target = state
        .band(id, item.on)
        .map(|b| words::band(&measure, &b, length));
    Some(InHand {
        on: item.on,
        name: words::subject(item.on),
        more: words::subject_more(item.on, state),
        target: match (step.takes.len(), target) {
            (1, target) => target.unwrap_or_default(),
            (_, Some(target)) => format!("{}: {target}", measure.name),
            (_, None) => measure.name.to_string(),
        },
        value,
        verdict,
        found,
        cause,
        other: other.map(|o| {
            format!(
                "The other phone read {o}. The later reading counts; read it again to settle it."
            )
        }),
        measure,
    })
}

fn length() -> Signal<LengthUnit> {
    let desk = desk();
    Signal::derive(move || desk.look(State::length_unit).unwrap_or_default())
}

/// The note, large; what is typed or was read; the verdict in a word; why it must be read again.
#[component]
fn Reading(walk: Walk, in_hand: Memo<Option<InHand>>) -> impl IntoView {
    let length = length();
    let of = move |read: fn(&InHand) -> String| {
        in_hand.with(|h| h.as_ref().map(read).unwrap_or_default())
    };
    let big = move || {
        let typed = walk.typed.get();
        in_hand.with(|h| {
            let Some(h) = h else { return String::new() };
            if !typed.is_empty() {
                return h.measure.pointed(&typed, length.get());
            }
            h.value
                .map(|v| h.measure.shown(v, length.get()))
                .unwrap_or_default()
        })
    };
    let unit = move || {
        in_hand.with(|h| {
            h.as_ref()
                .map_or("", |h| words::unit(&h.measure, length.get()))
        })
    };
    let is_long = move || in_hand.with(|h| h.as_ref().is_some_and(|h| h.name.chars().count() > 4));
    let typing = move || walk.typed.with(|t| !t.is_empty());
    let was = move || {
        in_hand.with(|h| {
            let h = h.as_ref()?;
            if typing() {
                let value = h.value?;
                return Some(format!("was {}", h.measure.shown(value, length.get())));
            }
            let found = h.found?;
            Some(format!("found {}", h.measure.shown(found, length.get())))
        })
    };
    let verdict = move || {
        in_hand.with(|h| {
            let (words, tone) = h.as_ref()?.verdict.clone()?;
            (!typing()).then(|| view! { <span class=format!("verdict {tone}")>{words}</span> })
        })
    };
    let message = move || {
        let refused = walk.refused.get();
        if !refused.is_empty() {
            return view! { <p class="message refused">{refused}</p> }.into_any();
        }
        if let Some((value, _)) = walk.asked.get() {
            return view! { <Ask walk value in_hand/> }.into_any();
        }
        let more = in_hand.with(|h| {
            let h = h.as_ref()?;
            h.cause.clone().or_else(|| h.other.clone())
        });
        match more {
            Some(words) => view! { <p class="message again">{words}</p> }.into_any(),
            None => ().into_any(),
        }
    };
    view! {
        <div class="note" aria-live="polite">
            <span class="note-name" class:long=is_long>{move || of(|h| h.name.clone())}</span>
            <small>{move || of(|h| h.more.clone())}</small>
        </div>
        <div class="value" class:typing=typing>
            <output aria-label="Reading">{big}</output>
            <small>{unit}</small>
        </div>
        <p class="was">{was}</p>
        <p class="said" aria-live="polite">{verdict}</p>
        <div class="message-place" role="alert">{message}</div>
    }
}

/// The one question about a reading outside its plausible range.
#[component]
fn Ask(walk: Walk, value: Value, in_hand: Memo<Option<InHand>>) -> impl IntoView {
    let words = in_hand.with_untracked(|h| {
        let h = h.as_ref()?;
        let length = length().get_untracked();
        let asked = h.measure.shown(value, length);
        let unit = words::unit(&h.measure, length);
        // A slip of the unit shows best in millimetres.
        let plain = match (value.length(), length) {
            (Some(_), LengthUnit::Inch) => {
                format!(
                    ", that is {} mm",
                    h.measure.shown(value, LengthUnit::Millimetre)
                )
            }
            _ => String::new(),
        };
        let (low, high) = h.measure.plausible?;
        let shown = |base| {
            h.measure
                .shown(Value::from_base(h.measure.kind, base), length)
        };
        Some(format!(
            "{asked} {unit}{plain}? Usual is {} to {}.",
            shown(low),
            shown(high)
        ))
    });
    view! {
        <div class="message ask">
            <p>{words}</p>
            <button class="button" type="button" on:click=move |_| walk.press(Key::Undo)>"No"</button>
            <button class="button" type="button" on:click=move |_| walk.press(Key::Enter)>"Keep it"</button>
        </div>
    }
}

#[component]
fn StripOfPass(walk: Walk, in_hand: Memo<Option<InHand>>) -> impl IntoView {
    let desk = desk();
    let measure = Memo::new(move |_| in_hand.with(|h| h.as_ref().map(|h| h.measure.id.clone())));
    let items = Memo::new(move |_| {
        let all = desk.look(|s| walk.step.with_value(|step| s.items(step)));
        let mut all = all.unwrap_or_default();
        let measure = measure
            .get()
            .or_else(|| all.last().map(|i| i.measure.clone()));
        all.retain(|i| Some(&i.measure) == measure.as_ref());
        all
    });
    let bars = Memo::new(move |_| {
        let of = |s: &State| {
            walk.step
                .with_value(|step| items.with(|items| bars(s, step, items)))
        };
        desk.look(of).unwrap_or_default()
    });
    let current = Memo::new(move |_| in_hand.with(|h| h.as_ref().and_then(|h| h.on.note())));
    let caption = Memo::new(move |_| {
        let of = |s: &State| {
            walk.step
                .with_value(|step| items.with(|items| counted(s, step, items)))
        };
        desk.look(of).unwrap_or_default()
    });
    let by_note = Memo::new(move |_| bars.with(|b: &HashMap<u8, Bar>| !b.is_empty()));
    let breaks = desk
        .look_once(|s| s.sections().breaks().to_vec())
        .unwrap_or_default();
    view! {
        <section class="picture" aria-label="The notes of this step">
            <Show when=move || by_note.get()>
                <Strip bars current breaks=breaks.clone() label=caption.into() travel=Callback::new(move |n| walk.go_to(n))/>
            </Show>
            <p class="caption">
                <span>{move || by_note.get().then_some("A0")}</span>
                <span>{caption}</span>
                <span>{move || by_note.get().then_some("C8")}</span>
            </p>
        </section>
    }
}

/// How the step stands: `40 of 88 read, 5 out, 3 to read again`.
fn counted(state: &State, step: &Step, items: &[Item]) -> String {
    let (mut read, mut out, mut again) = (0, 0, 0);
    for item in items {
        match state.item_state(step, item) {
            ItemState::NotRead => {}
            ItemState::Again(..) => again += 1,
            stands => {
                read += 1;
                out += usize::from(stands.is_out());
            }
        }
    }
    let mut words = format!("{read} of {} read", items.len());
    if out > 0 {
        words += &format!(", {out} out");
    }
    if again > 0 {
        words += &format!(", {again} to read again");
    }
    words
}

#[component]
fn PadOfPass(walk: Walk, in_hand: Memo<Option<InHand>>) -> impl IntoView {
    let desk = desk();
    let length = length();
    let fallback = Measure::new(
        "",
        "",
        evenhand_core::unit::Kind::Tick,
        evenhand_core::trade::Per::Whole,
    );
    let measure = Memo::new(move |last: Option<&Measure>| {
        let now = in_hand.with(|h| h.as_ref().map(|h| h.measure.clone()));
        now.unwrap_or_else(|| last.cloned().unwrap_or_else(|| fallback.clone()))
    });
    let next = Signal::derive(move || {
        let at = walk.at.get() + 1;
        walk.items.with(|items| match items.get(at) {
            Some(item) => format!("next {}", words::subject(item.on)),
            None => "the last one".to_owned(),
        })
    });
    let chips = Memo::new(move |_| {
        let Some(item) = walk.item() else {
            return Vec::new();
        };
        desk.open
            .with(|o| {
                o.as_ref().map(|o| {
                    chips(
                        o.job.state(),
                        &measure.get(),
                        &item,
                        length.get(),
                        o.job.log().entries(),
                    )
                })
            })
            .unwrap_or_default()
    });
    view! { <Pad measure=measure length chips=chips next press=Callback::new(move |key| walk.press(key))/> }
}

/// The target and the last two values entered, one tap each.
fn chips(
    state: &State,
    measure: &Measure,
    item: &Item,
    length: LengthUnit,
    entries: &[evenhand_core::job::Entry],
) -> Vec<(String, Value)> {
    let mut chips = Vec::new();
    if let Some(band) = state.band(item.measure.as_str(), item.on) {
        let aim = Value::from_base(measure.kind, band.aim);
        chips.push((format!("On target {}", measure.shown(aim, length)), aim));
    }
    // Only the latest entries are looked at, so that the cost does not grow with the job.
    const LOOKED_AT: usize = 24;
    for entry in entries.iter().rev().take(LOOKED_AT) {
        if let Act::Reading {
            measure: id, value, ..
        } = &entry.act
        {
            let known = chips.iter().any(|(_, v)| v == value);
            if *id == item.measure && !known && state.is_alive(entry.id) && chips.len() < 3 {
                chips.push((measure.shown(*value, length), *value));
            }
        }
    }
    chips
}

/// After the last: what is out, what was disturbed, what is next.
#[component]
fn Through(walk: Walk) -> impl IntoView {
    let desk = desk();
    let job = desk.screen.with_untracked(|s| s.job());
    let stands = Memo::new(move |_| {
        let now_ms = desk.now_ms.get();
        desk.open.with(|o| {
            let state = o.as_ref()?.job.state();
            let all = state.progress(now_ms);
            let own = walk.step.with_value(|s| s.id.clone());
            let progress = all
                .iter()
                .find(|(s, _)| s.id == own)
                .map(|(_, p)| p.clone())?;
            let next = state.now(&all, now_ms).into_iter().find(|n| n.step != own);
            let next = next.and_then(|n| {
                all.iter()
                    .find(|(s, _)| s.id == n.step)
                    .map(|(s, _)| (s.id.clone(), s.name.to_string()))
            });
            Some((progress, next))
        })
    });
    let words = move || {
        stands.with(|s| {
            let Some((p, _)) = s else {
                return String::new();
            };
            let left = p.left() - p.again;
            let mut words = vec![format!("{} of {} read", p.read, p.expected)];
            if left > 0 {
                words.push(format!("{left} not read"));
            }
            words.push(if p.out == 0 {
                "none out".to_owned()
            } else {
                format!("{} out", p.out)
            });
            if p.again > 0 {
                words.push(format!("{} to read again", p.again));
            }
            words.join(", ") + "."
        })
    };
    let cure = move || {
        let minutes = walk.step.with_value(|s| s.wait_minutes);
        stands.with(|s| s.as_ref().is_some_and(|(p, _)| minutes > 0 && p.wait.is_none() && p.is_read())).then(|| {
            let step = walk.step.with_value(|s| s.id.clone());
            view! {
                <button class="button main" type="button"
                    on:click=move |_| desk.record(Act::WaitStarted { step: step.clone(), minutes })>
                    {format!("Begin the cure of {}", words::minutes(i64::from(minutes)))}
                </button>
            }
        })
    };
    let curing = move || {
        stands
            .with(|s| s.as_ref().and_then(|(p, _)| p.wait.clone()))
            .map(|w| {
                let words = words::wait(&w, desk.now_ms.get());
                view! { <p>"This step "{words}"."</p> }
            })
    };
    let some = move |count: fn(&evenhand_core::job::Progress) -> usize| {
        stands.with(|s| s.as_ref().is_some_and(|(p, _)| count(p) > 0))
    };
    let next = move || {
        stands
            .with(|s| s.as_ref().and_then(|(_, next)| next.clone()))
            .zip(job)
            .map(|((id, name), job)| {
                view! { <a class="button" href=Screen::Pass(job, id).href()>"Next: "{name}</a> }
            })
    };
    view! {
        <div class="through">
            <h2>"Through"</h2>
            <p>{words}</p>
            {curing}
            {cure}
            <Show when=move || some(|p| p.again)>
                <button class="button" type="button" on:click=move |_| walk.arrange(NoteOrder::OnlyAgain)>"Read the disturbed ones again"</button>
            </Show>
            <Show when=move || some(|p| p.out)>
                <button class="button" type="button" on:click=move |_| walk.arrange(NoteOrder::OnlyOut)>"Go through those out"</button>
            </Show>
            <Show when=move || some(|p| p.left() - p.again)>
                <button class="button" type="button" on:click=move |_| walk.arrange(NoteOrder::Up)>"Go to the first not read"</button>
            </Show>
            {next}
            <button class="button" type="button" on:click=move |_| walk.undo()>"Undo the last"</button>
            <a class="button" href=job.map(|id| Screen::Order(id).href())>"Back to the order"</a>
        </div>
    }
}

/// Where a swipe began; kept on the element by the platform's own pointer capture.
fn swipe_from() -> impl Fn(web_sys::PointerEvent) + 'static {
    move |event| SWIPE.with(|s| s.set(Some((event.client_x(), event.client_y()))))
}

/// A swipe over the upper half goes back and forth.
fn swipe_to(walk: Walk) -> impl Fn(web_sys::PointerEvent) + 'static {
    move |event| {
        let Some((x, y)) = SWIPE.with(std::cell::Cell::take) else {
            return;
        };
        let (dx, dy) = (event.client_x() - x, event.client_y() - y);
        const SHORTEST: i32 = 40;
        if dx.abs() > SHORTEST && dx.abs() > 2 * dy.abs() {
            walk.step_by(if dx < 0 { 1 } else { -1 });
        }
    }
}

thread_local! {
    static SWIPE: std::cell::Cell<Option<(i32, i32)>> = const { std::cell::Cell::new(None) };
}
