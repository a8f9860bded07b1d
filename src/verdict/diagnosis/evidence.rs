//! What differs: logarithmic ratios of figures, part over reference, and how each cause moves them.
//!
//! Causes, as logarithmic ratios: moving mass m, stiffness k, force factor b, resistance r, mechanical loss d, coil in its
//! iron c. From f_s² ∝ k/m, Q_ms ∝ √(km)/d, Q_es ∝ √(km) r/b², pressure at equal volts ∝ b/(r m):
//! Δln f_s = (k − m)/2, Δln Q_ms = (k + m)/2 − d, Δln Q_es = (k + m)/2 + r − 2b, Δln p = b − r − m. Z_max and Q_ts follow
//! from these and are compared only where they stand in for one that is not there.

use super::setup::{DiagnosisPublished, DiagnosisReading, DiagnosisReference, DiagnosisSetup, LevelDifference};
use crate::signal::reading::{Figure, Outcome};
use crate::verdict::difference::{difference, Difference};
use crate::verdict::upper_impedance::{upper_impedance, Magnitudes};
use std::f64::consts::LN_10;

/// Logarithmic ratios of the causes.
pub(super) type Causes = [f64; 6];
pub(super) const MASS: usize = 0;
pub(super) const STIFFNESS: usize = 1;
pub(super) const MOTOR: usize = 2;
pub(super) const R_E: usize = 3;
pub(super) const LOSS: usize = 4;
pub(super) const COIL: usize = 5;

/// Name in the evidence of what no reading gives.
pub(super) const LEVEL: &str = "level";
pub(super) const UPPER: &str = "upper_impedance";

/// A comparison.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Compared {
    pub name: &'static str,
    pub check: String,
    pub difference: Difference,
    /// What each cause does to it.
    pub slope: Causes,
}

/// What is known of the healthy driver, for patterns whose look depends on it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Healthy {
    /// Q_ms over Q_es: how high the peak stands over R_e.
    pub peak: f64,
    /// Upper impedance over R_e.
    pub upper: f64,
}

/// Where nothing is known. Common practice: woofers and midranges stand at 4 to 12 and 1.5 to 6.
const USUAL: Healthy = Healthy { peak: 6.0, upper: 2.5 };
/// Phase of a coil's impedance in iron, between 45° and 72° for exponents of 0.5 to 0.8.
const COIL_PHASE: f64 = 0.66 * std::f64::consts::FRAC_PI_2;

impl Healthy {
    fn of(figure: impl Fn(&str) -> Option<f64>) -> Healthy {
        let ratio = |a: &str, b: &str| Some(figure(a)? / figure(b)?);
        Healthy {
            peak: ratio("q_ms", "q_es").map_or(USUAL.peak, |r| r.clamp(0.5, 50.0)),
            upper: ratio(UPPER, "r_e_ohm").map_or(USUAL.upper, |r| r.clamp(1.05, 20.0)),
        }
    }

    /// Real and imaginary part of the coil's own impedance over R_e, from |1 + z| and its usual phase.
    pub(super) fn coil(&self) -> (f64, f64) {
        let c = COIL_PHASE.cos();
        let z = (c * c + self.upper * self.upper - 1.0).max(0.0).sqrt() - c;
        (z * c, z * COIL_PHASE.sin())
    }

    /// Part of a change of R_e that the upper impedance follows: the real part of R_e/Z.
    pub(super) fn upper_by_r_e(&self) -> f64 {
        let (re, im) = self.coil();
        (1.0 + re) / ((1.0 + re).powi(2) + im * im)
    }
}

/// All that can be compared, and the healthy driver that it is held against.
pub(super) fn evidence(setup: &DiagnosisSetup) -> (Vec<Compared>, Healthy) {
    let known = |name: &str| match &setup.reference {
        DiagnosisReference::Published { figures } => {
            published(figures, name).map(|f| f.value).or_else(|| own(setup, name))
        }
        other => other.readings().iter().rev().find_map(|r| figure(r, name)).map(|f| f.value),
    };
    let healthy = Healthy::of(known);
    let mut out = Vec::new();
    for name in NAMES {
        let slope = slope(name, healthy);
        let found = match &setup.reference {
            DiagnosisReference::Published { figures } => by_tolerance(setup, figures, name),
            DiagnosisReference::Partner { same_jig, .. } | DiagnosisReference::Earlier { same_jig, .. } => {
                by_reading(setup, name, *same_jig)
            }
        };
        out.extend(found.map(|(check, difference)| Compared { name, check, difference, slope }));
    }
    let has = |out: &[Compared], name: &str| out.iter().any(|c| c.name == name);
    // Figures that say again what others have said would count twice.
    if has(&out, "q_ms") && has(&out, "q_es") {
        out.retain(|c| c.name != "q_ts" && c.name != "z_max_ohm");
    }
    if has(&out, "q_es") {
        out.retain(|c| c.name != "q_ts");
    }
    if !has(&out, "r_e_ohm") {
        out.extend(by_meter(setup).map(|difference| meter(difference, healthy)));
    }
    out.extend(setup.level.map(|level| by_level(&level)));
    (out, healthy)
}

/// In the order of the evidence.
const NAMES: [&str; 8] = ["f_s_hz", "q_ms", "q_es", "q_ts", "r_e_ohm", "z_max_ohm", UPPER, "m_ms_kg"];
/// The surest check first: where both have readings by several, this one is compared.
const CHECKS: [&str; 6] = ["impedance", "impedance_one_channel", "knock", "pair", "meter", "impedance_by_microphone"];

