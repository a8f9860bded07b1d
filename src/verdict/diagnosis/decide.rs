//! Which pattern explains the figures, guarded on every side.

use super::answer::{DiagnosisConclusion, FaultFinding, FaultPattern, FindingConfidence, WhoseFault};
use super::direct::Direct;
use super::evidence::{Causes, Compared, Healthy};
use super::likelihood::{Fit, Scatter};
use super::patterns::{confused_with, hypotheses, next, Hypothesis, Trial};
use super::setup::DiagnosisSetup;
use crate::math::order::arranged;
use crate::math::quantiles::chi_square;

/// Rate of false alarms: this part of the good ones is called anything but sound. Half of it is spent on the sum of all
/// deviations, half, shared out among the hypotheses, on each of them standing out by itself.
pub const FALSE_ALARMS: f64 = 0.01;
/// A pattern explains what it leaves no more of than this part of its own true cases would.
pub const EXPLAINED: f64 = 0.999;
/// Every other pattern, and soundness, must be this many times less likely than what is called found.
pub const LIKELIER: f64 = 20.0;
/// This many times for 'sure'.
pub const SURELY_LIKELIER: f64 = 1000.0;

/// What the figures say.
pub(super) struct Decided {
    pub conclusion: DiagnosisConclusion,
    pub findings: Vec<FaultFinding>,
    pub deviation: f64,
    pub gain: f64,
}

impl Decided {
    pub(super) fn nothing() -> Decided {
        Decided { conclusion: DiagnosisConclusion::TooLittle, findings: Vec::new(), deviation: 0.0, gain: 0.0 }
    }
}

/// Largest sum of squares that counts as good.
pub(super) fn deviation_limit(compared: usize) -> f64 {
    chi_square(1.0 - 0.5 * FALSE_ALARMS, compared.max(1) as f64)
}

/// Largest part of it that counts as good where a single pattern explains it. A pattern has one sign: of chance, half goes
/// the other way.
pub(super) fn gain_limit(setup: &DiagnosisSetup) -> f64 {
    chi_square(1.0 - FALSE_ALARMS / tried(setup).len() as f64, 1.0)
}

fn tried(setup: &DiagnosisSetup) -> Vec<Hypothesis> {
    hypotheses(setup.reference.is_partner(), setup.reference.can_be_faulty())
}

/// A hypothesis at its best severity.
struct Best {
    hypothesis: Hypothesis,
    trial: Trial,
    fit: Fit,
}

pub(super) fn decide(
    setup: &DiagnosisSetup,
    scatter: &Scatter,
    compared: &[Compared],
    healthy: Healthy,
    direct: &Direct,
) -> Decided {
    if compared.is_empty() {
        return Decided::nothing();
    }
    let nothing: Causes = [0.0; 6];
    let sound = scatter.fit(&nothing, &nothing);
    let all = best_of_each(setup, scatter, healthy, direct);
    let gain = all.first().map_or(0.0, |b| sound.score - b.fit.score);
    let mut out =
        Decided { conclusion: DiagnosisConclusion::Sound, findings: Vec::new(), deviation: sound.left_over, gain };
    if sound.left_over <= deviation_limit(compared.len()) && gain <= gain_limit(setup) {
        return out;
    }
    let explained = chi_square(EXPLAINED, compared.len().saturating_sub(1).max(1) as f64);
    let clear = |b: &&Best| b.fit.left_over <= explained && sound.score - b.fit.score >= 2.0 * LIKELIER.ln();
    let candidates: Vec<&Best> = all.iter().filter(clear).collect();
    let runner_up = candidates.get(1).map_or(f64::INFINITY, |b| less_likely(b, candidates[0]));
    let kept = candidates.iter().filter(|b| less_likely(b, candidates[0]) < LIKELIER);
    let confidence = if runner_up >= SURELY_LIKELIER { FindingConfidence::Sure } else { FindingConfidence::Likely };
    out.findings = kept.map(|b| finding(b, candidates[0], scatter, confidence)).collect();
    out.findings = with_rub(out.findings, setup, direct);
    out.conclusion = match out.findings.len() {
        0 => DiagnosisConclusion::Unexplained,
        // One figure shows that something is wrong; there is always more than one way to it.
        1 if compared.len() > 1 => DiagnosisConclusion::Found,
        _ => DiagnosisConclusion::Undecided,
    };
    if out.conclusion == DiagnosisConclusion::Undecided {
        out.findings.iter_mut().for_each(|f| f.confidence = FindingConfidence::Possible);
    }
    out
}

