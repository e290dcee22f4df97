//! The prices of a job and the remark for its client: typed once, and kept on this device for new jobs.

use evenhand_core::analysis::decisions::parts_decided;
use evenhand_core::job::{Details, EntryKind, PartToOrder, Setup};
use evenhand_core::trade::Part;
use evenhand_core::unit::read_cents;
use leptos::prelude::*;

use super::fields::{FieldSpec, Fields, InputKind, Validation};
use crate::state::{Session, use_session};
use crate::storage::preferences;
use crate::text;

/// The longest remark for the client, in characters.
const MAX_FOR_CLIENT: usize = 300;
/// The longest that an estimate can hold, in days: ten years.
const MAX_DAYS: u32 = 3_650;

fn details(session: Session) -> Details {
    let details = session.app.with_state(|s| s.details().clone());
    details.unwrap_or_default()
}

/// Returns hundredths as they are typed; an empty text for none.
fn typed(hundredths: Option<u32>) -> String {
    let set = hundredths.filter(|n| *n > 0);
    set.map_or_else(String::new, |n| text::cents(i64::from(n)))
}

/// Keeps the prices of the open job on this device for new jobs, unless it is a demo.
fn keep_prices(session: Session) {
    let job = session.app.with_state_untracked(|s| {
        let prices = s.setup().part_prices_cents.clone();
        (s.details().clone(), prices.unwrap_or_default())
    });
    if let Some((details, prices)) = job.filter(|(d, _)| d.invented != Some(true)) {
        preferences::keep_prices(&details, prices);
    }
}

/// The remark for the client: the technician's own sentence in the letter.
#[component]
pub fn ForClient() -> impl IntoView {
    let session = use_session();
    let now = Signal::derive(move || vec![details(session).for_client.unwrap_or_default()]);
    let record = Callback::new(move |(typed, _): (Vec<String>, bool)| {
        let text = typed[0].trim().to_owned();
        if text.chars().count() > MAX_FOR_CLIENT {
            return Validation::Refused(format!(
                "Type at most {MAX_FOR_CLIENT} characters, so that the letter stays on one page. What you typed is kept here."
            ));
        }
        if now.get_untracked() != [text.clone()] {
            let set = Details {
                for_client: Some(text),
                ..Details::default()
            };
            session.record(EntryKind::Details { set: Box::new(set) });
        }
        Validation::Accepted
    });
    let spec = FieldSpec {
        kind: InputKind::MultilineText,
        ..FieldSpec::text("Remark for the client")
    };
    view! { <Fields key="for-client".to_owned() specs=vec![spec] now record note="Your own sentence in the letter."/> }
}

/// Travel, tax, and how long the estimate holds.
#[component]
pub fn Prices() -> impl IntoView {
    let session = use_session();
    let now = Signal::derive(move || {
        let details = details(session);
        let days = details.valid_days.filter(|days| *days > 0);
        vec![
            typed(details.travel_cents),
            typed(details.tax_percent_hundredths),
            days.unwrap_or(Details::VALID_DAYS).to_string(),
        ]
    });
    let record = Callback::new(move |(typed, _): (Vec<String>, bool)| {
        // Each is saved by itself: one that cannot be read does not hold up the others.
        let travel = read_cents(&typed[0]).map(Option::unwrap_or_default);
        let tax = read_cents(&typed[1]).map(Option::unwrap_or_default);
        let tax = tax.ok().filter(|tax| *tax <= Details::MAX_TAX);
        let days = typed[2].trim();
        let days = match days.is_empty() {
            true => Some(0),
            false => days.parse().ok().filter(|days| *days <= MAX_DAYS),
        };
        let refused = [
            travel
                .as_ref()
                .err()
                .map(|error| format!("Travel: {error}")),
            tax.is_none()
                .then(|| "Type the tax in percent, such as 19 or 8.1. The most is 100.".to_owned()),
            days.is_none()
                .then(|| "Type how many days the estimate holds, such as 30.".to_owned()),
        ];
        let before = untrack(|| details(session));
        let changed = |now: Option<u32>, was: Option<u32>, none: u32| {
            now.filter(|now| *now != was.unwrap_or(none))
        };
        let set = Details {
            travel_cents: changed(travel.ok(), before.travel_cents, 0),
            tax_percent_hundredths: changed(tax, before.tax_percent_hundredths, 0),
            valid_days: changed(days, before.valid_days, Details::VALID_DAYS),
            ..Details::default()
        };
        if set != Details::default() {
            session.record(EntryKind::Details { set: Box::new(set) });
            keep_prices(session);
        }
        let refused = refused.into_iter().flatten().next();
        refused.map_or(Validation::Accepted, Validation::Refused)
    });
    let specs = vec![
        FieldSpec::number("Travel", ""),
        FieldSpec::number("Tax", "%"),
        FieldSpec::number("Valid for", "days"),
    ];
    view! {
        <Fields key="prices".to_owned() legend="Travel, tax, validity" specs now record note="Kept on this device for new jobs. Tax is added to all prices."/>
    }
}

