//! Input, microphone and noise of the simulator do what their settings say.
use conewright::math::fft::real_forward;
use conewright::math::random::Random;
use conewright::sim::filters::HighPass;
use conewright::sim::input::{lose_buffers, BufferFault, Input, InputChannel, Loss, RunningInput};
use conewright::sim::jig::{Jig, Position};
use conewright::sim::microphone::RunningMicrophone;
use conewright::sim::noise::{Hum, PinkNoise};
use conewright::sim::practice::{drivers, good_bench, good_microphone};

const RATE_HZ: f64 = 48_000.0;

fn clean_input() -> Input {
    let mut input = good_bench(&drivers()[0].driver).input;
    let channel = InputChannel {
        full_scale_v: 2.0,
        gain_db: 0.0,
        coupling_hz: 0.0,
        noise_dbfs: -300.0,
        offset: 0.0,
        ..input.channels[0]
    };
    (input.channels, input.hum, input.bits) = ([channel; 2], None, None);
    input
}

fn rms(samples: &[f64]) -> f64 {
    (samples.iter().map(|s| s * s).sum::<f64>() / samples.len() as f64).sqrt()
}

#[test]
fn volts_become_full_scale_and_gain_decibels() {
    let mut input = clean_input();
    input.channels[1].gain_db = 20.0 * 1.1f64.log10();
    let [left, right] = RunningInput::new(&input, RATE_HZ, 1).push([0.5, 0.5]);
    assert!((left - 0.25).abs() < 1e-12 && (right - 0.275).abs() < 1e-12);
}

#[test]
fn noise_has_the_level_that_is_stated_and_another_sequence_on_each_channel() {
    let mut input = clean_input();
    input.channels.iter_mut().for_each(|c| c.noise_dbfs = -40.0);
    let mut running = RunningInput::new(&input, RATE_HZ, 1);
    let pairs: Vec<[f64; 2]> = (0..100_000).map(|_| running.push([0.0; 2])).collect();
    for c in 0..2 {
        let level = rms(&pairs.iter().map(|p| p[c]).collect::<Vec<_>>());
        // Relative standard deviation of an rms over N samples: 1/√(2N) = 0.22 %; four of them.
        assert!((level / 0.01 - 1.0).abs() < 0.009, "{level}");
    }
    let correlation = pairs.iter().map(|p| p[0] * p[1]).sum::<f64>() / 1e-4 / 1e5;
    assert!(correlation.abs() < 4.0 / 1e5f64.sqrt(), "{correlation}");
}

#[test]
fn a_coupling_capacitor_is_an_rc_high_pass() {
    // |H| = f/√(f² + f_c²), phase atan(f_c/f): first-order network, any textbook. Straight lines between samples have
    // images about the rate, which the capacitor turns by (2πf_c/rate)(2πf/rate)/12 = 2.3e-7 rad at 20 Hz.
    let corner_hz = 8.0;
    for f in [4.0, 8.0, 20.0] {
        let mut filter = HighPass::new(corner_hz, RATE_HZ);
        let n = RATE_HZ as usize;
        let tone = |k: usize| (std::f64::consts::TAU * f * k as f64 / RATE_HZ).sin();
        let out: Vec<f64> = (0..3 * n).map(|k| filter.push(tone(k))).collect();
        let line = real_forward(&out[2 * n..])[f as usize] / (n as f64 / 2.0);
        let wanted = f / (f * f + corner_hz * corner_hz).sqrt();
        assert!((line.norm() / wanted - 1.0).abs() < 1e-7, "{f} Hz: {} {wanted}", line.norm());
        // A sine has phase −90° in this transform.
        let phase = line.arg() + std::f64::consts::FRAC_PI_2;
        assert!((phase - (corner_hz / f).atan()).abs() < 3e-7, "{f} Hz: {phase}");
    }
}

#[test]
fn sixteen_bits_sit_on_their_grid_and_stop_at_full_scale() {
    let mut input = clean_input();
    input.bits = Some(16);
    let mut running = RunningInput::new(&input, RATE_HZ, 1);
    for k in 0..2000 {
        let [sample, _] = running.push([5.0 * (k as f64 * 0.01).sin(), 0.0]);
        assert_eq!(sample * 32_768.0, (sample * 32_768.0).round());
        assert!((-1.0..=32_767.0 / 32_768.0).contains(&sample));
    }
}

#[test]
fn lost_buffers_keep_the_length() {
    let ramp: Vec<f64> = (0..1000).map(f64::from).collect();
    let lose = |loss| {
        let mut channels = vec![ramp.clone()];
        lose_buffers(&mut channels, &[BufferFault { at_part: 0.5, samples: 100, loss }]);
        channels.remove(0)
    };
    let (zeros, dropped, repeated) = (lose(Loss::Zeros), lose(Loss::Dropped), lose(Loss::Repeated));
    assert_eq!((zeros[499], zeros[500], zeros[599], zeros[600]), (499.0, 0.0, 0.0, 600.0));
    assert_eq!((dropped[499], dropped[500], dropped.len()), (499.0, 600.0, 1000));
    assert_eq!((repeated[599], repeated[600], repeated[999]), (599.0, 500.0, 899.0));
}

