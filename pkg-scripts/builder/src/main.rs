//! Builds what the page and the headless script load: `core.js` and `core.wasm` from the compiled core, and the
//! TypeScript types of everything that crosses the boundary.
//!
//! Usage: `builder IN.wasm OUT_FOLDER OUT.ts`.
mod types;

use anyhow::{bail, Context, Result};
use std::{env, fs, path::Path};
use wasm_bindgen_cli_support::Bindgen;

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
    let mut output = Bindgen::new()
        .input_bytes("core", bytes)
        .no_modules(true)?
        .typescript(true)
        .omit_default_module_path(true)
        .remove_producers_section(true)
        .generate_output()?;
    write(&folder.join("core.js"), output.js().as_bytes())?;
    write(types, types::module(output.ts().context("the bindings have no types")?).as_bytes())?;
    write(&folder.join("core.unoptimised.wasm"), &output.wasm_mut().emit_wasm())
}

fn write(path: &Path, bytes: &[u8]) -> Result<()> {
    if let Some(folder) = path.parent() {
        fs::create_dir_all(folder).with_context(|| format!("making {}", folder.display()))?;
    }
    fs::write(path, bytes).with_context(|| format!("writing {}", path.display()))
}
