//! Health of a take: what is wrong with the samples themselves, whatever they were recorded for.
//!
//! Limits are common practice unless a comment says otherwise. Channels count from 1.

use super::gaps::{repeated_blocks, zero_runs, Gap};
use super::hum::{in_recording, Hum};
use super::notice::{Code, Notice};
use super::period_search::{active_span, find_period};
use super::take::Take;
use crate::math::robust;
use crate::math::vectors::{dot, energy, mean, range};
use serde::{Deserialize, Serialize};

/// Level that stands for nothing at all.
const NOTHING_DBFS: f64 = -300.0;
/// Below this a channel carries no signal: under the floor of a 16-bit path with its noise.
const SILENT_DBFS: f64 = -80.0;
/// Beside a silent channel another one with at least this level shows that the recording itself worked.
const ALIVE_DBFS: f64 = -60.0;
/// Equal samples in a row at an end of the range that make a cut top.
const TOP_AT_LEAST: usize = 3;
/// A top is cut when the signal leaves it by more than this in one sample; a rounded top leaves by a step or two of 16 bit.
const TOP_EDGE: f64 = 4.0 / 32_768.0;
/// Quieter tops are not judged.
const TOP_LEVEL: f64 = 0.01;
/// Constant part of a channel, against full scale, from which on it is named.
const DIRECT_CURRENT: f64 = 0.02;
/// Blocks over which the constant part is taken.
const DC_BLOCK_S: f64 = 0.05;
/// Part of the samples that must lie on the grid of 16 bit. Others fall on it by chance once in 50 times.
const GRID_PART: f64 = 0.99;
/// Samples that are looked at for the grid, spread over the take.
const GRID_SAMPLES: usize = 20_000;
/// On a 16-bit path the steps are 98 dB below full scale (a rule of 6 dB a bit): a signal this weak has 38 dB above them.
const WEAK_ON_GRID_DBFS: f64 = -60.0;
/// Hum this much below the signal is named.
const HUM_BELOW_DB: f64 = -30.0;
/// Change of level over the periods of a repeated signal from which on the gain is not steady. Warming of a voice coil by
/// 10 K is 0.3 dB at most.
const RIDING_DB: f64 = 0.5;

/// One channel.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct ChannelHealth {
    /// Channel, counted from 1.
    pub channel: u32,
    /// Largest sample.
    pub peak_dbfs: f64,
    /// Root mean square without the constant part; a full sine has −3 dB.
    pub rms_dbfs: f64,
    /// Samples in tops that are cut off.
    pub clipped_samples: u32,
    /// Constant part, full scale being 1.
    pub dc: f64,
    /// True when the samples lie on the grid of a 16-bit path.
    pub on_16_bit_grid: bool,
    /// Hum that stands out, where the take is long enough to tell.
    pub hum: Option<Hum>,
}

/// A whole take.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Health {
    /// Samples a second.
    pub rate_hz: f64,
    /// Length.
    pub duration_s: f64,
    /// The channels looked at.
    pub channels: Vec<ChannelHealth>,
    /// Buffers replaced by zeros.
    pub zero_runs: Vec<Gap>,
    /// Buffers that came twice.
    pub repeated_blocks: Vec<Gap>,
    /// True when two channels are the same, sample by sample.
    pub identical_channels: bool,
    /// Largest change of level between periods of a repeated signal, none for other signals.
    pub level_change_db: Option<f64>,
    /// What a person should know, with its numbers; whether it matters depends on the check.
    pub notices: Vec<Notice>,
}

/// Looks at all channels.
pub fn assess(take: &Take) -> Health {
    let all: Vec<usize> = (1..=take.channel_count()).collect();
    assess_channels(take, &all)
}

/// Looks at some channels only, counted from 1 (those a check does not use may be dead); unknown ones are left out.
pub fn assess_channels(take: &Take, numbers: &[usize]) -> Health {
    assess_with(take, numbers, |samples| find_period(samples, take.rate_hz()))
}

