//! Concurrent statements: what two replicas stated of one thing, neither knowing of the other.
//!
//! Each entry lists the statements that it supersedes: those that were in effect when it was made. Two statements
//! of different replicas are concurrent while neither, and no later one, supersedes the other. The later one is in
//! effect, and the other stays in sight until an entry supersedes both.

use std::collections::{BTreeMap, HashMap, HashSet};

use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::{Map, Value as Json};

use super::{Entry, EntryId, EntryKind, Job, ReplicaId, Scope, Subject, WorkDay};
use crate::trade::{MeasureId, Occasion, Place, StepId, Target};

/// One thing that entries state a value of; each statement takes the place of the earlier one.
///
/// It has no default. Topics compare in the order of their variants: what the job is called first, the archive last.
///
/// ```
/// use evenhand_core::job::{Details, EntryKind, Topic};
///
/// let set = Box::new(Details { serial: Some("1".to_owned()), ..Details::default() });
/// assert_eq!(EntryKind::Details { set }.topics(), [Topic::Detail("serial".to_owned())]);
/// ```
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Topic {
    /// A field of the details, by its key in the job file.
    Detail(String),
    /// A field of the setup, by its key in the job file.
    Setup(String),
    /// The target of a measure for exactly one scope.
    Target(MeasureId, Scope),
    /// The kind of the job.
    Kind,
    /// Whether a step is left out of the job.
    LeftOut(StepId),
    /// A step of the user's own.
    OwnStep(StepId),
    /// The order of the steps.
    Arranged,
    /// A measure of a subject at a place.
    Reading {
        /// The measure.
        measure: MeasureId,
        /// The note, section or whole.
        on: Subject,
        /// The place: on the bench or in the piano.
        place: Place,
        /// `true` for what was found, which later readings do not replace.
        as_found: bool,
    },
    /// The stated working time of a person on a day at a step; of all days and persons for `None`.
    Minutes(StepId, Option<WorkDay>),
    /// The text of a remark or a fault, by the entry that noted it.
    Remark(EntryId),
    /// Whether the job is archived.
    Archived,
}

/// Concurrent statements about one topic that differ: the one in effect, and at least one other.
///
/// [`Job::concurrent`] lists them; it has no default.
///
/// ```
/// use evenhand_core::job::{Details, EntryKind, Job, ReplicaId, Topic};
///
/// let serial = |serial: &str| EntryKind::Details {
///     set: Box::new(Details { serial: Some(serial.to_owned()), ..Details::default() }),
/// };
/// let mut job = Job::new();
/// let first = job.draft(ReplicaId::new(1), 1_000, serial("123"));
/// let second = job.draft(ReplicaId::new(2), 2_000, serial("132"));
/// job.merge([first.clone(), second.clone()]);
/// let found = &job.concurrent()[0];
/// assert_eq!(found.topic, Topic::Detail("serial".to_owned()));
/// assert_eq!((found.in_effect, found.others[0]), (&second, &first));
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Concurrent<'a> {
    /// What they are about.
    pub topic: Topic,
    /// The entry in effect: the latest.
    pub in_effect: &'a Entry,
    /// The others, in log order, each with another value than the one in effect.
    pub others: Vec<&'a Entry>,
}

/// What the writer of a statement knew of earlier ones.
pub(super) enum Known<'a> {
    /// Entries of releases that did not say: all that precedes it in the log.
    AllBefore,
    /// These, all earlier ones of its own replica, and what their writers knew.
    These(&'a [EntryId]),
}

/// A statement, as the rule of concurrency needs it.
pub(super) trait Statement {
    /// Returns what [`Entry::written`] returns of its entry.
    fn written(&self) -> (u64, EntryId);
    /// Returns what its writer knew.
    fn known(&self) -> Known<'_>;
    /// Returns `true` if it is not taken back.
    fn is_alive(&self) -> bool;
}

