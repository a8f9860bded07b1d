//! Who may import whom, and the crates that have one place only.
use crate::paths::{area_of, named_paths};
use std::path::Path;

const MEASURING: &[&str] = &["math", "signal", "electrical", "driver", "acoustic", "enclosure"];
const JAVASCRIPT: &[&str] = &["js_sys", "web_sys", "wasm_bindgen", "wasm_bindgen_futures", "serde_wasm_bindgen"];

/// The areas that `area` may import; none for an area without a row.
pub fn allowed(area: &str) -> Option<Vec<&'static str>> {
    let with = |more: &[&'static str]| [MEASURING, more].concat();
    Some(match area {
        "math" => vec![],
        "signal" => vec!["math"],
        "electrical" => vec!["math", "signal"],
        "driver" => vec!["math", "signal", "electrical"],
        "acoustic" => vec!["math", "signal"],
        "enclosure" => vec!["math", "electrical", "driver"],
        "verdict" => with(&[]),
        "job" | "procedure" => with(&["verdict"]),
        "sim" => vec!["math", "signal"],
        "browser" => with(&["verdict", "job", "procedure", "sim"]),
        _ => return None,
    })
}

/// What a source breaks, one sentence each. `path` is relative to `src`.
pub fn violations(path: &Path, text: &str) -> Vec<String> {
    let area = area_of(path);
    let may = allowed(&area).unwrap_or_default();
    let place = path.display();
    named_paths(path, text)
        .into_iter()
        .filter_map(|named| {
            let complaint = match (named.from_root, named.name.as_str()) {
                _ if area.is_empty() => None, // lib.rs only declares the areas
                (true, "") => Some("takes the whole crate: name the area".to_owned()),
                (true, other) if other != area && allowed(other).is_some() && !may.contains(&other) => {
                    Some(format!("{area} must not import {other}"))
                }
                (false, "conewright") => Some("names the crate from inside: use crate::".to_owned()),
                (false, name) if JAVASCRIPT.contains(&name) && area != "browser" => {
                    Some(format!("{name} belongs to browser"))
                }
                (false, name @ ("rustfft" | "num_complex"))
                    if !path.starts_with("math/fft") && path != Path::new("math/fft.rs") =>
                {
                    Some(format!("{name} is named in math/fft only"))
                }
                _ => None,
            };
            complaint.map(|what| format!("{place}:{}: {what}", named.line))
        })
        .collect()
}

#[cfg(test)]
mod controls {
    use super::*;

    fn count(path: &str, text: &str) -> usize {
        violations(Path::new(path), text).len()
    }

    #[test]
    fn each_way_of_naming_a_forbidden_area_turns_the_test_red() {
        for text in [
            "use crate::driver::x;",
            "use crate::{math::y, driver::x};",
            "use crate::{driver};",
            "use crate::driver as innocent;",
            "use crate::*;",
            "use crate as c; fn f() { c::driver::x() }",
            "use super::super::driver::x;",
            "use super::super::{driver as d};",
            "fn f() -> crate::driver::X { todo!() }",
            "fn f() { let _ = crate::driver::x(); }",
            "fn f() { let _ = super::super::driver::x(); }",
            "fn f() { let _ = [crate::driver::X; 2]; }",
            "fn f(x: Vec<crate::driver::X>) {}",
            "impl crate::driver::Tr for X {}",
            "fn f() { println!(\"{}\", crate::driver::x()); }",
            "fn f() { vec![super::super::driver::x()]; }",
            "macro_rules! m { () => { $crate::driver::x() } }",
            "mod tests { use super::super::super::driver::x; }",
            "mod tests { fn f() { crate::driver::x() } }",
            "#[derive(Clone)] struct S { x: Option<crate::driver::X> }",
            "use conewright::driver::x;",
            "extern crate rustfft;",
            "use rustfft::FftPlanner;",
            "use num_complex::Complex64;",
            "fn f() { ::rustfft::x() }",
            "fn f() { js_sys::eval() }",
            "use wasm_bindgen::prelude::*;",
            "#[wasm_bindgen::prelude::wasm_bindgen] fn f() {}",
        ] {
            assert!(count("signal/part.rs", text) > 0, "not seen: {text}");
        }
    }

    #[test]
    fn what_the_table_allows_stays_green() {
        for (path, text) in [
            ("signal/part.rs", "use crate::math::x; use super::take::Take; fn f() { crate::math::y() }"),
            ("signal/part.rs", "use super::super::math::x; use std::fmt; fn driver() {} fn g() { driver() }"),
            ("signal/part.rs", "// crate::driver::x\nfn f() { println!(\"crate::driver::x\") }"),
            ("signal/deep/part.rs", "use super::super::take::X;"),
            ("signal/mod.rs", "pub mod take; pub use take::Take; use super::math::x;"),
            ("math/fft.rs", "use rustfft::FftPlanner;"),
            ("math/fft/plans.rs", "use rustfft::FftPlanner;"),
            ("browser/exports.rs", "use wasm_bindgen::prelude::*; use crate::sim::x; use crate::driver::y;"),
            ("procedure/knock.rs", "use crate::verdict::x; use crate::enclosure::y;"),
        ] {
            assert_eq!(count(path, text), 0, "{:?}", violations(Path::new(path), text));
        }
    }

    #[test]
    fn the_simulation_never_sees_what_it_tests() {
        for area in ["electrical", "driver", "acoustic", "enclosure", "verdict", "procedure", "job", "browser"] {
            assert_eq!(count("sim/bench.rs", &format!("use crate::{area}::x;")), 1, "{area}");
        }
        assert_eq!(count("driver/fit.rs", "use crate::sim::x;"), 1);
    }
}
