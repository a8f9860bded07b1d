//! What a part suffers from, by how it differs from one reference: partner, earlier reading or published figures.
//!
//! Every fault moves causes (mass, stiffness, force factor, resistance, loss, the coil in its iron), the causes move the
//! figures (`evidence`). The logarithmic ratios of the figures, part over reference, scatter by the readings' uncertainty,
//! shared errors cancelled, and by what two good ones differ in; each cause spreads for itself, so that the figures' spread
//! is correlated as nature has it. Each pattern is tried at every severity, freedom of its own included. Anything is wrong
//! where χ² of all figures, or what a single pattern explains of it, is beyond what chance does in [`FALSE_ALARMS`] of the
//! good ones. The likeliest pattern is found where it explains the rest ([`EXPLAINED`]) and soundness and every other one are
//! [`LIKELIER`] times less likely; otherwise all that are left are candidates. Likelihood: multivariate normal (any textbook
//! of multivariate statistics).
//!
//! Friction, loose joints, open and short circuits are seen by checks of their own and are taken from there.
//! Valid for differences up to a factor of three or so; faults that show at large travel only stay unseen.

mod answer;
mod decide;
mod direct;
mod evidence;
mod likelihood;
mod patterns;
mod setup;

pub use answer::{
    Diagnosis, DiagnosisAction, DiagnosisConclusion, DiagnosisEvidence, FaultFinding, FaultPattern, FindingConfidence,
    UnseenFault, WhoseFault,
};
pub use decide::{EXPLAINED, FALSE_ALARMS, LIKELIER, SURELY_LIKELIER};
pub use patterns::confused_with;
pub use setup::{
    DiagnosisPublished, DiagnosisReading, DiagnosisReference, DiagnosisSetup, LevelDifference, NaturalSpread,
    BETWEEN_TWO_DAYS, BETWEEN_TWO_GOOD,
};

use answer::{BY_FIGURES, NO_CHECK_YET};
use decide::{decide, Decided};
use direct::Direct;
use evidence::{evidence, Compared, Healthy, LOSS, STIFFNESS, UPPER};
use likelihood::Scatter;
use patterns::Hypothesis;
use setup::matters;

/// What a rub does to Q_ms and f_s, which its friction does not tell: loss by any factor, stiffness by some per cent.
const BY_RUB: [(usize, f64); 2] = [(LOSS, 1.0), (STIFFNESS, 0.1)];

/// What the evidence says about the part.
pub fn diagnose(setup: &DiagnosisSetup) -> Diagnosis {
    let (compared, healthy) = evidence(setup);
    let direct = Direct::of(setup);
    let mut scatter = Scatter::new(&compared, setup.reference.spread().map(|usual| setup.spread.unwrap_or(usual)));
    let shown = shown_evidence(&compared, &scatter);
    if direct.rubs() {
        let mut loose = [0.0; 6];
        BY_RUB.iter().for_each(|(cause, by)| loose[*cause] = *by);
        scatter.widen(&loose);
    }
    let not_shown = not_shown(setup, &scatter, healthy, &compared, &direct);
    // Figures that were read through a joint that opens tell nothing about the driver.
    let decided = match direct.stops() {
        true => Decided::nothing(),
        false => decide(setup, &scatter, &compared, healthy, &direct),
    };
    let conclusion = conclusion(&decided, &direct, &not_shown);
    let findings: Vec<FaultFinding> = direct.findings.iter().cloned().chain(decided.findings).collect();
    let next = next(conclusion, &findings, &compared, &not_shown);
    Diagnosis {
        conclusion,
        findings,
        evidence: shown,
        deviation: decided.deviation,
        deviation_limit: decide::deviation_limit(compared.len()),
        stands_out: decided.gain,
        stands_out_limit: decide::gain_limit(setup),
        not_shown,
        no_check_yet: NO_CHECK_YET.to_vec(),
        next,
    }
}

