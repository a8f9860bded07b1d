//! What the worker and the headless script call. Errors are thrown as `{kind, message, field?}`.
use super::values::{from_js, single, thrown, to_js};
use super::wire::{self, Check, CoreFault, Setup};
use crate::procedure::{impedance, knock, step::Happening};
use crate::signal::stimulus::Stimulus;
use crate::signal::test_signals;
use js_sys::{global, Float32Array, Reflect};
use wasm_bindgen::prelude::*;

/// Runs once when the module is loaded. With `panic = "abort"` the message of a panic would be lost: it is kept
/// where the worker finds it after the trap.
#[wasm_bindgen(start)]
pub fn start() {
    std::panic::set_hook(Box::new(|info| {
        // Nothing can be done if even this fails; the trap itself is still seen.
        let _ = Reflect::set(&global(), &"conewrightPanic".into(), &info.to_string().into());
    }));
}

/// Version of the core.
#[wasm_bindgen]
pub fn version() -> String {
    env!("CARGO_PKG_VERSION").to_owned()
}

/// Panics. The page's tests prove with it that a dead core is reported and replaced; nothing in the page calls it.
#[wasm_bindgen]
pub fn panic_on_purpose() {
    panic!("asked to panic");
}

/// The entries of a setup's `takes`, in order, after the whole setup was checked.
#[wasm_bindgen(unchecked_return_type = "TakeEntry[]")]
pub fn setup_takes(setup_json: &str) -> Result<JsValue, JsValue> {
    to_js(&Setup::parse(setup_json).map_err(thrown)?.takes)
}

/// The samples of a stimulus, all periods, at its own rate and level.
#[wasm_bindgen]
pub fn render(#[wasm_bindgen(unchecked_param_type = "Stimulus")] stimulus: JsValue) -> Result<Float32Array, JsValue> {
    let stimulus: Stimulus = from_js(&stimulus)?;
    let samples = test_signals::render(&stimulus).map_err(|error| thrown(CoreFault::new("stimulus", error)))?;
    Ok(single(&samples))
}

/// What the page shows and does next in a check, from the bench and everything that happened so far.
#[wasm_bindgen(unchecked_return_type = "Step")]
pub fn step(
    #[wasm_bindgen(unchecked_param_type = "Check")] check: JsValue,
    #[wasm_bindgen(unchecked_param_type = "ImpedanceBench | KnockBench")] bench: JsValue,
    #[wasm_bindgen(unchecked_param_type = "Happening[]")] history: JsValue,
) -> Result<JsValue, JsValue> {
    let history: Vec<Happening> = from_js(&history)?;
    to_js(&match from_js(&check)? {
        Check::Impedance => impedance::step(&from_js(&bench)?, &history),
        Check::Knock => knock::step(&from_js(&bench)?, &history),
        Check::Meter => return Err(thrown(wire::not_yet(Check::Meter))),
    })
}
