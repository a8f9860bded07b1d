//! Analogue poles, discretised.
use std::f64::consts::{PI, TAU};

/// An RC high-pass (a coupling capacitor), exact for a voltage that runs straight between samples.
#[derive(Clone, Debug)]
pub struct HighPass {
    decay: f64,
    slope_gain: f64,
    last_input: f64,
    output: f64,
}

impl HighPass {
    /// Corner in Hz; 0 passes everything.
    pub fn new(corner_hz: f64, rate_hz: f64) -> HighPass {
        let a = TAU * corner_hz / rate_hz;
        // y' = x' − ω y with x' constant over the sample: y ← y e^{−a} + Δx (1 − e^{−a})/a.
        let slope_gain = if a > 0.0 { -(-a).exp_m1() / a } else { 1.0 };
        HighPass { decay: (-a).exp(), slope_gain, last_input: 0.0, output: 0.0 }
    }

    /// One sample.
    pub fn push(&mut self, x: f64) -> f64 {
        self.output = self.output * self.decay + (x - self.last_input) * self.slope_gain;
        self.last_input = x;
        self.output
    }
}

/// A second-order section.
#[derive(Clone, Debug)]
pub struct Biquad {
    b: [f64; 3],
    a: [f64; 2],
    x: [f64; 2],
    y: [f64; 2],
}

impl Biquad {
    /// Second-order high-pass (bilinear, its corner kept in place).
    pub fn high_pass(corner_hz: f64, q: f64, rate_hz: f64) -> Biquad {
        let k = (PI * corner_hz / rate_hz).tan();
        let norm = 1.0 + k / q + k * k;
        Biquad {
            b: [1.0 / norm, -2.0 / norm, 1.0 / norm],
            a: [2.0 * (k * k - 1.0) / norm, (1.0 - k / q + k * k) / norm],
            x: [0.0; 2],
            y: [0.0; 2],
        }
    }

    /// First-order low-pass (bilinear, its corner kept in place); at or above 0.49 of the rate it passes everything.
    pub fn low_pass_first_order(corner_hz: f64, rate_hz: f64) -> Biquad {
        let (b, a) = if corner_hz <= 0.0 || corner_hz >= 0.49 * rate_hz {
            ([1.0, 0.0, 0.0], [0.0, 0.0])
        } else {
            let k = (PI * corner_hz / rate_hz).tan();
            ([k / (1.0 + k), k / (1.0 + k), 0.0], [(k - 1.0) / (1.0 + k), 0.0])
        };
        Biquad { b, a, x: [0.0; 2], y: [0.0; 2] }
    }

    /// Second-order resonance (band-pass of unit gain at its centre).
    pub fn resonance(centre_hz: f64, q: f64, rate_hz: f64) -> Biquad {
        let k = (PI * centre_hz / rate_hz).tan();
        let norm = 1.0 + k / q + k * k;
        Biquad {
            b: [k / q / norm, 0.0, -k / q / norm],
            a: [2.0 * (k * k - 1.0) / norm, (1.0 - k / q + k * k) / norm],
            x: [0.0; 2],
            y: [0.0; 2],
        }
    }

    /// One sample.
    pub fn push(&mut self, x: f64) -> f64 {
        let y = self.b[0] * x + self.b[1] * self.x[0] + self.b[2] * self.x[1]
            - self.a[0] * self.y[0]
            - self.a[1] * self.y[1];
        self.x = [x, self.x[0]];
        self.y = [y, self.y[0]];
        y
    }
}

/// A delay by a part of a sample: first-order all-pass, flat in amplitude, right at low frequencies.
#[derive(Clone, Debug)]
pub struct FractionalDelay {
    coefficient: f64,
    x: f64,
    y: f64,
}

impl FractionalDelay {
    /// Delay in samples, 0 to 1; 0 passes everything.
    pub fn new(samples: f64) -> FractionalDelay {
        let d = samples.clamp(0.0, 1.0);
        FractionalDelay { coefficient: (1.0 - d) / (1.0 + d), x: 0.0, y: 0.0 }
    }

    /// One sample.
    pub fn push(&mut self, x: f64) -> f64 {
        // At d = 0 the all-pass has pole and zero at −1; it is left out instead.
        if self.coefficient >= 1.0 {
            return x;
        }
        let y = self.coefficient * (x - self.y) + self.x;
        self.x = x;
        self.y = y;
        y
    }
}
