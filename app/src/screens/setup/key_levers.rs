//! The key lever lengths.

use evenhand_core::analysis::punchings::Lever;
use evenhand_core::job::{KeyLever, Setup};
use evenhand_core::unit::Length;
use leptos::prelude::*;

use super::part::Part;
use crate::parts::fields::{FieldSpec, Fields, Validation};
use crate::state::{Session, use_session};
use crate::text;

/// The thickness whose effect is shown: a tenth of a millimeter.
const PAPER: Length = Length::from_nm(100_000);

/// The field of the setup that holds a key lever.
type LeverField = fn(&mut Setup) -> &mut Option<KeyLever>;

/// The levers of a natural and of a sharp, by which a change of height is converted to punchings.
#[component]
pub fn KeyLeversPart(opened: &'static str) -> impl IntoView {
    let session = use_session();
    let summary = Signal::derive(move || {
        let setup = session.app.setup();
        match (setup.natural_key, setup.sharp_key) {
            (Some(_), Some(_)) => "natural and sharp measured",
            (Some(_), None) => "natural measured",
            (None, Some(_)) => "sharp measured",
            (None, None) => "not measured yet",
        }
        .to_owned()
    });
    view! {
        <Part name="keys" title="Key lever lengths" opened summary>
            <p class="quiet">
                "Along the key from the balance pin. Punchings for level and dip are worked out from them; measure one natural and one sharp from the middle."
            </p>
            {lever_fields(session, "natural", "Natural", |s| &mut s.natural_key)}
            {lever_fields(session, "sharp", "Sharp", |s| &mut s.sharp_key)}
        </Part>
    }
}

fn lever_fields(
    session: Session,
    key: &'static str,
    kind: &'static str,
    of: LeverField,
) -> impl IntoView {
    let before = Memo::new(move |_| *of(&mut session.app.setup()));
    let now = Signal::derive(move || {
        let unit = session.app.length_unit();
        let shown = |l: Length| text::length(l, unit);
        match before.get() {
            Some(key) => vec![
                shown(key.front_nm),
                shown(key.back_nm),
                shown(key.front_pin_nm),
            ],
            None => vec![String::new(); 3],
        }
    });
    let record = Callback::new(move |(typed, confirmed): (Vec<String>, bool)| {
        match read_lever(session, &typed) {
            Err(sentence) => Validation::Refused(sentence),
            Ok(lever) if !confirmed && !lever.is_plausible() => {
                let unit = session.app.length_unit_untracked();
                let [low, high] = KeyLever::PLAUSIBLE.map(|l| text::length(l, unit));
                let unit = unit.symbol();
                Validation::Confirm(format!(
                    "Usual is {low} to {high} {unit} each. Is it meant?"
                ))
            }
            Ok(lever) => {
                if before.get_untracked() != Some(lever) {
                    let mut set = Setup::default();
                    *of(&mut set) = Some(lever);
                    session.record_setup(set);
                }
                Validation::Accepted
            }
        }
    });
    let note = Signal::derive(move || {
        before
            .get()
            .map_or_else(String::new, |key| does(session, key))
    });
    let unit = session.app.length_unit().symbol();
    let specs = ["front edge", "back rail", "front pin"];
    // The unit once for all three: beside each it would not fit a phone.
    let legend = format!("{kind}, {unit} from the balance pin to the");
    let specs = specs
        .into_iter()
        .map(|s| FieldSpec::number(s, ""))
        .collect();
    view! { <Fields key=format!("key-{key}") legend specs now record note/> }
}

/// Returns the lever of three typed lengths.
fn read_lever(session: Session, typed: &[String]) -> Result<KeyLever, String> {
    let missing = typed.iter().filter(|t| t.trim().is_empty()).count();
    if missing > 0 {
        return Err(format!(
            "Enter all three lengths; {missing} still to come. What you typed stays."
        ));
    }
    let unit = session.app.length_unit_untracked();
    let lengths: Result<Vec<Length>, _> = typed.iter().map(|t| Length::read(t, unit)).collect();
    let lengths = lengths.map_err(|e| e.to_string())?;
    let [front_nm, back_nm, front_pin_nm] = [lengths[0], lengths[1], lengths[2]];
    Lever::new(front_nm, back_nm, front_pin_nm).map_err(|e| e.to_string())?;
    Ok(KeyLever {
        front_nm,
        back_nm,
        front_pin_nm,
    })
}

/// Returns the effect of a punching of a tenth of a millimeter on this key.
fn does(session: Session, key: KeyLever) -> String {
    let unit = session.app.length_unit();
    let Ok(lever) = Lever::new(key.front_nm, key.back_nm, key.front_pin_nm) else {
        return String::new();
    };
    let shown = |l: Length| format!("{} {}", text::length(l, unit), unit.symbol());
    format!(
        "A punching of {} at the balance rail lifts the front by {}; at the front rail it takes {} from the dip.",
        shown(PAPER),
        shown(lever.rise(PAPER)),
        shown(lever.dip_taken(PAPER))
    )
}