/// Returns the statements about one topic that no other one supersedes, in log order. The last is in effect.
///
/// A statement that was taken back supersedes nothing, but what its writer knew is known to those after it.
pub(super) fn unsuperseded<S: Statement>(statements: impl DoubleEndedIterator<Item = S>) -> Vec<S> {
    // With the last that names each: a list binds only to what was written before it.
    let mut superseded: HashMap<EntryId, (u64, EntryId)> = HashMap::new();
    let mut replicas: HashSet<ReplicaId> = HashSet::new();
    let mut left = Vec::new();
    // What binds precedes in the log too, so one pass from the end meets each statement after all that
    // can supersede it.
    for statement in statements.rev() {
        let written = statement.written();
        let id = written.1;
        let is_superseded = superseded.get(&id).is_some_and(|by| written < *by);
        let is_known = is_superseded || replicas.contains(&id.replica);
        let mut is_last = false;
        if is_known || statement.is_alive() {
            replicas.insert(id.replica);
            match statement.known() {
                Known::AllBefore => is_last = true,
                Known::These(ids) => {
                    for id in ids {
                        let by = superseded.entry(*id).or_insert(written);
                        *by = written.max(*by);
                    }
                }
            }
        }
        if statement.is_alive() && !is_known {
            left.push(statement);
        }
        if is_last {
            break;
        }
    }
    left.reverse();
    left
}

/// An entry as a statement.
struct Stated<'a> {
    entry: &'a Entry,
    alive: bool,
}

impl Statement for Stated<'_> {
    fn written(&self) -> (u64, EntryId) {
        self.entry.written()
    }

    fn known(&self) -> Known<'_> {
        known(self.entry.supersedes.as_deref(), &self.entry.kind)
    }

    fn is_alive(&self) -> bool {
        self.alive
    }
}

fn known<'a>(supersedes: Option<&'a [EntryId]>, kind: &EntryKind) -> Known<'a> {
    match (supersedes, kind) {
        (Some(ids), _) => Known::These(ids),
        (None, EntryKind::Reading { occasion, .. }) => known_to_reading(*occasion),
        (None, _) => Known::AllBefore,
    }
}

/// Returns what the writer of a reading knew that lists nothing. Readings as found never had a list before.
pub(super) const fn known_to_reading<'a>(occasion: Occasion) -> Known<'a> {
    match occasion {
        Occasion::AsFound => Known::AllBefore,
        Occasion::Working | Occasion::AsLeft => Known::These(&[]),
    }
}

/// Returns the fields that are given in a set of details or a setup, as in the job file.
fn fields(set: &impl Serialize) -> Map<String, Json> {
    match serde_json::to_value(set) {
        Ok(Json::Object(fields)) => fields,
        _ => Map::new(),
    }
}

/// Returns a set of details or a setup with only one of its fields, or `None` if that is not given.
fn only<T: Serialize + DeserializeOwned>(set: &T, field: &str) -> Option<Box<T>> {
    let value = fields(set).remove(field)?;
    let one = Map::from_iter([(field.to_owned(), value)]);
    serde_json::from_value(Json::Object(one)).ok().map(Box::new)
}

/// Returns `true` for a field in which each replica speaks for itself, or that nobody chooses.
fn is_own(field: &str) -> bool {
    matches!(field, "technician" | "invented")
}

impl EntryKind {
    /// Returns the topics that it states something about; none for what adds to the job and replaces nothing.
    pub fn topics(&self) -> Vec<Topic> {
        match self {
            EntryKind::Details { set } => {
                let fields = fields(set).into_iter().map(|(field, _)| field);
                fields.filter(|f| !is_own(f)).map(Topic::Detail).collect()
            }
            EntryKind::Setup { set } => {
                let fields = fields(set).into_iter();
                fields.map(|(field, _)| Topic::Setup(field)).collect()
            }
            // A target that cannot judge is not taken.
            EntryKind::Target {
                measure,
                scope,
                target,
            } if target.as_ref().is_none_or(Target::is_sound) => {
                vec![Topic::Target(measure.clone(), *scope)]
            }
            EntryKind::KindChosen { .. } => vec![Topic::Kind],
            EntryKind::LeftOut { step, .. } => vec![Topic::LeftOut(step.clone())],
            EntryKind::OwnStep { step } => vec![Topic::OwnStep(step.id.clone())],
            EntryKind::Arranged { .. } => vec![Topic::Arranged],
            EntryKind::Reading {
                measure,
                on,
                place,
                occasion,
                ..
            } => vec![Topic::Reading {
                measure: measure.clone(),
                on: *on,
                place: *place,
                as_found: *occasion == Occasion::AsFound,
            }],
            EntryKind::MinutesStated {
                step,
                worked,
                instead_of,
                ..
            } => {
                // A corrected person or day speaks of both.
                let also = instead_of.iter().map(|was| Some(was.clone()));
                let days = std::iter::once(worked.clone()).chain(also);
                days.map(|day| Topic::Minutes(step.clone(), day)).collect()
            }
            EntryKind::RemarkChanged { remark, .. } => vec![Topic::Remark(*remark)],
            EntryKind::Archived { .. } => vec![Topic::Archived],
            _ => Vec::new(),
        }
    }

