//! Breaks that show themselves in the samples: buffers replaced by zeros, and blocks that come twice.
//!
//! Lost samples leave no such trace; only a repeated signal shows those, see [`super::periods`].

use crate::math::order::ascending;
use serde::{Deserialize, Serialize};

/// Zeros in a row that count as a lost buffer; no signal rests on nought for so long and goes on.
const ZEROS_AT_LEAST: usize = 32;
/// Samples on either side that must carry signal.
const SURROUNDINGS: usize = 64;
/// Root mean square that counts as signal there: 30 steps of 16 bit, so that a decay into silence is no break.
const SIGNAL_RMS: f64 = 30.0 / 32_768.0;
/// Samples compared to spot a repetition, and how many different values they must hold to be worth comparing.
const WINDOW: usize = 32;
const DIFFERENT_VALUES: usize = 8;
/// Longest block looked for, in samples.
const BLOCK_AT_MOST: usize = 16_384;
/// A block may come again this many times in a row.
const TIMES_AT_MOST: usize = 4;

/// A break in a recording.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Gap {
    /// Where it begins, in seconds from the start of the take.
    pub time_s: f64,
    /// How many samples it spoils.
    pub samples: u32,
}

/// Runs of exact zeros on all channels at once, with signal before and after.
pub fn zero_runs(channels: &[&[f64]], rate_hz: f64) -> Vec<Gap> {
    let Some((first, others)) = channels.split_first() else { return Vec::new() };
    let length = first.len();
    let mut found = Vec::new();
    let mut start = 0;
    for n in 0..=length {
        if n < length && first[n] == 0.0 && others.iter().all(|c| c[n] == 0.0) {
            continue;
        }
        let run = n - start;
        let inside = start >= SURROUNDINGS && n + SURROUNDINGS <= length;
        if run >= ZEROS_AT_LEAST && inside {
            let loud = |from: usize| channels.iter().any(|c| rms(&c[from..from + SURROUNDINGS]) > SIGNAL_RMS);
            if loud(start - SURROUNDINGS) && loud(n) {
                found.push(Gap { time_s: start as f64 / rate_hz, samples: run as u32 });
            }
        }
        start = n + 1;
    }
    found
}

/// Blocks that are followed by themselves, sample by sample, on all channels: a buffer delivered twice.
/// A signal that repeats for longer than [`TIMES_AT_MOST`] blocks is periodic by nature and not reported.
pub fn repeated_blocks(channels: &[&[f64]], rate_hz: f64) -> Vec<Gap> {
    let Some(first) = channels.first() else { return Vec::new() };
    let mut seen = Seen::new();
    let mut found = Vec::new();
    let mut resume = 0;
    let mut hash = RollingHash::default();
    for n in 0..first.len() {
        hash.push(first, n);
        if n + 1 < WINDOW {
            continue;
        }
        let begin = n + 1 - WINDOW;
        if begin >= resume {
            if let Some(earlier) = seen.place(hash.value) {
                let lag = begin - earlier;
                if (WINDOW..=BLOCK_AT_MOST).contains(&lag) && is_lively(&first[begin..=n]) {
                    let run = equal_run(channels, begin, lag);
                    if whole_blocks(run.1 - run.0, lag) {
                        found.push(Gap { time_s: run.0 as f64 / rate_hz, samples: (run.1 - run.0) as u32 });
                    }
                    resume = run.1.max(begin + 1);
                }
            }
        }
        // Every eighth window is remembered; every window is looked up, so that each repetition is met.
        if begin % 8 == 0 {
            seen.remember(hash.value, begin);
        }
    }
    found
}

/// Where hashes were seen last; a newer one takes the slot of an older one, which is nearly always out of reach by then.
struct Seen {
    slots: Vec<(u64, usize)>,
}

impl Seen {
    const SLOTS: usize = 1 << 14;

    fn new() -> Self {
        Seen { slots: vec![(0, usize::MAX); Self::SLOTS] }
    }

    fn slot(hash: u64) -> usize {
        (hash >> 40) as usize % Self::SLOTS
    }

    fn remember(&mut self, hash: u64, place: usize) {
        self.slots[Self::slot(hash)] = (hash, place);
    }

    fn place(&self, hash: u64) -> Option<usize> {
        let (seen, place) = self.slots[Self::slot(hash)];
        (seen == hash && place != usize::MAX).then_some(place)
    }
}

/// Polynomial hash of the last [`WINDOW`] samples.
#[derive(Default)]
struct RollingHash {
    value: u64,
}

impl RollingHash {
    const BASE: u64 = 0x9E37_79B9_7F4A_7C15;
    /// What the oldest sample has been multiplied by.
    const LEAVING: u64 = Self::BASE.wrapping_pow(WINDOW as u32);

