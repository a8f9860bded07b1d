//! First movements in a take: pushes of the cone, or a cell that touches the input.
//!
//! Method: hum is averaged out (`quiet_track`); movements are told apart by pauses; the first lobe of each counts, because a hand that lets go moves the cone back. The AC coupling of an input
//! turns a one-sided lobe into one with an undershoot; its beginning keeps its sign.

use super::polarity::{Movement, CLEAR};
use crate::math::robust::quantile;
use crate::signal::quiet_track::{quiet_track, LOOK_HZ};
use crate::signal::take::Take;

/// Pause that parts two pushes.
const PAUSE_S: f64 = 1.0;
/// What came shortly before a movement may have been its true beginning.
const BEFORE_S: f64 = 0.4;
/// Noise is measured in blocks of this length; the quieter part of them holds no movement.
const BLOCK_S: f64 = 0.2;
/// A movement stands this far above the noise, and holds at least this part of the largest one.
const ABOVE_NOISE: f64 = 8.0;
const PART_OF_LARGEST: f64 = 0.01;
/// Movements smaller than this part of the largest are touches, not pushes.
const PUSH_PART: f64 = 0.1;
/// Below this nothing was connected or nothing moved, whatever the noise (full scale 1).
const LEAST_PEAK: f64 = 1e-4;

/// Movements of a take, in order of time.
pub(super) fn movements(take: &Take, channel: usize) -> Vec<Movement> {
    let Some(samples) = take.channel(channel) else { return Vec::new() };
    let track = quiet_track(samples, take.rate_hz());
    let noise = noise_of(&track);
    let largest = track.iter().fold(0.0f64, |m, v| m.max(v.abs()));
    let threshold = (ABOVE_NOISE * noise).max(PART_OF_LARGEST * largest);
    if largest < LEAST_PEAK || threshold > 0.5 * largest {
        return Vec::new();
    }
    let groups = groups(&track, threshold);
    let of = |group: &(usize, usize)| movement(&track, *group, threshold, noise);
    groups.iter().filter(|g| peak(&track[g.0..g.1]) >= PUSH_PART * largest).map(of).collect()
}

/// Root mean square of the quiet blocks.
fn noise_of(track: &[f64]) -> f64 {
    let block = (BLOCK_S * LOOK_HZ) as usize;
    let rms: Vec<f64> =
        track.chunks_exact(block).map(|b| (b.iter().map(|v| v * v).sum::<f64>() / b.len() as f64).sqrt()).collect();
    quantile(&rms, 0.2).unwrap_or(f64::INFINITY)
}

fn peak(track: &[f64]) -> f64 {
    track.iter().fold(0.0, |m, v| m.max(v.abs()))
}

/// Stretches that exceed the threshold, pauses shorter than [`PAUSE_S`] included. What was under way when the take began
/// has lost its beginning.
fn groups(track: &[f64], threshold: f64) -> Vec<(usize, usize)> {
    let pause = (PAUSE_S * LOOK_HZ) as usize;
    let mut groups: Vec<(usize, usize)> = Vec::new();
    for (i, _) in track.iter().enumerate().filter(|(_, v)| v.abs() > threshold) {
        match groups.last_mut() {
            Some((_, to)) if i - *to < pause => *to = i + 1,
            _ => groups.push((i, i + 1)),
        }
    }
    groups.retain(|(from, _)| *from > (BLOCK_S * LOOK_HZ) as usize / 2);
    groups
}

fn movement(track: &[f64], (from, _): (usize, usize), threshold: f64, noise: f64) -> Movement {
    let sign = track[from].signum();
    let lobe = track[from..].iter().take_while(|v| **v * sign > 0.0).fold(0.0f64, |m, v| m.max(v.abs()));
    let before = from.saturating_sub((BEFORE_S * LOOK_HZ) as usize);
    let against = track[before..from].iter().fold(0.0f64, |m, v| m.max(-v * sign));
    let margin = lobe / against.max(threshold / CLEAR).max(noise);
    Movement { time_s: from as f64 / LOOK_HZ, sign, margin }
}
