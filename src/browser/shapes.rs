//! How a type is filled from a [`Tree`] and written into one, field by field, by name. Named here once for each type that
//! every visit needs: derived code that can read any format takes five times as much of the first load.

use super::reader::{Reader, Wrong, KIND};
use super::tree::Tree;
use std::collections::BTreeMap;

/// Can be read from plain data.
pub trait Read: Sized {
    /// # Errors
    /// [`Wrong`] with the place.
    fn read(tree: &Tree) -> Result<Self, Wrong>;

    /// What stands for a field that is not there; none where it must be.
    fn absent() -> Option<Self> {
        None
    }
}

/// Can be written as plain data.
pub trait Write {
    /// The value as plain data.
    fn write(&self) -> Tree;
}

/// The fields of an object that is being read.
pub struct Fields<'t>(&'t [(String, Tree)]);

impl<'t> Fields<'t> {
    /// Any object; fields that are not asked for are passed over.
    #[inline(never)]
    pub fn open(tree: &'t Tree, _: &[&str]) -> Result<Self, Wrong> {
        match tree {
            Tree::Object(fields) => Ok(Fields(fields)),
            _ => Err(Wrong::new("an object is wanted".to_owned())),
        }
    }

    /// An object that may hold the known fields only.
    #[inline(never)]
    pub fn strict(tree: &'t Tree, known: &[&str]) -> Result<Self, Wrong> {
        let fields = Self::open(tree, known)?;
        match fields.0.iter().find(|(name, _)| !known.contains(&name.as_str())) {
            Some((name, _)) => Err(Wrong::new(Wrong::one_of("field", name, known)).under(name)),
            None => Ok(fields),
        }
    }

    #[inline(never)]
    fn find(&self, wanted: &str) -> Option<&'t Tree> {
        self.0.iter().find(|(name, _)| name == wanted).map(|(_, value)| value)
    }

    /// A field.
    #[inline(never)]
    pub fn get<T: Read>(&self, name: &str) -> Result<T, Wrong> {
        match self.find(name) {
            Some(value) => T::read(value).map_err(|wrong| wrong.under(name)),
            None => T::absent().ok_or_else(|| Wrong::new(format!("missing field `{name}`")).under(name)),
        }
    }

    /// A field, or what stands for nothing.
    pub fn or_default<T: Read + Default>(&self, name: &str) -> Result<T, Wrong> {
        self.find(name).map_or_else(|| Ok(T::default()), |value| T::read(value).map_err(|wrong| wrong.under(name)))
    }
}

/// An object that is being written.
#[derive(Default)]
pub struct Writing(Vec<(String, Tree)>);

impl Writing {
    /// Adds a field.
    #[inline(never)]
    pub fn add(&mut self, name: &str, value: &dyn Write) {
        self.0.push((name.to_owned(), value.write()));
    }

    /// Begins a variant.
    pub fn kind(name: &str) -> Self {
        Writing(vec![(KIND.to_owned(), Tree::Text(name.to_owned()))])
    }

    /// All of it.
    pub fn done(self) -> Tree {
        Tree::Object(self.0)
    }
}

impl Read for f64 {
    fn read(tree: &Tree) -> Result<Self, Wrong> {
        Reader(tree).number()
    }
}

impl Read for bool {
    fn read(tree: &Tree) -> Result<Self, Wrong> {
        match tree {
            Tree::Bool(value) => Ok(*value),
            _ => Err(Wrong::new("true or false is wanted".to_owned())),
        }
    }
}

impl Read for u64 {
    fn read(tree: &Tree) -> Result<Self, Wrong> {
        Reader(tree).natural()
    }
}

impl Read for u32 {
    fn read(tree: &Tree) -> Result<Self, Wrong> {
        let number = Reader(tree).natural()?;
        u32::try_from(number).map_err(|_| Wrong::new("a smaller number is wanted".to_owned()))
    }
}

impl Read for usize {
    fn read(tree: &Tree) -> Result<Self, Wrong> {
        Ok(u32::read(tree)? as usize)
    }
}

impl Read for String {
    fn read(tree: &Tree) -> Result<Self, Wrong> {
        Ok(Reader(tree).text()?.to_owned())
    }
}

impl<T: Read> Read for Option<T> {
    fn read(tree: &Tree) -> Result<Self, Wrong> {
        match tree {
            Tree::Null => Ok(None),
            _ => T::read(tree).map(Some),
        }
    }
    fn absent() -> Option<Self> {
        Some(None)
    }
}

