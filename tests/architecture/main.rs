//! The import table of the house, held against the parsed sources, with controls that prove the test can fail.
//! (`cargo test --test architecture -- --nocapture` prints the line budgets as well.)
#![cfg(not(target_arch = "wasm32"))]

mod budgets;
mod paths;
mod table;

use std::fs;
use std::path::{Path, PathBuf};

/// Every Rust file below `src`, with its path from there.
fn sources() -> Vec<(PathBuf, String)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut found = Vec::new();
    let mut folders = vec![root.clone()];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(&folder).expect("src is readable") {
            let path = entry.expect("src is readable").path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|e| e == "rs") {
                let text = fs::read_to_string(&path).expect("a source is readable");
                found.push((path.strip_prefix(&root).expect("below src").to_path_buf(), text));
            }
        }
    }
    found.sort();
    found
}

#[test]
fn every_file_keeps_to_the_import_table() {
    let sources = sources();
    assert!(sources.len() > 20, "only {} files found: the test looks in the wrong place", sources.len());
    let broken: Vec<String> = sources.iter().flat_map(|(path, text)| table::violations(path, text)).collect();
    assert!(broken.is_empty(), "\n{}", broken.join("\n"));
}

#[test]
fn every_area_has_a_row() {
    for (path, _) in sources() {
        let area = paths::area_of(&path);
        assert!(
            area.is_empty() || table::allowed(&area).is_some(),
            "{} has no row in the import table",
            path.display()
        );
    }
}

#[test]
fn line_budgets_are_reported() {
    let over = budgets::over(&sources());
    println!("{} over the line budgets (400 a file, 60 a function):\n{}", over.len(), over.join("\n"));
}
