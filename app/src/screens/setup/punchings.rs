//! The stock of punchings.

use evenhand_core::analysis::punchings::{COMMON, Stock};
use evenhand_core::job::Setup;
use evenhand_core::unit::{Length, LengthUnit};
use leptos::prelude::*;

use super::part::Part;
use crate::parts::fields::{FieldSpec, Fields, Validation};
use crate::state::{Session, use_session};
use crate::text;

/// The thicknesses in stock.
#[component]
pub fn PunchingsPart(opened: &'static str) -> impl IntoView {
    let session = use_session();
    let stock = Memo::new(move |_| session.app.setup().punchings_nm.unwrap_or_default());
    let summary = Signal::derive(move || match stock.with(Vec::len) {
        0 => "none named yet".to_owned(),
        count => text::counted(count, "one thickness", "thicknesses"),
    });
    // The common thicknesses are always listed, each with whether it is in stock.
    let shown = Memo::new(move |_| {
        let mut all = COMMON.to_vec();
        all.extend(stock.get());
        all.sort_unstable();
        all.dedup();
        all
    });
    let keys = move || {
        let key = |punching: Length| punching_key(session, stock, punching);
        shown.get().into_iter().map(key).collect_view()
    };
    let record =
        Callback::new(move |(typed, _): (Vec<String>, bool)| add(session, stock, &typed[0]));
    let unit = session.app.length_unit().symbol();
    view! {
        <Part name="punchings" title="Punching stock: paper, card" opened summary>
            <p class="quiet">
                "The thicknesses that you have. Corrections of level and dip use as few of them as will do."
            </p>
            <div class="punchings" role="group" aria-label="Punchings at hand">{keys}</div>
            <div class="pair">
                <button class="button" type="button" on:click=move |_| all_common(session, stock)>
                    "All the common ones"
                </button>
            </div>
            <Fields
                key="paper".to_owned()
                specs=vec![FieldSpec::number("Another thickness", unit)]
                now=Signal::stored(vec![String::new()])
                record
                button="Add"
            />
        </Part>
    }
}

fn set_stock(session: Session, mut punchings: Vec<Length>) {
    punchings.sort_unstable();
    punchings.dedup();
    session.record_setup(Setup {
        punchings_nm: Some(punchings),
        ..Setup::default()
    });
}

fn all_common(session: Session, stock: Memo<Vec<Length>>) {
    let mut punchings = stock.get_untracked();
    punchings.extend(COMMON);
    set_stock(session, punchings);
}

fn punching_key(session: Session, stock: Memo<Vec<Length>>, punching: Length) -> impl IntoView {
    let has = move || stock.with(|s| s.contains(&punching));
    let turn = move |_| {
        let mut punchings = stock.get_untracked();
        match punchings.iter().position(|p| *p == punching) {
            Some(at) => drop(punchings.remove(at)),
            None => punchings.push(punching),
        }
        set_stock(session, punchings);
    };
    let inches = punching.shown(LengthUnit::Inch, 3);
    let millimeters = punching.shown(LengthUnit::Millimeter, 2);
    view! {
        <button class="button" type="button" aria-pressed=move || has().to_string() on:click=turn>
            {format!("{millimeters} mm")}
            <small>{format!("{inches} in")}</small>
        </button>
    }
}

fn add(session: Session, stock: Memo<Vec<Length>>, typed: &str) -> Validation {
    let unit = session.app.length_unit_untracked();
    let punching = match Length::read(typed, unit) {
        Ok(punching) => punching,
        Err(error) => return Validation::Refused(error.to_string()),
    };
    let mut punchings = stock.get_untracked();
    if punchings.contains(&punching) {
        return Validation::Refused("This thickness is at hand already.".to_owned());
    }
    punchings.push(punching);
    let all = punchings.iter().map(|p| (*p).into());
    match Stock::new(all, Stock::MAX_PAPERS) {
        Ok(_) => {
            set_stock(session, punchings);
            Validation::Accepted
        }
        Err(error) => Validation::Refused(error.to_string()),
    }
}
