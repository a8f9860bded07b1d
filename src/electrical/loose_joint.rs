//! The loose-joint check: a tone goes through the coil while leads are flexed and the cone is moved; where the joint opens,
//! the voltage across the driver jumps.
//!
//! Method: the tone's complex amplitude in windows of some cycles every millisecond; with two channels that of the driver
//! over that of the source, so that nothing the output does counts. A dropout or a partly opening joint is a departure from
//! the running median; what moves slowly (the coil's place in the gap, its warmth) is followed by the median and does not
//! count. A crackle too short for the window shows in the second difference, in which the cone's own voltage, below
//! 100 Hz, is smaller by the square of frequency over rate. The tone lies at 1 kHz, where a moving cone adds nothing.
//! Valid for tones of 300 Hz to 5 kHz; openings shorter than a sample, and changes slower than the median, stay unseen.

use crate::math::fft::Complex64;
use crate::math::robust::{mad, median, MAD_TO_SIGMA};
use crate::signal::health;
use crate::signal::notice::{Code, Notice};
use crate::signal::quiet_track::{quiet_track, LOOK_HZ};
use crate::signal::reading::{Curve, Figure, Reading};
use crate::signal::role_take::{RoleTake, SetupError};
use serde::{Deserialize, Serialize};
use std::f64::consts::TAU;

const CHECK: &str = "loose_joint";
/// The tone that the page plays.
pub const TONE_HZ: f64 = 1000.0;
/// Places a second.
const HOP_HZ: f64 = 1000.0;
/// Window of the amplitude.
const WINDOW_S: f64 = 0.008;
/// Length of the running median, and how often it is taken.
const MEDIAN_S: f64 = 0.6;
const MEDIAN_EVERY_S: f64 = 0.05;
/// A departure counts from here, relative, or from this many robust deviations where the take is noisy.
const LEAST_CHANGE: f64 = 0.02;
const DEVIATIONS: f64 = 8.0;
/// From here it is a dropout; below, the joint opened in part (common practice: 0.3 Ω of 6 Ω is 5 % of the current).
const DROPOUT: f64 = 0.2;
/// Energy of a block's second difference over the usual, and robust deviations above it, that make a crackle.
const BURST: f64 = 1.6;
const BURST_DEVIATIONS: f64 = 14.0;
/// Departures closer than this are one.
const TOGETHER_S: f64 = 0.03;
/// Noise for which the least departure no longer stands clear.
const NOISE_REFUSED: f64 = 0.05;
/// The tone begins and ends somewhere in the take; that much beside its ends is left out.
const MARGIN_S: f64 = 0.25;
/// Part of the samples that may be cut off.
const CLIPPED_PART: f64 = 0.01;
/// Shortest tone that says anything: leads and cone want some seconds.
const SHORTEST_S: f64 = 5.0;
/// The cone's slow voltage over what noise alone would give, below which nothing was moved.
const MOVED: f64 = 4.0;
const A_COUNT: &str = "a count of events; whether one is there is told by its size beside it";

/// Setup; channels count from 1.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(deny_unknown_fields)]
pub struct LooseJointSetup {
    /// Frequency of the tone.
    pub tone_hz: f64,
    /// Channel at the driver.
    pub driver_channel: usize,
    /// Channel before the resistor, where there is one.
    #[serde(default)]
    pub source_channel: Option<usize>,
}

impl LooseJointSetup {
    /// # Errors
    /// [`SetupError`] naming the field.
    pub fn check(&self, takes: &[RoleTake]) -> Result<(), SetupError> {
        if !(300.0..=5000.0).contains(&self.tone_hz) {
            let wanted = format!("a tone from 300 to 5000 Hz is wanted, not {}", self.tone_hz);
            return Err(SetupError::new("tone_hz", &wanted));
        }
        if self.source_channel == Some(self.driver_channel) {
            return Err(SetupError::new("source_channel", "a channel other than driver_channel is wanted"));
        }
        for (i, take) in takes.iter().enumerate() {
            if take.role != "flexed" {
                let wanted = format!("a take of this check has the role \"flexed\", not {:?}", take.role);
                return Err(SetupError::new(&format!("takes[{i}].role"), &wanted));
            }
            let channels = [("driver_channel", Some(self.driver_channel)), ("source_channel", self.source_channel)];
            for (name, channel) in channels.iter().filter_map(|(n, c)| Some((n, (*c)?))) {
                if take.take.channel(channel).is_none() {
                    let wanted = format!("the take has channels 1 to {}, not {channel}", take.take.channel_count());
                    return Err(SetupError::new(name, &wanted));
                }
            }
        }
        if takes.is_empty() {
            return Err(SetupError::new("takes", "at least one take is wanted"));
        }
        Ok(())
    }
}

