//! What physics demands of the simulator: energy, step halving, sticking, the coil's ladder.
use conewright::sim::coil::{FractionalInductance, Ladder};
use conewright::sim::driver::{Friction, Loaded};
use conewright::sim::energy_system::SOURCE_TERMS;
use conewright::sim::jig::Position;
use conewright::sim::practice::{drivers, good_bench};
use conewright::sim::stepper::Stepper;
use conewright::sim::stream::Stream;

const NO_VOLTAGE: [f64; SOURCE_TERMS] = [0.0; SOURCE_TERMS];

/// A constant voltage over the step.
fn constant(volts: f64) -> [f64; SOURCE_TERMS] {
    let mut terms = NO_VOLTAGE;
    terms[0] = volts;
    terms
}

#[test]
fn without_source_the_stored_energy_only_falls_even_with_steps_of_a_tenth_period() {
    for part in drivers() {
        let linear = Loaded::from(&part.driver.linear());
        let step_s = 0.1 / part.truth.f_s_hz;
        let mut stepper = Stepper::new(&linear, &[1e6], step_s);
        stepper.displace(1e-3);
        let mut before = stepper.stored_energy_j();
        let at_start = before;
        for _ in 0..400 {
            stepper.step(0, &NO_VOLTAGE, [0.0; 2]);
            let now = stepper.stored_energy_j();
            // A contraction but for rounding: 400 steps of a unit matrix product of order 28.
            assert!(now <= before * (1.0 + 1e-12), "{}: {before:e} -> {now:e}", part.id);
            before = now;
        }
        // Forty periods at Q around 4 leave e^(−63) of the ringing; what remains is creep running off slowly.
        assert!(before < 0.05 * at_start, "{before:e} of {at_start:e}");
    }
}

#[test]
fn a_steady_current_pushes_the_cone_to_bl_i_over_k() {
    // Hooke's law after the creep has run off; the slowest branch relaxes within 1/(2π 10⁻³ f_nominal) ≈ 6 s.
    let part = &drivers()[0];
    let linear = Loaded::from(&part.driver.linear());
    let mut stepper = Stepper::new(&linear, &[0.0], 1e-3);
    for _ in 0..120_000 {
        stepper.step(0, &constant(1.0), [0.0; 2]);
    }
    let motion = stepper.motion();
    let current_a = 1.0 / part.truth.r_e_ohm;
    let wanted_m = part.driver.motor.bl_t_m * current_a / part.driver.suspension.stiffness_n_per_m;
    assert!((motion.current_a / current_a - 1.0).abs() < 1e-9, "{motion:?}");
    // e^(−120/6.5) ≈ 1e-8 of the creep, itself 5 % of the whole, is left.
    assert!((motion.displacement_m / wanted_m - 1.0).abs() < 1e-8, "{motion:?} {wanted_m}");
}

#[test]
fn work_done_by_the_source_is_stored_or_lost() {
    // The power balance of a driven linear system over one second, by the trapezoidal rule on a fine grid:
    // ∫ u i dt = stored + ∫ R i² dt + rest, where the rest (iron, suspension) cannot be negative.
    let part = &drivers()[1];
    let linear = Loaded::from(&part.driver.linear());
    let step_s = 1.0 / 192_000.0;
    let mut stepper = Stepper::new(&linear, &[0.0], step_s);
    let (mut work_j, mut heat_j, mut viscous_j) = (0.0, 0.0, 0.0);
    for n in 0..192_000 {
        let volts = (std::f64::consts::TAU * 47.0 * n as f64 * step_s).sin();
        let before = stepper.motion();
        stepper.step(0, &constant(volts), [0.0; 2]);
        let after = stepper.motion();
        let mean = |a: f64, b: f64| (a + b) / 2.0;
        work_j += volts * mean(before.current_a, after.current_a) * step_s;
        heat_j += part.truth.r_e_ohm * mean(before.current_a.powi(2), after.current_a.powi(2)) * step_s;
        viscous_j += part.driver.suspension.viscous_n_s_per_m
            * mean(before.velocity_m_per_s.powi(2), after.velocity_m_per_s.powi(2))
            * step_s;
    }
    let rest_j = work_j - stepper.stored_energy_j() - heat_j - viscous_j;
    assert!(rest_j > 0.0, "energy from nowhere: {rest_j:e} J of {work_j:e} J");
    // Creep loses k·0.04·(π/2)/ln 10 · x²ω against viscous v²: a third of the viscous loss at most in this driver.
    assert!(rest_j < 0.4 * viscous_j, "{rest_j:e} J unaccounted of {work_j:e} J, viscous {viscous_j:e} J");
}

