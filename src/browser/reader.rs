//! From a [`Tree`] into any type that derives `Deserialize`. It asks of the derived code only what it needs (fields by
//! name, never by place), so that nothing else gets into the page, and it knows the path of what is wrong.
//!
//! A variant with fields comes as `{"kind": "variant", …}` or as `{"variant": {…}}`, one without as `"variant"` or
//! `{"kind": "variant"}`. So no type needs serde's `tag` or `untagged`, which would keep whole copies of the data.

use super::tree::Tree;
use serde::de::{
    DeserializeSeed, Deserializer, EnumAccess, Error, Expected, MapAccess, SeqAccess, Unexpected, VariantAccess,
    Visitor,
};
use serde::forward_to_deserialize_any;
use std::fmt::{self, Display};

/// What is wrong, and where.
#[derive(Debug)]
pub struct Wrong {
    /// `.takes[1].role`, a dot before each name; empty for the whole.
    path: String,
    /// What is wrong and what is wanted.
    pub what: String,
}

impl Wrong {
    /// That something else would have been right.
    pub fn new(what: String) -> Self {
        Wrong { path: String::new(), what }
    }

    /// `takes[1].role`; empty for the whole.
    pub fn place(&self) -> String {
        self.path.strip_prefix('.').unwrap_or(&self.path).to_owned()
    }

    fn wanted(what: impl Display) -> Self {
        Wrong::new(format!("{what} is wanted"))
    }

    /// The same, seen from the object or list around.
    pub(super) fn under(self, name: &str) -> Self {
        Wrong { path: [".", name, &self.path].concat(), what: self.what }
    }

    /// The same, seen from the list around.
    pub(super) fn at(self, place: usize) -> Self {
        Wrong { path: format!("[{place}]{}", self.path), what: self.what }
    }

    pub(super) fn one_of(what: &str, name: &str, known: &[&str]) -> String {
        format!("unknown {what} `{name}`, wanted: {}", known.join(", "))
    }
}

impl Display for Wrong {
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        f.write_str(&self.what)
    }
}

impl std::error::Error for Wrong {}

impl Error for Wrong {
    fn custom<T: Display>(what: T) -> Self {
        Wrong::new(what.to_string())
    }
    fn invalid_type(_: Unexpected, expected: &dyn Expected) -> Self {
        Wrong::wanted(expected)
    }
    fn invalid_value(_: Unexpected, expected: &dyn Expected) -> Self {
        Wrong::wanted(expected)
    }
    fn invalid_length(_: usize, expected: &dyn Expected) -> Self {
        Wrong::wanted(expected)
    }
    fn unknown_variant(name: &str, known: &'static [&'static str]) -> Self {
        Wrong::new(Wrong::one_of("variant", name, known))
    }
    fn unknown_field(name: &str, known: &'static [&'static str]) -> Self {
        Wrong::new(Wrong::one_of("field", name, known)).under(name)
    }
    fn missing_field(name: &'static str) -> Self {
        Wrong::new(format!("missing field `{name}`")).under(name)
    }
}

/// Reads a tree.
#[derive(Clone, Copy)]
pub struct Reader<'de>(pub &'de Tree);

impl<'de> Reader<'de> {
    #[inline(never)]
    pub(super) fn number(self) -> Result<f64, Wrong> {
        match self.0 {
            Tree::Number(number) => Ok(*number),
            _ => Err(Wrong::wanted("a number")),
        }
    }

    #[inline(never)]
    #[allow(clippy::cast_possible_truncation)] // whole and within the exact range of an f64
    fn whole(self) -> Result<i64, Wrong> {
        let number = self.number()?;
        if number.fract() == 0.0 && number.abs() < 1e19 {
            return Ok(number as i64);
        }
        Err(Wrong::wanted("a whole number"))
    }

    #[inline(never)]
    pub(super) fn natural(self) -> Result<u64, Wrong> {
        u64::try_from(self.whole()?).map_err(|_| Wrong::wanted("a whole number of at least 0"))
    }

