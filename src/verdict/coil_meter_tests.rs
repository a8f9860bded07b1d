//! Values by hand; tolerances are half a unit of the last digit written.
use super::*;
use proptest::prelude::*;

/// 6.50 Ω at 25 °C by a meter of 0.5 % and 0.02 Ω, leads 0.15 Ω.
fn typed() -> CoilEntry {
    CoilEntry {
        shown_ohm: vec![6.5],
        moved_ohm: Vec::new(),
        leads_ohm: Some(0.15),
        meter_percent: 0.5,
        meter_ohm: 0.02,
        temperature_c: Some(25.0),
        to_frame_megohm: None,
        to_frame_over_range: false,
        over_range: false,
        phase: Phase::Returned,
        at_ms: 0.0,
        note: String::new(),
    }
}

fn with(change: impl Fn(&mut CoilEntry)) -> CoilEntry {
    let mut entry = typed();
    change(&mut entry);
    entry
}

fn asked(entry: CoilEntry) -> CoilAnswer {
    judge_coil(&CoilQuestion { entry, fitted: Vec::new(), rated_impedance_ohm: None }).expect("whole")
}

fn close(found: f64, wanted: f64, half_a_digit: f64) {
    assert!((found - wanted).abs() <= half_a_digit, "{found} instead of {wanted}");
}

fn effect(figure: &Figure, source: &str) -> f64 {
    figure.budget.iter().find(|c| c.source == source).map_or(0.0, |c| c.effect)
}

#[test]
fn leads_come_off_and_the_rest_is_brought_to_20_degrees() {
    let r_e = asked(typed()).r_e_ohm.expect("read");
    // 6.35/1.01965 = 6.22763.
    close(r_e.value, 6.22763, 5e-6);
    // 6.22763 × 0.5 %/√3; 0.02/1.01965/√3, once for coil and once for leads; 6.22763 × 0.00393/1.01965 for one kelvin.
    close(effect(&r_e, "meter_accuracy"), 0.017978, 5e-7);
    close(effect(&r_e, "meter_display"), 0.011324, 5e-7);
    close(effect(&r_e, "leads"), 0.011324, 5e-7);
    close(effect(&r_e, "temperature"), 0.024003, 5e-7);
    // √(17.978² + 2 × 11.324² + 24.003²) = 33.998 mΩ; all known well: 1.95996 times.
    close(r_e.standard_uncertainty.expect("stated"), 0.033998, 1e-6);
    close(r_e.half_width_95.expect("stated"), 0.066635, 2e-6);
}

#[test]
fn scatter_of_repeated_readings_has_few_degrees_of_freedom() {
    let r_e = asked(with(|e| {
        e.shown_ohm = vec![6.4, 6.5, 6.6];
        e.temperature_c = Some(20.0);
    }));
    let r_e = r_e.r_e_ohm.expect("read");
    close(r_e.value, 6.35, 1e-12);
    // s = 0.1, over √3.
    close(effect(&r_e, "repeat"), 0.057735, 5e-7);
    // Others: 6.35 × 0.5 %/√3 = 18.331 mΩ, 11.547 mΩ twice, 6.35 × 0.00393 = 24.956 mΩ: √(3333.3 + 336.0 + 266.7 + 622.8) = 67.519 mΩ.
    // Welch and Satterthwaite: 4558.8²/(3333.3²/2) = 3.74 degrees.
    close(r_e.standard_uncertainty.expect("stated"), 0.067519, 1e-6);
    let coverage = r_e.half_width_95.expect("stated") / r_e.standard_uncertainty.expect("stated");
    assert!(2.776 < coverage && coverage < 3.182, "between Student's quantiles for 4 and 3 degrees: {coverage}");
}

#[test]
fn what_was_not_read_widens_the_figure_and_is_said() {
    let bare = asked(with(|e| {
        e.leads_ohm = None;
        e.temperature_c = None;
    }));
    assert_eq!(bare.hints, [CoilHint::LeadsNotRead, CoilHint::NoTemperature, CoilHint::OneReading]);
    let r_e = bare.r_e_ohm.expect("read");
    assert_eq!(r_e.value, 6.5);
    // 0.2/√3 and 6.5 × 0.00393 × 3.
    close(effect(&r_e, "leads"), 0.115470, 5e-7);
    close(effect(&r_e, "temperature"), 0.076635, 5e-7);
}

