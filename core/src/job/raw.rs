//! JSON kept as the text that it came in.

use std::borrow::Cow;

use crate::json::{Json, Reader};

/// The fields of an entry that this version does not understand, each as the text that it
/// came in, so that passing it on changes nothing: no digit of a number, no escape in a string.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Fields(Vec<(String, String)>);

impl Fields {
    /// The fields of a JSON object, the spaces between its parts aside; nothing where it is none.
    /// Of two fields of one name the later counts.
    pub(super) fn read(text: &str) -> Option<Fields> {
        let text = compact(text);
        let mut reader = Reader::new(&text);
        let mut fields: Vec<(String, String)> = Vec::new();
        let read = reader.object(true, &mut |key, reader| {
            fields.push((key, reader.raw()?.to_owned()));
            Ok(())
        });
        read.and_then(|()| reader.end()).ok()?;
        fields.reverse();
        fields.sort_by(|a, b| a.0.cmp(&b.0));
        fields.dedup_by(|a, b| a.0 == b.0);
        Some(Fields(fields))
    }

    /// How many there are.
    pub(super) fn len(&self) -> usize {
        self.0.len()
    }

    fn place(&self, key: &str) -> Option<usize> {
        self.0.iter().position(|field| field.0 == key)
    }

    pub(super) fn remove(&mut self, key: &str) -> Option<Json> {
        let (_, text) = self.0.remove(self.place(key)?);
        Json::read(&text).ok()
    }

    /// One line of JSON: these fields and some more, in alphabetical order.
    pub(super) fn with<const N: usize>(&self, more: [(&str, Json); N]) -> String {
        let more = more.map(|(key, value)| (key, value.line()));
        let own = self.0.iter().map(|(key, text)| (key.as_str(), text));
        let more = more.iter().map(|(key, text)| (*key, text));
        let mut all: Vec<(&str, &String)> = own.chain(more).collect();
        all.sort_by(|a, b| a.0.cmp(b.0));
        let fields: Vec<String> = all
            .into_iter()
            .map(|(key, text)| format!("{}:{text}", Json::from(key).line()))
            .collect();
        format!("{{{}}}", fields.join(","))
    }

    /// What the entry calls its act, where it says so in a string.
    pub fn act(&self) -> Option<String> {
        let json = Json::read(&self.0[self.place("act")?].1).ok()?;
        json.as_str().map(str::to_owned)
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
            assert!(Fields::read(text).is_none(), "{text}");
        }
    }
}
