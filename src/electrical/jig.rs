//! The jig: source, known resistor, device under test; both nodes on inputs. From the ratio to the impedance.
//!
//! H = V_driver/V_source; with the inputs' own ratio g taken out, Z' = R H/(1 − H) (circuit theory). Z' is the device with
//! its leads in parallel with the driver channel's input: 1/(Z + Z_leads) = 1/Z' − G. The source channel's input and
//! the output resistance of the source do not enter, because V_source is measured behind them.
//! Units: R, Z in Ω; G in S; g without unit.

use crate::math::fft::Complex64;

/// Something complex over frequency, straight between its points over the logarithm of frequency, held at the ends.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Track {
    points: Vec<(f64, Complex64, f64)>,
}

impl Track {
    /// From (Hz, value, expected |error|²) in rising frequency.
    pub fn new(points: Vec<(f64, Complex64, f64)>) -> Self {
        Track { points }
    }

    /// Value and expected |error|² at `hz`; zero for an empty track.
    pub fn at(&self, hz: f64) -> (Complex64, f64) {
        let after = self.points.partition_point(|p| p.0 < hz);
        match (after.checked_sub(1).and_then(|i| self.points.get(i)), self.points.get(after)) {
            (Some(a), Some(b)) => {
                let share = (hz / a.0).ln() / (b.0 / a.0).ln();
                (a.1 * (1.0 - share) + b.1 * share, a.2 * (1.0 - share) + b.2 * share)
            }
            (Some(p), None) | (None, Some(p)) => (p.1, p.2),
            (None, None) => (Complex64::default(), 0.0),
        }
    }

    /// Median modulus; 1 for an empty track.
    pub fn middle_modulus(&self) -> f64 {
        let modulus: Vec<f64> = self.points.iter().map(|p| p.1.norm()).collect();
        crate::math::robust::median(&modulus).unwrap_or(1.0)
    }

    /// All points as (Hz, value, expected |error|²).
    pub fn points(&self) -> &[(f64, Complex64, f64)] {
        &self.points
    }

    /// True without points.
    pub fn is_empty(&self) -> bool {
        self.points.is_empty()
    }
}

/// The jig as it is known.
#[derive(Clone, Debug, PartialEq)]
pub struct Jig {
    /// Series resistor R in Ω.
    pub series_resistor_ohm: f64,
    /// Driver channel over source channel on one node, from the take with both inputs on one clip.
    pub channel_ratio: Option<Track>,
    /// The same as one number, where no such take was made (1 unless a known resistor told better).
    pub gain_ratio: f64,
    /// Leads and clips in Ω, from a take with a short.
    pub leads: Option<Track>,
    /// Leads and clips in Ω beyond that (0 for the best estimate; moved for the budget).
    pub lead_ohm: f64,
    /// Conductance of the driver channel's input in S.
    pub load_siemens: f64,
    /// By how much the recorded ratio still comes late, in s (0 for the best estimate; moved for the budget).
    pub delay_s: f64,
}

/// A small departure of the jig from what is believed, for the budget.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct JigShift {
    /// Change of ln R.
    pub ln_resistor: f64,
    /// Change of ln g.
    pub ln_gain: f64,
    /// Leads not known, in Ω.
    pub lead_ohm: f64,
    /// Change of the input's conductance in S.
    pub load_siemens: f64,
    /// Delay not known, in s.
    pub delay_s: f64,
}

/// One independent source of uncertainty of the jig: its name in a budget, and the departure that is one standard
/// uncertainty.
#[derive(Clone, Debug, PartialEq)]
pub struct JigSource {
    /// Name in the budget.
    pub name: &'static str,
    /// One standard uncertainty.
    pub shift: JigShift,
}

impl Jig {
    /// A jig with nothing but its resistor.
    pub fn plain(series_resistor_ohm: f64) -> Self {
        Jig {
            series_resistor_ohm,
            channel_ratio: None,
            gain_ratio: 1.0,
            leads: None,
            lead_ohm: 0.0,
            load_siemens: 0.0,
            delay_s: 0.0,
        }
    }

    /// The jig moved by a departure.
    pub fn shifted(&self, shift: &JigShift) -> Jig {
        Jig {
            series_resistor_ohm: self.series_resistor_ohm * shift.ln_resistor.exp(),
            gain_ratio: self.gain_ratio * shift.ln_gain.exp(),
            lead_ohm: self.lead_ohm + shift.lead_ohm,
            load_siemens: self.load_siemens + shift.load_siemens,
            delay_s: self.delay_s + shift.delay_s,
            ..self.clone()
        }
    }

    /// Ratio of the voltages themselves from that of the recorded channels, with the relative |error|² that the
    /// correction brings in.
    pub fn true_ratio(&self, hz: f64, recorded: Complex64) -> (Complex64, f64) {
        let gain = self.late(hz) * self.gain_ratio;
        match &self.channel_ratio {
            Some(track) => {
                let (ratio, error) = track.at(hz);
                (recorded / (ratio * gain), error / ratio.norm_sqr())
            }
            None => (recorded / gain, 0.0),
        }
    }

