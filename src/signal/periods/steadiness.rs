//! Which periods agree: delays between them, distances, spoiled ones.

use super::{Dropped, Slip};
use crate::math::fft::{self, Complex64};
use crate::math::robust;
use std::f64::consts::PI;

/// Lines with at least this part of the strongest line's power decide about spoiled periods.
const STRONG: f64 = 1e-5;
/// A period is spoiled when its distance (energy) from the centre is this many times the lower quartile. The distance of
/// pure noise sums thousands of lines and varies by a few per cent; 6 leaves room for a room that is not steady.
const SPOILED_TIMES: f64 = 6.0;
/// Relative distance (energy) below which no period is spoiled: −80 dB.
const NEVER_SPOILED: f64 = 1e-8;
/// Relative distance above which a delay is looked for.
const LOOK_FOR_DELAY: f64 = 1e-4;
/// Products formed at most when comparing all periods with each other.
const COMPARISONS: f64 = 2e7;

/// Lines on which the reference channel is strong in the middle period; never the one at zero.
pub fn strong_lines(spectra: &[Vec<Vec<Complex64>>], reference: usize) -> Vec<usize> {
    let periods = &spectra[reference];
    let middle = &periods[periods.len() / 2];
    let strongest = middle.iter().skip(1).map(|z| z.norm_sqr()).fold(0.0, f64::max);
    (1..middle.len()).filter(|&k| middle[k].norm_sqr() > STRONG * strongest).collect()
}

/// Turns every period back to the phase of the middle one; returns the delays in samples (positive: it came too early,
/// samples were lost before it).
pub fn align(spectra: &mut [Vec<Vec<Complex64>>], reference: usize, samples: usize, strong: &[usize]) -> Vec<f64> {
    let periods = &spectra[reference];
    let centre = periods[periods.len() / 2].clone();
    let energy: f64 = strong.iter().map(|&l| centre[l].norm_sqr()).sum();
    let delays: Vec<f64> = periods
        .iter()
        .map(|period| {
            let distance: f64 = strong.iter().map(|&l| (period[l] - centre[l]).norm_sqr()).sum();
            if distance < LOOK_FOR_DELAY * energy {
                0.0
            } else {
                delay(period, &centre, samples, strong)
            }
        })
        .collect();
    for channel in spectra {
        for (period, delay) in channel.iter_mut().zip(&delays) {
            turn(period, -delay, samples);
        }
    }
    delays
}

/// By how many samples a period is ahead of the centre, to a fraction of a sample.
fn delay(period: &[Complex64], centre: &[Complex64], samples: usize, strong: &[usize]) -> f64 {
    let mut cross = vec![Complex64::default(); period.len()];
    for &l in strong {
        cross[l] = period[l] * centre[l].conj();
    }
    let correlation = fft::real_inverse(&cross, samples);
    let peak = (0..samples).fold(0, |best, n| if correlation[n] > correlation[best] { n } else { best });
    let ahead = if peak > samples / 2 { (samples - peak) as f64 } else { -(peak as f64) };
    // What is left is a slope of phase, fitted with the lines' power as weight.
    let (mut slope, mut weight) = (0.0, 0.0);
    for &l in strong {
        let omega = 2.0 * PI * l as f64 / samples as f64;
        let turned = cross[l] * Complex64::cis(-omega * ahead);
        slope += omega * turned.im;
        weight += omega * omega * cross[l].norm();
    }
    let rest = if weight > 0.0 { slope / weight } else { 0.0 };
    // Below a hundredth of a sample it is noise; above one it is no rest of a delay.
    if (0.01..1.0).contains(&rest.abs()) {
        ahead + rest
    } else {
        ahead
    }
}

/// Advances a period by some samples.
fn turn(period: &mut [Complex64], advance: f64, samples: usize) {
    if advance != 0.0 {
        for (l, value) in period.iter_mut().enumerate() {
            *value *= Complex64::cis(2.0 * PI * l as f64 * advance / samples as f64);
        }
    }
}

/// Distance (energy of the difference over energy, summed over channels) of each period from the one closest to the rest.
pub fn distances_from_centre(spectra: &[Vec<Vec<Complex64>>], strong: &[usize]) -> Vec<f64> {
    let count = spectra[0].len();
    let products = (count * count) as f64 * (strong.len() * spectra.len()) as f64 / 2.0;
    let stride = ((products / COMPARISONS) as usize).max(1);
    let lines: Vec<usize> = strong.iter().copied().step_by(stride).collect();
    let energies: Vec<f64> = spectra
        .iter()
        .map(|c| c.iter().flat_map(|p| lines.iter().map(|&l| p[l].norm_sqr())).sum::<f64>() / count as f64)
        .collect();
    let mut distances = vec![vec![0.0; count]; count];
    for i in 0..count {
        for j in 0..i {
            let mut sum = 0.0;
            for (channel, energy) in spectra.iter().zip(&energies) {
                let (a, b) = (&channel[i], &channel[j]);
                let difference: f64 = lines.iter().map(|&l| (a[l] - b[l]).norm_sqr()).sum();
                sum += difference / energy.max(f64::MIN_POSITIVE);
            }
            distances[i][j] = sum;
            distances[j][i] = sum;
        }
    }
    // The lower median of a row is that of the majority even where half of the periods are spoiled.
    let typical = |row: &[f64]| robust::quantile(row, 0.4).unwrap_or(0.0);
    let centre =
        (0..count).fold(0, |best, i| if typical(&distances[i]) < typical(&distances[best]) { i } else { best });
    distances.swap_remove(centre)
}

/// Indices to keep, and those to drop with their distances. The centre itself has distance 0.
pub fn sort_out(distances: &[f64]) -> (Vec<usize>, Vec<Dropped>) {
    let others: Vec<f64> = distances.iter().copied().filter(|d| *d > 0.0).collect();
    let usual = robust::quantile(&others, 0.25).unwrap_or(0.0);
    let limit = (SPOILED_TIMES * usual).max(NEVER_SPOILED);
    let (kept, spoiled): (Vec<usize>, Vec<usize>) = (0..distances.len()).partition(|&k| distances[k] <= limit);
    (kept, spoiled.into_iter().map(|index| Dropped { index, distance: distances[index] }).collect())
}

/// Jumps of the delay between good periods that are more than the steady drift of an unsynchronised clock.
pub fn slips(delays: &[f64], kept: &[usize]) -> Vec<Slip> {
    let steps: Vec<f64> = kept.windows(2).map(|w| delays[w[1]] - delays[w[0]]).collect();
    let drift = robust::median(&steps).unwrap_or(0.0);
    let jump = |(step, pair): (&f64, &[usize])| {
        let samples = step - drift;
        (samples.abs() > 1.5).then_some(Slip { before: pair[1], samples })
    };
    steps.iter().zip(kept.windows(2)).filter_map(jump).collect()
}
