//! A driver as physical parts: moving mass, suspension with creep, motor, coil, friction, shorted turns.
//!
//! Symbols: x displacement (m, outwards positive), v velocity, i current, Bl force factor, k stiffness.
use serde::{Deserialize, Serialize};

use super::coil::FractionalInductance;

/// Springs with dashpot that give the suspension its creep.
pub const CREEP_BRANCHES: usize = 8;
/// Creep spans frequencies from this part of the nominal resonance ...
const CREEP_LOWEST: f64 = 1e-3;
/// ... to this multiple of it.
const CREEP_HIGHEST: f64 = 1e2;
/// Relative change of the resistance of copper per kelvin at 20 °C (IEC 60028).
pub const COPPER_PER_K: f64 = 0.003_93;

/// How the suspension's stiffness depends on displacement: k(x) = k₀ (1 + a x + b x²).
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Suspension {
    /// k₀: the purely elastic part at rest, in N/m.
    pub stiffness_n_per_m: f64,
    /// a in 1/m.
    pub asymmetry_per_m: f64,
    /// b in 1/m².
    pub progression_per_m2: f64,
    /// Rise of the stiffness a decade of frequency, relative to k₀.
    pub creep_per_decade: f64,
    /// Viscous loss in N·s/m.
    pub viscous_n_s_per_m: f64,
}

/// The motor: Bl(x) = Bl₀ / (1 + a x + b x²).
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Motor {
    /// Force factor at rest in T·m (N/A).
    pub bl_t_m: f64,
    /// a in 1/m (a coil off axially).
    pub asymmetry_per_m: f64,
    /// b in 1/m².
    pub falloff_per_m2: f64,
}

/// Dry friction at the voice coil.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Friction {
    /// Sliding force in N.
    pub sliding_n: f64,
    /// Breakaway force in N, at least the sliding one.
    pub breakaway_n: f64,
}

/// A driver.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Driver {
    /// DC resistance of the coil at 20 °C in Ω (without shorted turns).
    pub r_e_ohm_at_20_c: f64,
    /// Coil temperature above 20 °C in K.
    pub excess_temperature_k: f64,
    /// The coil's lossy inductance.
    pub coil: FractionalInductance,
    /// Part of the turns that is shorted, 0 to 0.2.
    pub shorted_part: f64,
    /// Motor.
    pub motor: Motor,
    /// Moving mass with air load in kg.
    pub moving_mass_kg: f64,
    /// Suspension.
    pub suspension: Suspension,
    /// Dry friction.
    pub friction: Friction,
    /// Effective piston area in m².
    pub s_d_m2: f64,
}

/// A spring of `stiffness_n_per_m` in series with a dashpot; both in parallel with the suspension.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CreepBranch {
    /// Stiffness in N/m.
    pub stiffness_n_per_m: f64,
    /// Relaxation time in s.
    pub relaxation_s: f64,
}

impl Driver {
    /// Resistance of the whole coil at its present temperature in Ω, shorted turns counted as whole.
    pub fn r_coil_ohm(&self) -> f64 {
        self.r_e_ohm_at_20_c * (1.0 + COPPER_PER_K * self.excess_temperature_k)
    }

    /// Resonance of mass and elastic stiffness alone in Hz: where the creep chain is centred, no result.
    pub fn nominal_resonance_hz(&self) -> f64 {
        (self.suspension.stiffness_n_per_m / self.moving_mass_kg).sqrt() / std::f64::consts::TAU
    }

    /// The chain of branches whose stiffness rises by a constant amount a decade.
    ///
    /// Its place on the frequency axis belongs to the material, so it does not move with an added weight.
    pub fn creep_branches(&self) -> [CreepBranch; CREEP_BRANCHES] {
        let step = (CREEP_HIGHEST / CREEP_LOWEST).ln() / (CREEP_BRANCHES - 1) as f64;
        let s = &self.suspension;
        // Spread evenly in ln τ, a branch every `step`, each contributes its whole stiffness once ω passes 1/τ.
        let stiffness_n_per_m = s.stiffness_n_per_m * s.creep_per_decade * step / std::f64::consts::LN_10;
        let lowest = std::f64::consts::TAU * self.nominal_resonance_hz() * CREEP_LOWEST;
        std::array::from_fn(|j| CreepBranch {
            stiffness_n_per_m,
            relaxation_s: 1.0 / (lowest * (step * j as f64).exp()),
        })
    }

    /// Force factor at a displacement in T·m.
    pub fn bl_at(&self, x_m: f64) -> f64 {
        self.motor.bl_t_m / (1.0 + (self.motor.asymmetry_per_m + self.motor.falloff_per_m2 * x_m) * x_m)
    }

    /// Elastic stiffness at a displacement in N/m.
    pub fn stiffness_at(&self, x_m: f64) -> f64 {
        let s = &self.suspension;
        s.stiffness_n_per_m * (1.0 + (s.asymmetry_per_m + s.progression_per_m2 * x_m) * x_m)
    }

    /// The same driver without what changes with displacement, and without dry friction.
    pub fn linear(&self) -> Driver {
        let mut d = self.clone();
        d.motor.asymmetry_per_m = 0.0;
        d.motor.falloff_per_m2 = 0.0;
        d.suspension.asymmetry_per_m = 0.0;
        d.suspension.progression_per_m2 = 0.0;
        d.friction = Friction::default();
        d
    }

    /// The same driver with a weight on the cone; the creep of its suspension stays where it is.
    pub fn with_added_mass_kg(&self, added_kg: f64) -> Loaded {
        Loaded { driver: self.clone(), added_mass_kg: added_kg, box_stiffness_n_per_m: 0.0 }
    }
}

/// ρc² of air at 20 °C and 101325 Pa in Pa.
pub const AIR_STIFFNESS_PA: f64 = 1.204 * 343.2 * 343.2;

/// A driver, the weight that lies on its cone and the box in which it sits.
#[derive(Clone, Debug, PartialEq)]
pub struct Loaded {
    /// The driver.
    pub driver: Driver,
    /// Weight on the cone in kg.
    pub added_mass_kg: f64,
    /// Stiffness of the air of a closed box behind the cone in N/m, 0 for free air.
    pub box_stiffness_n_per_m: f64,
}

impl Loaded {
    /// Mass that moves in kg.
    pub fn mass_kg(&self) -> f64 {
        self.driver.moving_mass_kg + self.added_mass_kg
    }

    /// Elastic stiffness at rest, suspension and box, in N/m.
    pub fn stiffness_n_per_m(&self) -> f64 {
        self.driver.suspension.stiffness_n_per_m + self.box_stiffness_n_per_m
    }

    /// The same in a closed box with this much air.
    pub fn in_box(mut self, net_m3: f64) -> Loaded {
        self.box_stiffness_n_per_m = AIR_STIFFNESS_PA * self.driver.s_d_m2 * self.driver.s_d_m2 / net_m3;
        self
    }
}

impl From<&Driver> for Loaded {
    fn from(driver: &Driver) -> Loaded {
        driver.with_added_mass_kg(0.0)
    }
}
