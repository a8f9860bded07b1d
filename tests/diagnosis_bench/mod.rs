//! Simulated pairs with a known fault in one of them, and readings of them with errors drawn by stated budgets.
//!
//! The truth comes from the simulator's network (ladder for the coil in iron, chain of branches for the creep, a shorted
//! winding as a transformer), never from the slopes that the diagnosis works with.
#![allow(dead_code)] // each test file uses its part

use crate::impedance_bench::{computed_level, computed_take, random_driver, TrueJig};
use conewright::driver::impedance_check::{analyse, ImpedanceSetup};
use conewright::math::axes::logarithmic;
use conewright::math::budget::{Budget, Contribution};
use conewright::math::random::Random;
use conewright::signal::reading::{Figure, Outcome, Reading};
use conewright::signal::role_take::RoleTake;
use conewright::sim::driver::{Driver, Loaded};
use conewright::sim::truth::{impedance_ohm, truth, Truth};
use conewright::verdict::diagnosis::{
    DiagnosisReading, DiagnosisReference, DiagnosisSetup, FaultPattern, LevelDifference, NaturalSpread,
    BETWEEN_TWO_GOOD,
};
use std::collections::BTreeMap;

/// Series resistor of the jig in Ω.
pub const SERIES_OHM: f64 = 10.0;

/// One of a make: each cause off by what two good ones differ in, over √2.
fn one_of_a_make(make: &Driver, random: &mut Random, spread: &NaturalSpread) -> Driver {
    let mut driver = make.clone();
    let mut by = |relative: f64| (relative / 2f64.sqrt() * random.normal()).exp();
    driver.moving_mass_kg *= by(spread.mass);
    driver.suspension.stiffness_n_per_m *= by(spread.stiffness);
    driver.motor.bl_t_m *= by(spread.motor);
    driver.r_e_ohm_at_20_c *= by(spread.r_e);
    let loss = by(spread.loss);
    driver.suspension.viscous_n_s_per_m *= loss;
    driver.suspension.creep_per_decade *= loss;
    driver.coil.k_ohm_s_n *= by(spread.coil);
    driver
}

/// Two good drivers of one make, as widely apart as is common practice.
pub fn good_pair(random: &mut Random) -> [Driver; 2] {
    let make = random_driver(random);
    [0, 1].map(|_| one_of_a_make(&make, random, &BETWEEN_TWO_GOOD))
}

/// A fault at one of three strengths.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Case {
    pub name: &'static str,
    pub pattern: FaultPattern,
    pub strength: f64,
}

