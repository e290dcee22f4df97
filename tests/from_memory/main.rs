//! Values from memory or common practice, which no page that could be looked up was found to hold. They guard
//! against slips; they are no evidence. What is published is in `tests/published`.

mod climate;
mod targets;
mod weights;
