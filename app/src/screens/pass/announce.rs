//! Announces a reading by speech and vibration.

use evenhand_core::job::{Item, Subject};
use evenhand_core::trade::Verdict;
use leptos::prelude::*;

use super::correction;
use super::state::PassState;
use crate::device::{speech, vibration};
use crate::text;

/// Announces the reading of an item that was just entered, as the preferences say.
pub fn announce(pass: PassState, item: &Item) {
    let session = pass.session;
    let likes = session.app.preferences.with_untracked(|p| *p);
    if !likes.speech && likes.still {
        return;
    }
    let announcement = session.app.with_state_untracked(|state| {
        let item_state = pass.step.with_value(|step| state.item_state(step, item));
        let measure = state.measure(item.measure.as_str())?;
        let value = item_state.reading()?.value;
        let judged = item_state.judged();
        let is_out = judged.is_some_and(|j| j.verdict == Verdict::Out);
        let mut words = spoken(item.on);
        if let Some(judged) = judged {
            words += ", ";
            words += &text::verdict(measure, &judged, value, state.length_unit());
        }
        if let Some(hint) = is_out
            .then(|| correction::hint(pass, state, item))
            .flatten()
        {
            words += ". ";
            words += &hint.words;
        }
        Some((is_out, words))
    });
    let Some((is_out, mut words)) = announcement.flatten() else {
        return;
    };
    if !likes.still {
        if is_out {
            vibration::three_pulses();
        } else {
            vibration::pulse();
        }
    }
    if likes.speech {
        if let Some(next) = pass.item_untracked() {
            words += ". ";
            words += &spoken(next.on);
        }
        speech::say(&words);
    }
}

/// Returns a subject's name as it is spoken.
fn spoken(on: Subject) -> String {
    text::subject(on).replace('♯', " sharp ")
}
