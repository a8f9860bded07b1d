//! Weight on the cone and known box, by impedance: what the resonance with a weight, or in a closed box, adds to the free
//! one.
//!
//! Each mounting is fitted by itself with the circuit that won in free air. Jig errors move all curves together, so they
//! nearly cancel in the ratios that count; noise, misfit and travel do not. Creep (the suspension's stiffness rises a few
//! per cent a decade of frequency) is the fit's own, weighted with what suspensions do. Formulas: [`super::derived`].
//! Valid for weights of 0.1 to 2 of the moving mass and closed, empty boxes.

use super::derived::{self, air, area_m2, mass_of_weights, volume_of_box, Electrical, Values};
use super::equivalent_circuit::{Circuit, CircuitModel};
use super::impedance_budget::FitBudget;
use super::impedance_setup::ImpedanceSetup;
use super::knock_budget::{CREEP, DIAMETER_M, WEIGHT_KG, WEIGHT_RELATIVE};
use crate::math::budget::{propagate, sensitivities, Budget, Source};
use crate::math::quantiles::student_t;
use crate::signal::notice::{Code, Notice};
use crate::signal::reading::{Figure, Reading};
use std::collections::BTreeMap;

/// Weight over moving mass that tells the mass well (common practice).
const GOOD_WEIGHT: (f64, f64) = (0.3, 1.0);
/// Outside this a weight says too little, or sags the cone out of its place.
const USABLE_WEIGHT: (f64, f64) = (0.1, 2.0);
/// Weights by themselves may differ by this much in the mass they tell.
const WEIGHTS_APART: f64 = 0.06;
/// A box that stiffens the suspension by less than this tells little; less than a fifth of it is no closed box.
pub(super) const GOOD_STIFFENING: f64 = 0.25;
/// Air before and behind the cone changes with the box; beyond this it is a leak or wadding (common practice).
pub(super) const MASS_CHANGE: f64 = 0.15;
/// V_as by weight and by box may differ by this much.
const VOLUMES_APART: f64 = 0.10;
/// Inner measures of a box read with a rule, three edges of 0.5 % each (common practice, no source).
pub(super) const BOX_RELATIVE: f64 = 0.01;
/// Step of numeric derivatives, relative.
const STEP: f64 = 1e-4;
/// What the fitted creep is believed to: voice coil and suspension share the low end.
const CREEP_BY_FIT: f64 = 0.01;

/// Weight that suits a moving mass: the middle, by ratio, of what tells it well.
pub fn suggested_weight_kg(mass_kg: f64) -> f64 {
    mass_kg * (GOOD_WEIGHT.0 * GOOD_WEIGHT.1).sqrt()
}

/// Moving mass of paper cones by their effective diameter: 5 g at 100 mm, 70 g at 260 mm (common practice, no source). A
/// start for the choice of a weight, never a figure.
pub fn usual_mass_kg(effective_diameter_m: f64) -> f64 {
    2.3 * effective_diameter_m.powf(2.6)
}

/// Volume that a driver takes in a box, by its effective diameter (common practice, no source).
pub fn assumed_displacement_m3(effective_diameter_m: f64) -> f64 {
    derived::DISPLACEMENT.0 * effective_diameter_m.powi(3)
}

/// What is wrong with a box that does not even hold the driver; none where it does.
pub(super) fn too_small_a_box(volume_m3: f64, takes_m3: f64) -> Option<String> {
    let (litres, own) = (1e3 * volume_m3, 1e3 * takes_m3);
    let wanted = || format!("a box of {litres:.2} litres does not hold the driver, which itself takes {own:.2}");
    (volume_m3 <= takes_m3).then(wanted)
}

/// How the driver was mounted in a take.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Mounting {
    /// Weight on the cone, 0 for none.
    pub added_mass_kg: f64,
    /// Inner volume of the closed box, where it sat in one.
    pub box_volume_m3: Option<f64>,
}

impl Mounting {
    /// Neither weight nor box.
    pub fn is_free(&self) -> bool {
        self.added_mass_kg == 0.0 && self.box_volume_m3.is_none()
    }
}

/// A fitted curve with the uncertainty of its parameters.
pub(super) struct Fitted {
    /// How it was mounted.
    pub mounting: Mounting,
    /// The circuit.
    pub circuit: Circuit,
    /// Its sources.
    pub budget: FitBudget,
}

/// Everything that the figures are computed from, as one list of numbers, so that each may be moved.
struct Inputs {
    model: CircuitModel,
    mountings: Vec<Mounting>,
    diameter_stated: bool,
    /// The numbers: parameters of each fit, then weight or inner volume of each mounting, then [`Rest`] in its order.
    numbers: Vec<f64>,
}