#[test]
fn open_and_short_are_told_and_give_no_figure_where_none_is_left() {
    let open = asked(with(|e| (e.over_range, e.shown_ohm) = (true, Vec::new())));
    assert_eq!((open.r_e_ohm, open.hints), (None, vec![CoilHint::Open]));
    let short = asked(with(|e| e.shown_ohm = vec![0.15, 0.15]));
    assert_eq!((short.r_e_ohm, short.hints), (None, vec![CoilHint::Short]));
    let nearly = asked(with(|e| e.shown_ohm = vec![0.64, 0.64]));
    assert_eq!(nearly.hints, [CoilHint::Short]);
    assert!(asked(with(|e| e.shown_ohm = vec![0.66, 0.66])).hints.is_empty());
}

#[test]
fn wandering_and_moving_are_told_apart() {
    let hints = |still: &[f64], moved: &[f64]| {
        asked(with(|e| (e.shown_ohm, e.moved_ohm) = (still.to_vec(), moved.to_vec()))).hints
    };
    // Two last digits of 0.02 Ω.
    assert!(hints(&[6.50, 6.54], &[6.51]).is_empty());
    assert_eq!(hints(&[6.50, 6.55], &[6.52]), [CoilHint::Wandering]);
    assert_eq!(hints(&[6.50, 6.51], &[6.51, 6.56]), [CoilHint::LooseJoint]);
    assert_eq!(hints(&[6.50, 6.60], &[6.51, 7.20]), [CoilHint::Wandering, CoilHint::LooseJoint]);
    // A coil that wanders by itself says nothing of its joint.
    assert_eq!(hints(&[6.50, 6.60], &[6.52, 6.58]), [CoilHint::Wandering]);
}

#[test]
fn coil_to_frame_by_ten_megohms() {
    let said = |megohm: Option<f64>, over: bool| {
        asked(with(|e| (e.to_frame_megohm, e.to_frame_over_range) = (megohm, over))).to_frame
    };
    assert_eq!([said(Some(20.0), true), said(Some(12.0), false)], [Verdict::Pass; 2]);
    assert_eq!(said(Some(2.0), false), Verdict::Fail);
    // A meter that ends at 2 MΩ, none noted, near the limit, not read.
    let unproven = [said(Some(2.0), true), said(None, true), said(Some(9.5), false), said(None, false)];
    assert_eq!(unproven, [Verdict::NotProven; 4]);
}

fn fitted(value: f64, u: f64, temperature_c: Option<f64>) -> FittedRe {
    let mut budget = Budget::new(value);
    budget.add("noise", u, false, f64::INFINITY);
    FittedRe { reading: "a".to_owned(), r_e_ohm: Figure::from_budget(budget, 1.96), temperature_c }
}

#[test]
fn a_fit_agrees_differs_or_cannot_tell() {
    let beside = |fit: FittedRe| {
        let question = CoilQuestion { entry: typed(), fitted: vec![fit], rated_impedance_ohm: None };
        judge_coil(&question).expect("whole").against_fit[0].clone()
    };
    // 6.22763 ± 0.06664 beside ± 0.0392: ± 0.0773.
    let near = beside(fitted(6.20, 0.02, None));
    close(near.half_width_95.expect("both stated"), 0.0773, 5e-5);
    assert_eq!(near.agreement, Agreement::Agrees);
    assert_eq!(beside(fitted(6.14, 0.02, None)).agreement, Agreement::Differs);
    assert_eq!(beside(fitted(6.20, 0.2, None)).agreement, Agreement::CannotTell);
    let bare = FittedRe { r_e_ohm: Figure::without_uncertainty(6.2, "typed"), ..fitted(6.2, 0.1, None) };
    assert_eq!(beside(bare).agreement, Agreement::CannotTell);
    // Warm from a long take: 6.473 Ω at 30 °C are 6.473/1.0393 = 6.22823 at 20 °C.
    let warm = beside(fitted(6.473, 0.02, Some(30.0)));
    close(warm.r_e_ohm.value, 6.22823, 5e-6);
    assert_eq!(warm.agreement, Agreement::Agrees);
    assert_eq!(beside(fitted(6.473, 0.02, None)).agreement, Agreement::Differs);
}

