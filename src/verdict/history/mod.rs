//! Readings of one part over time: which can be compared, and whether break-in has come to its end.
mod break_in;
mod comparable;

pub use break_in::{break_in, BreakIn, BreakInReading, BreakInSays, BreakInSetup, Settling, Trend};
pub use comparable::{
    compare, Comparability, FigureHistory, HistoryAttitude, HistoryCompared, HistoryLimits, HistoryReading,
    HistorySetup, Obstacle, ObstacleCode, USUAL_LIMITS,
};
