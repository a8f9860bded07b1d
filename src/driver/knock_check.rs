//! The knock check: from takes with knocks to f_s, Q_ms and, with a load and a weight, all small-signal figures.
//!
//! What: free vibration of the cone after a knock, seen by the coil (velocity) or by a microphone (acceleration).
//! Method: knocks found one by one; damped sinusoids by variable projection, jointly over knocks, loads and weights, with
//! the poles of the input, hum and noise colour in the model; loads by the line of damping; budget by propagation.
//! Values are for small amplitude. Valid for resonances from 8 Hz to 1.5 kHz and Q above 0.7.

use super::derived::air_spread;
use super::knock_budget::{
    figures, Knowledge, CREEP, CREEP_MODEL, LOAD_TOLERANCE, MASS_IN_BOX, REACTANCE, REACTANCE_LOSS,
};
use super::knock_curves::{curves, law_name};
use super::knock_doubts::{conditions_of_the_room, contradictions, health, unequal_takes, Doubt};
use super::knock_figures::Inputs;
use super::knock_fit::{fit_rings, RingResult};
use super::knock_gain::gain_riding;
use super::knock_next::next;
pub use super::knock_next::{load_for, nearest_e12, GOOD_LOADED_Q, LOADED_Q, Q_ES_ASSUMED};
use super::knock_rings::{collect, Condition, Rings};
pub use super::knock_setup::{KnockSensor, KnockSetup};
use super::knock_spotting::find_knocks;
pub use super::knock_spotting::{spot_knocks, SpottedKnock};
use super::knock_sticking::{jerks, stops_dead};
use super::mounted::{compare_volumes, displacement_spread};
use super::ring_down_choice::Input;
use super::ring_down_model::Law;
use crate::math::order::by_name;
use crate::signal::notice::{Code, Notice};
use crate::signal::reading::{Figure, Reading};
use crate::signal::role_take::{RoleTake, SetupError};

const CHECK: &str = "knock";
const METHOD: &str = "damped sinusoids jointly over knocks by variable projection, input poles fitted";
/// Coil resistance assumed for small corrections where none is stated.
pub const R_E_ASSUMED: f64 = 6.0;
/// Input resistance assumed where none is stated, and the spread of its logarithm: 5 to 50 kΩ (common practice).
const INPUT_ASSUMED: (f64, f64) = (15e3, 0.7);
/// R_e/Q_es assumed where no load tells it, and the spread of its logarithm: 7 to 30 Ω (common practice).
const DAMPING_ASSUMED: (f64, f64) = (15.0, 0.6);

/// Analyses the takes of a knock check.
///
/// # Errors
/// [`SetupError`] where a stated value or a take's role cannot be used; everything that the takes themselves cannot
/// answer is a refusal inside the reading.
pub fn analyse(setup: &KnockSetup, takes: &[RoleTake]) -> Result<Reading, SetupError> {
    Ok(analyse_with_basis(setup, takes)?.0)
}

/// What the figures were computed from: their inputs, and what is known of these.
pub(super) type Basis = (Inputs, Knowledge);

/// As [`analyse`], with the basis of the figures; none in a refusal.
///
/// # Errors
/// As [`analyse`].
pub(super) fn analyse_with_basis(
    setup: &KnockSetup,
    takes: &[RoleTake],
) -> Result<(Reading, Option<Basis>), SetupError> {
    setup.check(takes)?;
    Ok(read(setup, takes).unwrap_or_else(|refusal| (Reading::refused(CHECK, METHOD, *refusal), None)))
}

