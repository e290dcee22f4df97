//! The letter to the client, to share, print or copy.

use evenhand_core::analysis::estimate::estimate;
use evenhand_core::analysis::letter::{ClientLetter, LetterPicture, client_letter};
use evenhand_core::analysis::quote::quote;
use evenhand_core::job::{Day, Details, PhotoHash, State};
use leptos::prelude::*;
use leptos::task::spawn_local;

use crate::device::{camera, files, local_time, paper};
use crate::parts::letter::{LetterBar, price_rows};
use crate::parts::photos;
use crate::parts::prices::{ForClient, PriceAgreed};
use crate::parts::require_open_job::RequireOpenJob;
use crate::route::Route;
use crate::state::{Session, file_name, use_session};
use crate::storage::preferences;
use crate::text;

mod picture;

/// The letter to the client.
#[component]
pub fn LetterScreen() -> impl IntoView {
    view! {
        <RequireOpenJob>
            <LetterOfJob/>
        </RequireOpenJob>
    }
}

/// All that the letter says, written as this phone's region writes it.
#[derive(Clone, PartialEq)]
struct Written {
    letter: ClientLetter,
    details: Details,
    date: String,
    worked: String,
    next: String,
    price: Vec<Vec<String>>,
    /// The last pair of photos from before and after, each with what it shows.
    photos: Option<[(PhotoHash, String); 2]>,
}

fn written(session: Session) -> Option<Written> {
    let now_ms = session.app.now_ms.get_untracked();
    session.app.open_job.with(|open| {
        let job = &open.as_ref()?.job;
        let letter = client_letter(job, now_ms, local_time::utc_offset_minutes(now_ms));
        let details = job.state().details().clone();
        let (year, month) = letter.next;
        Some(Written {
            date: local_time::long_date(now_ms),
            worked: days_words(&letter.worked),
            next: local_time::month_and_year(year, month),
            price: letter
                .price
                .as_ref()
                .map(|price| price_rows(price, details.currency.as_deref().unwrap_or_default()))
                .unwrap_or_default(),
            letter,
            details,
            photos: job.state().photo_pairs().last().map(|(before, after)| {
                [before, after].map(|p| (p.sha256, photos::words(job.state(), p)))
            }),
        })
    })
}

/// The most days of work that are named one by one.
const MAX_DAYS: usize = 3;

/// Returns the days of the work as this phone's region writes them; empty if there are none.
fn days_words(days: &[Day]) -> String {
    let words: Vec<String> = days.iter().map(|day| local_time::long_day(*day)).collect();
    match words.as_slice() {
        [first, .., last] if words.len() > MAX_DAYS => format!("Work: {first} to {last}"),
        [] => String::new(),
        _ => format!("Work: {}", words.join("; ")),
    }
}

impl Written {
    /// Returns the workshop, the date, whose piano it is and the days of the work, in lines.
    fn head(&self) -> String {
        let client = self.details.client.clone().unwrap_or_default();
        let lines = [
            preferences::letterhead(),
            self.date.clone(),
            client,
            self.piano(),
            self.worked.clone(),
        ];
        let lines: Vec<String> = lines.into_iter().filter(|l| !l.is_empty()).collect();
        lines.join("\n")
    }

    /// Returns what the instrument is: its name, description and serial number.
    fn piano(&self) -> String {
        let serial = self.details.serial.clone().filter(|s| !s.is_empty());
        let serial = serial.map(|serial| format!("serial number {serial}"));
        let words = [
            self.details.name.clone(),
            self.details.described.clone(),
            serial,
        ];
        let words = words.into_iter().flatten().filter(|w| !w.is_empty());
        words.collect::<Vec<_>>().join(", ")
    }

    fn text(&self) -> String {
        let text = self
            .letter
            .plain_text(&self.head(), &self.price, &self.next);
        match self.details.invented == Some(true) {
            true => format!("{text}\n{INVENTED}\n"),
            false => text,
        }
    }
}

const INVENTED: &str = "Everything in this demo is made up. It is nobody’s piano.";

#[component]
fn LetterOfJob() -> impl IntoView {
    let session = use_session();
    let letter = Memo::new(move |_| written(session));
    let name = session
        .app
        .with_state_untracked(|s| s.details().name.clone());
    paper::number_pages(
        "Client letter",
        name.clone().flatten().as_deref().unwrap_or_default(),
    );
    view! {
        <LetterBar title="Client letter" name=name.flatten().unwrap_or_default()/>
        <main class="page letter-page" tabindex="0">
            <div class="letter-typed form">
                {move || letter.with(|l| l.as_ref().map(|l| to_see_to(session, &l.letter)))}
                <ForClient/>
                <PriceAgreed note=Signal::derive(move || offered(session))/>
            </div>
            {move || letter.get().map(page)}
        </main>
        <Send letter/>
    }
}

