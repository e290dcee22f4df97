//! How the records of a job stand in JSON: which field and word is called what, said once
//! for both ways.
//!
//! No library reads and writes it: their readers carry sentences and branches for every field
//! of every kind, a fifth of the whole program that the phone loads, and nobody reads the
//! sentences, since an entry that is not understood is kept as it came. Their sentences
//! and maps alone are another 50 KB. A record has its form here, or it has none.

use std::borrow::Cow;

mod text;

pub use text::Broken;
pub(crate) use text::Reader;

/// A JSON value of any form.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Json {
    /// Nothing.
    Null,
    /// Yes or no.
    Bool(bool),
    /// A whole number.
    Whole(i64),
    /// A number that is not whole, as it is written; or what is JSON already.
    Raw(String),
    /// A text.
    String(String),
    /// Values in their order.
    Array(Vec<Json>),
    /// Values by their names.
    Object(Object),
}

impl Json {
    /// The text, where it is one.
    pub fn as_str(&self) -> Option<&str> {
        match self {
            Json::String(text) => Some(text),
            _ => None,
        }
    }

    /// The whole number, where it is one.
    pub fn as_whole(&self) -> Option<i64> {
        match self {
            Json::Whole(number) => Some(*number),
            _ => None,
        }
    }
}

impl From<String> for Json {
    fn from(text: String) -> Json {
        Json::String(text)
    }
}

impl From<&str> for Json {
    fn from(text: &str) -> Json {
        Json::String(text.to_owned())
    }
}

impl<T: Into<Json>> FromIterator<T> for Json {
    fn from_iter<I: IntoIterator<Item = T>>(items: I) -> Json {
        Json::Array(items.into_iter().map(T::into).collect())
    }
}

/// What has a form in JSON.
pub trait InJson: Sized {
    /// The names of its fields in reading order, where it is a record of some.
    const FIELDS: &'static [&'static str] = &[];

    /// Its form.
    fn to_json(&self) -> Json;

    /// What this is the form of; nothing where it is that of none.
    fn of_json(json: Json) -> Option<Self>;

    /// What a field holds that is not read yet, and goes on to hold where it may be left out.
    fn blank() -> Self;

    /// Whether a field of this content may be left out though no list says so.
    fn may_lack() -> bool {
        false
    }

    /// Whether an optional field of this content is left out.
    fn is_nothing(&self) -> bool {
        false
    }
}

/// A field of a record, whatever it is: so that one reader and one writer serve all records.
pub trait Field {
    /// Its form.
    fn form(&self) -> Json;

    /// Whether it is left out where it is optional.
    fn says_nothing(&self) -> bool;

    /// Reads it; whether that is its form.
    fn read(&mut self, json: Json) -> bool;

    /// Whether it may be left out though no list says so.
    fn may_be_absent(&self) -> bool;
}

impl<T: InJson> Field for T {
    fn form(&self) -> Json {
        self.to_json()
    }
    fn says_nothing(&self) -> bool {
        self.is_nothing()
    }
    fn read(&mut self, json: Json) -> bool {
        T::of_json(json).map(|read| *self = read).is_some()
    }
    fn may_be_absent(&self) -> bool {
        T::may_lack()
    }
}

/// The fields of a JSON object: in their order where it was read, in alphabetical order where it
/// was put together.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Object(pub(crate) Vec<(Cow<'static, str>, Json)>);

impl Object {
    /// The fields of an object; nothing where it is none.
    pub fn of(json: Json) -> Option<Object> {
        match json {
            Json::Object(object) => Some(object),
            _ => None,
        }
    }