fn read(setup: &KnockSetup, takes: &[RoleTake]) -> Result<(Reading, Option<Basis>), Box<Notice>> {
    let sticks = sticks(setup, takes);
    let mut rings = collect(takes, setup.channel).map_err(|why| match (&sticks, setup.sensor) {
        // Nothing but the cone moves the coil; a microphone hears all sorts of sounds that stop.
        (Some(stopped), KnockSensor::Coil) => Box::new(stopped.clone()),
        _ => why,
    })?;
    let input = match setup.sensor {
        KnockSensor::Coil => Input::Coil,
        KnockSensor::Microphone => Input::Microphone,
    };
    let scale: Vec<f64> = rings.conditions.iter().map(|c| travel_scale(setup, c)).collect();
    let result = fit_rings(&mut rings, input, &scale)?;
    if let Some(stopped) = sticks.filter(|_| !result.friction.found) {
        return Err(Box::new(stopped));
    }
    let inputs = inputs(setup, &rings, &result);
    let mut reading = Reading::new(CHECK, METHOD);
    reading.curves = curves(&rings, &result);
    let mut doubts = contradictions(&inputs, &result);
    doubts.extend(unequal_takes(&rings, &result));
    doubts.extend(gain_riding(takes, &rings, &result, setup.channel));
    doubts.extend(health(takes, setup.channel));
    doubts.extend(conditions_of_the_room(&rings, &result));
    if let Some(refusal) = settle(&mut reading, doubts) {
        let mut refused = Reading::refused(CHECK, METHOD, refusal);
        refused.curves = reading.curves;
        refused.warnings = reading.warnings;
        return Ok((refused, None));
    }
    let knowledge = knowledge(setup, &result);
    reading.values = figures(&inputs, &knowledge);
    leave_out_unproven(&mut reading);
    compare_volumes(&mut reading);
    tell_findings(&mut reading, &rings, &result);
    tell_choices(&mut reading, setup, &inputs, &result);
    Ok((reading, Some((inputs, knowledge))))
}

/// Friction beyond what a fit of rings can tell: the cone stops dead. Looked for with nothing connected, if there is such a take.
fn sticks(setup: &KnockSetup, takes: &[RoleTake]) -> Option<Notice> {
    let bare = takes.iter().find(|t| Condition::of(t).is_bare())?;
    let finds = find_knocks(&bare.take, setup.channel);
    match setup.sensor {
        KnockSensor::Coil => stops_dead(&bare.take, setup.channel, &finds, 0),
        KnockSensor::Microphone => jerks(&finds).or_else(|| stops_dead(&bare.take, setup.channel, &finds, 1)),
    }
}

/// Turns an amplitude at the input into one of travel, up to a factor common to all conditions.
fn travel_scale(setup: &KnockSetup, condition: &Condition) -> f64 {
    match (setup.sensor, condition.load_ohm) {
        (KnockSensor::Coil, Some(load)) if load > 0.0 => (setup.r_e_ohm.unwrap_or(R_E_ASSUMED) + load) / load,
        _ => 1.0,
    }
}

fn inputs(setup: &KnockSetup, rings: &Rings, result: &RingResult) -> Inputs {
    // A load's tolerance moves its 1/Q by up to as much; the open ring has none.
    let weight = |c: usize| {
        let q = result.conditions[c].1;
        let tolerance = if rings.conditions[c].load_ohm.is_some() { LOAD_TOLERANCE } else { 1e-5 };
        let u = (-q.value).exp() * q.uncertainty.hypot(tolerance);
        1.0 / (u * u)
    };
    let mut inputs = Inputs {
        conditions: rings.conditions.clone(),
        ln_f: result.conditions.iter().map(|c| c.0.value).collect(),
        ln_q: result.conditions.iter().map(|c| c.1.value).collect(),
        weights: (0..rings.conditions.len()).map(weight).collect(),
        r_e_ohm: setup.r_e_ohm.unwrap_or(R_E_ASSUMED),
        r_e_stated: setup.r_e_ohm.is_some(),
        input_ohm: match setup.sensor {
            KnockSensor::Microphone => f64::INFINITY,
            KnockSensor::Coil => setup.input_resistance_ohm.unwrap_or(INPUT_ASSUMED.0),
        },
        assumed_damping_ohm: DAMPING_ASSUMED.0,
        diameter_m: setup.effective_diameter_m,
        air_temperature_c: setup.air_temperature_c.unwrap_or(20.0),
        air_pressure_pa: setup.air_pressure_pa.unwrap_or(101_325.0),
        assumed_creep: CREEP.0,
        measured_creep_weight: 0.0,
        measured_creep_shift: 0.0,
        assumed_reactance: REACTANCE.0,
        measured_reactance_weight: 0.0,
        loss_of_reactance: REACTANCE_LOSS.0,
        displacement_m3: setup.displacement_m3(),
        assumed_mass_ratio: MASS_IN_BOX.0,
        measured_mass_weight: 0.0,
    };
    inputs.measured_creep_weight = creep_weight(&inputs, result);
    inputs.measured_reactance_weight = reactance_weight(&inputs, result);
    inputs.measured_mass_weight = mass_weight(&inputs, result);
    inputs
}

