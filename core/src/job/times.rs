//! Working time: whose, on which day, at which step. It is counted between entries, or stated.

use std::collections::{BTreeMap, HashMap};

use super::technicians::{Spell, Technicians};
use super::work_time::{TimeSource, WorkTime};
use super::{Day, Entry, EntryKind, LogPosition, ReplicaId, WorkDay};
use crate::trade::StepId;

/// The longest gap between two entries of an open pass that counts as work; a longer one is a pause.
const MAX_PAUSE_MS: i64 = 3 * 60_000;

const MINUTE_MS: i64 = 60_000;

/// The working time of every step.
///
/// Counted is the time between the entries of a replica while it has a pass open and works in it, except
/// pauses over three minutes. It works once it measures, marks or adjusts something; the time since the
/// pass was opened then counts too. Who only looks, or only notes a remark, counts nothing.
///
/// A step without entries in between, such as a tuning, cannot be counted, so its time is stated. A
/// statement replaces what came before it for its person, day and step, on every phone; what is counted
/// after it is added.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Times {
    replicas: HashMap<ReplicaId, Clock>,
    steps: HashMap<StepId, StepTimes>,
}

/// The clock of a replica, and its open pass.
#[derive(Clone, Debug, Default, PartialEq)]
struct Clock {
    /// Minutes ahead of UTC, as the latest pass states them; 0 if none does.
    utc_offset_minutes: i16,
    open: Option<OpenPass>,
}

/// An open pass.
#[derive(Clone, Debug, PartialEq)]
struct OpenPass {
    step: StepId,
    opened_ms: i64,
    /// The wall time of the latest record.
    last_ms: i64,
    /// What counts once something is done in it; `None` after that.
    pending_ms: Option<i64>,
}

/// What is known of the working time of one step.
#[derive(Clone, Debug, Default, PartialEq)]
struct StepTimes {
    /// In log order. What is counted is added up between two statements.
    events: Vec<TimeEvent>,
    /// Who measured, marked or adjusted something in a pass of the step, each once.
    workers: Vec<Spell>,
    /// Who did so last, and on which day.
    last: Option<(Spell, Day)>,
}

#[derive(Clone, Debug, PartialEq)]
enum TimeEvent {
    Counted { by: Spell, day: Day, ms: i64 },
    Stated(Stated),
}

/// A statement of working time.
#[derive(Clone, Debug, PartialEq)]
struct Stated {
    position: LogPosition,
    by: Spell,
    at_ms: i64,
    /// The day at the replica that states it.
    day: Day,
    minutes: u32,
    /// Whose time it is. `None` stands for all that came before at the step.
    worked: Option<WorkDay>,
    /// Whose time it replaces besides.
    instead_of: Option<WorkDay>,
    alive: bool,
}

/// Returns `true` if an entry is work at the step of its pass.
const fn is_work(kind: &EntryKind) -> bool {
    matches!(
        kind,
        EntryKind::Reading { .. }
            | EntryKind::Correction { .. }
            | EntryKind::Swept { .. }
            | EntryKind::MarkedOut { .. }
    )
}

impl OpenPass {
    /// Returns the time to count with an entry of the replica, in milliseconds.
    fn count(&mut self, entry: &Entry) -> i64 {
        let gap = entry.at_ms.saturating_sub(self.last_ms);
        self.last_ms = entry.at_ms;
        // A clock set back gives a negative gap, which does not count either.
        let counts = (1..=MAX_PAUSE_MS).contains(&gap);
        let ms = if counts { gap } else { 0 };
        match self.pending_ms {
            Some(pending) if !is_work(&entry.kind) => {
                self.pending_ms = Some(pending.saturating_add(ms));
                0
            }
            pending => {
                self.pending_ms = None;
                pending.unwrap_or(0).saturating_add(ms)
            }
        }
    }
}

impl StepTimes {
    fn count(&mut self, by: Spell, day: Day, ms: i64) {
        let since = self.events.iter_mut().rev();
        let mut since = since.map_while(|event| match event {
            TimeEvent::Counted { by, day, ms } => Some((*by, *day, ms)),
            TimeEvent::Stated(_) => None,
        });
        match since.find(|of| (of.0, of.1) == (by, day)) {
            Some((.., counted)) => *counted = counted.saturating_add(ms),
            None => self.events.push(TimeEvent::Counted { by, day, ms }),
        }
    }

