//! Native side of the speed comparison, run by `pkg-scripts/bench`: writes a 10 s take, then times whole analyses of it.
//!
//! `speed FOLDER ROUNDS` leaves `take.wav` and `setup.json` in FOLDER and prints the median seconds of one analysis.

#[path = "../impedance_bench/mod.rs"]
mod impedance_bench;

use conewright::driver::impedance_check::{analyse, ImpedanceSetup};
use conewright::signal::role_take::RoleTake;
use conewright::signal::stimulus::Shape;
use conewright::signal::wav::{self, Format};
use conewright::sim::jig::Position;
use impedance_bench::{ideal_bench, practice_driver, record, stimulus};
use std::time::Instant;

fn main() {
    let mut arguments = std::env::args().skip(1);
    let folder = arguments.next().expect("usage: speed FOLDER ROUNDS");
    let rounds: usize = arguments.next().and_then(|a| a.parse().ok()).expect("usage: speed FOLDER ROUNDS");
    let mut signal = stimulus(Shape::Sweep);
    (signal.period_s, signal.periods) = (2.0, 5);
    let bench = ideal_bench(&practice_driver("six"), -78.0);
    let take = record(&bench, &signal, Position::Driver, 1);
    let bytes = wav::write(&take, Format::Float32).expect("a WAV file");
    std::fs::write(format!("{folder}/take.wav"), &bytes).expect("folder can be written");
    let setup = r#"{"check":"impedance","series_resistor_ohm":10,"source_channel":1,"driver_channel":2,"takes":[{"file":"take.wav","role":"driver"}]}"#;
    std::fs::write(format!("{folder}/setup.json"), setup).expect("folder can be written");

    let takes = [RoleTake::new("driver", wav::read(&bytes).expect("just written").take)];
    let mut seconds = Vec::new();
    let mut f_s_hz = 0.0;
    for _ in 0..rounds {
        let start = Instant::now();
        let reading = analyse(&ImpedanceSetup::plain(10.0), &takes).expect("a usable setup");
        seconds.push(start.elapsed().as_secs_f64());
        f_s_hz = reading.values["f_s_hz"].value;
    }
    seconds.sort_by(f64::total_cmp);
    println!("{:.4} s  f_s {f_s_hz:.3} Hz  native", seconds[seconds.len() / 2]);
}
