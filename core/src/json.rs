//! How the records of a job stand in JSON: which field and word is called what, said once
//! for both ways.
//!
//! serde_json reads and writes the text. Its derived readers are not used: each carries
//! sentences and branches for every field of every kind, a fifth of the whole program that
//! the phone loads, and nobody reads the sentences, since an entry that is not understood
//! is kept as it came. A record has its form here, or it has none.

use serde_json::Map;
/// A JSON value of any form.
pub use serde_json::Value as Json;

/// What has a form in JSON.
pub trait InJson: Sized {
    /// The names of its fields in reading order, where it is a record of some.
    const FIELDS: &'static [&'static str] = &[];

    /// Its form.
    fn to_json(&self) -> Json;

    /// What this is the form of; nothing where it is that of none.
    fn of_json(json: Json) -> Option<Self>;

    /// What stands for a field that is not there; nothing where it must be there.
    fn of_nothing() -> Option<Self> {
        None
    }

    /// Whether an optional field of this content is left out.
    fn is_nothing(&self) -> bool {
        false
    }

    /// The form of an optional field, where it is not left out.
    fn given(&self) -> Option<Json> {
        (!self.is_nothing()).then(|| self.to_json())
    }
}

/// The fields of a JSON object while it is read or written.
#[derive(Default)]
pub struct Object(Map<String, Json>);

impl Object {
    /// The fields of an object; nothing where it is none.
    pub fn of(json: Json) -> Option<Object> {
        match json {
            Json::Object(fields) => Some(Object(fields)),
            _ => None,
        }
    }

    /// An object of the fields that are given, as JSON.
    pub fn with(fields: &mut [(&'static str, Option<Json>)]) -> Json {
        let mut object = Object::default();
        for (key, json) in fields {
            if let Some(json) = json.take() {
                object.put(key, json);
            }
        }
        object.into_json()
    }

    /// As JSON.
    pub fn into_json(self) -> Json {
        Json::Object(self.0)
    }

    /// Writes a field.
    pub fn put(&mut self, key: &str, json: Json) {
        self.0.insert(key.to_owned(), json);
    }

    /// Takes a field out as it stands.
    pub fn remove(&mut self, key: &str) -> Option<Json> {
        self.0.remove(key)
    }

    /// Reads a field.
    pub fn take<T: InJson>(&mut self, key: &str) -> Option<T> {
        match self.remove(key) {
            Some(json) => T::of_json(json),
            None => T::of_nothing(),
        }
    }

    /// Reads a field that may be left out.
    pub fn take_given<T: InJson + Default>(&mut self, key: &str) -> Option<T> {
        match self.remove(key) {
            Some(json) => T::of_json(json),
            None => Some(T::default()),
        }
    }

    /// Its fields in alphabetical order.
    pub fn into_fields(self) -> impl Iterator<Item = (String, Json)> {
        self.0.into_iter()
    }

    /// What was read, unless fields are left over.
    pub fn done<T>(self, made: T) -> Option<T> {
        self.0.is_empty().then_some(made)
    }
}

/// An object of one field, such as `{"nm": 1800000}`.
pub fn single(key: &str, json: Json) -> Json {
    let mut object = Object::default();
    object.put(key, json);
    object.into_json()
}

/// Key and content of an object of one field.
pub fn of_single(json: Json) -> Option<(String, Json)> {
    let mut fields = Object::of(json)?.0.into_iter();
    let only = fields.next()?;
    fields.next().is_none().then_some(only)
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
            fn to_json(&self) -> serde_json::Value {
                (match self { $($name::$variant => $word),+ }).into()
            }
            fn of_json(json: serde_json::Value) -> Option<$name> {
                let at = $crate::json::place_of(&json, &[$($word),+])?;
                [$($name::$variant),+].get(at).copied()
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
                let $name { $($field,)* $($($may,)+)? } = self;
                $crate::json::Object::with(&mut [
                    $((stringify!($field), Some($field.to_json())),)*
                    $($((stringify!($may), $may.given()),)+)?
                ])
            }
            fn of_json(json: $crate::json::Json) -> Option<$name> {
                let mut object = $crate::json::Object::of(json)?;
                let made = $name {
                    $($field: object.take(stringify!($field))?,)*
                    $($($may: object.take_given(stringify!($may))?,)+)?
                };
                object.done(made)
            }
        }
    };
}

/// The variants of an enum whose fields stand beside a word that tells which it is.
macro_rules! tagged {
    ($name:ident by $tag:literal {
        $($word:literal = $variant:ident { $($field:ident),* $(,)? } $(optional { $($may:ident),+ $(,)? })?,)+
    } unwritten { $unwritten:pat }) => {
        impl $crate::json::InJson for $name {
            fn to_json(&self) -> serde_json::Value {
                match self {
                    $($name::$variant { $($field,)* $($($may,)+)? } => $crate::json::Object::with(&mut [
                        ($tag, Some($word.into())),
                        $((stringify!($field), Some($field.to_json())),)*
                        $($((stringify!($may), $may.given()),)+)?
                    ]),)+
                    $unwritten => serde_json::Value::Null,
                }
            }
            fn of_json(json: serde_json::Value) -> Option<$name> {
                let mut object = $crate::json::Object::of(json)?;
                let word = object.remove($tag)?;
                let made = match word.as_str()? {
                    $($word => $name::$variant {
                        $($field: object.take(stringify!($field))?,)*
                        $($($may: object.take_given(stringify!($may))?,)+)?
                    },)+
                    _ => return None,
                };
                object.done(made)
            }
        }
    };
}

/// A name in JSON as the text that it is.
macro_rules! transparent {
    ($($name:ident)+) => {$(
        impl $crate::json::InJson for $name {
            fn to_json(&self) -> serde_json::Value {
                self.0.to_json()
            }
            fn of_json(json: serde_json::Value) -> Option<$name> {
                Some($name($crate::json::InJson::of_json(json)?))
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
                if let Some(number) = json.as_u64() {
                    return number.try_into().ok();
                }
                json.as_i64()?.try_into().ok()
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
}

impl InJson for bool {
    fn to_json(&self) -> Json {
        (*self).into()
    }
    fn of_json(json: Json) -> Option<bool> {
        json.as_bool()
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
}

impl InJson for std::borrow::Cow<'static, str> {
    fn to_json(&self) -> Json {
        self.as_ref().into()
    }
    fn of_json(json: Json) -> Option<Self> {
        String::of_json(json).map(Self::Owned)
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
    fn of_nothing() -> Option<Option<T>> {
        Some(None)
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
}