fn shown_evidence(compared: &[Compared], scatter: &Scatter) -> Vec<DiagnosisEvidence> {
    let one = |(i, c): (usize, &Compared)| {
        let ratio = c.difference.ln_ratio.exp();
        DiagnosisEvidence {
            name: c.name.to_owned(),
            check: c.check.clone(),
            percent: 100.0 * (ratio - 1.0),
            half_width_95_percent: 100.0 * ratio * c.difference.half_width_95,
            usual_percent: 100.0 * scatter.usual(i).exp_m1(),
        }
    };
    compared.iter().enumerate().map(one).collect()
}

/// What would stay within the scatter of good ones at the size where it matters, or wants a check that was not made.
fn not_shown(
    setup: &DiagnosisSetup,
    scatter: &Scatter,
    healthy: Healthy,
    compared: &[Compared],
    direct: &Direct,
) -> Vec<FaultPattern> {
    let limit = decide::gain_limit(setup).min(decide::deviation_limit(compared.len()));
    let hidden = |pattern: &FaultPattern| {
        let size = matters(*pattern);
        let size = if *pattern == FaultPattern::ShortedTurns { size } else { size.ln_1p() };
        let trial = Hypothesis::of_part(*pattern).trial(size, healthy);
        compared.is_empty() || scatter.stands_out(&trial.causes) < limit
    };
    let mut out: Vec<FaultPattern> = BY_FIGURES.into_iter().filter(hidden).collect();
    out.extend((!direct.knocked && !direct.rubs()).then_some(FaultPattern::Rub));
    out.extend((!direct.flexed && !direct.stops()).then_some(FaultPattern::LooseLead));
    out
}

fn conclusion(decided: &Decided, direct: &Direct, not_shown: &[FaultPattern]) -> DiagnosisConclusion {
    match decided.conclusion {
        DiagnosisConclusion::Sound | DiagnosisConclusion::TooLittle if !direct.findings.is_empty() => {
            DiagnosisConclusion::Found
        }
        // All quiet where nothing would have shown is no all-clear.
        DiagnosisConclusion::Sound if BY_FIGURES.iter().all(|p| not_shown.contains(p)) => {
            DiagnosisConclusion::TooLittle
        }
        other => other,
    }
}

/// What to do: about what was found, or to tell apart what is left.
fn next(
    conclusion: DiagnosisConclusion,
    findings: &[FaultFinding],
    compared: &[Compared],
    not_shown: &[FaultPattern],
) -> DiagnosisAction {
    let has = |name: &str| compared.iter().any(|c| c.name == name);
    let may_be = |pattern: FaultPattern| findings.iter().any(|f| f.pattern == pattern);
    let whole = has(UPPER) && has("q_es") && has("r_e_ohm");
    match conclusion {
        DiagnosisConclusion::Found => match findings.first() {
            Some(f) if f.pattern == FaultPattern::AddedMass && !has("m_ms_kg") => DiagnosisAction::WeighCone,
            Some(f) => f.next,
            None => DiagnosisAction::Nothing,
        },
        DiagnosisConclusion::Undecided if may_be(FaultPattern::Rub) && not_shown.contains(&FaultPattern::Rub) => {
            DiagnosisAction::Knock
        }
        DiagnosisConclusion::Undecided | DiagnosisConclusion::TooLittle if !whole => DiagnosisAction::MeasureImpedance,
        DiagnosisConclusion::Undecided if may_be(FaultPattern::AddedMass) && !has("m_ms_kg") => {
            DiagnosisAction::WeighCone
        }
        DiagnosisConclusion::Undecided | DiagnosisConclusion::TooLittle => DiagnosisAction::Repeat,
        DiagnosisConclusion::Unexplained => DiagnosisAction::AnotherReference,
        DiagnosisConclusion::Sound if not_shown.contains(&FaultPattern::Rub) => DiagnosisAction::Knock,
        DiagnosisConclusion::Sound if !whole => DiagnosisAction::MeasureImpedance,
        DiagnosisConclusion::Sound => DiagnosisAction::Nothing,
    }
}

#[cfg(test)]
mod tests;
