//! Takes the optimised core apart: what several parts need stays in the core, what one part alone can come at becomes a
//! module of its own that works in the core's memory and function table and calls back into it. Nothing is there twice.
use crate::owners::{Owners, Reach};
use anyhow::{bail, Context, Result};
use std::collections::{BTreeMap, HashMap};
use walrus::ir::{dfs_in_order, Call, RefFunc, ReturnCall, Value, Visitor};
use walrus::{
    ConstExpr, DataKind, ElementItems, ElementKind, ExportItem, FunctionId, FunctionKind, GlobalKind, ImportKind,
    ImportedFunction, Module, ModuleConfig, TableId,
};
use wasmparser::{Parser, Payload, TypeRef};

/// The module from which the parts import what they share.
const CORE: &str = "core";

/// The optimised core and who comes at what in it.
pub struct Whole<'a> {
    pub wasm: &'a [u8],
    pub reach: &'a Reach,
    pub part_of: &'a dyn Fn(&str) -> Option<Owners>,
}

struct Calls(Vec<FunctionId>);

impl Visitor<'_> for Calls {
    fn visit_call(&mut self, call: &Call) {
        self.0.push(call.func);
    }
    fn visit_return_call(&mut self, call: &ReturnCall) {
        self.0.push(call.func);
    }
    fn visit_ref_func(&mut self, reference: &RefFunc) {
        self.0.push(reference.func);
    }
}

fn read(wasm: &[u8]) -> Result<Module> {
    ModuleConfig::new().generate_name_section(false).generate_producers_section(false).parse(wasm)
}

/// Code that the same parts share makes a file of its own from this size on; less of it lies with the core.
const WORTH_A_FILE: usize = 4_000;

