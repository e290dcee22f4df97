//! Values that others have published, each with its source beside the check.

mod climate;
mod csv;
mod known;
mod regulation;
mod schema;
mod simulation;
mod statistics;
mod survey;
mod targets;
mod travel;
mod weights;
