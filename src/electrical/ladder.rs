//! Finite networks for impedances that have none: a chain of sections R ‖ L and one plain L.
//!
//! K(jω)^n with 0 < n < 1, and the compliance of a creeping suspension, are sums of infinitely many such sections with
//! positive values (their spectra of relaxation times are positive). Here the corners R/L lie evenly on a logarithmic
//! axis that begins below the band and ends above it; the weights come from linear least squares of the relative error, sections
//! that would come out negative are left out, and of several lengths of the axis the best one is kept. The error that is
//! answered is computed on a finer axis than the fitted one. Valid inside the band only.

use crate::math::fft::Complex64;
use crate::math::least_squares::solve_complex;
use std::f64::consts::TAU;

/// Frequencies a decade for fitting.
const FIT_A_DECADE: f64 = 30.0;
/// Frequencies a decade for the stated error; the error waves about once in half a decade.
const PROOF_A_DECADE: f64 = 120.0;
/// How far beyond the band the corners may reach, as factors.
const BEYOND: [f64; 5] = [2.0, 5.0, 12.0, 30.0, 80.0];

/// R and L side by side.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Section {
    /// Resistance in Ω.
    pub r_ohm: f64,
    /// Inductance in H.
    pub l_h: f64,
}

/// A chain of sections in series with one inductance.
#[derive(Clone, Debug, PartialEq)]
pub struct Ladder {
    /// The sections, lowest corner first.
    pub sections: Vec<Section>,
    /// The plain inductance in H; may be 0.
    pub plain_l_h: f64,
    /// Greatest |Z − Z_wanted|/|Z_wanted| in the band.
    pub largest_error: f64,
}

impl Ladder {
    /// Impedance at ω rad/s.
    pub fn impedance(&self, omega: f64) -> Complex64 {
        let section = |s: &Section| {
            let x = Complex64::new(0.0, omega * s.l_h);
            x * s.r_ohm / (x + s.r_ohm)
        };
        self.sections.iter().map(section).sum::<Complex64>() + Complex64::new(0.0, omega * self.plain_l_h)
    }
}

/// The chain of at most `count` sections that follows `wanted` (of ω, never 0) best between the two frequencies; none
/// where the band is empty or no chain follows at all.
pub fn follow(wanted: impl Fn(f64) -> Complex64, low_hz: f64, high_hz: f64, count: usize) -> Option<Ladder> {
    if !(low_hz > 0.0 && high_hz > low_hz && high_hz.is_finite()) {
        return None;
    }
    let fitted: Vec<(f64, Complex64)> = axis(low_hz, high_hz, FIT_A_DECADE).map(|w| (w, wanted(w))).collect();
    let proof: Vec<(f64, Complex64)> = axis(low_hz, high_hz, PROOF_A_DECADE).map(|w| (w, wanted(w))).collect();
    let mut best: Option<Ladder> = None;
    for below in BEYOND {
        for above in BEYOND {
            let corners = corners(TAU * low_hz / below, TAU * high_hz * above, count);
            let Some(mut ladder) = weigh(&fitted, corners) else { continue };
            let error = |(w, z): &(f64, Complex64)| ((ladder.impedance(*w) - z) / z).norm();
            ladder.largest_error = proof.iter().map(error).fold(0.0, f64::max);
            if ladder.largest_error < best.as_ref().map_or(f64::INFINITY, |b| b.largest_error) {
                best = Some(ladder);
            }
        }
    }
    best
}

/// ω on a logarithmic axis, both ends included.
fn axis(low_hz: f64, high_hz: f64, a_decade: f64) -> impl Iterator<Item = f64> {
    let steps = ((high_hz / low_hz).log10() * a_decade).ceil().max(1.0);
    (0..=steps as usize).map(move |i| TAU * low_hz * (high_hz / low_hz).powf(i as f64 / steps))
}

fn corners(low: f64, high: f64, count: usize) -> Vec<f64> {
    let last = count.saturating_sub(1).max(1) as f64;
    (0..count).map(|i| low * (high / low).powf(i as f64 / last)).collect()
}

/// Weights of the sections with the given corners; those that come out negative are left out one after the other.
fn weigh(points: &[(f64, Complex64)], mut corners: Vec<f64>) -> Option<Ladder> {
    // The plain inductance is a section whose corner lies beyond all others.
    let mut plain = true;
    loop {
        let scale = corners.last().copied()?;
        let row = |(w, z): &(f64, Complex64)| {
            let section = |corner: &f64| {
                let x = Complex64::new(0.0, w / corner);
                x / (1.0 + x) / z
            };
            let mut row: Vec<Complex64> = corners.iter().map(section).collect();
            row.extend(plain.then(|| Complex64::new(0.0, w / scale) / z));
            row
        };
        let rows: Vec<Vec<Complex64>> = points.iter().map(row).collect();
        let x = solve_complex(&rows, &vec![Complex64::new(1.0, 0.0); rows.len()]).ok()?.x;
        let worst = (0..x.len()).min_by(|&a, &b| x[a].total_cmp(&x[b]))?;
        if x[worst] < 0.0 {
            if worst == corners.len() {
                plain = false;
            } else {
                corners.remove(worst);
            }
            continue;
        }
        let sections = corners.iter().zip(&x).filter(|(_, r)| **r > 0.0);
        return Some(Ladder {
            sections: sections.map(|(corner, r)| Section { r_ohm: *r, l_h: r / corner }).collect(),
            plain_l_h: if plain { x[corners.len()] / scale } else { 0.0 },
            largest_error: f64::INFINITY,
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lossy(n: f64) -> impl Fn(f64) -> Complex64 {
        move |w| Complex64::from_polar(0.02 * w.powf(n), n * std::f64::consts::FRAC_PI_2)
    }

    /// Sampling a smooth spectrum of relaxations at an even logarithmic spacing h errs by about 2 exp(−π²/h) (the
    /// trapezoidal rule; nearest pole at a quarter turn). 16 corners over the band of 7.6 nepers and a margin of at least
    /// one on both sides are at most 0.7 apart: 1.5e-6; what is left of the truncated ends makes it a few 1e-5.
    #[test]
    fn sixteen_sections_follow_the_lossy_coil() {
        for n in [0.5, 0.6, 0.7, 0.8, 0.9] {
            let ladder = follow(lossy(n), 10.0, 20e3, 16).unwrap();
            assert!(ladder.largest_error < 1e-4, "n {n}: {}", ladder.largest_error);
            assert!(ladder.sections.iter().all(|s| s.r_ohm > 0.0 && s.l_h > 0.0) && ladder.plain_l_h >= 0.0);
        }
    }

    #[test]
    fn fewer_sections_say_that_they_follow_less_well() {
        let error = |count| follow(lossy(0.7), 10.0, 20e3, count).unwrap().largest_error;
        assert!(error(4) > 5.0 * error(8) && error(8) > 5.0 * error(16), "{} {} {}", error(4), error(8), error(16));
    }

    #[test]
    fn an_empty_band_has_no_chain() {
        assert_eq!(follow(lossy(0.7), 20.0, 10.0, 16), None);
        assert_eq!(follow(lossy(0.7), f64::NAN, 10.0, 16), None);
    }
}
