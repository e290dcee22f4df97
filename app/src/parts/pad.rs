//! The pad: digits, answers, grades or a tick, as the measure needs.

use evenhand_core::trade::Measure;
use evenhand_core::unit::{Kind, LengthUnit, Value};
use leptos::prelude::*;

use super::icons::{ERASE, Icon, UNDO};

/// What a key of the pad does.
#[derive(Clone, Debug, PartialEq)]
pub enum PadAction {
    /// Appends a digit, point or sign to what is typed.
    Type(char),
    /// Makes what is typed a fraction with this denominator.
    Fraction(u32),
    /// Makes what is typed a fraction: of 16ths, then of 32nds, 64ths and 8ths.
    NextFraction,
    /// Removes the last character.
    Erase,
    /// Enters what is typed.
    Enter,
    /// Enters this value.
    Answer(Value),
    /// Enters this value, and goes to the next step.
    AndNext(Value),
    /// Sweeps the row, and goes to the next step.
    RowAndNext,
    /// Enters this value for all that is left of the step.
    Rest(Value),
    /// Enters this value for so many of the next notes.
    Run(Value, usize),
    /// Marks the note as out, not measured.
    Mark,
    /// Undoes the latest act.
    Undo,
}

impl PadAction {
    /// Returns a short name by which tests find the key in the page.
    fn name(&self) -> String {
        match self {
            PadAction::Type(c) => c.to_string(),
            PadAction::NextFraction => "fraction".to_owned(),
            PadAction::Fraction(denominator) => format!("/{denominator}"),
            PadAction::Erase => "erase".to_owned(),
            PadAction::Enter => "enter".to_owned(),
            PadAction::Undo => "undo".to_owned(),
            PadAction::Mark => "mark".to_owned(),
            PadAction::AndNext(_) | PadAction::RowAndNext => "next".to_owned(),
            PadAction::Rest(_) => "rest".to_owned(),
            PadAction::Answer(value) | PadAction::Run(value, _) => value.base().to_string(),
        }
    }
}

/// Keeps the focus where it is: a focused key would be pressed again by Enter from a keyboard or caliper.
fn keep_focus(event: web_sys::PointerEvent) {
    event.prevent_default();
}

/// A key of the pad.
#[component]
fn PadKey(
    key: PadAction,
    press: Callback<PadAction>,
    #[prop(default = "")] class: &'static str,
    #[prop(optional)] label: Option<&'static str>,
    children: Children,
) -> impl IntoView {
    view! {
        <button
            type="button"
            class=class
            aria-label=label
            data-key=key.name()
            on:pointerdown=keep_focus
            on:click=move |_| press.run(key.clone())
        >
            {children()}
        </button>
    }
}

/// The pad, with the keys that the measure needs.
#[component]
pub fn Pad(
    /// The measure that is read.
    #[prop(into)]
    measure: Signal<Measure>,
    /// The unit that a bare number is in.
    #[prop(into)]
    length: Signal<LengthUnit>,
    /// The value of the target, and the last values, one tap each.
    #[prop(into)]
    chips: Signal<Vec<Chip>>,
    /// What Enter leads to.
    #[prop(into)]
    next: Signal<String>,
    /// Whether the step asks for nothing else, so that a key can lead on to the next one.
    alone: bool,
    /// Whether a sweep of the row would end the step, so that a key can lead on to the next one.
    #[prop(into)]
    row_ends: Signal<bool>,
    /// Whether the grade on target can be said at once of all that is left.
    #[prop(into)]
    rest: Signal<bool>,
    /// Called with the key that was pressed.
    press: Callback<PadAction>,
) -> impl IntoView {
    let kind = Memo::new(move |_| measure.with(|m| m.kind));
    view! {
        <section class="pad" aria-label="Pad">
            {move || match kind.get() {
                Kind::Tick => view! { <TickPad next alone row_ends press/> }.into_any(),
                Kind::Good => view! { <GoodPad alone press/> }.into_any(),
                Kind::Grade => view! { <GradePad measure chips rest press/> }.into_any(),
                _ => view! { <NumberPad measure length chips next press/> }.into_any(),
            }}
        </section>
    }
}

