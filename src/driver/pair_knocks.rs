//! Knocks on two drivers, one on each input channel: whose is which, and is there more than one driver at all?
//!
//! A knock on one driver reaches the other input too: through the bench, or from channel to channel inside the input. What
//! comes at the same moment and clearly weaker is such an answer and does not count. Where both inputs hear the same at
//! every knock, a single driver hangs at both, a cable joins them, or the input is mono.
//! Symbols: correlation of the channels r = Σab/√(Σa²Σb²), means taken off.

use super::knock_spotting::{spot_knocks, SpottedKnock};
use crate::signal::notice::{Code, Notice};
use crate::signal::take::Take;

/// Knocks closer than this in the two channels are one knock: a frame of the search to either side, and the time that a
/// bench takes to hand it over.
const SAME_MOMENT_S: f64 = 0.05;
/// An answer is at least this much weaker than the knock itself (common practice: a bench that hands over half of a knock
/// is no bench; what two hands do at one moment differs by less than four times).
const ANSWER_BELOW_DB: f64 = 12.0;
/// Correlation from which on two channels are one signal. Two drivers 3 % apart in pitch, knocked at the very same moment
/// with Q 5: ∫e^(-αt)cos(Δωt) over ∫e^(-αt) is 1/(1 + (2·0.03·5)²) = 0.92 at worst, and nobody knocks so.
const ONE_SIGNAL: f64 = 0.97;

/// A knock with the place of its driver among the two.
#[derive(Clone, Debug, PartialEq)]
pub struct PairKnock {
    /// 0 for the first driver, 1 for the second.
    pub driver: usize,
    /// The knock.
    pub knock: SpottedKnock,
}

/// Knocks in both channels in order of time; channels count from 1.
pub fn spot_pair(take: &Take, channels: [usize; 2]) -> Vec<PairKnock> {
    let found = channels.map(|channel| spot_knocks(take, channel));
    let mut out: Vec<PairKnock> = Vec::new();
    for driver in 0..2 {
        for knock in &found[driver] {
            let mut knock = knock.clone();
            let louder = |other: &SpottedKnock| {
                (other.time_s - knock.time_s).abs() < SAME_MOMENT_S
                    && other.peak_dbfs > knock.peak_dbfs + ANSWER_BELOW_DB
            };
            if found[1 - driver].iter().any(louder) {
                knock.set_aside = Some(Notice::new(Code::OtherDriver, &[]));
            }
            out.push(PairKnock { driver, knock });
        }
    }
    crate::math::order::arranged(out, |k| k.knock.time_s)
}

/// The two channels carry one signal: the refusal, with how much of it is alike.
pub(super) fn one_signal(take: &Take, channels: [usize; 2]) -> Option<Notice> {
    let [a, b] = channels.map(|channel| take.channel(channel).unwrap_or(&[]));
    let r = correlation(a, b)?;
    let heard = spot_pair(take, channels);
    let counts = [0, 1].map(|driver| heard.iter().filter(|k| k.driver == driver).count());
    // Hum in two silent channels is alike as well; that no knock is there is said elsewhere.
    (r.abs() > ONE_SIGNAL && counts[0] > 0 && counts[1] > 0)
        .then(|| Notice::new(Code::SameChannels, &[("alike", r.abs())]))
}

fn correlation(a: &[f64], b: &[f64]) -> Option<f64> {
    let n = a.len().min(b.len()) as f64;
    let mean = |s: &[f64]| s.iter().sum::<f64>() / n.max(1.0);
    let (mean_a, mean_b) = (mean(a), mean(b));
    let (mut ab, mut aa, mut bb) = (0.0, 0.0, 0.0);
    for (x, y) in a.iter().zip(b) {
        let (x, y) = (x - mean_a, y - mean_b);
        (ab, aa, bb) = (ab + x * y, aa + x * x, bb + y * y);
    }
    (aa > 0.0 && bb > 0.0).then(|| ab / (aa * bb).sqrt())
}
