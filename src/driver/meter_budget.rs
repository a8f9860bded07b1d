//! Where the uncertainty of figures by meter comes from: each source as a change of the fit's parameters for one standard
//! uncertainty (JCGM 100:2008, 5.1), from the rows of the fit itself.

use super::impedance_budget::of_the_moment;
use super::meter_fit::{display_uncertainty, Known, MeterFit, PRIOR_FREEDOM};
use super::meter_setup::MeterSetup;
use crate::electrical::meter_reading::MeterReading;
use crate::math::budget::Source;

/// Everything that makes the figures uncertain.
pub(super) fn sources(setup: &MeterSetup, found: &MeterFit) -> Vec<Source> {
    let count = setup.readings.len();
    let scaled = |factor: &dyn Fn(usize) -> f64| -> Vec<Vec<f64>> {
        (0..count).map(|i| found.change(i).iter().map(|c| c * factor(i)).collect()).collect()
    };
    let display = scaled(&|i| display_uncertainty(setup, &setup.readings[i]) / found.scale[i]);
    let accuracy = scaled(&|i| found.relative_error * 2f64.sqrt() / found.scale[i]);
    let freedom = found.freedom.max(0.0) + PRIOR_FREEDOM;
    let mut sources = vec![
        Source::new("meter_display", false, display, f64::INFINITY),
        Source::new("meter_accuracy", false, accuracy, freedom),
        Source::new("meter_ranges", true, range_changes(setup, found), f64::INFINITY),
    ];
    let rows = count..found.slopes.rows();
    for (known, row) in Known::ALL.into_iter().zip(rows) {
        let (name, common) = match known {
            Known::Resistor => ("series_resistor", true),
            Known::Exponent | Known::CoilShare => ("coil_model", false),
            Known::Creep => ("suspension_model", false),
            Known::Ohms => ("ohms_reading", false),
        };
        match sources.iter_mut().find(|s| s.name == name) {
            Some(source) => source.changes.push(found.change(row)),
            None => sources.push(Source::new(name, common, vec![found.change(row)], f64::INFINITY)),
        }
    }
    let mut frequency = vec![0.0; found.covariance.rows()];
    // A clock that is off scales every frequency: f_s follows, and the coil keeps its modulus at the pivot nearly.
    frequency[0] = setup.frequency_uncertainty();
    sources.push(Source::new("frequency", true, vec![frequency], f64::INFINITY));
    sources.extend(of_the_moment(found.covariance.rows()));
    // The shift of the resistor is no parameter of the circuit; what it does to the others stands in them.
    let own = found.circuit.model().parameter_count();
    sources.iter_mut().flat_map(|s| &mut s.changes).for_each(|change| change.truncate(own));
    sources.retain(|s| s.changes.iter().flatten().any(|c| *c != 0.0));
    sources
}

/// No meter has more ranges above its finest.
const RANGES: i32 = 7;

/// Two ranges have gains of their own, which do not cancel where one voltage was read in each: one change a range.
fn range_changes(setup: &MeterSetup, found: &MeterFit) -> Vec<Vec<f64>> {
    let meter = &setup.accuracy;
    let ranges = |r: &MeterReading| (meter.range_of(r.driver_v), meter.range_of(r.other_v()));
    let change_by = |range: i32| {
        let mut change = vec![0.0; found.covariance.rows()];
        for (i, reading) in setup.readings.iter().enumerate() {
            let (driver, other) = ranges(reading);
            let sign = f64::from(i32::from(driver == range) - i32::from(other == range));
            let size = sign * meter.relative_uncertainty() / found.scale[i];
            change.iter_mut().zip(found.change(i)).for_each(|(c, by)| *c += size * by);
        }
        change
    };
    (0..=RANGES).map(change_by).collect()
}
