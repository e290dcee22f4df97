//! The travel balance: what the key's dip is spent on, on one note.

use evenhand_core::analysis::balance::{
    LengthPart, NoteBalance, RatioFrom, Source, Spent, balance, measure_of,
};
use evenhand_core::analysis::travel::{Dimension, Strayed};
use evenhand_core::job::{FollowingLength, Setup, State};
use evenhand_core::note::Note;
use evenhand_core::trade::{MeasureId, PLAUSIBLE_RATIO, Place};
use evenhand_core::unit::{InchForm, Length, LengthUnit};
use leptos::prelude::*;

use crate::parts::icons::{BACK, Icon};
use crate::parts::note_select::NoteSelect;
use crate::parts::radio_group::RadioGroup;
use crate::route::Route;
use crate::state::Session;
use crate::text;

/// The note that is shown first: a natural in the middle.
const FIRST_SHOWN: &str = "E4";

/// The lengths that can be left to follow, in the order of the radio buttons.
const FOLLOWING: [FollowingLength; 3] = [
    FollowingLength::Aftertouch,
    FollowingLength::Blow,
    FollowingLength::Dip,
];

/// Returns the length left to follow, in a few words.
pub fn summary(state: &State) -> String {
    match state.setup().following {
        Some(FollowingLength::Aftertouch) => "aftertouch is left to follow dip and blow",
        Some(FollowingLength::Blow) => "blow is left to follow dip and aftertouch",
        Some(FollowingLength::Dip) => "dip is left to follow blow and aftertouch",
        None => "not chosen yet which length is left to follow",
    }
    .to_owned()
}

/// The choice of the length left to follow, the balance of a note as bars, and its lengths.
pub fn travel(session: Session) -> impl IntoView {
    let note = RwSignal::new(FIRST_SHOWN.parse::<Note>().unwrap_or(Note::FIRST));
    let chosen = Signal::derive(move || {
        let following = session.app.with_state(|s| s.setup().following).flatten();
        FOLLOWING
            .iter()
            .position(|f| Some(*f) == following)
            .unwrap_or(FOLLOWING.len())
    });
    let choose = Callback::new(move |at: usize| {
        if let Some(following) = FOLLOWING.get(at) {
            session.record(evenhand_core::job::EntryKind::Setup {
                set: Box::new(Setup {
                    following: Some(*following),
                    ..Setup::default()
                }),
            });
        }
    });
    let shown = move || {
        let note = note.get();
        session.app.with_state(|s| of_note(s, note))
    };
    let all = move || session.app.with_state(strayed);
    let beside = move |next: Option<Note>, label: &'static str, class: &'static str| {
        let step = move |_| {
            if let Some(next) = next {
                note.set(next);
            }
        };
        view! {
            <button class=class type="button" aria-label=label disabled=next.is_none() on:click=step><Icon path=BACK/></button>
        }
    };
    view! {
        <p class="quiet">
            "Dip = lost motion + (blow − let-off) ÷ ratio + aftertouch. Set two of dip, blow and aftertouch; the third follows. Makers set dip and blow; any two will do."
        </p>
        <RadioGroup legend="Left to follow" group="following" words=&["Aftertouch", "Blow", "Dip"] chosen choose/>
        <p class="quiet">"With the dip left to follow, set blow first and dip last. Otherwise set dip first."</p>
        <div class="note-steps">
            {move || beside(note.get().down(), "The note below", "button")}
            <NoteSelect label="Note" note choose=Callback::new(move |n| note.set(n))/>
            {move || beside(note.get().up(), "The note above", "button next")}
        </div>
        <div aria-live="polite">{shown}</div>
        {all}
    }
}

fn shown_length(length: Length, unit: LengthUnit) -> String {
    let decimals = if unit == LengthUnit::Inch { 3 } else { 2 };
    length.shown_in(InchForm::Decimal, unit, decimals)
}

