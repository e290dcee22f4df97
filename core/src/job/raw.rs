//! JSON kept as the text that it came in.

use std::borrow::Cow;
use std::fmt;

use serde::de::value::{BorrowedStrDeserializer, MapDeserializer};
use serde::de::{MapAccess, Visitor};
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use serde_json::value::{RawValue, Value};

/// A string, borrowed from the text where it has no escapes.
#[derive(Deserialize)]
pub(super) struct Text<'a>(#[serde(borrow)] pub Cow<'a, str>);

/// The fields of a JSON object in the order of the text, each value not yet parsed. A name may
/// stand there more than once.
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
    /// Returns how many there are.
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// Returns whether there is one of this name.
    pub fn has(&self, name: &str) -> bool {
        self.0.iter().any(|field| field.0 == name)
    }

    /// Takes out the first field of this name.
    pub fn take(&mut self, name: &str) -> Option<&'a RawValue> {
        let at = self.0.iter().position(|field| field.0 == name)?;
        Some(self.0.remove(at).1)
    }

    /// Reads the fields as a record.
    ///
    /// # Errors
    /// Fails if they are not those of a `T`, or one of them stands twice.
    pub fn read<T: for<'de> Deserialize<'de>>(&self) -> serde_json::Result<T> {
        let fields = self.0.iter();
        let fields = fields.map(|(name, value)| (BorrowedStrDeserializer::new(name), *value));
        T::deserialize(MapDeserializer::new(fields))
    }
}

/// The fields of an entry that this version does not understand, each as the text that it
/// came in, so that passing it on changes nothing: no digit of a number, no escape in a string.
/// A field that stands twice is kept twice.
#[derive(Clone, Debug)]
pub struct UnknownFields(Vec<(String, Box<RawValue>)>);

impl UnknownFields {
    /// Keeps fields, the spaces between their parts aside.
    pub(super) fn keep(fields: RawFields<'_>) -> UnknownFields {
        let keep = |(name, value): (Cow<'_, str>, &RawValue)| {
            let value = match compact(value.get()) {
                Cow::Borrowed(_) => value.to_owned(),
                // JSON without its spaces is still JSON.
                Cow::Owned(text) => RawValue::from_string(text).unwrap_or_default(),
            };
            (name.into_owned(), value)
        };
        let mut fields: Vec<_> = fields.0.into_iter().map(keep).collect();
        // Fields of one name stay in their order.
        fields.sort_by(|a, b| a.0.cmp(&b.0));
        UnknownFields(fields)
    }

    /// Returns these fields and those of another object, in alphabetical order, to be written.
    pub(super) fn with<'a>(&'a self, more: &'a Value) -> impl Serialize + 'a {
        let own = self.0.iter();
        let own = own.map(|(name, value)| (name.as_str(), Part::Kept(value)));
        let more = more.as_object().into_iter().flatten();
        let more = more.map(|(name, value)| (name.as_str(), Part::Own(value)));
        let mut all: Vec<(&str, Part<'_>)> = own.chain(more).collect();
        all.sort_by_key(|field| field.0);
        Object(all)
    }

    fn texts(&self) -> impl Iterator<Item = (&str, &str)> {
        self.0
            .iter()
            .map(|(name, value)| (name.as_str(), value.get()))
    }

    /// What the entry calls its act, where it says so in a string.
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

/// A field's value as it is written.
#[derive(Serialize)]
#[serde(untagged)]
enum Part<'a> {
    Kept(&'a RawValue),
    Own(&'a Value),
}

/// An object whose fields are written in this order.
struct Object<'a>(Vec<(&'a str, Part<'a>)>);

impl Serialize for Object<'_> {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_map(self.0.iter().map(|(name, value)| (name, value)))
    }
}

/// Whether a place in JSON lies in a string, byte by byte.
#[derive(Default)]
pub(super) struct Quotes {
    open: bool,
    escaped: bool,
}

impl Quotes {
    /// Whether the next byte belongs to a string or is one of its quotation marks.
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

/// JSON without the spaces between its parts; as it came where it has none.
pub(super) fn compact(text: &str) -> Cow<'_, str> {
    let mut quotes = Quotes::default();
    let mut is_space =
        |byte: u8| !quotes.hold(byte) && matches!(byte, b' ' | b'\t' | b'\r' | b'\n');
    // All that is looked for is ASCII, and no byte of a longer letter is.
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
