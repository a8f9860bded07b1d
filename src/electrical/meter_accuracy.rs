//! What a multimeter's display is worth: resolution, counts, percentage, and ranges that it changes by itself.
//!
//! A reading V is shown as V(1 + g) + e, rounded to the resolution r: g is the error of gain and frequency response of
//! its range, within ± `percent_of_reading`; e is within ± `counts` last digits. Rounding and stated limits count as
//! uniform: one standard uncertainty is r/√12 and limit/√3 (JCGM 100:2008, 4.3.7). With a range threshold T the
//! resolution is r up to T, 10 r up to 10 T and so on. Volts in V.

use crate::signal::role_take::SetupError;
use serde::{Deserialize, Serialize};

/// Accuracy of a meter's volts range.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(deny_unknown_fields)]
pub struct MeterAccuracy {
    /// Limit of the error as per cent of the reading.
    pub percent_of_reading: f64,
    /// Limit of the further error in last digits.
    #[serde(default)]
    pub counts: f64,
    /// The last digit in V.
    pub resolution_v: f64,
    /// Above this many volts the last digit is ten times as coarse, and again at ten times as many; absent: one range.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "typescript", ts(optional))]
    pub resolution_above_v: Option<f64>,
}

impl MeterAccuracy {
    /// Which range shows `volts`: 0 for the finest.
    pub fn range_of(&self, volts: f64) -> i32 {
        match self.resolution_above_v {
            // The last digit of a threshold of 2 V reads up to 2.000.
            Some(threshold) if volts > threshold => ((volts / threshold).log10() - 1e-12).floor() as i32 + 1,
            _ => 0,
        }
    }

    /// The last digit where `volts` are shown, in V.
    pub fn resolution_at_v(&self, volts: f64) -> f64 {
        self.resolution_v * 10f64.powi(self.range_of(volts))
    }

    /// Standard uncertainty of `volts` by rounding and counts, in V: no two readings share it.
    pub fn display_uncertainty_v(&self, volts: f64) -> f64 {
        self.resolution_at_v(volts) * (1.0 / 12.0 + self.counts * self.counts / 3.0).sqrt()
    }

    /// Relative standard uncertainty by the percentage; readings of one range share most of it.
    pub fn relative_uncertainty(&self) -> f64 {
        self.percent_of_reading / 100.0 / 3f64.sqrt()
    }

    /// # Errors
    /// The first field of `accuracy` that no meter has.
    pub fn check(&self) -> Result<(), SetupError> {
        let wrong = |name: &str, wanted: &str| Err(SetupError::new(&format!("accuracy.{name}"), wanted));
        if !(0.0..=20.0).contains(&self.percent_of_reading) {
            return wrong("percent_of_reading", "a number from 0 to 20 is wanted");
        }
        if !(0.0..=1000.0).contains(&self.counts) {
            return wrong("counts", "a number from 0 to 1000 is wanted");
        }
        if !(1e-8..=10.0).contains(&self.resolution_v) {
            return wrong("resolution_v", "the last digit in volts is wanted, from 1e-8 to 10");
        }
        match self.resolution_above_v {
            Some(v) if !(10.0 * self.resolution_v..=1e4).contains(&v) => {
                wrong("resolution_above_v", "volts are wanted, at least ten times resolution_v")
            }
            _ => Ok(()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pocket_meter() -> MeterAccuracy {
        MeterAccuracy { percent_of_reading: 1.0, counts: 3.0, resolution_v: 0.001, resolution_above_v: Some(2.0) }
    }

    #[test]
    fn ranges_change_by_decades() {
        let meter = pocket_meter();
        let ranges = [0.01, 2.0, 2.001, 20.0, 20.1, 300.0].map(|v| meter.range_of(v));
        assert_eq!(ranges, [0, 0, 1, 1, 2, 3]);
        assert!((meter.resolution_at_v(5.0) - 0.01).abs() < 1e-15);
        let single = MeterAccuracy { resolution_above_v: None, ..meter };
        assert_eq!(single.range_of(300.0), 0);
        // 1 mV/√12 and 3 mV/√3, added in squares: √(0.0833 + 3) mV.
        assert!((meter.display_uncertainty_v(1.0) - 1.755_942e-3).abs() < 1e-9);
    }

    #[test]
    fn each_fault_names_its_field() {
        let field = |change: fn(&mut MeterAccuracy)| {
            let mut meter = pocket_meter();
            change(&mut meter);
            meter.check().expect_err("must be refused").field
        };
        assert_eq!(pocket_meter().check(), Ok(()));
        assert_eq!(field(|m| m.percent_of_reading = -1.0), "accuracy.percent_of_reading");
        assert_eq!(field(|m| m.counts = f64::NAN), "accuracy.counts");
        assert_eq!(field(|m| m.resolution_v = 0.0), "accuracy.resolution_v");
        assert_eq!(field(|m| m.resolution_above_v = Some(0.001)), "accuracy.resolution_above_v");
    }
}
