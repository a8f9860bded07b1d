//! Every fault of the practice bench shows the signature that the trade knows.
use conewright::math::fft::Complex64;
use conewright::signal::take::Take;
use conewright::sim::bench::{knock, play};
use conewright::sim::driver::{Driver, Loaded};
use conewright::sim::faults::{faults, Fault};
use conewright::sim::hands::Scene;
use conewright::sim::jig::Position;
use conewright::sim::knock::{KnockScene, Touch};
use conewright::sim::practice::{drivers, good_bench};
use conewright::sim::practice_takes::{knock_practice, play_practice, PracticeKnock, PracticePlay, PracticeSensor};
use conewright::sim::truth::{impedance_ohm, truth, Truth};

const RATE_HZ: f64 = 48_000.0;

fn truth_with(fault: Fault, driver: &Driver) -> (Truth, Loaded) {
    let loaded = Loaded::from(&fault.on(good_bench(driver)).driver);
    (truth(&loaded), loaded)
}

fn change_percent(after: f64, before: f64) -> f64 {
    100.0 * (after / before - 1.0)
}

#[test]
fn two_shorted_turns_of_a_hundred_spare_q_ts_and_take_z_max() {
    for part in drivers() {
        let (after, loaded) = truth_with(Fault::ShortedTurns, &part.driver);
        let before = part.truth;
        // Bl² x/R_e joins the mechanical loss for a shorted part x: R_ms grows by x Q_ms/Q_es (Bl²/R_e R_ms = Q_ms/Q_es).
        let expected_q_ms = -100.0 * (1.0 - 1.0 / (1.0 + 0.02 * before.q_ms / before.q_es));
        let q_ms = change_percent(after.q_ms, before.q_ms);
        println!(
            "{}: Q_ms {q_ms:.1} %, Z_max {:.1} %, R_e {:.1} %, Q_ts {:.2} %",
            part.id,
            change_percent(after.z_max_ohm, before.z_max_ohm),
            change_percent(after.r_e_ohm, before.r_e_ohm),
            change_percent(after.q_ts, before.q_ts)
        );
        // That formula leaves the coil's own lossy part z_l out. With it the motional part is divided by (1 + G z_l)² more,
        // G = x/R_e: its modulus, and by the phase of the same size f_s (1/2Q of it), move by no more than 2 G|z_l|.
        let g = 0.02 * part.driver.coil.impedance_ohm(before.f_s_hz).norm() / before.r_e_ohm;
        let allowed = 100.0 * 2.0 * g * (1.0 + 0.5 / before.q_ms) * after.q_ms / before.q_ms;
        assert!((q_ms - expected_q_ms).abs() < allowed, "{}: {q_ms} against {expected_q_ms}", part.id);
        // A product of two numbers.
        assert!((change_percent(after.r_e_ohm, before.r_e_ohm) + 2.0).abs() < 1e-9);
        // Bl²(1/R_es + x/R_e) + Bl²(1 − x)/R_e is what it was without x: Q_ts moves by its share of the above, and with f_s.
        let q_ts = change_percent(after.q_ts, before.q_ts);
        let allowed = 100.0 * 2.0 * g * (before.q_ts / after.q_ms + 0.5 / before.q_ms);
        assert!(q_ts.abs() < allowed, "common loudness and Q_ts must miss it: {q_ts}");
        for f in [1000.0, 3000.0, 10_000.0] {
            let modulus = |l: &Loaded| impedance_ohm(l, f).norm();
            // The resistance falls by 2 %, all the rest by more; half of the least is asked for.
            assert!(modulus(&loaded) < 0.99 * modulus(&Loaded::from(&part.driver)), "{} at {f} Hz", part.id);
        }
    }
}

/// What only scales is exact: bisection to 2⁻⁸⁰ of an octave leaves rounding, some units of the last place.
const EXACT: f64 = 1e-12;

