//! Takes of one input, as the tests of both roads by take over take need them.
#![allow(dead_code)] // each test file uses its part

use conewright::driver::one_channel_check::{analyse, OneChannelSetup};
use conewright::procedure::defaults;
use conewright::signal::reading::Reading;
use conewright::signal::role_take::RoleTake;
use conewright::signal::stimulus::Stimulus;
use conewright::signal::take::Take;
use conewright::signal::test_signals::render;
use conewright::sim::bench::{play, PracticeBench};
use conewright::sim::jig::Position;

pub const RATE_HZ: f64 = 48_000.0;
/// The known resistor.
pub const KNOWN: Position = Position::KnownResistor { resistor_ohm: 8.2 };

/// The marked signal at a level, with periods of a second.
pub fn marked(peak_dbfs: f64) -> Stimulus {
    Stimulus { period_s: 1.0, ..defaults::marked(RATE_HZ, peak_dbfs) }
}

/// What the input across the driver hears, begun some samples before the signal; 80 ms of silence stand at its end.
pub fn record(bench: &PracticeBench, stimulus: &Stimulus, position: Position, begun: usize, seed: u64) -> Take {
    let dac = [vec![0.0; begun], render(stimulus).expect("a stimulus"), vec![0.0; 3840]].concat();
    let take = play(bench, &dac, stimulus.rate_hz, position, seed).expect("a take");
    Take::new(stimulus.rate_hz, vec![take.channel(2).expect("the driver's input").to_vec()]).expect("a take")
}

/// A take in its role.
pub fn role(role: &str, take: Take, resistor_ohm: Option<f64>) -> RoleTake {
    RoleTake { resistor_ohm, ..RoleTake::new(role, take) }
}

/// The four takes of the road, each begun at another moment.
pub fn road(bench: &PracticeBench, stimulus: &Stimulus, seed: u64) -> Vec<RoleTake> {
    let take = |position, begun, k| record(bench, stimulus, position, begun, seed + k);
    vec![
        role("known_resistor", take(KNOWN, 4000, 0), Some(8.2)),
        role("open", take(Position::Open, 9123, 1), None),
        role("driver", take(Position::Driver, 6051, 2), None),
        role("known_resistor", take(KNOWN, 7777, 3), Some(8.2)),
    ]
}

/// The reading of takes with a plain setup.
pub fn read(bench: &PracticeBench, takes: &[RoleTake]) -> Reading {
    analyse(&OneChannelSetup::plain(bench.jig.series_resistor_nominal_ohm), takes).expect("a usable setup")
}
