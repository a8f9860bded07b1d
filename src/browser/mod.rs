//! The only area that knows JavaScript: typed requests and results; converts and calls, computes nothing.
#[cfg(all(target_arch = "wasm32", target_os = "unknown"))]
pub mod exports;
#[cfg(all(target_arch = "wasm32", target_os = "unknown"))]
mod recorded;
#[cfg(all(target_arch = "wasm32", target_os = "unknown"))]
mod values;
pub mod wire;
