//! Impedance by microphone: what room, level, length and resistor make of it, and what the forecast says beforehand.

use super::impedance_bench::practice_driver;
use super::mic_bench::Scene;
use super::trials::true_value;
use conewright::driver::mic_impedance_check::analyse;
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

pub fn tables() {
    println!("\nImpedance by microphone, 12-inch driver: errors in % (f_s, Q_ts, R_e), and what noise alone was forecast to leave (f_s, Q_ts)");
    println!("  noise rumble  level period  resistor      f_s    Q_ts     R_e    forecast f_s, Q_ts");
    for (i, (noise, rumble, level, period, ohm)) in ROWS.into_iter().enumerate() {
        let driver = practice_driver("twelve");
        let mut scene = Scene::quiet(&driver);
        (scene.microphone.room_noise_db_spl, scene.microphone.rumble_db_spl) = (noise, rumble);
        (scene.peak_dbfs, scene.period_s, scene.series_ohm) = (level, period, ohm);
        let setup = scene.setup();
        let takes = scene.takes(&setup, 100 * i as u64);
        let reading = analyse(&setup, &takes).expect("a usable setup");
        let told = analyse(&setup, &[scene.silence(7), takes[0].clone()]).expect("a usable setup");
        println!(
            "  {noise:>5}{rumble:>7}{level:>7}{period:>7}{ohm:>10}  {}{}",
            errors(&reading, &scene),
            forecast(&told)
        );
    }
}

fn errors(reading: &Reading, scene: &Scene) -> String {
    let t = truth(&Loaded::from(&scene.bench.driver));
    if let Some(refusal) = &reading.refusal {
        return format!("refused: {:?}      ", refusal.code);
    }
    let percent = |name: &str| 100.0 * (reading.values[name].value / true_value(&t, name) - 1.0);
    format!("{:>8.3}{:>8.2}{:>8.2}", percent("f_s_hz"), percent("q_ts"), percent("r_e_ohm"))
}

/// The row of the forecast nearest to this driver's resonance of 26 Hz.
fn forecast(told: &Reading) -> String {
    let curve = &told.curves["forecast"];
    let Some(at) = curve["f_s_hz"].iter().position(|f| *f == 25.0) else { return "    nothing".to_owned() };
    let hopeless = if told.refusal.is_some() { "  refused" } else { "" };
    format!("    {:>8.3}{:>8.2}{hopeless}", curve["f_s_percent"][at], curve["q_ts_percent"][at])
}