#[test]
fn a_stiff_surround_moves_three_figures_by_one_factor_and_leaves_r_es() {
    for part in drivers() {
        let (after, _) = truth_with(Fault::StiffSurround, &part.driver);
        // Spring and creep chain grow as one, and the chain's place follows the resonance: everything but the viscous loss
        // scales with √1.5.
        let factor = after.f_s_hz / part.truth.f_s_hz;
        assert!((factor / 1.5f64.sqrt() - 1.0).abs() < EXACT, "{factor}");
        assert!((after.q_es / part.truth.q_es / factor - 1.0).abs() < EXACT);
        // Of the loss only creep's part grows, by √1.5; Q_ms falls behind by as much.
        let creep = 1.0 - part.driver.suspension.viscous_n_s_per_m / part.truth.r_ms_kg_per_s;
        let behind = 1.0 / (1.0 + (factor - 1.0) * creep);
        assert!((after.q_ms / part.truth.q_ms / factor / behind - 1.0).abs() < EXACT, "{}", part.id);
    }
}

#[test]
fn weight_and_magnet_act_on_their_own_figures() {
    for part in drivers() {
        let (heavy, _) = truth_with(Fault::HeavyCone, &part.driver);
        assert!((heavy.f_s_hz / part.truth.f_s_hz * 1.3f64.sqrt() - 1.0).abs() < EXACT && heavy.q_ts > part.truth.q_ts);
        let (weak, _) = truth_with(Fault::WeakMagnet, &part.driver);
        assert!((weak.f_s_hz / part.truth.f_s_hz - 1.0).abs() < EXACT);
        assert!((weak.q_es / part.truth.q_es * 0.64 - 1.0).abs() < EXACT && weak.z_max_ohm < part.truth.z_max_ohm);
    }
}

/// Successive peaks of the same sign after a gentle tap that ends at 0.5 s.
fn peaks(take: &Take) -> Vec<f64> {
    let samples = &take.channels()[0][(0.53 * RATE_HZ) as usize..];
    let floor = 0.004;
    samples.windows(3).filter(|w| w[1] > floor && w[1] >= w[0] && w[1] > w[2]).map(|w| w[1]).collect()
}

fn ratios(peaks: &[f64]) -> Vec<f64> {
    peaks.windows(2).map(|p| p[1] / p[0]).collect()
}

/// Steps from one creep branch to the next: eight over five decades.
const BRANCH: f64 = 5.18;

/// What creep adds to the ring beside its sinusoid, relative to the first peak: branches that relax slower than the ring,
/// each of 0.71 creep/decade of the stiffness, follow the velocity by the square of how much slower they are; the
/// first slower one has died with the ring, the next holds against it while the ring falls to `last`.
fn slow_part(driver: &Driver, last: f64) -> f64 {
    let branch = 0.71 * driver.suspension.creep_per_decade;
    2.0 * branch * (BRANCH.powi(-2) + BRANCH.powi(-4) / last)
}

#[test]
fn a_rub_makes_the_decay_steeper_as_it_fades() {
    let part = &drivers()[0];
    let mut bench = good_bench(&part.driver.linear());
    bench.input.channels.iter_mut().for_each(|c| {
        c.noise_dbfs = -200.0;
        c.offset = 0.0;
        c.coupling_hz = 0.0;
    });
    bench.input.hum = None;
    bench.input.bits = None;
    let touches = vec![Touch::Tap { time_s: 0.49, peak_n: 4.0, length_s: 0.01 }];
    let scene = KnockScene { touches, duration_s: 2.0, ..KnockScene::taps(&part.driver, 1, RATE_HZ, 1) };
    let smooth_peaks = peaks(&knock(&bench, &scene, 1).unwrap());
    let bench = Fault::Rub.on(bench);
    let rubbing_peaks = peaks(&knock(&bench, &scene, 1).unwrap());
    let (smooth, rubbing) = (ratios(&smooth_peaks), ratios(&rubbing_peaks));
    println!("{smooth:.3?}\n{rubbing:.3?}");
    let (first, last) = (smooth[1], smooth[smooth.len() - 2]);
    let allowed = slow_part(&part.driver, smooth_peaks[smooth_peaks.len() - 1] / smooth_peaks[0]);
    assert!((first / last - 1.0).abs() < allowed, "without friction {first} {last}");
    // Each cycle takes a constant from the velocity's peak: 2(1 + √r) F/k ω √√r, r being the ratio without friction (a
    // spring and a sliding force, half-cycle by half-cycle). As the voltage Bl v over the input's full scale:
    let driver = &bench.driver;
    let omega = std::f64::consts::TAU * part.truth.f_s_hz;
    let taken = driver.friction.sliding_n / driver.suspension.stiffness_n_per_m * omega * driver.motor.bl_t_m
        / bench.input.channels[0].full_scale_v;
    let taken = taken * 2.0 * (1.0 + first.sqrt()) * first.sqrt().sqrt();
    let (begin, end) = (rubbing_peaks[0], rubbing_peaks[rubbing.len() - 1]);
    let fall = rubbing[0] - rubbing[rubbing.len() - 1];
    println!("ratio falls by {fall:.3}, expected {:.3}", taken / end - taken / begin);
    assert!(rubbing.len() < smooth.len() && fall > 0.5 * (taken / end - taken / begin), "{rubbing:?}");
}