/// Weight of a mass in the box told by a resistor there against the assumed one, by their variances.
fn mass_weight(inputs: &Inputs, result: &RingResult) -> f64 {
    let variance = variance_of(inputs, result, Inputs::measured_mass_ratio);
    variance.map_or(0.0, |v| MASS_IN_BOX.1.powi(2) / (MASS_IN_BOX.1.powi(2) + v))
}

/// Weight of a creep told by a weight on the cone against the assumed one, by their variances.
fn creep_weight(inputs: &Inputs, result: &RingResult) -> f64 {
    let variance = variance_of(inputs, result, Inputs::measured_creep);
    variance.map_or(0.0, |v| CREEP.1.powi(2) / (CREEP.1.powi(2) + v + CREEP_MODEL.powi(2)))
}

/// Weight of a reactance told by a load's pitch against the assumed one, by their variances; creep counts as well.
fn reactance_weight(inputs: &Inputs, result: &RingResult) -> f64 {
    let Some(random) = variance_of(inputs, result, Inputs::measured_reactance_ohm) else { return 0.0 };
    let mut moved = inputs.clone();
    moved.assumed_creep += CREEP.1;
    let by_creep = match (moved.measured_reactance_ohm(), inputs.measured_reactance_ohm()) {
        (Some(a), Some(b)) => (a - b).powi(2),
        _ => return 0.0,
    };
    let assumed = (REACTANCE.1 * inputs.r_e_ohm).powi(2);
    assumed / (assumed + random + by_creep)
}

/// Variance of something told by the rings, from the random uncertainty of every frequency and Q.
fn variance_of(inputs: &Inputs, result: &RingResult, told: fn(&Inputs) -> Option<f64>) -> Option<f64> {
    let value = told(inputs)?;
    let mut variance = 0.0;
    for (c, (f, q)) in result.conditions.iter().enumerate() {
        let (mut by_f, mut by_q) = (inputs.clone(), inputs.clone());
        by_f.ln_f[c] += f.uncertainty;
        by_q.ln_q[c] += q.uncertainty;
        variance += (told(&by_f)? - value).powi(2) + (told(&by_q)? - value).powi(2);
    }
    Some(variance)
}

fn knowledge(setup: &KnockSetup, result: &RingResult) -> Knowledge {
    Knowledge {
        conditions: result.conditions.clone(),
        amplitude: result.amplitude_spread.clone(),
        input_pole: result.pole_spread.clone(),
        input_spread: setup.input_resistance_ohm.is_none().then_some(INPUT_ASSUMED.1),
        damping_spread: DAMPING_ASSUMED.1,
        friction: result.friction.found,
        r_e_assumed: setup.r_e_ohm.is_none(),
        displacement: displacement_spread(setup.driver_displacement_m3, setup.effective_diameter_m),
        air: air_spread(setup.air_temperature_c.is_some(), setup.air_pressure_pa.is_some()),
    }
}

/// Puts doubts into the reading; gives the first that refuses.
fn settle(reading: &mut Reading, doubts: Vec<Doubt>) -> Option<Notice> {
    let mut refusal = None;
    for doubt in doubts {
        match doubt {
            Doubt::Note(n) => reading.warn(n, false),
            Doubt::Doubtful(n) => reading.warn(n, true),
            Doubt::Refuse(n) => refusal = refusal.or(Some(n)),
        }
    }
    refusal
}

