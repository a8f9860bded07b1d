//! What a check of its own has seen: friction in the ring, a joint that opens, no current, joined terminals.

use super::answer::{FaultFinding, FaultPattern, FindingConfidence, WhoseFault};
use super::patterns::{confused_with, next};
use super::setup::{DiagnosisReading, DiagnosisSetup};
use crate::signal::notice::Code;
use crate::signal::reading::Outcome;

/// Checks of the ring, which show friction or that there is none.
const KNOCKS: [&str; 2] = ["knock", "pair"];

/// What was seen, and what was looked for without being found.
pub(super) struct Direct {
    pub findings: Vec<FaultFinding>,
    /// The part's ring was read and told whether there is friction.
    pub knocked: bool,
    /// The same of the reference.
    pub reference_knocked: bool,
    /// The part's leads were moved.
    pub flexed: bool,
}

impl Direct {
    pub(super) fn of(setup: &DiagnosisSetup) -> Direct {
        let mut findings = seen(&setup.readings, WhoseFault::Part);
        findings.extend(seen(setup.reference.readings(), WhoseFault::Reference));
        let reference = setup.reference.readings();
        Direct {
            findings,
            knocked: tells(&setup.readings, &KNOCKS),
            reference_knocked: tells(reference, &KNOCKS),
            flexed: tells(&setup.readings, &["loose_joint"]),
        }
    }

    pub(super) fn rubs(&self) -> bool {
        self.findings.iter().any(|f| f.pattern == FaultPattern::Rub)
    }

    /// Something was seen that spoils every figure.
    pub(super) fn stops(&self) -> bool {
        self.findings.iter().any(|f| f.pattern != FaultPattern::Rub)
    }
}

fn seen(readings: &[DiagnosisReading], whose: WhoseFault) -> Vec<FaultFinding> {
    let says = |code: Code| readings.iter().any(|r| r.codes.contains(&code));
    let all = [
        (Code::OpenCircuit, FaultPattern::OpenCircuit),
        (Code::ShortCircuit, FaultPattern::ShortCircuit),
        (Code::LooseJoint, FaultPattern::LooseLead),
        (Code::Friction, FaultPattern::Rub),
    ];
    all.into_iter().filter(|(code, _)| says(*code)).map(|(_, pattern)| finding(pattern, whose)).collect()
}

fn tells(readings: &[DiagnosisReading], checks: &[&str]) -> bool {
    readings.iter().any(|r| checks.contains(&r.check.as_str()) && r.outcome == Outcome::Reading)
}

fn finding(pattern: FaultPattern, whose: WhoseFault) -> FaultFinding {
    FaultFinding {
        pattern,
        whose,
        confidence: FindingConfidence::Sure,
        severity_percent: None,
        severity_half_width_95_percent: None,
        expected_percent: Vec::new(),
        left_over: 0.0,
        less_likely: 1.0,
        confused_with: confused_with(pattern).to_vec(),
        next: next(pattern),
    }
}
