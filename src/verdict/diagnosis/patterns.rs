//! What each fault does to the causes, at each severity, and how freely it may depart from that.

use super::answer::{DiagnosisAction, FaultPattern, WhoseFault};
use super::evidence::{Causes, Healthy, COIL, LOSS, MASS, MOTOR, R_E, STIFFNESS};

/// A severity to be tried.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Trial {
    /// Change of the cause as a logarithmic ratio; of shorted turns their part of all.
    pub severity: f64,
    /// What it does to the causes.
    pub causes: Causes,
    /// By how much that is uncertain, one standard deviation.
    pub loose: Causes,
}

/// A hypothesis: a pattern and whose fault it is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Hypothesis {
    pub pattern: FaultPattern,
    pub whose: WhoseFault,
    /// −1 where the reference shows it.
    sign: f64,
}

/// Severities that are tried, from just above what the spread hides to what nobody would have to measure.
const STEPS: usize = 60;

/// Every hypothesis that a comparison with this kind of reference allows. What both can be, too stiff here or too soft
/// there, is one hypothesis.
pub(super) fn hypotheses(partner: bool, reference_can_be_faulty: bool) -> Vec<Hypothesis> {
    let both = if partner { WhoseFault::Either } else { WhoseFault::Part };
    let mut out = Vec::new();
    for pattern in super::answer::BY_FIGURES {
        let two_sided = matches!(pattern, FaultPattern::LossChanged | FaultPattern::OtherWire);
        let mirrored = matches!(pattern, FaultPattern::SuspensionStiff | FaultPattern::SuspensionSoft);
        let whose = if two_sided || mirrored { both } else { WhoseFault::Part };
        out.push(Hypothesis { pattern, whose, sign: 1.0 });
        if two_sided {
            out.push(Hypothesis { pattern, whose, sign: -1.0 });
        } else if !mirrored && reference_can_be_faulty {
            out.push(Hypothesis { pattern, whose: WhoseFault::Reference, sign: -1.0 });
        }
    }
    out
}

impl Hypothesis {
    /// The part shows the pattern.
    pub(super) fn of_part(pattern: FaultPattern) -> Hypothesis {
        Hypothesis { pattern, whose: WhoseFault::Part, sign: 1.0 }
    }

    pub(super) fn trials(&self, healthy: Healthy) -> Vec<Trial> {
        let (least, most) = range(self.pattern);
        let step = (most / least).powf(1.0 / (STEPS - 1) as f64);
        (0..STEPS).map(|i| self.trial(least * step.powi(i as i32), healthy)).collect()
    }

    pub(super) fn trial(&self, size: f64, healthy: Healthy) -> Trial {
        let mut trial = trial(self.pattern, size, healthy);
        trial.causes = trial.causes.map(|c| self.sign * c);
        // A fault of the reference is as large as the same fault of the part.
        if self.whose != WhoseFault::Reference {
            trial.severity *= self.sign;
        }
        trial
    }
}

/// Least and greatest severity, as logarithmic ratio; of shorted turns as part of all.
fn range(pattern: FaultPattern) -> (f64, f64) {
    match pattern {
        FaultPattern::SuspensionStiff | FaultPattern::SuspensionSoft => (0.08, 1.2),
        FaultPattern::AddedMass => (0.05, 0.9),
        FaultPattern::WeakMotor => (0.04, 0.9),
        FaultPattern::ShortedTurns => (0.004, 0.25),
        FaultPattern::OtherWire => (0.03, 0.9),
        _ => (0.2, 1.8),
    }
}

