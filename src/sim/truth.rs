//! The true small-signal figures of a simulated driver, read from its parts.
//!
//! The network of coil, shorted turns and suspension is evaluated at single frequencies; f_s is where the phase of the
//! motional part is zero, Q_ms comes from the whole mechanical loss at f_s, creep included.
use serde::{Deserialize, Serialize};

use super::coil::Ladder;
use super::driver::{Loaded, AIR_STIFFNESS_PA};
use crate::math::fft::Complex64;

/// Small-signal truth.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Truth {
    /// Resonance in Hz.
    pub f_s_hz: f64,
    /// Mechanical Q.
    pub q_ms: f64,
    /// Electrical Q.
    pub q_es: f64,
    /// Total Q.
    pub q_ts: f64,
    /// DC resistance at the coil's temperature in Ω.
    pub r_e_ohm: f64,
    /// Largest modulus around resonance in Ω.
    pub z_max_ohm: f64,
    /// Moving mass in kg.
    pub m_ms_kg: f64,
    /// Compliance at f_s in m/N.
    pub c_ms_m_per_n: f64,
    /// Mechanical loss at f_s in kg/s.
    pub r_ms_kg_per_s: f64,
    /// Force factor in T·m.
    pub bl_t_m: f64,
    /// Piston area in m².
    pub s_d_m2: f64,
    /// Equivalent volume in m³.
    pub v_as_m3: f64,
}

/// Truth of a driver with whatever lies on its cone.
pub fn truth(loaded: &Loaded) -> Truth {
    let network = Network::new(loaded);
    let f_s_hz = network.resonance_hz();
    let omega = std::f64::consts::TAU * f_s_hz;
    let driver = &loaded.driver;
    let part = 1.0 - driver.shorted_part;
    let bl_t_m = driver.motor.bl_t_m * part;
    let r_e_ohm = driver.r_coil_ohm() * part;
    let r_es_ohm = network.motional_ohm(f_s_hz).re;
    let r_ms_kg_per_s = bl_t_m * bl_t_m / r_es_ohm;
    let q_ms = omega * loaded.mass_kg() / r_ms_kg_per_s;
    let q_es = q_ms * r_e_ohm / r_es_ohm;
    let c_ms_m_per_n = 1.0 / (omega * omega * loaded.mass_kg());
    Truth {
        f_s_hz,
        q_ms,
        q_es,
        q_ts: q_ms * q_es / (q_ms + q_es),
        r_e_ohm,
        z_max_ohm: network.largest_modulus_ohm(f_s_hz),
        m_ms_kg: loaded.mass_kg(),
        c_ms_m_per_n,
        r_ms_kg_per_s,
        bl_t_m,
        s_d_m2: driver.s_d_m2,
        v_as_m3: AIR_STIFFNESS_PA * driver.s_d_m2 * driver.s_d_m2 * c_ms_m_per_n,
    }
}

/// Impedance between the driver's terminals in Ω, at rest and for small signals.
pub fn impedance_ohm(loaded: &Loaded, frequency_hz: f64) -> Complex64 {
    Network::new(loaded).impedance_ohm(frequency_hz, true)
}

struct Network<'a> {
    loaded: &'a Loaded,
    ladder: Ladder,
}

impl Network<'_> {
    fn new(loaded: &Loaded) -> Network<'_> {
        Network { loaded, ladder: Ladder::following(&loaded.driver.coil) }
    }

    /// Force over velocity in kg/s.
    fn mechanical_kg_per_s(&self, s: Complex64) -> Complex64 {
        let suspension = &self.loaded.driver.suspension;
        let creep = self.loaded.driver.creep_branches().iter().fold(Complex64::new(0.0, 0.0), |sum, b| {
            sum + b.stiffness_n_per_m * b.relaxation_s / (s * b.relaxation_s + 1.0)
        });
        s * self.loaded.mass_kg() + suspension.viscous_n_s_per_m + creep + self.loaded.stiffness_n_per_m() / s
    }

    /// With the cone free or held.
    fn impedance_ohm(&self, frequency_hz: f64, free: bool) -> Complex64 {
        let s = Complex64::new(0.0, std::f64::consts::TAU * frequency_hz);
        let driver = &self.loaded.driver;
        let (p, rest) = (driver.shorted_part, 1.0 - driver.shorted_part);
        let leakage = s * self.ladder.series_l_h;
        // Everything that shares the coil's turns: flux through the iron, and the motion.
        let mut shared = self.ladder.impedance_ohm(frequency_hz) - leakage;
        if free {
            shared += driver.motor.bl_t_m * driver.motor.bl_t_m / self.mechanical_kg_per_s(s);
        }
        let own = driver.r_coil_ohm() * rest + leakage * rest * rest;
        if p <= 0.0 {
            return own + shared;
        }
        let shorted = driver.r_coil_ohm() * p + leakage * p * p;
        own + rest * rest * shared / (1.0 + p * p * shared / shorted)
    }

    fn motional_ohm(&self, frequency_hz: f64) -> Complex64 {
        self.impedance_ohm(frequency_hz, true) - self.impedance_ohm(frequency_hz, false)
    }

    /// Where the motional part turns from inductive to capacitive, by bisection in an octave about the nominal one.
    fn resonance_hz(&self) -> f64 {
        let nominal = (self.loaded.stiffness_n_per_m() / self.loaded.mass_kg()).sqrt() / std::f64::consts::TAU;
        let (mut low, mut high) = (nominal / 2.0, nominal * 2.0);
        for _ in 0..80 {
            let middle = (low * high).sqrt();
            if self.motional_ohm(middle).im > 0.0 {
                low = middle;
            } else {
                high = middle;
            }
        }
        (low * high).sqrt()
    }

    /// Golden-section search for the peak within a third of an octave of f_s.
    fn largest_modulus_ohm(&self, f_s_hz: f64) -> f64 {
        const GOLDEN: f64 = 0.618_033_988_749_894_9;
        let modulus = |f: f64| self.impedance_ohm(f, true).norm();
        let (mut low, mut high) = (f_s_hz / 1.26, f_s_hz * 1.26);
        for _ in 0..80 {
            let (a, b) = (high - GOLDEN * (high - low), low + GOLDEN * (high - low));
            if modulus(a) > modulus(b) {
                high = b;
            } else {
                low = a;
            }
        }
        modulus((low + high) / 2.0)
    }
}
