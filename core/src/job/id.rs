//! The random numbers that name a device and a job.

use std::fmt;

use serde::de::Error as _;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// A random number that names something; 16 hexadecimal digits in JSON.
macro_rules! random_id {
    ($(#[$doc:meta])* $name:ident, $what:literal) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub struct $name(u64);

        impl $name {
            /// From a random number.
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
    /// A device's random number, drawn once by each device.
    ReplicaId,
    "its “device”"
);
random_id!(
    /// A job's random number, drawn when it is made: two files of one job carry the same.
    JobId,
    "its “job”"
);

/// Why an entry cannot be read: the end of a sentence.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct EntryError(pub &'static str);

impl fmt::Display for EntryError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.0)
    }
}

impl std::error::Error for EntryError {}
