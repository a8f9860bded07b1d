//! A cone that stops dead: friction so strong that hardly a ring is left to be fitted.
//!
//! A viscous loss takes the same part off every half swing, so the heights of all half swings of all knocks stand in one
//! ratio to the next. Dry friction takes an amount besides, and a cone that comes to rest within its reach stays there: the
//! next half swing is missing although by that ratio it would stand far above the noise. (Free vibration with Coulomb
//! friction: any textbook of mechanical vibration.)
//! Valid for open terminals, any pitch, two knocks and more: a coil whose terminals are shorted stops as well.

use super::knock_spotting::Find;
use crate::math::robust::median;
use crate::signal::notice::{Code, Notice};
use crate::signal::take::Take;

/// Rate at which half swings are looked at: 30 samples for half a swing at 33 Hz.
const RATE_HZ: f64 = 2000.0;
/// A half swing is missing when it reaches less than this part of what the ratio lets expect; the input's own motion moves
/// a viscous one by less than a half.
const MISSING: f64 = 0.3;
/// Expected height over the noise (root mean square) from which on it would be seen.
const SEEN: f64 = 15.0;
/// And over the first half swing: below it the input's own motion hides it.
const ABOVE_TAIL: f64 = 0.04;

/// Ratio of half swings at the least and at the most, exp(−π/√(4Q² − 1)) for Q 1.5 and 15; drivers with open terminals lie
/// between (common practice, no source).
const RATIO: std::ops::Range<f64> = 0.33..0.9;

/// From the beginning of one half swing the next has come and is half over: 1.5 half swings of 8 Hz are 0.09 s.
const WATCHED_S: f64 = 0.1;

/// The notice of knocks that mostly stop dead. `skip`: half swings after the blow that the input's own motion spoils.
pub(super) fn stops_dead(take: &Take, channel: usize, finds: &[Find], skip: usize) -> Option<Notice> {
    let raw = take.channel(channel)?;
    let step = (take.rate_hz() / RATE_HZ).round().max(1.0) as usize;
    let usable = |f: &&Find| !matches!(&f.spotted.set_aside, Some(n) if n.code == Code::Clipped);
    let all: Vec<Swings> = finds.iter().filter(usable).filter_map(|f| swings(raw, f, step, skip)).collect();
    let ratio =
        all.iter().flat_map(|s| s.heights.windows(2)).map(|w| w[1] / w[0]).fold(RATIO.start, f64::max).min(RATIO.end);
    let stopped = all.iter().filter(|s| s.stop(ratio)).count();
    let numbers = [("knocks_that_stop_dead", stopped as f64), ("knocks", all.len() as f64)];
    (stopped >= 2 && 2 * stopped >= all.len()).then(|| Notice::new(Code::Friction, &numbers))
}

/// The notice of rings that mostly jerk where the cone turns round: dry friction changes its sign there, and a microphone
/// hears the acceleration. One lost buffer bends one ring; most rings of a take it bends never.
pub(super) fn jerks(finds: &[Find]) -> Option<Notice> {
    let bent = finds.iter().filter(|f| f.is_bent()).count();
    let numbers = [("rings_that_jerk", bent as f64), ("knocks", finds.len() as f64)];
    (bent >= 2 && 2 * bent > finds.len()).then(|| Notice::new(Code::Friction, &numbers))
}

/// Heights of the half swings after a blow, and what would drown one.
struct Swings {
    heights: Vec<f64>,
    /// The recording of this ring goes on long enough for one more.
    watched: bool,
    drowned: f64,
}

impl Swings {
    /// True where a half swing is missing that the ratio lets expect, and nothing comes after it: a small one between larger
    /// ones is hidden by the input's own motion.
    fn stop(&self, ratio: f64) -> bool {
        (0..self.heights.len()).any(|k| {
            let expected = ratio * self.heights[k];
            let followed = self.watched || k + 1 < self.heights.len();
            followed && expected > self.drowned && self.heights[k + 1..].iter().all(|h| *h < MISSING * expected)
        })
    }
}

/// Tops of alternating sign after the peak of a knock, down to the noise.
fn swings(raw: &[f64], find: &Find, step: usize, skip: usize) -> Option<Swings> {
    let until = find.next.min(raw.len()).min(find.peak + (1.0 * RATE_HZ) as usize * step);
    let thin: Vec<f64> =
        raw.get(find.peak..until)?.chunks_exact(step).map(|c| c.iter().sum::<f64>() / step as f64).collect();
    let rest = &thin[thin.len() - thin.len() / 4..];
    let level = median(rest)?;
    let noise = median(&rest.iter().map(|v| (v - level).abs()).collect::<Vec<_>>())? / 0.6745;
    let mut tops: Vec<f64> = Vec::new();
    let (mut sign, mut last) = (0.0, 0);
    for (at, v) in thin.iter().map(|v| v - level).enumerate() {
        let floor = (3.0 * noise).max(0.005 * tops.first().copied().unwrap_or(0.0));
        match tops.last_mut() {
            Some(top) if v * sign > 0.0 => *top = top.max(v.abs()),
            _ if v.abs() > floor => {
                (sign, last) = (v.signum(), at);
                tops.push(v.abs());
            }
            _ => {}
        }
    }
    // The first is the blow itself.
    let heights: Vec<f64> = tops.into_iter().skip(1 + skip).collect();
    let first = *heights.first()?;
    let watched = (thin.len() - last) as f64 > WATCHED_S * RATE_HZ;
    Some(Swings { drowned: (SEEN * noise).max(ABOVE_TAIL * first), heights, watched })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::driver::knock_spotting::find_knocks;

    const AT_HZ: f64 = 48_000.0;

    /// Knocks of these heights at 30 Hz, each half swing `part` of the one before less `amount`, until nothing is left.
    fn knocks(heights: &[f64], part: f64, amount: f64) -> Take {
        let mut samples = vec![1e-4; 24_000];
        for height in heights {
            let mut top = *height;
            let mut inward = true;
            let mut written = 0;
            while top > 0.002 {
                let half = (0.5 / 30.0 * AT_HZ) as usize;
                let swing = (0..half).map(|n| (std::f64::consts::PI * n as f64 / half as f64).sin());
                samples.extend(swing.map(|s| if inward { s * top } else { -s * top }));
                written += half;
                inward = !inward;
                top = top * part - amount;
            }
            samples.extend(vec![1e-4; 72_000 - written]);
        }
        Take::new(AT_HZ, vec![samples]).expect("a take")
    }

    fn called(take: &Take) -> bool {
        stops_dead(take, 1, &find_knocks(take, 1), 0).is_some()
    }

    #[test]
    fn a_cone_that_stops_is_told_from_one_that_dies_away() {
        assert!(called(&knocks(&[0.3, 0.2, 0.26, 0.24], 0.75, 0.09)));
        assert!(!called(&knocks(&[0.3, 0.2, 0.26, 0.24], 0.75, 0.0)));
        // The next knock comes while the ring is still strong.
        let slow = knocks(&[0.3, 0.2, 0.26, 0.24], 0.9, 0.0);
        let (quiet, rings) = slow.channel(1).expect("a channel").split_at(24_000);
        let crowded = quiet.iter().chain(rings.chunks(72_000).flat_map(|ring| &ring[..9_000])).copied().collect();
        assert!(!called(&Take::new(AT_HZ, vec![crowded]).expect("a take")));
        // Damped as heavily as an open driver may be, but viscous.
        assert!(!called(&knocks(&[0.3, 0.2, 0.26, 0.24], 0.35, 0.0)));
    }
}
