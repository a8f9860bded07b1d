//! Which parts of the core can come at what: each entry of the function table and each byte of constant data, from the
//! relocations that the linker has left. They tell every address that a function or a constant holds, so that nothing
//! has to be guessed from numbers.
use anyhow::{bail, Context, Result};
use std::collections::{BTreeMap, HashMap};
use std::ops::Range;
use wasmparser::{
    DataKind, ElementItems, ElementKind, ExternalKind, KnownCustom, Linking, Operator, Parser, Payload,
    RelocationEntry, RelocationType, SymbolInfo, TypeRef,
};

/// A set of parts; bit 0 is the core itself.
pub type Owners = u32;

/// What holds addresses, or is held.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
enum Node {
    Function(u32),
    Data(u32),
}

/// The linked module, as far as it matters here. Positions are those in the file.
#[derive(Default)]
struct Linked {
    imported: u32,
    exports: Vec<(String, u32)>,
    table: BTreeMap<u32, u32>,
    bodies: Vec<Range<usize>>,
    /// Position of each segment's bytes, and their address.
    segments: Vec<(Range<usize>, u32)>,
    symbols: Vec<Option<Node>>,
    /// Address of each data symbol's bytes, and the place where they stand.
    constants: BTreeMap<u32, (Range<u32>, Range<usize>)>,
    code_relocations: Vec<RelocationEntry>,
    data_relocations: Vec<RelocationEntry>,
    code_start: usize,
    data_start: usize,
}

/// Who comes at what.
pub struct Reach {
    /// By place in the function table.
    pub table: BTreeMap<u32, Owners>,
    /// By address; bytes that nothing comes at are left out.
    pub data: HashMap<u32, Owners>,
}

impl Reach {
    /// `part_of` names the part of an export, as its bit; none where the export is a tool of the bindings that is gone later.
    pub fn of(wasm: &[u8], part_of: impl Fn(&str) -> Result<Option<Owners>>) -> Result<Self> {
        let linked = Linked::read(wasm)?;
        let edges = linked.edges()?;
        let mut owners: BTreeMap<Node, Owners> = BTreeMap::new();
        for (name, function) in &linked.exports {
            let Some(part) = part_of(name)? else { continue };
            let mut open = vec![Node::Function(*function)];
            while let Some(node) = open.pop() {
                let known = owners.entry(node).or_default();
                if *known & part == 0 {
                    *known |= part;
                    open.extend(edges.get(&node).into_iter().flatten());
                }
            }
        }
        let of = |node: Node| owners.get(&node).copied().unwrap_or(0);
        let table = linked.table.iter().map(|(slot, function)| (*slot, of(Node::Function(*function)))).collect();
        let mut data = HashMap::new();
        for (symbol, (addresses, _)) in &linked.constants {
            let who = of(Node::Data(*symbol));
            for address in addresses.clone().filter(|_| who != 0) {
                *data.entry(address).or_default() |= who;
            }
        }
        Ok(Reach { table, data })
    }
}

impl Linked {
    fn read(wasm: &[u8]) -> Result<Self> {
        let mut to = Linked::default();
        let mut linking = None;
        for payload in Parser::new(0).parse_all(wasm) {
            match payload? {
                Payload::ImportSection(imports) => {
                    for import in imports.into_imports() {
                        to.imported += u32::from(matches!(import?.ty, TypeRef::Func(_)));
                    }
                }
                Payload::ExportSection(exports) => {
                    for export in exports {
                        let export = export?;
                        if export.kind == ExternalKind::Func {
                            to.exports.push((export.name.to_owned(), export.index));
                        }
                    }
                }
                Payload::ElementSection(elements) => {
                    for element in elements {
                        to.element(element?)?;
                    }
                }
                Payload::CodeSectionStart { range, .. } => to.code_start = range.start,
                Payload::CodeSectionEntry(body) => to.bodies.push(body.range()),
                Payload::DataSection(segments) => {
                    to.data_start = segments.range().start;
                    for segment in segments {
                        let segment = segment?;
                        let DataKind::Active { offset_expr, .. } = segment.kind else {
                            bail!("a segment has no address")
                        };
                        let place = segment.range.end - segment.data.len()..segment.range.end;
                        to.segments.push((place, constant(&offset_expr)?));
                    }
                }
                Payload::CustomSection(section) => match section.as_known() {
                    KnownCustom::Linking(reader) => linking = Some(reader),
                    KnownCustom::Reloc(reader) => {
                        let entries = reader.entries().into_iter().collect::<Result<Vec<_>, _>>()?;
                        match section.name() {
                            "reloc.CODE" => to.code_relocations = entries,
                            "reloc.DATA" => to.data_relocations = entries,
                            _ => {}
                        }
                    }
                    _ => {}
                },
                _ => {}
            }
        }
        for subsection in linking.context("the linker was to leave its relocations (--emit-relocs)")?.subsections() {
            if let Linking::SymbolTable(symbols) = subsection? {
                for symbol in symbols {
                    to.symbol(symbol?)?;
                }
            }
        }
        Ok(to)
    }

