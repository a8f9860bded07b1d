//! Accuracy of weight and box by impedance: the practice drivers in the time domain, jig and weights with small errors.

use super::impedance_bench::{driver_take, ideal_bench, stimulus};
use super::trials::{around, print, Trial};
use conewright::driver::impedance_check::{analyse, ImpedanceSetup};
use conewright::math::random::Random;
use conewright::signal::role_take::RoleTake;
use conewright::signal::stimulus::Shape;
use conewright::sim::bench::{Mounting, PracticeBench};
use conewright::sim::practice::{drivers, PracticeDriver};
use conewright::sim::truth::Truth;

const FIGURES: [&str; 4] = ["m_ms_kg", "c_ms_m_per_n", "bl_t_m", "v_as_m3"];

fn bench(part: &PracticeDriver, random: &mut Random, mounting: Mounting) -> PracticeBench {
    let mut bench = ideal_bench(&part.driver.linear(), -74.0);
    bench.jig.series_resistor_relative_error = around(random, 0.0, 0.005);
    bench.jig.lead_ohm = 0.05 * random.uniform();
    bench.input.bits = Some(16);
    bench.mounting = mounting;
    bench
}

fn trials(count: usize, mount: impl Fn(&PracticeDriver, &mut Random) -> Vec<(Mounting, RoleTakeValues)>) -> Vec<Trial> {
    let parts = drivers();
    let one = |i: usize| {
        let part = &parts[i % parts.len()];
        let mut random = Random::new(500 + i as u64);
        let mut setup = ImpedanceSetup::plain(10.0);
        setup.effective_diameter_m = Some(part.effective_diameter_m + random.between(-1e-3, 1e-3));
        // The height of the place and the weather: ρc² = 1.4 p, and with it V_as and the stiffness of a box.
        let pressure = 1.0 + 1800.0 / 101_325.0 * random.normal();
        setup.driver_displacement_m3 = Some(part.displacement_m3());
        let mut all = vec![(Mounting::default(), (None, None))];
        all.extend(mount(part, &mut random));
        let jig = random.clone();
        let takes: Vec<RoleTake> = all
            .into_iter()
            .enumerate()
            .map(|(k, (mounting, (added_mass_kg, box_volume_m3)))| {
                let mounting = Mounting { net_box_m3: mounting.net_box_m3.map(|v| v / pressure), ..mounting };
                // One jig for all takes: its errors are drawn alike.
                let bench = bench(part, &mut jig.clone(), mounting);
                let take = driver_take(&bench, &stimulus(Shape::Multisine), (10 * i + k) as u64);
                RoleTake { added_mass_kg, box_volume_m3, ..take }
            })
            .collect();
        let truth = Truth { v_as_m3: part.truth.v_as_m3 * pressure, ..part.truth };
        Trial { truth, reading: analyse(&setup, &takes).expect("a usable setup") }
    };
    (0..count).map(one).collect()
}

/// Weight and inner volume as the person states them.
type RoleTakeValues = (Option<f64>, Option<f64>);

fn weight(part: f64, driver: &PracticeDriver, random: &mut Random) -> (Mounting, RoleTakeValues) {
    let kg = part * driver.truth.m_ms_kg;
    let read_kg = kg * around(random, 1.0, 0.002) + random.between(-1e-4, 1e-4);
    (Mounting { added_mass_kg: kg, net_box_m3: None }, (Some(read_kg), None))
}

/// Tables of weights and boxes.
pub fn tables(count: usize) {
    for part in [0.1, 0.3, 0.55, 1.0] {
        let one = trials(count, |d, r| vec![weight(part, d, r)]);
        let title = format!("Impedance and a weight of {part} M_ms (goal: M_ms, V_as 2 % from 0.3 upwards)");
        print(&title, &FIGURES, &one);
    }
    let two = trials(count, |d, r| vec![weight(0.4, d, r), weight(0.9, d, r)]);
    print("Impedance and two weights fitted together", &FIGURES, &two);
    let boxed = trials(count, |d, r| {
        let net = 0.8 * d.truth.v_as_m3;
        let read = (net + d.displacement_m3()) * around(r, 1.0, 0.01);
        vec![(Mounting { added_mass_kg: 0.0, net_box_m3: Some(net) }, (None, Some(read)))]
    });
    print("Impedance and a box of 0.8 V_as, measures to 1 % (goal: V_as 2 %)", &FIGURES, &boxed);
}
