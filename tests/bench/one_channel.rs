//! What one input costs: the same drivers on the same honest bench, read with one input and with two.

use super::impedance_bench::{driver_take, ideal_bench, stimulus};
use super::one_channel_bench::{marked, read, road};
use super::trials::{around, print, summarise, Trial, FIGURES};
use super::{all_drivers, vary};
use conewright::driver::impedance_check::{analyse, ImpedanceSetup};
use conewright::math::random::Random;
use conewright::signal::stimulus::Shape;
use conewright::sim::bench::PracticeBench;
use conewright::sim::driver::Loaded;
use conewright::sim::truth::truth;

pub fn tables(count: usize) {
    let both: Vec<(Trial, Trial)> = all_drivers(count)
        .map(|(seed, driver)| {
            let mut random = Random::new(7000 + seed);
            let mut bench: PracticeBench = ideal_bench(&vary(driver, &mut random), -88.0);
            bench.jig.series_resistor_nominal_ohm = 47.0;
            bench.jig.series_resistor_relative_error = around(&mut random, 0.0, 0.005);
            bench.jig.lead_ohm = 0.05 * random.uniform();
            bench.jig.output_ohm = 20.0 * random.uniform();
            bench.input.bits = Some(16);
            bench.input.channels[1].gain_db = around(&mut random, 0.0, 0.02);
            let truth = truth(&Loaded::from(&bench.driver));
            let one = read(&bench, &road(&bench, &marked(-8.0), 100 * seed));
            let takes = [driver_take(&bench, &stimulus(Shape::Multisine), seed)];
            let two = analyse(&ImpedanceSetup::plain(47.0), &takes).expect("a usable setup");
            (Trial { truth, reading: one }, Trial { truth, reading: two })
        })
        .collect();
    let (one, two): (Vec<Trial>, Vec<Trial>) = both.into_iter().unzip();
    print("One input, 0.5 % resistor, output of 0 to 20 ohm found from an open take, 16 bit", &FIGURES, &one);
    println!("\nWhat one input costs: median standard uncertainty in %, one input against two on the same bench");
    for name in FIGURES {
        let stated = |trials: &[Trial]| summarise(trials, name).map_or(f64::NAN, |s| 100.0 * s.stated);
        println!("  {name:<12}{:>9.3}{:>9.3}", stated(&one), stated(&two));
    }
}
