//! The mathematics against certified and published values; the source stands beside each check.

mod support;

use conewright::math::budget::{covariance, propagate, root_rows, sensitivities, Source};
use conewright::math::least_squares::{solve, Factors, Solution};
use conewright::math::levenberg_marquardt::{fit, Options, Problem};
use conewright::math::matrix::Matrix;
use conewright::math::quantiles::{chi_square, f, student_t};
use conewright::math::windows::Window;
use conewright::signal::sweep::Sweep;
use support::{assert_close, numbers, rows, Tolerance};

/// A model with its derivatives: (x, parameters) to (value, derivatives).
type Model = fn(f64, &[f64]) -> (f64, Vec<f64>);

struct Regression {
    model: Model,
    data: Vec<Vec<f64>>,
}

impl Problem for Regression {
    fn residuals(&self, p: &[f64], out: &mut Vec<f64>) -> bool {
        out.extend(self.data.iter().map(|row| (self.model)(row[1], p).0 - row[0]));
        true
    }

    fn jacobian(&self, p: &[f64], out: &mut Matrix) {
        for (i, row) in self.data.iter().enumerate() {
            out.row_mut(i).copy_from_slice(&(self.model)(row[1], p).1);
        }
    }
}

fn saturation(x: f64, b: &[f64]) -> (f64, Vec<f64>) {
    let e = (-b[1] * x).exp();
    (b[0] * (1.0 - e), vec![1.0 - e, b[0] * x * e])
}

fn rational(x: f64, b: &[f64]) -> (f64, Vec<f64>) {
    let (over, under) = (x * x + b[1] * x, x * x + b[2] * x + b[3]);
    let d = -b[0] * over / (under * under);
    (b[0] * over / under, vec![over / under, b[0] * x / under, d * x, d])
}

fn peak(x: f64, b: &[f64]) -> (f64, Vec<f64>) {
    let z = (x - b[2]) / b[1];
    let e = (-0.5 * z * z).exp() / b[1];
    (b[0] * e, vec![e, b[0] * e * (z * z - 1.0) / b[1], b[0] * e * z / b[1]])
}

fn sigmoid(x: f64, b: &[f64]) -> (f64, Vec<f64>) {
    let e = (b[1] - b[2] * x).exp();
    let d = b[0] * e / (1.0 + e).powi(2);
    (b[0] / (1.0 + e), vec![1.0 / (1.0 + e), -d, d * x])
}

/// NIST/ITL Statistical Reference Datasets: certified values, standard deviations and residual sum, from both starts.
fn certified(name: &str, model: Model, data: &str, certificate: &str) {
    let table = rows(certificate);
    let parameters: Vec<Vec<f64>> = table[1..]
        .iter()
        .filter(|row| row[0].starts_with('b'))
        .map(|row| row[1..].iter().map(|v| v.parse().expect("a number")).collect())
        .collect();
    let sum: f64 = table.iter().find(|row| row[0] == "RSS").expect("a residual sum")[1].parse().expect("a number");
    let problem = Regression { model, data: numbers(data) };
    for start in 0..2 {
        let from: Vec<f64> = parameters.iter().map(|p| p[start]).collect();
        let report = fit(&problem, &from, &Options::default());
        let what = format!("{name} from start {}", start + 1);
        assert!(report.stop.converged(), "{what}: {:?} after {} iterations", report.stop, report.iterations);
        let root = (report.degrees_of_freedom as f64).sqrt();
        let off = |p: &[f64]| Tolerance::Printed(11).allowed(p[2]) + 1e-10 * root * p[3];
        let follows = changes_of_deviations(&problem, &parameters, off);
        for (j, p) in parameters.iter().enumerate() {
            let (value, deviation) = (p[2], p[3]);
            // Eleven digits are certified; the stop rule leaves 1e-10·√dof standard deviations.
            let allowed = Tolerance::Absolute(off(p));
            assert_close(&format!("{what}, b{}", j + 1), report.parameters[j], value, allowed);
            let allowed = Tolerance::Printed(11).allowed(deviation) + follows[j];
            let found = report.standard_errors[j];
            assert_close(&format!("{what}, deviation of b{}", j + 1), found, deviation, Tolerance::Absolute(allowed));
        }
        // At a minimum the residual sum does not move to first order.
        assert_close(&format!("{what}, residual sum"), report.residual_sum_of_squares, sum, Tolerance::Printed(11));
    }
}

