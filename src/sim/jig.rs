//! The jig: source, series resistor, leads and the two clips of the stereo input.
//!
//! source e — R_o — node S (channel 1) — R — node D (channel 2) — leads — driver. The inputs load S and D.
use serde::{Deserialize, Serialize};

/// What is clipped where.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS), ts(tag = "kind"))]
#[serde(rename_all = "snake_case")]
pub enum Position {
    /// Channel 1 at the source side of the resistor, channel 2 at the driver.
    Driver,
    /// Both inputs on the source side, driver connected.
    SameNode,
    /// A known resistor in the driver's place.
    KnownResistor {
        /// Its true value in Ω.
        resistor_ohm: f64,
    },
    /// The leads joined at their far end.
    Short,
    /// Nothing connected at the far end.
    Open,
}

/// The jig as it truly is.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Jig {
    /// What is printed on the series resistor, in Ω.
    pub series_resistor_nominal_ohm: f64,
    /// Its true value relative to that, minus one.
    pub series_resistor_relative_error: f64,
    /// Resistance of both leads and clips between node D and the terminals in Ω.
    pub lead_ohm: f64,
    /// Output resistance of the source in Ω.
    pub output_ohm: f64,
    /// Peak voltage of the source at digital full scale in V.
    pub source_full_scale_v: f64,
}

/// What a driver at node D sees, and what the inputs read: linear in source voltage and coil current.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ports {
    /// Open voltage at node D for 1 V of source.
    pub open_gain: f64,
    /// Resistance of everything behind node D in Ω, leads excluded.
    pub behind_ohm: f64,
    /// Channel 1 for 1 V of source, and for 1 A drawn at D (in Ω).
    pub channel_1: [f64; 2],
    /// Channel 2 for 1 V of source, and for 1 A drawn at D (in Ω).
    pub channel_2: [f64; 2],
}

impl Jig {
    /// True series resistance in Ω.
    pub fn series_ohm(&self) -> f64 {
        self.series_resistor_nominal_ohm * (1.0 + self.series_resistor_relative_error)
    }

    /// The same with a resistor across the output: a source of its open voltage behind both in parallel (Thévenin).
    #[must_use]
    pub fn loaded(self, across_ohm: f64) -> Jig {
        let part = across_ohm / (across_ohm + self.output_ohm);
        Jig { source_full_scale_v: part * self.source_full_scale_v, output_ohm: part * self.output_ohm, ..self }
    }

    /// Solves the two nodes for the inputs' resistances.
    pub fn ports(&self, position: Position, input_ohm: [f64; 2]) -> Ports {
        let same_node = position == Position::SameNode;
        let g_o = 1.0 / self.output_ohm.max(1e-6);
        let g_r = 1.0 / self.series_ohm();
        let (load_s, load_d) = match same_node {
            true => (1.0 / input_ohm[0] + 1.0 / input_ohm[1], 0.0),
            false => (1.0 / input_ohm[0], 1.0 / input_ohm[1]),
        };
        // Node equations: (g_o + g_s + g_r) V_S − g_r V_D = g_o e;  −g_r V_S + (g_r + g_d) V_D = −i.
        let (a, d) = (g_o + load_s + g_r, g_r + load_d);
        let determinant = a * d - g_r * g_r;
        let at_s = [g_o * d / determinant, -g_r / determinant];
        let at_d = [g_o * g_r / determinant, -a / determinant];
        Ports {
            open_gain: at_d[0],
            behind_ohm: -at_d[1],
            channel_1: at_s,
            channel_2: if same_node { at_s } else { at_d },
        }
    }
}

impl Ports {
    /// Voltages at the two inputs.
    pub fn read_v(&self, source_v: f64, current_a: f64) -> [f64; 2] {
        [
            self.channel_1[0] * source_v + self.channel_1[1] * current_a,
            self.channel_2[0] * source_v + self.channel_2[1] * current_a,
        ]
    }
}
