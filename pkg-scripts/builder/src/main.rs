//! Builds what the page and the headless script load: `core.js` and two halves of the compiled core, and the TypeScript
//! types of everything that crosses the boundary. `practice` holds the simulator, which is fetched by those only who open
//! the practice bench; `core` holds the rest. Both have the same bindings, and what a half does not export is dropped
//! from it by the optimiser that follows.
//!
//! Usage: `builder IN.wasm OUT_FOLDER OUT.ts`.
mod types;

use anyhow::{bail, Context, Result};
use std::{env, fs, path::Path};
use wasm_bindgen_cli_support::{Bindgen, Output};

fn main() -> Result<()> {
    let arguments: Vec<String> = env::args().skip(1).collect();
    match arguments.iter().map(String::as_str).collect::<Vec<_>>().as_slice() {
        [input, folder, types] => bind(Path::new(input), Path::new(folder), Path::new(types)),
        _ => bail!("usage: builder IN.wasm OUT_FOLDER OUT.ts"),
    }
}

/// Classic-script bindings: the only form that also works in a blob worker of a page opened from a file.
fn bind(input: &Path, folder: &Path, types: &Path) -> Result<()> {
    let bytes = fs::read(input).with_context(|| format!("reading {}", input.display()))?;
    for (part, in_practice) in [("core", false), ("practice", true)] {
        let mut output = generate(&bytes)?;
        let exports = &mut output.wasm_mut().exports;
        let others = exports.iter().filter(|e| !belongs(&e.name, in_practice)).map(|e| e.id());
        for id in others.collect::<Vec<_>>() {
            exports.delete(id);
        }
        write(&folder.join(format!("{part}.unoptimised.wasm")), &output.wasm_mut().emit_wasm())?;
        write(&folder.join("core.js"), output.js().as_bytes())?;
        write(types, types::module(output.ts().context("the bindings have no types")?).as_bytes())?;
    }
    Ok(())
}

/// The bindings' own exports are needed by both halves.
fn belongs(export: &str, in_practice: bool) -> bool {
    export.starts_with("__") || export == "memory" || export.starts_with("practice_") == in_practice
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

fn write(path: &Path, bytes: &[u8]) -> Result<()> {
    if let Some(folder) = path.parent() {
        fs::create_dir_all(folder).with_context(|| format!("making {}", folder.display()))?;
    }
    fs::write(path, bytes).with_context(|| format!("writing {}", path.display()))
}
