//! What is answered: codes and numbers; the words stand in the page.

use serde::Serialize;

/// What a fault looks like, as far as the checks of today can tell.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum FaultPattern {
    /// Surround or spider too stiff, not broken in, or glued out of neutral.
    SuspensionStiff,
    /// Surround or spider too soft.
    SuspensionSoft,
    /// Too much glue, a heavy cap.
    AddedMass,
    /// Weak magnet, or the coil off axially.
    WeakMotor,
    /// Shorted turns.
    ShortedTurns,
    /// The coil rubs.
    Rub,
    /// Mechanical loss without friction is another: former of another material, other glue or surround.
    LossChanged,
    /// A coil of another wire.
    OtherWire,
    /// A lead or joint that opens.
    LooseLead,
    /// No current flows at all.
    OpenCircuit,
    /// The terminals are joined.
    ShortCircuit,
}

/// All patterns that figures can show, in the order in which they are tried.
pub(super) const BY_FIGURES: [FaultPattern; 7] = [
    FaultPattern::SuspensionStiff,
    FaultPattern::SuspensionSoft,
    FaultPattern::AddedMass,
    FaultPattern::WeakMotor,
    FaultPattern::ShortedTurns,
    FaultPattern::LossChanged,
    FaultPattern::OtherWire,
];

/// Faults that no check of today shows; they are named so that nobody takes silence for an all-clear.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum UnseenFault {
    /// The coil hits at large travel.
    HitsAtLargeTravel,
    /// A lead slaps, the cap is loose.
    SlapOrLooseCap,
    /// The roll was glued out of neutral: it only looks stiff.
    RollOutOfNeutral,
    /// Rub at large travel only.
    ScrapeAtLargeTravel,
}

/// Every one of them.
pub(super) const NO_CHECK_YET: [UnseenFault; 4] = [
    UnseenFault::HitsAtLargeTravel,
    UnseenFault::SlapOrLooseCap,
    UnseenFault::RollOutOfNeutral,
    UnseenFault::ScrapeAtLargeTravel,
];

/// Which of the two shows the pattern.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum WhoseFault {
    /// The part.
    Part,
    /// What it was held against.
    Reference,
    /// The part, or the reference the other way round: a difference alone cannot tell.
    Either,
}

/// How it ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum DiagnosisConclusion {
    /// Differs by no more than good ones do; `not_shown` says what this evidence would have missed.
    Sound,
    /// One pattern explains it and no other does.
    Found,
    /// Several explain it; they are listed.
    Undecided,
    /// It differs, and no pattern explains how.
    Unexplained,
    /// There is too little to compare.
    TooLittle,
}

/// How sure a finding is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum FindingConfidence {
    /// Shown by a check that sees this very fault, or more than 1000 times likelier than any other pattern.
    Sure,
    /// More than 20 times likelier than any other.
    Likely,
    /// One of several.
    Possible,
}

/// What to do next.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum DiagnosisAction {
    /// Nothing has to be done.
    Nothing,
    /// Break it in and take it again; then look at surround and spider.
    BreakIn,
    /// Look at surround and spider.
    LookAtSuspension,
    /// Weigh the moving parts by a weight on the cone.
    WeighCone,
    /// Look at glue and cap.
    LookAtGlue,
    /// Look at the coil's place in the gap, and at the magnet.
    LookAtGap,
    /// The coil has to be replaced.
    ReplaceCoil,
    /// Centre the coil, clean the gap.
    CentreCoil,
    /// Ask what former, glue and surround were used.
    AskMaterials,
    /// Compare with what was ordered for the coil.
    CompareWinding,
    /// Look for the lead or joint that opens.
    MendLead,
    /// Knock on it with open terminals.
    Knock,
    /// Measure the impedance of both with the same jig.
    MeasureImpedance,
    /// Take the same again, with more takes.
    Repeat,
    /// Measure another part of the same make or find published figures.
    AnotherReference,
}

/// One figure that was compared.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct DiagnosisEvidence {
    /// Name of the figure; `upper_impedance` and `level` besides those of readings.
    pub name: String,
    /// Check that it was read by, in both.
    pub check: String,
    /// Part over reference, in per cent beyond 1.
    pub percent: f64,
    /// Half-width of its 95 % interval by the readings, in per cent.
    pub half_width_95_percent: f64,
    /// Half-width within which 19 of 20 good ones lie, readings and natural spread together, in per cent.
    pub usual_percent: f64,
}

/// A pattern and how it fits.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct FaultFinding {
    /// Which.
    pub pattern: FaultPattern,
    /// WhoseFault fault it would be.
    pub whose: WhoseFault,
    /// How sure.
    pub confidence: FindingConfidence,
    /// How much, in per cent: stiffness, mass, Bl, loss or R_e beyond the reference's; of shorted turns their part of all.
    /// None where a check shows the fault itself.
    pub severity_percent: Option<f64>,
    /// Half-width of its 95 % interval, in per cent.
    pub severity_half_width_95_percent: Option<f64>,
    /// What this pattern would make of each figure of the evidence, in its order, in per cent.
    pub expected_percent: Vec<f64>,
    /// What is left unexplained, as a sum of squares in standard deviations.
    pub left_over: f64,
    /// How many times less likely than the likeliest.
    pub less_likely: f64,
    /// Patterns that simulated cases of this one were mistaken for, or not told from.
    pub confused_with: Vec<FaultPattern>,
    /// What to do.
    pub next: DiagnosisAction,
}

/// The answer.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct Diagnosis {
    /// How it ended.
    pub conclusion: DiagnosisConclusion,
    /// What was found, or what it may be; the likeliest first.
    pub findings: Vec<FaultFinding>,
    /// What was compared.
    pub evidence: Vec<DiagnosisEvidence>,
    /// Sum of squares of all deviations, in standard deviations, correlations allowed for.
    pub deviation: f64,
    /// Beyond this, something is wrong.
    pub deviation_limit: f64,
    /// How much of it the likeliest single pattern explains.
    pub stands_out: f64,
    /// Beyond this, something is wrong as well.
    pub stands_out_limit: f64,
    /// Patterns that this evidence would rather miss than show, at the size where they matter.
    pub not_shown: Vec<FaultPattern>,
    /// Faults for which there is no check yet.
    pub no_check_yet: Vec<UnseenFault>,
    /// What to do.
    pub next: DiagnosisAction,
}
