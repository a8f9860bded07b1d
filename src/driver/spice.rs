//! The fitted circuit as a SPICE subcircuit: R_e, voice coil, and the moving part as R, L and C side by side.
//!
//! Moving part (circuit theory, Small 1972): R = R_es, C = Q_ms/(2πf_s R_es), L = R_es/(2πf_s Q_ms). With creep the
//! compliance is no inductance any more: its impedance R_es jx/(Q_ms κ) becomes a chain of sections R ‖ L, and R carries
//! only the viscous share 1 − Q_ms η of the loss. K(jω)^n becomes a chain as well (`electrical::ladder`). The file states
//! how far the written network departs from the fitted circuit over the measured band, computed from the network itself.

use super::coil::Coil;
use super::equivalent_circuit::Circuit;
use crate::electrical::ladder::{follow, Ladder};
use crate::electrical::plain_text::{identifier, one_line};
use crate::math::fft::Complex64;
use std::f64::consts::TAU;
use std::fmt::Write;
use thiserror::Error;

/// Sections of a chain.
const SECTIONS: usize = 16;
/// A departure above this is said to be large.
const LARGE_DEPARTURE: f64 = 1e-3;
/// Frequencies a decade at which the departure is computed, and beside them every one within a hundredth of f_s.
const A_DECADE: f64 = 200.0;

/// A figure of the reading: name in SI, value, half-width of its 95 % interval (not a number where it has none).
#[derive(Clone, Debug, PartialEq)]
pub struct NamedFigure {
    /// As in a reading.
    pub name: String,
    /// In SI.
    pub value: f64,
    /// In SI.
    pub half_width_95: f64,
}

/// Why no subcircuit can be written.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum SpiceError {
    /// A figure that the circuit needs is missing or no positive number.
    #[error("the reading has no usable {0}")]
    Figure(&'static str),
    /// The band is empty.
    #[error("the reading covers no band")]
    Band,
}

/// The circuit that a reading's figures describe; the names of the coil's figures tell its model.
pub fn circuit_of(figures: &[NamedFigure]) -> Result<Circuit, SpiceError> {
    let find = |name: &str| figures.iter().find(|f| f.name == name).map(|f| f.value);
    let need = |name: &'static str| match find(name) {
        Some(value) if value.is_finite() && value > 0.0 => Ok(value),
        _ => Err(SpiceError::Figure(name)),
    };
    let coil = if find("k_ohm_s_n").is_some() {
        Coil::SemiInductance { k_ohm_s_n: need("k_ohm_s_n")?, n: need("n")? }
    } else if find("l_2_h").is_some() {
        Coil::TwoInductances { l_e_h: need("l_e_h")?, l_2_h: need("l_2_h")?, r_2_ohm: need("r_2_ohm")? }
    } else {
        Coil::Inductance { l_e_h: need("l_e_h")? }
    };
    Ok(Circuit {
        f_s_hz: need("f_s_hz")?,
        q_ms: need("q_ms")?,
        q_es: need("q_es")?,
        r_e_ohm: need("r_e_ohm")?,
        coil,
        creep: find("creep"),
    })
}

/// The netlist. `remarks` stand at its head; `band_hz` is what was measured.
pub fn subcircuit(
    part: &str,
    remarks: &[String],
    figures: &[NamedFigure],
    band_hz: (f64, f64),
) -> Result<String, SpiceError> {
    let circuit = circuit_of(figures)?;
    let network = Network::of(&circuit, band_hz).ok_or(SpiceError::Band)?;
    let name = identifier(part, "driver");
    let mut out = Netlist::default();
    out.remark(part);
    out.remark("electrical impedance at small signals, free air, between the terminals plus and minus");
    remarks.iter().for_each(|r| out.remark(r));
    for f in figures {
        let spread =
            if f.half_width_95.is_finite() { format!(" +- {:.3e} (95 %)", f.half_width_95) } else { String::new() };
        out.remark(&format!("{} {:.6e}{spread}", f.name, f.value));
    }
    network.departure(&circuit, band_hz).remarks(band_hz).iter().for_each(|r| out.remark(r));
    out.line(&format!(".subckt {name} plus minus"));
    network.write(&mut out);
    out.line(&format!(".ends {name}"));
    Ok(out.text)
}

/// What is written: every value as it goes into the file.
struct Network {
    r_e_ohm: f64,
    coil: Inductive,
    /// Viscous loss; none where creep is all of it.
    r_ohm: Option<f64>,
    c_f: f64,
    compliance: Inductive,
}

enum Inductive {
    Plain(f64),
    Bridged { l_h: f64, l_2_h: f64, r_2_ohm: f64 },
    Chain(Ladder),
}

