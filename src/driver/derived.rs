//! What follows from resonance and Q's once one mechanical quantity is known: the moving mass or the equivalent volume.
//!
//! Symbols and references: several weights ΔM_i together by least squares on (f_s/f_i)² − 1 = ΔM_i/M_ms (AES2 and
//! IEC 60268-5 practice); C_ms = 1/((2πf_s)² M_ms); R_ms = 2πf_s M_ms/Q_ms; Bl = √(2πf_s M_ms R_e/Q_es);
//! V_as = ρc²S_d²C_ms; known box V_as = V_b(f_c Q_ec/(f_s Q_es) − 1), η_0 = 4π²f_s³V_as/(c³Q_es) (Small 1972); level at
//! 1 m in half space for P acoustic watts: p² = Pρc/2π against 20 µPa. Air: ρ = p/(RT), c = √(1.4 RT),
//! R = 287.05287 J/(kg K) (ISO 2533 constants). Humidity is left out: V_as holds ρc² = 1.4 p only, which moist air leaves
//! alone within 0.1 %. Valid for small signals in free air or a closed, empty box.

use std::f64::consts::{PI, TAU};

/// Specific gas constant of dry air in J/(kg K), ISO 2533.
const GAS_CONSTANT: f64 = 287.052_87;
/// Square of the pressure of 0 dB, Pa².
const REFERENCE_PA2: f64 = 4e-10;
/// Square of the voltage that stands for 1 W in 8 Ω, by custom.
const CUSTOMARY_V2: f64 = 2.83 * 2.83;
/// A driver's own displacement over the cube of its effective diameter, and its spread: 12-inch drivers take about 3.5 L,
/// 6-inch ones 0.5 L (common practice, no source).
pub(super) const DISPLACEMENT: (f64, f64) = (0.2, 0.08);