/// The numbers that stand last.
#[derive(Clone, Copy)]
enum Rest {
    Creep,
    Diameter,
    Displacement,
    Temperature,
    Pressure,
}

const REST: usize = 5;

/// Adds the figures that weights and boxes open. `fits` begins with the free one.
///
/// # Errors
/// The takes contradict each other, or a weight is beyond sense: nothing can be said then.
pub(super) fn add(setup: &ImpedanceSetup, fits: &[Fitted], reading: &mut Reading) -> Result<(), Box<Notice>> {
    if fits.len() < 2 {
        return Ok(());
    }
    let (inputs, creep_spread) = inputs(setup, fits);
    let state = inputs.at(&inputs.numbers);
    judge(&state, reading)?;
    let sources = sources(setup, &inputs, fits, creep_spread);
    reading.values.extend(figures(&inputs, &sources));
    compare_volumes(reading);
    Ok(())
}

fn figures(inputs: &Inputs, sources: &[Source]) -> BTreeMap<String, Figure> {
    let (names, values): (Vec<&str>, Vec<f64>) = inputs.at(&inputs.numbers).values().into_iter().unzip();
    let moved = |numbers: &[f64]| inputs.at(numbers).values().into_iter().map(|v| v.1).collect();
    let jacobian = sensitivities(&inputs.numbers, &inputs.steps(), moved);
    let figure = |(name, budget): (&str, Budget)| {
        let factor = student_t(0.975, budget.degrees_of_freedom().max(1.0));
        (name.to_owned(), Figure::from_budget(budget, factor))
    };
    names.into_iter().zip(propagate(&values, &jacobian, sources)).map(figure).collect()
}

fn inputs(setup: &ImpedanceSetup, fits: &[Fitted]) -> (Inputs, f64) {
    let (creep, spread) = creep(&fits[0]);
    let mut numbers: Vec<f64> = fits.iter().flat_map(|f| f.circuit.parameters()).collect();
    numbers.extend(fits.iter().map(|f| f.mounting.box_volume_m3.unwrap_or(f.mounting.added_mass_kg)));
    numbers.extend([
        creep,
        setup.effective_diameter_m.unwrap_or(0.0),
        setup.displacement_m3(),
        setup.air_temperature_c.unwrap_or(20.0),
        setup.air_pressure_pa.unwrap_or(101_325.0),
    ]);
    let inputs = Inputs {
        model: fits[0].circuit.model(),
        mountings: fits.iter().map(|f| f.mounting).collect(),
        diameter_stated: setup.effective_diameter_m.is_some(),
        numbers,
    };
    (inputs, spread)
}

/// Creep a decade and its standard uncertainty: the fit's, where it has one, weighted with what suspensions do.
fn creep(free: &Fitted) -> (f64, f64) {
    let Some(found) = free.circuit.creep else { return CREEP };
    let last = free.circuit.model().parameter_count() - 1;
    let random: f64 = free.budget.sources.iter().flat_map(|s| &s.changes).map(|c| c[last] * c[last]).sum();
    let (fit, usual) = (random + CREEP_BY_FIT * CREEP_BY_FIT, CREEP.1 * CREEP.1);
    ((found * usual + CREEP.0 * fit) / (fit + usual), (fit * usual / (fit + usual)).sqrt())
}

impl Inputs {
    /// Where the parameters of fit `k` begin.
    fn parameters_at(&self, k: usize) -> usize {
        k * self.model.parameter_count()
    }

    /// Where the weight or the inner volume of mounting `k` stands.
    fn mounting_at(&self, k: usize) -> usize {
        self.parameters_at(self.mountings.len()) + k
    }

    fn rest_at(&self, which: Rest) -> usize {
        self.numbers.len() - REST + which as usize
    }

    /// Steps of the derivatives: small against every uncertainty, large against rounding.
    fn steps(&self) -> Vec<f64> {
        let parameters = self.parameters_at(self.mountings.len());
        let step = |(i, v): (usize, &f64)| if i < parameters { STEP } else { STEP * v.abs().max(STEP) };
        self.numbers.iter().enumerate().map(step).collect()
    }