#[test]
fn a_load_damps_the_ring_as_the_coil_resistance_allows() {
    // Free decay in the time domain against 1/Q = 1/Q_ms + R_e/(Q_es (R_e + R_L)): peaks of one sign fall by
    // exp(−π/√(Q² − 1/4)) a cycle.
    let part = &drivers()[1];
    let mut bench = good_bench(&part.driver.linear());
    for channel in &mut bench.input.channels {
        (channel.noise_dbfs, channel.offset, channel.coupling_hz) = (-200.0, 0.0, 0.0);
    }
    (bench.input.hum, bench.input.bits) = (None, None);
    let touches = vec![Touch::Tap { time_s: 0.49, peak_n: 1.0, length_s: 0.004 }];
    for load_ohm in [47_000.0, 220.0, 100.0] {
        let base = KnockScene::taps(&part.driver, 1, RATE_HZ, 1).loaded(load_ohm);
        let scene = KnockScene { touches: touches.clone(), duration_s: 1.5, ..base };
        let t = part.truth;
        let parallel_ohm = load_ohm * 47_000.0 / (load_ohm + 47_000.0);
        let q = 1.0 / (1.0 / t.q_ms + t.r_e_ohm / (t.q_es * (t.r_e_ohm + parallel_ohm)));
        let wanted = (-std::f64::consts::PI / (q * q - 0.25).sqrt()).exp();
        let found = ratios(&peaks(&knock(&bench, &scene, 1).unwrap()))[0];
        println!("{load_ohm} Ω: Q {q:.3}, ratio {found:.4}, expected {wanted:.4}");
        // The ring's pole lies beside the axis on which Q is defined, by an angle of 1/(2Q). Creep's stiffness k c lg s turns
        // by that angle, and with it the loss: c/(2 ln 10) of 1/Q, hence as much of the logarithm of the ratio. The coil's
        // own lossy part z_l stands in series with coil and load and adds 2|z_l|/(R_e + R_L) to what they damp.
        let coil = part.driver.coil.impedance_ohm(t.f_s_hz).norm() / (t.r_e_ohm + parallel_ohm);
        let electrical = q * t.r_e_ohm / (t.q_es * (t.r_e_ohm + parallel_ohm));
        let by_creep = part.driver.suspension.creep_per_decade / (2.0 * std::f64::consts::LN_10);
        let allowed = -wanted.ln() * (by_creep + 2.0 * coil * electrical) + slow_part(&part.driver, wanted);
        assert!((found / wanted - 1.0).abs() < allowed, "{found} {wanted}, {allowed} allowed");
    }
}

/// Amplitude of a tone over a stretch of samples.
fn amplitude(samples: &[f64], f_hz: f64) -> f64 {
    let sum: Complex64 = samples
        .iter()
        .enumerate()
        .map(|(n, v)| Complex64::from_polar(*v, -std::f64::consts::TAU * f_hz * n as f64 / RATE_HZ))
        .sum();
    2.0 * sum.norm() / samples.len() as f64
}

