//! JSON as text: read by RFC 8259, written in one line or laid out.

use std::fmt::Write as _;

use super::{Json, Object};

/// The deepest nesting that is read.
const DEEPEST: usize = 128;
/// The largest power of ten that is read, which is that of other programs' numbers.
const LARGEST_POWER: u32 = 308;

/// Where a text is no JSON any more, in bytes; its length where it only breaks off.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Broken(pub usize);

type Read<T> = Result<T, Broken>;

impl Json {
    /// Reads JSON.
    ///
    /// # Errors
    /// [`Broken`], where the text is none.
    ///
    /// ```
    /// use evenhand_core::json::{Broken, Json};
    ///
    /// assert_eq!(Json::read("[1]")?, Json::Array(vec![Json::Whole(1)]));
    /// assert_eq!(Json::read("[1 2]"), Err(Broken(3)));
    /// assert_eq!(Json::read("[1"), Err(Broken(2)));
    /// # Ok::<(), Broken>(())
    /// ```
    pub fn read(text: &str) -> Read<Json> {
        let mut reader = Reader::new(text);
        let json = reader.value(true)?;
        reader.end()?;
        Ok(json)
    }

    /// In one line, without spaces.
    pub fn line(&self) -> String {
        let mut text = String::new();
        self.write(&mut text, None);
        text
    }

    /// Laid out, each part in a line of its own.
    pub fn laid_out(&self) -> String {
        let mut text = String::new();
        self.write(&mut text, Some(0));
        text
    }

    /// Writes itself; `deep` is how far lines are moved in, where it is laid out.
    fn write(&self, to: &mut String, deep: Option<usize>) {
        match self {
            Json::Null => to.push_str("null"),
            Json::Bool(true) => to.push_str("true"),
            Json::Bool(false) => to.push_str("false"),
            Json::Whole(number) => {
                let _ = write!(to, "{number}");
            }
            Json::Raw(text) => to.push_str(text),
            Json::String(text) => write_string(text, to),
            Json::Array(items) => {
                to.push('[');
                for (at, item) in items.iter().enumerate() {
                    begin(to, at, deep);
                    item.write(to, deep.map(|d| d + 1));
                }
                end(to, items.len(), deep);
                to.push(']');
            }
            Json::Object(Object(fields)) => {
                to.push('{');
                for (at, (key, json)) in fields.iter().enumerate() {
                    begin(to, at, deep);
                    write_string(key, to);
                    to.push_str(if deep.is_some() { ": " } else { ":" });
                    json.write(to, deep.map(|d| d + 1));
                }
                end(to, fields.len(), deep);
                to.push('}');
            }
        }
    }
}

/// Before a part within brackets.
fn begin(to: &mut String, at: usize, deep: Option<usize>) {
    if at > 0 {
        to.push(',');
    }
    if let Some(deep) = deep {
        new_line(to, deep + 1);
    }
}

/// After the last part within brackets.
fn end(to: &mut String, count: usize, deep: Option<usize>) {
    if let (1.., Some(deep)) = (count, deep) {
        new_line(to, deep);
    }
}

fn new_line(to: &mut String, deep: usize) {
    to.push('\n');
    for _ in 0..deep {
        to.push_str("  ");
    }
}

fn write_string(text: &str, to: &mut String) {
    to.push('"');
    for letter in text.chars() {
        match letter {
            '"' => to.push_str("\\\""),
            '\\' => to.push_str("\\\\"),
            '\n' => to.push_str("\\n"),
            '\r' => to.push_str("\\r"),
            '\t' => to.push_str("\\t"),
            '\u{8}' => to.push_str("\\b"),
            '\u{c}' => to.push_str("\\f"),
            '\0'..' ' => {
                let _ = write!(to, "\\u{:04x}", u32::from(letter));
            }
            _ => to.push(letter),
        }
    }
    to.push('"');
}

/// JSON while it is read, from the front to the end.
pub(crate) struct Reader<'a> {
    text: &'a str,
    at: usize,
    deep: usize,
}