/// One opening of the joint.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Event {
    take: usize,
    from_s: f64,
    to_s: f64,
    /// Largest relative departure; none for a crackle that only its click shows.
    depth: Option<f64>,
}

/// What one take shows.
struct Track {
    /// First place of the tone, in hops.
    from: usize,
    /// Relative departure by hop.
    change: Vec<f64>,
    noise: f64,
    moved: f64,
    events: Vec<Event>,
}

/// Reads the takes.
///
/// # Errors
/// [`SetupError`] for a setup that cannot be used; takes that cannot answer are a refused [`Reading`].
pub fn analyse(setup: &LooseJointSetup, takes: &[RoleTake]) -> Result<Reading, SetupError> {
    setup.check(takes)?;
    let method = match setup.source_channel {
        Some(_) => "amplitude of a tone across the driver over that of the source",
        None => "amplitude of a tone across the driver",
    };
    let mut reading = Reading::new(CHECK, method);
    let mut tracks = Vec::new();
    for (k, take) in takes.iter().enumerate() {
        match track(setup, k, take) {
            Ok(track) => tracks.push(track),
            Err(notice) => return Ok(Reading::refused(CHECK, method, *notice)),
        }
    }
    fill(&mut reading, &tracks);
    Ok(reading)
}

fn fill(reading: &mut Reading, tracks: &[Track]) {
    let events: Vec<&Event> = tracks.iter().flat_map(|t| &t.events).collect();
    let dropouts = events.iter().filter(|e| e.depth.is_some_and(|d| d >= DROPOUT)).count();
    let partial = events.iter().filter(|e| e.depth.is_some_and(|d| d < DROPOUT)).count();
    let clicks = events.len() - dropouts - partial;
    let counts = [("dropouts", dropouts), ("partial_openings", partial), ("crackles", clicks)];
    for (name, count) in counts {
        reading.values.insert(name.to_owned(), Figure::without_uncertainty(count as f64, A_COUNT));
    }
    let word = if events.is_empty() { "holds" } else { "loose" };
    reading.chosen.insert("joint".to_owned(), word.to_owned());
    let noise = tracks.iter().map(|t| t.noise).fold(0.0, f64::max);
    let least =
        Figure::without_uncertainty(100.0 * threshold(noise), "the limit that was applied, not a measured figure");
    reading.values.insert("least_change_percent".to_owned(), least);
    if let Some(first) = events.first() {
        let depth = events.iter().filter_map(|e| e.depth).fold(0.0, f64::max);
        let mut numbers = vec![("openings", events.len() as f64), ("first_at_s", first.from_s)];
        numbers.extend((depth > 0.0).then_some(("deepest", depth)));
        reading.warn(Notice::new(Code::LooseJoint, &numbers), false);
    }
    let moved = tracks.iter().map(|t| t.moved).fold(0.0, f64::max);
    if moved < MOVED {
        // Nothing was found because nothing was asked of the joint.
        reading.warn(Notice::new(Code::NotMoved, &[("moved_over_noise", moved)]), true);
    }
    reading.curves.insert("openings".to_owned(), openings(&events));
    reading.curves.insert("change".to_owned(), change(tracks));
}

fn openings(events: &[&Event]) -> Curve {
    let column = |f: fn(&Event) -> f64| events.iter().map(|e| f(e)).collect::<Vec<f64>>();
    Curve::from([
        ("take".to_owned(), column(|e| (e.take + 1) as f64)),
        ("time_s".to_owned(), column(|e| e.from_s)),
        ("length_s".to_owned(), column(|e| e.to_s - e.from_s)),
        ("depth_percent".to_owned(), column(|e| 100.0 * e.depth.unwrap_or(0.0))),
    ])
}

/// The largest departure of every 20 ms of the first take, for the eye.
fn change(tracks: &[Track]) -> Curve {
    const BIN: usize = 20;
    let Some(track) = tracks.first() else { return Curve::new() };
    let bins = track.change.chunks(BIN).map(|b| 100.0 * b.iter().fold(0.0f64, |m, v| m.max(*v)));
    let times = (0..track.change.len().div_ceil(BIN)).map(|k| (track.from + k * BIN) as f64 / HOP_HZ);
    Curve::from([("time_s".to_owned(), times.collect()), ("change_percent".to_owned(), bins.collect())])
}

fn threshold(noise: f64) -> f64 {
    LEAST_CHANGE.max(DEVIATIONS * noise)
}