    /// Returns only what it states about a topic, or `None` if it states nothing about it.
    ///
    /// ```
    /// use evenhand_core::job::{Details, EntryKind, Topic};
    ///
    /// let text = |t: &str| Some(t.to_owned());
    /// let both = Box::new(Details { name: text("Studio"), serial: text("1"), ..Details::default() });
    /// let serial = Box::new(Details { serial: text("1"), ..Details::default() });
    /// let only = EntryKind::Details { set: both }.about(&Topic::Detail("serial".to_owned()));
    /// assert_eq!(only, Some(EntryKind::Details { set: serial }));
    /// ```
    pub fn about(&self, topic: &Topic) -> Option<EntryKind> {
        match (self, topic) {
            (EntryKind::Details { set }, Topic::Detail(field)) => {
                only(&**set, field).map(|set| EntryKind::Details { set })
            }
            (EntryKind::Setup { set }, Topic::Setup(field)) => {
                only(&**set, field).map(|set| EntryKind::Setup { set })
            }
            _ => self.topics().contains(topic).then(|| self.clone()),
        }
    }

    /// Returns `true` if two statements about one topic state the same value.
    fn states_as(&self, other: &EntryKind) -> bool {
        match (self, other) {
            // Neither what was typed nor the occasion is what differs.
            (EntryKind::Reading { value: a, .. }, EntryKind::Reading { value: b, .. }) => a == b,
            (a, b) => a == b,
        }
    }
}

impl Job {
    /// Returns the entries that a statement of this kind supersedes when it is made now, or `None` if it is no
    /// statement, or the first of a working reading.
    pub(super) fn superseded_by(&self, kind: &EntryKind) -> Option<Vec<EntryId>> {
        if let EntryKind::Reading {
            measure,
            on,
            place,
            occasion,
            ..
        } = kind
        {
            let measure_state = self.state().measure_state(measure.as_str(), *on, *place);
            let ids = measure_state.map_or_else(Vec::new, |s| s.unsuperseded(*occasion));
            let as_found = *occasion == Occasion::AsFound;
            return (as_found || !ids.is_empty()).then_some(ids);
        }
        let topics = kind.topics();
        if topics.is_empty() {
            return None;
        }
        let of_kind = std::mem::discriminant(kind);
        let ids = topics.iter().flat_map(|topic| {
            let is_meant = |kind: &EntryKind| {
                std::mem::discriminant(kind) == of_kind && kind.topics().contains(topic)
            };
            let stated = self.statements(is_meant);
            unsuperseded(stated).into_iter().map(|s| s.entry.id)
        });
        let mut ids: Vec<EntryId> = ids.collect();
        ids.sort_unstable();
        ids.dedup();
        Some(ids)
    }

