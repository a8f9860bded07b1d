//! The simulator's linear limit against the network evaluated at single frequencies.
//!
//! Source: the same parts by complex arithmetic (`sim::truth`), which shares only the values of the parts with the
//! time-domain run: no state, no matrix, no filter.
use conewright::math::fft::real_forward;
use conewright::sim::bench::PracticeBench;
use conewright::sim::driver::{Driver, Loaded};
use conewright::sim::jig::Position;
use conewright::sim::practice::{drivers, good_bench};
use conewright::sim::stream::Stream;
use conewright::sim::truth::impedance_ohm;

const RATE_HZ: f64 = 48_000.0;

/// Frequencies on lines of a one-second period, from below resonance to 20 kHz.
const LINES: [usize; 18] = [10, 17, 23, 26, 31, 40, 53, 97, 151, 199, 330, 507, 1003, 2011, 5003, 9973, 14_983, 19_997];

fn linear_bench(driver: &Driver) -> PracticeBench {
    good_bench(&driver.linear())
}

/// Ratio driver/source on the lines, from the clips (no input), after `settle` periods.
fn ratios(bench: &PracticeBench, position: Position, factor: usize, settle: usize) -> Vec<(f64, f64, f64)> {
    let n = RATE_HZ as usize;
    let signal: Vec<f64> = (0..n)
        .map(|t| {
            LINES
                .iter()
                .enumerate()
                .map(|(k, l)| 0.05 * (std::f64::consts::TAU * ((l * t) % n) as f64 / n as f64 + (k * k) as f64).sin())
                .sum()
        })
        .collect();
    let mut stream = Stream::with_oversampling(bench, position, RATE_HZ, 1, factor);
    let (mut source, mut driver) = (Vec::new(), Vec::new());
    for period in 0..=settle {
        for sample in &signal {
            let v = stream.push_volts(*sample);
            if period == settle {
                source.push(v[0]);
                driver.push(v[1]);
            }
        }
    }
    let (s, d) = (real_forward(&source), real_forward(&driver));
    LINES.iter().map(|l| (*l as f64, (d[*l] / s[*l]).re, (d[*l] / s[*l]).im)).collect()
}

#[test]
fn impedance_in_the_time_domain_is_that_of_the_network() {
    for part in drivers() {
        let bench = linear_bench(&part.driver);
        let input_ohm = bench.input.channels[1].resistance_ohm;
        for (f, re, im) in ratios(&bench, Position::Driver, 4, 6) {
            let h = conewright::math::fft::Complex64::new(re, im);
            // The divider the other way round: what hangs at D is (leads + driver) parallel to the input.
            let at_d = bench.jig.series_ohm() * h / (1.0 - h);
            let z = at_d * input_ohm / (input_ohm - at_d) - bench.jig.lead_ohm;
            let wanted = impedance_ohm(&Loaded::from(&bench.driver), f);
            let error = (z - wanted).norm() / wanted.norm();
            println!("{} {f:8.0} Hz {:10.4} Ω  error {error:.2e}", part.id, wanted.norm());
            assert!(error < 1e-5, "{} at {f} Hz: {error:e}", part.id);
        }
    }
}