    /// The fields of a record; from the place `optional` on they are left out where they say nothing.
    pub fn of_fields(names: &[&'static str], optional: usize, fields: &[&dyn Field]) -> Object {
        let mut object = Object::default();
        for (at, (name, field)) in names.iter().zip(fields).enumerate() {
            if at < optional || !field.says_nothing() {
                object.put(*name, field.form());
            }
        }
        object
    }

    /// Reads the fields of a record, which may be left out from the place `optional` on; whether they
    /// are its fields and there are no others.
    pub fn read_fields(
        mut self,
        names: &[&'static str],
        optional: usize,
        fields: &mut [&mut dyn Field],
    ) -> bool {
        for (at, (name, field)) in names.iter().zip(fields).enumerate() {
            let read = match self.remove(name) {
                Some(json) => field.read(json),
                None => at >= optional || field.may_be_absent(),
            };
            if !read {
                return false;
            }
        }
        self.0.is_empty()
    }

    /// As JSON.
    pub fn into_json(self) -> Json {
        Json::Object(self)
    }

    /// Writes a field.
    pub fn put(&mut self, key: impl Into<Cow<'static, str>>, json: Json) {
        self.put_named(key.into(), json);
    }

    fn put_named(&mut self, key: Cow<'static, str>, json: Json) {
        match self.0.binary_search_by(|field| field.0.cmp(&key)) {
            Ok(at) => self.0[at].1 = json,
            Err(at) => self.0.insert(at, (key, json)),
        }
    }

    /// A field as it stands; of several with this name the last counts.
    pub fn get(&self, key: &str) -> Option<&Json> {
        let field = self.0.iter().rfind(|field| field.0 == key)?;
        Some(&field.1)
    }

    /// Takes a field out as it stands; of several with this name the last counts.
    pub fn remove(&mut self, key: &str) -> Option<Json> {
        let at = self.0.iter().rposition(|field| field.0 == key)?;
        let (_, json) = self.0.remove(at);
        self.0.retain(|field| field.0 != key);
        Some(json)
    }
}

/// An object of one field, such as `{"nm": 1800000}`.
pub fn single(key: &'static str, json: Json) -> Json {
    let mut object = Object::default();
    object.put(key, json);
    object.into_json()
}

/// Key and content of an object of one field.
pub fn of_single(json: Json) -> Option<(Cow<'static, str>, Json)> {
    let mut fields = Object::of(json)?.0;
    let only = fields.pop()?;
    fields.is_empty().then_some(only)
}

/// The place of a word among others.
pub(crate) fn place_of(json: &Json, among: &[&str]) -> Option<usize> {
    let word = json.as_str()?;
    among.iter().position(|w| *w == word)
}

/// The variants of an enum, each a word.
macro_rules! words {
    ($name:ident { $($variant:ident = $word:literal),+ $(,)? }) => {
        impl $crate::json::InJson for $name {
            fn to_json(&self) -> $crate::json::Json {
                (match self { $($name::$variant => $word),+ }).into()
            }
            fn of_json(json: $crate::json::Json) -> Option<$name> {
                let at = $crate::json::place_of(&json, &[$($word),+])?;
                [$($name::$variant),+].get(at).copied()
            }
            fn blank() -> $name {
                [$($name::$variant),+][0]
            }
        }
    };
}

/// The fields of a struct, all of them; the optional ones are left out where there is
/// nothing to say. An object with any other field is not read.
#[macro_export]
#[doc(hidden)]
macro_rules! json_fields {
    ($name:ident { $($field:ident),* $(,)? } $(optional { $($may:ident),+ $(,)? })?) => {
        impl $crate::json::InJson for $name {
            const FIELDS: &'static [&'static str] =
                &[$(stringify!($field),)* $($(stringify!($may)),+)?];
            fn to_json(&self) -> $crate::json::Json {
                const REQUIRED: &[&str] = &[$(stringify!($field)),*];
                let $name { $($field,)* $($($may,)+)? } = self;
                let fields: &[&dyn $crate::json::Field] = &[$($field,)* $($($may),+)?];
                $crate::json::Object::of_fields(Self::FIELDS, REQUIRED.len(), fields).into_json()
            }
            fn of_json(json: $crate::json::Json) -> Option<$name> {
                const REQUIRED: &[&str] = &[$(stringify!($field)),*];
                let object = $crate::json::Object::of(json)?;
                let mut made = <$name as $crate::json::InJson>::blank();
                let $name { $($field,)* $($($may,)+)? } = &mut made;
                let fields: &mut [&mut dyn $crate::json::Field] = &mut [$($field,)* $($($may),+)?];
                let read = object.read_fields(Self::FIELDS, REQUIRED.len(), fields);
                read.then_some(made)
            }
            fn blank() -> $name {
                $name {
                    $($field: $crate::json::InJson::blank(),)*
                    $($($may: $crate::json::InJson::blank()),+)?
                }
            }
        }
    };
}

/// The variants of an enum whose fields stand beside a word that tells which it is.
macro_rules! tagged {
    ($name:ident by $tag:literal {
        $($word:literal = $variant:ident { $($field:ident),* $(,)? } $(optional { $($may:ident),+ $(,)? })?,)+
    } unwritten { $unwritten:pat } blank { $unwritten_blank:expr }) => {
        impl $crate::json::InJson for $name {
            fn to_json(&self) -> $crate::json::Json {
                let (word, names, optional, fields): (&str, &[&str], &[&str], &[&dyn $crate::json::Field]) =
                    match self {
                        $($name::$variant { $($field,)* $($($may,)+)? } => (
                            $word,
                            &[$(stringify!($field),)* $($(stringify!($may)),+)?],
                            &[$($(stringify!($may)),+)?],
                            &[$($field,)* $($($may),+)?],
                        ),)+
                        $unwritten => return $crate::json::Json::Null,
                    };
                let required = names.len() - optional.len();
                let mut object = $crate::json::Object::of_fields(names, required, fields);
                object.put($tag, word.into());
                object.into_json()
            }
            fn of_json(json: $crate::json::Json) -> Option<$name> {
                let mut object = $crate::json::Object::of(json)?;
                let word = object.remove($tag)?;
                let mut made = match word.as_str()? {
                    $($word => $name::$variant {
                        $($field: $crate::json::InJson::blank(),)*
                        $($($may: $crate::json::InJson::blank()),+)?
                    },)+
                    _ => return None,
                };
                let (names, optional, fields): (&[&str], &[&str], &mut [&mut dyn $crate::json::Field]) =
                    match &mut made {
                        $($name::$variant { $($field,)* $($($may,)+)? } => (
                            &[$(stringify!($field),)* $($(stringify!($may)),+)?],
                            &[$($(stringify!($may)),+)?],
                            &mut [$($field,)* $($($may),+)?],
                        ),)+
                        $unwritten => return None,
                    };
                let required = names.len() - optional.len();
                object.read_fields(names, required, fields).then_some(made)
            }
            fn blank() -> $name {
                $unwritten_blank
            }
        }
    };
}

/// A name in JSON as the text that it is.
macro_rules! transparent {
    ($($name:ident)+) => {$(
        impl $crate::json::InJson for $name {
            fn to_json(&self) -> $crate::json::Json {
                self.0.to_json()
            }
            fn of_json(json: $crate::json::Json) -> Option<$name> {
                Some($name($crate::json::InJson::of_json(json)?))
            }
            fn blank() -> $name {
                $name($crate::json::InJson::blank())
            }
        }
    )+};
}

pub use json_fields as fields;
pub(crate) use {tagged, transparent, words};

macro_rules! whole_numbers {
    ($($number:ty)+) => {$(
        impl InJson for $number {
            fn to_json(&self) -> Json {
                (*self).into()
            }
            fn of_json(json: Json) -> Option<$number> {
                json.as_whole()?.try_into().ok()
            }
            fn blank() -> $number {
                0
            }
        }
        impl From<$number> for Json {
            fn from(number: $number) -> Json {
                i64::try_from(number).map_or_else(|_| Json::Raw(number.to_string()), Json::Whole)
            }
        }
    )+};
}
whole_numbers!(u8 u32 u64 i64 usize);

impl InJson for Json {
    fn to_json(&self) -> Json {
        self.clone()
    }
    fn of_json(json: Json) -> Option<Json> {
        Some(json)
    }
    fn blank() -> Json {
        Json::Null
    }
}

impl InJson for bool {
    fn to_json(&self) -> Json {
        Json::Bool(*self)
    }
    fn of_json(json: Json) -> Option<bool> {
        match json {
            Json::Bool(is) => Some(is),
            _ => None,
        }
    }
    fn blank() -> bool {
        false
    }
}

impl InJson for String {
    fn to_json(&self) -> Json {
        self.as_str().into()
    }
    fn of_json(json: Json) -> Option<String> {
        match json {
            Json::String(text) => Some(text),
            _ => None,
        }
    }
    fn blank() -> String {
        String::new()
    }
}

impl InJson for std::borrow::Cow<'static, str> {
    fn to_json(&self) -> Json {
        self.as_ref().into()
    }
    fn of_json(json: Json) -> Option<Self> {
        String::of_json(json).map(Self::Owned)
    }
    fn blank() -> Self {
        Cow::Borrowed("")
    }
}

