//! Does gain follow level? Takes with the resistor, played plainly and played louder, tell it.
//!
//! Once what was played louder is taken out, both are the same ratio; a gain control answers to their different levels and
//! sets them apart. What it does to the shaped take against those without the resistor is nothing where both came back at
//! one level: a cone that travels alike sounds alike, and a control treats like alike. So gain that follows level by less
//! than half of it is met, and not more than what the levels still differ by is left, which the budget carries.

use super::mic_impedance_check::LIMITS;
use super::take_by_take::Warnings;
use crate::electrical::ratio::{RatioCurve, RatioLine};
use crate::electrical::take_ratio::TakeSpectrum;
use crate::signal::notice::{Code, Notice};
use std::f64::consts::LN_10;

/// Change of ln gain from which on gain follows level: what makes a change between the outer takes doubtful.
const FOLLOWS: f64 = LIMITS.gain.1;
/// Part of a change of level that gain may take back and still be met; the search for a level lets no more pass.
const HALF: f64 = 0.5;
/// Levels that are one, in dB: 0.6 % of gain, which is then carried.
const ONE_LEVEL_DB: f64 = 0.05;
const DB: f64 = 20.0 / LN_10;

/// What was found.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct Judged {
    /// ln gain of the plain takes over that of the shaped ones; none where there are not both.
    pub followed_ln: Option<f64>,
    /// ln gain that may be left between the shaped takes and those without the resistor.
    pub left_ln: f64,
}

/// Level of takes as a control hears it, in dB; of nothing nought.
pub fn level_db(takes: &[TakeSpectrum]) -> f64 {
    let power = |s: &TakeSpectrum| s.excited.iter().map(|&k| s.mean[k].norm_sqr()).sum::<f64>();
    let mean = takes.iter().map(power).sum::<f64>() / takes.len().max(1) as f64;
    10.0 * mean.max(f64::MIN_POSITIVE).log10()
}

/// Judges takes with the resistor, plain and shaped; `levels_db` are theirs and that of the takes without it.
///
/// # Errors
/// A [`Notice`] where gain follows level by too much, or by less and the levels were not one.
pub fn judge(
    plain: &[RatioCurve],
    shaped: &[RatioCurve],
    levels_db: (f64, f64, f64),
    warnings: &mut Warnings,
) -> Result<Judged, Box<Notice>> {
    let (Some(plain), Some(shaped)) = (plain.first(), shaped.last()) else { return Ok(Judged::default()) };
    let followed_ln = apart(plain, shaped);
    if followed_ln.abs() < FOLLOWS {
        return Ok(Judged { followed_ln: Some(followed_ln), left_ln: 0.0 });
    }
    let (quieter_db, apart_db) = (levels_db.1 - levels_db.0, levels_db.1 - levels_db.2);
    let change_db = followed_ln * DB;
    let numbers = [("change_db", change_db), ("allowed_db", FOLLOWS * DB), ("level_apart_db", apart_db)];
    // What came back has the control's own change in it.
    let strong = change_db.abs() > HALF * (quieter_db + change_db).abs();
    if strong || apart_db.abs() > ONE_LEVEL_DB {
        let told = if strong { &numbers[..2] } else { &numbers[..] };
        return Err(Box::new(Notice::new(Code::GainRiding, told)));
    }
    let met = [numbers[0], numbers[1], ("met_within_db", apart_db)];
    warnings.push((Notice::new(Code::GainRiding, &met), false));
    Ok(Judged { followed_ln: Some(followed_ln), left_ln: apart_db / DB })
}

/// Mean of ln |plain| − ln |shaped| over their common lines, weighted with their noise.
fn apart(plain: &RatioCurve, shaped: &RatioCurve) -> f64 {
    let relative = |line: &RatioLine| line.variance / line.ratio.norm_sqr();
    let in_band = |line: &&RatioLine| (LIMITS.band_hz.0..=LIMITS.band_hz.1).contains(&line.frequency_hz);
    let (mut sum, mut weight) = (0.0, 0.0);
    for line in plain.lines.iter().filter(in_band) {
        let at = shaped.lines.partition_point(|l| l.frequency_hz < line.frequency_hz);
        let Some(other) = shaped.lines.get(at).filter(|l| l.frequency_hz == line.frequency_hz) else { continue };
        let w = 1.0 / (relative(line) + relative(other)).max(1e-30);
        sum += w * (line.ratio.norm() / other.ratio.norm()).ln();
        weight += w;
    }
    if weight > 0.0 {
        sum / weight
    } else {
        0.0
    }
}