fn track(setup: &LooseJointSetup, k: usize, take: &RoleTake) -> Result<Track, Box<Notice>> {
    let rate_hz = take.take.rate_hz();
    let driver = take.take.channel(setup.driver_channel).unwrap_or_default();
    let source = setup.source_channel.and_then(|c| take.take.channel(c));
    spoilt(setup, take)?;
    let amplitude = amplitudes(driver, rate_hz, setup.tone_hz);
    let (from, to) = tone_span(&amplitude);
    let seconds = (to - from) as f64 / HOP_HZ;
    if seconds < SHORTEST_S {
        return Err(Box::new(Notice::new(Code::TooShort, &[("duration_s", seconds), ("wanted_s", SHORTEST_S)])));
    }
    let ratio: Vec<Complex64> = match source {
        Some(source) => {
            let reference = amplitudes(source, rate_hz, setup.tone_hz);
            (from..to).map(|i| amplitude[i] / (reference[i] + f64::MIN_POSITIVE)).collect()
        }
        // The phase wanders with the clocks of output and input; the modulus does not.
        None => (from..to).map(|i| Complex64::new(amplitude[i].norm(), 0.0)).collect(),
    };
    let change = departures(&ratio);
    let noise = MAD_TO_SIGMA * median(&change).unwrap_or(f64::INFINITY);
    if noise.is_nan() || noise >= NOISE_REFUSED {
        return Err(Box::new(Notice::new(Code::Noise, &[("tone_scatter", noise)])));
    }
    let mut events = openings_in(&change, threshold(noise), from, k);
    let clicks = bursts(driver, source, rate_hz, from, to);
    add_clicks(&mut events, &clicks, k);
    let moved = motion(&driver[place(from, rate_hz)..place(to, rate_hz).min(driver.len())], rate_hz);
    Ok(Track { from, change, noise, moved, events })
}

/// What makes a take worthless here.
fn spoilt(setup: &LooseJointSetup, take: &RoleTake) -> Result<(), Box<Notice>> {
    let channels: Vec<usize> = [Some(setup.driver_channel), setup.source_channel].into_iter().flatten().collect();
    let one = setup.source_channel.is_none();
    // A joint that opens sparks: the coil's current ends in a spike that may well be cut off. A few such samples are a
    // sign, a tone that is cut off throughout is none.
    let most = CLIPPED_PART * take.take.len() as f64;
    let clipped = |n: &Notice| n.numbers.get("clipped_samples").copied().unwrap_or(most) >= most;
    let fatal = |n: &Notice| match n.code {
        Code::Silent | Code::DeadChannel | Code::SameChannels => true,
        Code::Clipped => clipped(n),
        // With two channels a lost buffer leaves the ratio alone; with one it looks like an opening.
        Code::Gap => one,
        _ => false,
    };
    let notices = health::assess_channels(&take.take, &channels).notices;
    notices.into_iter().find(|n| fatal(n)).map_or(Ok(()), |n| Err(Box::new(n)))
}

fn place(hop: usize, rate_hz: f64) -> usize {
    (hop as f64 * rate_hz / HOP_HZ).round() as usize
}

/// Complex amplitude of the tone around every hop, by a raised-cosine window.
fn amplitudes(samples: &[f64], rate_hz: f64, tone_hz: f64) -> Vec<Complex64> {
    let length = (WINDOW_S * rate_hz) as usize;
    let window: Vec<f64> = (0..length).map(|i| 1.0 - (TAU * (i as f64 + 0.5) / length as f64).cos()).collect();
    let scale = 2.0 / length as f64;
    let hops = (samples.len() as f64 * HOP_HZ / rate_hz) as usize;
    // The tone turned down to nought once, so that the windows only add.
    let turned: Vec<Complex64> = samples
        .iter()
        .enumerate()
        .map(|(n, s)| Complex64::from_polar(*s, -TAU * (tone_hz * n as f64 / rate_hz).fract()))
        .collect();
    let at = |hop: usize| {
        let from = place(hop, rate_hz).saturating_sub(length / 2);
        let inside = turned.get(from..from + length).unwrap_or_default();
        inside.iter().zip(&window).map(|(t, w)| t * *w).sum::<Complex64>() * scale
    };
    (0..hops).map(at).collect()
}

/// Hops in which the tone stands, its ends left out: a joint that opens for long lies inside, not at an end.
fn tone_span(amplitude: &[Complex64]) -> (usize, usize) {
    let norms: Vec<f64> = amplitude.iter().map(|a| a.norm()).collect();
    let loud = crate::math::robust::quantile(&norms, 0.75).unwrap_or(0.0);
    let there = |v: &f64| *v > 0.5 * loud && loud > 0.0;
    let margin = (MARGIN_S * HOP_HZ) as usize;
    let from = norms.iter().position(there).unwrap_or(0) + margin;
    let to = norms.iter().rposition(there).unwrap_or(0).saturating_sub(margin);
    (from, to.max(from))
}

