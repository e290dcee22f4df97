//! The upper half of a pass: the note, its reading, the verdict and the message.

use evenhand_core::analysis::notices::notices;
use evenhand_core::job::{Item, ItemState, State, Subject};
use evenhand_core::trade::{Measure, Occasion, Step, Verdict};
use evenhand_core::unit::{Kind, LengthUnit, Value};
use leptos::prelude::*;

use super::ask::Ask;
use super::conflict::DifferingReading;
use super::correction::OfferedCorrection;
use super::known::{self, NotAgain};
use super::state::PassState;
use super::sweep::{Offer, RangeKeys, SweepKeys};
use super::undo::OfUndo;
use crate::state::use_session;
use crate::text;

/// What stands for a target where there is none.
pub const NO_TARGET: &str = "no target";

/// What is shown of the current item.
#[derive(Clone, PartialEq)]
pub struct CurrentItem {
    /// The note, section or whole.
    pub on: Subject,
    name: String,
    more: String,
    /// Whether it is a kind of part in a section: the part is what changes, and is shown large.
    is_part: bool,
    /// What is measured.
    pub measure: Measure,
    /// The reading that is valid.
    value: Option<Value>,
    /// The earlier reading: as found, or disturbed.
    was: Option<(&'static str, Value)>,
    /// The verdict and its class, whether the reading is valid or disturbed.
    verdict: Option<(String, &'static str)>,
    /// Why it must be re-measured or looked at.
    cause: Option<String>,
    /// What the readings of its section or of the whole say together.
    notice: Option<String>,
    remark: Option<String>,
    /// What it follows from, if it is the length left to follow.
    following: Option<&'static str>,
    /// Whether it is out, measured or not.
    is_out: bool,
    /// Whether it was turned and not measured again.
    is_known: bool,
    /// Its target in words.
    pub target: String,
}

impl CurrentItem {
    /// Returns whether it was measured as out: its correction then stands where the keys of a sweep do.
    pub fn is_measured_out(&self) -> bool {
        self.is_out && self.value.is_some()
    }
}

/// Returns what is shown of an item.
pub fn current_item(state: &State, step: &Step, item: &Item) -> Option<CurrentItem> {
    let id = item.measure.as_str();
    let measure = state.measure(id)?;
    let length = state.length_unit();
    let item_state = state.item_state(step, item);
    let read = item_state.reading().map(|r| r.value);
    let verdict = read.zip(item_state.judged()).map(|(value, judged)| {
        let tone = match judged.verdict {
            Verdict::OnTarget => "in",
            Verdict::Acceptable => "near",
            Verdict::Out => "out",
        };
        (text::verdict(measure, &judged, value, length), tone)
    });
    let verdict = match item_state {
        _ if item_state.should_read().is_some() => Some(("not measured again".to_owned(), "in")),
        ItemState::Swept(_) => Some((text::swept(measure).to_owned(), "in")),
        ItemState::MarkedOut(_) => Some((text::marked(measure).to_owned(), "out")),
        _ => verdict,
    };
    let measure_state = state.measure_state(id, item.on, step.place_or(state.place()));
    let found = measure_state
        .and_then(|s| s.of(Occasion::AsFound))
        .map(|r| r.value);
    let (value, was, cause) = match &item_state {
        ItemState::Remeasure(reading, _, cause) => {
            let change = measure_state.and_then(|s| s.changed_since_read());
            let why = match change {
                Some(change) if cause.work == measure.id => {
                    format!("{}. Re-measure.", text::made(measure, &change.made))
                }
                _ => text::cause(state, measure, cause),
            };
            (None, Some(("was", reading.value)), Some(why))
        }
        ItemState::SweepAgain(_, cause) => (None, None, Some(text::cause(state, measure, cause))),
        item_state => {
            let found = found.filter(|v| Some(*v) != read);
            // Adjusted, but without a reading that counts: it counts as work, so it is shown.
            let is_set = matches!(item_state, ItemState::NotRead);
            let set = measure_state.filter(|_| is_set).and_then(|s| {
                let made = text::made(measure, &s.changed_since_read()?.made);
                let since = if s.latest().is_some() { "since" } else { "yet" };
                Some(format!("{made}. Not measured {since}."))
            });
            let look = || {
                let mut looks = state.looks_of(step).into_iter();
                let look = looks.find(|l| l.measure == measure.id && l.on.contains(&item.on))?;
                Some(look.sentence(state))
            };
            let why = || state.called_for_by(measure, item.on);
            (
                read,
                found.map(|v| ("found", v)),
                set.or_else(look).or_else(why),
            )
        }
    };
    let target = state
        .band(id, item.on)
        .map(|b| text::band(measure, &b, length));
    // A fault that was fixed is not shown any more.
    let remark = state
        .remarks()
        .rev()
        .find(|r| r.on == item.on && state.fixed(r).is_none());
    let is_part = step.takes.len() > 1 && matches!(item.on, Subject::Section(_));
    // If several measures take turns, the current one matters more than the note's details.
    let mut more = match (step.takes.len(), item.on, remark) {
        (2.., ..) => measure.name.to_lowercase(),
        // The line has no room for the color too, and the name implies it.
        (_, Subject::Note(note), Some(_)) => note.number().to_string(),
        _ => text::subject_more(item.on, state),
    };
    if let Some(remark) = remark {
        if !more.is_empty() {
            more += ", ";
        }
        more += if remark.fault { "fault" } else { "remark" };
    }
    Some(CurrentItem {
        on: item.on,
        name: match is_part {
            true => format!(
                "{}, {}",
                text::subject(item.on),
                text::subject_more(item.on, state)
            ),
            false => text::subject(item.on),
        },
        is_part,
        more,
        target: match (step.takes.len(), target) {
            (_, Some(target)) => target,
            (1, None) => String::new(),
            // If two measures take turns, the line must not appear and disappear with them.
            (_, None) => NO_TARGET.to_owned(),
        },
        value,
        was,
        verdict,
        cause,
        notice: known::said(state, step, item).or_else(|| notice(state, step, item)),
        remark: remark.map(text::remark),
        following: text::following(state, id),
        is_out: item_state.is_out() || matches!(item_state, ItemState::MarkedOut(_)),
        is_known: item_state.should_read().is_some(),
        measure: measure.clone(),
    })
}

/// Returns what the readings of an item's section or of the whole say together.
fn notice(state: &State, step: &Step, item: &Item) -> Option<String> {
    let said = notices(state, step, Some(item));
    (!said.is_empty()).then(|| said.join(" "))
}

/// Returns the unit that lengths are shown in.
pub fn length() -> Signal<LengthUnit> {
    let session = use_session();
    Signal::derive(move || {
        session
            .app
            .with_state(State::length_unit)
            .unwrap_or_default()
    })
}

/// Returns what follows from the weights of the current note, or of the one just weighed.
fn weighed(pass: PassState) -> Option<String> {
    if !pass.step.with_value(Step::is_weighing) {
        return None;
    }
    let weighs = |item: &Item| matches!(item.measure.as_str(), "down_weight" | "up_weight");
    let items = [pass.item(), pass.last.get()].into_iter().flatten();
    let words = |item: Item| {
        pass.step.with_value(|step| {
            pass.session
                .app
                .with_state(|s| text::weighed(s, step, item.on))?
        })
    };
    items.filter(weighs).find_map(words)
}

/// Returns what was just entered, while the next item is current: `C4 2.1, on target`.
fn just_entered(pass: PassState) -> Option<String> {
    let item = pass.last.get()?;
    pass.session.app.with_state(|s| {
        let item_state = pass.step.with_value(|step| s.item_state(step, &item));
        let (measure, length) = (s.measure(item.measure.as_str())?, s.length_unit());
        if item_state.should_read().is_some() {
            return Some(format!(
                "{} {}",
                text::subject(item.on),
                text::not_again(measure)
            ));
        }
        let value = item_state.reading()?.value;
        let verdict = item_state
            .judged()
            .map(|j| text::verdict(measure, &j, value, length));
        let shown = measure.shown(value, length);
        let said = match verdict {
            Some(verdict) if measure.kind.is_number() => format!("{shown}, {verdict}"),
            Some(verdict) => verdict,
            None if measure.kind.is_number() => measure.with_unit(&shown, length),
            None => shown,
        };
        Some(format!("{} {said}", text::subject(item.on)))
    })?
}

/// The note, large; what is typed or was read; the verdict in a word; why it must be re-measured.
#[component]
pub fn ReadingPane(
    pass: PassState,
    current: Memo<Option<CurrentItem>>,
    offer: Memo<Option<OfferedCorrection>>,
    sweeps: Memo<Vec<Offer>>,
) -> impl IntoView {
    let length = length();
    let of = move |read: fn(&CurrentItem) -> String| {
        current.with(|h| h.as_ref().map(read).unwrap_or_default())
    };
    let big = Memo::new(move |_| {
        let typed = pass.typed.get();
        current.with(|h| {
            let Some(h) = h else { return String::new() };
            if !typed.is_empty() {
                return h.measure.pointed(&typed, length.get());
            }
            h.value
                .map(|v| h.measure.shown(v, length.get()))
                .unwrap_or_default()
        })
    });
    let unit = move || {
        // No unit is shown after a typed unit or a typed fraction.
        if big.with(|b| b.contains(|c: char| c.is_alphabetic() || matches!(c, '"' | '″'))) {
            return "";
        }
        current.with(|h| {
            h.as_ref()
                .map_or("", |h| text::unit(&h.measure, length.get()))
        })
    };
    let is_long = move || current.with(|h| h.as_ref().is_some_and(|h| h.name.chars().count() > 4));
    let is_part = move || current.with(|h| h.as_ref().is_some_and(|h| h.is_part));
    let typing = move || pass.typed.with(|t| !t.is_empty());
    // While the message is about the current item, the entry just made elsewhere is shown too.
    let just_entered =
        Memo::new(
            move |_| match offer.with(|o| o.as_ref().is_some_and(|o| o.of.is_some())) {
                true => None,
                false => just_entered(pass),
            },
        );
    // A disturbed reading is shown small on the left with its verdict, a valid one on the right.
    let was = move || {
        current.with(|h| {
            let h = h.as_ref()?;
            let now = h.value.filter(|_| typing()).map(|v| ("was", v));
            let Some((word, value)) = now.or(h.was) else {
                return just_entered.get();
            };
            let shown = format!("{word} {}", h.measure.shown(value, length.get()));
            let said = h.cause.as_ref().and(h.verdict.as_ref());
            Some(said.map_or(shown.clone(), |(said, _)| format!("{shown}, {said}")))
        })
    };
    let verdict = move || {
        current.with(|h| {
            let h = h.as_ref()?;
            let (words, tone) = h.verdict.clone().filter(|_| h.cause.is_none())?;
            (!typing()).then(|| view! { <span class=format!("verdict {tone}")>{words}</span> })
        })
    };
    let message = move || {
        if pass.range.with(Option::is_some) {
            return view! { <RangeKeys pass/> }.into_any();
        }
        let refused = pass.refused.get();
        if !refused.is_empty() {
            return view! { <p class="message refused" role="alert">{refused}</p> }.into_any();
        }
        if let Some(asked) = pass.asked.get() {
            return view! { <Ask pass asked/> }.into_any();
        }
        if pass.says_of_undo() {
            return view! { <OfUndo pass/> }.into_any();
        }
        let (cause, more) = current.with(|h| {
            let h = h.as_ref();
            let following = |h: &CurrentItem| h.following.map(str::to_owned);
            let said = |h: &CurrentItem| h.notice.clone().or_else(|| h.remark.clone());
            let more = h.and_then(|h| said(h).or_else(|| following(h)));
            (h.and_then(|h| h.cause.clone()), more)
        });
        if let Some(words) = cause {
            // Of several that were spoiled the rest can be looked along again.
            let again = view! { <p class="message again">{words}</p> };
            return match sweeps.with(Vec::is_empty) {
                true => again.into_any(),
                false => view! {
                    <div class="beside">{again}<SweepKeys pass offers=sweeps beside=true/></div>
                }
                .into_any(),
            };
        }
        if let Some(offer) = offer.get() {
            // A section that came back off is moved as a whole, before a single note is turned.
            let said = |s: &State| pass.step.with_value(|step| notice(s, step, &offer.item));
            let said = pass.session.app.with_state(said).flatten();
            return match said.filter(|_| offer.hint.moves.as_str() == "blow") {
                Some(words) => view! { <p class="message again">{words}</p> }.into_any(),
                None if offer.of.is_some() => view! {
                    <div class="beside"><Correct pass offer/><SweepKeys pass offers=sweeps beside=true/></div>
                }
                .into_any(),
                None => view! { <Correct pass offer right=true/> }.into_any(),
            };
        }
        // What is found is told as it is, and set right later.
        let is_work = pass.step.with_value(|s| s.occasion != Occasion::AsFound);
        if is_work
            && current.with(|h| {
                h.as_ref()
                    .is_some_and(|h| h.is_out && h.measure.kind != Kind::Good)
            })
        {
            return view! {
                <div class="beside"><OutNow pass/><SweepKeys pass offers=sweeps beside=true/></div>
            }
            .into_any();
        }
        let is_known = current.with(|h| h.as_ref().is_some_and(|h| h.is_known));
        match weighed(pass).or(more) {
            Some(words) if is_known => view! { <NotAgain pass words/> }.into_any(),
            // What is said leaves the key of the sweep where it is.
            Some(words) if !sweeps.with(Vec::is_empty) => view! {
                <div class="beside"><p class="message">{words}</p><SweepKeys pass offers=sweeps beside=true/></div>
            }
            .into_any(),
            Some(words) => view! { <p class="message">{words}</p> }.into_any(),
            None => view! { <SweepKeys pass offers=sweeps/> }.into_any(),
        }
    };
    view! {
        <div class="note" class:of-part=is_part aria-live="polite">
            <span class="note-name" class:long=is_long>{move || of(|h| h.name.clone())}</span>
            <small>{move || of(|h| h.more.clone())}</small>
        </div>
        <div class="value" class:typing=typing>
            <output aria-label="Reading" class:long=move || { big.with(|b| b.chars().count() > 4) }>{big}</output>
            <small>{unit}</small>
        </div>
        <div class="so-far">
            <p class="was">{was}</p>
            <p class="said" aria-live="polite">{verdict}</p>
        </div>
        <DifferingReading pass/>
        <div class="message-place" aria-live="polite">{message}</div>
    }
}

/// What can be said of the current item, which is out and has no correction, without a number: that it is right now.
#[component]
fn OutNow(pass: PassState) -> impl IntoView {
    let right = pass
        .item_untracked()
        .map(|item| view! { <NowRight pass item/> });
    view! { <div class="message act"><p>"Once it is set:"</p>{right}</div> }
}

/// The key that says of an item that was out that it is right now, without a number.
#[component]
fn NowRight(pass: PassState, item: Item) -> impl IntoView {
    view! {
        <button class="button right" type="button" on:click=move |_| pass.now_right(&item)>"Now right"</button>
    }
}

/// A correction in words, with the one tap that says it was made, and on wish the one that it is right now.
#[component]
pub fn Correct(
    pass: PassState,
    offer: OfferedCorrection,
    #[prop(optional)] right: bool,
) -> impl IntoView {
    let item = offer.item.clone();
    let right = (right && offer.is_out).then(|| view! { <NowRight pass item/> });
    let said = &offer.hint.words;
    let words = match &offer.of {
        Some(of) => format!("{of}, {said}"),
        None => said.clone(),
    };
    let first = offer.hint.first.as_ref();
    let first = first
        .map(|(screen, label)| view! { <a class="button turned" href=screen.href()>{*label}</a> });
    let tap = offer
        .hint
        .done
        .as_ref()
        .map(|(label, _)| label.clone())
        .map(|label| {
            view! {
                <button class="button turned" type="button" on:click=move |_| offer.record(pass)>
                    {label}
                </button>
            }
        });
    view! { <div class="message act"><p>{words}</p>{tap}{first}{right}</div> }
}