impl Network {
    fn of(circuit: &Circuit, (low_hz, high_hz): (f64, f64)) -> Option<Network> {
        if !(low_hz > 0.0 && high_hz > low_hz && high_hz.is_finite()) {
            return None;
        }
        let chain = |z: &dyn Fn(f64) -> Complex64| follow(z, low_hz, high_hz, SECTIONS).map(Inductive::Chain);
        let coil = match circuit.coil {
            Coil::Inductance { l_e_h } => Inductive::Plain(l_e_h),
            Coil::TwoInductances { l_e_h, l_2_h, r_2_ohm } => Inductive::Bridged { l_h: l_e_h, l_2_h, r_2_ohm },
            Coil::SemiInductance { .. } => chain(&|w| circuit.coil.impedance(w))?,
        };
        let (r_es, w_s) = (circuit.r_es_ohm(), TAU * circuit.f_s_hz);
        let viscous = 1.0 - circuit.creep_share_of_loss();
        let compliance = match circuit.creep {
            None => Inductive::Plain(r_es / (w_s * circuit.q_ms)),
            Some(_) => chain(&|w| circuit.compliance_ohm(w / TAU))?,
        };
        Some(Network {
            r_e_ohm: circuit.r_e_ohm,
            coil,
            r_ohm: (viscous > 0.0).then(|| r_es / viscous),
            c_f: circuit.q_ms / (w_s * r_es),
            compliance,
        })
    }

    fn impedance(&self, hz: f64) -> Complex64 {
        let omega = TAU * hz;
        let loss = self.r_ohm.map_or(0.0, f64::recip);
        let moving = Complex64::new(loss, omega * self.c_f) + self.compliance.impedance(omega).inv();
        self.coil.impedance(omega) + self.r_e_ohm + moving.inv()
    }

    fn departure(&self, circuit: &Circuit, (low_hz, high_hz): (f64, f64)) -> Departure {
        let steps = ((high_hz / low_hz).log10() * A_DECADE).ceil().max(1.0);
        let even = (0..=steps as usize).map(|i| low_hz * (high_hz / low_hz).powf(i as f64 / steps));
        let near = (-100..=100).map(|i| circuit.f_s_hz * (1.0 + f64::from(i) * 1e-3));
        let one = |hz: f64| {
            let z = circuit.impedance(hz);
            (((self.impedance(hz) - z) / z).norm(), hz)
        };
        let inside = |hz: &f64| (low_hz..=high_hz).contains(hz);
        let worst = even.chain(near).filter(inside).map(one).fold((0.0, low_hz), |a, b| if b.0 > a.0 { b } else { a });
        let chains = [("voice coil", &self.coil), ("suspension", &self.compliance)];
        let chains = chains.into_iter().filter_map(|(name, part)| part.chain().map(|l| (name, l.sections.len())));
        Departure { relative: worst.0, at_hz: worst.1, chains: chains.collect() }
    }

    fn write(&self, out: &mut Netlist) {
        out.part('r', "e", "plus", "n1", self.r_e_ohm);
        self.coil.write(out, "coil", "n1", "n2");
        if let Some(r_ohm) = self.r_ohm {
            out.part('r', "es", "n2", "minus", r_ohm);
        }
        out.part('c', "es", "n2", "minus", self.c_f);
        self.compliance.write(out, "es", "n2", "minus");
    }
}

impl Inductive {
    fn chain(&self) -> Option<&Ladder> {
        match self {
            Inductive::Chain(ladder) => Some(ladder),
            _ => None,
        }
    }

    fn impedance(&self, omega: f64) -> Complex64 {
        match *self {
            Inductive::Plain(l_e_h) => Coil::Inductance { l_e_h }.impedance(omega),
            Inductive::Bridged { l_h, l_2_h, r_2_ohm } => {
                Coil::TwoInductances { l_e_h: l_h, l_2_h, r_2_ohm }.impedance(omega)
            }
            Inductive::Chain(ref ladder) => ladder.impedance(omega),
        }
    }

    fn write(&self, out: &mut Netlist, name: &str, from: &str, to: &str) {
        match self {
            Inductive::Plain(l_h) => out.part('l', name, from, to, *l_h),
            Inductive::Bridged { l_h, l_2_h, r_2_ohm } => {
                let middle = format!("{name}1");
                out.part('l', name, from, &middle, *l_h);
                out.part('l', &format!("{name}2"), &middle, to, *l_2_h);
                out.part('r', &format!("{name}2"), &middle, to, *r_2_ohm);
            }
            Inductive::Chain(ladder) => {
                let nodes = ladder.sections.len() + usize::from(ladder.plain_l_h > 0.0);
                let node = |i: usize| match i {
                    0 => from.to_owned(),
                    i if i == nodes => to.to_owned(),
                    i => format!("{name}{i}"),
                };
                for (i, section) in ladder.sections.iter().enumerate() {
                    let step = format!("{name}{}", i + 1);
                    out.part('r', &step, &node(i), &node(i + 1), section.r_ohm);
                    out.part('l', &step, &node(i), &node(i + 1), section.l_h);
                }
                if ladder.plain_l_h > 0.0 {
                    out.part('l', &format!("{name}{nodes}"), &node(nodes - 1), to, ladder.plain_l_h);
                }
            }
        }
    }
}

