//! The only area that knows JavaScript: typed requests and results; converts and calls, computes nothing.
#[cfg(all(target_arch = "wasm32", target_os = "unknown"))]
pub mod exports;
mod read_types;
mod reader;
pub mod record;
#[cfg(all(target_arch = "wasm32", target_os = "unknown"))]
mod recorded;
#[cfg_attr(not(any(test, all(target_arch = "wasm32", target_os = "unknown"))), allow(dead_code, unused_macros))]
mod shapes;
mod tree;
#[cfg(all(target_arch = "wasm32", target_os = "unknown"))]
mod values;
pub mod wire;
// Ordinary builds only read; the tests write as well.
#[cfg(any(test, all(target_arch = "wasm32", target_os = "unknown")))]
mod write_types;
#[cfg(any(test, all(target_arch = "wasm32", target_os = "unknown")))]
mod writer;
