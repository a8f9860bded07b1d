//! Sorting, in one place: each `sort_by` with a closure of its own would put 5 kB of machine code into the page.

use std::collections::BTreeMap;

/// Puts values in rising order; NaN last.
#[inline(never)]
pub fn ascending(values: &mut [f64]) {
    values.sort_unstable_by(f64::total_cmp);
}

/// Places of the keys in rising order; equal keys keep theirs.
#[inline(never)]
pub fn order(keys: &[f64]) -> Vec<usize> {
    let n = keys.len();
    let (mut from, mut to): (Vec<usize>, Vec<usize>) = ((0..n).collect(), vec![0; n]);
    if keys.is_sorted_by(|a, b| a.total_cmp(b).is_le()) {
        return from;
    }
    let mut run = 1;
    while run < n {
        for begin in (0..n).step_by(2 * run) {
            let (middle, end) = ((begin + run).min(n), (begin + 2 * run).min(n));
            merge(keys, &from[begin..middle], &from[middle..end], &mut to[begin..end]);
        }
        std::mem::swap(&mut from, &mut to);
        run *= 2;
    }
    from
}

fn merge<'a>(keys: &[f64], mut left: &'a [usize], mut right: &'a [usize], to: &mut [usize]) {
    for place in to {
        let side = match (left, right) {
            ([l, ..], [r, ..]) if keys[*r].total_cmp(&keys[*l]).is_lt() => &mut right,
            ([], _) => &mut right,
            _ => &mut left,
        };
        *place = side[0];
        *side = &side[1..];
    }
}

/// The items with their keys in rising order; items of equal keys stay as they stood.
pub fn arranged<T>(items: Vec<T>, key: impl Fn(&T) -> f64) -> Vec<T> {
    let keys: Vec<f64> = items.iter().map(key).collect();
    let mut items: Vec<Option<T>> = items.into_iter().map(Some).collect();
    order(&keys).into_iter().filter_map(|i| items[i].take()).collect()
}

/// The numbers in rising order, each once; for short lists.
pub fn distinct<T: Ord>(numbers: impl IntoIterator<Item = T>) -> Vec<T> {
    let mut sorted = Vec::new();
    for number in numbers {
        if let Err(place) = sorted.binary_search(&number) {
            sorted.insert(place, number);
        }
    }
    sorted
}

/// Values by name; of two with one name the later counts. Entry by entry: collecting into a map sorts first, with a sort
/// of its own for each kind of value.
pub fn by_name<K: Into<String>, V>(pairs: impl IntoIterator<Item = (K, V)>) -> BTreeMap<String, V> {
    let mut map = BTreeMap::new();
    for (name, value) in pairs {
        map.insert(name.into(), value);
    }
    map
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Random;

    #[test]
    fn agrees_with_the_stable_sort_of_the_standard_library() {
        let mut random = Random::new(5);
        for n in 0..70 {
            let keys: Vec<f64> = (0..n).map(|_| (4.0 * random.normal()).round()).collect();
            let mut wanted: Vec<usize> = (0..n).collect();
            wanted.sort_by(|a, b| keys[*a].total_cmp(&keys[*b]));
            assert_eq!(order(&keys), wanted, "{keys:?}");
            assert_eq!(arranged((0..n).collect(), |i| keys[*i]), wanted);
        }
        assert_eq!(order(&[f64::NAN, 1.0, -0.0, 0.0]), [2, 3, 1, 0]);
        assert_eq!(distinct([7, 2, 7, 0]), [0, 2, 7]);
    }
}