/// The price agreed for the whole job, in place of the one that is computed.
#[component]
pub fn PriceAgreed(
    /// What is offered in its place, as a sentence.
    #[prop(into)]
    note: Signal<String>,
) -> impl IntoView {
    let session = use_session();
    let now = Signal::derive(move || vec![typed(details(session).price_cents)]);
    let record = Callback::new(move |(typed, _): (Vec<String>, bool)| {
        let cents = match read_cents(&typed[0]) {
            Ok(cents) => cents.unwrap_or(0),
            Err(error) => return Validation::Refused(error.to_string()),
        };
        if cents != untrack(|| details(session)).price_cents.unwrap_or(0) {
            let set = Details {
                price_cents: Some(cents),
                ..Details::default()
            };
            session.record(EntryKind::Details { set: Box::new(set) });
        }
        Validation::Accepted
    });
    let specs = vec![FieldSpec::number("Price agreed, tax included", "")];
    view! { <Fields key="price-agreed".to_owned() specs now record note/> }
}

/// The price of one piece of a part.
#[component]
pub fn PartPrice(part: Part, label: String) -> impl IntoView {
    let session = use_session();
    let prices = move || session.app.setup().part_prices_cents.unwrap_or_default();
    let now = Signal::derive(move || vec![typed(prices().get(part.key()).copied())]);
    let record = Callback::new(move |(typed, _): (Vec<String>, bool)| {
        let cents = match read_cents(&typed[0]) {
            Ok(cents) => cents,
            Err(error) => return Validation::Refused(error.to_string()),
        };
        let mut all = untrack(prices);
        let before = all.remove(part.key());
        if cents != before {
            all.extend(cents.map(|cents| (part.key().to_owned(), cents)));
            session.record_setup(Setup {
                part_prices_cents: Some(all),
                ..Setup::default()
            });
            keep_prices(session);
        }
        Validation::Accepted
    });
    let key = format!("price-{}", part.key());
    view! { <Fields key specs=vec![FieldSpec::number(label, "")] now record/> }
}

/// The prices of the parts to renew.
#[component]
pub fn PartPrices() -> impl IntoView {
    let session = use_session();
    let parts = Memo::new(move |_| {
        let parts = session.app.with_state(parts_decided).unwrap_or_default();
        let named = |p: &PartToOrder| (p.part, p.name);
        parts.iter().map(named).collect::<Vec<_>>()
    });
    let row = |(part, name): (Part, &'static str)| {
        let label = format!("{}, one piece", text::capital(name));
        view! { <PartPrice part label/> }
    };
    move || match parts.with(Vec::is_empty) {
        true => {
            view! { <p class="quiet">"Parts are priced once the survey decided to renew them."</p> }
                .into_any()
        }
        false => parts.get().into_iter().map(row).collect_view().into_any(),
    }
}
