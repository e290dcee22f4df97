//! JSON fields kept as their source text, so that writing them back changes nothing.

use std::borrow::Cow;
use std::fmt;

use serde::de::value::{BorrowedStrDeserializer, MapDeserializer};
use serde::de::{MapAccess, Visitor};
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use serde_json::value::{RawValue, Value};

/// A string, borrowed from the source text if it has no escapes.
#[derive(Deserialize)]
pub(super) struct Text<'a>(#[serde(borrow)] pub Cow<'a, str>);

/// The fields of a JSON object in source order, with unparsed values. Duplicate names are
/// kept.
pub(super) struct RawFields<'a>(Vec<(Cow<'a, str>, &'a RawValue)>);

impl<'de: 'a, 'a> Deserialize<'de> for RawFields<'a> {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<RawFields<'a>, D::Error> {
        struct OfObject;
        impl<'de> Visitor<'de> for OfObject {
            type Value = RawFields<'de>;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("an object")
            }
            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<RawFields<'de>, A::Error> {
                let mut fields = Vec::new();
                while let Some((Text(name), value)) = map.next_entry()? {
                    fields.push((name, value));
                }
                Ok(RawFields(fields))
            }
        }
        from.deserialize_map(OfObject)
    }
}

impl<'a> RawFields<'a> {
    /// Returns the number of fields.
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// Returns `true` if there is a field of this name.
    pub fn has(&self, name: &str) -> bool {
        self.0.iter().any(|field| field.0 == name)
    }

    /// Returns the field of this name, or `None` if there is none or more than one.
    pub fn single(&self, name: &str) -> Option<&'a RawValue> {
        let mut all = self.0.iter().filter(|field| field.0 == name);
        let first = all.next()?.1;
        all.next().is_none().then_some(first)
    }

    /// Removes and returns the first field of this name, or `None` if there is none.
    pub fn take(&mut self, name: &str) -> Option<&'a RawValue> {
        let at = self.0.iter().position(|field| field.0 == name)?;
        Some(self.0.remove(at).1)
    }

    /// Puts a field back that was the first of its name when it was taken.
    pub fn put_first(&mut self, name: &'a str, value: &'a RawValue) {
        self.0.insert(0, (Cow::Borrowed(name), value));
    }

    /// Deserializes the fields as a `T`.
    ///
    /// # Errors
    /// Fails if they are not the fields of a `T`, or one of them is duplicate.
    pub fn read<T: for<'de> Deserialize<'de>>(&self) -> serde_json::Result<T> {
        let fields = self.0.iter();
        let fields = fields.map(|(name, value)| (BorrowedStrDeserializer::new(name), *value));
        T::deserialize(MapDeserializer::new(fields))
    }
}

/// The fields of an entry that this version does not understand.
///
/// Each is kept as its source text without spaces, so that writing it back changes nothing: no digit of a
/// number, no escape in a string. A duplicate field is kept twice. Only
/// [`Entry::from_line`](super::Entry::from_line) makes one. Two are equal if all texts are.
///
/// ```
/// use evenhand_core::job::{Entry, EntryKind};
///
/// let line = r#"{"act":"tuned","at_ms":0,"cents":1.10,"clock":1,"device":"0000000000000007","seq":1}"#;
/// let entry = Entry::from_line(line)?;
/// assert_eq!(entry.to_line(), line);
/// let EntryKind::Unknown(fields) = entry.kind else { unreachable!() };
/// assert_eq!(fields.act().as_deref(), Some("tuned"));
/// # Ok::<(), evenhand_core::job::EntryError>(())
/// ```
#[derive(Clone, Debug)]
pub struct UnknownFields(Vec<(String, Box<RawValue>)>);

impl UnknownFields {
    /// Copies the fields, without the spaces between their tokens.
    pub(super) fn keep(fields: RawFields<'_>) -> UnknownFields {
        let keep = |(name, value): (Cow<'_, str>, &RawValue)| {
            let value = match compact(value.get()) {
                Cow::Borrowed(_) => value.to_owned(),
                // Removing spaces between tokens keeps JSON valid, so the default is never used.
                Cow::Owned(text) => RawValue::from_string(text).unwrap_or_default(),
            };
            (name.into_owned(), value)
        };
        let mut fields: Vec<_> = fields.0.into_iter().map(keep).collect();
        // The sort is stable: duplicate fields stay in source order.
        fields.sort_by(|a, b| a.0.cmp(&b.0));
        UnknownFields(fields)
    }

