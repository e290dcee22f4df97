//! Why the journal does not work, and the sentence that says so.

use indexed_db_futures::error::{Error, OpenDbError};

/// Why the journal does not work at present. It retries by itself until it does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fault {
    /// The browser has no IndexedDB.
    Unsupported,
    /// The database could not be opened.
    OpenFailed,
    /// Opening or writing takes too long: something else blocks the database.
    TimedOut,
    /// A newer version of the app has changed the database.
    NewerVersion,
    /// The stored entries could not be read.
    ReadFailed,
    /// The quota is used up.
    Full,
    /// An entry could not be written.
    WriteFailed,
}

impl Fault {
    /// Returns the sentence that stays on the screen meanwhile.
    pub const fn sentence(self) -> &'static str {
        match self {
            Fault::Unsupported => {
                "This browser gives Evenhand no storage. Your work is kept only while this page stays open: export the job before you close it."
            }
            Fault::OpenFailed => {
                "The storage of this browser could not be opened. What is stored was not changed; new work is kept while this page stays open. Evenhand tries again by itself. Export the job to be safe."
            }
            Fault::TimedOut => {
                "The storage of this browser does not answer. Close other tabs of Evenhand. New work is kept while this page stays open, and saved when the storage answers."
            }
            Fault::NewerVersion => {
                "What is stored here is from a newer version of Evenhand, and was not changed. Close all its tabs and open it again to get that version. Until then new work is kept only while this page stays open: export the job."
            }
            Fault::ReadFailed => {
                "What is stored could not be read, and nothing was changed. Evenhand tries again by itself. If this stays, close other tabs of Evenhand."
            }
            Fault::Full => {
                "The latest work was not saved: most likely this phone has no room left. It is kept while this page stays open. Export the job now, then make room on the phone. Evenhand tries again by itself."
            }
            Fault::WriteFailed => {
                "The latest work could not be saved on this phone. It is kept while this page stays open: do not close it. Export the job now to be safe. Evenhand tries again by itself."
            }
        }
    }

    /// Returns the fault that an error in opening the database stands for.
    pub fn of_opening(error: &OpenDbError) -> Fault {
        match error {
            OpenDbError::UnsupportedEnvironment | OpenDbError::NullFactory => Fault::Unsupported,
            OpenDbError::Base(base) if name_of(base).as_deref() == Some("VersionError") => {
                Fault::NewerVersion
            }
            _ => Fault::OpenFailed,
        }
    }

    /// Returns the fault that an error in writing stands for.
    pub fn of_writing(error: &Error) -> Fault {
        match (error, name_of(error).as_deref()) {
            // A transaction that aborts without an error failed when it was written to the disk.
            (Error::MissingData(_), _) | (_, Some("QuotaExceededError")) => Fault::Full,
            _ => Fault::WriteFailed,
        }
    }
}

/// The sentence for when the journal works again.
pub const RECOVERED: &str = "Storage works again: everything is saved.";

/// Returns the browser's name for an error; `None` if the error is not the browser's.
fn name_of(error: &Error) -> Option<String> {
    match error {
        Error::DomException(error) => {
            let error: web_sys::DomException = error.clone().into();
            Some(error.name())
        }
        _ => None,
    }
}
