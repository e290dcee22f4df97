//! The random ids of replicas and jobs.

use std::fmt;

use serde::de::Error as _;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// Defines a random 64-bit id, written as 16 lowercase hexadecimal digits.
macro_rules! random_id {
    ($(#[$doc:meta])* $name:ident, $what:literal) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub struct $name(u64);

        impl $name {
            /// Returns the id with this random number.
            pub const fn new(random: u64) -> $name {
                $name(random)
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(f, "{:016x}", self.0)
            }
        }

        impl std::str::FromStr for $name {
            type Err = EntryError;
            fn from_str(text: &str) -> Result<$name, EntryError> {
                let hex = |b: u8| matches!(b, b'0'..=b'9' | b'a'..=b'f');
                match u64::from_str_radix(text, 16) {
                    Ok(n) if text.len() == 16 && text.bytes().all(hex) => Ok($name(n)),
                    _ => Err(EntryError(concat!($what, " is not 16 hexadecimal digits"))),
                }
            }
        }

        impl Serialize for $name {
            fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
                to.collect_str(self)
            }
        }

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(from: D) -> Result<$name, D::Error> {
                String::deserialize(from)?.parse().map_err(D::Error::custom)
            }
        }
    };
}

random_id!(
    /// The random id of a replica: one visit of the page, on one device.
    ///
    /// It is drawn anew for each visit, so that two windows on one phone never give the same
    /// [`EntryId`](super::EntryId) to two entries; one phone therefore has many. Any `u64` is valid; there is
    /// no default. The order has no meaning and only breaks ties in [`LogPosition`](super::LogPosition). It
    /// prints and parses as 16 lowercase hexadecimal digits; in the job file it is the field `device`.
    ///
    /// ```
    /// use evenhand_core::job::ReplicaId;
    ///
    /// let replica = ReplicaId::new(0x1f);
    /// assert_eq!(replica.to_string(), "000000000000001f");
    /// assert_eq!("000000000000001f".parse(), Ok(replica));
    /// assert!("1F".parse::<ReplicaId>().is_err());
    /// ```
    ReplicaId,
    "its “device”"
);
random_id!(
    /// The random id of a job, drawn when the job is created.
    ///
    /// Two files with the same id are copies of one job and can be merged. Any `u64` is valid;
    /// there is no default, and the order has no meaning. It prints and parses as 16 lowercase
    /// hexadecimal digits.
    ///
    /// ```
    /// use evenhand_core::job::JobId;
    ///
    /// assert_eq!(JobId::new(255).to_string(), "00000000000000ff");
    /// assert!("ff".parse::<JobId>().is_err());
    /// ```
    JobId,
    "its “job”"
);

impl JobId {
    /// Returns the lower half of its bits, which are as random.
    pub(super) const fn low_bits(self) -> u32 {
        self.0 as u32
    }
}

/// Why a line is not a valid entry.
///
/// Its text is the end of a sentence, so that the reader of a file can put the number of the entry before it.
///
/// ```
/// use evenhand_core::job::Entry;
///
/// let error = Entry::from_line("").unwrap_err();
/// assert_eq!(format!("Entry 3 was left out: {error}."), "Entry 3 was left out: it is not a JSON object.");
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct EntryError(pub &'static str);

impl fmt::Display for EntryError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.0)
    }
}

impl std::error::Error for EntryError {}
