//! The polarity check: which way does the cone move for plus on the marked terminal?
//!
//! By push: a cone moving outwards with velocity v gives Bl v at its terminals, plus at that terminal which, fed with
//! plus, moves it outwards (the same Bl drives and generates; energy conservation). Pushed inwards, a driver that moves
//! outwards for plus therefore begins with minus at the marked terminal. By pulse: see `polarity_pulse`. The path's own
//! sign is learnt once: plus of a cell on the input begins with plus where the input is upright; or a driver that is
//! known to move outwards for plus is measured in the same way. Without it a run of drivers is compared with its first.
//! A sign has no spread: what is given instead is the margin, first lobe over all that could have hidden another sign.

pub use super::polarity_pulse::PERIOD_S;
pub use super::polarity_setup::{PolarityMethod, PolaritySetup};

use super::polarity_pulse::first_arrival;
use super::polarity_push::movements;
use crate::signal::health;
use crate::signal::notice::{Code, Notice};
use crate::signal::reading::{Curve, Figure, Reading};
use crate::signal::role_take::{RoleTake, SetupError};

const CHECK: &str = "polarity";
/// Margin from which a sign is believed.
pub(super) const CLEAR: f64 = 3.0;
/// Pushes, or touches of the cell, that must be there and agree.
pub const PUSHES_WANTED: usize = 3;
/// Touches of the cell.
pub const TOUCHES_WANTED: usize = 2;
const NO_SPREAD: &str = "a ratio of heights that stands behind a sign; a sign has no spread";

/// One movement in a take.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Movement {
    /// Where it begins, in s.
    pub time_s: f64,
    /// +1 or −1, as recorded.
    pub sign: f64,
    /// First lobe over what could have hidden another sign; [`CLEAR`] and more is believed.
    pub margin: f64,
}

/// What a take says.
struct Told {
    role: String,
    /// +1, −1; none where it cannot be told, with the reason.
    sign: Result<f64, Box<Notice>>,
    movements: Vec<Movement>,
}

/// Reads the takes.
///
/// # Errors
/// [`SetupError`] for a setup that cannot be used; takes that cannot answer are a refused [`Reading`].
pub fn analyse(setup: &PolaritySetup, takes: &[RoleTake]) -> Result<Reading, SetupError> {
    setup.check(takes)?;
    let method = match setup.method {
        PolarityMethod::Push => "first movement of the pushed cone",
        PolarityMethod::Pulse => "first arrival of a one-sided pulse",
    };
    let told: Vec<Told> = takes.iter().enumerate().map(|(k, take)| listen(setup, k, take)).collect();
    let mut reading = Reading::new(CHECK, method);
    reading.curves.insert("movements".to_owned(), curve(&told));
    if let Err(refusal) = read(setup, &told, &mut reading) {
        let mut refused = Reading::refused(CHECK, method, *refusal);
        refused.curves = reading.curves;
        return Ok(refused);
    }
    Ok(reading)
}

fn listen(setup: &PolaritySetup, k: usize, take: &RoleTake) -> Told {
    let movements = match setup.method {
        PolarityMethod::Push => movements(&take.take, setup.channel),
        PolarityMethod::Pulse => first_arrival(&take.take, setup.channel).into_iter().collect(),
    };
    let wanted = match (setup.method, take.role.as_str()) {
        (PolarityMethod::Pulse, _) => 1,
        (_, "cell") => TOUCHES_WANTED,
        _ => PUSHES_WANTED,
    };
    let sign = sign_of(&movements, wanted, k).map_err(|notice| spoilt(setup, take).unwrap_or(notice));
    Told { role: take.role.clone(), sign, movements }
}

/// The sign in which enough clear movements agree.
fn sign_of(movements: &[Movement], wanted: usize, k: usize) -> Result<f64, Box<Notice>> {
    let take = ("take", (k + 1) as f64);
    let clear: Vec<&Movement> = movements.iter().filter(|m| m.margin >= CLEAR).collect();
    if movements.len() < wanted {
        let numbers = [take, ("movements", movements.len() as f64), ("movements_wanted", wanted as f64)];
        return Err(Box::new(Notice::new(Code::NoMovement, &numbers)));
    }
    let up = clear.iter().filter(|m| m.sign > 0.0).count();
    let down = clear.len() - up;
    // An unclear movement counts as one that went the other way.
    if up == movements.len() {
        Ok(1.0)
    } else if down == movements.len() {
        Ok(-1.0)
    } else {
        let unclear = (movements.len() - clear.len()) as f64;
        let numbers = [take, ("began_plus", up as f64), ("began_minus", down as f64), ("unclear", unclear)];
        Err(Box::new(Notice::new(Code::PolarityUnclear, &numbers)))
    }
}

