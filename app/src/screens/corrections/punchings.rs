//! The punchings to lay ready.

use evenhand_core::analysis::punchings;
use leptos::prelude::*;

use super::state::{CorrectionRow, CorrectionsState};
use crate::route::Route;
use crate::text;

/// The punchings to lay ready, and the notes for which none in the stock fits.
#[component]
pub fn PickList(corrections: CorrectionsState, rows: Memo<Vec<CorrectionRow>>) -> impl IntoView {
    let length = corrections.length;
    (move || {
        let picks = corrections.found.with(|f| f.picks.clone());
        let short = picks.iter().any(|p| p.missing > 0);
        let off: Vec<String> = rows.with(|rows| {
            let off = rows.iter().filter(|r| r.stays_off);
            off.map(|r| text::subject(r.on)).collect()
        });
        let line = |p: &punchings::Pick| {
            let missing = match p.missing {
                0 => "–".to_owned(),
                n => format!("{n} missing"),
            };
            view! {
                <tr>
                    <th scope="row">{punchings::shown(p.thickness, length)}" "{length.symbol()}</th>
                    <td class="num">{p.needed.to_string()}</td>
                    {short.then(|| view! { <td class="num">{missing}</td> })}
                </tr>
            }
        };
        let job = corrections.job?;
        (!picks.is_empty()).then(|| {
            view! {
                <section>
                    <h2>"Punchings to lay ready"</h2>
                    <table class="table">
                        <thead>
                            <tr>
                                <th scope="col">"Thickness"</th>
                                <th scope="col" class="num">"How many"</th>
                                {short.then(|| view! { <th scope="col" class="num">"From the stock"</th> })}
                            </tr>
                        </thead>
                        <tbody>{picks.iter().map(line).collect_view()}</tbody>
                    </table>
                    {(!off.is_empty()).then(|| view! {
                        <p>"No punchings in the stock bring "{off.join(", ")}" on target. Add another thickness, such as a thinner one."</p>
                        <a class="button" href=Route::Setup(job, "punchings").href()>"See the punching stock"</a>
                    })}
                </section>
            }
        })
    })
    .into_any()
}