#[test]
fn a_noted_temperature_takes_the_place_of_the_assumed_one() {
    let mut budget = Budget::new(6.0);
    budget.add("noise", 0.03, false, f64::INFINITY).add("temperature", 6.0 * 0.00393 * 3.0, true, f64::INFINITY);
    let figure = Figure::from_budget(budget, 1.96);
    let cooler = fitted_at_20_c(&figure, Some(20.0));
    close(effect(&cooler, "temperature"), 0.02358, 5e-6);
    // √(0.03² + 0.02358²) = 0.038157.
    close(cooler.standard_uncertainty.expect("stated"), 0.038157, 1e-6);
    assert_eq!(fitted_at_20_c(&figure, None), figure);
}

#[test]
fn against_the_rated_impedance_it_is_a_hint() {
    let said = |rated: f64| {
        let question = CoilQuestion { entry: typed(), fitted: Vec::new(), rated_impedance_ohm: Some(rated) };
        judge_coil(&question).expect("whole").against_rated.expect("rated")
    };
    // 6.228 of 8 is 0.778; of 6, 1.04; of 6.9, 0.9026 ± 0.0097.
    close(said(8.0).share, 0.7785, 5e-5);
    let agreements = [8.0, 6.0, 6.9].map(|rated| said(rated).agreement);
    assert_eq!(agreements, [Agreement::Agrees, Agreement::Differs, Agreement::CannotTell]);
}

#[test]
fn each_fault_names_its_field() {
    let field = |change: fn(&mut CoilEntry)| {
        let question = CoilQuestion { entry: with(change), fitted: Vec::new(), rated_impedance_ohm: None };
        judge_coil(&question).expect_err("must be refused").field
    };
    assert_eq!(field(|e| e.shown_ohm.clear()), "entry.shown_ohm");
    assert_eq!(field(|e| e.shown_ohm = vec![6.0, f64::NAN]), "entry.shown_ohm");
    assert_eq!(field(|e| e.moved_ohm = vec![-1.0]), "entry.moved_ohm");
    assert_eq!(field(|e| e.leads_ohm = Some(11.0)), "entry.leads_ohm");
    assert_eq!(field(|e| e.meter_percent = f64::INFINITY), "entry.meter_percent");
    assert_eq!(field(|e| e.meter_ohm = 0.0), "entry.meter_ohm");
    assert_eq!(field(|e| e.temperature_c = Some(-40.0)), "entry.temperature_c");
    assert_eq!(field(|e| e.to_frame_megohm = Some(-1.0)), "entry.to_frame_megohm");
}

proptest! {
    // A meter off by less than its limits, leads and a thermometer off by less than theirs: the figure, widened to the
    // limits (√3 standard uncertainties of each source, put together straight), always holds the true resistance.
    #[test]
    fn the_limits_hold_the_truth(
        truth in 1.0_f64..50.0, leads in 0.0_f64..1.0, celsius in 0.0_f64..60.0,
        gain in -1.0_f64..1.0, digits in -1.0_f64..1.0, lead_digits in -1.0_f64..1.0, kelvin in -1.0_f64..1.0,
    ) {
        let warm = truth * (1.0 + 0.00393 * (celsius - 20.0));
        let shown = |ohm: f64, digits: f64| (ohm * (1.0 + 0.01 * gain) + 0.02 * digits).max(0.0);
        let entry = with(|e| {
            e.shown_ohm = vec![shown(warm + leads, digits)];
            e.leads_ohm = Some(shown(leads, lead_digits));
            e.meter_percent = 1.0;
            e.temperature_c = Some(celsius + 3f64.sqrt() * kelvin);
        });
        let r_e = asked(entry).r_e_ohm.expect("read");
        let limits: f64 = r_e.budget.iter().map(|c| c.effect.abs()).sum::<f64>() * 3f64.sqrt();
        // The gain's own square (1 % of 1 %) and that of the temperature (0.7 % of 0.7 %) are not in a straight budget.
        prop_assert!((r_e.value - truth).abs() <= limits + 4e-4 * truth, "{} {truth} {limits}", r_e.value);
    }
}
