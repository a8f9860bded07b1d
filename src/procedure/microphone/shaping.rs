//! How loud and in what shape the second take with the resistor is played.
//!
//! R in series leaves the coil less current and less damping: above resonance the cone moves by (R_e + R_o)/(R_e + R_o + R)
//! of what it did, at resonance by nearly as much. The rough reading of the first take with R gives resonance, Q's and R_e;
//! from them follow the level and the shape that undo both (circuit theory).

use super::super::past::Past;
use super::super::step::{Happening, ReadingNote, TakeUse};
use crate::signal::notice::Code;

/// Most that is played louder, in dB.
const MOST_DB: f64 = 30.0;
/// Takes played again at the others' level before the road ends with what came out.
const ROUNDS: usize = 2;
/// Q's and R_e that drivers have; what lies beyond is held at the end.
const Q: (f64, f64) = (0.05, 50.0);

/// Level over the takes without the resistor in dB, and shape.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Shaping {
    pub louder_db: f64,
    pub travel_shape: [f64; 3],
}

/// From the rough reading; `behind_ohm` is the output's resistance, `most_db` what there is room for.
pub(super) fn shaping(rough: &ReadingNote, behind_ohm: f64, series_ohm: f64, most_db: f64) -> Option<Shaping> {
    let value = |name: &str| rough.values.get(name).copied().filter(|x| x.is_finite() && *x > 0.0);
    let (f_s_hz, q_ms, q_es, r_e_ohm) = (value("f_s_hz")?, value("q_ms")?, value("q_es")?, value("r_e_ohm")?);
    let damped = |ohm: f64| {
        let q_es = q_es * (1.0 + ohm / r_e_ohm);
        (q_ms * q_es / (q_ms + q_es)).clamp(Q.0, Q.1)
    };
    let louder = (r_e_ohm + behind_ohm + series_ohm) / (r_e_ohm + behind_ohm);
    Some(Shaping {
        louder_db: (20.0 * louder.log10()).clamp(0.0, most_db.clamp(0.0, MOST_DB)),
        travel_shape: [f_s_hz, damped(behind_ohm), damped(behind_ohm + series_ohm)],
    })
}

/// What readings since the place `from` say the shaped take was off the others' level, in dB, where gain follows level.
pub(super) fn off_db(past: &Past, from: usize) -> (f64, usize) {
    let off = past.events().iter().skip(from).filter_map(|e| match e {
        Happening::Read { reading } => {
            let riding = reading.refusal.as_ref().filter(|n| n.code == Code::GainRiding)?;
            riding.numbers.get("level_apart_db").copied().filter(|x| x.abs() < 6.0)
        }
        _ => None,
    });
    let rounds: Vec<f64> = off.take(ROUNDS).collect();
    (rounds.iter().sum(), rounds.len())
}

/// The reading of exactly these takes, however long ago.
pub(super) fn reading_of<'a>(past: &Past<'a>, uses: &[TakeUse]) -> Option<&'a ReadingNote> {
    past.events().iter().rev().find_map(|e| match e {
        Happening::Read { reading } if reading.takes.iter().eq(uses.iter().map(|u| &u.id)) => Some(reading),
        _ => None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::procedure::rehearsal;

    /// The stated driver by hand: Q_es 0.4 becomes 0.4·14.2/6 = 0.94667 behind 8.2 Ω; with Q_ms 5 that is 0.37037 and
    /// 0.79596; 20 log10(14.2/6) = 7.483 dB.
    #[test]
    fn level_and_shape_by_hand() {
        let rough = rehearsal::reading(&[], 3);
        let found = shaping(&rough, 0.0, 8.2, 20.0).unwrap();
        assert!((found.louder_db - 7.483).abs() < 5e-4, "{found:?}");
        for (value, by_hand) in found.travel_shape.into_iter().zip([30.0, 0.37037, 0.79596]) {
            assert!((value - by_hand).abs() < 5e-5, "{found:?}");
        }
        assert_eq!(shaping(&rough, 0.0, 8.2, 3.0).unwrap().louder_db, 3.0);
        assert_eq!(shaping(&ReadingNote { values: [].into(), ..rough }, 0.0, 8.2, 20.0), None);
    }
}