/// Every pattern that figures show, at three strengths. Stiffness, mass, Bl, loss and R_e as factors, shorted turns as part
/// of all.
pub fn cases() -> Vec<Case> {
    let rows: [(&'static str, FaultPattern, [f64; 3]); 9] = [
        ("stiffness ×", FaultPattern::SuspensionStiff, [1.25, 1.5, 2.0]),
        ("stiffness ÷", FaultPattern::SuspensionSoft, [1.25, 1.5, 2.0]),
        ("mass ×", FaultPattern::AddedMass, [1.1, 1.2, 1.4]),
        ("Bl ÷", FaultPattern::WeakMotor, [1.08, 1.15, 1.3]),
        ("turns shorted", FaultPattern::ShortedTurns, [0.01, 0.02, 0.05]),
        ("loss ÷", FaultPattern::LossChanged, [1.5, 2.0, 2.5]),
        ("loss ×", FaultPattern::LossChanged, [1.5, 2.0, 3.0]),
        ("thinner wire, R_e ×", FaultPattern::OtherWire, [1.06, 1.12, 1.25]),
        ("more turns, R_e ×", FaultPattern::OtherWire, [1.06, 1.12, 1.25]),
    ];
    rows.iter()
        .flat_map(|(name, pattern, strengths)| strengths.map(|strength| Case { name, pattern: *pattern, strength }))
        .collect()
}

impl Case {
    /// The first of the pair gets the fault.
    pub fn on(&self, pair: &mut [Driver; 2]) {
        let s = self.strength;
        if self.name == "loss ÷" {
            // A former that conducts brakes like a viscous loss: most of the loss must be of that kind to be lowered.
            pair.iter_mut().for_each(|d| d.suspension.creep_per_decade = 0.01);
        }
        let driver = &mut pair[0];
        let suspension = &mut driver.suspension;
        match self.name {
            "stiffness ×" => suspension.stiffness_n_per_m *= s,
            "stiffness ÷" => suspension.stiffness_n_per_m /= s,
            "mass ×" => driver.moving_mass_kg *= s,
            "Bl ÷" => driver.motor.bl_t_m /= s,
            "turns shorted" => driver.shorted_part = s,
            "loss ÷" => lossy(driver, 1.0 / s),
            "loss ×" => lossy(driver, s),
            "thinner wire, R_e ×" => driver.r_e_ohm_at_20_c *= s,
            // The space is filled again: resistance and impedance go with the square of the turns, Bl with their number.
            _ => {
                driver.r_e_ohm_at_20_c *= s;
                driver.motor.bl_t_m *= s.sqrt();
                driver.coil.k_ohm_s_n *= s;
            }
        }
    }
}

/// All that is added or taken off is viscous, as the loss of glue in the gap or of a former that conducts.
fn lossy(driver: &mut Driver, times: f64) {
    let loss = truth(&Loaded::from(&*driver)).r_ms_kg_per_s;
    driver.suspension.viscous_n_s_per_m += (times - 1.0) * loss;
}

/// Budgets as a reading of this jig states them, relative to each figure: from one take of one driver through the whole
/// analysis.
pub struct Stated(BTreeMap<String, Vec<Contribution>>);

/// Relative scatter of one point of the curve.
const CURVE_NOISE: f64 = 5e-4;

impl Stated {
    pub fn new() -> Stated {
        let mut random = Random::new(7);
        let driver = random_driver(&mut random);
        let reading =
            through_the_analysis(&driver, TrueJig { series_ohm: SERIES_OHM, lead_ohm: 0.0, gain: 1.0 }, 55.0, 7);
        let of = |name: &str| {
            let figure = &reading.values[name];
            let relative = |c: &Contribution| Contribution { effect: c.effect / figure.value, ..c.clone() };
            (name.to_owned(), figure.budget.iter().map(relative).collect())
        };
        Stated(["f_s_hz", "q_ms", "q_es", "q_ts", "r_e_ohm", "z_max_ohm"].map(of).into())
    }

    /// Readings of two drivers in one jig: what their budgets call common is off by one draw, all else by two.
    pub fn read(&self, drivers: &[Driver; 2], random: &mut Random) -> [DiagnosisReading; 2] {
        let mut shared: BTreeMap<&str, f64> = BTreeMap::new();
        for c in self.0.values().flatten().filter(|c| c.common) {
            shared.entry(&c.source).or_insert_with(|| random.normal());
        }
        [0, 1].map(|d| self.one(&drivers[d], &shared, random))
    }

    fn one(&self, driver: &Driver, shared: &BTreeMap<&str, f64>, random: &mut Random) -> DiagnosisReading {
        let loaded = Loaded::from(driver);
        let truth = truth(&loaded);
        let mut own: BTreeMap<(&str, &str), f64> = BTreeMap::new();
        let mut values = BTreeMap::new();
        for (name, budget) in &self.0 {
            let mut error = 0.0;
            for c in budget {
                // Noise and misfit stand in the budget without direction: they move each figure for itself.
                let for_itself = matches!(c.source.as_str(), "noise" | "misfit" | "repeat");
                let z = match c.common {
                    true => shared[c.source.as_str()],
                    false => {
                        let key = (c.source.as_str(), if for_itself { name.as_str() } else { "" });
                        *own.entry(key).or_insert_with(|| random.normal())
                    }
                };
                error += c.effect * z;
            }
            let value = of(&truth, name) * (1.0 + error);
            let mut stated = Budget::new(value);
            budget.iter().for_each(|c| {
                stated.add(&c.source, c.effect * value, c.common, f64::INFINITY);
            });
            values.insert(name.clone(), Figure::from_budget(stated, 1.96));
        }
        let r_e_error = values["r_e_ohm"].value / truth.r_e_ohm;
        let frequency_hz = logarithmic(900.0, 11_000.0, 120);
        let magnitude_ohm: Vec<f64> = frequency_hz
            .iter()
            .map(|hz| impedance_ohm(&loaded, *hz).norm() * r_e_error * (1.0 + CURVE_NOISE * random.normal()))
            .collect();
        DiagnosisReading {
            check: "impedance".to_owned(),
            outcome: Outcome::Reading,
            values,
            codes: Vec::new(),
            magnitude_standard_uncertainty_ohm: magnitude_ohm.iter().map(|z| 0.006 * z).collect(),
            frequency_hz,
            magnitude_ohm,
        }
    }
}

pub fn of(truth: &Truth, name: &str) -> f64 {
    match name {
        "f_s_hz" => truth.f_s_hz,
        "q_ms" => truth.q_ms,
        "q_es" => truth.q_es,
        "q_ts" => truth.q_ts,
        "r_e_ohm" => truth.r_e_ohm,
        "m_ms_kg" => truth.m_ms_kg,
        _ => truth.z_max_ohm,
    }
}

/// A take computed from the simulator's impedance through a jig, read by the whole analysis.
pub fn through_the_analysis(driver: &Driver, jig: TrueJig, snr_db: f64, seed: u64) -> Reading {
    let loaded = Loaded::from(driver);
    let noise = computed_level() * 10f64.powf(-snr_db / 20.0);
    let take = computed_take(|hz| impedance_ohm(&loaded, hz), jig, noise, &mut Random::new(seed));
    analyse(&ImpedanceSetup::plain(SERIES_OHM), &[RoleTake::new("driver", take)]).expect("a usable setup")
}

/// As the page hands a kept reading over.
pub fn kept(reading: &Reading) -> DiagnosisReading {
    let curve = reading.curves.get("impedance");
    let column = |name: &str| curve.and_then(|c| c.get(name)).cloned().unwrap_or_default();
    DiagnosisReading {
        check: reading.check.clone(),
        outcome: reading.outcome,
        values: reading.values.clone(),
        codes: reading.warnings.iter().chain(&reading.refusal).map(|n| n.code).collect(),
        frequency_hz: column("frequency_hz"),
        magnitude_ohm: column("magnitude_ohm"),
        magnitude_standard_uncertainty_ohm: column("magnitude_standard_uncertainty_ohm"),
    }
}

/// A ring in which no friction was found.
pub fn quiet_knock() -> DiagnosisReading {
    DiagnosisReading {
        check: "knock".to_owned(),
        outcome: Outcome::Reading,
        values: BTreeMap::new(),
        codes: Vec::new(),
        frequency_hz: Vec::new(),
        magnitude_ohm: Vec::new(),
        magnitude_standard_uncertainty_ohm: Vec::new(),
    }
}

/// One part against its partner in the same jig.
pub fn against(
    part: Vec<DiagnosisReading>,
    partner: Vec<DiagnosisReading>,
    level: Option<LevelDifference>,
) -> DiagnosisSetup {
    DiagnosisSetup {
        readings: part,
        dc_ohm: None,
        reference: DiagnosisReference::Partner { readings: partner, dc_ohm: None, same_jig: true },
        level,
        spread: None,
    }
}
