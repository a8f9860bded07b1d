//! The practice bench's meter: what it shows while a tone sounds through an amplifier and the series resistor.
use serde::{Deserialize, Serialize};

use super::bench::LeadFault;
use super::driver::Loaded;
use super::faults::Fault;
use super::meter::Meter;
use super::practice_takes::{check, find, practice_bench, PracticeError};
use super::truth::impedance_ohm;
use crate::math::fft::Complex64;
use crate::math::random::Random;

/// Root mean square volts of a full-scale sine behind the practice amplifier, and its output resistance in Ω.
const AMPLIFIER: (f64, f64) = (20.0, 0.05);
/// Parts of the stated percentage: gain errors of the ranges, and what differs from reading to reading.
const GAINS: [f64; 3] = [0.6, -0.5, 0.3];
const UNSTEADY: f64 = 0.2;

/// A tone, and the meter that is held to it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(deny_unknown_fields)]
pub struct PracticeMeter {
    /// `id` of a practice driver.
    pub driver: String,
    /// Fault.
    pub fault: Fault,
    /// Frequency of the tone in Hz.
    pub frequency_hz: f64,
    /// Its peak against full scale.
    pub peak_dbfs: f64,
    /// What is printed on the resistor, in Ω.
    pub series_resistor_ohm: f64,
    /// The meter's stated accuracy in per cent.
    pub percent_of_reading: f64,
    /// The same in last digits.
    pub counts: f64,
    /// Its last digit in V.
    pub resolution_v: f64,
    /// Top of its finest range in V; none: one range.
    pub resolution_above_v: Option<f64>,
    /// Seed of everything random.
    pub seed: u32,
}

/// What the display shows across each pair.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct PracticeVolts {
    /// Across the driver.
    pub driver_v: f64,
    /// Across the resistor.
    pub resistor_v: f64,
    /// Across both together.
    pub source_v: f64,
}

/// Holds the meter to the three pairs in turn.
///
/// # Errors
/// [`PracticeError`] for an unknown driver or a number that no bench has.
pub fn read_practice_meter(request: &PracticeMeter) -> Result<PracticeVolts, PracticeError> {
    check("frequency_hz", request.frequency_hz, 0.1..=100_000.0)?;
    check("peak_dbfs", request.peak_dbfs, -200.0..=0.0)?;
    check("series_resistor_ohm", request.series_resistor_ohm, 1e-3..=1e6)?;
    check("resolution_v", request.resolution_v, 1e-8..=100.0)?;
    let bench = practice_bench(&find(&request.driver)?, request.fault);
    let z_ohm = match bench.lead_fault {
        Some(LeadFault::Open) => Complex64::new(1e9, 0.0),
        Some(LeadFault::Short) => Complex64::new(0.04, 0.0),
        None => impedance_ohm(&Loaded::from(&bench.driver), request.frequency_hz),
    };
    let r_ohm = request.series_resistor_ohm * (1.0 + bench.jig.series_resistor_relative_error);
    let current_a = AMPLIFIER.0 * 10f64.powf(request.peak_dbfs / 20.0) / (z_ohm + r_ohm + AMPLIFIER.1).norm();
    let stated = request.percent_of_reading / 100.0;
    let meter = Meter {
        resolution_v: request.resolution_v,
        first_range_v: request.resolution_above_v.unwrap_or(f64::MAX),
        gain_error: GAINS.map(|part| part * stated).into(),
        unsteady: UNSTEADY * stated,
        counts: request.counts.min(1.0),
        low_end_hz: 4.0,
        high_end_hz: 20_000.0,
    };
    let mut random = Random::new(u64::from(request.seed));
    let mut show = |ohm: f64| meter.display_v(current_a * ohm, request.frequency_hz, &mut random);
    Ok(PracticeVolts { driver_v: show(z_ohm.norm()), resistor_v: show(r_ohm), source_v: show((z_ohm + r_ohm).norm()) })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn request(fault: Fault) -> PracticeMeter {
        PracticeMeter {
            driver: "six".to_owned(),
            fault,
            frequency_hz: 48.0,
            peak_dbfs: -26.0,
            series_resistor_ohm: 10.0,
            percent_of_reading: 0.5,
            counts: 2.0,
            resolution_v: 0.001,
            resolution_above_v: Some(2.0),
            seed: 1,
        }
    }

    /// Near resonance the driver is a resistance: the volts add up within rounding, counts and 0.2 of half a per cent.
    #[test]
    fn volts_add_up_and_faults_show() {
        let good = read_practice_meter(&request(Fault::None)).expect("volts");
        assert!((good.driver_v + good.resistor_v - good.source_v).abs() < 0.008, "{good:?}");
        assert!((good.source_v - 1.0).abs() < 0.02 && good.driver_v / good.resistor_v > 4.0, "{good:?}");
        let short = read_practice_meter(&request(Fault::ShortCircuit)).expect("volts");
        assert!(short.driver_v < 0.01 * short.resistor_v, "{short:?}");
        assert!(read_practice_meter(&PracticeMeter { driver: "none".to_owned(), ..request(Fault::None) }).is_err());
    }
}
