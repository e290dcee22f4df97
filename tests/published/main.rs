//! Values that others have published, each with its source beside the check.

mod calendar;
mod climate;
mod csv;
mod known;
mod queries;
mod regulation;
mod schema;
mod simulation;
mod statistics;
mod survey;
mod targets;
mod travel;
mod weights;
