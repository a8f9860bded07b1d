//! Sums over slices, in one place: plain loops that stay fast where the page's build trades speed for size.

/// Σ a b over the shorter length, in four lanes that a compiler can take at once.
#[inline(never)]
pub fn dot(a: &[f64], b: &[f64]) -> f64 {
    let length = a.len().min(b.len());
    let (a, b) = (&a[..length], &b[..length]);
    let mut lanes = [0.0; 4];
    let whole = length - length % 4;
    let mut i = 0;
    while i < whole {
        lanes[0] += a[i] * b[i];
        lanes[1] += a[i + 1] * b[i + 1];
        lanes[2] += a[i + 2] * b[i + 2];
        lanes[3] += a[i + 3] * b[i + 3];
        i += 4;
    }
    while i < length {
        lanes[0] += a[i] * b[i];
        i += 1;
    }
    (lanes[0] + lanes[1]) + (lanes[2] + lanes[3])
}

/// Mean; 0 of nothing.
pub fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len().max(1) as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sums() {
        let (a, b) = ([1.0, 2.0, 3.0, 4.0, 5.0, 6.0], [1.0, 1.0, 1.0, 1.0, 1.0, 10.0, 7.0]);
        assert_eq!((dot(&a, &b), dot(&a[..3], &b), dot(&[], &b)), (75.0, 6.0, 0.0));
        assert_eq!((mean(&a), mean(&[])), (3.5, 0.0));
    }
}
