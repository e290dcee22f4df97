//! The sources of the default targets.

use std::fmt;

/// The source of a default target. The text of common practice and memory gives details and may be
/// empty. The address of a published page stands in a comment beside the target.
///
/// It displays as one phrase. It has no default; a measure without a target has no source.
///
/// ```
/// use evenhand_core::trade::Source;
///
/// let source = Source::Common("about as much as the let-off");
/// assert_eq!(source.to_string(), "Common practice: about as much as the let-off");
/// assert_eq!(Source::Memory("").to_string(), "From memory, a starting value");
/// assert_eq!(Source::Published("Key dip", "2002").to_string(), "Published: Key dip, 2002");
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Source {
    /// Published (P): the title of the page, and its year; the year of an undated page is empty.
    Published(&'static str, &'static str),
    /// Common practice (C), without a single source.
    Common(&'static str),
    /// From memory (M): a starting value, to be changed by a technician who knows better.
    Memory(&'static str),
}

impl fmt::Display for Source {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (kind, details, year) = match self {
            Source::Published(title, year) => ("Published", title, *year),
            Source::Common(details) => ("Common practice", details, ""),
            Source::Memory(details) => ("From memory, a starting value", details, ""),
        };
        f.write_str(kind)?;
        for (before, text) in [(": ", *details), (", ", year)] {
            if !text.is_empty() {
                f.write_str(before)?;
                f.write_str(text)?;
            }
        }
        Ok(())
    }
}
