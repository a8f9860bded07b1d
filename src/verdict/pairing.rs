//! Which of a set belong together: the pairing of least cost, exactly, and what every other one costs.
//!
//! Least-cost perfect matching over subsets: best[S] = min over j of cost(first of S, j) + best[S without both]. Of an odd
//! set one stays over, whichever leaves the least. Shapes: costs n × n, symmetric, finite; n up to [`MOST`].

/// Largest set: 2^16 subsets.
pub const MOST: usize = 16;

/// A pairing of a set.
#[derive(Clone, Debug, PartialEq)]
pub struct Pairing {
    /// Members by their place in the set, the lower first; in order of the first.
    pub pairs: Vec<(usize, usize)>,
    /// Who stays over in an odd set.
    pub left_over: Option<usize>,
    /// Sum of the costs of the pairs.
    pub cost: f64,
}

impl Pairing {
    /// Who is paired with member `k`; none where it stays over.
    pub fn partner(&self, k: usize) -> Option<usize> {
        let pair = self.pairs.iter().find(|(i, j)| *i == k || *j == k);
        pair.map(|(i, j)| if *i == k { *j } else { *i })
    }
}

/// The cheapest pairing; none for fewer than two or more than [`MOST`] members.
pub fn best(costs: &[Vec<f64>]) -> Option<Pairing> {
    best_with(costs, None)
}

/// The cheapest pairing in which these two are partners.
pub fn best_with(costs: &[Vec<f64>], together: Option<(usize, usize)>) -> Option<Pairing> {
    let n = costs.len();
    if !(2..=MOST).contains(&n) {
        return None;
    }
    // An odd set gets a partner that costs nothing: whoever stands with it stays over.
    let even = n + n % 2;
    let cost = |i: usize, j: usize| if i.max(j) == n { 0.0 } else { costs[i][j] };
    let forced = together.map_or(0, |(i, j)| 1usize << i | 1 << j);
    let (totals, partners) = table(even, forced, &cost);
    let mut open = ((1usize << even) - 1) & !forced;
    let mut pairs: Vec<(usize, usize)> = together.map(|(i, j)| (i.min(j), i.max(j))).into_iter().collect();
    let total = totals[open] + together.map_or(0.0, |(i, j)| cost(i, j));
    while open != 0 {
        let (i, j) = (open.trailing_zeros() as usize, partners[open]);
        pairs.push((i, j));
        open &= !(1 << i | 1 << j);
    }
    let left_over = pairs.iter().find(|(_, j)| *j == n).map(|(i, _)| *i);
    pairs.retain(|(_, j)| *j != n);
    pairs.sort_unstable();
    Some(Pairing { pairs, left_over, cost: total })
}

/// Least cost of every subset without the members of `forced`, and the partner of its first member.
fn table(n: usize, forced: usize, cost: &impl Fn(usize, usize) -> f64) -> (Vec<f64>, Vec<usize>) {
    let mut totals = vec![f64::INFINITY; 1 << n];
    let mut partners = vec![0; 1 << n];
    totals[0] = 0.0;
    for subset in 1usize..1 << n {
        if subset & forced != 0 || subset.count_ones() % 2 == 1 {
            continue;
        }
        let first = subset.trailing_zeros() as usize;
        for other in (first + 1..n).filter(|other| subset >> other & 1 == 1) {
            let total = cost(first, other) + totals[subset & !(1 << first | 1 << other)];
            if total < totals[subset] {
                (totals[subset], partners[subset]) = (total, other);
            }
        }
    }
    (totals, partners)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Random;

    /// Every pairing, one by one: the independent path.
    fn exhaustive(costs: &[Vec<f64>], open: &[usize]) -> f64 {
        match open {
            [] | [_] => 0.0,
            [first, rest @ ..] => {
                let with = rest.iter().map(|other| {
                    let left: Vec<usize> = rest.iter().copied().filter(|k| k != other).collect();
                    costs[*first][*other] + exhaustive(costs, &left)
                });
                let over = (open.len() % 2 == 1).then(|| exhaustive(costs, rest));
                with.chain(over).fold(f64::INFINITY, f64::min)
            }
        }
    }

    #[test]
    fn a_hundred_random_sets_agree_with_trying_every_pairing() {
        let mut random = Random::new(11);
        for round in 0..100 {
            let n = 2 + round % 7;
            let mut costs = vec![vec![0.0; n]; n];
            for (i, j) in (0..n).flat_map(|i| (0..i).map(move |j| (i, j))) {
                costs[i][j] = random.uniform();
                costs[j][i] = costs[i][j];
            }
            let found = best(&costs).unwrap();
            let all: Vec<usize> = (0..n).collect();
            assert!((found.cost - exhaustive(&costs, &all)).abs() < 1e-12, "{n}");
            let sum: f64 = found.pairs.iter().map(|(i, j)| costs[*i][*j]).sum();
            assert!((sum - found.cost).abs() < 1e-12 && found.left_over.is_some() == (n % 2 == 1));
            let least =
                (0..n).flat_map(|i| (0..i).map(move |j| (j, i))).map(|p| best_with(&costs, Some(p)).unwrap().cost);
            assert!((least.fold(f64::INFINITY, f64::min) - found.cost).abs() < 1e-12);
        }
    }

    #[test]
    fn one_alone_and_too_many_have_no_pairing() {
        assert!(best(&[vec![0.0]]).is_none() && best(&vec![vec![1.0; MOST + 1]; MOST + 1]).is_none());
    }
}
