//! Two kinds of map for all that is looked up by a key.
//!
//! Each type of key and value that a map of the standard library is made for brings its own
//! 2 to 8 KB to the program that the phone loads; these bring some hundred bytes.

use std::borrow::{Borrow, Cow};
use std::collections::HashMap;
use std::hash::Hash;

/// A map in a sorted list: for what has some hundred keys at most, whatever a file holds.
///
/// ```
/// use evenhand_core::table::Table;
///
/// let mut counts: Table<&str, u32> = Table::default();
/// for word in ["drop", "blow", "drop"] {
///     *counts.of(word) += 1;
/// }
/// assert_eq!(counts.get(&"drop"), Some(&2));
/// assert_eq!(counts.into_iter().collect::<Vec<_>>(), [("blow", 1), ("drop", 2)]);
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Table<K, V>(Vec<(K, V)>);

impl<K, V> Default for Table<K, V> {
    fn default() -> Table<K, V> {
        Table(Vec::new())
    }
}

impl<K: Ord, V> Table<K, V> {
    fn place(&self, key: &K) -> Result<usize, usize> {
        self.0.binary_search_by(|row| row.0.cmp(key))
    }

    /// What stands under a key.
    pub fn get(&self, key: &K) -> Option<&V> {
        self.place(key).ok().map(|at| &self.0[at].1)
    }

    /// What stands under a key, to be changed.
    pub fn get_mut(&mut self, key: &K) -> Option<&mut V> {
        self.place(key).ok().map(|at| &mut self.0[at].1)
    }

    /// What stands under a key, to be changed; a default is put there where nothing does.
    pub fn of(&mut self, key: K) -> &mut V
    where
        V: Default,
    {
        let at = self.place(&key).unwrap_or_else(|at| {
            self.0.insert(at, (key, V::default()));
            at
        });
        &mut self.0[at].1
    }

    /// Takes what stands under a key out.
    pub fn remove(&mut self, key: &K) -> Option<V> {
        self.place(key).ok().map(|at| self.0.remove(at).1)
    }

    /// Keys and values, by rising key.
    pub fn iter(&self) -> std::slice::Iter<'_, (K, V)> {
        self.0.iter()
    }
}

impl<K, V> IntoIterator for Table<K, V> {
    type Item = (K, V);
    type IntoIter = std::vec::IntoIter<(K, V)>;
    fn into_iter(self) -> Self::IntoIter {
        self.0.into_iter()
    }
}

/// Things by a key, in the order in which the keys came: also for more of them than any job has.
///
/// There is one map for all things of a kind of key, so that a new thing brings no new map.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Keyed<K: Hash + Eq, T> {
    places: HashMap<K, usize>,
    all: Vec<T>,
}

/// Things by the short name of a measure or step.
///
/// ```
/// use evenhand_core::table::Named;
///
/// let mut minutes: Named<u32> = Named::default();
/// *minutes.of(&"let_off".into()) += 20;
/// assert_eq!(minutes.get("let_off"), Some(&20));
/// assert_eq!(minutes.get("drop"), None);
/// ```
pub type Named<T> = Keyed<Cow<'static, str>, T>;

impl<K: Hash + Eq, T> Default for Keyed<K, T> {
    fn default() -> Keyed<K, T> {
        Keyed {
            places: HashMap::default(),
            all: Vec::new(),
        }
    }
}

impl<K: Hash + Eq + Clone, T> Keyed<K, T> {
    /// The place of a key.
    pub fn place<Q: Hash + Eq + ?Sized>(&self, key: &Q) -> Option<usize>
    where
        K: Borrow<Q>,
    {
        self.places.get(key).copied()
    }

    /// What stands under a key.
    pub fn get<Q: Hash + Eq + ?Sized>(&self, key: &Q) -> Option<&T>
    where
        K: Borrow<Q>,
    {
        self.place(key).map(|at| &self.all[at])
    }

    /// What stands under a key, to be changed.
    pub fn get_mut<Q: Hash + Eq + ?Sized>(&mut self, key: &Q) -> Option<&mut T>
    where
        K: Borrow<Q>,
    {
        self.place(key).map(|at| &mut self.all[at])
    }

    /// What stands under a key, to be changed; a default is put there where nothing does.
    pub fn of(&mut self, key: &K) -> &mut T
    where
        T: Default,
    {
        let at = match self.place(key) {
            Some(at) => at,
            None => self.add(key.clone(), T::default()),
        };
        &mut self.all[at]
    }

    /// Puts a thing under a key under which nothing stands yet; its place.
    pub fn add(&mut self, key: K, thing: T) -> usize {
        let at = self.all.len();
        self.places.insert(key, at);
        self.all.push(thing);
        at
    }

    /// Each key with its thing, in no order.
    pub fn iter(&self) -> impl Iterator<Item = (&K, &T)> {
        self.places.iter().map(|(key, at)| (key, &self.all[*at]))
    }

    /// All things, each at its place.
    pub fn all(&self) -> &[T] {
        &self.all
    }

    /// All things, to be changed.
    pub fn all_mut(&mut self) -> &mut [T] {
        &mut self.all
    }
}
