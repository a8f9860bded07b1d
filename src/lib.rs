//! Conewright: the bench of a loudspeaker restorer.
//!
//! Areas and who may import whom (held by `tests/architecture.rs`): `math` stands on nothing; `signal` on `math`;
//! `electrical` on `signal`; `driver` on `electrical`; `acoustic`, `enclosure`, `verdict`, `job` and `procedure`
//! above them. `sim` sees `signal` and `math` only, so that no analysis is ever checked against its own formulas.
//! `browser` is the only area that knows JavaScript: it converts and calls, and computes nothing.
pub mod acoustic;
pub mod browser;
pub mod driver;
pub mod electrical;
pub mod enclosure;
pub mod job;
pub mod math;
pub mod procedure;
pub mod signal;
pub mod sim;
pub mod verdict;