/// The take is no good for a reason of its own, which says more than that no sign was found.
fn spoilt(setup: &PolaritySetup, take: &RoleTake) -> Option<Box<Notice>> {
    let notices = health::assess_channels(&take.take, &[setup.channel]).notices;
    let bad = [Code::Silent, Code::DeadChannel, Code::Gap];
    notices.into_iter().find(|n| bad.contains(&n.code)).map(Box::new)
}

fn read(setup: &PolaritySetup, told: &[Told], reading: &mut Reading) -> Result<(), Box<Notice>> {
    let path = path_sign(setup, told)?;
    let path_name = match path {
        None => "not_known",
        Some(sign) if sign < 0.0 => "inverts",
        Some(_) => "upright",
    };
    reading.chosen.insert("input".to_owned(), path_name.to_owned());
    let drivers: Vec<&Told> = told.iter().filter(|t| t.role == "driver").collect();
    let clear = drivers.iter().filter(|t| t.sign.is_ok()).count();
    if clear == 0 {
        // Only the input was to be learnt, or nothing can be said.
        return match drivers.first() {
            Some(Told { sign: Err(notice), .. }) => Err(notice.clone()),
            _ if path.is_some() => Ok(()),
            _ => Err(Box::new(Notice::new(Code::InputSignUnknown, &[]))),
        };
    }
    if path.is_none() && clear < 2 {
        return Err(Box::new(Notice::new(Code::InputSignUnknown, &[])));
    }
    let first = drivers.iter().find_map(|t| t.sign.as_ref().ok()).copied().unwrap_or(1.0);
    for (k, driver) in drivers.iter().enumerate() {
        tell(setup, k + 1, driver, path, first, reading);
    }
    if path.is_none() {
        reading.warn(Notice::new(Code::InputSignUnknown, &[]), false);
    }
    Ok(())
}

fn tell(setup: &PolaritySetup, number: usize, told: &Told, path: Option<f64>, first: f64, reading: &mut Reading) {
    let word = match (&told.sign, path) {
        (Err(notice), _) => {
            reading.warn((**notice).clone(), true);
            "not_told"
        }
        (Ok(sign), Some(path)) if outward(setup.method, *sign * path) => "outwards_for_plus",
        (Ok(_), Some(_)) => "inwards_for_plus",
        (Ok(sign), None) if *sign == first => "as_the_first",
        (Ok(_), None) => "against_the_first",
    };
    reading.chosen.insert(format!("driver_{number}"), word.to_owned());
    if word == "inwards_for_plus" {
        reading.warn(Notice::new(Code::MovesInwards, &[("driver", number as f64)]), false);
    }
    if told.sign.is_ok() {
        let least = told.movements.iter().map(|m| m.margin).fold(f64::INFINITY, f64::min);
        let figure = Figure::without_uncertainty(least, NO_SPREAD);
        reading.values.insert(format!("driver_{number}_margin"), figure);
    }
}

/// Whether a sign, corrected for the path, is that of a cone that moves outwards for plus.
fn outward(method: PolarityMethod, sign: f64) -> bool {
    match method {
        PolarityMethod::Push => sign < 0.0,
        PolarityMethod::Pulse => sign > 0.0,
    }
}

/// +1 for an upright path, −1 for one that inverts; none where nothing tells it.
fn path_sign(setup: &PolaritySetup, told: &[Told]) -> Result<Option<f64>, Box<Notice>> {
    let mut signs: Vec<f64> = setup.input_inverts.map(|inverts| if inverts { -1.0 } else { 1.0 }).into_iter().collect();
    for teacher in told.iter().filter(|t| t.role != "driver") {
        let sign = teacher.sign.clone()?;
        let known_driver = teacher.role == "known_driver";
        let turned = known_driver && setup.method == PolarityMethod::Push;
        signs.push(if turned { -sign } else { sign });
    }
    if signs.iter().any(|s| *s != signs[0]) {
        return Err(Box::new(Notice::new(Code::Contradiction, &[("input_signs", signs.len() as f64)])));
    }
    Ok(signs.first().copied())
}

/// Every movement: take, place, sign and margin.
fn curve(told: &[Told]) -> Curve {
    let rows = || told.iter().enumerate().flat_map(|(k, t)| t.movements.iter().map(move |m| (k, m)));
    Curve::from([
        ("take".to_owned(), rows().map(|(k, _)| (k + 1) as f64).collect()),
        ("time_s".to_owned(), rows().map(|(_, m)| m.time_s).collect()),
        ("sign".to_owned(), rows().map(|(_, m)| m.sign).collect()),
        ("margin".to_owned(), rows().map(|(_, m)| m.margin).collect()),
    ])
}
