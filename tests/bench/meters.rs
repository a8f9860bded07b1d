//! Accuracy tables of the check by meter, by simulation.

use super::meter_bench::{trial, Bench};
use super::trials::{print, Trial, FIGURES};

/// All tables of the meter.
pub fn tables(count: usize) {
    let rows: [(&str, Bench); 5] = [
        (
            "By meter, 9 tones, 1 mV, 0.3 % from reading to reading, R_e by ohms (goal: f_s 0.3, Q 2 %)",
            Bench::unsteady(),
        ),
        ("The same, 0.3 % of gain that cancels, no ohms reading", Bench::gain_only()),
        ("The same, 0.3 % that does not cancel, no ohms reading", Bench { ohms: false, ..Bench::unsteady() }),
        ("Across driver and resistor together instead of the resistor", Bench { both: true, ..Bench::unsteady() }),
        ("A last digit of 0.1 V at 5 V (goal: f_s 0.5 to 1.5, Q_ts 4 to 5 %)", Bench::coarse()),
    ];
    for (title, bench) in rows {
        print(title, &FIGURES, &trials(count, &bench));
    }
    print(
        "By meter, honesty: richer truth, 0.5 % resistor, 3 K, gain and unsteadiness 0.3 % (goal: 91 to 98 % in the interval)",
        &FIGURES,
        &trials(5 * count, &Bench::honest()),
    );
}

fn trials(count: usize, bench: &Bench) -> Vec<Trial> {
    let one = |seed: usize| {
        let done = trial(seed as u64, bench);
        Trial { truth: done.truth, reading: done.reading }
    };
    (0..count).map(one).collect()
}
