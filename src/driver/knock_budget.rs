//! The uncertainty budget of a knock: every source moved by one standard uncertainty, every figure looked at.
//!
//! Sources are counted in standard uncertainties from their best estimates, so the inputs of the calculation are noughts
//! and a step of one is one standard uncertainty; the rest is [`crate::math::budget`].

use super::knock_figures::Inputs;
use super::knock_fit::Logarithm;
use super::mounted::BOX_RELATIVE;
use crate::electrical::copper::COPPER_PER_KELVIN;
use crate::math::budget::{propagate, sensitivities, Source};
use crate::math::order::by_name;
use crate::math::quantiles::student_t;
use crate::signal::reading::Figure;
use std::collections::BTreeMap;

/// Loads are taken as 1 % parts: rectangular limits (common practice, no source).
pub(super) const LOAD_TOLERANCE: f64 = 0.01 / 1.732_050_8;
/// A coil's resistance by an ordinary meter, leads taken off (common practice, no source).
const R_E_RELATIVE: f64 = 0.003;
/// Coil temperature between meter and knock: 1 K.
const R_E_TEMPERATURE: f64 = COPPER_PER_KELVIN;
/// A stated input resistance, ±10 % rectangular: data sheets print it round (common practice, no source).
const INPUT_RELATIVE: f64 = 0.1 / 1.732_050_8;
/// Kitchen scales: ±0.1 g, and 0.2 % (common practice, no source).
pub(super) const WEIGHT_KG: f64 = 0.0001 / 1.732_050_8;
pub(super) const WEIGHT_RELATIVE: f64 = 0.002;
/// A diameter read with a rule, ±1 mm.
pub(super) const DIAMETER_M: f64 = 0.001 / 1.732_050_8;
/// Creep of suspensions a decade of frequency, and its spread (a few per cent; published figures from memory).
pub(super) const CREEP: (f64, f64) = (0.04, 0.02);
/// Reactance of a voice coil at resonance over R_e, and its spread (common practice, no source).
pub(super) const REACTANCE: (f64, f64) = (0.06, 0.04);
/// Loss over reactance of a voice coil, K(jω)ⁿ with n 0.6 to 0.85 (Leach 2002 gives 0.6 to 0.7 as usual): 1/tan(nπ/2).
pub(super) const REACTANCE_LOSS: (f64, f64) = (0.5, 0.2);
/// Moving mass in a box over that in free air, and its spread: the air that moves along changes by −2 to +4 % (common
/// practice, no source).
pub(super) const MASS_IN_BOX: (f64, f64) = (1.01, 0.03 / 1.732_050_8);
/// What friction does to the logarithms of frequency and Q (simulated: 0.02 N in 70 g takes 25 to 45 % off Q_ms).
const FRICTION: (f64, f64) = (0.03, 0.4);
/// A measured creep takes all loss that does not fall with frequency for creep's.
pub(super) const CREEP_MODEL: f64 = 0.005;

// What two drivers on the two channels of one input do not share, as part of the standard uncertainty (of the logarithm for
// the input); the rest moves both alike and falls out of their difference. All of it common practice, no source.

/// Suspensions and coils of one make, one of them perhaps repaired: half.
const OWN_OF_A_MAKE: f64 = 0.5;
/// One meter and one pair of leads for both coils leaves each reading its last digit and its contact.
const OWN_OHMS: f64 = 0.7;
/// One room, one hour: what the hand and the afternoon before leave in a single coil, 0.3 of the kelvin.
const OWN_TEMPERATURE: f64 = 0.3;
/// Two channels of one design, built of 1 % resistors: rectangular limits.
const OWN_INPUT: f64 = 0.01 / 1.732_050_8;

/// What the budget needs beside the inputs.
pub(super) struct Knowledge {
    /// Frequency and Q of each condition with their random uncertainty.
    pub conditions: Vec<(Logarithm, Logarithm)>,
    /// Effect of the amplitude law on both, by condition.
    pub amplitude: Vec<(f64, f64)>,
    /// Effect of the choice of input poles on both, by condition.
    pub input_pole: Vec<(f64, f64)>,
    /// True where friction was found: no Q is then a property of the driver alone.
    pub friction: bool,
    /// Standard uncertainty of the logarithm of the input's resistance where it was assumed.
    pub input_spread: Option<f64>,
    /// Standard uncertainty of the logarithm of the assumed R_e/Q_es.
    pub damping_spread: f64,
    /// True where the coil's resistance was assumed.
    pub r_e_assumed: bool,
    /// Standard uncertainty of the driver's own volume in a box.
    pub displacement: f64,
    /// Standard uncertainties of the air's temperature and pressure.
    pub air: (f64, f64),
}