    fn push(&mut self, samples: &[f64], n: usize) {
        let mut leaving = 0;
        if n >= WINDOW {
            leaving = mixed(samples[n - WINDOW]).wrapping_mul(Self::LEAVING);
        }
        self.value = self.value.wrapping_mul(Self::BASE).wrapping_add(mixed(samples[n])).wrapping_sub(leaving);
    }
}

fn mixed(sample: f64) -> u64 {
    let bits = sample.to_bits();
    (bits ^ (bits >> 29)).wrapping_mul(0xBF58_476D_1CE4_E5B9) >> 7
}

/// True where a window holds enough different values to tell it from others.
fn is_lively(window: &[f64]) -> bool {
    let mut sorted = window.to_vec();
    ascending(&mut sorted);
    sorted.dedup();
    sorted.len() >= DIFFERENT_VALUES
}

/// The stretch around `at` in which all channels equal themselves `lag` samples before.
fn equal_run(channels: &[&[f64]], at: usize, lag: usize) -> (usize, usize) {
    let equal = |n: usize| channels.iter().all(|c| c[n] == c[n - lag]);
    let length = channels[0].len();
    let mut begin = at;
    while begin > lag && equal(begin - 1) {
        begin -= 1;
    }
    let mut end = at;
    while end < length && equal(end) {
        end += 1;
    }
    (begin, end)
}

/// True for one to a few whole blocks; two samples more may agree by chance.
fn whole_blocks(run: usize, lag: usize) -> bool {
    (1..=TIMES_AT_MOST).any(|k| run >= k * lag && run <= k * lag + 2)
}

fn rms(samples: &[f64]) -> f64 {
    (samples.iter().map(|s| s * s).sum::<f64>() / samples.len().max(1) as f64).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Random;

    fn noise(n: usize, grid: bool) -> Vec<f64> {
        let mut random = Random::new(3);
        let sample = |v: f64| if grid { (v * 3276.8).round() / 32_768.0 } else { v * 0.1 };
        (0..n).map(|_| sample(random.normal())).collect()
    }

    #[test]
    fn zeros_inside_the_signal_are_found_with_their_place() {
        let (mut a, mut b) = (noise(48_000, true), noise(48_000, false));
        a[9600..10_624].fill(0.0);
        b[9600..10_624].fill(0.0);
        let found = zero_runs(&[&a, &b], 48_000.0);
        assert_eq!(found, vec![Gap { time_s: 0.2, samples: 1024 }]);
        b[10_000] = 0.1;
        assert_eq!(zero_runs(&[&a, &b], 48_000.0).len(), 2);
    }

    #[test]
    fn silence_before_after_and_between_decaying_knocks_is_no_gap() {
        let mut knocks = vec![0.0; 5000];
        for _ in 0..3 {
            knocks.extend((0..20_000).map(|n| {
                let t = f64::from(n) / 48_000.0;
                ((-t / 0.03).exp() * 0.3 * (200.0 * t).sin() * 32_768.0).round() / 32_768.0
            }));
        }
        knocks.extend(vec![0.0; 5000]);
        assert!(zero_runs(&[&knocks], 48_000.0).is_empty());
        assert!(repeated_blocks(&[&knocks], 48_000.0).is_empty());
    }

    #[test]
    fn a_block_that_comes_twice_is_found() {
        for (block, grid) in [(128, false), (441, true), (1024, true), (4096, false)] {
            let mut a = noise(48_000, grid);
            let again = a[12_000 - block..12_000].to_vec();
            a.splice(12_000..12_000, again);
            let found = repeated_blocks(&[&a], 48_000.0);
            assert_eq!(found.len(), 1, "block {block}");
            assert!((found[0].time_s - 0.25).abs() < 1e-4);
            assert!((found[0].samples as usize).abs_diff(block) <= 2);
        }
    }

    #[test]
    fn a_tone_and_a_quiet_floor_of_a_few_steps_repeat_by_nature() {
        let tone: Vec<f64> = (0..48_000).map(|n| [0.0, 0.3, 0.5, 0.3, 0.0, -0.3, -0.5, -0.3][n % 8]).collect();
        assert!(repeated_blocks(&[&tone], 48_000.0).is_empty());
        let long: Vec<f64> = noise(480, false).into_iter().cycle().take(48_000).collect();
        assert!(repeated_blocks(&[&long], 48_000.0).is_empty());
        let floor: Vec<f64> = noise(48_000, false).iter().map(|s| (s * 10.0).round() / 32_768.0).collect();
        assert!(repeated_blocks(&[&floor], 48_000.0).is_empty());
    }
}
