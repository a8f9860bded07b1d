//! Preferred values of resistors, and what can be made of one or two of them.
//!
//! IEC 60063. E24 and its parts E12, E6, E3 are a table of their own (eight members are not the rounded power); E48, E96
//! and E192 are the powers 10^(i/n) rounded to three digits, with one exception in E192: 920 instead of 919. E24 and E96
//! are confirmed by published lists; that E48 and E192 follow the same rule, and the exception, are from memory.

use serde::Serialize;

/// A series, by the number of its members in a decade.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub enum Series {
    /// ± 40 % and more.
    E3,
    /// ± 20 %.
    E6,
    /// ± 10 %.
    E12,
    /// ± 5 %.
    E24,
    /// ± 2 %.
    E48,
    /// ± 1 %.
    E96,
    /// ± 0.5 % and better.
    E192,
}

/// Members of E24 as two digits.
const E24: [u16; 24] = [10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91];
/// Two that are further apart than this are no pair: the second would change less than the usual tolerance of the first.
const MOST_APART: f64 = 20.0;
/// Resistors that can be bought over the counter, in Ω.
const BUYABLE_OHM: (f64, f64) = (0.1, 10e6);

impl Series {
    /// Every series, the coarsest first.
    pub const ALL: [Series; 7] =
        [Series::E3, Series::E6, Series::E12, Series::E24, Series::E48, Series::E96, Series::E192];

    /// Members in a decade.
    pub fn count(self) -> usize {
        [3, 6, 12, 24, 48, 96, 192][self as usize]
    }

    /// One decade as three digits, 100 to 999.
    pub fn digits(self) -> Vec<u16> {
        let n = self.count();
        if n <= 24 {
            return E24.iter().step_by(24 / n).map(|two| two * 10).collect();
        }
        let rounded = |i: usize| (100.0 * 10f64.powf(i as f64 / n as f64)).round() as u16;
        (0..n).map(|i| if n == 192 && i == 185 { 920 } else { rounded(i) }).collect()
    }

    /// Members from `low_ohm` to `high_ohm` in Ω, rising.
    pub fn values_ohm(self, low_ohm: f64, high_ohm: f64) -> Vec<f64> {
        let digits = self.digits();
        let (from, to) = (decade_of(low_ohm) - 2, decade_of(high_ohm) - 2);
        let decades = from..=to;
        let all = decades.flat_map(|d| digits.iter().map(move |m| scaled(f64::from(*m), d)).collect::<Vec<f64>>());
        // A member that is meant must not be lost to the last bit of a limit.
        all.filter(|v| (low_ohm * (1.0 - 1e-9)..=high_ohm * (1.0 + 1e-9)).contains(v)).collect()
    }

    /// Whether the value is a member, to half a unit of the third digit.
    pub fn holds(self, ohm: f64) -> bool {
        ohm.is_finite() && ohm > 0.0 && {
            let nearest = nearest(&self.values_ohm(ohm * 0.5, ohm * 2.0), ohm);
            nearest.is_some_and(|v| (v / ohm - 1.0).abs() < 1e-6)
        }
    }
}

/// The coarsest series that has this value; none where no series has it.
pub fn series_of(ohm: f64) -> Option<Series> {
    Series::ALL.into_iter().find(|s| s.holds(ohm))
}

/// How resistors are joined.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Joined {
    /// One alone.
    One,
    /// One after the other.
    Series,
    /// Side by side.
    Parallel,
}

/// What comes near a wanted value.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Made {
    /// How they are joined.
    pub joined: Joined,
    /// One or two values in Ω, the larger first.
    pub parts_ohm: Vec<f64>,
    /// What it comes to, in Ω.
    pub ohm: f64,
    /// That over the wanted value, less 1.
    pub relative_error: f64,
}

/// What to take where the wanted value is not at hand: another one of E12, two of E12, two of E24, each only where it
/// comes nearer than all before. Empty for what is no resistance.
pub fn instead_of(wanted_ohm: f64) -> Vec<Made> {
    let mut singles = Series::E12.values_ohm(BUYABLE_OHM.0, BUYABLE_OHM.1);
    singles.retain(|v| (v / wanted_ohm - 1.0).abs() > 1e-6);
    let another = nearest(&singles, wanted_ohm).map(|v| made(Joined::One, vec![v], wanted_ohm));
    let mut out: Vec<Made> = Vec::new();
    for made in [another, two(Series::E12, wanted_ohm), two(Series::E24, wanted_ohm)].into_iter().flatten() {
        let nearer = |last: &Made| made.relative_error.abs() < last.relative_error.abs() - 1e-9;
        if is_resistance(wanted_ohm) && out.last().is_none_or(nearer) {
            out.push(made);
        }
    }
    out
}

