//! What is true of a piano regulation, what happened on one instrument, and what follows from it.
//!
//! Three floors, each knowing only those below it: the ground ([`note`], [`mod@unit`]),
//! what is true of the trade ([`trade`]), what happened on this instrument ([`job`]),
//! what follows from it ([`analysis`]). No browser, no clock, no I/O: time comes in as a parameter.
#![forbid(unsafe_code)]

pub mod analysis;
pub mod demo;
pub mod job;
pub mod note;
#[cfg(any(test, feature = "simulation"))]
pub mod simulation;
pub mod trade;
pub mod unit;