/// As [`assess_channels`] where it is known already whether the signal repeats, and after how many samples: finding that
/// out is the dearest part.
pub fn assess_known_period(take: &Take, numbers: &[usize], period: Option<usize>) -> Health {
    assess_with(take, numbers, |_| period)
}

fn assess_with(take: &Take, numbers: &[usize], period_of: impl Fn(&[f64]) -> Option<usize>) -> Health {
    let rate_hz = take.rate_hz();
    let chosen: Vec<(usize, &[f64])> = numbers.iter().filter_map(|n| Some((*n, take.channel(*n)?))).collect();
    let samples: Vec<&[f64]> = chosen.iter().map(|(_, s)| *s).collect();
    let channels: Vec<ChannelHealth> = chosen.iter().map(|(number, s)| channel_health(*number, s, rate_hz)).collect();
    let mut health = Health {
        rate_hz,
        duration_s: take.duration_s(),
        zero_runs: zero_runs(&samples, rate_hz),
        repeated_blocks: repeated_blocks(&samples, rate_hz),
        identical_channels: identical(&samples),
        level_change_db: loudest(&channels)
            .and_then(|index| level_change_db(samples[index], rate_hz, period_of(samples[index])?)),
        channels,
        notices: Vec::new(),
    };
    health.notices = notices(&health);
    health
}

/// A power, full scale being 1, as a level.
fn dbfs(power: f64) -> f64 {
    (10.0 * power.max(f64::MIN_POSITIVE).log10()).max(NOTHING_DBFS)
}

fn channel_health(number: usize, samples: &[f64], rate_hz: f64) -> ChannelHealth {
    let count = samples.len().max(1) as f64;
    let dc = direct_current(samples, rate_hz);
    let power = energy(samples, dc) / count;
    let (bottom, top) = range(samples);
    let peak = if samples.is_empty() { 0.0 } else { top.max(-bottom) };
    ChannelHealth {
        channel: number as u32,
        peak_dbfs: dbfs(peak * peak),
        rms_dbfs: dbfs(power),
        clipped_samples: clipped_samples(samples, bottom, top) as u32,
        dc,
        on_16_bit_grid: on_16_bit_grid(samples),
        hum: in_recording(samples, rate_hz),
    }
}

/// Constant part: the median over blocks, because the slow beginning of a sweep has a mean of its own.
fn direct_current(samples: &[f64], rate_hz: f64) -> f64 {
    let blocks = samples.chunks(((DC_BLOCK_S * rate_hz) as usize).max(1));
    let means: Vec<f64> = blocks.map(mean).collect();
    robust::median(&means).unwrap_or(0.0)
}

/// Samples in flat tops at either end of the channel's range that are left with a jump.
fn clipped_samples(samples: &[f64], bottom: f64, top: f64) -> usize {
    let mut clipped = 0;
    let mut n = 0;
    while n < samples.len() {
        let s = samples[n];
        if s != top && s != bottom {
            n += 1;
            continue;
        }
        let run = samples[n..].iter().take_while(|next| **next == s).count();
        if run >= TOP_AT_LEAST && s.abs() > TOP_LEVEL {
            let before = n.checked_sub(1).map_or(0.0, |i| (samples[i] - samples[n]).abs());
            let after = samples.get(n + run).map_or(0.0, |s| (s - samples[n]).abs());
            if before.max(after) > TOP_EDGE {
                clipped += run;
            }
        }
        n += run;
    }
    clipped
}

/// True when (nearly) all samples are multiples of 1/32768, or of 1/32767 where they are positive.
/// Some browsers scale the halves so (seen in captured takes). Nothing but zeros lies on no grid.
fn on_16_bit_grid(samples: &[f64]) -> bool {
    let near = |v: f64| (v - v.round()).abs() < 0.005;
    let stride = samples.len() / GRID_SAMPLES + 1;
    let judged: Vec<f64> = samples.iter().copied().step_by(stride).filter(|s| *s != 0.0).collect();
    // Off the grid it is clear after a few hundred samples.
    let misses_allowed = judged.len() - (GRID_PART * judged.len() as f64).ceil() as usize;
    let lies_on = |step_above: f64| {
        let misses = |s: &&f64| !near(**s * if **s > 0.0 { step_above } else { 32_768.0 });
        judged.iter().filter(misses).nth(misses_allowed).is_none()
    };
    !judged.is_empty() && (lies_on(32_768.0) || lies_on(32_767.0))
}

