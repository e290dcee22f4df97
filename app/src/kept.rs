//! Signals and memos of any value over the framework's signals and memos of one type. The framework's own are
//! generic through and through, so that each kind of value brought its own copy of the reactive graph's code,
//! a tenth of the program on a phone. Here only putting a value in and looking at it is written anew for each.
//!
//! The names and methods are the framework's, and so is all behaviour: see its documentation.

use std::any::Any;
use std::marker::PhantomData;
use std::sync::Arc;

use leptos::prelude as framework;
use leptos::prelude::{
    Get, IsDisposed, Read, ReadUntracked, ReadValue, Set, SetValue, Write, WriteValue,
};

type Thing = dyn Any + Send + Sync;

/// A value in a memo or a derived signal, and how to tell whether another is the same.
#[derive(Clone)]
struct Held {
    value: Arc<Thing>,
    same: fn(&Thing, &Thing) -> bool,
}

/// A value in a signal, where it is changed.
struct Own {
    value: Box<Thing>,
}

/// A value in a derived signal.
#[derive(Clone)]
struct Shown {
    value: Arc<Thing>,
}

fn same<T: PartialEq + 'static>(one: &Thing, other: &Thing) -> bool {
    one.downcast_ref::<T>() == other.downcast_ref::<T>()
}

impl PartialEq for Held {
    fn eq(&self, other: &Self) -> bool {
        (self.same)(&*self.value, &*other.value)
    }
}

/// What was put in as a `T` comes out as a `T`: the types below see to that.
fn of<T: 'static>(thing: &Thing) -> &T {
    thing.downcast_ref().expect("it was put in as this")
}

macro_rules! copies {
    ($($kind:ident),*) => { $(
        impl<T> Copy for $kind<T> {}
        impl<T> Clone for $kind<T> {
            fn clone(&self) -> Self {
                *self
            }
        }
        impl<T> PartialEq for $kind<T> {
            fn eq(&self, other: &Self) -> bool {
                self.0 == other.0
            }
        }
    )* };
}
copies!(RwSignal, Memo, Signal, StoredValue);

macro_rules! looked_at {
    ($($kind:ident),*) => { $(
        impl<T: Send + Sync + 'static> $kind<T> {
            pub fn with<U>(self, look: impl FnOnce(&T) -> U) -> U {
                look(of(&*self.0.read().value))
            }
            pub fn with_untracked<U>(self, look: impl FnOnce(&T) -> U) -> U {
                look(of(&*self.0.read_untracked().value))
            }
            pub fn get(self) -> T
            where
                T: Clone,
            {
                self.with(T::clone)
            }
            pub fn get_untracked(self) -> T
            where
                T: Clone,
            {
                self.with_untracked(T::clone)
            }
        }
    )* };
}
looked_at!(RwSignal, Memo, Signal);

// ---------------------------------------------------------------- signals

/// A value that is set from anywhere, and tells those who looked at it.
pub struct RwSignal<T>(framework::RwSignal<Own>, PhantomData<fn() -> T>);

fn new_signal(value: Box<Thing>) -> framework::RwSignal<Own> {
    framework::RwSignal::new(Own { value })
}
fn set_signal(signal: framework::RwSignal<Own>, value: Box<Thing>) {
    signal.set(Own { value });
}
fn set_signal_if_there(signal: framework::RwSignal<Own>, value: Box<Thing>) -> bool {
    signal.try_set(Own { value }).is_none()
}

impl<T: Send + Sync + 'static> RwSignal<T> {
    pub fn new(value: T) -> Self {
        Self(new_signal(Box::new(value)), PhantomData)
    }
    pub fn set(self, value: T) {
        set_signal(self.0, Box::new(value));
    }
    /// Whether the signal was still there to be set.
    pub fn try_set(self, value: T) -> bool {
        set_signal_if_there(self.0, Box::new(value))
    }
    pub fn update(self, change: impl FnOnce(&mut T)) {
        match self.0.try_write() {
            Some(mut own) => change(own.value.downcast_mut().expect("it was put in as this")),
            // One that has ended with its part of the screen is left alone, as by `set`.
            None => debug_assert!(self.0.is_disposed(), "changed while it is looked at"),
        }
    }
}

