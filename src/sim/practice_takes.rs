//! Takes of the practice bench, asked for by name: the way in for the page.
use serde::{Deserialize, Serialize};
use thiserror::Error;

use super::bench::{knock, play, Mounting, PracticeBench};
use super::faults::Fault;
use super::hands::{self, Scene};
use super::jig::Position;
use super::knock::{KnockScene, Sensor};
use super::practice::{amplifier_bench, drivers, good_bench, good_microphone, PracticeDriver, AMPLIFIER_SERIES_OHM};
use crate::signal::take::{Take, TakeError};

/// Most knocks that one take may hold.
const MOST_KNOCKS: u32 = 40;

/// What stands for no resistor in Ω.
const NO_RESISTOR_OHM: f64 = 1e-6;

/// A computer loses a buffer now and then: shorter plays, as in the search of a level, get by.
const SPARED_S: f64 = 5.0;

/// Something is played through the jig.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(deny_unknown_fields)]
pub struct PracticePlay {
    /// `id` of a practice driver.
    pub driver: String,
    /// Fault.
    pub fault: Fault,
    /// What is clipped where.
    pub position: Position,
    /// What the person does meanwhile.
    #[serde(default)]
    pub scene: Scene,
    /// Weight on the cone in kg.
    #[serde(default)]
    pub added_mass_kg: Option<f64>,
    /// Inner volume of the closed box around the driver in m³.
    #[serde(default)]
    pub box_volume_m3: Option<f64>,
    /// Samples a second.
    pub rate_hz: f64,
    /// Seed of everything random.
    pub seed: u32,
}

/// What listens to practice knocks.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum PracticeSensor {
    /// The coil, by a cable into the input.
    Coil,
    /// A microphone.
    Microphone,
}

/// The cone is knocked on.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(deny_unknown_fields)]
pub struct PracticeKnock {
    /// `id` of a practice driver.
    pub driver: String,
    /// Fault.
    pub fault: Fault,
    /// Sensor.
    pub sensor: PracticeSensor,
    /// Knocks, 1 to 40.
    pub knocks: u32,
    /// Resistor across the terminals in Ω; none is open terminals.
    pub load_ohm: Option<f64>,
    /// Weight on the cone in kg, 0 for none.
    pub added_mass_kg: f64,
    /// Inner volume of the closed box around the driver in m³.
    #[serde(default)]
    pub box_volume_m3: Option<f64>,
    /// Samples a second.
    pub rate_hz: f64,
    /// Seed of everything random.
    pub seed: u32,
}

/// Why the practice bench cannot give a take.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum PracticeError {
    /// No such driver.
    #[error("the practice bench has no driver '{0}'")]
    UnknownDriver(String),
    /// A number that cannot be.
    #[error("{field} of {value} is not possible on the practice bench")]
    Impossible {
        /// Which.
        field: &'static str,
        /// What was asked for.
        value: f64,
    },
    /// The samples do not make a take.
    #[error(transparent)]
    Take(#[from] TakeError),
}

