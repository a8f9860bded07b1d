//! How the resistance of a copper coil follows its temperature.
//!
//! R(T) = R(20 °C) (1 + α (T − 20)), α = 1/254.5 = 0.00393 per kelvin (annealed copper at 20 °C by IEC 60028, from
//! memory). Aluminium has 0.0040: within 20 K of 20 °C the two differ by less than 0.15 %.

/// α of copper at 20 °C, per kelvin.
pub const COPPER_PER_KELVIN: f64 = 0.003_93;

/// How many times smaller a resistance is at 20 °C than at `temperature_c`.
pub fn to_20_c(temperature_c: f64) -> f64 {
    1.0 / (1.0 + COPPER_PER_KELVIN * (temperature_c - 20.0))
}

/// Standard uncertainty of a coil's temperature in kelvin; common practice, no source. Read off: the coil follows the
/// room slowly, and a household thermometer is off by a kelvin. Not read off: a workshop at about 20 °C.
pub fn temperature_uncertainty_k(stated: bool) -> f64 {
    if stated {
        1.0
    } else {
        3.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn five_kelvin_are_two_per_cent() {
        // By hand: 1/(1 + 0.00393 × 5) = 1/1.01965 = 0.980729; half a unit of the last digit.
        assert!((to_20_c(25.0) - 0.980_729).abs() < 5e-7);
        assert_eq!(to_20_c(20.0), 1.0);
        // 1/254.5 rounds to the same five decimals.
        assert!((1.0 / 254.5 - COPPER_PER_KELVIN).abs() < 5e-6);
    }
}
