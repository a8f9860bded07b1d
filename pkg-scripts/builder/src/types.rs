//! TypeScript declarations of every serde type that crosses the boundary, dependencies included.
//! A new boundary type is added to [`roots`]; what it is made of follows by itself.
use conewright::signal::{reading::Reading, stimulus::Stimulus};
use std::{
    any::TypeId,
    collections::{BTreeMap, HashSet},
};
use ts_rs::{Config, TypeVisitor, TS};

struct Collector {
    config: Config,
    seen: HashSet<TypeId>,
    declarations: BTreeMap<String, String>,
}

impl TypeVisitor for Collector {
    fn visit<T: TS + 'static + ?Sized>(&mut self) {
        // Only types of our own have a place of their own; numbers, lists and maps are written in line.
        if !self.seen.insert(TypeId::of::<T>()) {
            return;
        }
        if T::output_path().is_some() {
            let docs = T::docs().unwrap_or_default();
            let declaration = format!("{docs}export {}\n", T::decl(&self.config));
            self.declarations.insert(T::ident(&self.config), declaration);
        }
        T::visit_dependencies(self);
        T::visit_generics(self);
    }
}

fn roots(to: &mut Collector) {
    to.visit::<Reading>();
    to.visit::<Stimulus>();
}

/// The whole module as text.
pub fn module() -> String {
    // Counts stay far below 2^53: a plain number is exact and easier to use than a BigInt.
    let config = Config::new().with_large_int("number");
    let mut collector = Collector { config, seen: HashSet::new(), declarations: BTreeMap::new() };
    roots(&mut collector);
    let body: Vec<String> = collector.declarations.into_values().collect();
    format!("// Written by pkg-scripts/builder from the Rust types; do not edit.\n\n{}", body.join("\n"))
}
