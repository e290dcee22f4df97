//! How long the texts of an entry may be: as long as they can be typed.

use super::run::Run;
use super::{Details, Entry, EntryKind};
use crate::note::Note;
use crate::trade::StepId;

/// The longest text, in characters.
const MAX_TEXT: usize = 300;
/// The longest remark, agreed work or instruction, in characters.
const MAX_REMARK: usize = 2_000;

/// The most sizes of parts.
const MAX_SIZES: usize = 40;

fn is_at_most(text: &str, most: usize) -> bool {
    text.len() <= most || text.chars().nth(most).is_none()
}

fn short(text: &str) -> bool {
    is_at_most(text, MAX_TEXT)
}

fn long(text: &str) -> bool {
    is_at_most(text, MAX_REMARK)
}

fn no_longer(details: &Details) -> bool {
    let Details {
        name,
        client,
        described,
        serial,
        technician,
        currency,
        scope,
        for_client,
        ..
    } = details;
    let texts = [
        name, client, described, serial, technician, currency, for_client,
    ];
    texts.into_iter().flatten().all(|text| short(text)) && scope.iter().all(|text| long(text))
}

impl EntryKind {
    /// Returns `true` if no text is longer than it can be typed, and a batch is a list of at most [`Run::MAX`] sorted
    /// runs. The readings of an earlier job are not looked at.
    pub(super) fn fits(&self) -> bool {
        let step = |id: &StepId| short(&id.0);
        match self {
            EntryKind::Details { set } => no_longer(set),
            EntryKind::Reading { measure, typed, .. } => short(&measure.0) && short(typed),
            EntryKind::Correction { measure, .. }
            | EntryKind::Target { measure, .. }
            | EntryKind::MarkedOut { measure, .. }
            | EntryKind::NotRemeasured { measure, .. } => short(&measure.0),
            EntryKind::Swept { measure, notes, .. } => {
                short(&measure.0) && notes.except.len() <= Note::COUNT
            }
            EntryKind::DryingEnded { step: id, reason } => step(id) && short(reason),
            EntryKind::Remark { step: id, text, .. } => id.iter().all(step) && long(text),
            EntryKind::FaultCarried {
                text, from_name, ..
            } => long(text) && from_name.iter().all(|name| short(name)),
            EntryKind::RemarkChanged { text, .. } => long(text),
            EntryKind::Photographed {
                step: id, caption, ..
            } => id.iter().all(step) && short(caption),
            // It is typed where remarks are.
            EntryKind::FaultFixed { how, .. } => long(how),
            EntryKind::MinutesStated {
                step: id,
                worked,
                instead_of,
                ..
            } => {
                let mut days = [worked, instead_of].into_iter().flatten();
                step(id) && days.all(|day| day.technician.iter().all(|name| short(name)))
            }
            EntryKind::OwnStep { step: own } => {
                step(&own.id) && own.after.iter().all(step) && short(&own.name) && long(&own.how)
            }
            EntryKind::KindChosen { kind } => {
                short(&kind.name)
                    && kind.steps.iter().all(step)
                    && kind.sample.iter().all(|m| short(&m.0))
            }
            EntryKind::Arranged { steps } => steps.iter().all(step),
            EntryKind::DryingStarted { step: id, .. }
            | EntryKind::PassOpened { step: id, .. }
            | EntryKind::PassClosed { step: id }
            | EntryKind::LeftOut { step: id, .. } => step(id),
            EntryKind::Opened { entries } => {
                Run::are_sorted(entries) && entries.iter().all(|run| run.last <= Entry::MAX)
            }
            EntryKind::Setup { set } => {
                let sizes = set.part_sizes.iter().flatten();
                let prices = set.part_prices_cents.iter().flatten();
                sizes.clone().count() <= MAX_SIZES
                    && sizes.into_iter().all(|(k, v)| short(k) && short(v))
                    && prices.clone().count() <= MAX_SIZES
                    && prices.into_iter().all(|(k, _)| short(k))
            }
            EntryKind::Made { .. }
            | EntryKind::Undo { .. }
            | EntryKind::Archived { .. }
            | EntryKind::Unknown(_) => true,
        }
    }
}
