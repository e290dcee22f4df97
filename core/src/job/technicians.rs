//! Who works on each replica, as it said over time.

use std::collections::HashMap;

use super::{LogPosition, ReplicaId};

/// The names that each replica stated, in log order; the flag is `false` for a statement taken back.
///
/// A name holds for what its replica does from then on, so that two technicians can share a phone. What
/// a replica did before its first name belongs to that name.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Technicians(HashMap<ReplicaId, Vec<(LogPosition, String, bool)>>);

/// A replica between two of its statements of a name.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) struct Spell {
    replica: ReplicaId,
    /// The number of names that the replica stated before.
    names: usize,
}

impl Technicians {
    /// Adds a name, which must be the latest of its replica. An empty one means that nobody is named.
    pub fn name(&mut self, position: LogPosition, name: &str, alive: bool) {
        let names = self.0.entry(position.id.replica).or_default();
        names.push((position, name.trim().to_owned(), alive));
    }

    /// Takes a name back, or restores it.
    pub fn set_alive(&mut self, position: LogPosition, alive: bool) {
        let names = self.0.get_mut(&position.id.replica);
        let name = names.and_then(|names| names.iter_mut().find(|n| n.0 == position));
        if let Some(name) = name {
            name.2 = alive;
        }
    }

    /// Returns the spell that a replica is in after all its names so far.
    pub fn spell(&self, replica: ReplicaId) -> Spell {
        let names = self.0.get(&replica).map_or(0, Vec::len);
        Spell { replica, names }
    }

    /// Returns the spell of a position in the log.
    pub fn spell_at(&self, position: LogPosition) -> Spell {
        let replica = position.id.replica;
        let names = self.0.get(&replica).map_or(0, |names| {
            names.partition_point(|(stated, ..)| *stated <= position)
        });
        Spell { replica, names }
    }

    /// Returns the name of a spell: the latest before it, otherwise the first after it. `None` if the
    /// replica states none, or an empty one.
    pub fn of(&self, spell: Spell) -> Option<&str> {
        let names = self.0.get(&spell.replica)?;
        let (before, after) = names.split_at(spell.names.min(names.len()));
        let alive = |n: &&(LogPosition, String, bool)| n.2;
        let stated = before.iter().rfind(alive).or(after.iter().find(alive))?;
        Some(stated.1.as_str()).filter(|name| !name.is_empty())
    }

    /// Returns every name that is stated; they may repeat.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        let alive = self.0.values().flatten().filter(|n| n.2);
        alive.map(|n| n.1.as_str()).filter(|name| !name.is_empty())
    }
}