    fn element(&mut self, element: wasmparser::Element) -> Result<()> {
        let (ElementKind::Active { offset_expr, .. }, ElementItems::Functions(functions)) =
            (element.kind, element.items)
        else {
            bail!("the function table is filled in an unknown way");
        };
        for (slot, function) in (constant(&offset_expr)?..).zip(functions) {
            self.table.insert(slot, function?);
        }
        Ok(())
    }

    fn symbol(&mut self, symbol: SymbolInfo) -> Result<()> {
        let here = self.symbols.len() as u32;
        self.symbols.push(match symbol {
            SymbolInfo::Func { index, .. } => Some(Node::Function(index)),
            SymbolInfo::Data { symbol: Some(at), .. } => {
                // What lies in no segment is zero at first, and takes no place in any file.
                if let Some((place, address)) = self.segments.get(at.index as usize) {
                    let (from, start) = (address + at.offset, place.start + at.offset as usize);
                    self.constants.insert(here, (from..from + at.size, start..start + at.size as usize));
                }
                Some(Node::Data(here))
            }
            _ => None,
        });
        Ok(())
    }

    /// Which addresses each function and each constant holds.
    fn edges(&self) -> Result<BTreeMap<Node, Vec<Node>>> {
        let mut edges: BTreeMap<Node, Vec<Node>> = BTreeMap::new();
        for entry in &self.code_relocations {
            let at = self.code_start + entry.offset as usize;
            let body = self.bodies.partition_point(|range| range.end <= at);
            let inside = self.bodies.get(body).is_some_and(|range| range.contains(&at));
            let target = self.target(entry)?;
            if let (true, Some(target)) = (inside, target) {
                edges.entry(Node::Function(self.imported + body as u32)).or_default().push(target);
            }
        }
        let mut holders: Vec<(usize, usize, u32)> =
            self.constants.iter().map(|(symbol, (_, place))| (place.start, place.end, *symbol)).collect();
        holders.sort_unstable();
        for entry in &self.data_relocations {
            let at = self.data_start + entry.offset as usize;
            let Some(target) = self.target(entry)? else { continue };
            // Constants of equal content can share their place: all of them hold the address.
            let before = holders.partition_point(|(start, ..)| *start <= at);
            let mut found = false;
            for (_, _, symbol) in holders[..before].iter().filter(|(_, end, _)| at < *end) {
                edges.entry(Node::Data(*symbol)).or_default().push(target);
                found = true;
            }
            if !found {
                bail!("an address at {at} of the linked module belongs to no constant");
            }
        }
        Ok(edges)
    }

    fn target(&self, entry: &RelocationEntry) -> Result<Option<Node>> {
        use RelocationType as T;
        match entry.ty {
            T::FunctionIndexLeb
            | T::FunctionIndexI32
            | T::TableIndexSleb
            | T::TableIndexI32
            | T::MemoryAddrLeb
            | T::MemoryAddrSleb
            | T::MemoryAddrI32 => {
                let symbol = self.symbols.get(entry.index as usize).context("a relocation names no symbol")?;
                Ok(*symbol)
            }
            T::TypeIndexLeb | T::GlobalIndexLeb | T::TableNumberLeb => Ok(None),
            other => bail!("relocations of the kind {other:?} are not known here"),
        }
    }
}

fn constant(expression: &wasmparser::ConstExpr) -> Result<u32> {
    match expression.get_operators_reader().read()? {
        Operator::I32Const { value } => Ok(value as u32),
        other => bail!("an address that is no constant: {other:?}"),
    }
}