impl<T: InJson> InJson for Option<T> {
    fn to_json(&self) -> Json {
        self.as_ref().map_or(Json::Null, T::to_json)
    }
    fn of_json(json: Json) -> Option<Option<T>> {
        match json {
            Json::Null => Some(None),
            json => T::of_json(json).map(Some),
        }
    }
    fn blank() -> Option<T> {
        None
    }
    fn may_lack() -> bool {
        true
    }
    fn is_nothing(&self) -> bool {
        self.is_none()
    }
}

impl<T: InJson> InJson for Box<T> {
    fn to_json(&self) -> Json {
        self.as_ref().to_json()
    }
    fn of_json(json: Json) -> Option<Box<T>> {
        T::of_json(json).map(Box::new)
    }
    fn blank() -> Box<T> {
        Box::new(T::blank())
    }
}

impl<T: InJson> InJson for Vec<T> {
    fn to_json(&self) -> Json {
        Json::Array(self.iter().map(T::to_json).collect())
    }
    fn of_json(json: Json) -> Option<Vec<T>> {
        match json {
            Json::Array(all) => {
                let mut list = Vec::with_capacity(all.len());
                for json in all {
                    list.push(T::of_json(json)?);
                }
                Some(list)
            }
            _ => None,
        }
    }
    fn blank() -> Vec<T> {
        Vec::new()
    }
    fn is_nothing(&self) -> bool {
        self.is_empty()
    }
}

impl<A: InJson, B: InJson> InJson for (A, B) {
    fn to_json(&self) -> Json {
        Json::Array(vec![self.0.to_json(), self.1.to_json()])
    }
    fn of_json(json: Json) -> Option<(A, B)> {
        match json {
            Json::Array(both) => {
                let [a, b] = <[Json; 2]>::try_from(both).ok()?;
                Some((A::of_json(a)?, B::of_json(b)?))
            }
            _ => None,
        }
    }
    fn blank() -> (A, B) {
        (A::blank(), B::blank())
    }
}
