//! Announces a reading by speech and vibration: at most six words, which the next press cuts off.

use evenhand_core::job::{Item, ItemState, Subject};
use evenhand_core::trade::Verdict;
use leptos::prelude::*;

use super::correction;
use super::state::PassState;
use crate::device::{speech, vibration};
use crate::text;

/// The most words that are said at once.
const MAX_WORDS: usize = 6;

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
        if let ItemState::Swept(_) = item_state {
            let words = text::swept(measure).trim_start_matches("swept, ");
            return Some((false, words.to_owned(), None));
        }
        let value = item_state.reading()?.value;
        let Some(judged) = item_state.judged() else {
            return Some((false, String::new(), None));
        };
        let is_out = judged.verdict == Verdict::Out;
        let words = text::verdict(measure, &judged, value, state.length_unit());
        let hint = is_out.then(|| correction::hint(pass, state, item));
        Some((is_out, words, hint.flatten().map(|hint| hint.words)))
    });
    let Some((is_out, verdict, hint)) = announcement.flatten() else {
        return;
    };
    felt(pass, is_out);
    if likes.speech {
        speech::say(&spoken(&verdict, hint.as_deref(), &next(pass)));
    }
}

/// Says a word or none, and the note to do.
pub fn say(pass: PassState, words: &str) {
    if pass.session.app.preferences.with_untracked(|p| p.speech) {
        speech::say(&spoken(words, None, &next(pass)));
    }
}

/// Vibrates once, or three times for what is out, if the preferences say so.
pub fn felt(pass: PassState, is_out: bool) {
    if !pass.session.app.preferences.with_untracked(|p| p.still) {
        match is_out {
            true => vibration::three_pulses(),
            false => vibration::pulse(),
        }
    }
}

/// Returns the note to do as it is spoken, or that the pass has ended and how many are out.
fn next(pass: PassState) -> String {
    match pass.item_untracked() {
        Some(item) => note(item.on),
        None => match untrack(|| pass.out_or_marked()) {
            0 => "End".to_owned(),
            out => format!("End, {out} out"),
        },
    }
}

/// Returns a subject's name as it is spoken: `A0`, `A-sharp 0`.
fn note(on: Subject) -> String {
    text::subject(on).replace('♯', "-sharp ")
}

/// Returns verdict, correction and the note to do in at most six words: the correction with the first word of the
/// verdict, and without it where both are too long.
fn spoken(verdict: &str, hint: Option<&str>, next: &str) -> String {
    let count = |words: &str| words.split_whitespace().count();
    let short = verdict.replace("by ", "");
    let first = verdict.split([' ', ',']).next().unwrap_or_default();
    let room = MAX_WORDS.saturating_sub(count(next));
    let said = match hint {
        Some(hint) if count(hint) < room => format!("{first}, {hint}"),
        _ if count(&short) <= room => short,
        _ => first.to_owned(),
    };
    let parts = [said.as_str(), next];
    let parts: Vec<&str> = parts.into_iter().filter(|p| !p.is_empty()).collect();
    parts.join(". ")
}