/// A figure that its own uncertainty does not part from nought is not shown; the loads or knocks did not tell it.
fn leave_out_unproven(reading: &mut Reading) {
    let before = reading.values.len();
    let found = |f: &Figure| f.value > 0.0 && f.standard_uncertainty.is_none_or(|u| 2.0 * u < f.value);
    reading.values = by_name(std::mem::take(&mut reading.values).into_iter().filter(|(_, figure)| found(figure)));
    let left_out = before - reading.values.len();
    if left_out > 0 {
        reading.warn(Notice::new(Code::Noise, &[("figures_left_out", left_out as f64)]), true);
    }
}

fn tell_findings(reading: &mut Reading, rings: &Rings, result: &RingResult) {
    for (take, why) in &rings.left_out {
        let mut notice = why.clone();
        notice.numbers.insert("take".to_owned(), (*take + 1) as f64);
        reading.warn(notice, true);
    }
    if let (Some((f, q)), Some(share)) = (result.fitted.second_mode(), result.second_mode_share) {
        let numbers = [("frequency_hz", f), ("q", q), ("energy_share", share)];
        reading.warn(Notice::new(Code::SecondMode, &numbers), share > 0.3);
    }
    let friction = &result.friction;
    if friction.found {
        let numbers = [
            ("statistic", friction.statistic),
            ("limit", friction.limit),
            ("q_at_full_amplitude", friction.q_range.0),
            ("q_at_a_third", friction.q_range.1),
        ];
        reading.warn(Notice::new(Code::Friction, &numbers), true);
    }
    tell_set_aside(reading, rings);
}

/// Knocks set aside beside those used: one note for each reason, with its count.
fn tell_set_aside(reading: &mut Reading, rings: &Rings) {
    let all: Vec<&Notice> = rings.finds.iter().flatten().filter_map(|f| f.spotted.set_aside.as_ref()).collect();
    for code in [Code::Clipped, Code::Gap, Code::TooShort, Code::Overdamped, Code::ModelMisfit, Code::SetAside] {
        let count = all.iter().filter(|n| n.code == code).count();
        if let Some(first) = all.iter().find(|n| n.code == code) {
            let mut notice = (*first).clone();
            notice.numbers.insert("knocks_set_aside".to_owned(), count as f64);
            reading.warn(notice, false);
        }
    }
}

fn tell_choices(reading: &mut Reading, setup: &KnockSetup, inputs: &Inputs, result: &RingResult) {
    let shape = &result.fitted.shape;
    let poles: Vec<String> = (0..shape.real_poles)
        .map(|k| format!("real_{:.2}_hz", result.fitted.fit.parameters[shape.real_at(k)].exp()))
        .chain((0..result.fitted.input_pairs).map(|k| {
            let at = shape.pair_at(k);
            format!("pair_{:.1}_hz", result.fitted.fit.parameters[at].exp())
        }))
        .collect();
    let input_model = if poles.is_empty() { "none".to_owned() } else { poles.join("+") };
    reading.chosen.insert("input_model".to_owned(), input_model);
    let law = if result.friction.found { Law::Friction } else { shape.law };
    reading.chosen.insert("amplitude_law".to_owned(), law_name(law).to_owned());
    let next = next(inputs, setup.effective_diameter_m.is_some());
    reading.chosen.insert("next".to_owned(), next.code.to_owned());
    if let Some(ohm) = next.load_ohm {
        reading.chosen.insert("next_load_ohm".to_owned(), format!("{ohm}"));
        let reason = format!("a preferred value, chosen for a loaded Q of about {LOADED_Q}");
        reading.values.insert("suggested_load_ohm".to_owned(), Figure::without_uncertainty(ohm, &reason));
    }
}

#[cfg(test)]
#[path = "knock_check_tests.rs"]
mod tests;