impl Whole<'_> {
    /// The files: of what parts each holds what is theirs, and its bytes. The core comes first; after it each file stands
    /// behind those that it calls.
    pub fn split(&self) -> Result<Vec<(Owners, Vec<u8>)>> {
        let homes = self.homes(&read(self.wasm)?)?;
        homes.files.iter().map(|file| Ok((*file, self.part(*file, &homes)?))).collect()
    }

    /// Where each function lies; those that lie with the core, and are called from elsewhere, are its exports.
    fn homes(&self, module: &Module) -> Result<Homes> {
        let calls: Calling = module
            .funcs
            .iter_local()
            .map(|(id, function)| {
                let mut calls = Calls(Vec::new());
                dfs_in_order(&mut calls, function, function.entry_block());
                (id, calls.0)
            })
            .collect();
        let mut owners: HashMap<FunctionId, Owners> = HashMap::new();
        for (function, who) in self.roots(module)? {
            let mut open = vec![function];
            while let Some(id) = open.pop() {
                let known = owners.entry(id).or_default();
                if *known & who != who {
                    *known |= who;
                    open.extend(calls.get(&id).into_iter().flatten());
                }
            }
        }
        let (files, home_of) = self.placed(&owners, &calls)?;
        let mut shared: Vec<FunctionId> = calls
            .iter()
            .filter(|(from, _)| home_of.contains_key(from))
            .flat_map(|(from, to)| to.iter().map(move |to| (from, to)))
            .filter(|(from, to)| home_of.get(from) != home_of.get(to) && calls.contains_key(to))
            .map(|(_, to)| *to)
            .collect();
        shared.sort_unstable();
        shared.dedup();
        let names = shared.into_iter().enumerate().map(|(n, id)| (id.index(), n.to_string())).collect();
        Ok(Homes { home_of: home_of.into_iter().map(|(id, home)| (id.index(), home)).collect(), names, files })
    }

    /// The sets of parts that get a file (the core, each part, those that share enough), and where each function lies.
    fn placed(
        &self,
        owners: &HashMap<FunctionId, Owners>,
        calls: &Calling,
    ) -> Result<(Vec<Owners>, HashMap<FunctionId, Owners>)> {
        let sizes = function_sizes(self.wasm)?;
        let single = |who: Owners| who.count_ones() == 1;
        // What the core itself comes at lies in it.
        let mut files: Vec<Owners> = owners.values().copied().filter(|who| who & 1 == 0 || single(*who)).collect();
        // A function calls only what all its own parts come at as well: files of many parts come before those of few.
        files.sort_by_key(|who| (*who != 1, std::cmp::Reverse(who.count_ones()), *who));
        files.dedup();
        loop {
            let home_of = homes_within(&files, owners, calls);
            let mut held: HashMap<Owners, usize> = HashMap::new();
            for (id, home) in &home_of {
                *held.entry(*home).or_default() += sizes.get(id.index()).copied().unwrap_or(0);
            }
            let before = files.len();
            files.retain(|who| single(*who) || held.get(who).is_some_and(|size| *size >= WORTH_A_FILE));
            if files.len() == before {
                return Ok((files, home_of));
            }
        }
    }

    fn roots(&self, module: &Module) -> Result<Vec<(FunctionId, Owners)>> {
        let mut roots: Vec<(FunctionId, Owners)> = module.start.map(|f| (f, 1)).into_iter().collect();
        for export in module.exports.iter() {
            if let ExportItem::Function(function) = export.item {
                roots.push((function, (self.part_of)(&export.name).unwrap_or(1)));
            }
        }
        for (slot, function) in table(module)? {
            let who = self.reach.table.get(&slot).copied().unwrap_or(1);
            if who != 0 {
                roots.push((function, who));
            }
        }
        Ok(roots)
    }

    fn part(&self, part: Owners, homes: &Homes) -> Result<Vec<u8>> {
        let mut module = read(self.wasm)?;
        let is_core = part == 1;
        let exports: Vec<_> = module.exports.iter().map(|e| (e.id(), (self.part_of)(&e.name).unwrap_or(1))).collect();
        for (id, who) in exports {
            if who != part {
                module.exports.delete(id);
            }
        }
        self.keep_table(&mut module, part, homes)?;
        self.keep_data(&mut module, part, homes)?;
        export_shared(&mut module, part, homes);
        if is_core {
            export_state(&mut module);
        } else {
            module.start = None;
            import_shared(&mut module, part, homes)?;
        }
        walrus::passes::gc::run(&mut module);
        Ok(module.emit_wasm())
    }

    fn keep_table(&self, module: &mut Module, part: Owners, homes: &Homes) -> Result<()> {
        let kept: BTreeMap<u32, FunctionId> =
            table(module)?.into_iter().filter(|(_, f)| homes.of(*f) == Some(part)).collect();
        let all: Vec<_> = module.elements.iter().map(|e| e.id()).collect();
        let id = function_table(module)?;
        for element in all {
            module.elements.delete(element);
            module.tables.get_mut(id).elem_segments.remove(&element);
        }
        for (start, functions) in runs(kept) {
            let kind = ElementKind::Active { table: id, offset: ConstExpr::Value(Value::I32(start as i32)) };
            let element = module.elements.add(kind, ElementItems::Functions(functions));
            module.tables.get_mut(id).elem_segments.insert(element);
        }
        Ok(())
    }

    /// Bytes that nobody comes at are left out: the memory is zero there.
    fn keep_data(&self, module: &mut Module, part: Owners, homes: &Homes) -> Result<()> {
        let memory = module.memories.iter().next().context("there is no memory")?.id();
        let mut kept = BTreeMap::new();
        let all: Vec<_> = module.data.iter().map(|d| d.id()).collect();
        for id in all {
            let segment = module.data.get(id);
            let DataKind::Active { offset: ConstExpr::Value(Value::I32(start)), .. } = segment.kind else {
                bail!("a segment has no address");
            };
            let bytes = (start as u32..).zip(&segment.value);
            let mine = |address: &u32| self.reach.data.get(address).is_some_and(|who| homes.file_of(*who) == part);
            kept.extend(bytes.filter(|(address, _)| mine(address)).map(|(address, byte)| (address, *byte)));
            module.data.delete(id);
            module.memories.get_mut(memory).data_segments.remove(&id);
        }
        for (start, bytes) in runs(kept) {
            let kind = DataKind::Active { memory, offset: ConstExpr::Value(Value::I32(start as i32)) };
            let id = module.data.add(kind, bytes);
            module.memories.get_mut(memory).data_segments.insert(id);
        }
        Ok(())
    }
}

/// Functions by their place in the module, which is the same whenever it is read.
struct Homes {
    home_of: HashMap<usize, Owners>,
    /// Under which names what other files call is exported.
    names: BTreeMap<usize, String>,
    files: Vec<Owners>,
}

impl Homes {
    fn of(&self, function: FunctionId) -> Option<Owners> {
        self.home_of.get(&function.index()).copied()
    }

    /// Where lies what these parts come at.
    fn file_of(&self, owners: Owners) -> Owners {
        if self.files.contains(&owners) {
            owners
        } else {
            1
        }
    }
}

fn function_table(module: &Module) -> Result<TableId> {
    module.tables.main_function_table()?.context("there is no function table")
}

/// Functions that each function calls.
type Calling = HashMap<FunctionId, Vec<FunctionId>>;