/// How far the network is from the fitted circuit.
struct Departure {
    relative: f64,
    at_hz: f64,
    /// What has become a chain, with the number of its sections.
    chains: Vec<(&'static str, usize)>,
}

impl Departure {
    fn remarks(&self, (low_hz, high_hz): (f64, f64)) -> Vec<String> {
        let band = format!("from {low_hz:.1} Hz to {high_hz:.0} Hz");
        if self.chains.is_empty() {
            return vec![format!("exactly the fitted circuit (rounding apart), fitted {band}")];
        }
        let mut out: Vec<String> = self
            .chains
            .iter()
            .map(|(what, sections)| format!("the {what} is approximated by {sections} sections of R and L"))
            .collect();
        // Rounded up, so that the statement holds as it is printed.
        let (percent, at) = ((1e6 * self.relative).ceil() / 1e4, self.at_hz);
        out.push(format!("largest departure from the fitted circuit {percent:.4} % of |Z|, at {at:.1} Hz, {band}"));
        out.push("outside that band this network says nothing".to_owned());
        if self.relative > LARGE_DEPARTURE {
            out.push("CAUTION: that departure is large beside the uncertainty of a careful measurement".to_owned());
        }
        out
    }
}

#[derive(Default)]
struct Netlist {
    text: String,
}

impl Netlist {
    fn line(&mut self, text: &str) {
        self.text.push_str(text);
        self.text.push('\n');
    }

    fn remark(&mut self, text: &str) {
        self.line(&format!("* {}", one_line(text)));
    }

    /// Twelve digits: rounding stays far below every stated departure.
    fn part(&mut self, kind: char, name: &str, from: &str, to: &str, value: f64) {
        // Writing to a string cannot fail.
        let _ = writeln!(self.text, "{kind}{name} {from} {to} {value:.11e}");
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn figures(coil: &[(&str, f64)], creep: Option<f64>) -> Vec<NamedFigure> {
        let body = [("f_s_hz", 31.0), ("q_ms", 5.2), ("q_es", 0.36), ("r_e_ohm", 5.6)];
        let all = body.iter().chain(coil).copied().chain(creep.map(|c| ("creep", c)));
        all.map(|(name, value)| NamedFigure { name: name.to_owned(), value, half_width_95: 0.01 * value }).collect()
    }

    const LOSSY: [(&str, f64); 2] = [("k_ohm_s_n", 0.0115), ("n", 0.72)];

    /// R_es = 5.6 · 5.2/0.36, C = Q/(ωR), L = R/(ωQ): circuit theory, worked by hand.
    #[test]
    fn the_moving_part_is_r_l_c_side_by_side() {
        let text = subcircuit("Six", &[], &figures(&[("l_e_h", 0.7e-3)], None), (10.0, 20e3)).unwrap();
        let body: Vec<&str> = text.lines().filter(|l| !l.starts_with('*')).collect();
        assert_eq!(body.first(), Some(&".subckt six plus minus"));
        assert_eq!(body.last(), Some(&".ends six"));
        for part in
            ["re plus n1 5.6", "lcoil n1 n2 7", "res n2 minus 8.0888", "ces n2 minus 3.3004", "les n2 minus 7.9862"]
        {
            assert!(body.iter().any(|l| l.starts_with(part)), "{part} in {text}");
        }
        assert!(text.contains("exactly the fitted circuit"));
    }

    #[test]
    fn the_lossy_coil_and_creep_state_their_departure() {
        for creep in [None, Some(0.08)] {
            let text = subcircuit("Six", &[], &figures(&LOSSY, creep), (10.0, 20e3)).unwrap();
            let stated = text.split("fitted circuit ").nth(1).and_then(|t| t.split(' ').next()).unwrap();
            let percent: f64 = stated.parse().unwrap();
            assert!(percent < 0.05, "{percent} %");
            assert!(!text.contains("CAUTION") && text.contains("says nothing"));
            assert_eq!(text.contains("the suspension is approximated"), creep.is_some());
        }
    }

    /// All friction in the creep: no resistor is left, and none of a negative value is written.
    #[test]
    fn creep_that_is_all_of_the_loss_leaves_no_resistor() {
        let share = |c: f64| circuit_of(&figures(&LOSSY, Some(c))).unwrap().creep_share_of_loss();
        let over = 1.05 / share(1.0);
        let text = subcircuit("Six", &[], &figures(&LOSSY, Some(over)), (10.0, 20e3)).unwrap();
        assert!(!text.lines().any(|l| l.starts_with("res ")) && text.contains("CAUTION"));
    }

    #[test]
    fn what_cannot_be_written_names_the_figure() {
        let mut short = figures(&LOSSY, None);
        short.retain(|f| f.name != "n");
        assert_eq!(subcircuit("Six", &[], &short, (10.0, 20e3)), Err(SpiceError::Figure("n")));
        assert_eq!(subcircuit("Six", &[], &figures(&LOSSY, None), (10.0, 10.0)), Err(SpiceError::Band));
    }
}
