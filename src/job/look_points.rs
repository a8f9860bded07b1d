//! Which points of a part are looked at, in the order in which a hand goes round it; common practice, no source.

use super::record::PartKind;

/// The points of a kind of part, by name.
pub fn points_of(kind: PartKind) -> &'static [&'static str] {
    match kind {
        PartKind::Driver => {
            &["glue_line", "surround_seating", "dust_cap", "gasket", "lead_outs", "straight_push", "terminals", "frame"]
        }
        PartKind::Cabinet => {
            &["joints", "veneer", "baffle_seating", "port", "wadding", "wiring", "terminals", "grille"]
        }
        PartKind::Control => &["shaft", "stops", "track", "housing", "terminals", "mounting"],
        PartKind::Crossover => &["board", "capacitors", "coils", "resistors", "solder_joints", "wiring", "terminals"],
        PartKind::Loudspeaker => {
            &["drivers_seated", "seals", "controls_work", "wiring", "terminals", "finish", "grille"]
        }
    }
}
