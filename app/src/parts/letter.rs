//! A page that is read on the screen and printed as a letter.

use evenhand_core::analysis::letter::LetterPrice;
use evenhand_core::job::{Details, State};
use evenhand_core::trade::Instrument;
use leptos::prelude::*;

use crate::device::{local_time, paper};
use crate::parts::header::Header;
use crate::parts::icons::{Icon, PRINT};
use crate::route::Route;
use crate::state::{file_name, use_session};
use crate::storage::preferences;
use crate::text;

/// The frame of a letter: the bar with the link back and Print, and the page with its head.
#[component]
pub fn Letter(
    /// What the letter is.
    title: &'static str,
    /// Whose instrument it is about.
    details: Details,
    /// Grand or vertical.
    instrument: Instrument,
    children: Children,
) -> impl IntoView {
    let session = use_session();
    let invented = details.invented == Some(true);
    let kind = |s: &State| s.kind().map(|kind| kind.name.clone());
    let kind = session.app.with_state_untracked(kind).flatten();
    let head = preferences::letterhead();
    let head = (!head.is_empty()).then(|| view! { <p class="letterhead">{head}</p> });
    let name = details.name.clone().unwrap_or_default();
    paper::number_pages(title, &name);
    view! {
        <LetterBar title name/>
        <main class="page letter-page" tabindex="0">
            <article class="letter">
                {head}
                <p class="date">{local_time::long_date(session.app.now_ms.get_untracked())}</p>
                <h2 class="letter-title">{title}</h2>
                {invented.then(|| view! { <p class="invented">"Everything in this demo is made up. It is nobody’s piano."</p> })}
                {pairs(about(&details, instrument, kind))}
                {children()}
            </article>
        </main>
    }
}

/// The bar of a page to print, with the way back and Print.
#[component]
pub fn LetterBar(
    /// What the page is.
    title: &'static str,
    /// The name of the job.
    name: String,
) -> impl IntoView {
    let back = use_session().app.job_untracked();
    let back = back.map_or_else(|| Route::Jobs.href(), |id| Route::Handover(id).href());
    // The browser proposes the page's title as the name of a PDF. On the screen it never names the job: titles end up in
    // the browser's history.
    let (on_screen, on_paper) = (
        document().title(),
        file_name(&format!("{title} {name}"), ""),
    );
    let before = window_event_listener_untyped("beforeprint", move |_| {
        document().set_title(&on_paper);
    });
    let after = window_event_listener_untyped("afterprint", move |_| {
        document().set_title(&on_screen);
    });
    on_cleanup(move || {
        before.remove();
        after.remove();
    });
    view! {
        <Header back back_label="Back to the handover" title=Signal::stored(title.to_owned())>
            <button class="tool" type="button" aria-label="Print, or save as PDF" on:click=move |_| paper::print()><Icon path=PRINT/></button>
        </Header>
    }
}

/// Returns what the letter is about: the known ones of client, job, instrument, serial number, kind and agreed work.
fn about(
    details: &Details,
    instrument: Instrument,
    kind: Option<String>,
) -> Vec<(&'static str, String)> {
    let described = match &details.described {
        Some(words) if names_kind(words, instrument) => words.clone(),
        Some(words) if !words.is_empty() => format!("{}: {words}", instrument.name()),
        _ => instrument.name().to_owned(),
    };
    let given = |name, text: &Option<String>| {
        let text = text.clone().filter(|text| !text.is_empty());
        text.map(|text| (name, text))
    };
    [
        given("For", &details.client),
        given("Job", &details.name),
        Some(("Instrument", described)),
        given("Serial number", &details.serial),
        given("Kind of job", &kind),
        given("Agreed work", &details.scope),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// Returns the rows of a price: what, how much of it, and the sum. The letter and the report have the same.
pub fn price_rows(price: &LetterPrice, currency: &str) -> Vec<Vec<String>> {
    let money = |cents| text::money(cents, currency);
    let row = |what: &str, of: String, cents: i64| vec![what.to_owned(), of, money(cents)];
    let (percent, tax) = price.tax;
    if price.is_agreed {
        let mut rows = vec![row("Total, as agreed", String::new(), price.total_cents)];
        if percent > 0 {
            let of = format!("of which {} tax", text::percent(percent));
            rows.push(row(&of, String::new(), tax));
        }
        return rows;
    }
    let mut rows = Vec::new();
    if price.work_cents > 0 {
        rows.push(row("Work", text::minutes(price.minutes), price.work_cents));
    }
    for (name, count, cents) in &price.parts {
        let name = text::capital(&format!("new {name}"));
        rows.push(row(&name, count.to_string(), *cents));
    }
    if price.travel_cents > 0 {
        rows.push(row("Travel", String::new(), price.travel_cents));
    }
    if percent > 0 {
        rows.push(row("Tax", text::percent(percent), tax));
    }
    let total = if price.is_so_far {
        "Total so far"
    } else {
        "Total"
    };
    rows.push(row(total, String::new(), price.total_cents));
    rows
}

/// A list of names and values.
pub fn pairs(pairs: Vec<(&'static str, String)>) -> impl IntoView {
    let row = |(name, text): (&'static str, String)| {
        view! { <div><dt>{name}</dt><dd>{text}</dd></div> }
    };
    view! { <dl class="about">{pairs.into_iter().map(row).collect_view()}</dl> }
}

/// A part of the letter.
pub fn part(title: &'static str, body: impl IntoView) -> impl IntoView {
    view! { <section><h3>{title}</h3>{body}</section> }
}

/// A section of sentences, each a line. `None` if there are none.
pub fn lines(title: &'static str, lines: Vec<String>) -> impl IntoView {
    let line = |line: String| view! { <li>{line}</li> };
    (!lines.is_empty()).then(|| {
        let list = view! { <ul class="told">{lines.into_iter().map(line).collect_view()}</ul> };
        part(title, list)
    })
}

/// A sentence.
pub fn sentence(text: String) -> impl IntoView {
    view! { <p>{text}</p> }
}

/// A table whose first column names the rows; a row that begins with “Total” is set apart.
pub fn table(head: &[&'static str], rows: Vec<Vec<String>>) -> impl IntoView + use<> {
    let names = head.iter().enumerate();
    let names =
        names.map(|(i, name)| view! { <th scope="col" class:num=move || { i > 0 }>{*name}</th> });
    let row = |cells: Vec<String>| {
        let total = cells.first().is_some_and(|c| c.starts_with("Total"));
        let mut cells = cells.into_iter();
        let first = cells.next().unwrap_or_default();
        let rest = cells.zip(&head[1..]);
        let rest = rest.map(|(cell, head)| view! { <td class="num" data-head=*head>{cell}</td> });
        view! { <tr class:total=total><th scope="row">{first}</th>{rest.collect_view()}</tr> }
    };
    // Stacked on a phone.
    let class = if head.len() > 3 {
        "table wide"
    } else {
        "table"
    };
    view! {
        <table class=class>
            <thead><tr>{names.collect_view()}</tr></thead>
            <tbody>{rows.into_iter().map(row).collect_view()}</tbody>
        </table>
    }
}

/// Returns whether a description says itself that it is a grand or an upright.
fn names_kind(words: &str, instrument: Instrument) -> bool {
    let kind = instrument.name().to_lowercase();
    words.to_lowercase().contains(&kind)
}
