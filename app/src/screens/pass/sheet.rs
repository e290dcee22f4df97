//! The sheet of the step: its text, and the order of the notes.

use evenhand_core::job::Subject;
use evenhand_core::trade::{Caution, MeasureId, Per};
use leptos::prelude::*;

use super::minutes::Minutes;
use super::state::{OpenSheet, PassState};
use crate::parts;
use crate::parts::photos::PhotosOf;
use crate::route::Route;
use crate::storage::preferences::NoteOrder;
use crate::text;

/// The sheet of the step: how it is done, what goes wrong, and the order of the notes.
#[component]
pub fn StepSheet(pass: PassState) -> impl IntoView {
    let step = pass.step.get_value();
    let orders = [
        (NoteOrder::Up, "Up"),
        (NoteOrder::Down, "Down"),
        (NoteOrder::NaturalsFirst, "Naturals, then sharps"),
        (NoteOrder::Samples, "Sample notes"),
        (NoteOrder::OnlyOut, "Only those out"),
        (NoteOrder::OnlyAgain, "Only those to re-measure"),
    ];
    let close = Callback::new(move |()| pass.sheet.set(OpenSheet::None));
    let choose = move |order| {
        pass.arrange(order);
        close.run(());
    };
    let cautions = (!step.cautions.is_empty()).then(|| {
        view! {
            <section class="cautions">
                <h3>"Caution"</h3>
                {step.cautions.iter().map(|c| view! { <p>{c.text()}</p> }).collect_view()}
                <p>{Caution::FIRST}</p>
            </section>
        }
    });
    let drying = (step.drying_minutes > 0).then(|| {
        view! { <p>"It dries "{text::minutes(i64::from(step.drying_minutes))}" before what follows."</p> }
    });
    // The other screens of this step.
    let job = pass.session.app.job_untracked();
    let links = job.map(|job| {
        let of =
            |screen: Route| view! { <a class="button" href=screen.href()>{screen.title()}</a> };
        let first = step.takes.first().cloned().unwrap_or(MeasureId::of(""));
        let links = [
            of(Route::Profile(job, step.id.clone(), MeasureId::of(""))),
            of(Route::Corrections(job, step.id.clone())),
            of(Route::Targets(job, first)),
        ];
        let sample = (step.per == Per::Sample).then(|| {
            let href = Route::Setup(job, "samples").href();
            view! { <a class="button" href=href>"Choose the sample"</a> }
        });
        (sample, links.collect_view())
    });
    let (sample, links) = links.unzip();
    view! {
        <parts::sheet::Sheet title=step.name.to_string() close=close>
            <p>{step.how.to_string()}</p>
            <p class="quiet">{step.wrong.to_string()}</p>
            {drying}
            {(!matches!(&*step.tools, "" | "None")).then(|| view! { <p><b>"At hand: "</b>{step.tools.to_string()}</p> })}
            {cautions}
            <h3>"Order of the notes"</h3>
            <div class="choices">
                {orders
                    .into_iter()
                    .map(|(order, name)| {
                        view! {
                            <button class="button" type="button" aria-pressed=move || (pass.order.get() == order).to_string()
                                on:click=move |_| choose(order)>{name}</button>
                        }
                    })
                    .collect_view()}
            </div>
            <PhotosOf of=pass.photo_of(Subject::Whole)/>
            <h3>"Working time"</h3>
            <Minutes pass/>
            <p class="quiet">"On the strip: touch a bar to go to its note, hold it to mark the note as out, drag to travel."</p>
            <p class="quiet">"On a keyboard: digits and Enter or Tab, g and n for good and needs work, t for a turn made as advised, o for out without a number, r for a range, u to undo, arrows to go forward and back. A pedal or remote: see Preferences."</p>
            <h3>"Of this step"</h3>
            <nav class="choices thirds" aria-label="Of this step">{links}</nav>
            {sample.flatten()}
        </parts::sheet::Sheet>
    }
}