fn trial(pattern: FaultPattern, size: f64, healthy: Healthy) -> Trial {
    let (mut causes, mut loose) = ([0.0; 6], [0.0; 6]);
    match pattern {
        FaultPattern::SuspensionStiff | FaultPattern::SuspensionSoft => {
            let k = if pattern == FaultPattern::SuspensionStiff { size } else { -size };
            // A stiffer roll of the same material loses a little more; another one may lose anything.
            (causes[STIFFNESS], causes[LOSS], loose[LOSS]) = (k, 0.1 * k, 0.25 * size);
        }
        FaultPattern::AddedMass => (causes[MASS], loose[LOSS]) = (size, 0.2 * size),
        FaultPattern::WeakMotor => causes[MOTOR] = -size,
        FaultPattern::ShortedTurns => shorted(size, healthy, &mut causes, &mut loose),
        FaultPattern::OtherWire => {
            // Thinner wire in as many turns moves R_e alone; other turns in the same space move Bl by half of it and the
            // coil's own impedance by all of it.
            (causes[R_E], loose[MOTOR], loose[COIL]) = (size, 0.25 * size, 0.5 * size);
        }
        _ => causes[LOSS] = size,
    }
    let falls = matches!(pattern, FaultPattern::SuspensionSoft | FaultPattern::WeakMotor);
    Trial { severity: if falls { -size } else { size }, causes, loose }
}

/// A part x of the turns, closed upon itself: a winding with ratio x and resistance x R_e beside the rest. It brakes the
/// motion by (Bl x)²/(x R_e), and loads the coil's own impedance in the same way.
fn shorted(x: f64, healthy: Healthy, causes: &mut Causes, loose: &mut Causes) {
    let rest = 1.0 - x;
    (causes[R_E], causes[MOTOR], causes[LOSS]) = (rest.ln(), rest.ln(), (x * healthy.peak).ln_1p());
    let (re, im) = healthy.coil();
    // z rest²/(1 + x z), added to the rest of R_e.
    let (below_re, below_im) = (1.0 + x * re, x * im);
    let below = below_re.powi(2) + below_im.powi(2);
    let coil_re = rest * rest * (re * below_re + im * below_im) / below;
    let coil_im = rest * rest * (im * below_re - re * below_im) / below;
    let now = (rest + coil_re).hypot(coil_im);
    causes[COIL] = (now / healthy.upper).ln() - healthy.upper_by_r_e() * rest.ln();
    (loose[LOSS], loose[COIL]) = (0.1 * causes[LOSS], 0.3 * causes[COIL].abs());
}

/// What simulated cases of a pattern were mistaken for, or not told from, in more than 1 of 50; `tests/diagnosis.rs` holds
/// the cases against it.
pub fn confused_with(pattern: FaultPattern) -> &'static [FaultPattern] {
    use FaultPattern::*;
    match pattern {
        SuspensionStiff | SuspensionSoft | WeakMotor => &[AddedMass],
        AddedMass => &[SuspensionSoft, WeakMotor],
        ShortedTurns => &[LossChanged, OtherWire, WeakMotor, Rub],
        Rub => &[LossChanged, ShortedTurns],
        LossChanged => &[Rub, ShortedTurns],
        OtherWire => &[ShortedTurns],
        LooseLead | OpenCircuit | ShortCircuit => &[],
    }
}

/// What to do about a pattern that was found.
pub(super) fn next(pattern: FaultPattern) -> DiagnosisAction {
    match pattern {
        FaultPattern::SuspensionStiff => DiagnosisAction::BreakIn,
        FaultPattern::SuspensionSoft => DiagnosisAction::LookAtSuspension,
        FaultPattern::AddedMass => DiagnosisAction::LookAtGlue,
        FaultPattern::WeakMotor => DiagnosisAction::LookAtGap,
        FaultPattern::ShortedTurns => DiagnosisAction::ReplaceCoil,
        FaultPattern::Rub => DiagnosisAction::CentreCoil,
        FaultPattern::LossChanged => DiagnosisAction::AskMaterials,
        FaultPattern::OtherWire => DiagnosisAction::CompareWinding,
        FaultPattern::LooseLead | FaultPattern::OpenCircuit | FaultPattern::ShortCircuit => DiagnosisAction::MendLead,
    }
}