impl<T: Read> Read for Vec<T> {
    fn read(tree: &Tree) -> Result<Self, Wrong> {
        let Tree::List(items) = tree else { return Err(Wrong::new("a list is wanted".to_owned())) };
        let mut out = Vec::with_capacity(items.len());
        for (place, item) in items.iter().enumerate() {
            out.push(T::read(item).map_err(|wrong| wrong.at(place))?);
        }
        Ok(out)
    }
}

impl Read for [f64; 3] {
    fn read(tree: &Tree) -> Result<Self, Wrong> {
        <[f64; 3]>::try_from(Vec::<f64>::read(tree)?).map_err(|_| Wrong::new("three numbers are wanted".to_owned()))
    }
}

impl Read for [f64; 2] {
    fn read(tree: &Tree) -> Result<Self, Wrong> {
        <[f64; 2]>::try_from(Vec::<f64>::read(tree)?).map_err(|_| Wrong::new("two numbers are wanted".to_owned()))
    }
}

impl<T: Read> Read for BTreeMap<String, T> {
    fn read(tree: &Tree) -> Result<Self, Wrong> {
        let mut map = BTreeMap::new();
        for (name, value) in Fields::open(tree, &[])?.0 {
            map.insert(name.clone(), T::read(value).map_err(|wrong| wrong.under(name))?);
        }
        Ok(map)
    }
}

macro_rules! writes_number {
    ($($type:ty),*) => {$(
        impl Write for $type {
            #[allow(clippy::cast_precision_loss, clippy::cast_lossless)] // JavaScript has one kind of number
            fn write(&self) -> Tree {
                Tree::Number(*self as f64)
            }
        }
    )*};
}
writes_number!(f64, u32, usize);

impl Write for bool {
    fn write(&self) -> Tree {
        Tree::Bool(*self)
    }
}

impl Write for String {
    fn write(&self) -> Tree {
        Tree::Text(self.clone())
    }
}

impl<T: Write> Write for Option<T> {
    fn write(&self) -> Tree {
        self.as_ref().map_or(Tree::Null, Write::write)
    }
}

impl Write for [f64; 3] {
    fn write(&self) -> Tree {
        self.to_vec().write()
    }
}

impl<T: Write> Write for Vec<T> {
    fn write(&self) -> Tree {
        Tree::List(self.iter().map(Write::write).collect())
    }
}

impl<T: Write> Write for BTreeMap<String, T> {
    fn write(&self) -> Tree {
        let mut out = Writing::default();
        for (name, value) in self {
            out.add(name, value);
        }
        out.done()
    }
}

/// `strict Type { field, …; field that may be left out for its default, … }`, or `open` where other fields are passed over.
macro_rules! reads {
    ($($rule:ident $type:ident { $($field:ident),*; $($soft:ident),* })*) => {$(
        impl $crate::browser::shapes::Read for $type {
            fn read(tree: &$crate::browser::tree::Tree) -> Result<Self, $crate::browser::reader::Wrong> {
                let known = [$(stringify!($field),)* $(stringify!($soft)),*];
                let fields = $crate::browser::shapes::Fields::$rule(tree, &known)?;
                Ok($type {
                    $($field: fields.get(stringify!($field))?,)*
                    $($soft: fields.or_default(stringify!($soft))?,)*
                })
            }
        }
    )*};
}
pub(super) use reads;

/// `Type { field, … }`; a field that is forgotten is an error of the compiler.
macro_rules! writes {
    ($($type:ident { $($field:ident),* })*) => {$(
        impl $crate::browser::shapes::Write for $type {
            fn write(&self) -> $crate::browser::tree::Tree {
                let $type { $($field),* } = self;
                let mut out = $crate::browser::shapes::Writing::default();
                $(out.add(stringify!($field), $field);)*
                out.done()
            }
        }
    )*};
}
#[cfg(any(test, all(target_arch = "wasm32", target_os = "unknown")))]
pub(super) use writes;

/// Enums without fields: their names are those that serde was told.
macro_rules! names {
    ($($type:ident),*) => {$(
        impl $crate::browser::shapes::Read for $type {
            fn read(tree: &$crate::browser::tree::Tree) -> Result<Self, $crate::browser::reader::Wrong> {
                serde::Deserialize::deserialize($crate::browser::reader::Reader(tree))
            }
        }
    )*};
}
pub(super) use names;