type Move = Box<dyn Fn(&mut Inputs, f64)>;

/// One cause: name, shared by parts measured on this jig, degrees of freedom, and how it moves the inputs.
pub(super) struct Cause {
    pub name: &'static str,
    common: bool,
    pub freedom: f64,
    pub apply: Move,
    /// Part of its standard uncertainty that another driver on the other input does not share.
    pub own: f64,
    /// The resistor across the terminals that it is about.
    pub load_ohm: Option<f64>,
}

fn cause(name: &'static str, common: bool, freedom: f64, apply: impl Fn(&mut Inputs, f64) + 'static) -> Cause {
    let own = if common { 0.0 } else { 1.0 };
    Cause { name, common, freedom, apply: Box::new(apply), own, load_ohm: None }
}

/// Figures with budgets.
pub(super) fn figures(inputs: &Inputs, knowledge: &Knowledge) -> BTreeMap<String, Figure> {
    let (names, values): (Vec<&str>, Vec<f64>) = inputs.values().into_iter().unzip();
    let causes = causes(inputs, knowledge);
    let moved = |by: &[f64]| {
        let mut moved = inputs.clone();
        causes.iter().zip(by).filter(|(_, by)| **by != 0.0).for_each(|(cause, by)| (cause.apply)(&mut moved, *by));
        moved.values().into_iter().map(|v| v.1).collect()
    };
    let jacobian = sensitivities(&vec![0.0; causes.len()], &vec![1.0; causes.len()], moved);
    let sources: Vec<Source> = causes.iter().enumerate().map(|(j, c)| c.alone(j, causes.len())).collect();
    let budgets = propagate(&values, &jacobian, &sources);
    let figure = |(name, budget): (&str, crate::math::budget::Budget)| {
        let factor = student_t(0.975, budget.degrees_of_freedom().max(1.0));
        (name.to_owned(), Figure::from_budget(budget, factor))
    };
    by_name(names.into_iter().zip(budgets).map(figure))
}

impl Cause {
    fn own(self, own: f64) -> Self {
        Cause { own, ..self }
    }

    /// As a source that moves the input of number `j` among `count`.
    fn alone(&self, j: usize, count: usize) -> Source {
        let mut change = vec![0.0; count];
        change[j] = 1.0;
        Source::new(self.name, self.common, vec![change], self.freedom)
    }
}

pub(super) fn causes(inputs: &Inputs, k: &Knowledge) -> Vec<Cause> {
    let mut out: Vec<Cause> = Vec::new();
    for (c, (f, q)) in k.conditions.iter().enumerate() {
        let (uf, uq) = (f.uncertainty, q.uncertainty);
        out.push(cause("noise", false, f.degrees_of_freedom, move |i, s| i.ln_f[c] += s * uf));
        out.push(cause("noise", false, q.degrees_of_freedom, move |i, s| i.ln_q[c] += s * uq));
    }
    for (name, effects) in [("amplitude", &k.amplitude), ("input_pole", &k.input_pole)] {
        for (c, (f, q)) in effects.iter().copied().enumerate() {
            out.push(cause(name, false, f64::INFINITY, move |i, s| i.ln_f[c] += s * f));
            out.push(cause(name, false, f64::INFINITY, move |i, s| i.ln_q[c] += s * q));
        }
    }
    if k.friction {
        for c in 0..k.conditions.len() {
            out.push(cause("friction", false, f64::INFINITY, move |i, s| i.ln_f[c] += s * FRICTION.0));
            out.push(cause("friction", false, f64::INFINITY, move |i, s| i.ln_q[c] += s * FRICTION.1));
        }
    }
    push_connected(inputs, k, &mut out);
    push_air_and_coil(inputs, k, &mut out);
    out
}