impl<'a> Reader<'a> {
    pub fn new(text: &'a str) -> Reader<'a> {
        Reader {
            text,
            at: 0,
            deep: 0,
        }
    }

    /// The byte at hand.
    fn byte(&self) -> Option<u8> {
        self.text.as_bytes().get(self.at).copied()
    }

    /// Passes over spaces; the byte after them.
    fn next(&mut self) -> Option<u8> {
        while let Some(b' ' | b'\t' | b'\r' | b'\n') = self.byte() {
            self.at += 1;
        }
        self.byte()
    }

    fn broken<T>(&self) -> Read<T> {
        Err(Broken(self.at))
    }

    /// Takes a byte that must stand here.
    fn expect(&mut self, byte: u8) -> Read<()> {
        if self.next() != Some(byte) {
            return self.broken();
        }
        self.at += 1;
        Ok(())
    }

    /// Nothing may follow.
    pub fn end(&mut self) -> Read<()> {
        match self.next() {
            None => Ok(()),
            Some(_) => self.broken(),
        }
    }

    /// Passes over a value; its text.
    pub fn raw(&mut self) -> Read<&'a str> {
        self.next();
        let from = self.at;
        self.value(false)?;
        Ok(&self.text[from..self.at])
    }

    /// Reads a value; where it is not kept, it is only looked at, and nothing comes of it.
    pub fn value(&mut self, keep: bool) -> Read<Json> {
        match self.next() {
            Some(b'n') => self.word("null", Json::Null),
            Some(b't') => self.word("true", Json::Bool(true)),
            Some(b'f') => self.word("false", Json::Bool(false)),
            Some(b'"') => self.string(keep).map(Json::String),
            Some(b'[') => {
                let mut items = Vec::new();
                self.parts(b']', &mut |reader| {
                    let item = reader.value(keep)?;
                    if keep {
                        items.push(item);
                    }
                    Ok(())
                })?;
                Ok(Json::Array(items))
            }
            Some(b'{') => {
                let mut fields = Vec::new();
                self.object(keep, &mut |key, reader| {
                    let json = reader.value(keep)?;
                    if keep {
                        fields.push((key.into(), json));
                    }
                    Ok(())
                })?;
                Ok(Json::Object(Object(fields)))
            }
            _ => self.number(keep),
        }
    }