/// By how much each standard deviation moves where every parameter is `off` by as much as it may: the sum of its
/// derivatives (differences of a thousandth of a deviation at the certified values) times that, without regard to sign.
fn changes_of_deviations(problem: &Regression, certified: &[Vec<f64>], off: impl Fn(&[f64]) -> f64) -> Vec<f64> {
    let deviations = |p: &[f64]| -> Vec<f64> {
        let (mut residuals, mut jacobian) = (Vec::new(), Matrix::zeros(problem.data.len(), p.len()));
        problem.residuals(p, &mut residuals);
        problem.jacobian(p, &mut jacobian);
        let variance = residuals.iter().map(|r| r * r).sum::<f64>() / (residuals.len() - p.len()) as f64;
        let unscaled = Factors::new(&jacobian).covariance();
        (0..p.len()).map(|j| (variance * unscaled[(j, j)]).sqrt()).collect()
    };
    let values: Vec<f64> = certified.iter().map(|p| p[2]).collect();
    let steps: Vec<f64> = certified.iter().map(|p| 1e-3 * p[3]).collect();
    let slopes = sensitivities(&values, &steps, deviations);
    let moved = |j: usize| certified.iter().enumerate().map(|(k, p)| slopes[(j, k)].abs() * off(p)).sum();
    (0..values.len()).map(moved).collect()
}

macro_rules! certified {
    ($test:ident, $file:literal, $model:expr) => {
        #[test]
        fn $test() {
            let data = include_str!(concat!("golden/math/", $file, "_data.csv"));
            let certificate = include_str!(concat!("golden/math/", $file, "_certified.csv"));
            certified($file, $model, data, certificate);
        }
    };
}

certified!(nist_misra1a, "misra1a", saturation);
certified!(nist_boxbod, "boxbod", saturation);
certified!(nist_mgh09, "mgh09", rational);
certified!(nist_eckerle4, "eckerle4", peak);
certified!(nist_rat42, "rat42", sigmoid);

/// Forward error of unknown j: Householder QR solves a problem whose right side is off by m·n·ε|b| (Higham, Accuracy and
/// Stability of Numerical Algorithms, on QR; from memory); row j of the pseudo-inverse, of length √(AᵀA)⁻¹_jj, carries it.
fn rounding(solution: &Solution, b: &[f64], j: usize) -> f64 {
    let length = b.iter().map(|v| v * v).sum::<f64>().sqrt();
    let products = (b.len() * solution.x.len()) as f64;
    products * f64::EPSILON * length * solution.covariance_unscaled[(j, j)].sqrt()
}

#[test]
fn nist_longley() {
    let data = numbers(include_str!("golden/math/longley_data.csv"));
    let y: Vec<f64> = data.iter().map(|row| row[0]).collect();
    let a: Vec<Vec<f64>> = data.iter().map(|row| [&[1.0], &row[1..]].concat()).collect();
    let s = solve(&Matrix::from_rows(&a), &y).expect("solvable");
    assert_eq!((s.rank, s.degrees_of_freedom), (7, 9));
    let table = rows(include_str!("golden/math/longley_certified.csv"));
    for (j, row) in table[1..8].iter().enumerate() {
        let (value, deviation): (f64, f64) = (row[1].parse().expect("a number"), row[2].parse().expect("a number"));
        assert_close(&row[0], s.x[j], value, Tolerance::Absolute(rounding(&s, &y, j)));
        // The deviation is a root of (AᵀA)⁻¹: m·n·ε times the condition of the scaled columns, 4.3e4 (Belsley; from memory).
        assert_close(&row[0], s.standard_errors()[j], deviation, Tolerance::Relative(112.0 * 4.3e4 * f64::EPSILON));
    }
    // The residual is b − Ax, with sums of seven products of up to 4e6: ε·7·4e6 = 6e-9 each, against deviations of 300.
    assert_close("residual sum", s.residual_sum_of_squares, 836_424.055505915, Tolerance::Relative(1e-10));
}

