//! Two drivers of one make on the practice bench, asked for by name: the one that was picked, and its sister, which was
//! repaired elsewhere.
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

use super::driver::{Driver, Loaded};
use super::faults::Fault;
use super::knock::KnockScene;
use super::pair::{in_turn, knock_pair, CROSSTALK};
use super::practice::{good_bench, PracticeDriver};
use super::practice_takes::{check, find, PracticeError};
use super::truth::{truth, Truth};
use crate::signal::take::Take;

/// Most knocks on each of the two.
const MOST_KNOCKS: u32 = 20;

/// The cones of a pair are knocked on.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(deny_unknown_fields)]
pub struct PracticePair {
    /// `id` of the practice driver on channel 1; its sister hangs at channel 2.
    pub driver: String,
    /// Fault: of the second driver, or of the input.
    pub fault: Fault,
    /// Knocks on each driver that is knocked on.
    pub knocks: u32,
    /// Resistor across the terminals of the driver that is knocked on, in Ω.
    pub load_ohm: Option<f64>,
    /// Channel of the only driver that is knocked on; none: both in turn.
    pub only_channel: Option<u32>,
    /// Samples a second.
    pub rate_hz: f64,
    /// Seed of everything random.
    pub seed: u32,
}

/// Knocks and records both channels.
///
/// # Errors
/// [`PracticeError`] for an unknown driver or an impossible rate, load or number of knocks.
pub fn knock_practice_pair(request: &PracticePair) -> Result<Take, PracticeError> {
    check("rate_hz", request.rate_hz, 8000.0..=384_000.0)?;
    check("knocks", f64::from(request.knocks), 1.0..=f64::from(MOST_KNOCKS))?;
    check("load_ohm", request.load_ohm.unwrap_or(1.0), 1e-3..=1e9)?;
    check("only_channel", f64::from(request.only_channel.unwrap_or(1)), 1.0..=2.0)?;
    let part = find(&request.driver)?;
    let mut bench = request.fault.on(good_bench(&part.driver));
    let second = request.fault.on(good_bench(&sister(&part))).driver;
    // A fault of the driver is the second one's; the input is one for both.
    bench.driver = part.driver.clone();
    let seed = u64::from(request.seed);
    let mut scenes = in_turn([&part.driver, &second], request.knocks as usize, request.rate_hz, seed);
    for (scene, channel) in scenes.iter_mut().zip(1u32..) {
        if request.only_channel.is_some_and(|only| only != channel) {
            scene.touches.clear();
        } else {
            scene.load_ohm = request.load_ohm;
        }
    }
    let scenes: [KnockScene; 2] = scenes.map(|scene| request.fault.on_scene(scene));
    Ok(knock_pair(&bench, &second, [&scenes[0], &scenes[1]], CROSSTALK, seed)?)
}

/// The same make with another surround, a little more glue, a magnet that has aged, and another hand at the winding.
fn sister(part: &PracticeDriver) -> Driver {
    let mut driver = part.driver.clone();
    driver.suspension.stiffness_n_per_m *= 1.09;
    driver.suspension.viscous_n_s_per_m *= 1.06;
    driver.moving_mass_kg *= 1.02;
    driver.motor.bl_t_m *= 0.97;
    driver.r_e_ohm_at_20_c *= 1.01;
    driver
}

/// True figures of both and their true differences, by the names of the reading.
///
/// # Errors
/// [`PracticeError`] for an unknown driver.
pub fn practice_pair_truth(id: &str) -> Result<BTreeMap<String, f64>, PracticeError> {
    let part = find(id)?;
    let both = [truth(&Loaded::from(&part.driver)), truth(&Loaded::from(&sister(&part)))];
    let named =
        |t: &Truth| [("f_s", "_hz", t.f_s_hz), ("q_ms", "", t.q_ms), ("q_es", "", t.q_es), ("q_ts", "", t.q_ts)];
    let [first, second] = both.each_ref().map(named);
    let mut out = BTreeMap::new();
    for ((name, unit, a), (.., b)) in first.into_iter().zip(second) {
        out.insert(format!("first_{name}{unit}"), a);
        out.insert(format!("second_{name}{unit}"), b);
        out.insert(format!("difference_{name}_percent"), 100.0 * (a / b).ln());
    }
    for (name, t) in ["first_r_e_ohm", "second_r_e_ohm"].into_iter().zip(&both) {
        out.insert(name.to_owned(), t.r_e_ohm);
    }
    Ok(out)
}
