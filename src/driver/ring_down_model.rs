//! The ring of a knocked cone as the input records it: columns of the linear part and their derivatives.
//!
//! After the knock the cone is left alone, so what is recorded is a sum of the system's own free motions:
//! the cone's damped sinusoid; one exponential for every real pole of the input (the AC coupling of a sound card);
//! a damped sinusoid for every pair of poles of the input (the roll-off of a microphone) or of a second mode;
//! a constant; and the hum of the mains. All amplitudes are linear. A filter whose own motion were left out would pull
//! the resonance towards itself, which is why the poles are parameters and not corrections.
//!
//! Symbols: f natural frequency in Hz, Q = 1/(2ζ), α = πf/Q decay in 1/s, ω_d = 2πf√(1 − 1/4Q²).
//! Reference: free vibration with viscous damping (any textbook); variable projection, Golub and Pereyra 1973.
//! Valid for Q above 0.5 (a cone that rings at all).

use super::ring_down_noise::Whitener;
use super::ring_down_projection::Projection;
use std::f64::consts::PI;

/// How the ring's envelope and pitch depend on its amplitude.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Law {
    /// A plain damped sinusoid.
    Exponential,
    /// Pitch and decay shift with the amplitude's `power`: two parameters (relative pitch shift and decay shift in 1/s,
    /// both at the reference amplitude).
    Amplitude {
        /// 1 or 2.
        power: f64,
    },
    /// Dry friction beside the viscous loss: the envelope obeys a' = −αa − c, a straight line near its end.
    /// One parameter: c at the reference amplitude, in 1/s.
    Friction,
    /// The input's gain falls (or rises) behind the ring and then holds: the decay bends in time and the pitch does not.
    /// One parameter: the fall in nepers over the square of the first time constant, strength 1.
    Gain,
}

/// Which parameters the fit has, besides frequency and Q for every condition.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Shape {
    /// Conditions (equal load and weight), each with its own frequency and Q.
    pub conditions: usize,
    /// Real poles of the input.
    pub real_poles: usize,
    /// Pole pairs of the input and second modes, all of one kind for the model.
    pub pairs: usize,
    /// Amplitude law.
    pub law: Law,
}

impl Shape {
    /// Number of nonlinear parameters.
    pub(super) fn parameters(&self) -> usize {
        self.law_at() + self.law_parameters()
    }
    /// Place of the frequency (natural logarithm of Hz) of a condition; its Q (logarithm) follows.
    pub(super) fn condition_at(&self, condition: usize) -> usize {
        2 * condition
    }
    /// Place of a real pole (logarithm of its corner in Hz).
    pub(super) fn real_at(&self, pole: usize) -> usize {
        2 * self.conditions + pole
    }
    /// Place of a pair (logarithms of frequency in Hz and Q).
    pub(super) fn pair_at(&self, pair: usize) -> usize {
        2 * self.conditions + self.real_poles + 2 * pair
    }
    /// Place of the law's parameters.
    pub(super) fn law_at(&self) -> usize {
        self.pair_at(self.pairs)
    }
    fn law_parameters(&self) -> usize {
        match self.law {
            Law::Exponential => 0,
            Law::Amplitude { .. } => 2,
            Law::Friction | Law::Gain => 1,
        }
    }
}

/// One ring, ready to be fitted.
#[derive(Clone, Debug)]
pub(super) struct Ring {
    /// Samples at a low rate.
    pub samples: Vec<f64>,
    /// Samples a second.
    pub rate_hz: f64,
    /// Which condition it belongs to.
    pub condition: usize,
    /// Mains lines present in the take, in Hz.
    pub hum_hz: Vec<f64>,
    /// Standard deviation of the noise of one sample.
    pub noise: f64,
    /// Makes the noise white; applied to data and model alike.
    pub whitener: Whitener,
    /// Amplitude at the first sample over the reference amplitude, from the fit before.
    pub strength: f64,
    /// Decay in 1/s from the fit before, for the amplitude laws.
    pub decay_per_s: f64,
    /// What does not change with the parameters, worked out once.
    pub prepared: Prepared,
}