#[test]
fn nist_wampler1() {
    // NIST StRD, linear regression, Wampler1: y = 1 + x + ... + x⁵ exactly, x = 0 to 20; all coefficients 1.
    let power = |x: i32, k: i32| f64::from(x).powi(k);
    let a: Vec<Vec<f64>> = (0..=20).map(|x| (0..6).map(|k| power(x, k)).collect()).collect();
    let y: Vec<f64> = a.iter().map(|row| row.iter().sum()).collect();
    let s = solve(&Matrix::from_rows(&a), &y).expect("solvable");
    for j in 0..6 {
        assert_close(&format!("B{j}"), s.x[j], 1.0, Tolerance::Absolute(rounding(&s, &y, j)));
    }
    let length = y.iter().map(|v| v * v).sum::<f64>().sqrt();
    assert!(s.residual_sum_of_squares.sqrt() <= 21.0 * 6.0 * f64::EPSILON * length);
}

#[test]
fn gum_h2_resistance_and_reactance_measured_together() {
    // JCGM 100:2008, H.2: R = V/I cos φ, X = V/I sin φ, Z = V/I from five simultaneous readings; inputs correlated.
    // Expected values recomputed in full digits; the GUM prints 127.732 (0.071), 219.847 (0.295), 254.260 (0.236),
    // −0.588, −0.485, 0.993.
    let data: Vec<Vec<f64>> =
        numbers(include_str!("golden/math/gum_h2_data.csv")).into_iter().map(|row| row[1..].to_vec()).collect();
    let n = data.len() as f64;
    let mean: Vec<f64> = (0..3).map(|j| data.iter().map(|row| row[j]).sum::<f64>() / n).collect();
    let mut spread = Matrix::zeros(3, 3);
    for row in &data {
        for i in 0..3 {
            for j in 0..3 {
                spread[(i, j)] += (row[i] - mean[i]) * (row[j] - mean[j]) / (n * (n - 1.0));
            }
        }
    }
    let sources = [Source::new("readings", false, root_rows(&spread), n - 1.0)];
    let u: Vec<f64> = (0..3).map(|j| spread[(j, j)].sqrt()).collect();
    let results = |x: &[f64]| {
        let z = x[0] / x[1];
        vec![z * x[2].cos(), z * x[2].sin(), z]
    };
    let values = results(&mean);
    let exact = {
        let (v, i, phi) = (mean[0], mean[1], mean[2]);
        let (c, s) = (phi.cos(), phi.sin());
        Matrix::from_rows(&[
            [c / i, -v * c / (i * i), -v / i * s],
            [s / i, -v * s / (i * i), v / i * c],
            [1.0 / i, -v / (i * i), 0.0],
        ])
    };
    // Symmetric differences of a step h miss a derivative by h²/6 of the third one: V enters straight, 1/I is off by
    // (u/I)², cosine and sine of φ by u²/6 of themselves (I: 2.3e-7, the largest).
    let numeric = sensitivities(&mean, &u, results);
    for (jacobian, part) in [(exact, 0.0), (numeric, (u[1] / mean[1]).powi(2).max(u[2] * u[2] / 6.0))] {
        let (budgets, out) = (propagate(&values, &jacobian, &sources), covariance(&jacobian, &sources));
        // What that does to a covariance whose terms J C J partly cancel: twice the part of all terms without sign.
        let terms = |i: usize, k: usize| -> f64 {
            let all = (0..9).map(|t| (jacobian[(i, t / 3)] * spread[(t / 3, t % 3)] * jacobian[(k, t % 3)]).abs());
            2.0 * part * all.sum::<f64>()
        };
        for (j, (value, expected)) in
            [(127.7322, 0.0710714), (219.8465, 0.295582), (254.2597, 0.236336)].into_iter().enumerate()
        {
            assert_close("value", budgets[j].value, value, Tolerance::Printed(7));
            let allowed = Tolerance::Printed(6).allowed(expected) + 0.5 * terms(j, j) / expected;
            assert_close("uncertainty", budgets[j].standard_uncertainty(), expected, Tolerance::Absolute(allowed));
            assert_close("from five readings", budgets[j].degrees_of_freedom(), 4.0, Tolerance::Platform);
        }
        let r = out.correlations();
        for ((i, k), expected) in [((0, 1), -0.588430f64), ((0, 2), -0.485259), ((1, 2), 0.992512)] {
            let (uu, ui, uk) = ((out[(i, i)] * out[(k, k)]).sqrt(), out[(i, i)], out[(k, k)]);
            let off = terms(i, k) / uu + 0.5 * expected.abs() * (terms(i, i) / ui + terms(k, k) / uk);
            let allowed = Tolerance::Printed(6).allowed(expected) + off;
            assert_close("correlation", r[(i, k)], expected, Tolerance::Absolute(allowed));
        }
    }
}

