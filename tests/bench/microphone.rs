//! Impedance by microphone: what room, level, length and resistor make of it, and what the forecast says beforehand.

use super::impedance_bench::practice_driver;
use super::mic_bench::Scene;
use super::trials::true_value;
use conewright::driver::mic_impedance_check::{analyse, MicImpedanceSetup};
use conewright::signal::notice::Code;
use conewright::signal::reading::Reading;
use conewright::sim::driver::Loaded;
use conewright::sim::truth::truth;

/// Room noise (1/f) and rumble in dB, peak level in dB below full scale (4 V), period in s, series resistor in Ω.
const ROWS: [(f64, f64, f64, f64, f64); 10] = [
    (38.0, 30.0, -12.0, 1.0, 8.2),
    (50.0, 30.0, -12.0, 1.0, 8.2),
    (60.0, 30.0, -12.0, 1.0, 8.2),
    (70.0, 30.0, -12.0, 1.0, 8.2),
    (38.0, 70.0, -12.0, 1.0, 8.2),
    (38.0, 85.0, -12.0, 1.0, 8.2),
    (60.0, 30.0, -24.0, 1.0, 8.2),
    (60.0, 30.0, -12.0, 2.0, 8.2),
    (60.0, 30.0, -12.0, 1.0, 3.3),
    (60.0, 30.0, -12.0, 1.0, 22.0),
];

/// Drivers of each row, and the part by which the resistor is off what is printed on it.
const TRIALS: [(&str, f64); 3] = [("twelve", 0.003), ("six", -0.004), ("six", 0.002)];
/// Resistance of the amplifier's output in Ω, found on the way.
const OUTPUT_OHM: f64 = 0.4;

pub fn tables() {
    println!("\nImpedance by microphone, 12-inch and two 6-inch drivers, resistor to 0.4 %, output of 0.4 Ω found: worst errors in %");
    println!("(f_s, Q_ms, Q_ts, R_e), and the most that noise alone was forecast to leave in a 12-inch driver (f_s, Q_ts, 95 %)");
    println!("  noise rumble  level period  resistor      f_s    Q_ms    Q_ts     R_e    forecast f_s, Q_ts");
    for (i, (noise, rumble, level, period, ohm)) in ROWS.into_iter().enumerate() {
        let (mut worst, mut refused, mut told) = ([0.0f64; 4], Vec::new(), String::new());
        for (k, (id, off)) in TRIALS.into_iter().enumerate() {
            let mut scene = Scene::quiet(&practice_driver(id));
            (scene.microphone.room_noise_db_spl, scene.microphone.rumble_db_spl) = (noise, rumble);
            (scene.peak_dbfs, scene.period_s, scene.series_ohm) = (level, period, ohm);
            (scene.bench.jig.output_ohm, scene.bench.jig.series_resistor_relative_error) = (OUTPUT_OHM, off);
            let setup = MicImpedanceSetup { output_resistance_ohm: None, ..scene.setup() };
            let seed = 100 * i as u64 + 20 * k as u64;
            let mut takes = scene.takes(&setup, seed);
            takes.insert(1, scene.loaded(ohm, seed + 11));
            if k == 0 {
                let pair = [scene.silence(seed + 7), takes[0].clone()];
                told = forecast(&analyse(&setup, &pair).expect("a usable setup"));
            }
            match errors(&analyse(&setup, &takes).expect("a usable setup"), &scene) {
                Ok(errors) => worst.iter_mut().zip(errors).for_each(|(w, e)| *w = w.max(e.abs())),
                Err(code) => refused.push(format!("{id}: {code:?}")),
            }
        }
        let [f_s, q_ms, q_ts, r_e] = worst;
        let shown = if refused.len() == TRIALS.len() {
            "all refused                     ".to_owned()
        } else {
            format!("{f_s:>8.3}{q_ms:>8.2}{q_ts:>8.2}{r_e:>8.2}")
        };
        println!("  {noise:>5}{rumble:>7}{level:>7}{period:>7}{ohm:>10}  {shown}{told}  {}", refused.join(", "));
    }
}

fn errors(reading: &Reading, scene: &Scene) -> Result<[f64; 4], Code> {
    let t = truth(&Loaded::from(&scene.bench.driver));
    if let Some(refusal) = &reading.refusal {
        return Err(refusal.code);
    }
    let percent = |name: &str| 100.0 * (reading.values[name].value / true_value(&t, name) - 1.0);
    Ok(["f_s_hz", "q_ms", "q_ts", "r_e_ohm"].map(percent))
}

/// The row of the forecast nearest to the driver's resonance of 26 Hz.
fn forecast(told: &Reading) -> String {
    let curve = &told.curves["forecast"];
    let Some(at) = curve["f_s_hz"].iter().position(|f| *f == 25.0) else { return "    nothing".to_owned() };
    let hopeless = if told.refusal.is_some() { "  refused" } else { "" };
    format!("    {:>8.3}{:>8.2}{hopeless}", 2.0 * curve["f_s_percent"][at], 2.0 * curve["q_ts_percent"][at])
}