/// The constant and the hum, whitened and made orthonormal, and the whitened samples without them.
#[derive(Clone, Debug, Default)]
pub(super) struct Prepared {
    /// Whitened samples, cleared of constant and hum.
    pub data: Vec<f64>,
    nuisance: Option<Projection>,
}

impl Prepared {
    /// Columns taken out.
    pub(super) fn rank(&self) -> usize {
        self.nuisance.as_ref().map_or(0, Projection::rank)
    }
}

/// Decay in 1/s and damped angular frequency in rad/s with their derivatives by ln f and ln Q.
struct Pole {
    alpha: f64,
    omega: f64,
    omega_by_ln_q: f64,
}

fn pole(ln_f: f64, ln_q: f64) -> Option<Pole> {
    let (w, q) = (2.0 * PI * ln_f.exp(), ln_q.exp());
    let root = 1.0 - 1.0 / (4.0 * q * q);
    (root > 1e-6 && w.is_finite()).then(|| {
        let omega = w * root.sqrt();
        Pole { alpha: w / (2.0 * q), omega, omega_by_ln_q: w / (4.0 * q * q * root.sqrt()) }
    })
}

impl Ring {
    fn times(&self) -> impl Iterator<Item = f64> + '_ {
        (0..self.samples.len()).map(move |n| n as f64 / self.rate_hz)
    }

    /// Integral of (a/a_ref)^power from nought to t, for an envelope that decays as in the fit before.
    fn shift_integral(&self, power: f64, t: f64) -> f64 {
        let rate = power * self.decay_per_s;
        self.strength.powf(power) * -(-rate * t).exp_m1() / rate
    }

    /// Fall of the gain by a time, one parameter being 1: with the square of the time at first (a control looks at the mean
    /// over a while, then steers), held after about three time constants.
    fn gain_fall(&self, t: f64) -> f64 {
        let x = (self.decay_per_s * t).powi(2);
        x / (1.0 + x / 9.0)
    }

    /// Works out what does not change with the parameters; to be called when samples, hum or whitener were set.
    pub(super) fn prepare(&mut self) {
        let columns: Vec<Vec<f64>> = self.nuisance_columns().iter().map(|c| self.whitener.apply(c)).collect();
        let nuisance = Projection::new(&columns);
        let data = nuisance.residual(&self.whitener.apply(&self.samples));
        self.prepared = Prepared { data, nuisance: Some(nuisance) };
    }

    /// Whitens a column and clears it of constant and hum.
    pub(super) fn clear(&self, column: &[f64]) -> Vec<f64> {
        let mut white = self.whitener.apply(column);
        if let Some(nuisance) = &self.prepared.nuisance {
            nuisance.clear(&mut white);
        }
        white
    }

    /// Constant, then cosine and sine of each line of the mains.
    pub(super) fn nuisance_columns(&self) -> Vec<Vec<f64>> {
        let mut columns = vec![vec![1.0; self.samples.len()]];
        for f in &self.hum_hz {
            let (c, s) = self.times().map(|t| sinusoid(0.0, 2.0 * PI * f * t)).unzip();
            columns.extend([c, s]);
        }
        columns
    }

    /// A damped sinusoid by its recurrence: cosine and sine.
    fn damped(&self, alpha: f64, omega: f64) -> (Vec<f64>, Vec<f64>) {
        let step = 1.0 / self.rate_hz;
        let (turn_c, turn_s) = sinusoid(-alpha * step, omega * step);
        let (mut c, mut s) = (1.0, 0.0);
        (0..self.samples.len())
            .map(|_| {
                let now = (c, s);
                (c, s) = (c * turn_c - s * turn_s, s * turn_c + c * turn_s);
                now
            })
            .unzip()
    }

    /// Columns of the ring (two), then of poles and pairs. None outside the valid range.
    pub(super) fn columns(&self, shape: &Shape, p: &[f64]) -> Option<Vec<Vec<f64>>> {
        let mut columns = Vec::with_capacity(2 + shape.real_poles + 2 * shape.pairs);
        self.push_main(shape, p, &mut columns)?;
        for k in 0..shape.real_poles {
            let rate = 2.0 * PI * p[shape.real_at(k)].exp();
            columns.push(self.damped(rate, 0.0).0);
        }
        for k in 0..shape.pairs {
            let at = shape.pair_at(k);
            let pair = pole(p[at], p[at + 1])?;
            let (c, s) = self.damped(pair.alpha, pair.omega);
            columns.extend([c, s]);
        }
        Some(columns)
    }

    fn push_main(&self, shape: &Shape, p: &[f64], columns: &mut Vec<Vec<f64>>) -> Option<()> {
        let at = shape.condition_at(self.condition);
        let main = pole(p[at], p[at + 1])?;
        let law = shape.law_at();
        let (c, s) = match shape.law {
            Law::Exponential => self.damped(main.alpha, main.omega),
            Law::Amplitude { power } => {
                let (pitch, decay) = (main.omega * p[law], p[law + 1]);
                self.times()
                    .map(|t| (t, self.shift_integral(power, t)))
                    .map(|(t, g)| sinusoid(-main.alpha * t - decay * g, main.omega * t + pitch * g))
                    .unzip()
            }
            Law::Gain => {
                self.times().map(|t| sinusoid(-main.alpha * t - p[law] * self.gain_fall(t), main.omega * t)).unzip()
            }
            Law::Friction => {
                let ratio = p[law] / (main.alpha * self.strength);
                self.times()
                    .map(|t| (friction_envelope(main.alpha * t, ratio), main.omega * t))
                    .map(|(a, phase)| (a * phase.cos(), a * phase.sin()))
                    .unzip()
            }
        };
        columns.extend([c, s]);
        Some(())
    }

    /// Derivatives of the model by every parameter that touches this ring, the amplitudes held:
    /// (place of the parameter, column). `columns` and `amplitudes` as they belong to `p`.
    pub(super) fn derivatives(
        &self,
        shape: &Shape,
        p: &[f64],
        columns: &[Vec<f64>],
        amplitudes: &[f64],
    ) -> Vec<(usize, Vec<f64>)> {
        let mut out = Vec::with_capacity(shape.parameters());
        self.main_derivatives(shape, p, columns, amplitudes, &mut out);
        for k in 0..shape.real_poles {
            let rate = 2.0 * PI * p[shape.real_at(k)].exp();
            let (column, amplitude) = (&columns[2 + k], amplitudes[2 + k]);
            let slope = self.times().zip(column).map(|(t, c)| -rate * t * amplitude * c).collect();
            out.push((shape.real_at(k), slope));
        }
        for k in 0..shape.pairs {
            let (at, first) = (shape.pair_at(k), 2 + shape.real_poles + 2 * k);
            let Some(pair) = pole(p[at], p[at + 1]) else { continue };
            let (even, odd) = in_and_out_of_phase(&columns[first..first + 2], &amplitudes[first..first + 2]);
            out.push((at, self.slope(&even, &odd, |t| (-pair.alpha * t, pair.omega * t))));
            out.push((at + 1, self.slope(&even, &odd, |t| (pair.alpha * t, pair.omega_by_ln_q * t))));
        }
        out
    }

    fn main_derivatives(
        &self,
        shape: &Shape,
        p: &[f64],
        columns: &[Vec<f64>],
        amplitudes: &[f64],
        out: &mut Vec<(usize, Vec<f64>)>,
    ) {
        let at = shape.condition_at(self.condition);
        let Some(main) = pole(p[at], p[at + 1]) else { return };
        let (even, odd) = in_and_out_of_phase(&columns[0..2], &amplitudes[0..2]);
        let law = shape.law_at();
        match shape.law {
            Law::Exponential | Law::Gain => {
                out.push((at, self.slope(&even, &odd, |t| (-main.alpha * t, main.omega * t))));
                out.push((at + 1, self.slope(&even, &odd, |t| (main.alpha * t, main.omega_by_ln_q * t))));
                if shape.law == Law::Gain {
                    out.push((law, self.slope(&even, &odd, |t| (-self.gain_fall(t), 0.0))));
                }
            }
            Law::Amplitude { power } => {
                let g = |t| self.shift_integral(power, t);
                let pitch = p[law];
                out.push((at, self.slope(&even, &odd, |t| (-main.alpha * t, main.omega * (t + pitch * g(t))))));
                let by_q = |t: f64| (main.alpha * t, main.omega_by_ln_q * (t + pitch * g(t)));
                out.push((at + 1, self.slope(&even, &odd, by_q)));
                out.push((law, self.slope(&even, &odd, |t| (0.0, main.omega * g(t)))));
                out.push((law + 1, self.slope(&even, &odd, |t| (-g(t), 0.0))));
            }
            Law::Friction => self.friction_derivatives(&main, p[law], (at, law), [amplitudes[0], amplitudes[1]], out),
        }
    }

    fn friction_derivatives(
        &self,
        main: &Pole,
        friction: f64,
        (at, law): (usize, usize),
        amplitudes: [f64; 2],
        out: &mut Vec<(usize, Vec<f64>)>,
    ) {
        let ratio = friction / (main.alpha * self.strength);
        let mut slopes = [Vec::new(), Vec::new(), Vec::new()];
        for t in self.times() {
            let x = main.alpha * t;
            let envelope = friction_envelope(x, ratio);
            let (c, s) = ((main.omega * t).cos(), (main.omega * t).sin());
            let even = amplitudes[0] * c + amplitudes[1] * s;
            let odd = amplitudes[1] * c - amplitudes[0] * s;
            // d/d ln α at fixed friction c: the ratio goes as 1/α.
            let (by_x, by_ratio) =
                if envelope > 0.0 { (-(1.0 + ratio) * (-x).exp(), (-x).exp_m1()) } else { (0.0, 0.0) };
            let by_ln_alpha = x * by_x - ratio * by_ratio;
            slopes[0].push(even * by_ln_alpha + envelope * odd * main.omega * t);
            slopes[1].push(-even * by_ln_alpha + envelope * odd * main.omega_by_ln_q * t);
            slopes[2].push(even * by_ratio / (main.alpha * self.strength));
        }
        let [by_f, by_q, by_friction] = slopes;
        out.extend([(at, by_f), (at + 1, by_q), (law, by_friction)]);
    }

    /// Derivative of a damped sinusoid whose log-envelope and phase change by `change(t)` each unit of the parameter.
    fn slope(&self, even: &[f64], odd: &[f64], change: impl Fn(f64) -> (f64, f64)) -> Vec<f64> {
        self.times()
            .zip(even.iter().zip(odd))
            .map(|(t, (e, o))| {
                let (envelope, phase) = change(t);
                e * envelope + o * phase
            })
            .collect()
    }
}

fn sinusoid(log_envelope: f64, phase: f64) -> (f64, f64) {
    let a = log_envelope.exp();
    (a * phase.cos(), a * phase.sin())
}

/// Solution of da/dx = −a − ratio from a = 1, nought once the cone sticks.
fn friction_envelope(x: f64, ratio: f64) -> f64 {
    ((1.0 + ratio) * (-x).exp() - ratio).max(0.0)
}

/// The sinusoid itself and the one a quarter period ahead of it (its derivative by phase).
fn in_and_out_of_phase(pair: &[Vec<f64>], amplitudes: &[f64]) -> (Vec<f64>, Vec<f64>) {
    pair[0]
        .iter()
        .zip(&pair[1])
        .map(|(c, s)| (amplitudes[0] * c + amplitudes[1] * s, amplitudes[1] * c - amplitudes[0] * s))
        .unzip()
}

#[cfg(test)]
#[path = "ring_down_model_tests.rs"]
mod tests;