/// The Undo key.
#[component]
fn UndoKey(press: Callback<PadAction>) -> impl IntoView {
    view! {
        <PadKey key=PadAction::Undo press class="fn" label="Undo">
            <Icon path=UNDO/>
        </PadKey>
    }
}

/// The pad of a step that is ticked as done.
#[component]
fn TickPad(
    next: Signal<String>,
    alone: bool,
    row_ends: Signal<bool>,
    press: Callback<PadAction>,
) -> impl IntoView {
    view! {
        <div class="answers">
            <PadKey key=PadAction::Answer(Value::Done(true)) press class="enter tall">
                <span>"Done"</span>
                <small>{next}</small>
            </PadKey>
        </div>
        <div class="answers row">
            {alone.then(|| view! { <AndNextKey value=Value::Done(true) says="Done, next step" press/> })}
            <Show when=move || row_ends.get()>
                <PadKey key=PadAction::RowAndNext press class="fn words">"Whole row done, next step"</PadKey>
            </Show>
            <PadKey key=PadAction::Mark press class="fn words">"Come back to it"</PadKey>
            <UndoKey press/>
        </div>
    }
}

/// The pad of two answers: good, or needs work.
#[component]
fn GoodPad(alone: bool, press: Callback<PadAction>) -> impl IntoView {
    view! {
        <div class="answers row two">
            <PadKey key=PadAction::Answer(Value::Good(false)) press class="tall">
                "Needs work"
            </PadKey>
            <PadKey key=PadAction::Answer(Value::Good(true)) press class="enter tall">
                "Good"
            </PadKey>
        </div>
        <div class="answers row">
            {alone.then(|| view! { <AndNextKey value=Value::Good(true) says="Good, next step" press/> })}
            <UndoKey press/>
        </div>
    }
}

/// The key that answers and goes to the next step.
#[component]
fn AndNextKey(value: Value, says: &'static str, press: Callback<PadAction>) -> impl IntoView {
    view! { <PadKey key=PadAction::AndNext(value) press class="fn words">{says}</PadKey> }
}

/// The words that begin the chip of the target.
pub const ON_TARGET: &str = "On target";

/// A value that is one touch.
#[derive(Clone, Debug, PartialEq)]
pub struct Chip {
    /// What it says.
    pub words: String,
    /// The value.
    pub value: Value,
    /// For how many notes it is entered.
    pub count: usize,
}

fn is_target(chip: &&Chip) -> bool {
    chip.words.starts_with(ON_TARGET)
}

/// The key that marks a note as out, not measured; hidden where there is no target to be out of.
#[component]
fn MarkKey(chips: Signal<Vec<Chip>>, press: Callback<PadAction>) -> impl IntoView {
    let class = move || match chips.with(|c| c.iter().any(|c| is_target(&c))) {
        true => "mark-key",
        false => "blank",
    };
    view! {
        <button type="button" class=class data-key="mark" aria-label="Out, not measured" on:pointerdown=keep_focus
            on:click=move |_| press.run(PadAction::Mark)>"Out"</button>
    }
}

/// The pad of a row of grades.
#[component]
fn GradePad(
    measure: Signal<Measure>,
    chips: Signal<Vec<Chip>>,
    rest: Signal<bool>,
    press: Callback<PadAction>,
) -> impl IntoView {
    // What is left at once: `Rest sound`.
    let all = move || {
        let aim = chips.with(|c| c.iter().find(is_target).map(|c| c.value))?;
        let word = measure.with(|m| m.grades.get(usize::try_from(aim.base()).ok()?).cloned())?;
        let says = format!("Rest {word}");
        rest.get().then(
            || view! { <PadKey key=PadAction::Rest(aim) press class="fn words">{says}</PadKey> },
        )
    };
    // The style marks the target's answer.
    let aim = move || chips.with(|c| c.iter().find(is_target).map(|c| c.value.base().to_string()));
    let grades = move || {
        let grades = measure.with(|m| m.grades.clone());
        grades
            .into_iter()
            .enumerate()
            .map(|(place, word)| {
                let answer = PadAction::Answer(Value::Grade(place as u8));
                view! {
                    <PadKey key=answer press>
                        {word.to_string()}
                    </PadKey>
                }
            })
            .collect_view()
    };
    view! {
        <div class="answers grades" data-aim=aim>{grades}</div>
        <div class="answers row">
            {all}
            <MarkKey chips press/>
            <UndoKey press/>
        </div>
    }
}

