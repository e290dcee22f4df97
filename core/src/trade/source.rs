use std::fmt;

/// Where a number of the trade comes from. What it holds says more, and may be empty.
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
    /// Published, with where.
    Published(&'static str),
    /// Common practice, no single source.
    Common(&'static str),
    /// From memory: a starting value for whoever knows better.
    Memory(&'static str),
}

impl fmt::Display for Source {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (standing, more) = match self {
            Source::Published(more) => ("Published", more),
            Source::Common(more) => ("Common practice", more),
            Source::Memory(more) => ("From memory, a starting value", more),
        };
        f.write_str(standing)?;
        if !more.is_empty() {
            f.write_str(": ")?;
            f.write_str(more)?;
        }
        Ok(())
    }
}