fn of_note(state: &State, note: Note) -> impl IntoView + use<> {
    let unit = state.length_unit();
    let balance = balance(state, state.place());
    let of = balance.note(note);
    let plausible = of.following.map(|d| balance.plausible(d, note));
    let warning = of.solved.as_ref().and_then(|solved| {
        let following = of.following?;
        let strayed = solved.strayed.as_ref()?;
        Some(stray_words(
            following,
            solved.value,
            strayed,
            plausible?,
            unit,
        ))
    });
    let bar = match of.spent() {
        Some(spent) => bar(&spent, unit).into_any(),
        None => view! {
            <p>{format!("The dip of {note} has no reading and no target. Set a target, or leave the dip to follow.")}</p>
        }
        .into_any(),
    };
    let odd = of.odd.then(|| {
        view! {
            <p>"This note’s readings do not fit the others: check its parts, or re-measure."</p>
        }
    });
    view! {
        <div class="balance">
            {bar}
            {warning.map(|words| view! { <p class="refused">{words}</p> })}
            {odd}
            {figures(state, &of, unit)}
        </div>
    }
}

/// Two bars of equal length: the dip, and the parts it consists of.
fn bar(spent: &Spent, unit: LengthUnit) -> impl IntoView + use<> {
    let part = |class: &'static str, length: Length| {
        // A negative part has no length to draw; the figures show it.
        let grow = format!("flex-grow:{}", length.nm().max(0) / 1_000);
        view! { <span class=format!("part-of {class}") style=grow><b>{shown_length(length, unit)}</b></span> }
    };
    let label = format!(
        "Dip {} {} is lost motion {}, hammer {} and aftertouch {}.",
        shown_length(spent.dip, unit),
        unit.symbol(),
        shown_length(spent.lost_motion, unit),
        shown_length(spent.hammer, unit),
        shown_length(spent.aftertouch, unit)
    );
    let lost = spent.lost_motion > Length::ZERO;
    let never = (spent.aftertouch < Length::ZERO).then(|| view! {
        <p class="refused">"The hammer never reaches its let-off: the dip is used up before."</p>
    });
    view! {
        <div class="bars" role="img" aria-label=label>
            <div class="bar-row">{part("dip", spent.dip)}</div>
            <div class="bar-row">
                {lost.then(|| part("lost", spent.lost_motion))}
                {part("hammer", spent.hammer)}
                {part("after", spent.aftertouch)}
            </div>
        </div>
        <ul class="legend" aria-hidden="true">
            <li class="of-dip">"dip"</li>
            {lost.then(|| view! { <li class="of-lost">"lost motion"</li> })}
            <li class="of-hammer">"hammer to let-off, at the key"</li>
            <li class="of-after">"aftertouch"</li>
        </ul>
        {never}
    }
}

/// The known lengths, and their sources.
fn figures(state: &State, of: &NoteBalance, unit: LengthUnit) -> impl IntoView + use<> {
    let job = state.id();
    let row = |part: &LengthPart| {
        let measure = measure_of(part.dimension, of.note);
        let (length, from) = match solved(of, part.dimension) {
            None => (
                part.length,
                source_words(part.dimension, part.source).to_owned(),
            ),
            follows => {
                let known = part
                    .length
                    .map(|l| shown_length(l, unit))
                    .unwrap_or_default();
                let from = match part.source {
                    Source::Read(_) | Source::Disturbed(_) => format!("follows; measured {known}"),
                    Source::Aimed => format!("follows; the aim is {known}"),
                    Source::Unknown => "follows".to_owned(),
                };
                (follows, from)
            }
        };
        let shown = length.map_or_else(
            || "–".to_owned(),
            |l| format!("{} {}", shown_length(l, unit), unit.symbol()),
        );
        let name = part.dimension.name();
        let settable = state.measure(measure).is_some();
        let place = job
            .filter(|_| settable)
            .map(|id| Route::Targets(id, MeasureId::of(measure)).href());
        let named = match place {
            Some(href) => view! { <a href=href>{name}</a> }.into_any(),
            None => name.into_any(),
        };
        view! { <li><span>{named} <small>{from}</small></span><span class="num">{shown}</span></li> }
    };
    let rows = of.parts.iter().map(row).collect_view();
    let two = |ratio| Length::from_mm(ratio).shown(LengthUnit::Millimeter, 2);
    let ratio = two(of.ratio);
    let about = ratio_words(of.ratio_from);
    let odd = of.is_ratio_odd().then(|| {
        let (low, high) = PLAUSIBLE_RATIO;
        let words = format!(
            "A ratio of {ratio} is outside {} to {}. Check the dip, blow, let-off and aftertouch of the sample notes.",
            two(low),
            two(high)
        );
        view! { <p class="refused">{words}</p> }
    });
    view! {
        <ul class="rows">
            {rows}
            <li><span>"action ratio " <small>{about}</small></span><span class="num">{ratio}</span></li>
        </ul>
        {odd}
    }
}