/// The one resistor of the series that is nearest by ratio; none for what is no resistance.
pub fn one(series: Series, wanted_ohm: f64) -> Option<Made> {
    let values = series.values_ohm(BUYABLE_OHM.0, BUYABLE_OHM.1);
    let value = nearest(&values, wanted_ohm).filter(|_| is_resistance(wanted_ohm))?;
    Some(made(Joined::One, vec![value], wanted_ohm))
}

/// The nearest that two of the series make, not too far apart. Of equals the pair in series stands, and the pair whose values are nearest to
/// each other (they share the power).
pub fn two(series: Series, wanted_ohm: f64) -> Option<Made> {
    let values = series.values_ohm(BUYABLE_OHM.0, BUYABLE_OHM.1);
    let rest = |a: f64| wanted_ohm - a;
    let beside = |a: f64| wanted_ohm * a / (a - wanted_ohm);
    let roads: [(Joined, &dyn Fn(f64) -> f64); 2] = [(Joined::Series, &rest), (Joined::Parallel, &beside)];
    let mut best: Option<Made> = None;
    for (joined, partner) in roads {
        for &a in &values {
            // By symmetry the first is the larger of the two.
            let from = values.partition_point(|b| b * MOST_APART < a * (1.0 - 1e-9));
            let to = values.partition_point(|b| *b <= a);
            for b in around(&values[from..to], partner(a)) {
                let found = made(joined, vec![a, b], wanted_ohm);
                if best.as_ref().is_none_or(|best| better(&found, best)) {
                    best = Some(found);
                }
            }
        }
    }
    best
}

/// The nearest that one or two of the series make; one where it is as good as two.
pub fn one_or_two(series: Series, wanted_ohm: f64) -> Option<Made> {
    let one = one(series, wanted_ohm)?;
    Some(two(series, wanted_ohm).filter(|two| better(two, &one)).unwrap_or(one))
}

fn is_resistance(ohm: f64) -> bool {
    ohm.is_finite() && ohm > 0.0
}

fn made(joined: Joined, parts_ohm: Vec<f64>, wanted_ohm: f64) -> Made {
    let ohm = match (joined, parts_ohm.as_slice()) {
        (Joined::Series, [a, b]) => a + b,
        (Joined::Parallel, [a, b]) => a * b / (a + b),
        _ => parts_ohm[0],
    };
    // Sums of decimal values are not exact in binary; a ten-billionth is no resistor's matter.
    let ohm = (ohm * 1e10).round() / 1e10;
    Made { joined, parts_ohm, ohm, relative_error: ohm / wanted_ohm - 1.0 }
}

fn better(a: &Made, b: &Made) -> bool {
    let (error_a, error_b) = (a.relative_error.abs(), b.relative_error.abs());
    let apart = |m: &Made| m.parts_ohm[0] / m.parts_ohm[m.parts_ohm.len() - 1];
    let as_good = (error_a - error_b).abs() < 1e-9;
    if as_good {
        a.joined == b.joined && apart(a) < apart(b) * (1.0 - 1e-9)
    } else {
        error_a < error_b
    }
}

/// The neighbours of `x` in a rising list: what lies just below and just above.
fn around(values: &[f64], x: f64) -> Vec<f64> {
    if !(x.is_finite() && x > 0.0) {
        return Vec::new();
    }
    let above = values.partition_point(|v| *v < x * (1.0 - 1e-9));
    values[above.saturating_sub(1)..(above + 1).min(values.len())].to_vec()
}

/// The member nearest by ratio.
fn nearest(values: &[f64], ohm: f64) -> Option<f64> {
    let apart = |v: &f64| (v / ohm).ln().abs();
    values.iter().copied().min_by(|a, b| apart(a).total_cmp(&apart(b)))
}

fn decade_of(ohm: f64) -> i32 {
    ohm.max(f64::MIN_POSITIVE).log10().floor() as i32
}