    /// Reads an object; `each` is given the key of each field, and reads its value. Keys that are
    /// not kept are empty.
    pub fn object(
        &mut self,
        keep: bool,
        each: &mut dyn FnMut(String, &mut Reader<'a>) -> Read<()>,
    ) -> Read<()> {
        if self.next() != Some(b'{') {
            return self.broken();
        }
        self.parts(b'}', &mut |reader| {
            if reader.next() != Some(b'"') {
                return reader.broken();
            }
            let key = reader.string(keep)?;
            reader.expect(b':')?;
            each(key, reader)
        })
    }

    /// Reads what stands within brackets, part by part.
    fn parts(&mut self, close: u8, each: &mut dyn FnMut(&mut Reader<'a>) -> Read<()>) -> Read<()> {
        if self.deep == DEEPEST {
            return self.broken();
        }
        self.deep += 1;
        self.at += 1;
        if self.next() != Some(close) {
            each(self)?;
            while self.next() == Some(b',') {
                self.at += 1;
                each(self)?;
            }
        }
        self.deep -= 1;
        self.expect(close)
    }

    fn word(&mut self, word: &str, json: Json) -> Read<Json> {
        for byte in word.bytes() {
            if self.byte() != Some(byte) {
                return self.broken();
            }
            self.at += 1;
        }
        Ok(json)
    }

    /// Reads a string from its quotation mark on.
    fn string(&mut self, keep: bool) -> Read<String> {
        let mut string = String::new();
        loop {
            self.at += 1;
            let from = self.at;
            let ends = |byte: &u8| matches!(byte, b'"' | b'\\' | 0..0x20);
            let length = self.text.as_bytes()[from..].iter().position(ends);
            self.at = length.map_or(self.text.len(), |length| from + length);
            if keep {
                string.push_str(&self.text[from..self.at]);
            }
            match self.byte() {
                Some(b'"') => break,
                Some(b'\\') => string.push(self.escaped(keep)?),
                _ => return self.broken(),
            }
        }
        self.at += 1;
        Ok(string)
    }

    /// Reads what is escaped, up to its last byte.
    fn escaped(&mut self, keep: bool) -> Read<char> {
        self.at += 1;
        Ok(match self.byte() {
            Some(same @ (b'"' | b'\\' | b'/')) => char::from(same),
            Some(b'b') => '\u{8}',
            Some(b'f') => '\u{c}',
            Some(b'n') => '\n',
            Some(b'r') => '\r',
            Some(b't') => '\t',
            Some(b'u') => {
                let first = self.hexadecimal()?;
                // Letters beyond the first 65 536 stand as two halves.
                let code = if keep && (0xd800..0xdc00).contains(&first) {
                    for byte in *b"\\u" {
                        self.at += 1;
                        if self.byte() != Some(byte) {
                            return self.broken();
                        }
                    }
                    match self.hexadecimal()? {
                        second @ 0xdc00..0xe000 => {
                            0x1_0000 + ((first - 0xd800) << 10) + (second - 0xdc00)
                        }
                        _ => first,
                    }
                } else {
                    first
                };
                match char::from_u32(code) {
                    None if keep => return self.broken(),
                    letter => letter.unwrap_or_default(),
                }
            }
            _ => return self.broken(),
        })
    }

    /// Reads the four digits after a `u`, up to the last.
    fn hexadecimal(&mut self) -> Read<u32> {
        let mut code = 0;
        for _ in 0..4 {
            self.at += 1;
            let digit = self.byte().and_then(|byte| char::from(byte).to_digit(16));
            code = code * 16 + digit.ok_or(Broken(self.at))?;
        }
        Ok(code)
    }

    fn number(&mut self, keep: bool) -> Read<Json> {
        let from = self.at;
        self.pass(b"-");
        if !self.pass(b"0") {
            self.digits()?;
        }
        if self.pass(b".") {
            self.digits()?;
        }
        let is_zero = !self.text[from..self.at].contains(|c| matches!(c, '1'..='9'));
        if self.pass(b"eE") {
            let small = self.byte() == Some(b'-');
            self.pass(b"+-");
            let power = self.digits()?.parse::<u32>();
            // One that is too long to be counted is larger still.
            if keep && !small && !power.is_ok_and(|p| p <= LARGEST_POWER) && !is_zero {
                return self.broken();
            }
        }
        let text = &self.text[from..self.at];
        Ok(match text.parse() {
            _ if !keep => Json::Null,
            // Zero below zero is no whole number.
            Ok(number) if text != "-0" => Json::Whole(number),
            _ => Json::Raw(text.to_owned()),
        })
    }

    /// Passes over one of these bytes, where it stands here.
    fn pass(&mut self, bytes: &[u8]) -> bool {
        let stands = self.byte().is_some_and(|byte| bytes.contains(&byte));
        self.at += usize::from(stands);
        stands
    }

    /// Passes over digits, of which there must be one.
    fn digits(&mut self) -> Read<&'a str> {
        let from = self.at;
        while self.byte().is_some_and(|byte| byte.is_ascii_digit()) {
            self.at += 1;
        }
        if self.at == from {
            return self.broken();
        }
        Ok(&self.text[from..self.at])
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// What serde_json reads, as ours.
    fn theirs(json: serde_json::Value) -> Json {
        use serde_json::Value;
        match json {
            Value::Null => Json::Null,
            Value::Bool(b) => Json::Bool(b),
            Value::Number(n) => n.as_i64().map_or(Json::Raw(n.to_string()), Json::Whole),
            Value::String(s) => Json::String(s),
            Value::Array(items) => Json::Array(items.into_iter().map(theirs).collect()),
            Value::Object(fields) => {
                let mut object = Object::default();
                for (key, json) in fields {
                    object.put(key, theirs(json));
                }
                object.into_json()
            }
        }
    }

    /// The same with the fields of each object in alphabetical order.
    fn ordered(json: Json) -> Json {
        match json {
            Json::Array(items) => Json::Array(items.into_iter().map(ordered).collect()),
            Json::Object(Object(fields)) => {
                let mut object = Object::default();
                for (key, json) in fields {
                    object.put(key, ordered(json));
                }
                object.into_json()
            }
            json => json,
        }
    }

    /// Numbers with a point may be written in more than one way: compared by what they are worth.
    fn worth(json: Json) -> Json {
        match json {
            Json::Raw(text) => Json::Raw(text.parse::<f64>().unwrap().to_string()),
            Json::Array(items) => Json::Array(items.into_iter().map(worth).collect()),
            Json::Object(Object(fields)) => Json::Object(Object(
                fields.into_iter().map(|(k, j)| (k, worth(j))).collect(),
            )),
            json => json,
        }
    }

    fn pieces() -> impl Strategy<Value = String> {
        let piece = prop::sample::select(vec![
            "{",
            "}",
            "[",
            "]",
            ",",
            ":",
            "\"",
            "\\",
            "\"a\"",
            "\"b\":",
            "\\u00e9",
            "\\ud83d\\ude00",
            "\\ud83d",
            "\\n",
            "\\x",
            "null",
            "true",
            "false",
            "nul",
            " ",
            "\n",
            "\u{1}",
            "0",
            "-",
            "-0",
            "12",
            "1.50",
            ".5",
            "1e5",
            "1E+2",
            "e",
            "9223372036854775808",
            "é",
            "😀",
            "{\"a\":1,\"a\":[]}",
            "[1,2]",
        ]);
        prop::collection::vec(piece, 0..8).prop_map(|pieces| pieces.concat())
    }

    fn as_serde_json_reads(text: &str) -> Result<(), TestCaseError> {
        let (ours, own) = (Json::read(text), serde_json::from_str(text));
        let own: Option<serde_json::Value> = own.ok();
        prop_assert_eq!(
            ours.clone().ok().map(|json| worth(ordered(json))),
            own.map(|json| worth(theirs(json))),
            "{}",
            text
        );
        let mut reader = Reader::new(text);
        let raw = reader.raw().and_then(|_| reader.end());
        let passed = serde_json::from_str::<serde::de::IgnoredAny>(text);
        prop_assert_eq!(raw.is_ok(), passed.is_ok(), "{}", text);
        if let (Err(Broken(at)), Err(error)) =
            (ours, serde_json::from_str::<serde_json::Value>(text))
        {
            // Theirs tells a number or a half letter that is cut off as a wrong one.
            prop_assert!(!error.is_eof() || at == text.len(), "{text}: {at}, {error}");
        }
        Ok(())
    }

    proptest! {
        #[test]
        fn any_pieces_read_as_serde_json_reads_them(text in pieces()) {
            as_serde_json_reads(&text)?;
        }

        #[test]
        fn any_text_reads_as_serde_json_reads_it(text in ".{0,20}") {
            as_serde_json_reads(&text)?;
            as_serde_json_reads(&format!("[{text}]"))?;
            as_serde_json_reads(&format!("\"{text}\""))?;
        }

        #[test]
        fn any_string_is_written_as_serde_json_writes_it(text in ".{0,20}", number: i64) {
            let own = serde_json::json!({ "a": [text, null, [], {}], "b": { "c": true, "d": number } });
            let ours = theirs(own.clone());
            prop_assert_eq!(ours.line(), own.to_string());
            prop_assert_eq!(ours.laid_out(), serde_json::to_string_pretty(&own).unwrap());
            prop_assert_eq!(Json::read(&ours.laid_out()), Ok(ours));
        }
    }

    #[test]
    fn no_power_is_larger_than_that_of_other_programs_numbers() {
        for text in ["1e309", "1e+4294967296", "-1E99999999999999999999"] {
            assert!(Json::read(text).is_err(), "{text}");
            assert!(
                serde_json::from_str::<serde_json::Value>(text).is_err(),
                "{text}"
            );
        }
        for text in ["1e308", "1e-309", "1e-99999999999999999999", "0.0e999"] {
            assert!(Json::read(text).is_ok(), "{text}");
            assert!(
                serde_json::from_str::<serde_json::Value>(text).is_ok(),
                "{text}"
            );
        }
    }

    #[test]
    fn nothing_nests_deeper_than_the_stack_bears() {
        let deep = |levels: usize| "[".repeat(levels) + &"]".repeat(levels);
        assert!(Json::read(&deep(DEEPEST)).is_ok());
        assert_eq!(Json::read(&deep(DEEPEST + 1)), Err(Broken(DEEPEST)));
        assert_eq!(Json::read(&"[".repeat(100_000)), Err(Broken(DEEPEST)));
    }
}
