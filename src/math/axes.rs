//! Logarithmic axes and averaging over parts of an octave.

/// `count` values from `low` to `high` with equal ratios; both ends are exact. Needs 0 < low, count ≥ 2.
pub fn logarithmic(low: f64, high: f64, count: usize) -> Vec<f64> {
    let steps = count.saturating_sub(1).max(1) as f64;
    let ratio = (high / low).ln();
    let value = |i: usize| if i + 1 == count && count > 1 { high } else { low * (ratio * i as f64 / steps).exp() };
    (0..count).map(value).collect()
}

/// Exact mid-band value of band `x` of `per_octave` bands around 1000, base ten: 1000·10^(3x/(10b)) (IEC 61260-1, odd b).
pub fn band_centre(x: i32, per_octave: u32) -> f64 {
    1000.0 * 10.0_f64.powf(0.3 * f64::from(x) / f64::from(per_octave))
}

/// Lower and upper edge of that band: centre times 10^(±3/(20b)).
pub fn band_edges(x: i32, per_octave: u32) -> (f64, f64) {
    let half = 10.0_f64.powf(0.15 / f64::from(per_octave));
    (band_centre(x, per_octave) / half, band_centre(x, per_octave) * half)
}

/// Ranges of neighbouring entries of a rising axis, each spanning 1/`per_octave` octave or at least `at_least` entries.
/// Every entry with a positive value is in exactly one range; a short rest is joined to the last one.
pub fn fractional_octaves(axis: &[f64], per_octave: f64, at_least: usize) -> Vec<std::ops::Range<usize>> {
    let ratio = 2.0_f64.powf(1.0 / per_octave);
    let mut ranges: Vec<std::ops::Range<usize>> = Vec::new();
    let mut start = axis.partition_point(|v| *v <= 0.0);
    while start < axis.len() {
        let wide = axis.partition_point(|v| *v < axis[start] * ratio).max(start + 1);
        let end = wide.max(start + at_least.max(1));
        if end > axis.len() {
            match ranges.last_mut() {
                Some(last) => last.end = axis.len(),
                None => ranges.push(start..axis.len()),
            }
            break;
        }
        ranges.push(start..end);
        start = end;
    }
    ranges
}

/// Straight-line interpolation of y over a rising x; held at the ends. None for no points.
pub fn interpolate(x: &[f64], y: &[f64], at: f64) -> Option<f64> {
    let above = x.partition_point(|v| *v < at);
    if above == 0 {
        return y.first().copied();
    }
    if above >= x.len().min(y.len()) {
        return y.get(x.len().min(y.len()).checked_sub(1)?).copied();
    }
    let part = (at - x[above - 1]) / (x[above] - x[above - 1]);
    Some(y[above - 1] + (y[above] - y[above - 1]) * part)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn equal_ratios_and_exact_ends() {
        let axis = logarithmic(20.0, 20_000.0, 4);
        assert_eq!((axis[0], axis[3]), (20.0, 20_000.0));
        assert!((axis[1] - 200.0).abs() < 1e-10 && (axis[2] - 2000.0).abs() < 1e-9);
    }

    #[test]
    fn third_octave_bands_of_the_standard() {
        // IEC 61260-1, base ten: exact mid-band frequencies and the edges of the 1 kHz band.
        for (x, expected) in [(-17, 19.9526), (-10, 100.0), (0, 1000.0), (10, 10_000.0)] {
            assert!((band_centre(x, 3) / expected - 1.0).abs() < 2.6e-6, "half a unit of the last printed digit");
        }
        let (low, high) = band_edges(0, 3);
        assert!((low - 891.251).abs() < 5e-4 && (high - 1122.02).abs() < 5e-3);
    }

    #[test]
    fn ranges_cover_every_entry_once() {
        let axis: Vec<f64> = (0..1000).map(f64::from).collect();
        let ranges = fractional_octaves(&axis, 12.0, 3);
        assert_eq!(ranges[0], 1..4);
        assert!(ranges.windows(2).all(|w| w[0].end == w[1].start));
        assert_eq!(ranges.last().map(|r| r.end), Some(1000));
        assert!(ranges.iter().all(|r| r.len() >= 3));
        assert!(fractional_octaves(&[], 3.0, 1).is_empty());
        assert_eq!(fractional_octaves(&[1.0, 2.0], 1.0, 5), vec![0..2]);
    }

    #[test]
    fn interpolation_holds_at_the_ends() {
        let (x, y) = ([1.0, 2.0, 4.0], [10.0, 20.0, 0.0]);
        let at = |v| interpolate(&x, &y, v);
        assert_eq!([at(0.0), at(1.5), at(3.0), at(9.0)], [Some(10.0), Some(15.0), Some(10.0), Some(0.0)]);
        assert_eq!(interpolate(&[], &[], 1.0), None);
    }
}