fn push_connected(inputs: &Inputs, k: &Knowledge, out: &mut Vec<Cause>) {
    for (c, condition) in inputs.conditions.iter().enumerate() {
        if let Some(load) = condition.load_ohm {
            // One and the same resistor may serve several conditions: all conditions with this load move together,
            // counted at its first appearance.
            let first = inputs.conditions.iter().position(|d| d.load_ohm == Some(load));
            if first == Some(c) {
                let tolerance = cause("load_tolerance", true, f64::INFINITY, move |i, s| {
                    for d in i.conditions.iter_mut().filter(|d| d.load_ohm == Some(load)) {
                        d.load_ohm = Some(load * (1.0 + s * LOAD_TOLERANCE));
                    }
                });
                out.push(Cause { load_ohm: Some(load), ..tolerance });
            }
        }
        let mass = condition.added_mass_kg;
        if mass > 0.0 {
            let u = WEIGHT_KG.hypot(WEIGHT_RELATIVE * mass);
            out.push(cause("weight", false, f64::INFINITY, move |i, s| i.conditions[c].added_mass_kg += s * u));
        }
    }
    push_boxes(inputs, k, out);
    let of_make = |name, apply: fn(&mut Inputs, f64)| cause(name, true, f64::INFINITY, apply).own(OWN_OF_A_MAKE);
    out.push(of_make("suspension_creep", |i, s| i.assumed_creep += s * CREEP.1));
    out.push(of_make("suspension_creep", |i, s| i.measured_creep_shift += s * CREEP_MODEL));
    if inputs.damping_is_measured() {
        out.push(of_make("coil_model", |i, s| i.assumed_reactance += s * REACTANCE.1));
        out.push(of_make("coil_model", |i, s| i.loss_of_reactance += s * REACTANCE_LOSS.1));
    }
    let spread = k.input_spread.unwrap_or(INPUT_RELATIVE);
    let input = cause("input_resistance", true, f64::INFINITY, move |i, s| i.input_ohm *= (s * spread).exp());
    out.push(input.own(OWN_INPUT / spread));
    if !inputs.damping_is_measured() {
        let spread = k.damping_spread;
        let damping = cause("input_resistance", true, f64::INFINITY, move |i, s| {
            i.assumed_damping_ohm *= (s * spread).exp();
        });
        out.push(damping.own(OWN_OF_A_MAKE));
    }
}

fn push_boxes(inputs: &Inputs, k: &Knowledge, out: &mut Vec<Cause>) {
    let boxed = inputs.boxed();
    for volume in boxed.iter().map(|c| inputs.conditions[*c].box_m3) {
        // One error of its measures for all that was heard in it.
        out.push(cause("box_volume", true, f64::INFINITY, move |i, s| {
            for d in i.conditions.iter_mut().filter(|d| d.box_m3 == volume) {
                d.box_m3 = volume * (1.0 + s * BOX_RELATIVE);
            }
        }));
    }
    if !boxed.is_empty() {
        let displacement = k.displacement;
        out.push(cause("driver_displacement", true, f64::INFINITY, move |i, s| i.displacement_m3 += s * displacement));
        out.push(cause("air_in_box", true, f64::INFINITY, |i, s| i.assumed_mass_ratio += s * MASS_IN_BOX.1));
    }
}

fn push_air_and_coil(inputs: &Inputs, k: &Knowledge, out: &mut Vec<Cause>) {
    let r_e = if k.r_e_assumed { 0.4 } else { R_E_RELATIVE };
    let own = if k.r_e_assumed { OWN_OF_A_MAKE } else { OWN_OHMS };
    out.push(cause("r_e", false, f64::INFINITY, move |i, s| i.r_e_ohm *= 1.0 + s * r_e).own(own));
    if !k.r_e_assumed {
        let warmer = cause("temperature", false, f64::INFINITY, |i, s| i.r_e_ohm *= 1.0 + s * R_E_TEMPERATURE);
        out.push(warmer.own(OWN_TEMPERATURE));
    }
    if inputs.diameter_m.is_some() || !inputs.boxed().is_empty() {
        out.push(cause("effective_diameter", false, f64::INFINITY, |i, s| {
            i.diameter_m = i.diameter_m.map(|d| d + s * DIAMETER_M);
        }));
        let (kelvin, pascal) = k.air;
        out.push(cause("air", true, f64::INFINITY, move |i, s| i.air_temperature_c += s * kelvin));
        out.push(cause("air", true, f64::INFINITY, move |i, s| i.air_pressure_pa += s * pascal));
    }
}
