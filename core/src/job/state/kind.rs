//! Which steps a job has by its kind, and what it leaves out or adds.

use std::borrow::Cow;

use super::super::called_for;
use super::State;
use crate::trade::{JobKind, MeasureId, Order, StepId};

impl State {
    /// Returns `true` if a step is left out of this job by itself, not by the kind of the job.
    pub fn is_left_out(&self, step: &StepId) -> bool {
        self.said_left_out(step) == Some(true)
    }

    /// Returns whether a step was left out or put back last; `None` if neither.
    fn said_left_out(&self, step: &StepId) -> Option<bool> {
        let mut said = self.left_out.get(step)?.iter().rev();
        said.find(|(.., alive)| *alive).map(|(_, out, _)| *out)
    }

    /// Returns `true` if a step is done in this job: it was put back, or the kind has it and it was not left out.
    pub(super) fn is_done(&self, step: &StepId) -> bool {
        let of_kind = || self.kind().is_none_or(|kind| kind.includes(step));
        self.said_left_out(step).map_or_else(of_kind, |out| !out)
    }

    /// Returns the kind of the job, or `None` if none was chosen for its instrument: then it has all steps.
    ///
    /// ```
    /// use evenhand_core::job::{EntryKind, Job, ReplicaId};
    /// use evenhand_core::trade::{Instrument, JobKind};
    ///
    /// let [.., survey, _] = JobKind::built_in(Instrument::Grand);
    /// let mut job = Job::new();
    /// let act = EntryKind::KindChosen { kind: Box::new(survey.clone()) };
    /// job.apply(job.draft(ReplicaId::new(7), 0, act));
    /// assert_eq!(job.state().kind(), Some(&survey));
    /// assert_eq!(job.state().order().steps().len(), 4);
    /// ```
    pub fn kind(&self) -> Option<&JobKind> {
        let latest = self.kinds.iter().rfind(|(.., alive)| *alive);
        let kind = latest.map(|(_, kind, _)| kind);
        kind.filter(|kind| kind.instrument == self.instrument())
    }

    /// Returns what the as-found and the as-left sample measure; empty if all that they can.
    pub fn sample_measures(&self) -> &[MeasureId] {
        let of_kind = || self.kind().map_or(&[][..], |kind| &kind.sample);
        let chosen = self.setup().sample_measures.as_deref();
        chosen.unwrap_or_else(of_kind)
    }

    /// Returns the trade's steps that this job could have, with those that grades call for, as they are where its kind is
    /// done.
    pub(super) fn trades_order(&self) -> Cow<'static, Order> {
        let (instrument, following) = (self.instrument(), self.setup().following);
        let trades = called_for::order(instrument, following, &self.workflow.called_for);
        match self.kind() {
            Some(kind) => Cow::Owned(kind.placed(&trades)),
            None => trades,
        }
    }

    /// Returns the steps that this job could have and does not: the trade's where it is done, and the user's own. Each
    /// with its name.
    pub fn steps_not_done(&self) -> Vec<(StepId, String)> {
        let trades = self.trades_order();
        let own = self.own_steps_in_effect();
        let own = own.iter().map(|s| (s.id.clone(), s.name.clone()));
        let trades = trades.steps().iter();
        let all = trades
            .map(|s| (s.id.clone(), s.name.to_string()))
            .chain(own);
        all.filter(|(id, _)| !self.is_done(id)).collect()
    }
}
