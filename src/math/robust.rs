//! Statistics that a few wild values do not move.

use super::order::ascending;

/// Median absolute deviation times this estimates the standard deviation of normal data: 1/Φ⁻¹(0.75).
pub const MAD_TO_SIGMA: f64 = 1.482_602_218_505_602;

/// Median (mean of the two middle values for an even count); none for no values. NaN sorts last.
pub fn median(values: &[f64]) -> Option<f64> {
    if values.is_empty() {
        return None;
    }
    let mut values = values.to_vec();
    let odd = values.len() % 2 == 1;
    // Choosing the middle needs no sorting of what lies to its sides.
    let half = values.len() / 2;
    let (lower, middle, _) = values.select_nth_unstable_by(half, f64::total_cmp);
    let below = lower.iter().copied().fold(f64::NEG_INFINITY, |a, b| if b.total_cmp(&a).is_gt() { b } else { a });
    Some(if odd { *middle } else { 0.5 * (below + *middle) })
}

/// Median absolute deviation from the median, not scaled; none for no values.
pub fn mad(values: &[f64]) -> Option<f64> {
    let centre = median(values)?;
    median(&values.iter().map(|v| (v - centre).abs()).collect::<Vec<_>>())
}

/// Indices of values further from the median than `limit` robust standard deviations, the robust deviation being taken
/// as no less than `floor` (so that nearly equal values are not split by rounding). None for fewer than three values.
pub fn outliers(values: &[f64], limit: f64, floor: f64) -> Vec<usize> {
    let (Some(centre), Some(spread)) = (median(values), mad(values)) else { return Vec::new() };
    if values.len() < 3 {
        return Vec::new();
    }
    let sigma = (spread * MAD_TO_SIGMA).max(floor);
    let inside = |v: f64| (v - centre).abs() <= limit * sigma;
    (0..values.len()).filter(|&i| !inside(values[i])).collect()
}

/// Value below which the given part (0 to 1) of the values lies, linear between neighbours; none for no values.
pub fn quantile(values: &[f64], part: f64) -> Option<f64> {
    let mut sorted = values.to_vec();
    ascending(&mut sorted);
    let place = part.clamp(0.0, 1.0) * sorted.len().checked_sub(1)? as f64;
    let (low, high) = (place.floor() as usize, place.ceil() as usize);
    Some(sorted[low] + (sorted[high] - sorted[low]) * (place - low as f64))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn middle_values() {
        assert_eq!(median(&[3.0, 1.0, 2.0]), Some(2.0));
        assert_eq!(median(&[4.0, 1.0, 2.0, 3.0]), Some(2.5));
        assert_eq!(median(&[]), None);
        assert_eq!(mad(&[1.0, 1.0, 2.0, 2.0, 4.0, 6.0, 9.0]), Some(1.0));
        assert_eq!(quantile(&[0.0, 10.0], 0.25), Some(2.5));
    }

    #[test]
    fn one_wild_value_is_found_and_equal_values_are_left_alone() {
        assert_eq!(outliers(&[1.0, 1.1, 0.9, 1.05, 50.0], 5.0, 0.0), vec![4]);
        assert!(outliers(&[1.0, 1.0, 1.0, 1.0 + 1e-15], 5.0, 1e-12).is_empty());
        assert_eq!(outliers(&[1.0, 1.0, 1.0, f64::NAN], 5.0, 0.1), vec![3]);
    }
}