/// True when two channels with a signal agree to the precision of 32-bit floats.
fn identical(channels: &[&[f64]]) -> bool {
    let same = |a: &[f64], b: &[f64]| {
        a.iter().any(|s| *s != 0.0) && a.iter().zip(b).all(|(x, y)| (x - y).abs() <= 1e-7 * x.abs().max(y.abs()))
    };
    (1..channels.len()).any(|i| channels[..i].iter().any(|other| same(channels[i], other)))
}

/// Index of the loudest channel.
fn loudest(channels: &[ChannelHealth]) -> Option<usize> {
    (0..channels.len()).max_by(|a, b| channels[*a].rms_dbfs.total_cmp(&channels[*b].rms_dbfs))
}

/// Largest step between the levels of the first and a later period; none for signals that do not repeat.
/// Periods are compared at their median level over sixteenths, so that a short disturbance does not count.
fn level_change_db(samples: &[f64], rate_hz: f64, period: usize) -> Option<f64> {
    let span = active_span(samples, rate_hz)?;
    let part = &samples[span];
    let sixteenth = period / 16;
    let whole: Vec<&[f64]> = part.chunks_exact(period).collect();
    let power = |s: &[f64]| dot(s, s);
    let change = |a: &[f64], b: &[f64]| {
        let steps: Vec<f64> = a
            .chunks_exact(sixteenth.max(1))
            .zip(b.chunks_exact(sixteenth.max(1)))
            .map(|(x, y)| 10.0 * (power(y).max(f64::MIN_POSITIVE) / power(x).max(f64::MIN_POSITIVE)).log10())
            .collect();
        robust::median(&steps).unwrap_or(0.0)
    };
    let first = whole.first()?;
    whole[1..].iter().map(|later| change(first, later)).max_by(|a, b| a.abs().total_cmp(&b.abs()))
}

/// The notices of a take, the gravest first.
fn notices(health: &Health) -> Vec<Notice> {
    let loudest = health.channels.iter().map(|c| c.rms_dbfs).fold(NOTHING_DBFS, f64::max);
    let mut out = Vec::new();
    if loudest < SILENT_DBFS {
        let peak = health.channels.iter().map(|c| c.peak_dbfs).fold(NOTHING_DBFS, f64::max);
        let numbers = match constant_samples(health, loudest) {
            Some(count) => vec![("constant_samples", count)],
            None => vec![("rms_dbfs", loudest), ("peak_dbfs", peak)],
        };
        out.push(Notice::new(Code::Silent, &numbers));
        return out;
    }
    if health.identical_channels {
        out.push(Notice::new(Code::SameChannels, &[]));
    }
    let gaps = || health.zero_runs.iter().chain(&health.repeated_blocks);
    if let Some(first) = gaps().min_by(|a, b| a.time_s.total_cmp(&b.time_s)) {
        let count = gaps().count() as f64;
        let mut numbers = vec![("time_s", first.time_s), ("breaks", count)];
        if let Some(longest) = health.zero_runs.iter().map(|g| g.samples).max() {
            numbers.push(("longest_zero_run_samples", f64::from(longest)));
        }
        out.push(Notice::new(Code::Gap, &numbers));
    }
    for channel in &health.channels {
        channel_notices(channel, health, loudest, &mut out);
    }
    if let Some(change) = health.level_change_db.filter(|c| c.abs() > RIDING_DB) {
        out.push(Notice::new(Code::GainRiding, &[("change_db", change), ("allowed_db", RIDING_DB)]));
    }
    out
}

/// Samples of a signal that never moves: its level has no decibels, so its length is said instead.
fn constant_samples(health: &Health, rms_dbfs: f64) -> Option<f64> {
    (rms_dbfs <= NOTHING_DBFS).then_some((health.duration_s * health.rate_hz).round())
}