/// Plays samples (full scale ±1) and records both channels; as many samples come back as were played.
///
/// # Errors
/// [`PracticeError`] for an unknown driver, an impossible rate or resistor, or nothing to play.
pub fn play_practice(request: &PracticePlay, dac: &[f64]) -> Result<Take, PracticeError> {
    check_rate(request.rate_hz)?;
    if let Position::KnownResistor { resistor_ohm } = request.position {
        check("resistor_ohm", resistor_ohm, 1e-3..=1e9)?;
    }
    let part = find(&request.driver)?;
    check("added_mass_kg", request.added_mass_kg.unwrap_or(0.0), 0.0..=10.0)?;
    let net_box_m3 = net_box(&part, request.box_volume_m3)?;
    let mut bench = practice_bench(&part, request.fault);
    if (dac.len() as f64) < SPARED_S * request.rate_hz {
        bench.input.buffer_faults.clear();
        // Nobody flexes a lead while the level is looked for.
        bench.loose_joint = None;
    }
    bench.mounting = Mounting { added_mass_kg: request.added_mass_kg.unwrap_or(0.0), net_box_m3 };
    let (rate_hz, seed) = (request.rate_hz, u64::from(request.seed));
    let duration_s = dac.len() as f64 / rate_hz;
    let unsteady = request.fault == Fault::UnsteadyHand;
    Ok(match request.scene {
        Scene::Jig => play(&bench, dac, rate_hz, request.position, seed)?,
        Scene::Flexing => hands::flex(&bench, dac, rate_hz, true, seed)?.0,
        Scene::Push => hands::push(&bench, duration_s, rate_hz, unsteady, seed)?,
        Scene::Cell => hands::cell(&bench, duration_s, rate_hz, seed)?,
        Scene::Microphone => {
            let mut microphone = good_microphone();
            if unsteady {
                (microphone.distance_m, microphone.room_noise_db_spl) = (3.0, 75.0);
            }
            hands::hear(&bench, &microphone, dac, rate_hz, seed)?
        }
        Scene::Close | Scene::CloseWithResistor | Scene::CloseLoaded => {
            let mut bench = PracticeBench { jig: amplifier_bench(&part.driver).jig, ..bench };
            if request.scene != Scene::CloseWithResistor {
                bench.jig.series_resistor_nominal_ohm = NO_RESISTOR_OHM;
            }
            if request.scene == Scene::CloseLoaded {
                bench.jig = bench.jig.loaded(AMPLIFIER_SERIES_OHM);
            }
            hands::hear(&bench, &request.fault.at_microphone(good_microphone()), dac, rate_hz, seed)?
        }
    })
}

/// Knocks and records one channel.
///
/// # Errors
/// [`PracticeError`] for an unknown driver or an impossible rate, load, weight or number of knocks.
pub fn knock_practice(request: &PracticeKnock) -> Result<Take, PracticeError> {
    check_rate(request.rate_hz)?;
    check("knocks", f64::from(request.knocks), 1.0..=f64::from(MOST_KNOCKS))?;
    check("load_ohm", request.load_ohm.unwrap_or(1.0), 1e-3..=1e9)?;
    check("added_mass_kg", request.added_mass_kg, 0.0..=10.0)?;
    let part = find(&request.driver)?;
    let mut bench = practice_bench(&part, request.fault);
    bench.mounting.net_box_m3 = net_box(&part, request.box_volume_m3)?;
    let seed = u64::from(request.seed);
    let mut scene = KnockScene::taps(&part.driver, request.knocks as usize, request.rate_hz, seed);
    scene.load_ohm = request.load_ohm;
    scene.added_mass_kg = request.added_mass_kg;
    if request.sensor == PracticeSensor::Microphone {
        scene.sensor = Sensor::Microphone { microphone: good_microphone() };
    }
    Ok(knock(&bench, &request.fault.on_scene(scene), seed)?)
}

/// Air that is left in a box once the driver sits in it.
fn net_box(part: &PracticeDriver, inner_m3: Option<f64>) -> Result<Option<f64>, PracticeError> {
    let net_m3 = inner_m3.map(|v| v - part.displacement_m3());
    check("box_volume_m3", net_m3.unwrap_or(1.0), 1e-5..=100.0)?;
    Ok(net_m3)
}

/// The bench on which a practice driver lies, with a fault.
pub fn practice_bench(part: &PracticeDriver, fault: Fault) -> PracticeBench {
    fault.on(good_bench(&part.driver))
}

pub(super) fn find(id: &str) -> Result<PracticeDriver, PracticeError> {
    drivers().into_iter().find(|d| d.id == id).ok_or_else(|| PracticeError::UnknownDriver(id.into()))
}

fn check_rate(rate_hz: f64) -> Result<(), PracticeError> {
    check("rate_hz", rate_hz, 8000.0..=384_000.0)
}

pub(super) fn check(
    field: &'static str,
    value: f64,
    allowed: std::ops::RangeInclusive<f64>,
) -> Result<(), PracticeError> {
    // A NaN is in no range.
    if allowed.contains(&value) {
        Ok(())
    } else {
        Err(PracticeError::Impossible { field, value })
    }
}