/// Every hypothesis at its best severity, the likeliest first.
fn best_of_each(setup: &DiagnosisSetup, scatter: &Scatter, healthy: Healthy, direct: &Direct) -> Vec<Best> {
    // A rub's loss is in the scatter already.
    let tried = tried(setup).into_iter().filter(|h| !(direct.rubs() && h.pattern == FaultPattern::LossChanged));
    arranged(tried.filter_map(|h| best(h, scatter, healthy)).collect(), |b: &Best| b.fit.score)
}

fn best(hypothesis: Hypothesis, scatter: &Scatter, healthy: Healthy) -> Option<Best> {
    let all = hypothesis.trials(healthy).into_iter().map(|trial| {
        let fit = scatter.fit(&trial.causes, &trial.loose);
        Best { hypothesis, trial, fit }
    });
    all.min_by(|a, b| a.fit.score.total_cmp(&b.fit.score))
}

fn less_likely(of: &Best, best: &Best) -> f64 {
    (0.5 * (of.fit.score - best.fit.score)).exp()
}

fn finding(b: &Best, best: &Best, scatter: &Scatter, confidence: FindingConfidence) -> FaultFinding {
    let (pattern, severity) = (b.hypothesis.pattern, b.trial.severity);
    // One standard deviation shifts the sum of squares by one; the pattern is nearly straight in its severity.
    let deviation = severity.abs() / scatter.stands_out(&b.trial.causes).sqrt().max(f64::MIN_POSITIVE);
    let (percent, by) = match pattern {
        FaultPattern::ShortedTurns => (100.0 * severity, 100.0),
        _ => (100.0 * severity.exp_m1(), 100.0 * severity.exp()),
    };
    FaultFinding {
        pattern,
        whose: b.hypothesis.whose,
        confidence,
        severity_percent: Some(percent),
        severity_half_width_95_percent: Some(1.96 * deviation * by),
        expected_percent: scatter.expected(&b.trial.causes).iter().map(|e| 100.0 * e.exp_m1()).collect(),
        left_over: b.fit.left_over,
        less_likely: less_likely(b, best),
        confused_with: confused_with(pattern).to_vec(),
        next: next(pattern),
    }
}

/// More loss is what a rub looks like in every figure: only a ring without friction rules that out.
fn with_rub(mut findings: Vec<FaultFinding>, setup: &DiagnosisSetup, direct: &Direct) -> Vec<FaultFinding> {
    let Some(loss) = findings.iter().find(|f| f.pattern == FaultPattern::LossChanged) else { return findings };
    let here = loss.severity_percent.is_some_and(|p| p > 0.0);
    let (whose, ruled_out) = match here {
        true => (WhoseFault::Part, direct.knocked),
        false => (WhoseFault::Reference, direct.reference_knocked || !setup.reference.can_be_faulty()),
    };
    if !ruled_out {
        let (confused_with, next) = (confused_with(FaultPattern::Rub).to_vec(), next(FaultPattern::Rub));
        let rub = FaultFinding {
            pattern: FaultPattern::Rub,
            whose,
            severity_percent: None,
            severity_half_width_95_percent: None,
            confused_with,
            next,
            ..loss.clone()
        };
        findings.push(rub);
    }
    findings
}