/// A tone of 400 Hz, long enough that the computer may lose a buffer of it.
const TONE_S: f64 = 6.0;
const TONE: f64 = 0.3;

fn tone_take(fault: Fault) -> Take {
    let samples = (TONE_S * RATE_HZ) as usize;
    let dac: Vec<f64> =
        (0..samples).map(|n| TONE * (std::f64::consts::TAU * 400.0 * n as f64 / RATE_HZ).sin()).collect();
    let request = PracticePlay {
        driver: "twelve".into(),
        fault,
        position: Position::Driver,
        scene: Scene::Jig,
        added_mass_kg: None,
        box_volume_m3: None,
        rate_hz: RATE_HZ,
        seed: 11,
    };
    play_practice(&request, &dac).unwrap()
}

#[test]
fn faults_of_the_input_show_in_the_samples() {
    let level = |t: &Take, c: usize, from: usize| amplitude(&t.channels()[c][from..from + 12_000], 400.0);
    let bench = good_bench(&drivers()[0].driver);
    // What moves an amplitude that stands still: the good bench's hum, whose harmonics are no larger than the fundamental
    // (one lies on 400 Hz), and white noise of the converter and of its last bit, five standard deviations.
    let hum = 10f64.powf(bench.input.hum.expect("a little hum").fundamental_dbfs / 20.0);
    let white = 10f64.powf(bench.input.channels[0].noise_dbfs / 20.0).hypot(1.0 / 32_768.0 / 12f64.sqrt());
    let still = hum + 5.0 * white * (2.0f64 / 12_000.0).sqrt();
    let same = |a: f64, b: f64| (a - b).abs() < 2.0 * still;
    let good = tone_take(Fault::None);
    let (source, driver) = (level(&good, 0, 24_000), level(&good, 1, 24_000));
    assert!(same(driver, level(&good, 1, 120_000)), "{driver}");
    let swapped = tone_take(Fault::SwappedChannels);
    assert!(same(level(&swapped, 0, 24_000), driver) && same(level(&swapped, 1, 24_000), source));
    let mono = tone_take(Fault::MonoInput);
    assert_eq!(mono.channels()[0], mono.channels()[1]);
    assert!(level(&tone_take(Fault::DeadChannel), 1, 24_000) < still);
    assert!(level(&tone_take(Fault::Silent), 0, 24_000) < still);
    let riding = tone_take(Fault::GainRiding);
    // Steered towards −22 dB from the tone's own level (peak over √2), coming up in 3 s or down in 0.4 s: between the
    // windows about 0.63 and 2.63 s the gain moves by that share of the way; half of it is asked for.
    let way_db = (-22.0 - 20.0 * (driver / 2f64.sqrt()).log10()).clamp(-12.0, 12.0);
    let time_s = if way_db < 0.0 { 0.4 } else { 3.0 };
    let moved_db = way_db * ((-0.63f64 / time_s).exp() - (-2.63f64 / time_s).exp());
    let seen_db = 20.0 * (level(&riding, 1, 120_000) / level(&riding, 1, 24_000)).log10();
    assert!(seen_db / moved_db > 0.5, "{seen_db} dB, {moved_db} dB expected");
    let clipped = tone_take(Fault::Clipped);
    let at_rail = clipped.channels()[0].iter().filter(|v| v.abs() > 0.999).count() as f64;
    // A sine of twelve times the level is beyond the rail for 1 − 2/π·asin(1/A) of the time, within one sample at each of
    // the four crossings of 2400 cycles, and the path's delay is missing at the begin.
    let expected = TONE_S * RATE_HZ * (1.0 - (0.999 / (12.0 * source)).asin() * 2.0 / std::f64::consts::PI);
    assert!((at_rail - expected).abs() < 4.0 * 400.0 * TONE_S, "{at_rail} of {expected}");
    let humming = amplitude(&tone_take(Fault::Hum).channels()[1][24_000..72_000], 50.0);
    // Whole cycles of hum and tone: nothing leaks. The fault replaces the good bench's hum.
    assert!(same(humming, 10f64.powf(-32.0 / 20.0)), "{humming}");
    let offset = tone_take(Fault::DirectCurrent);
    let mean = offset.channels()[1][96_000..144_000].iter().sum::<f64>() / 48_000.0;
    assert!((mean - 0.12).abs() < 1.0 / 32_768.0, "{mean}: one step of 16 bit");
    let lost = tone_take(Fault::LostBuffer);
    let zeros = lost.channels()[0].windows(1024).any(|w| w.iter().all(|v| *v == 0.0));
    assert!(zeros && lost.len() == good.len());
    // Nothing between the clips: the input alone loads the resistor. Clips joined: the leads are left.
    let (jig, channels) = (bench.jig, bench.input.channels);
    let gain = 10f64.powf((channels[1].gain_db - channels[0].gain_db) / 20.0);
    let open = tone_take(Fault::OpenCircuit);
    let of = |ohm: f64| gain * ohm / (ohm + jig.series_ohm());
    assert!(same(level(&open, 1, 24_000), of(channels[1].resistance_ohm) * level(&open, 0, 24_000)));
    let short = tone_take(Fault::ShortCircuit);
    assert!(same(level(&short, 1, 24_000), of(jig.lead_ohm) * level(&short, 0, 24_000)));
    // A joint that opens puts 400 Ω into the circuit: the driver's voltage falls to about a tenth, or comes back, within a
    // sample, where the tone moves by ω/f = 5 % of its amplitude at most.
    let largest_jump = |t: &Take| t.channels()[1].windows(2).map(|w| (w[1] - w[0]).abs()).fold(0.0, f64::max);
    let joint = tone_take(Fault::LooseJoint);
    assert!(largest_jump(&joint) > 3.0 * largest_jump(&good));
}

