//! Are the stated uncertainties of the knock honest? Truths richer than the model: lossy coil as a ladder, creep as a chain
//! of branches, suspension and motor that change with displacement; loads, R_e, input, weight, rule and air drawn as widely
//! as the budget says they are.

#![allow(missing_docs)]

mod impedance_bench;
mod knock_bench;

use conewright::driver::knock_check::KnockSensor;
use impedance_bench::least_successes;
use knock_bench::*;

const WITH_WEIGHT: [&str; 9] =
    ["f_s_hz", "q_ms", "q_es", "q_ts", "m_ms_kg", "c_ms_m_per_n", "r_ms_kg_per_s", "bl_t_m", "v_as_m3"];
const WITHOUT_WEIGHT: [&str; 4] = ["f_s_hz", "q_ms", "q_es", "q_ts"];

/// How often one and two standard uncertainties (the stated 95 %) held the truth of a figure.
#[derive(Default)]
struct Held {
    one: u32,
    two: u32,
    trials: u32,
    /// Sums of the error over the standard uncertainty, and of its square.
    sums: (f64, f64),
}

fn count(sensor: KnockSensor, weighted: bool, trials: u32, names: &[&str]) -> Vec<Held> {
    let mut out: Vec<Held> = names.iter().map(|_| Held::default()).collect();
    for seed in 0..u64::from(trials) {
        // 16 kHz and four knocks: enough for what is asked, and a third of the time.
        let t = trial(sensor, weighted, 16_000.0, 4, 20_000 + seed);
        assert!(t.reading.refusal.is_none(), "good takes were refused: {:?}", t.reading.refusal);
        for (held, name) in out.iter_mut().zip(names) {
            let Some(figure) = t.reading.values.get(*name) else { continue };
            let error = figure.value - true_value(&t.truth, name);
            let (off, in_u) = (error.abs(), error / figure.standard_uncertainty.unwrap_or(f64::INFINITY));
            held.sums = (held.sums.0 + in_u, held.sums.1 + in_u * in_u);
            if in_u.abs() > 4.0 {
                println!("seed {}: {name} off by {in_u:.1} u, {:?}", 20_000 + seed, t.reading.chosen);
            }
            held.trials += 1;
            held.one += u32::from(off <= figure.standard_uncertainty.unwrap_or(0.0));
            held.two += u32::from(off <= figure.half_width_95.unwrap_or(0.0));
        }
    }
    out
}

/// With the lowest allowed coverage of 91 %, chance falls below the count used here once in ten thousand times. Upwards:
/// figures whose uncertainty is not that of an assumption (`wide`) must miss as often as 98 % allows at the most.
fn judge(sensor: KnockSensor, weighted: bool, names: &[&str], trials: u32, wide: &[&str]) {
    for (held, name) in count(sensor, weighted, trials, names).iter().zip(names) {
        let share = |k: u32| 100.0 * f64::from(k) / f64::from(held.trials);
        let n = f64::from(held.trials);
        println!(
            "{sensor:?} {name}: {} of {} ({:.1} %), within one u {:.1} %, mean {:+.2} u, root mean square {:.2} u",
            held.two,
            held.trials,
            share(held.two),
            share(held.one),
            held.sums.0 / n,
            (held.sums.1 / n).sqrt()
        );
        assert!(10 * held.trials >= 9 * trials, "{name} was given {} times of {trials}", held.trials);
        let least = least_successes(held.trials, 0.91, 1e4);
        assert!(held.two >= least, "{name}: {} of {}, {least} wanted", held.two, held.trials);
        if !wide.contains(name) {
            // 98 % lie within 2.33 u′ of a normal law; one stated u is then 1.19 u′, which holds 76.5 %.
            let misses = least_successes(held.trials, 1.0 - 0.765, 1e4);
            assert!(held.trials - held.one >= misses, "{name}: too wide, {} of {} within one u", held.one, held.trials);
        }
    }
}

fn trials(few: u32) -> u32 {
    std::env::var("CONEWRIGHT_TRIALS").ok().and_then(|t| t.parse().ok()).unwrap_or(few)
}

#[test]
fn intervals_by_the_coil_hold_the_truth() {
    judge(KnockSensor::Coil, false, &WITHOUT_WEIGHT, trials(8), &[]);
}

/// f_s and Q_ms are wide on purpose: a weight tells the creep, which the budget trusts to 0.5 % a decade only, because it
/// rests on a loss that falls with frequency as a viscous one does. The simulated loss does so exactly.
#[test]
fn intervals_with_a_weight_hold_the_truth() {
    judge(KnockSensor::Coil, true, &WITH_WEIGHT, trials(8), &["f_s_hz", "q_ms"]);
}

#[test]
fn intervals_by_a_microphone_hold_the_truth() {
    judge(KnockSensor::Microphone, false, &WITHOUT_WEIGHT, trials(8), &[]);
}
