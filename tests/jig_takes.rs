//! The jig's own takes: an input that comes in upside down, takes of the wrong thing, takes that are no good.

mod impedance_bench;

use conewright::driver::impedance_check::{analyse, ImpedanceSetup};
use conewright::signal::notice::Code;
use conewright::signal::reading::Reading;
use conewright::signal::role_take::RoleTake;
use conewright::signal::stimulus::Shape;
use conewright::signal::take::Take;
use conewright::sim::bench::PracticeBench;
use conewright::sim::jig::Position;
use impedance_bench::{ideal_bench, practice_driver, record, stimulus, RATE_HZ};

fn bench() -> PracticeBench {
    let mut bench = ideal_bench(&practice_driver("six").linear(), -84.0);
    bench.jig.lead_ohm = 0.1;
    bench.input.channels[1].gain_db = 0.3;
    bench
}

fn take(role: &str, position: Position, seed: u64) -> RoleTake {
    let mut out = RoleTake::new(role, record(&bench(), &stimulus(Shape::Sweep), position, seed));
    if let Position::KnownResistor { resistor_ohm } = position {
        out.resistor_ohm = Some(resistor_ohm);
    }
    out
}

fn all_takes() -> Vec<RoleTake> {
    vec![
        take("driver", Position::Driver, 1),
        take("same_node", Position::SameNode, 2),
        take("known_resistor", Position::KnownResistor { resistor_ohm: 8.2 }, 3),
        take("short", Position::Short, 4),
    ]
}

fn upside_down(take: &RoleTake) -> RoleTake {
    let channels = take.take.channels();
    let turned = channels[1].iter().map(|s| -s).collect();
    let mut out = take.clone();
    out.take = Take::new(RATE_HZ, vec![channels[0].clone(), turned]).expect("a take");
    out
}

fn read(takes: &[RoleTake]) -> Reading {
    analyse(&ImpedanceSetup::plain(10.0), takes).expect("a usable setup")
}

#[test]
fn an_input_upside_down_changes_no_figure() {
    let upright = all_takes();
    let turned: Vec<RoleTake> = upright.iter().map(upside_down).collect();
    let (a, b) = (read(&upright), read(&turned));
    assert_eq!(b.chosen["driver_channel"], "inverted");
    assert!(!a.values.is_empty());
    for (name, figure) in &a.values {
        // The same numbers but for a sign: nothing may differ beyond rounding.
        let apart = (b.values[name].value / figure.value - 1.0).abs();
        assert!(apart < 1e-9, "{name}: {apart:e}");
    }
    // And the corrections work: leads of 0.1 Ω and 0.3 dB are taken out.
    let truth = conewright::sim::truth::truth(&(&practice_driver("six").linear()).into());
    let r_e = &a.values["r_e_ohm"];
    let off = (r_e.value - truth.r_e_ohm).abs();
    assert!(off <= 3.0 * r_e.standard_uncertainty.expect("a budget"), "R_e {} against {}", r_e.value, truth.r_e_ohm);
    // Left in, they would make 0.1 Ω and 3 % of it.
    assert!(off < 0.03, "R_e {} against {}", r_e.value, truth.r_e_ohm);
}

#[test]
fn a_take_turned_among_upright_ones_is_turned_back() {
    let driver = take("driver", Position::Driver, 1);
    let again = upside_down(&take("driver", Position::Driver, 5));
    let (alone, both) = (read(std::slice::from_ref(&driver)), read(&[driver.clone(), again]));
    let (a, b) = (&alone.values["f_s_hz"], &both.values["f_s_hz"]);
    assert!((a.value - b.value).abs() < 6.0 * a.standard_uncertainty.expect("a budget"));
}

#[test]
fn a_take_with_the_driver_still_connected_is_not_open() {
    let takes = [take("driver", Position::Driver, 1), take("open", Position::Driver, 2)];
    assert_eq!(read(&takes).refusal.map(|r| r.code), Some(Code::NotOpen));
    let takes = [take("driver", Position::Driver, 1), take("open", Position::Open, 2)];
    assert_eq!(read(&takes).refusal, None);
}

#[test]
fn a_calibration_with_its_tops_cut_off_is_refused() {
    let mut cut = take("same_node", Position::SameNode, 2);
    let channels: Vec<Vec<f64>> = cut.take.channels().to_vec();
    let peak = channels[0].iter().fold(0.0f64, |p, s| p.max(s.abs()));
    let loud = |c: &Vec<f64>| c.iter().map(|s| (s / peak * 1.5).clamp(-1.0, 1.0)).collect();
    cut.take = Take::new(RATE_HZ, channels.iter().map(loud).collect()).expect("a take");
    let reading = read(&[take("driver", Position::Driver, 1), cut]);
    assert_eq!(reading.refusal.map(|r| r.code), Some(Code::Clipped));
    assert!(reading.values.is_empty() && reading.alongside.is_empty());
}