    fn at(&self, numbers: &[f64]) -> State {
        let n = self.model.parameter_count();
        let circuit = |k: usize| Circuit::from_parameters(self.model, &numbers[k * n..(k + 1) * n]);
        let rest = |which: Rest| numbers[self.rest_at(which)];
        let mut weights = Vec::new();
        let mut boxes = Vec::new();
        for (k, mounting) in self.mountings.iter().enumerate().skip(1) {
            let value = numbers[self.mounting_at(k)];
            match mounting.box_volume_m3 {
                Some(_) => boxes.push((value - rest(Rest::Displacement), circuit(k))),
                None => weights.push((value, circuit(k).f_s_hz)),
            }
        }
        State {
            free: circuit(0),
            weights,
            boxes,
            creep: rest(Rest::Creep),
            area_m2: self.diameter_stated.then(|| area_m2(rest(Rest::Diameter))),
            air: air(rest(Rest::Temperature), rest(Rest::Pressure)),
        }
    }
}

/// The numbers by their meaning.
struct State {
    free: Circuit,
    /// Weight, resonance.
    weights: Vec<(f64, f64)>,
    /// Net volume, circuit in it.
    boxes: Vec<(f64, Circuit)>,
    creep: f64,
    area_m2: Option<f64>,
    air: (f64, f64),
}

impl State {
    fn driver(&self) -> Electrical {
        let c = &self.free;
        Electrical { f_s_hz: c.f_s_hz, q_ms: c.q_ms, q_es: Some(c.q_es), r_e_ohm: c.r_e_ohm, air: self.air }
    }

    /// f_c Q_ec/(f_s Q_es) of a box. Q_es over R_e does not see the coil's temperature.
    fn stiffening(&self, boxed: &Circuit) -> f64 {
        let damping = |c: &Circuit| c.f_s_hz * c.q_es / c.r_e_ohm;
        damping(boxed) / damping(&self.free)
    }

    fn mass(&self) -> Option<f64> {
        mass_of_weights(self.free.f_s_hz, &self.weights, self.creep)
    }

    /// Mean over the boxes.
    fn box_volume(&self) -> Option<f64> {
        let one =
            |(net, c): &(f64, Circuit)| volume_of_box(*net, self.free.f_s_hz, c.f_s_hz, self.stiffening(c), self.creep);
        let sum: f64 = self.boxes.iter().map(one).sum();
        (!self.boxes.is_empty()).then(|| sum / self.boxes.len() as f64)
    }

    fn values(&self) -> Values {
        let mut out = Vec::new();
        self.driver().push_mounted(&mut out, self.mass(), self.box_volume(), self.area_m2);
        out
    }
}

/// Do the mountings say anything, and the same?
fn judge(state: &State, reading: &mut Reading) -> Result<(), Box<Notice>> {
    let f_s = state.free.f_s_hz;
    if let Some((_, f)) = state.weights.iter().copied().find(|(_, f)| *f > 0.995 * f_s) {
        return Err(Box::new(Notice::new(Code::Contradiction, &[("f_with_hz", f), ("f_without_hz", f_s)])));
    }
    for (net, boxed) in &state.boxes {
        let (f, stiffening) = (boxed.f_s_hz, state.stiffening(boxed));
        if stiffening - 1.0 < 0.2 * GOOD_STIFFENING || f < 1.01 * f_s {
            let numbers = [("f_in_box_hz", f), ("f_free_hz", f_s)];
            return Err(Box::new(Notice::new(Code::Contradiction, &numbers)));
        }
        let mass_ratio = stiffening * (f_s / f).powi(2);
        if (mass_ratio - 1.0).abs() > MASS_CHANGE {
            reading.warn(Notice::new(Code::LeakyBox, &[("mass_ratio", mass_ratio)]), true);
        }
        if stiffening - 1.0 < GOOD_STIFFENING {
            let numbers = [("stiffening", stiffening - 1.0), ("box_l", 1000.0 * net)];
            reading.warn(Notice::new(Code::LargeBox, &numbers), false);
        }
    }
    judge_weights(state, reading)
}

fn judge_weights(state: &State, reading: &mut Reading) -> Result<(), Box<Notice>> {
    let Some(mass) = state.mass() else { return Ok(()) };
    let suggested_g = 1000.0 * suggested_weight_kg(mass);
    let f_s = state.free.f_s_hz;
    for weight in state.weights.iter().copied() {
        let of_cone = weight.0 / mass;
        let numbers = [("of_cone", of_cone), ("suggested_g", suggested_g)];
        if of_cone > USABLE_WEIGHT.1 {
            return Err(Box::new(Notice::new(Code::HeavyWeight, &numbers)));
        }
        let code = if of_cone < GOOD_WEIGHT.0 { Code::LightWeight } else { Code::HeavyWeight };
        if !(GOOD_WEIGHT.0..=GOOD_WEIGHT.1).contains(&of_cone) {
            reading.warn(Notice::new(code, &numbers), of_cone < USABLE_WEIGHT.0);
        }
        let alone = mass_of_weights(f_s, &[weight], state.creep).unwrap_or(f64::INFINITY);
        let difference = (alone / mass - 1.0).abs();
        if difference > WEIGHTS_APART {
            let numbers = [("difference", difference), ("allowed", WEIGHTS_APART)];
            reading.warn(Notice::new(Code::Contradiction, &numbers), true);
        }
    }
    Ok(())
}

