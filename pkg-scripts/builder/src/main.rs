//! Builds what the page and the headless script load, in two steps with the optimiser between them:
//!
//! - `builder bind LINKED.wasm FOLDER TYPES.ts` writes the bindings (`core.js`), the core with all its exports, and the
//!   TypeScript types of everything that crosses the boundary;
//! - `builder split LINKED.wasm OPTIMISED.wasm FOLDER` takes the optimised core apart and writes `parts.json`, which says
//!   what files each function needs.
//!
//! The linker must have left its relocations in LINKED.wasm (`--emit-relocs`): they tell what each part can come at.
mod owners;
mod split;
mod types;

use anyhow::{bail, Context, Result};
use owners::{Owners, Reach};
use split::Whole;
use std::{collections::BTreeMap, env, fs, path::Path};
use wasm_bindgen_cli_support::{Bindgen, Output};

fn main() -> Result<()> {
    let arguments: Vec<String> = env::args().skip(1).collect();
    match arguments.iter().map(String::as_str).collect::<Vec<_>>().as_slice() {
        ["bind", input, folder, types] => bind(Path::new(input), Path::new(folder), Path::new(types)),
        ["split", input, optimised, folder] => split(Path::new(input), Path::new(optimised), Path::new(folder)),
        _ => bail!("usage: builder bind LINKED.wasm FOLDER TYPES.ts | builder split LINKED.wasm OPTIMISED.wasm FOLDER"),
    }
}

/// Classic-script bindings: the only form that also works in a blob worker of a page opened from a file.
fn bind(input: &Path, folder: &Path, types: &Path) -> Result<()> {
    let mut output = generate(&read(input)?)?;
    for section in ["linking", "reloc.CODE", "reloc.DATA"] {
        output.wasm_mut().customs.remove_raw(section);
    }
    write(&folder.join("core.unoptimised.wasm"), &output.wasm_mut().emit_wasm())?;
    write(&folder.join("core.js"), joining(output.js())?.as_bytes())?;
    write(types, types::module(output.ts().context("the bindings have no types")?).as_bytes())
}

/// The bindings, and `join` and `joinSync` beside them, which take a part in once the core is there.
fn joining(bindings: &str) -> Result<String> {
    let changes = [
        // The exports of an instance cannot be added to.
        ("wasm = instance.exports;", "wasm = { ...instance.exports };"),
        (
            "return Object.assign(__wbg_init, { initSync }, exports);",
            "const join = async (part) => void Object.assign(wasm, (await __wbg_load(await part, { ...__wbg_get_imports(), core: wasm })).instance.exports);
            const joinSync = (part) => void Object.assign(wasm, new WebAssembly.Instance(new WebAssembly.Module(part), { ...__wbg_get_imports(), core: wasm }).exports);
            return Object.assign(__wbg_init, { initSync, join, joinSync }, exports);",
        ),
    ];
    changes.iter().try_fold(bindings.to_owned(), |text, (from, to)| match text.matches(from).count() {
        1 => Ok(text.replace(from, to)),
        n => bail!("the bindings have changed their shape: `{from}` stands in them {n} times"),
    })
}

/// Exports that begin so make a part of that name. What two parts share lies in the core: those that belong together are one.
const BY_FIRST_WORD: [(&str, &str); 5] =
    [("files", "files"), ("job", "job"), ("match", "job"), ("practice", "practice"), ("resistor", "resistor")];

/// The part that an export belongs to: a check's two calls to the check's, all others to the core.
fn part_of(export: &str) -> &str {
    let check = export.strip_prefix("step_").or_else(|| export.strip_prefix("analyse_"));
    let first = export.split('_').next();
    let word = BY_FIRST_WORD.iter().find(|(word, _)| first == Some(word)).map(|(_, part)| *part);
    check.or(word).unwrap_or("core")
}

/// The name that the bindings will give an export: in the linked module it ends with 16 hexadecimal digits.
fn without_hash(export: &str) -> &str {
    match export.rsplit_once('_') {
        Some((name, hash)) if hash.len() == 16 && hash.bytes().all(|b| b.is_ascii_hexdigit()) => name,
        _ => export,
    }
}

fn split(input: &Path, optimised: &Path, folder: &Path) -> Result<()> {
    let (linked, wasm) = (read(input)?, read(optimised)?);
    let names = exports(&wasm)?;
    let mut parts: Vec<String> = names.iter().map(|name| part_of(name).to_owned()).filter(|p| p != "core").collect();
    parts.sort_unstable();
    parts.dedup();
    parts.insert(0, "core".to_owned());
    let bit = |name: &str| -> Option<Owners> { Some(1 << parts.iter().position(|part| part == part_of(name))?) };
    let reach = Reach::of(&linked, |name| match name.starts_with("__wbindgen_describe") {
        true => Ok(None),
        false => bit(without_hash(name)).map(Some).with_context(|| format!("`{name}` is gone after optimising")),
    })?;
    let whole = Whole { wasm: &wasm, reach: &reach, part_of: &bit };
    let mut files = Vec::new();
    for (n, (who, bytes)) in whole.split()?.into_iter().enumerate() {
        let name = match parts.iter().enumerate().find(|(bit, _)| who == 1 << bit) {
            Some((_, part)) => format!("{part}.wasm"),
            None => format!("shared-{n}.wasm"),
        };
        write(&folder.join(&name), &bytes)?;
        files.push((who, name));
    }
    let needed = |name: &str| -> Option<Vec<String>> {
        let part = bit(name).filter(|part| *part != 1)?;
        Some(files.iter().filter(|(who, _)| who & part != 0).map(|(_, file)| format!("\"{file}\"")).collect())
    };
    let needs: BTreeMap<&str, Vec<String>> = names.iter().filter_map(|n| Some((n.as_str(), needed(n)?))).collect();
    let lines: Vec<String> =
        needs.iter().map(|(name, files)| format!("  \"{name}\": [{}]", files.join(", "))).collect();
    write(&folder.join("parts.json"), format!("{{\n{}\n}}\n", lines.join(",\n")).as_bytes())
}

fn exports(wasm: &[u8]) -> Result<Vec<String>> {
    let module = walrus::Module::from_buffer(wasm)?;
    let functions = module.exports.iter().filter(|e| matches!(e.item, walrus::ExportItem::Function(_)));
    Ok(functions.map(|e| e.name.clone()).collect())
}

fn generate(bytes: &[u8]) -> Result<Output> {
    Bindgen::new()
        .input_bytes("core", bytes.to_vec())
        .no_modules(true)?
        .typescript(true)
        .omit_default_module_path(true)
        .remove_producers_section(true)
        .generate_output()
}

fn read(path: &Path) -> Result<Vec<u8>> {
    fs::read(path).with_context(|| format!("reading {}", path.display()))
}

fn write(path: &Path, bytes: &[u8]) -> Result<()> {
    if let Some(folder) = path.parent() {
        fs::create_dir_all(folder).with_context(|| format!("making {}", folder.display()))?;
    }
    fs::write(path, bytes).with_context(|| format!("writing {}", path.display()))
}