/// What the technician sees to before the letter goes out: on the screen alone.
fn to_see_to(session: Session, letter: &ClientLetter) -> impl IntoView + use<> {
    let handover = session.app.job_untracked();
    let handover = handover.map(|id| Route::Handover(id).href());
    let conflicts = (letter.conflicts > 0).then(|| {
        let count = text::counted(letter.conflicts, "1 conflict is", "conflicts are");
        let open = format!("{count} open. What counts now is in the letter.");
        view! { <a class="letter-link" href=handover>{open}<small>"Keep one of the two in Handover"</small></a> }
    });
    let warnings = letter.warnings.clone().into_iter();
    let warnings = warnings.map(|said| view! { <p class="untimed">{said}</p> });
    view! { {conflicts}{warnings.collect_view()} }
}

/// Returns what the price is without one agreed.
fn offered(session: Session) -> String {
    let of_estimate = session.app.open_job.with(|open| {
        let job = &open.as_ref()?.job;
        let cents = quote(job, &estimate(job)).total_cents?;
        Some(money_of(job.state(), cents))
    });
    let counted = "Empty: the hours at your rate, with new parts, travel and tax.";
    match of_estimate {
        Some(money) => format!("{counted} The estimate was {money}."),
        None => format!("{counted} Enter the rate in Setup."),
    }
}

fn money_of(state: &State, cents: i64) -> String {
    let currency = state.details().currency.clone().unwrap_or_default();
    text::money(cents, &currency)
}

/// The page itself.
fn page(written: Written) -> impl IntoView {
    let piano = written.piano();
    let Written {
        letter,
        details,
        date,
        worked,
        next,
        price,
        photos,
    } = written;
    let head = preferences::letterhead();
    let given = |title: &'static str, lines: Vec<String>| {
        let lines = lines.into_iter().map(|line| view! { <p>{line}</p> });
        let lines: Vec<_> = lines.collect();
        (!lines.is_empty()).then(|| view! { <section><h3>{title}</h3>{lines}</section> })
    };
    let photos = photos.map(photos::side_by_side);
    let asked =
        (!letter.asked.is_empty()).then(|| view! { <p>"You asked for: "{letter.asked}</p> });
    let own = (!letter.own.is_empty()).then(|| view! { <p class="own">{letter.own}</p> });
    let invented =
        (details.invented == Some(true)).then(|| view! { <p class="small">{INVENTED}</p> });
    let rows = price.into_iter().map(|cells| {
        let total = cells[0].starts_with("Total");
        let [what, of, sum] = <[String; 3]>::try_from(cells).unwrap_or_default();
        view! { <tr class:total=total><th scope="row">{what}</th><td class="num">{of}</td><td class="num">{sum}</td></tr> }
    });
    let rows: Vec<_> = rows.collect();
    let price =
        (!rows.is_empty()).then(|| view! { <table class="table"><tbody>{rows}</tbody></table> });
    let figure = |picture: LetterPicture| {
        let caption = picture.caption();
        view! {
            <figure>
                <svg viewBox=picture::VIEW_BOX role="img" aria-label=caption.clone() inner_html=picture::draw(&picture)></svg>
                <figcaption>{caption}</figcaption>
            </figure>
        }
    };
    view! {
        <article class="letter client">
            <div class="client-head"><p class="letterhead">{head}</p><p>{date}</p></div>
            <p class="to">{details.client}</p>
            <p class="to">{piano}</p>
            <p class="to">{worked}</p>
            <h2 class="letter-title">{letter.title}</h2>
            {asked}
            {given("Found", letter.found)}
            {given("Done", letter.done)}
            {letter.pictures.into_iter().map(figure).collect_view()}
            {photos}
            {given("Left for later", letter.left)}
            {own}
            {price}
            <section><h3>"Next visit"</h3><p>{next}", "{letter.next_why}</p></section>
            {invented}
        </article>
    }
}

/// The keys to share, print or copy the letter.
#[component]
fn Send(letter: Memo<Option<Written>>) -> impl IntoView {
    let session = use_session();
    // The text to copy by hand, where the browser does not let the app do it.
    let by_hand = RwSignal::new(String::new());
    let text = move || {
        letter
            .with_untracked(|l| l.as_ref().map(Written::text))
            .unwrap_or_default()
    };
    let share = move |_| {
        let title = letter.with_untracked(|l| l.as_ref().map(|l| l.letter.title.clone()));
        let of = session.app.job_name();
        let name = file_name(&format!("letter {of}"), ".html");
        let page = camera::page_with_photos(".letter");
        spawn_local(async move {
            files::share_page(&title.unwrap_or_default(), text(), name, page).await;
        });
    };
    let copy = move |_| {
        spawn_local(async move {
            let text = text();
            match files::copy(&text).await {
                true => session
                    .app
                    .notify("The letter is copied as text. Paste it where you write."),
                false => by_hand.set(text),
            }
        });
    };
    let shares = files::can_share_text();
    view! {
        <footer class="reach letter-keys">
            <Show when=move || !by_hand.with(String::is_empty)>
                <label>
                    "Copy this text"
                    <textarea rows="6" readonly prop:value=by_hand></textarea>
                </label>
            </Show>
            {shares.then(|| view! { <button class="button main" type="button" on:click=share>"Share"</button> })}
            <button class="button" class:main=!shares type="button" on:click=move |_| paper::print()>"Print, or save as PDF"</button>
            <button class="button" type="button" on:click=copy>"Copy as text"</button>
        </footer>
    }
}