// ---------------------------------------------------------------- memos and derived signals

/// A value that follows from others, and tells those who looked at it only when it has become another.
pub struct Memo<T>(framework::Memo<Held>, PhantomData<fn() -> T>);

type Follow = Box<dyn Fn(Option<&Held>) -> Held + Send + Sync>;

fn new_memo(follow: Follow) -> framework::Memo<Held> {
    framework::Memo::new(follow)
}

impl<T: PartialEq + Send + Sync + 'static> Memo<T> {
    pub fn new(follow: impl Fn(Option<&T>) -> T + Send + Sync + 'static) -> Self {
        let follow = move |before: Option<&Held>| Held {
            value: Arc::new(follow(before.map(|held| of(&*held.value)))),
            same: same::<T>,
        };
        Self(new_memo(Box::new(follow)), PhantomData)
    }
}

/// Any of these, or a value for good, for a part of the screen that takes them all.
pub struct Signal<T>(framework::Signal<Shown>, PhantomData<fn() -> T>);

fn derived(ask: Box<dyn Fn() -> Arc<Thing> + Send + Sync>) -> framework::Signal<Shown> {
    framework::Signal::derive(move || Shown { value: ask() })
}

impl<T: Send + Sync + 'static> Signal<T> {
    pub fn derive(ask: impl Fn() -> T + Send + Sync + 'static) -> Self {
        Self(derived(Box::new(move || Arc::new(ask()))), PhantomData)
    }
    pub fn stored(value: T) -> Self {
        Self(
            framework::Signal::stored(Shown {
                value: Arc::new(value),
            }),
            PhantomData,
        )
    }
}

impl<T: Clone + Send + Sync + 'static> From<RwSignal<T>> for Signal<T> {
    fn from(signal: RwSignal<T>) -> Self {
        Self::derive(move || signal.get())
    }
}
impl<T: Send + Sync + 'static> From<Memo<T>> for Signal<T> {
    fn from(memo: Memo<T>) -> Self {
        Self(derived(Box::new(move || memo.0.get().value)), PhantomData)
    }
}
impl<T: Send + Sync + 'static> From<T> for Signal<T> {
    fn from(value: T) -> Self {
        Self::stored(value)
    }
}

impl From<&str> for Signal<String> {
    fn from(words: &str) -> Self {
        Self::stored(words.to_owned())
    }
}
impl<T: Default + Send + Sync + 'static> Default for Signal<T> {
    fn default() -> Self {
        Self::stored(T::default())
    }
}

// ---------------------------------------------------------------- values that tell nobody

/// A value that many closures share, and that ends with the part of the screen that made it.
pub struct StoredValue<T>(framework::StoredValue<Own>, PhantomData<fn() -> T>);

fn new_stored(value: Box<Thing>) -> framework::StoredValue<Own> {
    framework::StoredValue::new(Own { value })
}
fn set_stored(stored: framework::StoredValue<Own>, value: Box<Thing>) {
    stored.set_value(Own { value });
}

impl<T: Send + Sync + 'static> StoredValue<T> {
    pub fn new(value: T) -> Self {
        Self(new_stored(Box::new(value)), PhantomData)
    }
    pub fn set_value(self, value: T) {
        set_stored(self.0, Box::new(value));
    }
    /// Whether the part of the screen that made it has not ended.
    pub fn is_there(self) -> bool {
        !self.0.is_disposed()
    }
    pub fn with_value<U>(self, look: impl FnOnce(&T) -> U) -> U {
        look(of(&*self.0.read_value().value))
    }
    pub fn get_value(self) -> T
    where
        T: Clone,
    {
        self.with_value(T::clone)
    }
    pub fn update_value(self, change: impl FnOnce(&mut T)) {
        if let Some(mut own) = self.0.try_write_value() {
            change(own.value.downcast_mut().expect("it was put in as this"));
        }
    }
}
