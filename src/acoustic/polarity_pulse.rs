//! The first arrival of a repeated one-sided pulse, heard by a microphone close to the cone.
//!
//! Near a cone pressure follows its acceleration, and a voltage pulse accelerates the cone first of all the way in which
//! it moves for that voltage: the sign of the first arrival is that of the driver's polarity, whatever rings afterwards
//! and however a crossover delays it. Method: all periods are laid on each other and averaged; the first lobe before the
//! peak that stands clear of what was heard before it.

use super::polarity::{Movement, CLEAR};
use crate::signal::take::Take;

/// The pulse comes once a second ([`crate::signal::stimulus::Shape::Pulse`]).
pub const PERIOD_S: f64 = 1.0;
/// How far before its peak the sound of a pulse begins at most: a woofer's own slowness and a crossover's.
const RISE_S: f64 = 0.03;
/// Noise is heard over this long before the rise.
const QUIET_S: f64 = 0.25;
/// A lobe stands this far above the noise.
const ABOVE_NOISE: f64 = 5.0;
/// A first lobe smaller than this part of the peak is doubtful: rooms and neighbours speak as loudly.
const PART_OF_PEAK: f64 = 0.08;
/// The peak over the noise before it below which nothing was heard.
const HEARD: f64 = 12.0;

/// The first arrival; none where no pulse is heard.
pub(super) fn first_arrival(take: &Take, channel: usize) -> Option<Movement> {
    let samples = take.channel(channel)?;
    let period = (PERIOD_S * take.rate_hz()).round() as usize;
    let folded = fold(samples, period)?;
    let at_peak = (0..period).max_by(|a, b| folded[*a].abs().total_cmp(&folded[*b].abs()))?;
    let (rise, quiet) = ((RISE_S * take.rate_hz()) as usize, (QUIET_S * take.rate_hz()) as usize);
    // Turned so that the stretch before the peak lies in one piece.
    let place = |back: usize| (at_peak + period - back % period) % period;
    let before: Vec<f64> = (rise + 1..=rise + quiet).map(|back| folded[place(back)]).collect();
    let rest = before.iter().sum::<f64>() / before.len() as f64;
    let noise = (before.iter().map(|v| (v - rest).powi(2)).sum::<f64>() / before.len() as f64).sqrt();
    let worst = before.iter().fold(0.0f64, |m, v| m.max((v - rest).abs()));
    let peak = (folded[at_peak] - rest).abs();
    if peak < HEARD * noise || peak < 1e-6 {
        return None;
    }
    let threshold = (ABOVE_NOISE * noise).max(PART_OF_PEAK * peak);
    let first = (0..=rise).rev().find(|back| (folded[place(*back)] - rest).abs() > threshold)?;
    let sign = (folded[place(first)] - rest).signum();
    let lobe = lobe_peak(&folded, place(first), rest, sign, period);
    // What opposed it, from the quiet stretch up to its beginning.
    let opposed = (first + 1..=rise).map(|back| -(folded[place(back)] - rest) * sign).fold(0.0f64, f64::max);
    let margin = lobe / opposed.max(worst).max(threshold / CLEAR);
    Some(Movement { time_s: place(first) as f64 / take.rate_hz(), sign, margin })
}

/// Mean over whole periods; two at least.
fn fold(samples: &[f64], period: usize) -> Option<Vec<f64>> {
    let count = samples.len().checked_div(period)?;
    if count < 2 {
        return None;
    }
    let mut folded = vec![0.0; period];
    for one in samples.chunks_exact(period) {
        folded.iter_mut().zip(one).for_each(|(f, s)| *f += s / count as f64);
    }
    Some(folded)
}

/// Height of the lobe of one sign that begins at `from`.
fn lobe_peak(folded: &[f64], from: usize, rest: f64, sign: f64, period: usize) -> f64 {
    let values = (0..period).map(|ahead| (folded[(from + ahead) % period] - rest) * sign);
    values.take_while(|v| *v > 0.0).fold(0.0, f64::max)
}
