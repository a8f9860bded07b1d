//! What the page plays: the description of a test signal. Rendering stands beside it.

use serde::{Deserialize, Serialize};

/// Shape of a test signal.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Shape {
    /// Repeated synchronized exponential sweep, one sweep a period.
    Sweep,
    /// Sum of sines: dense around resonance, even lines and mains multiples left empty.
    Multisine,
    /// The same in two halves with a coded mark before, between and after, for takes that are compared with others.
    MarkedMultisine,
    /// One sine of `low_hz`.
    Tone,
    /// One raised cosine of one cycle of `low_hz` a period, to one side of nought only.
    Pulse,
    /// Nothing is played (a noise take).
    Silence,
}

/// A test signal, fully described; the same description gives the same samples for ever.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(deny_unknown_fields)]
pub struct Stimulus {
    /// Shape.
    pub shape: Shape,
    /// Samples a second.
    pub rate_hz: f64,
    /// Length of a period: 1, 2 or 4 s (whole cycles of 50 and 60 Hz).
    pub period_s: f64,
    /// Periods played, the settling one included (of a marked signal both halves together, each with a settling one).
    pub periods: u32,
    /// Lowest frequency (the tone's own for a tone).
    pub low_hz: f64,
    /// Highest frequency.
    pub high_hz: f64,
    /// Peak level against full scale, 0 or below.
    pub peak_dbfs: f64,
    /// Seed for the phases of a multisine.
    pub seed: u32,
    /// Shapes a multisine so that a cone behind a resistor travels as it did without: resonance in Hz, its Q without and
    /// with the resistor. `peak_dbfs` is that of the signal before it was shaped.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "typescript", ts(optional = nullable))]
    pub travel_shape: Option<[f64; 3]>,
}

/// Factor of a line of a shaped signal. Far below where the coil's inductance counts a cone moves as 1/(1 − x² + jx/Q), x
/// being frequency over resonance (circuit theory); resistance in series raises Q, and the ratio of two of these takes it
/// back.
pub fn travel_factor([at_hz, q_without, q_with]: [f64; 3], hz: f64) -> f64 {
    let x = hz / at_hz;
    (1.0 - x * x).hypot(x / q_with) / (1.0 - x * x).hypot(x / q_without)
}