#[test]
fn every_fault_gives_a_take_in_each_check_that_offers_it() {
    for fault in faults() {
        if fault.for_impedance {
            assert!(play(
                &fault.fault.on(good_bench(&drivers()[2].driver)),
                &[0.1; 4800],
                RATE_HZ,
                Position::Driver,
                1
            )
            .is_ok());
        }
        for sensor in [PracticeSensor::Coil, PracticeSensor::Microphone] {
            let request = PracticeKnock {
                driver: "six".into(),
                fault: fault.fault,
                sensor,
                knocks: 2,
                load_ohm: None,
                added_mass_kg: 0.0,
                box_volume_m3: None,
                rate_hz: RATE_HZ,
                seed: 5,
            };
            let take = knock_practice(&request).unwrap();
            assert!(take.len() > 48_000 && take.channel_count() == 1);
        }
    }
}

#[test]
fn impossible_requests_are_named() {
    let good = PracticeKnock {
        driver: "six".into(),
        fault: Fault::None,
        sensor: PracticeSensor::Coil,
        knocks: 2,
        load_ohm: None,
        added_mass_kg: 0.0,
        box_volume_m3: None,
        rate_hz: RATE_HZ,
        seed: 5,
    };
    for bad in [
        PracticeKnock { driver: "seven".into(), ..good.clone() },
        PracticeKnock { load_ohm: Some(-3.0), ..good.clone() },
        PracticeKnock { added_mass_kg: f64::NAN, ..good.clone() },
        PracticeKnock { knocks: 0, ..good.clone() },
        PracticeKnock { rate_hz: 1e12, ..good },
    ] {
        println!("{}", knock_practice(&bad).unwrap_err());
    }
    let nothing = PracticePlay {
        driver: "six".into(),
        fault: Fault::None,
        position: Position::Driver,
        scene: Scene::Jig,
        added_mass_kg: None,
        box_volume_m3: None,
        rate_hz: RATE_HZ,
        seed: 5,
    };
    assert!(play_practice(&nothing, &[]).is_err());
}