    fn late(&self, hz: f64) -> Complex64 {
        if self.delay_s == 0.0 {
            return Complex64::new(1.0, 0.0);
        }
        Complex64::cis(-std::f64::consts::TAU * hz * self.delay_s)
    }

    /// Impedance in Ω from the ratio of the recorded channels at `hz`, and |∂Z/∂H|² in Ω², H being that ratio.
    pub fn impedance(&self, hz: f64, recorded: Complex64) -> (Complex64, f64) {
        self.impedance_of(hz, recorded, self.true_ratio(hz, recorded).0)
    }

    /// [`Jig::impedance`] where the [`Jig::true_ratio`] `h` is known already.
    pub fn impedance_of(&self, hz: f64, recorded: Complex64, h: Complex64) -> (Complex64, f64) {
        let seen = h * self.series_resistor_ohm / (1.0 - h);
        let unloaded = seen / (1.0 - seen * self.load_siemens);
        let leads = self.leads.as_ref().map_or(Complex64::default(), |t| t.at(hz).0);
        // Moduli multiply, and squares of them need neither complex powers nor divisions.
        let loaded2 = (unloaded.norm_sqr() / seen.norm_sqr() / (1.0 - h).norm_sqr()).powi(2);
        let slope2 = loaded2 * self.series_resistor_ohm.powi(2) * h.norm_sqr() / recorded.norm_sqr();
        (unloaded - leads - self.lead_ohm, slope2)
    }

    /// The ratio that this jig records for an impedance in Ω at `hz`: the inverse of [`Jig::impedance`].
    pub fn recorded_ratio(&self, hz: f64, z_ohm: Complex64) -> Complex64 {
        let leads = self.leads.as_ref().map_or(Complex64::default(), |t| t.at(hz).0);
        let total = z_ohm + leads + self.lead_ohm;
        let seen = total / (1.0 + total * self.load_siemens);
        let channels = self.channel_ratio.as_ref().map_or(Complex64::from(1.0), |t| t.at(hz).0);
        seen / (seen + self.series_resistor_ohm) * channels * self.gain_ratio * self.late(hz)
    }

    /// By how much an impedance read at `hz` would change if the jig were moved by `shift`, in Ω.
    pub fn change_ohm(&self, hz: f64, z_ohm: Complex64, shift: &JigShift) -> Complex64 {
        self.shifted(shift).impedance(hz, self.recorded_ratio(hz, z_ohm)).0 - z_ohm
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Check value from circuit theory: R 10 Ω, H 0.42 at 25°; and the same with 10 kΩ across Z taken off.
    #[test]
    fn divider_and_loading_as_by_circuit_theory() {
        let h = Complex64::from_polar(0.42, 25f64.to_radians());
        let mut jig = Jig::plain(10.0);
        let z = jig.impedance(30.0, h).0;
        assert!((z.re - 4.92047).abs() < 5.1e-6 && (z.im - 4.27606).abs() < 5.1e-6, "{z}");
        jig.load_siemens = 1e-4;
        let z = jig.impedance(30.0, h).0;
        assert!((z.re - 4.92106).abs() < 5.1e-6 && (z.im - 4.28027).abs() < 5.1e-6, "{z}");
    }

    #[test]
    fn slope_is_that_of_the_impedance() {
        let mut jig = Jig::plain(10.0);
        (jig.load_siemens, jig.gain_ratio) = (1e-3, 1.02);
        let h = Complex64::from_polar(0.6, 0.3);
        let (z, slope2) = jig.impedance(30.0, h);
        // Forward difference: relative error about step/(1 − |H|).
        let moved = jig.impedance(30.0, h + 1e-7).0;
        assert!(((moved - z).norm() / 1e-7 / slope2.sqrt() - 1.0).abs() < 1e-6);
    }

    #[test]
    fn corrections_undo_what_a_jig_does() {
        let (z, r) = (Complex64::new(7.0, 3.0), 10.0);
        let gain = Complex64::from_polar(1.03, 0.01);
        let with_leads = z + 0.08;
        let seen = with_leads / (1.0 + with_leads * 2e-4);
        let recorded = gain * seen / (seen + r);
        let jig = Jig {
            channel_ratio: Some(Track::new(vec![(10.0, gain, 0.0), (1e4, gain, 0.0)])),
            leads: Some(Track::new(vec![(100.0, Complex64::new(0.08, 0.0), 0.0)])),
            load_siemens: 2e-4,
            ..Jig::plain(r)
        };
        assert!((jig.impedance(33.0, recorded).0 - z).norm() < 1e-12);
        assert!((jig.recorded_ratio(33.0, z) - recorded).norm() < 1e-15);
        let shift = JigShift { lead_ohm: 0.01, ..JigShift::default() };
        assert!((jig.change_ohm(33.0, z, &shift) + 0.01).norm() < 1e-12);
    }
}