#[test]
fn quantiles_of_t_chi_square_and_f() {
    // NIST/SEMATECH e-Handbook of Statistical Methods, tables of critical values; NIST TN 1297, Table B.1 (95.45 %).
    let t = [(1.0, 12.7062), (2.0, 4.30265), (5.0, 2.57058), (10.0, 2.22814), (30.0, 2.04227), (100.0, 1.98397)];
    for (dof, expected) in t {
        assert_close("t 0.975", student_t(0.975, dof), expected, Tolerance::Printed(6));
    }
    // TN 1297 rounds the probability to 95.45 %.
    for (dof, expected) in [(5.0, 2.64865), (10.0, 2.28368)] {
        assert_close("t, 95.45 % two-sided", student_t(0.5 + 0.5 * 0.9545, dof), expected, Tolerance::Printed(6));
    }
    for (dof, expected) in [(1.0, 3.84146), (5.0, 11.0705), (10.0, 18.3070), (20.0, 31.4104)] {
        assert_close("chi-square 0.95", chi_square(0.95, dof), expected, Tolerance::Printed(6));
    }
    assert_close("F 0.95 (5, 10)", f(0.95, 5.0, 10.0), 3.32583, Tolerance::Printed(6));
    assert_close("F 0.95 (1, 20)", f(0.95, 1.0, 20.0), 4.35124, Tolerance::Printed(6));
}

#[test]
fn figures_of_windows() {
    let windows = [
        ("rect", Window::Rectangle),
        ("hann", Window::Hann),
        ("hamming", Window::Hamming),
        ("blackman-harris-4", Window::BlackmanHarris4),
        ("flattop-scipy", Window::FlatTop),
        ("flattop-iso18431", Window::FlatTopIso),
    ];
    for row in &rows(include_str!("golden/math/windows.csv"))[1..] {
        let (name, window) = windows.iter().find(|(name, _)| *name == row[0]).expect("a known window");
        let expected: Vec<f64> = row[1..].iter().map(|v| v.parse().expect("a number")).collect();
        assert_close(name, window.coherent_gain(), expected[0], Tolerance::Absolute(0.5e-8 * 1.000_001));
        assert_close(name, window.noise_bandwidth_lines(), expected[1], Tolerance::Absolute(0.5e-6 * 1.000_001));
        let decibel = |v: f64| 20.0 * v.abs().log10();
        assert_close(name, -decibel(window.response(0.5)), expected[2], Tolerance::Absolute(0.5e-6 * 1.000_001));
        // Beyond the first null (as many lines away as there are terms); steps of 1/1000 line miss a lobe's top by 1e-5 dB.
        let first = window.coefficients().len() * 1000;
        let lobe =
            (first..40_000).map(|i| decibel(window.response(i as f64 / 1000.0))).fold(f64::NEG_INFINITY, f64::max);
        assert_close(name, lobe, expected[3], Tolerance::Absolute(0.5e-3 + 1e-5));
    }
}

#[test]
fn leads_and_lengths_of_sweeps() {
    // Farina, AES 108th Convention, 2000: harmonic n leads by L ln n, L = T/ln(f2/f1); 10 s, 20 Hz to 20 kHz.
    let sweep = Sweep { low_hz: 20.0, high_hz: 20_000.0, length_s: 10.0 };
    assert_close("L", sweep.time_constant_s(), 1.447648, Tolerance::Printed(7));
    for (order, lead) in [(2, 1.003433), (3, 1.590404), (5, 2.329900)] {
        assert_close("lead", sweep.harmonic_lead_s(order), lead, Tolerance::Printed(7));
    }
    // Novák, Simon, Kadlec, Lotton, IEEE TIM 2010: f1·L rounded to an integer.
    let synchronized = Sweep::starting_at_zero(20.0, 20_000.0, 10.0);
    assert_close("L", synchronized.time_constant_s(), 1.45, Tolerance::Absolute(1e-12));
    assert_close("T", synchronized.length_s, 10.01625, Tolerance::Printed(7));
}
