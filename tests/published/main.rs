//! Values that others have published, each with its source beside the check.

mod targets;
