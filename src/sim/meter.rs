//! A pocket multimeter on alternating volts: what its display shows of a true voltage.
//!
//! Each range has a gain error of its own; rectifier and input fall off at both ends of the band, alike for every
//! reading of one frequency; the last digits wander; the display rounds and changes range by itself.
use serde::{Deserialize, Serialize};

use crate::math::random::Random;

/// A meter as it truly is.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Meter {
    /// The last digit of the finest range in V.
    pub resolution_v: f64,
    /// Top of the finest range in V; each further range is ten times as coarse and reaches ten times as far.
    pub first_range_v: f64,
    /// Relative gain error of each range, finest first; the last one counts for all above it.
    pub gain_error: Vec<f64>,
    /// Half-width of the relative error that differs from reading to reading (linearity, a display not at rest).
    pub unsteady: f64,
    /// Half-width of the wandering in last digits.
    pub counts: f64,
    /// Frequency in Hz at which the reading is 3 dB low at the lower end.
    pub low_end_hz: f64,
    /// The same at the upper end.
    pub high_end_hz: f64,
}

impl Meter {
    /// What the display shows of `true_v` (root mean square) at a frequency.
    pub fn display_v(&self, true_v: f64, frequency_hz: f64, random: &mut Random) -> f64 {
        let mut range = 0;
        while true_v > self.first_range_v * 10f64.powi(range) && range < 6 {
            range += 1;
        }
        let gain = self.gain_error.get(range as usize).or(self.gain_error.last()).copied().unwrap_or(0.0);
        let (low, high) = (self.low_end_hz / frequency_hz, frequency_hz / self.high_end_hz);
        let response = 1.0 / ((1.0 + low * low) * (1.0 + high * high)).sqrt();
        let digit_v = self.resolution_v * 10f64.powi(range);
        let unsteady = 1.0 + gain + self.unsteady * random.between(-1.0, 1.0);
        let shown_v = true_v * response * unsteady + self.counts * digit_v * random.between(-1.0, 1.0);
        let digits = (shown_v / digit_v).round().max(0.0);
        // The display is decimal: without the dust of a binary product.
        format!("{:.9}", digits * digit_v).parse().unwrap_or(0.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_display_rounds_and_changes_range() {
        let meter = Meter {
            resolution_v: 0.001,
            first_range_v: 2.0,
            gain_error: vec![0.0, 0.01],
            unsteady: 0.0,
            counts: 0.0,
            low_end_hz: 0.0,
            high_end_hz: 1e9,
        };
        let mut random = Random::new(1);
        let shown = [0.123_45, 1.9994, 2.345].map(|v| meter.display_v(v, 50.0, &mut random));
        // 2.345 · 1.01 = 2.368, shown with a last digit of 10 mV.
        assert_eq!(shown, [0.123, 1.999, 2.37]);
    }
}
