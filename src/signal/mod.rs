//! Samples with a rate: takes, test signals, health, periods; and the shape in which every check answers.
pub mod classify;
pub mod gaps;
pub mod health;
pub mod hum;
pub mod notice;
pub mod period_search;
pub mod periods;
pub mod reading;
pub mod role_take;
pub mod sentences;
pub mod spectrum;
pub mod stimulus;
pub mod sweep;
pub mod take;
pub mod test_signals;
pub mod wav;
pub mod wording;