fn slope(name: &str, healthy: Healthy) -> Causes {
    let (q_ms, q_es) = ([0.5, 0.5, 0.0, 0.0, -1.0, 0.0], [0.5, 0.5, -2.0, 1.0, 0.0, 0.0]);
    // 1/Q_ts = 1/Q_ms + 1/Q_es; Z_max = R_e (1 + Q_ms/Q_es).
    let (by_es, by_ms) = (healthy.peak / (1.0 + healthy.peak), 1.0 / (1.0 + healthy.peak));
    match name {
        "f_s_hz" => [-0.5, 0.5, 0.0, 0.0, 0.0, 0.0],
        "q_ms" => q_ms,
        "q_es" => q_es,
        "q_ts" => std::array::from_fn(|i| by_es * q_es[i] + by_ms * q_ms[i]),
        "r_e_ohm" => [0.0, 0.0, 0.0, 1.0, 0.0, 0.0],
        "z_max_ohm" => std::array::from_fn(|i| by_es * (q_ms[i] - q_es[i]) + f64::from(u8::from(i == R_E))),
        UPPER => [0.0, 0.0, 0.0, healthy.upper_by_r_e(), 0.0, 1.0],
        "m_ms_kg" => [1.0, 0.0, 0.0, 0.0, 0.0, 0.0],
        _ => [-1.0, 0.0, 1.0, -1.0, 0.0, 0.0],
    }
}

/// What two coils of a make do to the level beside R_e, relative: they are a part of |Z| in the mid band.
const LEVEL_BY_COIL: f64 = 0.01;

/// A figure of a reading that can be trusted.
fn figure(reading: &DiagnosisReading, name: &str) -> Option<Figure> {
    if reading.outcome != Outcome::Reading {
        return None;
    }
    if name != UPPER {
        return reading.values.get(name).cloned();
    }
    upper_impedance(&Magnitudes {
        frequency_hz: &reading.frequency_hz,
        magnitude_ohm: &reading.magnitude_ohm,
        magnitude_standard_uncertainty_ohm: &reading.magnitude_standard_uncertainty_ohm,
        values: &reading.values,
    })
}

fn by(readings: &[DiagnosisReading], check: &str, name: &str) -> Option<Figure> {
    readings.iter().rev().filter(|r| r.check == check).find_map(|r| figure(r, name))
}

/// The part's own, by the surest check that has it.
fn own_figure(setup: &DiagnosisSetup, name: &str) -> Option<(String, Figure)> {
    CHECKS.iter().find_map(|check| Some(((*check).to_owned(), by(&setup.readings, check, name)?)))
}

fn own(setup: &DiagnosisSetup, name: &str) -> Option<f64> {
    own_figure(setup, name).map(|(_, f)| f.value)
}

/// By the surest check that both have: its own errors are alike in both.
fn by_reading(setup: &DiagnosisSetup, name: &str, same_jig: bool) -> Option<(String, Difference)> {
    CHECKS.iter().find_map(|check| {
        let (part, other) = (by(&setup.readings, check, name)?, by(setup.reference.readings(), check, name)?);
        Some(((*check).to_owned(), difference(&part, &other, same_jig)?))
    })
}

fn published<'a>(figures: &'a [DiagnosisPublished], name: &str) -> Option<&'a DiagnosisPublished> {
    figures.iter().find(|f| f.name == name && f.value > 0.0 && f.tolerance > 0.0)
}

/// The tolerance counts as what 19 of 20 good ones keep.
fn by_tolerance(setup: &DiagnosisSetup, figures: &[DiagnosisPublished], name: &str) -> Option<(String, Difference)> {
    let stated = published(figures, name)?;
    let typed = || (name == "r_e_ohm").then(|| Some(("meter".to_owned(), setup.dc_ohm.clone()?))).flatten();
    let (check, figure) = own_figure(setup, name).or_else(typed)?;
    let half = figure.half_width_95? / figure.value;
    let ln_ratio = (figure.value > 0.0).then(|| (figure.value / stated.value).ln())?;
    let half_width_95 = half.hypot(stated.tolerance.ln_1p());
    Some((check, Difference { ln_ratio, standard_uncertainty: half_width_95 / 1.96, half_width_95 }))
}

fn by_meter(setup: &DiagnosisSetup) -> Option<Difference> {
    let (DiagnosisReference::Partner { dc_ohm, same_jig, .. } | DiagnosisReference::Earlier { dc_ohm, same_jig, .. }) =
        &setup.reference
    else {
        return None;
    };
    difference(setup.dc_ohm.as_ref()?, dc_ohm.as_ref()?, *same_jig)
}

fn meter(difference: Difference, healthy: Healthy) -> Compared {
    Compared { name: "r_e_ohm", check: "meter".to_owned(), difference, slope: slope("r_e_ohm", healthy) }
}

fn by_level(level: &LevelDifference) -> Compared {
    let ln = LN_10 / 20.0;
    let u = (ln * level.standard_uncertainty_db).hypot(LEVEL_BY_COIL);
    let difference = Difference { ln_ratio: ln * level.db, standard_uncertainty: u, half_width_95: 1.96 * u };
    Compared { name: LEVEL, check: LEVEL.to_owned(), difference, slope: slope(LEVEL, USUAL) }
}