/// The core is there first and can import from no other file: what its functions call lies in it, with them.
fn homes_within(
    files: &[Owners],
    owners: &HashMap<FunctionId, Owners>,
    calls: &Calling,
) -> HashMap<FunctionId, Owners> {
    let home = |who: Owners| if files.contains(&who) { who } else { 1 };
    let mut home_of: HashMap<FunctionId, Owners> = owners.iter().map(|(id, who)| (*id, home(*who))).collect();
    let mut open: Vec<FunctionId> = home_of.iter().filter(|(_, home)| **home == 1).map(|(id, _)| *id).collect();
    while let Some(id) = open.pop() {
        for to in calls.get(&id).into_iter().flatten() {
            if home_of.insert(*to, 1) != Some(1) {
                open.push(*to);
            }
        }
    }
    home_of
}

/// Bytes of code by function, the imported ones first.
fn function_sizes(wasm: &[u8]) -> Result<Vec<usize>> {
    let mut sizes = Vec::new();
    for payload in Parser::new(0).parse_all(wasm) {
        match payload? {
            Payload::ImportSection(imports) => {
                for import in imports.into_imports() {
                    sizes.extend(matches!(import?.ty, TypeRef::Func(_)).then_some(0));
                }
            }
            Payload::CodeSectionEntry(body) => sizes.push(body.range().len()),
            _ => {}
        }
    }
    Ok(sizes)
}

/// The function table, by slot.
fn table(module: &Module) -> Result<BTreeMap<u32, FunctionId>> {
    let mut table = BTreeMap::new();
    for element in module.elements.iter() {
        let (ElementKind::Active { offset: ConstExpr::Value(Value::I32(start)), .. }, ElementItems::Functions(list)) =
            (&element.kind, &element.items)
        else {
            bail!("the function table is filled in an unknown way");
        };
        table.extend((*start as u32..).zip(list.iter().copied()));
    }
    Ok(table)
}

/// What stands in a row, with the place of its first.
fn runs<T>(items: BTreeMap<u32, T>) -> Vec<(u32, Vec<T>)> {
    let mut out: Vec<(u32, Vec<T>)> = Vec::new();
    for (at, item) in items {
        match out.last_mut() {
            Some((start, run)) if *start + run.len() as u32 == at => run.push(item),
            _ => out.push((at, vec![item])),
        }
    }
    out
}

fn export_shared(module: &mut Module, part: Owners, homes: &Homes) {
    let mine = |id: FunctionId| homes.names.get(&id.index()).filter(|_| homes.of(id) == Some(part));
    let named: Vec<_> = module.funcs.iter().filter_map(|f| Some((f.id(), mine(f.id())?))).collect();
    for (id, name) in named {
        module.exports.add(name, id);
    }
}

/// The memory has its export from the bindings.
fn export_state(module: &mut Module) {
    let tables: Vec<_> = module.tables.iter().map(|t| t.id()).collect();
    for (n, id) in tables.into_iter().enumerate() {
        module.exports.add(&format!("table{n}"), id);
    }
    let globals: Vec<_> = module.globals.iter().map(|g| g.id()).collect();
    for (n, id) in globals.into_iter().enumerate() {
        module.exports.add(&format!("global{n}"), id);
    }
}

fn import_shared(module: &mut Module, part: Owners, homes: &Homes) -> Result<()> {
    let local: Vec<(FunctionId, walrus::TypeId)> = module.funcs.iter_local().map(|(id, f)| (id, f.ty())).collect();
    for (id, ty) in local {
        if homes.of(id) == Some(part) {
            continue;
        }
        // What the part does not call goes with the next sweep, its import with it.
        let name = homes.names.get(&id.index()).map_or("", String::as_str);
        let import = module.imports.add(CORE, name, ImportKind::Function(id));
        module.funcs.get_mut(id).kind = FunctionKind::Import(ImportedFunction { import, ty });
    }
    let memory = module.memories.iter().next().context("there is no memory")?.id();
    module.memories.get_mut(memory).import = Some(module.imports.add(CORE, "memory", ImportKind::Memory(memory)));
    for (n, id) in module.tables.iter().map(|t| t.id()).collect::<Vec<_>>().into_iter().enumerate() {
        module.tables.get_mut(id).import = Some(module.imports.add(CORE, &format!("table{n}"), ImportKind::Table(id)));
    }
    for (n, id) in module.globals.iter().map(|g| g.id()).collect::<Vec<_>>().into_iter().enumerate() {
        let import = module.imports.add(CORE, &format!("global{n}"), ImportKind::Global(id));
        module.globals.get_mut(id).kind = GlobalKind::Import(import);
    }
    Ok(())
}