/// Relative distance from the running median.
fn departures(ratio: &[Complex64]) -> Vec<f64> {
    let (half, every) = ((0.5 * MEDIAN_S * HOP_HZ) as usize, (MEDIAN_EVERY_S * HOP_HZ) as usize);
    let middle = |at: usize| {
        let near = &ratio[at.saturating_sub(half)..(at + half).min(ratio.len())];
        let of = |f: fn(&Complex64) -> f64| median(&near.iter().map(f).collect::<Vec<f64>>()).unwrap_or(0.0);
        Complex64::new(of(|c| c.re), of(|c| c.im))
    };
    let knots: Vec<Complex64> = (0..=ratio.len() / every).map(|k| middle(k * every)).collect();
    ratio
        .iter()
        .enumerate()
        .map(|(i, r)| {
            let (k, part) = (i / every, (i % every) as f64 / every as f64);
            let next = knots.get(k + 1).unwrap_or(&knots[k]);
            let base = knots[k] * (1.0 - part) + next * part;
            (r - base).norm() / base.norm().max(f64::MIN_POSITIVE)
        })
        .collect()
}

fn openings_in(change: &[f64], limit: f64, from: usize, take: usize) -> Vec<Event> {
    let together = (TOGETHER_S * HOP_HZ) as usize;
    let mut events: Vec<(usize, usize, f64)> = Vec::new();
    for (i, c) in change.iter().enumerate().filter(|(_, c)| **c > limit) {
        match events.last_mut() {
            Some((_, to, depth)) if i - *to <= together => {
                *to = i;
                *depth = depth.max(*c);
            }
            _ => events.push((i, i, *c)),
        }
    }
    let seconds = |hop: usize| (from + hop) as f64 / HOP_HZ;
    events
        .into_iter()
        .map(|(a, b, d)| Event { take, from_s: seconds(a), to_s: seconds(b + 1), depth: Some(d) })
        .collect()
}

/// Blocks of one hop whose second difference is far above the usual, the source's not.
fn bursts(driver: &[f64], source: Option<&[f64]>, rate_hz: f64, from: usize, to: usize) -> Vec<f64> {
    let energies = |samples: &[f64]| -> Vec<f64> {
        let block = |hop: usize| {
            let inside = samples.get(place(hop, rate_hz)..place(hop + 1, rate_hz) + 2).unwrap_or_default();
            inside.windows(3).map(|w| (w[0] - 2.0 * w[1] + w[2]).powi(2)).sum::<f64>()
        };
        (from..to).map(block).collect()
    };
    let loud = |energy: &[f64]| -> Vec<bool> {
        let (Some(usual), Some(spread)) = (median(energy), mad(energy)) else { return vec![false; energy.len()] };
        let limit = (BURST * usual).max(usual + BURST_DEVIATIONS * MAD_TO_SIGMA * spread);
        energy.iter().map(|e| *e > limit).collect()
    };
    let at_driver = loud(&energies(driver));
    let at_source = source.map(|s| loud(&energies(s)));
    let shared =
        |i: usize| at_source.as_ref().is_some_and(|s| s[i.saturating_sub(1)..(i + 2).min(s.len())].contains(&true));
    (0..at_driver.len()).filter(|i| at_driver[*i] && !shared(*i)).map(|i| (from + i) as f64 / HOP_HZ).collect()
}

/// Clicks beside openings are theirs; the others are crackles of their own.
fn add_clicks(events: &mut Vec<Event>, clicks: &[f64], take: usize) {
    let openings = events.len();
    for time_s in clicks {
        let near = |e: &Event| *time_s > e.from_s - TOGETHER_S && *time_s < e.to_s + TOGETHER_S;
        if events[..openings].iter().any(near) {
            continue;
        }
        match events[openings..].last_mut() {
            Some(last) if near(last) => last.to_s = time_s + 1.0 / HOP_HZ,
            _ => events.push(Event { take, from_s: *time_s, to_s: time_s + 1.0 / HOP_HZ, depth: None }),
        }
    }
    events.sort_by(|a, b| a.from_s.total_cmp(&b.from_s));
}

/// Slow voltage of the moving cone over what white noise of this take would give there.
fn motion(samples: &[f64], rate_hz: f64) -> f64 {
    let track = quiet_track(samples, rate_hz);
    let rms = |v: &[f64]| (v.iter().map(|x| x * x).sum::<f64>() / v.len().max(1) as f64).sqrt();
    // Third differences leave the tone, at a fiftieth of the rate, at 0.002 of its size, and white noise at √20.
    let third: Vec<f64> = samples.windows(4).map(|w| w[3] - 3.0 * w[2] + 3.0 * w[1] - w[0]).collect();
    let white = MAD_TO_SIGMA * mad(&third).unwrap_or(0.0) / 20f64.sqrt();
    // A mean over a cycle of 50 Hz keeps one part in √(rate/50).
    let expected = white / (rate_hz / 50.0).sqrt();
    let settled = track.get((0.2 * LOOK_HZ) as usize..).unwrap_or_default();
    rms(settled) / expected.max(1e-9)
}