fn channel_notices(channel: &ChannelHealth, health: &Health, loudest: f64, out: &mut Vec<Notice>) {
    let number = f64::from(channel.channel);
    if channel.rms_dbfs < SILENT_DBFS && loudest > ALIVE_DBFS {
        let level = match constant_samples(health, channel.rms_dbfs) {
            Some(count) => ("constant_samples", count),
            None => ("rms_dbfs", channel.rms_dbfs),
        };
        out.push(Notice::new(Code::DeadChannel, &[("channel", number), level]));
        return;
    }
    if channel.clipped_samples > 0 {
        let clipped = f64::from(channel.clipped_samples);
        let numbers = [("channel", number), ("clipped_samples", clipped), ("peak_dbfs", channel.peak_dbfs)];
        out.push(Notice::new(Code::Clipped, &numbers));
    }
    if channel.dc.abs() > DIRECT_CURRENT {
        out.push(Notice::new(Code::DirectCurrent, &[("channel", number), ("dc", channel.dc)]));
    }
    if let Some(hum) = channel.hum {
        let below = dbfs(hum.rms * hum.rms) - channel.rms_dbfs;
        if below > HUM_BELOW_DB {
            let numbers = [
                ("channel", number),
                ("frequency_hz", hum.frequency_hz),
                ("hum_dbfs", dbfs(hum.rms * hum.rms)),
                ("below_signal_db", below),
            ];
            out.push(Notice::new(Code::Hum, &numbers));
        }
    }
    if channel.on_16_bit_grid && channel.rms_dbfs < WEAK_ON_GRID_DBFS {
        let numbers = [("channel", number), ("step_dbfs", -98.0), ("rms_dbfs", channel.rms_dbfs)];
        out.push(Notice::new(Code::SixteenBit, &numbers));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Random;
    use crate::signal::stimulus::{Shape, Stimulus};
    use crate::signal::test_signals::render;

    const RATE_HZ: f64 = 48_000.0;

    fn signal(shape: Shape) -> Vec<f64> {
        let (low_hz, high_hz) = (5.0, 20_000.0);
        let stimulus = Stimulus {
            shape,
            rate_hz: RATE_HZ,
            period_s: 1.0,
            periods: 4,
            low_hz,
            high_hz,
            peak_dbfs: -6.0,
            seed: 1,
            travel_shape: None,
        };
        render(&stimulus).expect("a signal")
    }

    fn noisy(mut samples: Vec<f64>, seed: u64) -> Vec<f64> {
        let mut random = Random::new(seed);
        samples.iter_mut().for_each(|s| *s += 1e-4 * random.normal());
        samples
    }

    fn codes(channels: Vec<Vec<f64>>) -> Vec<Code> {
        assess(&Take::new(RATE_HZ, channels).expect("a take")).notices.iter().map(|n| n.code).collect()
    }

    fn sixteen_bit(samples: &[f64]) -> Vec<f64> {
        samples.iter().map(|s| (s * 32_768.0).round().clamp(-32_768.0, 32_767.0) / 32_768.0).collect()
    }

    #[test]
    fn good_takes_have_no_notices_even_where_they_touch_full_scale() {
        for shape in [Shape::Sweep, Shape::Multisine] {
            let s = signal(shape);
            let half: Vec<f64> = s.iter().map(|v| 0.5 * v).collect();
            assert!(codes(vec![noisy(s.clone(), 1), noisy(half.clone(), 2)]).is_empty(), "{shape:?}");
            // Brought to full scale and stored in 16 bit: rounded tops of slow cycles are flat, but not cut.
            let full: Vec<f64> = s.iter().map(|v| v / 0.501_187_3).collect();
            let take = vec![sixteen_bit(&full), sixteen_bit(&half)];
            assert!(codes(take.clone()).is_empty(), "{shape:?} {:?}", codes(take));
        }
    }

    #[test]
    fn cut_tops_are_counted() {
        let cut: Vec<f64> = noisy(signal(Shape::Sweep), 1).iter().map(|s| s.clamp(-0.4, 0.4)).collect();
        assert_eq!(codes(vec![cut]), vec![Code::Clipped]);
        let tops = [0.0, 0.3, 0.5, 0.5, 0.5, 0.2, -0.5, -0.5, -0.1, 0.5, 0.5, 0.5, 0.5, 0.0];
        assert_eq!(clipped_samples(&tops, -0.5, 0.5), 7);
    }

    #[test]
    fn silence_and_a_dead_channel() {
        assert_eq!(codes(vec![vec![0.0; 48_000]; 2]), vec![Code::Silent]);
        assert_eq!(codes(vec![noisy(signal(Shape::Sweep), 1), vec![0.0; 195_840]]), vec![Code::DeadChannel]);
        let take = Take::new(RATE_HZ, vec![noisy(signal(Shape::Sweep), 1), vec![0.0; 195_840]]).expect("a take");
        assert!(assess_channels(&take, &[1]).notices.is_empty());
        assert!(assess_channels(&take, &[1, 7]).notices.is_empty());
    }

    #[test]
    fn same_channels_direct_current_and_breaks() {
        let s = noisy(signal(Shape::Multisine), 1);
        assert_eq!(codes(vec![s.clone(), s.clone()]), vec![Code::SameChannels]);
        let shifted: Vec<f64> = s.iter().map(|v| v + 0.1).collect();
        assert_eq!(codes(vec![shifted]), vec![Code::DirectCurrent]);
        let mut broken = s.clone();
        broken[100_000..101_024].fill(0.0);
        assert_eq!(codes(vec![broken]), vec![Code::Gap]);
        let mut twice = s;
        let again = twice[99_000..100_024].to_vec();
        twice.splice(100_024..100_024, again);
        assert_eq!(codes(vec![twice]), vec![Code::Gap]);
    }

    #[test]
    fn gain_that_rides_is_seen_and_a_bump_is_not_taken_for_it() {
        for shape in [Shape::Sweep, Shape::Multisine] {
            let s = noisy(signal(shape), 1);
            let riding: Vec<f64> = s.iter().enumerate().map(|(n, v)| v * 0.6_f64.powf(n as f64 / 195_840.0)).collect();
            assert_eq!(codes(vec![riding]), vec![Code::GainRiding], "{shape:?}");
            let mut bump = s;
            bump[100_000..101_000].iter_mut().for_each(|v| *v += 0.4);
            assert!(!codes(vec![bump]).contains(&Code::GainRiding), "{shape:?}");
        }
    }

    #[test]
    fn the_grid_of_sixteen_bit_in_both_ways_of_scaling() {
        let s = noisy(signal(Shape::Sweep), 1);
        let even = sixteen_bit(&s);
        let halves: Vec<f64> = even
            .iter()
            .map(|v| f64::from((v * 32_768.0 / if *v > 0.0 { 32_767.0 } else { 32_768.0 }) as f32))
            .collect();
        assert!(on_16_bit_grid(&even) && on_16_bit_grid(&halves));
        assert!(!on_16_bit_grid(&s) && !on_16_bit_grid(&[0.0; 10]));
        let weak: Vec<f64> = sixteen_bit(&s.iter().map(|v| v * 0.001).collect::<Vec<_>>());
        assert_eq!(codes(vec![weak]), vec![Code::SixteenBit]);
    }

    #[test]
    fn hum_over_a_knock_is_named() {
        let knocks: Vec<f64> = (0..240_000)
            .map(|n| {
                let t = f64::from(n) / RATE_HZ;
                let ring = (-(t % 0.8) / 0.06).exp() * 0.2 * (2.0 * std::f64::consts::PI * 31.0 * t).sin();
                ring + 0.01 * (2.0 * std::f64::consts::PI * 50.0 * t).sin()
            })
            .collect();
        assert_eq!(codes(vec![noisy(knocks, 1)]), vec![Code::Hum]);
    }
}
