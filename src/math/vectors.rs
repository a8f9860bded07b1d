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

/// Σ (v − centre)², in lanes like [`dot`].
#[inline(never)]
pub fn energy(values: &[f64], centre: f64) -> f64 {
    let mut lanes = [0.0; 4];
    let whole = values.len() - values.len() % 4;
    let (fours, rest) = values.split_at(whole);
    for v in fours.chunks_exact(4) {
        let apart = [v[0] - centre, v[1] - centre, v[2] - centre, v[3] - centre];
        lanes[0] += apart[0] * apart[0];
        lanes[1] += apart[1] * apart[1];
        lanes[2] += apart[2] * apart[2];
        lanes[3] += apart[3] * apart[3];
    }
    for v in rest {
        lanes[0] += (v - centre) * (v - centre);
    }
    (lanes[0] + lanes[1]) + (lanes[2] + lanes[3])
}

/// Sum, in lanes like [`dot`].
#[inline(never)]
pub fn sum(values: &[f64]) -> f64 {
    let mut lanes = [0.0; 4];
    let whole = values.len() - values.len() % 4;
    let (fours, rest) = values.split_at(whole);
    for v in fours.chunks_exact(4) {
        lanes[0] += v[0];
        lanes[1] += v[1];
        lanes[2] += v[2];
        lanes[3] += v[3];
    }
    for v in rest {
        lanes[0] += v;
    }
    (lanes[0] + lanes[1]) + (lanes[2] + lanes[3])
}

/// Adds `factor` times some values to others, as far as both go.
#[inline(never)]
pub fn add_scaled(to: &mut [f64], factor: f64, values: &[f64]) {
    let length = to.len().min(values.len());
    let (to, values) = (&mut to[..length], &values[..length]);
    for i in 0..length {
        to[i] += factor * values[i];
    }
}

/// Least and greatest value; infinite of nothing. Compared by hand: `f64::min` is a call where the page runs.
#[inline(never)]
pub fn range(values: &[f64]) -> (f64, f64) {
    let (mut least, mut greatest) = (f64::INFINITY, f64::NEG_INFINITY);
    for &v in values {
        if v < least {
            least = v;
        }
        if v > greatest {
            greatest = v;
        }
    }
    (least, greatest)
}

/// Mean; 0 of nothing.
pub fn mean(values: &[f64]) -> f64 {
    sum(values) / values.len().max(1) as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sums() {
        let (a, b) = ([1.0, 2.0, 3.0, 4.0, 5.0, 6.0], [1.0, 1.0, 1.0, 1.0, 1.0, 10.0, 7.0]);
        assert_eq!((dot(&a, &b), dot(&a[..3], &b), dot(&[], &b)), (75.0, 6.0, 0.0));
        assert_eq!((mean(&a), mean(&[])), (3.5, 0.0));
        assert_eq!((sum(&b), energy(&a, 1.0), energy(&[], 1.0)), (22.0, 55.0, 0.0));
        assert_eq!((range(&a), range(&[])), ((1.0, 6.0), (f64::INFINITY, f64::NEG_INFINITY)));
        let mut to = [1.0; 7];
        add_scaled(&mut to, 2.0, &a);
        assert_eq!(to, [3.0, 5.0, 7.0, 9.0, 11.0, 13.0, 1.0]);
    }
}