#[test]
fn halving_the_step_changes_nothing_even_at_large_travel() {
    // Nonlinear, with two tones that intermodulate; the corrections are extrapolated by parabolas, error ∝ step³.
    let part = &drivers()[0];
    let mut bench = good_bench(&part.driver);
    bench.jig.source_full_scale_v = 40.0;
    let run = |factor| {
        let mut stream = Stream::with_oversampling(&bench, Position::Driver, 48e3, 1, factor);
        let mut largest = 0.0f64;
        let samples: Vec<f64> = (0..48_000)
            .map(|n| {
                let t = n as f64 / 48e3;
                let dac =
                    0.45 * (std::f64::consts::TAU * 26.0 * t).sin() + 0.45 * (std::f64::consts::TAU * 440.0 * t).sin();
                let v = stream.push_volts(dac)[1];
                largest = largest.max(stream.motion().map_or(0.0, |m| m.displacement_m.abs()));
                v
            })
            .collect();
        (samples[stream.delay_samples()..][..47_000].to_vec(), largest)
    };
    let ((coarse, travel_m), (fine, _)) = (run(4), run(8));
    assert!(travel_m > 2e-3, "the cone moved only {travel_m} m");
    let peak = fine.iter().fold(0.0f64, |a, b| a.max(b.abs()));
    let worst = coarse.iter().zip(&fine).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
    println!("travel {:.2} mm, worst difference {:.2e} of peak", travel_m * 1e3, worst / peak);
    assert!(worst / peak < 1e-5, "{worst:e} of {peak}");
}

#[test]
fn friction_stops_the_cone_and_holds_it() {
    let mut driver = drivers()[0].driver.linear();
    driver.suspension.creep_per_decade = 0.0;
    driver.friction = Friction { sliding_n: 0.05, breakaway_n: 0.06 };
    let mut stepper = Stepper::new(&Loaded::from(&driver), &[1e6], 1.0 / 48e3);
    stepper.displace(5e-4);
    let mut last_crossing = 0;
    let mut before = stepper.motion();
    for n in 0..48_000 {
        stepper.step(0, &NO_VOLTAGE, [0.0; 2]);
        let now = stepper.motion();
        if now.velocity_m_per_s * before.velocity_m_per_s < 0.0 {
            last_crossing = n;
        }
        before = now;
    }
    // Coulomb: each half swing loses 2F/k ≈ 61 µm of travel besides the viscous loss, so it rests within a few swings,
    // displaced by no more than F/k; no chatter afterwards.
    let rest = stepper.motion();
    assert!(rest.velocity_m_per_s.abs() < 1e-9, "{rest:?}");
    assert!(rest.displacement_m.abs() <= 0.06 / driver.suspension.stiffness_n_per_m * 1.01, "{rest:?}");
    assert!(last_crossing < 24_000, "still turning at sample {last_crossing}");
}

#[test]
fn the_ladder_follows_its_target_as_far_as_it_says() {
    // Trapezoidal rule in ln x: 2 exp(−π²/h), h = ln(3e6)/14 = 1.065, so 1.9e-4. The poles above the last, taken for a
    // pure inductance, add at most sin(nπ)/π · h · Σ (20 kHz/x)^(2−n) over x = 1.5 MHz e^h, e^2h …: below 2.5e-4 for n ≤ 0.8.
    for n in [0.5, 0.62, 0.7, 0.8] {
        let target = FractionalInductance { k_ohm_s_n: 0.01, n };
        let error = Ladder::following(&target).largest_relative_error(&target, 10.0, 20_000.0);
        println!("n {n}: {error:.2e}");
        assert!(error < 5e-4, "n {n}: {error:e}");
    }
}
