//! The known box, as every road asks for it: inner volume, the driver's own volume, diameter, air; and what is too small.

use super::build::{litre_field, metre_field, ohm_field};
use super::step::Field;
use crate::driver::mounted::assumed_displacement_m3;
use crate::signal::wording::three_digits;

/// Boxes that any driver meets; beyond them it is a slip of the pen.
pub(super) const BOX_M3: (f64, f64) = (0.0005, 1.0);
pub(super) const DISPLACEMENT_M3: (f64, f64) = (0.00005, 0.03);
pub(super) const DIAMETER_M: (f64, f64) = (0.015, 0.6);

/// The question, and its note: another one where the last answer could not be.
pub(super) fn question(again: bool) -> (&'static str, &'static str) {
    let note = match again {
        false => "Closed, empty and stiff. Its air stiffens the suspension, and that tells V_as.",
        true => "Half a litre to a cubic metre, please, and more than the driver itself takes.",
    };
    ("How large is the box inside?", note)
}

/// What is asked; the diameter only where it is not known yet.
pub(super) fn fields(diameter_known: bool) -> Vec<Field> {
    let help = "Inner measures, without the driver. About the driver's V_as or less serves best.";
    let mut fields = vec![litre_field("box_volume_m3", "Inner volume of the box", BOX_M3, help)];
    if !diameter_known {
        fields.push(diameter_field());
    }
    let help = "Magnet, frame and cone as far as they stand inside. Left empty, it is assumed from the diameter.";
    let label = "The driver's own volume in the box";
    fields.push(optional(litre_field("driver_displacement_m3", label, DISPLACEMENT_M3, help)));
    fields.extend(air_fields());
    fields
}

/// The effective diameter, which may stay empty.
pub(super) fn diameter_field() -> Field {
    let help =
        "The cone and half the surround: from middle to middle of the roll. Wanted for S_d and what hangs on it.";
    optional(metre_field("effective_diameter_m", "Effective diameter", DIAMETER_M, help))
}

/// Temperature and pressure of the air, which may stay empty.
pub(super) fn air_fields() -> [Field; 2] {
    let field = |id: &str, label: &str, (unit, scale): (&str, f64), range: (f64, f64), help: &str| Field {
        unit: unit.to_owned(),
        scale,
        ..optional(ohm_field(id, label, range, None, help))
    };
    let pressure = "1013 hPa where left empty. Up to 500 m it falls by about 12 hPa every 100 m of height.";
    [
        field("air_temperature_c", "Temperature of the air", ("°C", 1.0), (-10.0, 45.0), "20 °C where left empty."),
        field("air_pressure_pa", "Pressure of the air here", ("hPa", 100.0), (6e4, 1.08e5), pressure),
    ]
}

fn optional(field: Field) -> Field {
    Field { optional: true, ..field }
}

/// Whether a box of this inner volume can be, and holds the driver.
pub(super) fn fits(volume_m3: f64, own_m3: Option<f64>, diameter_m: Option<f64>) -> bool {
    let own_m3 = own_m3.or_else(|| diameter_m.map(assumed_displacement_m3)).unwrap_or(0.0);
    (BOX_M3.0..=BOX_M3.1).contains(&volume_m3) && volume_m3 > own_m3
}

/// A volume in litres with a no-break space.
pub(super) fn litre_words(volume_m3: f64) -> String {
    format!("{}\u{a0}l", three_digits(1000.0 * volume_m3))
}

/// How a driver is closed in.
pub(super) const CLOSED: &str =
    "Nothing inside, no vent, rim and cable hole sealed with putty or tape. A slow push on the cone must come back slowly.";