/// A stated diameter closes a ring: V_as by weight and by box must agree.
pub(super) fn compare_volumes(reading: &mut Reading) {
    let litres = |name: &str| reading.values.get(name).map(|f| 1e3 * f.value);
    let (Some(by_weight), Some(by_box)) = (litres("v_as_m3"), litres("box_v_as_m3")) else { return };
    if (by_box / by_weight - 1.0).abs() > VOLUMES_APART {
        let numbers = [("v_as_weight_l", by_weight), ("v_as_box_l", by_box)];
        reading.warn(Notice::new(Code::Contradiction, &numbers), true);
    }
}

fn sources(setup: &ImpedanceSetup, inputs: &Inputs, fits: &[Fitted], creep_spread: f64) -> Vec<Source> {
    let count = inputs.numbers.len();
    let mut out = Vec::new();
    for (k, fit) in fits.iter().enumerate() {
        for source in &fit.budget.sources {
            // One error of the jig moves every curve, and is counted with the free one; the others are drawn anew.
            let together = source.common && source.changes.len() == 1;
            if together && k > 0 {
                continue;
            }
            let mut changes: Vec<Vec<f64>> = source.changes.iter().map(|c| placed(inputs, k, c)).collect();
            if together {
                for (other, fit) in fits.iter().enumerate().skip(1) {
                    let same = fit.budget.sources.iter().find(|s| s.name == source.name && s.changes.len() == 1);
                    let moved = same.map(|s| placed(inputs, other, &s.changes[0]));
                    changes[0].iter_mut().zip(moved.iter().flatten()).for_each(|(sum, c)| *sum += c);
                }
            }
            out.push(Source::new(source.name, source.common, changes, source.degrees_of_freedom));
        }
    }
    let mut stated = |name: &'static str, common: bool, at: usize, u: f64| {
        let mut change = vec![0.0; count];
        change[at] = u;
        out.push(Source::new(name, common, vec![change], f64::INFINITY));
    };
    for (k, mounting) in inputs.mountings.iter().enumerate().skip(1) {
        match mounting.box_volume_m3 {
            Some(volume) => stated("box_volume", true, inputs.mounting_at(k), BOX_RELATIVE * volume),
            None => {
                let u = WEIGHT_KG.hypot(WEIGHT_RELATIVE * mounting.added_mass_kg);
                stated("weight", false, inputs.mounting_at(k), u);
            }
        }
    }
    stated("suspension_creep", true, inputs.rest_at(Rest::Creep), creep_spread);
    stated(
        "driver_displacement",
        true,
        inputs.rest_at(Rest::Displacement),
        displacement_spread(setup.driver_displacement_m3, setup.effective_diameter_m),
    );
    stated("effective_diameter", false, inputs.rest_at(Rest::Diameter), DIAMETER_M);
    let (kelvin, pascal) = derived::air_spread(setup.air_temperature_c.is_some(), setup.air_pressure_pa.is_some());
    stated("air", true, inputs.rest_at(Rest::Temperature), kelvin);
    stated("air", true, inputs.rest_at(Rest::Pressure), pascal);
    out
}

/// A change of one fit's parameters as a change of all numbers.
fn placed(inputs: &Inputs, k: usize, change: &[f64]) -> Vec<f64> {
    let mut out = vec![0.0; inputs.numbers.len()];
    let at = inputs.parameters_at(k);
    out[at..at + change.len()].copy_from_slice(change);
    out
}

/// Standard uncertainty of the driver's own volume. Stated, read off a data sheet or by water: a tenth. Not stated: the
/// spread of drivers of this diameter.
pub(super) fn displacement_spread(stated_m3: Option<f64>, diameter_m: Option<f64>) -> f64 {
    match stated_m3 {
        Some(stated) => 0.1 * stated,
        None => diameter_m.map_or(0.0, |d| derived::DISPLACEMENT.1 * d.powi(3)),
    }
}