/// Named values, in the order in which a page shows them.
pub(super) type Values = Vec<(&'static str, f64)>;

/// Density in kg/m³ and speed of sound in m/s of dry air.
pub(super) fn air(temperature_c: f64, pressure_pa: f64) -> (f64, f64) {
    let rt = GAS_CONSTANT * (temperature_c + 273.15);
    (pressure_pa / rt, (1.4 * rt).sqrt())
}

/// Standard uncertainties of temperature and pressure. Stated: a household thermometer, a weather report. Not stated: an
/// inhabited room, any height up to 300 m.
pub(super) fn air_spread(temperature_stated: bool, pressure_stated: bool) -> (f64, f64) {
    (if temperature_stated { 1.0 } else { 3.0 }, if pressure_stated { 200.0 } else { 1800.0 })
}

/// What a steady tone or a free ring tells of the driver, and the air it moves in.
#[derive(Clone, Copy, Debug)]
pub(super) struct Electrical {
    /// Resonance in free air.
    pub f_s_hz: f64,
    /// Mechanical Q.
    pub q_ms: f64,
    /// Electrical Q, where it is known.
    pub q_es: Option<f64>,
    /// Coil.
    pub r_e_ohm: f64,
    /// Density and speed of sound.
    pub air: (f64, f64),
}

/// Moving mass from the resonance without weight and (weight, resonance) pairs; `creep` is the rise of the suspension's
/// stiffness a decade of frequency. None where no weight is there, or the weights did not lower the resonance.
pub(super) fn mass_of_weights(f_s_hz: f64, weights: &[(f64, f64)], creep: f64) -> Option<f64> {
    let (mut xy, mut xx) = (0.0, 0.0);
    for (added_kg, f_hz) in weights {
        // The suspension is softer at the lower frequency: what it would read at the stiffness of f_s.
        let stiffness = 1.0 + creep * (f_s_hz / f_hz).log10();
        xy += added_kg * ((f_s_hz / f_hz).powi(2) / stiffness - 1.0);
        xx += added_kg * added_kg;
    }
    (xy > 0.0).then(|| xx / xy)
}

/// V_as from a closed box of net volume `net_m3`: `stiffening` is f_c Q_ec/(f_s Q_es), the total stiffness in the box over
/// that in free air; creep takes its share of it.
pub(super) fn volume_of_box(net_m3: f64, f_s_hz: f64, f_c_hz: f64, stiffening: f64, creep: f64) -> f64 {
    net_m3 * (stiffening - 1.0 - creep * (f_c_hz / f_s_hz).log10())
}

/// Area of the piston.
pub(super) fn area_m2(effective_diameter_m: f64) -> f64 {
    PI / 4.0 * effective_diameter_m * effective_diameter_m
}

impl Electrical {
    /// ρc² in Pa.
    fn stiffness_of_air(&self) -> f64 {
        self.air.0 * self.air.1 * self.air.1
    }

    /// Compliance of the suspension for a moving mass.
    pub(super) fn compliance(&self, mass_kg: f64) -> f64 {
        1.0 / ((TAU * self.f_s_hz).powi(2) * mass_kg)
    }

    /// Equivalent volume.
    pub(super) fn v_as_m3(&self, mass_kg: f64, area_m2: f64) -> f64 {
        self.stiffness_of_air() * area_m2 * area_m2 * self.compliance(mass_kg)
    }

    /// Moving mass that goes with an equivalent volume and an area.
    pub(super) fn mass_of_volume(&self, v_as_m3: f64, area_m2: f64) -> f64 {
        self.v_as_m3(1.0, area_m2) / v_as_m3
    }

    /// Area that goes with a moving mass and an equivalent volume.
    pub(super) fn area_of(&self, mass_kg: f64, v_as_m3: f64) -> f64 {
        (v_as_m3 / (self.stiffness_of_air() * self.compliance(mass_kg))).sqrt()
    }

    /// Figures that a weight, a box or both open: moving mass by weights, V_as by boxes, area by the diameter. Where the
    /// diameter is not stated, weight and box together tell the area; where it is, the box's V_as stands beside the weight's.
    pub(super) fn push_mounted(
        &self,
        out: &mut Values,
        weighed_kg: Option<f64>,
        by_box_m3: Option<f64>,
        stated_area_m2: Option<f64>,
    ) {
        let area = stated_area_m2.or_else(|| Some(self.area_of(weighed_kg?, by_box_m3?)));
        let mass = weighed_kg.or_else(|| Some(self.mass_of_volume(by_box_m3?, area?)));
        if let Some(mass) = mass {
            self.push_mass(out, mass);
        }
        if weighed_kg.is_some() || by_box_m3.is_some() {
            out.extend(area.map(|a| ("s_d_m2", a)));
        }
        let by_weight = weighed_kg.zip(area).map(|(m, a)| self.v_as_m3(m, a));
        if let Some(v_as) = by_weight.or(by_box_m3) {
            self.push_volume(out, v_as);
        }
        if stated_area_m2.is_some() && by_weight.is_some() {
            out.extend(by_box_m3.map(|v| ("box_v_as_m3", v)));
        }
    }

    /// Figures of a known moving mass.
    pub(super) fn push_mass(&self, out: &mut Values, mass_kg: f64) {
        let impedance = TAU * self.f_s_hz * mass_kg;
        let c_ms = self.compliance(mass_kg);
        out.extend([("m_ms_kg", mass_kg), ("c_ms_m_per_n", c_ms), ("r_ms_kg_per_s", impedance / self.q_ms)]);
        if let Some(q_es) = self.q_es {
            out.push(("bl_t_m", (impedance * self.r_e_ohm / q_es).sqrt()));
        }
    }

    /// Figures of a known equivalent volume.
    pub(super) fn push_volume(&self, out: &mut Values, v_as_m3: f64) {
        out.push(("v_as_m3", v_as_m3));
        let Some(q_es) = self.q_es else { return };
        let (density, c) = self.air;
        let eta_0 = 4.0 * PI * PI / c.powi(3) * self.f_s_hz.powi(3) * v_as_m3 / q_es;
        let one_watt_db = 10.0 * (eta_0 * density * c / TAU / REFERENCE_PA2).log10();
        out.extend([
            ("eta_0", eta_0),
            ("level_1_w_db", one_watt_db),
            ("level_2_83_v_db", one_watt_db + 10.0 * (CUSTOMARY_V2 / self.r_e_ohm).log10()),
        ]);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(found: f64, printed: f64, last_digit: f64) {
        assert!((found - printed).abs() <= 0.5 * last_digit, "{found} against {printed}");
    }

    fn electrical(f_s_hz: f64, q_ms: f64, q_es: f64, r_e_ohm: f64, air: (f64, f64)) -> Electrical {
        Electrical { f_s_hz, q_ms, q_es: Some(q_es), r_e_ohm, air }
    }

    #[test]
    fn added_mass_of_the_handbooks() {
        // AES2 / IEC 60268-5 practice: 28.0 Hz, 21.4 Hz with 50 g: 70.2306 g and 0.460042 mm/N.
        let mass = mass_of_weights(28.0, &[(0.050, 21.4)], 0.0).unwrap();
        near(mass * 1e3, 70.2306, 1e-4);
        near(1e3 * electrical(28.0, 5.0, 0.3, 6.0, (1.2, 343.0)).compliance(mass), 0.460042, 1e-6);
    }

    /// Weights that agree give their common mass; where one errs, the heavier counts more: with weights x and 2x and an
    /// error e of the lighter's (f_s/f)² − 1, least squares of y = x/M moves 1/M by e x/(5x²) (textbook regression
    /// through the origin).
    #[test]
    fn several_weights_are_fitted_together() {
        let f = |added: f64, error: f64| 28.0 / (1.0 + added / 0.07 + error).sqrt();
        near(mass_of_weights(28.0, &[(0.03, f(0.03, 0.0)), (0.06, f(0.06, 0.0))], 0.0).unwrap(), 0.07, 1e-12);
        let moved = mass_of_weights(28.0, &[(0.03, f(0.03, 0.01)), (0.06, f(0.06, 0.0))], 0.0).unwrap();
        near(1.0 / moved, 1.0 / 0.07 + 0.01 / (5.0 * 0.03), 1e-9);
        assert_eq!(mass_of_weights(28.0, &[(0.03, 28.5)], 0.0), None);
        assert_eq!(mass_of_weights(28.0, &[], 0.0), None);
    }

    /// A suspension whose stiffness falls by `creep` a decade, by definition: f_i² = K(f_i)/(M + ΔM).
    #[test]
    fn creep_is_taken_out_of_the_mass() {
        let (mass, added, creep, f_s) = (0.07, 0.05, 0.05, 28.0_f64);
        let mut f = 22.0_f64;
        for _ in 0..60 {
            f = f_s * ((1.0 + creep * (f / f_s).log10()) * mass / (mass + added)).sqrt();
        }
        let found = mass_of_weights(f_s, &[(added, f)], creep).unwrap();
        // 1/(1 − c·l) against 1 + c·l: (c·l)² = (0.05 · 0.12)² = 3.6e-5, over a rise of f² of 0.7: 5e-5·(1 + 1/0.7).
        assert!((found / mass - 1.0).abs() < 1.3e-4, "{found}");
        assert!((mass_of_weights(f_s, &[(added, f)], 0.0).unwrap() / mass - 1.0).abs() > 5e-3);
    }

    #[test]
    fn test_box_of_small_1972() {
        // f_s 28 Hz, Q_es 0.30; in 60 L 47 Hz, 0.49: 104.500 L.
        let stiffening = 47.0 * 0.49 / (28.0 * 0.30);
        near(1e3 * volume_of_box(0.060, 28.0, 47.0, stiffening, 0.0), 104.500, 1e-3);
    }

    #[test]
    fn air_of_iso_2533() {
        // ISO 2533 constants, 101.325 kPa: speed and density at 15, 20, 25 °C.
        for (t, speed, density) in [(15.0, 340.294, 1.22500), (20.0, 343.234, 1.20411), (25.0, 346.148, 1.18391)] {
            let (rho, c) = air(t, 101_325.0);
            near(c, speed, 1e-3);
            near(rho, density, 1e-5);
        }
        // The same constants at 20 °C and other pressures: density and ρc.
        for (pa, density, rho_c) in [(85e3, 1.01011, 346.703), (95e3, 1.12894, 387.491), (103e3, 1.22401, 420.122)] {
            let (rho, c) = air(20.0, pa);
            near(rho, density, 1e-5);
            near(rho * c, rho_c, 1e-3);
        }
    }

    #[test]
    fn reference_efficiency_of_small_1972() {
        // f_s 25 Hz, Q_es 0.32, V_as 300 L, c 345 m/s: 0.0140830.
        let mut values = Vec::new();
        electrical(25.0, 5.0, 0.32, 6.0, (1.18, 345.0)).push_volume(&mut values, 0.3);
        near(values[1].1, 0.014_083_0, 1e-7);
    }

    #[test]
    fn half_space_level_of_one_acoustic_watt() {
        // ρc/2π against 20 µPa: 112.0946 dB for ρ 1.18, c 345; 112.1593 dB for ρ 1.204, c 343.2.
        for (air, level) in [((1.18, 345.0), 112.0946), ((1.204, 343.2), 112.1593)] {
            let mut values = Vec::new();
            electrical(25.0, 5.0, 0.32, 6.0, air).push_volume(&mut values, 0.3);
            near(values[2].1 - 10.0 * values[1].1.log10(), level, 1e-4);
        }
    }

    /// The worked chain (Small 1972; level: Beranek and Mellow, half space): R_e 6.2, f_s 28.0, Q_ms 4.8, Q_es 0.38,
    /// S_D 345 cm², 40 g gives 21.8 Hz, ρ 1.204, c 343.2.
    #[test]
    fn worked_chain_from_weight_to_level() {
        let driver = electrical(28.0, 4.8, 0.38, 6.2, (1.204, 343.2));
        let mass = mass_of_weights(28.0, &[(0.040, 21.8)], 0.0).unwrap();
        let mut values = Vec::new();
        driver.push_mass(&mut values, mass);
        driver.push_volume(&mut values, driver.v_as_m3(mass, 0.0345));
        let of = |name: &str| values.iter().find(|(n, _)| *n == name).expect(name).1;
        near(of("m_ms_kg") * 1e3, 61.5676, 1e-4);
        near(of("c_ms_m_per_n") * 1e3, 0.524774, 1e-6);
        near(of("r_ms_kg_per_s"), 2.25657, 1e-5);
        near(of("bl_t_m"), 13.2938, 1e-4);
        near(of("v_as_m3") * 1e3, 88.5791, 1e-4);
        near(of("eta_0") * 100.0, 0.499735, 1e-6);
        near(of("level_1_w_db"), 89.1467, 1e-4);
        near(of("level_2_83_v_db"), 90.2585, 1e-4);
        near(driver.mass_of_volume(of("v_as_m3"), 0.0345), mass, 1e-15);
        near(driver.area_of(mass, of("v_as_m3")), 0.0345, 1e-15);
        // Efficiency by its second form, ρ(Bl)²S_D²/(2πcR_eM_ms²).
        let second = 1.204 * (of("bl_t_m") * 0.0345).powi(2) / (TAU * 343.2 * 6.2 * mass * mass);
        near(second, of("eta_0"), 1e-12);
    }
}