/// `m`·10^`decade` to the last bit as one would type it: dividing by a whole power is exact where multiplying is not.
pub(super) fn scaled(m: f64, decade: i32) -> f64 {
    if decade < 0 {
        m / 10f64.powi(-decade)
    } else {
        m * 10f64.powi(decade)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Published lists of IEC 60063.
    #[test]
    fn the_series_are_those_of_the_standard() {
        let two = |s: Series| s.digits().iter().map(|d| d / 10).collect::<Vec<u16>>();
        assert_eq!(two(Series::E3), [10, 22, 47]);
        assert_eq!(two(Series::E6), [10, 15, 22, 33, 47, 68]);
        assert_eq!(two(Series::E12), [10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82]);
        let e96 = "100 102 105 107 110 113 115 118 121 124 127 130 133 137 140 143 147 150 154 158 162 165 169 174 178 182 187 \
            191 196 200 205 210 215 221 226 232 237 243 249 255 261 267 274 280 287 294 301 309 316 324 332 340 348 357 365 \
            374 383 392 402 412 422 432 442 453 464 475 487 499 511 523 536 549 562 576 590 604 619 634 649 665 681 698 715 \
            732 750 768 787 806 825 845 866 887 909 931 953 976";
        let e96: Vec<u16> = e96.split_whitespace().map(|d| d.parse().unwrap()).collect();
        assert_eq!(Series::E96.digits(), e96);
        for series in Series::ALL {
            assert_eq!(series.digits().len(), series.count());
            assert!(series.digits().windows(2).all(|w| w[0] < w[1]));
        }
    }

    /// The standard: these of E24 are not the rounded power 10^(i/24).
    #[test]
    fn eight_members_of_e24_are_not_the_rounded_power() {
        let odd = E24.iter().enumerate().filter(|(i, v)| (10.0 * 10f64.powf(*i as f64 / 24.0)).round() as u16 != **v);
        assert_eq!(odd.map(|(_, v)| *v).collect::<Vec<u16>>(), [27, 30, 33, 36, 39, 43, 47, 82]);
    }

    #[test]
    fn a_value_is_told_its_series() {
        for (ohm, series) in
            [(47.0, Series::E3), (5.6, Series::E12), (51.0, Series::E24), (49.9, Series::E96), (9.2, Series::E192)]
        {
            assert_eq!(series_of(ohm), Some(series), "{ohm}");
        }
        assert_eq!(series_of(50.0), None);
        assert_eq!(series_of(f64::NAN), None);
    }

    #[test]
    fn one_is_taken_where_one_will_do() {
        let made = one_or_two(Series::E12, 56.0).unwrap();
        assert_eq!((made.joined, made.parts_ohm, made.ohm), (Joined::One, vec![56.0], 56.0));
        // 20 Ω: 10 + 10, and none alone.
        let made = one_or_two(Series::E12, 20.0).unwrap();
        assert_eq!((made.joined, made.parts_ohm), (Joined::Series, vec![10.0, 10.0]));
        assert_eq!(one_or_two(Series::E12, 0.0), None);
        assert_eq!(one_or_two(Series::E12, f64::NAN), None);
    }

    /// 56 Ω: the nearest other one is 47 Ω; 36 + 20 of E24 makes it exactly.
    #[test]
    fn what_stands_instead_comes_nearer_one_after_the_other() {
        let found = instead_of(56.0);
        assert_eq!(found[0].parts_ohm, [47.0]);
        assert_eq!((found[found.len() - 1].joined, found[found.len() - 1].ohm), (Joined::Series, 56.0));
        assert!(found.windows(2).all(|w| w[1].relative_error.abs() < w[0].relative_error.abs()));
        assert!(instead_of(-1.0).is_empty() && instead_of(f64::NAN).is_empty());
    }

    proptest! {
        /// Every pair of the series, tried one by one, makes nothing nearer.
        #[test]
        fn no_pair_is_nearer(exponent in 0.0..4.0f64, fine in any::<bool>()) {
            let series = if fine { Series::E24 } else { Series::E12 };
            let wanted = 10f64.powf(exponent);
            let found = one_or_two(series, wanted).unwrap();
            let values = series.values_ohm(BUYABLE_OHM.0, BUYABLE_OHM.1);
            let mut best = values.iter().map(|a| (a / wanted - 1.0).abs()).fold(f64::INFINITY, f64::min);
            for (i, a) in values.iter().enumerate() {
                for b in values[..=i].iter().filter(|b| *b * MOST_APART >= a * (1.0 - 1e-9)) {
                    best = best.min(((a + b) / wanted - 1.0).abs()).min((a * b / (a + b) / wanted - 1.0).abs());
                }
            }
            prop_assert!((found.relative_error.abs() - best).abs() < 2e-9, "{found:?}, best {best}");
        }
    }
}