    /// Returns the entries that are statements of some kind, in log order; without changes of what is no earlier
    /// remark.
    fn statements(
        &self,
        is_meant: impl Fn(&EntryKind) -> bool,
    ) -> impl DoubleEndedIterator<Item = Stated<'_>> {
        let entries = self.log().entries().iter();
        entries
            .filter(move |entry| is_meant(&entry.kind))
            .filter(|entry| match &entry.kind {
                EntryKind::RemarkChanged { remark, .. } => {
                    self.state().is_noted(*remark) && self.log().binds(entry, *remark)
                }
                _ => true,
            })
            .map(|entry| Stated {
                entry,
                alive: self.state().is_alive(entry.id),
            })
    }

    /// Returns the concurrent statements that differ, by topic; none once an entry supersedes them.
    ///
    /// It is a function of the set of entries, whatever the order in which they arrived.
    ///
    /// ```
    /// use evenhand_core::job::{Details, EntryKind, Job, ReplicaId};
    ///
    /// let serial = |serial: &str| EntryKind::Details {
    ///     set: Box::new(Details { serial: Some(serial.to_owned()), ..Details::default() }),
    /// };
    /// let mut office = Job::new();
    /// let said = office.draft(ReplicaId::new(1), 1_000, serial("123"));
    /// office.merge([office.draft(ReplicaId::new(2), 2_000, serial("132")), said]);
    /// assert_eq!(office.concurrent().len(), 1);
    ///
    /// office.apply(office.draft(ReplicaId::new(1), 3_000, serial("123")));
    /// assert!(office.concurrent().is_empty());
    /// ```
    pub fn concurrent(&self) -> Vec<Concurrent<'_>> {
        let mut topics: BTreeMap<Topic, Vec<Stated<'_>>> = BTreeMap::new();
        // Readings are many, and the state has them by subject already.
        let others = self.statements(|kind| !matches!(kind, EntryKind::Reading { .. }));
        for Stated { entry, alive } in others {
            for topic in entry.kind.topics() {
                let of_topic = topics.entry(topic).or_default();
                of_topic.push(Stated { entry, alive });
            }
        }
        topics.retain(|topic, _| self.is_of_something(topic));
        let others = topics.into_iter().filter_map(|(topic, stated)| {
            let left = unsuperseded(stated.into_iter());
            let left = left.iter().map(|s| s.entry).collect();
            differing(topic, left)
        });
        let readings = self.state().concurrent_readings();
        let readings = readings.into_iter().filter_map(|(topic, ids)| {
            let left = ids.iter().filter_map(|id| self.log().get(*id)).collect();
            differing(topic, left)
        });
        let mut all: Vec<Concurrent<'_>> = others.chain(readings).collect();
        all.sort_unstable_by(|a, b| a.topic.cmp(&b.topic));
        all
    }

    /// Returns the concurrent statements about one topic if they differ. For a reading the cost does not grow with the
    /// job.
    pub fn concurrent_about(&self, topic: &Topic) -> Option<Concurrent<'_>> {
        let left = match topic {
            Topic::Reading {
                measure,
                on,
                place,
                as_found,
            } => {
                let measure_state = self.state().measure_state(measure.as_str(), *on, *place)?;
                let occasion = match as_found {
                    true => Occasion::AsFound,
                    false => Occasion::Working,
                };
                if measure_state.others(occasion).is_empty() {
                    return None;
                }
                let ids = measure_state.unsuperseded(occasion).into_iter();
                ids.filter_map(|id| self.log().get(id)).collect()
            }
            _ if !self.is_of_something(topic) => return None,
            _ => {
                let is_meant = |kind: &EntryKind| {
                    !matches!(kind, EntryKind::Reading { .. }) && kind.topics().contains(topic)
                };
                let left = unsuperseded(self.statements(is_meant)).into_iter();
                left.map(|s| s.entry).collect()
            }
        };
        differing(topic.clone(), left)
    }

    /// Returns `false` for a remark that was taken back, of which no text is in effect.
    fn is_of_something(&self, topic: &Topic) -> bool {
        match topic {
            Topic::Remark(id) => self.state().remark(*id).is_some(),
            _ => true,
        }
    }
}

/// Returns the unsuperseded entries about a topic if they differ.
fn differing(topic: Topic, mut left: Vec<&Entry>) -> Option<Concurrent<'_>> {
    let in_effect = left.pop()?;
    let now = in_effect.kind.about(&topic)?;
    let differs = |entry: &&Entry| {
        let then = entry.kind.about(&topic);
        then.is_some_and(|then| !then.states_as(&now))
    };
    left.retain(differs);
    (!left.is_empty()).then_some(Concurrent {
        topic,
        in_effect,
        others: left,
    })
}