    #[inline(never)]
    pub(super) fn text(self) -> Result<&'de str, Wrong> {
        match self.0 {
            Tree::Text(text) => Ok(text),
            _ => Err(Wrong::wanted("text")),
        }
    }

    #[inline(never)]
    fn fields(self) -> Result<Fields<'de>, Wrong> {
        match self.0 {
            Tree::Object(fields) => Ok(Fields { rest: fields, value: None, skip: "" }),
            _ => Err(Wrong::wanted("an object")),
        }
    }

    #[inline(never)]
    fn items(self) -> Result<Items<'de>, Wrong> {
        match self.0 {
            Tree::List(items) => Ok(Items { all: items, next: 0 }),
            _ => Err(Wrong::wanted("a list")),
        }
    }

    #[inline(never)]
    fn variant(self) -> Result<Variant<'de>, Wrong> {
        match self.0 {
            Tree::Text(name) => Ok(Variant { name, content: None, skip: "" }),
            Tree::Object(fields) => match fields.iter().find(|(name, _)| name == KIND) {
                Some((_, kind)) => {
                    let name = Reader(kind).text().map_err(|wrong| wrong.under(KIND))?;
                    Ok(Variant { name, content: Some(self.0), skip: KIND })
                }
                None => match fields.as_slice() {
                    [(name, content)] => Ok(Variant { name, content: Some(content), skip: "" }),
                    _ => Err(Wrong::wanted("a field `kind`")),
                },
            },
            _ => Err(Wrong::wanted("a name")),
        }
    }
}

/// The field that names a variant among the variant's own.
pub(super) const KIND: &str = "kind";

macro_rules! whole_numbers {
    ($($method:ident $read:ident $visit:ident),*) => {$(
        fn $method<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Wrong> {
            visitor.$visit(self.$read()?)
        }
    )*};
}

impl<'de> Deserializer<'de> for Reader<'de> {
    type Error = Wrong;

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Wrong> {
        match self.0 {
            Tree::Null => visitor.visit_unit(),
            Tree::Bool(value) => visitor.visit_bool(*value),
            Tree::Number(value) => visitor.visit_f64(*value),
            Tree::Text(value) => visitor.visit_str(value),
            Tree::List(_) => self.deserialize_seq(visitor),
            Tree::Object(_) => self.deserialize_map(visitor),
        }
    }
    fn deserialize_bool<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Wrong> {
        match self.0 {
            Tree::Bool(value) => visitor.visit_bool(*value),
            _ => Err(Wrong::wanted("true or false")),
        }
    }
    whole_numbers!(
        deserialize_u8 natural visit_u64, deserialize_u16 natural visit_u64, deserialize_u32 natural visit_u64,
        deserialize_u64 natural visit_u64, deserialize_i8 whole visit_i64, deserialize_i16 whole visit_i64,
        deserialize_i32 whole visit_i64, deserialize_i64 whole visit_i64, deserialize_f32 number visit_f64,
        deserialize_f64 number visit_f64, deserialize_str text visit_str, deserialize_string text visit_str
    );
    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Wrong> {
        match self.0 {
            Tree::Null => visitor.visit_none(),
            _ => visitor.visit_some(self),
        }
    }
    fn deserialize_newtype_struct<V: Visitor<'de>>(self, _: &'static str, visitor: V) -> Result<V::Value, Wrong> {
        visitor.visit_newtype_struct(self)
    }
    fn deserialize_seq<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Wrong> {
        let mut items = self.items()?;
        let list = visitor.visit_seq(&mut items)?;
        if items.next < items.all.len() {
            return Err(Wrong::wanted("a shorter list"));
        }
        Ok(list)
    }
    fn deserialize_tuple<V: Visitor<'de>>(self, _: usize, visitor: V) -> Result<V::Value, Wrong> {
        self.deserialize_seq(visitor)
    }
    fn deserialize_tuple_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        _: usize,
        visitor: V,
    ) -> Result<V::Value, Wrong> {
        self.deserialize_seq(visitor)
    }
    fn deserialize_map<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Wrong> {
        visitor.visit_map(self.fields()?)
    }
    fn deserialize_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        _: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Wrong> {
        visitor.visit_map(self.fields()?)
    }
    fn deserialize_enum<V: Visitor<'de>>(
        self,
        _: &'static str,
        _: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Wrong> {
        visitor.visit_enum(self.variant()?)
    }
    fn deserialize_identifier<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Wrong> {
        self.deserialize_str(visitor)
    }
    fn deserialize_ignored_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Wrong> {
        visitor.visit_unit()
    }
    forward_to_deserialize_any! { i128 u128 char bytes byte_buf unit unit_struct }
}