    /// Returns who did the work of a statement that does not say so: the one who made it if that one worked
    /// at the step, otherwise the only one who did.
    fn worker<'a>(&self, stated: &Stated, names: &'a Technicians) -> Option<&'a str> {
        let own = names.of(stated.by);
        let mut workers = self.workers.iter().map(|by| names.of(*by));
        let first = workers.next()?;
        let is_own = first == own || workers.clone().any(|w| w == own);
        match is_own {
            true => own,
            false => first.filter(|_| workers.all(|w| w == first)),
        }
    }

    /// Returns the time by day and person, in their order.
    fn by_day(&self, names: &Technicians) -> BTreeMap<WorkDay, (i64, TimeSource)> {
        let mut all: BTreeMap<WorkDay, (i64, TimeSource)> = BTreeMap::new();
        for event in &self.events {
            match event {
                TimeEvent::Counted { by, day, ms } => {
                    let worked = WorkDay::of(*day, names.of(*by));
                    let (sum, _) = all.entry(worked).or_insert((0, TimeSource::Counted));
                    *sum = sum.saturating_add(*ms);
                }
                TimeEvent::Stated(stated) if stated.alive => {
                    let worked = match &stated.worked {
                        Some(worked) => WorkDay::of(worked.day, worked.technician.as_deref()),
                        None => {
                            all.clear();
                            WorkDay::of(stated.day, self.worker(stated, names))
                        }
                    };
                    if let Some(instead) = &stated.instead_of {
                        all.remove(&WorkDay::of(instead.day, instead.technician.as_deref()));
                    }
                    let source = TimeSource::Stated {
                        by: names.of(stated.by).map(str::to_owned),
                        at_ms: stated.at_ms,
                    };
                    all.insert(worked, (i64::from(stated.minutes) * MINUTE_MS, source));
                }
                TimeEvent::Stated(_) => {}
            }
        }
        all
    }
}

impl Times {
    /// Adds an entry of the log; `alive` is `false` if a later entry takes it back. What was counted stays
    /// counted: the time went by all the same.
    pub fn add(&mut self, entry: &Entry, position: LogPosition, alive: bool, names: &Technicians) {
        let replica = entry.id.replica;
        let by = names.spell(replica);
        let clock = self.replicas.get_mut(&replica);
        let offset = clock.as_ref().map_or(0, |c| c.utc_offset_minutes);
        let day = Day::at(entry.at_ms, offset);
        if let Some(open) = clock.and_then(|c| c.open.as_mut()) {
            let ms = open.count(entry);
            let works = is_work(&entry.kind);
            if ms > 0 || works {
                let times = self.steps.entry(open.step.clone()).or_default();
                if ms > 0 {
                    times.count(by, day, ms);
                }
                if works {
                    times.last = Some((by, day));
                    if !times.workers.contains(&by) {
                        times.workers.push(by);
                    }
                }
            }
        }
        match &entry.kind {
            EntryKind::PassOpened {
                step,
                utc_offset_minutes,
            } => {
                let clock = self.replicas.entry(replica).or_default();
                clock.utc_offset_minutes = utc_offset_minutes.unwrap_or(offset);
                clock.open = Some(OpenPass {
                    step: step.clone(),
                    opened_ms: entry.at_ms,
                    last_ms: entry.at_ms,
                    pending_ms: Some(0),
                });
            }
            EntryKind::PassClosed { step } => {
                // No effect if the open pass is that of another step.
                if let Some(clock) = self.replicas.get_mut(&replica) {
                    clock.open = clock.open.take().filter(|open| open.step != *step);
                }
            }
            EntryKind::MinutesStated {
                step,
                minutes,
                worked,
                instead_of,
            } => {
                let stated = TimeEvent::Stated(Stated {
                    position,
                    by,
                    at_ms: entry.at_ms,
                    day,
                    minutes: *minutes,
                    worked: worked.clone(),
                    instead_of: instead_of.clone(),
                    alive,
                });
                let times = self.steps.entry(step.clone()).or_default();
                times.events.push(stated);
            }
            _ => {}
        }
    }

    /// Takes a statement back, or restores it.
    pub fn set_alive(&mut self, position: LogPosition, step: &StepId, alive: bool) {
        let times = self.steps.get_mut(step);
        for event in times.into_iter().flat_map(|of| &mut of.events) {
            if let TimeEvent::Stated(stated) = event
                && stated.position == position
            {
                stated.alive = alive;
            }
        }
    }

    /// Returns the steps with working time or work, in alphabetical order.
    pub fn steps(&self) -> Vec<&StepId> {
        let mut steps: Vec<&StepId> = self.steps.keys().collect();
        steps.sort_unstable();
        steps
    }

    /// Returns the working times of a step, by day and person.
    pub fn of(&self, step: &str, names: &Technicians) -> Vec<WorkTime> {
        let Some((step, of)) = self.steps.get_key_value(step) else {
            return Vec::new();
        };
        let time = |(worked, (ms, source))| WorkTime {
            step: step.clone(),
            worked,
            ms,
            source,
        };
        of.by_day(names).into_iter().map(time).collect()
    }

    /// Returns the names of those who measured, marked or adjusted something in a pass of a step; they may
    /// repeat.
    pub fn workers<'a>(&self, step: &str, names: &'a Technicians) -> Vec<Option<&'a str>> {
        let workers = self.steps.get(step).into_iter().flat_map(|of| &of.workers);
        workers.map(|by| names.of(*by)).collect()
    }

    /// Returns who worked last in a pass of a step, and on which day.
    pub fn last_worked(&self, step: &str, names: &Technicians) -> Option<WorkDay> {
        let (by, day) = self.steps.get(step)?.last?;
        Some(WorkDay::of(day, names.of(by)))
    }

    /// Returns when the open pass of a replica was opened, or `None` if none is open.
    pub fn opened_ms(&self, replica: ReplicaId) -> Option<i64> {
        let clock = self.replicas.get(&replica)?;
        Some(clock.open.as_ref()?.opened_ms)
    }
}
