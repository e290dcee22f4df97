//! The steps that are in the order only where a grade calls for them: what to do about worn parts, the renewals that are
//! decided, and dull hammers to file.

use std::borrow::Cow;
use std::collections::HashMap;
use std::sync::LazyLock;

use super::details::FollowingLength;
use crate::trade::{Instrument, Order, Step, StepId};

/// Returns the steps that a measure may call for or that take it, by the measure. Every entry asks.
pub(super) fn concerned(
    instrument: Instrument,
) -> &'static HashMap<&'static str, Vec<&'static Step>> {
    static STEPS: LazyLock<[HashMap<&'static str, Vec<&'static Step>>; 2]> = LazyLock::new(|| {
        [Instrument::Grand, Instrument::Upright].map(|instrument| {
            let mut steps: HashMap<&'static str, Vec<&'static Step>> = HashMap::new();
            for step in instrument.conditional_steps() {
                for id in &step.takes {
                    let measure = instrument.measure(id.as_str());
                    let grade_of = measure.and_then(|m| Some(m.called_for()?.grade_of));
                    for name in grade_of.into_iter().chain([id.as_str()]) {
                        steps.entry(name).or_default().push(step);
                    }
                }
            }
            steps
        })
    });
    &STEPS[usize::from(instrument == Instrument::Upright)]
}

/// Returns the usual order with the steps that are called for: with the blow first where the dip is left to follow,
/// otherwise the dip first.
pub(super) fn order(
    instrument: Instrument,
    following: Option<FollowingLength>,
    called_for: &[StepId],
) -> Cow<'static, Order> {
    let blow_first = following == Some(FollowingLength::Dip);
    if !called_for.is_empty() {
        return Cow::Owned(with(instrument, blow_first, called_for));
    }
    static ORDERS: LazyLock<[Order; 4]> = LazyLock::new(|| {
        let [grand, upright] = [Instrument::Grand, Instrument::Upright];
        [
            with(grand, false, &[]),
            with(grand, true, &[]),
            with(upright, false, &[]),
            with(upright, true, &[]),
        ]
    });
    let upright = usize::from(instrument == Instrument::Upright);
    Cow::Borrowed(&ORDERS[2 * upright + usize::from(blow_first)])
}

fn with(instrument: Instrument, blow_first: bool, called_for: &[StepId]) -> Order {
    let all = match blow_first {
        true => Order::blow_first(instrument),
        false => Order::of(instrument),
    };
    let conditional = instrument.conditional_steps();
    all.without(|id| conditional.iter().any(|s| s.id == *id) && !called_for.contains(id))
}
