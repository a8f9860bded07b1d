//! Many simulated readings of one kind, and what they say together: bias, spread, coverage.

use conewright::math::random::Random;
use conewright::signal::reading::{Outcome, Reading};
use conewright::sim::truth::Truth;

/// Figures that the tables show, with the truth of each.
pub const FIGURES: [&str; 6] = ["f_s_hz", "q_ms", "q_es", "q_ts", "r_e_ohm", "z_max_ohm"];

/// The truth by the name of the figure.
pub fn true_value(truth: &Truth, name: &str) -> f64 {
    match name {
        "f_s_hz" => truth.f_s_hz,
        "q_ms" => truth.q_ms,
        "q_es" => truth.q_es,
        "q_ts" => truth.q_ts,
        "r_e_ohm" => truth.r_e_ohm,
        "z_max_ohm" => truth.z_max_ohm,
        "m_ms_kg" => truth.m_ms_kg,
        "bl_t_m" => truth.bl_t_m,
        "v_as_m3" => truth.v_as_m3,
        "c_ms_m_per_n" => truth.c_ms_m_per_n,
        _ => f64::NAN,
    }
}

/// One reading beside its truth.
pub struct Trial {
    pub truth: Truth,
    pub reading: Reading,
}

/// What a set of trials says of one figure, all relative.
pub struct Summary {
    pub bias: f64,
    pub spread: f64,
    pub worst: f64,
    /// Share of 95 % intervals that hold the truth.
    pub coverage: f64,
    /// Median stated standard uncertainty.
    pub stated: f64,
}

/// Bias, spread and coverage of one figure over all trials that gave it.
pub fn summarise(trials: &[Trial], name: &str) -> Option<Summary> {
    let mut errors = Vec::new();
    let mut stated = Vec::new();
    let mut held = 0;
    for trial in trials {
        let Some(figure) = trial.reading.values.get(name) else { continue };
        let truth = true_value(&trial.truth, name);
        errors.push(figure.value / truth - 1.0);
        stated.push(figure.standard_uncertainty.unwrap_or(f64::NAN) / truth);
        held += usize::from((figure.value - truth).abs() <= figure.half_width_95.unwrap_or(0.0));
    }
    let n = errors.len() as f64;
    if errors.is_empty() {
        return None;
    }
    let bias = errors.iter().sum::<f64>() / n;
    let spread = (errors.iter().map(|e| (e - bias).powi(2)).sum::<f64>() / (n - 1.0).max(1.0)).sqrt();
    stated.sort_by(f64::total_cmp);
    Some(Summary {
        bias,
        spread,
        worst: errors.iter().fold(0.0, |w: f64, e| w.max(e.abs())),
        coverage: held as f64 / n,
        stated: stated[stated.len() / 2],
    })
}

/// Prints one table: a row a figure, in per cent.
pub fn print(title: &str, names: &[&str], trials: &[Trial]) {
    let refused = trials.iter().filter(|t| t.reading.outcome == Outcome::Refused).count();
    let doubtful = trials.iter().filter(|t| t.reading.outcome == Outcome::Doubtful).count();
    println!("\n{title}\n  {} trials, {doubtful} doubtful, {refused} refused", trials.len());
    println!("  {:<13}{:>9}{:>9}{:>9}{:>10}{:>11}", "", "bias %", "spread %", "worst %", "stated u %", "in 95 % int");
    for name in names {
        if let Some(s) = summarise(trials, name) {
            let pc = 100.0;
            println!(
                "  {name:<13}{:>9.4}{:>9.4}{:>9.4}{:>10.4}{:>10.1}%",
                s.bias * pc,
                s.spread * pc,
                s.worst * pc,
                s.stated * pc,
                s.coverage * pc
            );
        }
    }
}

/// A number around `middle`, normally spread by `sigma`.
pub fn around(random: &mut Random, middle: f64, sigma: f64) -> f64 {
    middle + sigma * random.normal()
}