    /// Returns these fields and those of another object, in alphabetical order, for serializing.
    pub(super) fn with<'a>(&'a self, more: &'a Value) -> impl Serialize + 'a {
        let own = self.0.iter();
        let own = own.map(|(name, value)| (name.as_str(), Part::Kept(value)));
        let more = more.as_object().into_iter().flatten();
        let more = more.map(|(name, value)| (name.as_str(), Part::Own(value)));
        let mut all: Vec<(&str, Part<'_>)> = own.chain(more).collect();
        all.sort_by_key(|field| field.0);
        Object(all)
    }

    /// Returns each name with the source text of its value.
    fn texts(&self) -> impl Iterator<Item = (&str, &str)> {
        self.0
            .iter()
            .map(|(name, value)| (name.as_str(), value.get()))
    }

    /// Returns the field `act`, or `None` if it is absent or not a string.
    pub fn act(&self) -> Option<String> {
        let (_, act) = self.0.iter().find(|field| field.0 == "act")?;
        serde_json::from_str(act.get()).ok()
    }
}

impl PartialEq for UnknownFields {
    fn eq(&self, other: &UnknownFields) -> bool {
        self.texts().eq(other.texts())
    }
}

/// The value of a field, as it is serialized.
#[derive(Serialize)]
#[serde(untagged)]
enum Part<'a> {
    Kept(&'a RawValue),
    Own(&'a Value),
}

/// An object that serializes its fields in this order.
struct Object<'a>(Vec<(&'a str, Part<'a>)>);

impl Serialize for Object<'_> {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_map(self.0.iter().map(|(name, value)| (name, value)))
    }
}

/// Tracks, byte by byte, whether JSON text is inside a string.
#[derive(Default)]
pub(super) struct Quotes {
    open: bool,
    escaped: bool,
}

impl Quotes {
    /// Consumes the next byte. Returns `true` if it belongs to a string or is one of its quotation marks.
    pub fn hold(&mut self, byte: u8) -> bool {
        let was_open = self.open;
        match byte {
            _ if self.escaped => self.escaped = false,
            b'\\' => self.escaped = self.open,
            b'"' => self.open = !self.open,
            _ => {}
        }
        was_open || self.open
    }
}

/// Returns JSON without the spaces between its tokens; borrows if there are none.
pub(super) fn compact(text: &str) -> Cow<'_, str> {
    let mut quotes = Quotes::default();
    let mut is_space =
        |byte: u8| !quotes.hold(byte) && matches!(byte, b' ' | b'\t' | b'\r' | b'\n');
    // Bytes suffice: no byte of a multi-byte UTF-8 character is ASCII.
    let Some(first) = text.bytes().position(&mut is_space) else {
        return Cow::Borrowed(text);
    };
    let mut kept = String::with_capacity(text.len());
    let mut from = 0;
    for at in first..text.len() {
        if at == first || is_space(text.as_bytes()[at]) {
            kept.push_str(&text[from..at]);
            from = at + 1;
        }
    }
    kept.push_str(&text[from..]);
    Cow::Owned(kept)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_spaces_between_parts_are_taken_out() {
        let spaced = "{ \"a b\" :\t[1.10 , \"x \\\" , y\\\\\" ]\r\n, \"c\": 1e5 }";
        assert_eq!(
            compact(spaced),
            "{\"a b\":[1.10,\"x \\\" , y\\\\\"],\"c\":1e5}"
        );
    }

    #[test]
    fn what_is_not_an_object_has_no_fields() {
        for text in ["", "[]", "1", "{\"a\":}", "{", "null"] {
            assert!(
                serde_json::from_str::<RawFields<'_>>(text).is_err(),
                "{text}"
            );
        }
    }
}