struct Fields<'de> {
    rest: &'de [(String, Tree)],
    value: Option<(&'de str, &'de Tree)>,
    skip: &'static str,
}

impl<'de> Fields<'de> {
    #[inline(never)]
    fn step(&mut self) -> Option<Name<'de>> {
        while let Some(((name, value), rest)) = self.rest.split_first() {
            self.rest = rest;
            if name != self.skip {
                self.value = Some((name, value));
                return Some(Name(name));
            }
        }
        None
    }
}

impl<'de> MapAccess<'de> for Fields<'de> {
    type Error = Wrong;

    fn next_key_seed<K: DeserializeSeed<'de>>(&mut self, seed: K) -> Result<Option<K::Value>, Wrong> {
        self.step().map(|name| seed.deserialize(name)).transpose()
    }
    fn next_value_seed<V: DeserializeSeed<'de>>(&mut self, seed: V) -> Result<V::Value, Wrong> {
        let (name, value) = self.value.unwrap_or(("", &Tree::Null));
        seed.deserialize(Reader(value)).map_err(|wrong| wrong.under(name))
    }
}

struct Items<'de> {
    all: &'de [Tree],
    next: usize,
}

impl<'de> SeqAccess<'de> for &mut Items<'de> {
    type Error = Wrong;

    fn next_element_seed<T: DeserializeSeed<'de>>(&mut self, seed: T) -> Result<Option<T::Value>, Wrong> {
        let Some(item) = self.all.get(self.next) else { return Ok(None) };
        let place = self.next;
        self.next += 1;
        seed.deserialize(Reader(item)).map(Some).map_err(|wrong| wrong.at(place))
    }
}

/// A field's name or a variant's.
struct Name<'de>(&'de str);

impl<'de> Deserializer<'de> for Name<'de> {
    type Error = Wrong;

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Wrong> {
        visitor.visit_str(self.0)
    }
    forward_to_deserialize_any! {
        bool i8 i16 i32 i64 i128 u8 u16 u32 u64 u128 f32 f64 char str string bytes byte_buf option unit unit_struct
        newtype_struct seq tuple tuple_struct map struct enum identifier ignored_any
    }
}

struct Variant<'de> {
    name: &'de str,
    content: Option<&'de Tree>,
    skip: &'static str,
}

impl<'de> EnumAccess<'de> for Variant<'de> {
    type Error = Wrong;
    type Variant = Self;

    fn variant_seed<V: DeserializeSeed<'de>>(self, seed: V) -> Result<(V::Value, Self), Wrong> {
        let kind = |wrong: Wrong| if self.skip.is_empty() { wrong } else { wrong.under(KIND) };
        let value = seed.deserialize(Name(self.name)).map_err(kind)?;
        Ok((value, self))
    }
}

impl<'de> VariantAccess<'de> for Variant<'de> {
    type Error = Wrong;

    fn unit_variant(self) -> Result<(), Wrong> {
        Ok(())
    }
    fn newtype_variant_seed<T: DeserializeSeed<'de>>(self, seed: T) -> Result<T::Value, Wrong> {
        seed.deserialize(Reader(self.content.unwrap_or(&Tree::Null)))
    }
    fn tuple_variant<V: Visitor<'de>>(self, _: usize, _: V) -> Result<V::Value, Wrong> {
        Err(Wrong::wanted("named fields"))
    }
    fn struct_variant<V: Visitor<'de>>(self, _: &'static [&'static str], visitor: V) -> Result<V::Value, Wrong> {
        let fields = Reader(self.content.unwrap_or(&Tree::Null)).fields()?;
        visitor.visit_map(Fields { skip: self.skip, ..fields })
    }
}