/// The fraction keys of a job in inches: denominator and sign.
const FRACTIONS: [(u32, &str); 5] = [(2, "½"), (4, "¼"), (8, "⅛"), (16, "1⁄16"), (32, "1⁄32")];

/// The pad of digits, with chips for frequent values.
#[component]
fn NumberPad(
    measure: Signal<Measure>,
    length: Signal<LengthUnit>,
    chips: Signal<Vec<Chip>>,
    next: Signal<String>,
    press: Callback<PadAction>,
) -> impl IntoView {
    let digit = move |d: char| {
        view! {
            <PadKey key=PadAction::Type(d) press>
                {d.to_string()}
            </PadKey>
        }
    };
    let below_zero =
        Memo::new(move |_| measure.with(|m| m.plausible.is_some_and(|(low, _)| low < 0)));
    let fractions = Memo::new(move |_| measure.with(|m| m.kind == Kind::Length));
    let extra = move || {
        if fractions.get() && length.get() != LengthUnit::Inch && !below_zero.get() {
            view! {
                <PadKey key=PadAction::NextFraction press class="fn" label="Fraction, 1/16">
                    <span class="fraction">"1/16"</span>
                </PadKey>
            }
            .into_any()
        } else if below_zero.get() {
            view! {
                <PadKey key=PadAction::Type('-') press class="fn" label="Minus">
                    "±"
                </PadKey>
            }
            .into_any()
        } else {
            view! { <span></span> }.into_any()
        }
    };
    // Always three: a reading changes their words, and makes and moves no element.
    let chip = move |place: usize| {
        let words =
            move || chips.with(|all| all.get(place).map_or_else(String::new, |c| c.words.clone()));
        let class = move || {
            chips.with(|all| match all.get(place) {
                None => "blank",
                Some(chip) if chip.count > 1 => "run",
                Some(chip) if is_target(&chip) => "target",
                Some(_) => "",
            })
        };
        let label = move || {
            let words = |c: &Chip| {
                (c.count > 1).then(|| format!("{}, the next {} notes", c.words, c.count))
            };
            chips.with(|all| all.get(place).and_then(words))
        };
        let enter =
            move |_| match chips.with_untracked(|all| all.get(place).map(|c| (c.value, c.count))) {
                Some((value, 1)) => press.run(PadAction::Answer(value)),
                Some((value, count)) => press.run(PadAction::Run(value, count)),
                None => {}
            };
        view! {
            <button type="button" class=class aria-label=label on:pointerdown=keep_focus on:click=enter>{words}</button>
        }
    };
    view! {
        <Show when=move || fractions.get() && length.get() == LengthUnit::Inch>
            <div class="fractions">
                {FRACTIONS.map(|(denominator, sign)| view! {
                    <PadKey key=PadAction::Fraction(denominator) press class="fn">{sign}</PadKey>
                }).collect_view()}
            </div>
        </Show>
        <div class="chips">{[0, 1, 2].map(chip).collect_view()}<MarkKey chips press/></div>
        <div class="digits">
            {['7', '8', '9'].map(digit).collect_view()} <UndoKey press/>
            {['4', '5', '6'].map(digit).collect_view()} {extra}
            {['1', '2', '3'].map(digit).collect_view()}
            <PadKey key=PadAction::Enter press class="enter">
                <span>"Enter"</span>
                <small>{next}</small>
            </PadKey>
            <PadKey key=PadAction::Type('.') press class="fn" label="Point">
                "."
            </PadKey>
            {digit('0')}
            <PadKey key=PadAction::Erase press class="fn" label="Erase">
                <Icon path=ERASE/>
            </PadKey>
        </div>
    }
}
