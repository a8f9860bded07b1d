//! From any type that derives `Serialize` into a [`Tree`]. A variant with fields becomes `{"kind": "variant", …}`.

use super::reader::{Wrong, KIND};
use super::tree::Tree;
use serde::ser::{
    Error, Impossible, Serialize, SerializeMap, SerializeSeq, SerializeStruct, SerializeStructVariant, SerializeTuple,
    Serializer,
};
use std::fmt::Display;

/// The value as plain data.
///
/// # Errors
/// [`Wrong`] for what no type of ours is made of (bytes, tuple structs).
pub fn tree_of<T: Serialize + ?Sized>(value: &T) -> Result<Tree, Wrong> {
    value.serialize(Writer)
}

impl Error for Wrong {
    fn custom<T: Display>(what: T) -> Self {
        Wrong::new(what.to_string())
    }
}

struct Writer;

macro_rules! numbers {
    ($($method:ident $type:ty),*) => {$(
        #[allow(clippy::cast_precision_loss, clippy::cast_lossless)] // JavaScript has one kind of number
        fn $method(self, value: $type) -> Result<Tree, Wrong> {
            Ok(Tree::Number(value as f64))
        }
    )*};
}

fn no<T>() -> Result<T, Wrong> {
    Err(Error::custom("no such shape crosses"))
}

impl Serializer for Writer {
    type Ok = Tree;
    type Error = Wrong;
    type SerializeSeq = List;
    type SerializeTuple = List;
    type SerializeTupleStruct = Impossible<Tree, Wrong>;
    type SerializeTupleVariant = Impossible<Tree, Wrong>;
    type SerializeMap = Object;
    type SerializeStruct = Object;
    type SerializeStructVariant = Object;

    numbers!(
        serialize_i8 i8, serialize_i16 i16, serialize_i32 i32, serialize_i64 i64, serialize_u8 u8, serialize_u16 u16,
        serialize_u32 u32, serialize_u64 u64, serialize_f32 f32, serialize_f64 f64
    );
    fn serialize_bool(self, value: bool) -> Result<Tree, Wrong> {
        Ok(Tree::Bool(value))
    }
    fn serialize_char(self, value: char) -> Result<Tree, Wrong> {
        Ok(Tree::Text(value.to_string()))
    }
    fn serialize_str(self, value: &str) -> Result<Tree, Wrong> {
        Ok(Tree::Text(value.to_owned()))
    }
    fn serialize_bytes(self, _: &[u8]) -> Result<Tree, Wrong> {
        no()
    }
    fn serialize_none(self) -> Result<Tree, Wrong> {
        Ok(Tree::Null)
    }
    fn serialize_some<T: Serialize + ?Sized>(self, value: &T) -> Result<Tree, Wrong> {
        value.serialize(self)
    }
    fn serialize_unit(self) -> Result<Tree, Wrong> {
        Ok(Tree::Null)
    }
    fn serialize_unit_struct(self, _: &'static str) -> Result<Tree, Wrong> {
        Ok(Tree::Null)
    }
    fn serialize_unit_variant(self, _: &'static str, _: u32, variant: &'static str) -> Result<Tree, Wrong> {
        self.serialize_str(variant)
    }
    fn serialize_newtype_struct<T: Serialize + ?Sized>(self, _: &'static str, value: &T) -> Result<Tree, Wrong> {
        value.serialize(self)
    }
    fn serialize_newtype_variant<T: Serialize + ?Sized>(
        self,
        _: &'static str,
        _: u32,
        variant: &'static str,
        value: &T,
    ) -> Result<Tree, Wrong> {
        Ok(Tree::Object(vec![(variant.to_owned(), tree_of(value)?)]))
    }
    fn serialize_seq(self, length: Option<usize>) -> Result<List, Wrong> {
        Ok(List(Vec::with_capacity(length.unwrap_or(0))))
    }
    fn serialize_tuple(self, length: usize) -> Result<List, Wrong> {
        self.serialize_seq(Some(length))
    }
    fn serialize_tuple_struct(self, _: &'static str, _: usize) -> Result<Self::SerializeTupleStruct, Wrong> {
        no()
    }
    fn serialize_tuple_variant(
        self,
        _: &'static str,
        _: u32,
        _: &'static str,
        _: usize,
    ) -> Result<Self::SerializeTupleVariant, Wrong> {
        no()
    }
    fn serialize_map(self, _: Option<usize>) -> Result<Object, Wrong> {
        Ok(Object(Vec::new()))
    }
    fn serialize_struct(self, _: &'static str, _: usize) -> Result<Object, Wrong> {
        Ok(Object(Vec::new()))
    }
    fn serialize_struct_variant(
        self,
        _: &'static str,
        _: u32,
        variant: &'static str,
        _: usize,
    ) -> Result<Object, Wrong> {
        Ok(Object(vec![(KIND.to_owned(), Tree::Text(variant.to_owned()))]))
    }
}

struct List(Vec<Tree>);

impl SerializeSeq for List {
    type Ok = Tree;
    type Error = Wrong;

    fn serialize_element<T: Serialize + ?Sized>(&mut self, value: &T) -> Result<(), Wrong> {
        self.0.push(tree_of(value)?);
        Ok(())
    }
    fn end(self) -> Result<Tree, Wrong> {
        Ok(Tree::List(self.0))
    }
}

impl SerializeTuple for List {
    type Ok = Tree;
    type Error = Wrong;

    fn serialize_element<T: Serialize + ?Sized>(&mut self, value: &T) -> Result<(), Wrong> {
        SerializeSeq::serialize_element(self, value)
    }
    fn end(self) -> Result<Tree, Wrong> {
        SerializeSeq::end(self)
    }
}

struct Object(Vec<(String, Tree)>);

impl Object {
    /// Not generic: the code of every field of every type goes through here.
    #[inline(never)]
    fn add(&mut self, name: &str, value: Result<Tree, Wrong>) -> Result<(), Wrong> {
        self.0.push((name.to_owned(), value?));
        Ok(())
    }
}

impl SerializeMap for Object {
    type Ok = Tree;
    type Error = Wrong;

    fn serialize_key<T: Serialize + ?Sized>(&mut self, key: &T) -> Result<(), Wrong> {
        match tree_of(key)? {
            Tree::Text(name) => self.add(&name, Ok(Tree::Null)),
            _ => no(),
        }
    }
    fn serialize_value<T: Serialize + ?Sized>(&mut self, value: &T) -> Result<(), Wrong> {
        let value = tree_of(value)?;
        if let Some((_, place)) = self.0.last_mut() {
            *place = value;
        }
        Ok(())
    }
    fn end(self) -> Result<Tree, Wrong> {
        Ok(Tree::Object(self.0))
    }
}

impl SerializeStruct for Object {
    type Ok = Tree;
    type Error = Wrong;

    fn serialize_field<T: Serialize + ?Sized>(&mut self, name: &'static str, value: &T) -> Result<(), Wrong> {
        self.add(name, tree_of(value))
    }
    fn end(self) -> Result<Tree, Wrong> {
        Ok(Tree::Object(self.0))
    }
}

impl SerializeStructVariant for Object {
    type Ok = Tree;
    type Error = Wrong;

    fn serialize_field<T: Serialize + ?Sized>(&mut self, name: &'static str, value: &T) -> Result<(), Wrong> {
        self.add(name, tree_of(value))
    }
    fn end(self) -> Result<Tree, Wrong> {
        Ok(Tree::Object(self.0))
    }
}
