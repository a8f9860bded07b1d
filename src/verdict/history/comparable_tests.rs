use super::*;
use crate::math::budget::Budget;

fn figure(value: f64, own: f64) -> Figure {
    let mut budget = Budget::new(value);
    budget.add("noise", value * own, false, f64::INFINITY);
    budget.add("series_resistor", value * 0.005, true, f64::INFINITY);
    budget.add("temperature", value * 0.0118, true, f64::INFINITY);
    Figure::from_budget(budget, 1.96)
}

fn reading(f_s_hz: f64, r_e_ohm: f64) -> HistoryReading {
    let values = [("f_s_hz", f_s_hz), ("r_e_ohm", r_e_ohm)];
    HistoryReading {
        check: "impedance".to_owned(),
        sensor: None,
        values: values.into_iter().map(|(n, v)| (n.to_owned(), figure(v, 0.001))).collect(),
        temperature_c: Some(20.0),
        level_v: Some(0.1),
        rest_min: Some(60.0),
        attitude: Some(HistoryAttitude::FaceUp),
    }
}

fn of(earlier: &HistoryReading, later: &HistoryReading, name: &str) -> FigureHistory {
    let setup = HistorySetup { earlier: earlier.clone(), later: later.clone(), same_jig: true, limits: None };
    compare(&setup).figures.into_iter().find(|f| f.name == name).expect("a figure of both")
}

fn codes(f: &FigureHistory) -> Vec<ObstacleCode> {
    f.obstacles.iter().map(|o| o.code).collect()
}

#[test]
fn like_conditions_are_compared_and_copper_is_brought_to_20_degrees() {
    let (then, mut now) = (reading(40.0, 6.0), reading(36.0, 6.0 * 1.0393));
    now.temperature_c = Some(25.0);
    let f_s = of(&then, &now, "f_s_hz");
    assert_eq!((f_s.comparability, f_s.changed), (Comparability::Comparable, Some(true)));
    assert!((f_s.percent.unwrap() + 10.0).abs() < 1e-9);
    // 3.93 % of copper, 5 K of it by warmth: 1.0393/1.01965 = 1.9271 % are left, against 1 K at each thermometer:
    // 1.96 √(2 · (0.393 %)² + 2 · (0.1 %)²), at a ratio of 1.0193.
    let r_e = of(&then, &now, "r_e_ohm");
    assert_eq!(r_e.comparability, Comparability::Corrected);
    assert!((r_e.percent.unwrap() - 1.9271).abs() < 1e-3, "{r_e:?}");
    let half = 1.019271 * 1.96 * (2.0f64 * (0.393f64.powi(2) + 0.1f64.powi(2))).sqrt();
    assert!((r_e.half_width_95_percent.unwrap() - half).abs() < 1e-2, "{r_e:?}, {half}");
}

#[test]
fn each_condition_alone_forbids_what_the_suspension_has_a_part_in() {
    let then = reading(40.0, 6.0);
    type Change = fn(&mut HistoryReading);
    let changed: [(ObstacleCode, Change); 5] = [
        (ObstacleCode::OtherLevel, |r| r.level_v = Some(0.21)),
        (ObstacleCode::OtherTemperature, |r| r.temperature_c = Some(14.0)),
        (ObstacleCode::NotRested, |r| r.rest_min = Some(10.0)),
        (ObstacleCode::OtherAttitude, |r| r.attitude = Some(HistoryAttitude::FaceDown)),
        (ObstacleCode::OtherCheck, |r| r.check = "impedance_one_channel".to_owned()),
    ];
    for (code, change) in changed {
        let mut now = reading(40.0, 6.0);
        change(&mut now);
        let f_s = of(&then, &now, "f_s_hz");
        assert_eq!((f_s.comparability, codes(&f_s), f_s.percent), (Comparability::NotComparable, vec![code], None));
        assert_eq!(
            of(&then, &now, "r_e_ohm").comparability,
            Comparability::Corrected,
            "copper does not care: {code:?}"
        );
    }
}

#[test]
fn the_sag_of_a_soft_cone_is_told() {
    // 2 g/(2π · 20 Hz)² = 1.24 mm.
    let (then, mut now) = (reading(20.0, 6.0), reading(20.0, 6.0));
    now.attitude = Some(HistoryAttitude::FaceDown);
    let f_s = of(&then, &now, "f_s_hz");
    assert!((f_s.obstacles[0].numbers["sag_mm"] - 1.24).abs() < 0.005, "{f_s:?}");
}

#[test]
fn what_is_not_known_is_said_and_the_difference_given_with_reserve() {
    let then = reading(40.0, 6.0);
    let mut now = reading(40.0, 6.0);
    (now.temperature_c, now.level_v, now.rest_min, now.attitude) = (None, None, None, None);
    let f_s = of(&then, &now, "f_s_hz");
    assert_eq!((f_s.comparability, f_s.obstacles.len(), f_s.changed), (Comparability::IfAlike, 4, Some(false)));
    let r_e = of(&then, &now, "r_e_ohm");
    assert_eq!((r_e.comparability, codes(&r_e)), (Comparability::IfAlike, vec![ObstacleCode::TemperatureUnknown]));
    // One part on two days: 3 K of either day do not cancel, √2 · 1.18 % · 1.96.
    assert!((r_e.half_width_95_percent.unwrap() - 3.28).abs() < 0.03, "{r_e:?}");
    // A ring has no volts; the other three stay open.
    let mut ring = [then, now].map(|r| HistoryReading { check: "knock".to_owned(), ..r });
    ring[1].level_v = None;
    assert_eq!(of(&ring[0], &ring[1], "f_s_hz").obstacles.len(), 3);
}

#[test]
fn a_figure_without_uncertainty_is_not_compared() {
    let (then, mut now) = (reading(40.0, 6.0), reading(40.0, 6.0));
    now.values.insert("f_s_hz".to_owned(), Figure::without_uncertainty(40.0, "typed"));
    assert_eq!(codes(&of(&then, &now, "f_s_hz")), [ObstacleCode::NoUncertainty]);
}
