use std::collections::{BTreeMap, HashMap};

use super::{Act, DeviceId, Entry};
use crate::trade::StepId;

/// A longer pause between two entries of an open pass is not counted as work.
pub(super) const LONGEST_PAUSE_MS: i64 = 3 * 60_000;

/// Working time by step, from the entries made while a pass was open.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Times {
    open: HashMap<DeviceId, (StepId, i64)>,
    spent_ms: HashMap<StepId, i64>,
}

impl Times {
    /// Counts the time since the device's last entry towards its open pass.
    pub fn count(&mut self, entry: &Entry) {
        if let Some((step, last)) = self.open.get_mut(&entry.id.device) {
            let gap = entry.at_ms.saturating_sub(*last);
            // A clock set back gives a negative gap, which is no work either.
            if (1..=LONGEST_PAUSE_MS).contains(&gap) {
                match self.spent_ms.get_mut(step) {
                    Some(spent) => *spent += gap,
                    None => {
                        self.spent_ms.insert(step.clone(), gap);
                    }
                }
            }
            *last = entry.at_ms;
        }
    }

    pub fn open(&mut self, device: DeviceId, step: &StepId, at_ms: i64) {
        self.open.insert(device, (step.clone(), at_ms));
    }

    /// Closes the pass of a step; a late close of another one leaves the open one open.
    pub fn close(&mut self, device: DeviceId, step: &StepId) {
        if self.open.get(&device).is_some_and(|(open, _)| open == step) {
            self.open.remove(&device);
        }
    }

    pub fn spent_ms(&self, step: &str) -> i64 {
        self.spent_ms.get(step).copied().unwrap_or(0)
    }
}

/// Working time by device and step, sorted by both; what [`Times`] counts for all devices together.
pub(super) fn by_device(entries: &[Entry]) -> Vec<(DeviceId, StepId, i64)> {
    let mut of: BTreeMap<DeviceId, Times> = BTreeMap::new();
    for entry in entries {
        let times = of.entry(entry.id.device).or_default();
        times.count(entry);
        match &entry.act {
            Act::PassOpened { step } => times.open(entry.id.device, step, entry.at_ms),
            Act::PassClosed { step } => times.close(entry.id.device, step),
            _ => {}
        }
    }
    let mut all = Vec::new();
    for (device, times) in of {
        let from = all.len();
        all.extend(
            times
                .spent_ms
                .into_iter()
                .map(|(step, ms)| (device, step, ms)),
        );
        crate::sort::by(&mut all[from..], Ord::cmp);
    }
    all
}