#[test]
fn hum_lies_on_multiples_of_the_mains() {
    let hum = Hum { mains_hz: 60.0, fundamental_dbfs: -20.0 };
    let samples: Vec<f64> = (0..48_000).map(|n| hum.at(n as f64 / RATE_HZ)).collect();
    let lines = real_forward(&samples);
    assert!((lines[60].norm() / 24_000.0 - 0.1).abs() < 1e-9 && lines[120].norm() > 100.0 && lines[61].norm() < 1e-6);
}

#[test]
fn room_noise_falls_by_three_decibels_an_octave() {
    let (mut pink, mut random) = (PinkNoise::new(RATE_HZ), Random::new(3));
    let samples: Vec<f64> = (0..480_000).map(|_| pink.next(&mut random)).collect();
    let lines = real_forward(&samples);
    let octave_power = |low: usize| lines[low * 10..low * 20].iter().map(|l| l.norm_sqr()).sum::<f64>();
    // Power an octave is equal. The staircase of corners ripples by about 0.5 dB; an octave from 20 Hz holds 200
    // lines, so chance adds 10/ln 10/√200 = 0.3 dB.
    let powers: Vec<f64> = [20, 80, 320, 1280].iter().map(|f| 10.0 * octave_power(*f).log10()).collect();
    println!("{powers:.2?}");
    for p in &powers {
        assert!((p - powers[0]).abs() < 1.8, "{powers:?}");
    }
    // Slow noise: a unit rms is reached to within the chance of its slowest part, 1 Hz over 10 s.
    assert!((rms(&samples) - 1.0).abs() < 0.15, "{}", rms(&samples));
}

#[test]
fn the_microphone_hears_acceleration_through_its_roll_off() {
    let mut microphone = good_microphone();
    (microphone.room_noise_db_spl, microphone.rumble_db_spl) = (-200.0, -200.0);
    let s_d_m2 = 0.0137;
    let response = |f: f64| {
        let mut running = RunningMicrophone::new(&microphone, RATE_HZ, 1);
        let n = RATE_HZ as usize;
        let velocity = |k: usize| 1e-3 * (std::f64::consts::TAU * f * k as f64 / RATE_HZ).sin();
        let out: Vec<f64> = (0..3 * n).map(|k| running.push(velocity(k), s_d_m2)).collect();
        real_forward(&out[2 * n..])[f as usize].norm() / (n as f64 / 2.0)
    };
    // On the axis of a flat piston, long waves: p = ρ ω v (√(r² + a²) − r), a² = S_d/π (Rayleigh integral).
    let full_scale_pa = 20e-6 * 10f64.powf(118.0 / 20.0) * 2f64.sqrt();
    let wanted = |f: f64| {
        let geometry = (0.01f64.powi(2) + s_d_m2 / std::f64::consts::PI).sqrt() - 0.01;
        let second_order = 1.0 / (1.0 + (45.0 / f).powi(4)).sqrt();
        1.204 * std::f64::consts::TAU * f * 1e-3 * geometry * second_order / full_scale_pa
    };
    for f in [20.0, 45.0, 200.0] {
        // Q of 0.707 instead of 1/√2 is 2e-4 at the corner; the difference quotient falls by (πf/rate)²/6 = 3e-5.
        assert!((response(f) / wanted(f) - 1.0).abs() < 5e-4, "{f} Hz: {} {}", response(f), wanted(f));
    }
}

#[test]
fn the_jig_divides_as_its_parts_say() {
    let jig = Jig {
        series_resistor_nominal_ohm: 100.0,
        series_resistor_relative_error: 0.01,
        lead_ohm: 0.0,
        output_ohm: 1.0,
        source_full_scale_v: 1.0,
    };
    // 8 Ω at D, inputs of 10 kΩ: worked by hand as a ladder from the far end.
    let ports = jig.ports(Position::Driver, [10_000.0; 2]);
    let at_d = 8.0 * 10_000.0 / 10_008.0;
    let at_s = (101.0 + at_d) * 10_000.0 / (10_101.0 + at_d);
    let v_s = at_s / (1.0 + at_s);
    let v_d = v_s * at_d / (101.0 + at_d);
    let current_a = ports.open_gain / (ports.behind_ohm + 8.0);
    let [s, d] = ports.read_v(1.0, current_a);
    assert!((s - v_s).abs() < 1e-12 && (d - v_d).abs() < 1e-12, "{s} {v_s} {d} {v_d}");
    let same = jig.ports(Position::SameNode, [10_000.0; 2]);
    let [a, b] = same.read_v(1.0, 0.003);
    assert_eq!(a, b);
}
