//! Which parts are partners, and how far apart they are.

use super::overview::{latest, Apart, JobCheck, JobReading, OverviewRequest, PartnersFound};
use super::record::{Part, Side};
use crate::verdict::limits::{pair_limits, PairLimit};
use crate::verdict::matching::{match_parts, MatchSetup, Pair};

/// Readings farther apart than this were not taken in one session: the jig may have changed in between.
const ONE_SESSION_MS: f64 = 12.0 * 3600.0 * 1000.0;

/// Partners together, left before right, in the order in which they first appear; all others alone.
pub fn pairs(parts: &[Part]) -> Vec<Vec<&Part>> {
    let mut out: Vec<Vec<&Part>> = Vec::new();
    for part in parts {
        let alike = |group: &&mut Vec<&Part>| matches!(group.as_slice(), [other] if partners(other, part));
        match out.iter_mut().find(alike) {
            Some(group) if part.side == Side::Left => group.insert(0, part),
            Some(group) => group.push(part),
            None => out.push(vec![part]),
        }
    }
    out
}

/// Same kind and band on opposite sides.
fn partners(a: &Part, b: &Part) -> bool {
    let opposite = matches!((a.side, b.side), (Side::Left, Side::Right) | (Side::Right, Side::Left));
    opposite && a.kind == b.kind && a.band == b.band
}

/// The limits of this job: common practice, where the job sets no other.
pub fn limits(request: &OverviewRequest) -> Vec<PairLimit> {
    let own = &request.job.pair_limits;
    pair_limits().into_iter().map(|l| own.iter().find(|o| o.name == l.name).cloned().unwrap_or(l)).collect()
}

/// Compares two partners by their latest readings of like kind.
pub fn compare(request: &OverviewRequest, left: &Part, right: &Part) -> PartnersFound {
    let mut found =
        PartnersFound { verdict: None, compared: Vec::new(), causes: Vec::new(), same_jig: false, apart: Vec::new() };
    // Impedance tells more than a knock, so it decides where both have it.
    for check in [JobCheck::Knock, JobCheck::Impedance] {
        let both = latest(request, left, check).zip(latest(request, right, check));
        let Some((pair, same_jig)) = both.and_then(|(l, r)| differences(request, l, r)) else { continue };
        found.apart.extend(pair.compared.iter().filter(|c| c.name == "f_s_hz").map(|c| Apart {
            check,
            name: c.name.clone(),
            percent: c.percent,
            half_width_95_percent: c.half_width_95_percent,
        }));
        (found.verdict, found.same_jig) = (Some(pair.verdict), same_jig);
        (found.compared, found.causes) = (pair.compared, pair.causes);
    }
    found
}

/// None where the readings cannot be compared (doubtful, another check, nothing in common).
fn differences(request: &OverviewRequest, left: &JobReading, right: &JobReading) -> Option<(Pair, bool)> {
    let together = (left.created_at_ms - right.created_at_ms).abs() < ONE_SESSION_MS;
    let same_jig = together && left.jig == right.jig;
    let setup = MatchSetup { parts: vec![left.part.clone(), right.part.clone()], same_jig, limits: limits(request) };
    let pair = match_parts(&setup).ok()?.pairs.into_iter().next()?;
    Some((pair, same_jig))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn part(id: &str, side: Side, band: &str) -> Part {
        Part { id: id.to_owned(), side, band: band.to_owned(), ..Part::default() }
    }

    #[test]
    fn partners_stand_together_left_first_and_nobody_has_two() {
        let parts = [
            part("a", Side::Right, "bass"),
            part("b", Side::Left, "treble"),
            part("c", Side::Left, "bass"),
            part("d", Side::None, "treble"),
            part("e", Side::Left, "bass"),
        ];
        let ids: Vec<Vec<&str>> = pairs(&parts).iter().map(|g| g.iter().map(|p| p.id.as_str()).collect()).collect();
        assert_eq!(ids, [vec!["c", "a"], vec!["b"], vec!["d"], vec!["e"]]);
    }
}
