//! The sources of the default targets.

use std::fmt;

/// The source of a default target. Its text gives details and may be empty.
///
/// It displays as one phrase. It has no default; a measure without a target has no source.
///
/// ```
/// use evenhand_core::trade::Source;
///
/// let source = Source::Common("about as much as the let-off");
/// assert_eq!(source.to_string(), "Common practice: about as much as the let-off");
/// assert_eq!(Source::Memory("").to_string(), "From memory, a starting value");
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Source {
    /// Published (P); the text says where.
    Published(&'static str),
    /// Common practice (C), without a single source.
    Common(&'static str),
    /// From memory (M): a starting value, to be changed by a technician who knows better.
    Memory(&'static str),
}

impl fmt::Display for Source {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (kind, details) = match self {
            Source::Published(details) => ("Published", details),
            Source::Common(details) => ("Common practice", details),
            Source::Memory(details) => ("From memory, a starting value", details),
        };
        f.write_str(kind)?;
        if !details.is_empty() {
            f.write_str(": ")?;
            f.write_str(details)?;
        }
        Ok(())
    }
}