/// Returns a length as it follows from the others. `None` if it is not the one left to follow, which is the aftertouch
/// unless another is chosen.
fn solved(of: &NoteBalance, dimension: Dimension) -> Option<Length> {
    match (of.following, &of.solved) {
        (Some(following), Some(solved)) if following == dimension => Some(solved.value),
        (None, _) if dimension == Dimension::Aftertouch => of.aftertouch,
        _ => None,
    }
}

fn source_words(dimension: Dimension, source: Source) -> &'static str {
    match (dimension, source) {
        (_, Source::Read(Place::Bench)) => "measured on the bench",
        (_, Source::Read(Place::Piano)) => "measured in the piano",
        (_, Source::Disturbed(_)) => "measured, to re-measure",
        (Dimension::LostMotion, Source::Aimed) => "taken as none",
        (_, Source::Aimed) => "not measured; the target",
        (_, Source::Unknown) => "not known",
    }
}

fn ratio_words(from: RatioFrom) -> String {
    match from {
        RatioFrom::Notes(1, _) => "from one note".to_owned(),
        RatioFrom::Notes(count, _) => format!("from {count} notes of its color"),
        RatioFrom::OtherColor(count) => format!("from {count} notes of the other color"),
        RatioFrom::Aims => "from the targets alone; measure all four on sample notes".to_owned(),
    }
}

/// The warning that the length left to follow is outside its range, by how much, and what would bring it back.
fn stray_words(
    following: Dimension,
    value: Length,
    strayed: &Strayed,
    (low, high): (Length, Length),
    unit: LengthUnit,
) -> String {
    let shown = |l: Length| shown_length(l, unit);
    let way = if strayed.by > Length::ZERO {
        "over"
    } else {
        "under"
    };
    // Lost motion is only ever reduced.
    let others = Dimension::ALL.map(|d| {
        if d == Dimension::LostMotion {
            following
        } else {
            d
        }
    });
    let back = text::ways_back(strayed, &others, unit);
    format!(
        "The {} comes to {}, {} {way} its range ({} to {}). One of these changes brings it back: {}.",
        following.name(),
        shown(value),
        shown(strayed.by.abs()),
        shown(low),
        shown(high),
        back.join("; ")
    )
}

/// The notes on which the length left to follow is outside its range.
fn strayed(state: &State) -> Option<impl IntoView + use<>> {
    let balance = balance(state, state.place());
    let following = balance.following?;
    let notes: Vec<Note> = balance.strayed().iter().map(|f| f.note).collect();
    let words = match notes.len() {
        0 => format!(
            "The {} is in range on every note measured so far.",
            following.name()
        ),
        count => format!(
            "The {} is out of range on {count} of the 88: {}.",
            following.name(),
            text::notes(&notes)
        ),
    };
    Some(view! { <p class="quiet">{words}</p> })
}
