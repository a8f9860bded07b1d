//! Seeded random numbers: the same seed gives the same sequence for ever, natively and as wasm.
//!
//! Generator: xoshiro256++ (Blackman and Vigna), seeded through SplitMix64. Not for secrets.

/// A seeded source of random numbers.
#[derive(Clone, Debug)]
pub struct Random {
    state: [u64; 4],
    spare_normal: Option<f64>,
}

impl Random {
    /// A source for this seed; nearby seeds give unrelated sequences.
    pub fn new(seed: u64) -> Self {
        let mut mixer = seed;
        let mut next = || {
            mixer = mixer.wrapping_add(0x9E37_79B9_7F4A_7C15);
            let mut z = mixer;
            z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
            z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
            z ^ (z >> 31)
        };
        Random { state: [next(), next(), next(), next()], spare_normal: None }
    }

    /// 64 random bits.
    pub fn bits(&mut self) -> u64 {
        let s = &mut self.state;
        let out = s[0].wrapping_add(s[3]).rotate_left(23).wrapping_add(s[0]);
        let shifted = s[1] << 17;
        s[2] ^= s[0];
        s[3] ^= s[1];
        s[1] ^= s[2];
        s[0] ^= s[3];
        s[2] ^= shifted;
        s[3] = s[3].rotate_left(45);
        out
    }

    /// Even in 0 ≤ u < 1, 53 bits.
    pub fn uniform(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Even between two limits.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }

    /// A whole number in 0 ≤ k < count; 0 for a count of 0. The bias of 2⁻⁵³·count does not matter here.
    pub fn below(&mut self, count: usize) -> usize {
        ((self.uniform() * count as f64) as usize).min(count.saturating_sub(1))
    }

    /// Standard normal (Marsaglia's polar method).
    pub fn normal(&mut self) -> f64 {
        if let Some(spare) = self.spare_normal.take() {
            return spare;
        }
        loop {
            let (u, v) = (self.between(-1.0, 1.0), self.between(-1.0, 1.0));
            let s = u * u + v * v;
            if s > 0.0 && s < 1.0 {
                let factor = (-2.0 * s.ln() / s).sqrt();
                self.spare_normal = Some(v * factor);
                return u * factor;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_reference_sequence_of_the_generator() {
        // First outputs for state (1, 2, 3, 4), worked by hand from the definition:
        // rotl(1 + 4, 23) + 1 = 5·2²³ + 1 = 41943041.
        let mut random = Random { state: [1, 2, 3, 4], spare_normal: None };
        assert_eq!(random.bits(), 41_943_041);
        // Next state: s = (7, 0, 262146, 6 rotl 45): rotl(7 + 6·2⁴⁵, 23) + 7 = 7·2²³ + 6·2⁶⁸ mod rotation (12·2³) + 7.
        assert_eq!(random.bits(), (7_u64 + (6_u64 << 45)).rotate_left(23).wrapping_add(7));
    }

    #[test]
    fn moments_of_uniform_and_normal() {
        let mut random = Random::new(7);
        let n = 100_000;
        let uniform: f64 = (0..n).map(|_| random.uniform()).sum::<f64>() / f64::from(n);
        let normals: Vec<f64> = (0..n).map(|_| random.normal()).collect();
        let mean = normals.iter().sum::<f64>() / f64::from(n);
        let square = normals.iter().map(|x| x * x).sum::<f64>() / f64::from(n);
        // Four standard deviations of each statistic: 1/√(12n), 1/√n, √(2/n).
        let root = f64::from(n).sqrt();
        assert!((uniform - 0.5).abs() < 4.0 / (12.0_f64.sqrt() * root));
        assert!(mean.abs() < 4.0 / root);
        assert!((square - 1.0).abs() < 4.0 * 2.0_f64.sqrt() / root);
    }

    #[test]
    fn whole_numbers_stay_below() {
        let mut random = Random::new(1);
        assert!((0..1000).all(|_| random.below(3) < 3));
        assert_eq!(random.below(0), 0);
    }
}
