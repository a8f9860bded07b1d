//! The bench sample by sample: what the real-time loop runs, and what a whole take is made of.
use super::bench::{LooseJoint, PracticeBench};
use super::energy_system::SOURCE_TERMS;
use super::input::RunningInput;
use super::jig::{Jig, Ports, Position};
use super::oversampling::{polynomial_weights, Interpolator, WINDOW};
use super::stepper::{Motion, Stepper};
use crate::math::random::Random;

/// Rate below which four fine steps are made a sample; above it two, above twice that one.
const FOURFOLD_BELOW_HZ: f64 = 60_000.0;
/// Fine steps by which the state lags behind the newest fine sample.
const BEHIND: usize = WINDOW / 2 - 1;
/// Place in the window of the source voltage that belongs to the state after a step.
const NOW: usize = WINDOW / 2;

/// Source, jig, driver and input, running.
#[derive(Clone, Debug)]
pub struct Stream {
    interpolator: Interpolator,
    weights: [[f64; WINDOW]; SOURCE_TERMS],
    window: [f64; WINDOW],
    load: Load,
    ports: Ports,
    /// The fine step of a sample after which the state stands at a converter instant.
    reading_phase: usize,
    delay_samples: usize,
    source_full_scale_v: f64,
    joint: Option<RunningJoint>,
    /// Force of a hand on the cone in N, outwards positive.
    hand_n: f64,
    input: RunningInput,
}

/// What hangs at the far end.
#[derive(Clone, Debug)]
enum Load {
    /// A driver in motion (large: the discretised matrices).
    Driver(Box<Stepper>),
    /// A resistance behind all others, in Ω; infinite is open.
    Resistance(f64),
}

/// A joint that opens and closes at random.
#[derive(Clone, Debug)]
struct RunningJoint {
    joint: LooseJoint,
    open: bool,
    random: Random,
    step_s: f64,
}

impl Stream {
    /// Starts the bench with something clipped at `position`.
    pub fn new(bench: &PracticeBench, position: Position, rate_hz: f64, seed: u64) -> Stream {
        Stream::with_oversampling(bench, position, rate_hz, seed, oversampling_for(rate_hz))
    }

    /// As [`Stream::new`], with a chosen number of steps a sample (to prove that it does not matter).
    pub fn with_oversampling(
        bench: &PracticeBench,
        position: Position,
        rate_hz: f64,
        seed: u64,
        factor: usize,
    ) -> Stream {
        let jig = &bench.jig;
        let position = bench.true_position(position);
        let ports =
            jig.ports(position, [bench.input.channels[0].resistance_ohm, bench.input.channels[1].resistance_ohm]);
        let load = load_at(bench, position, &ports, jig, 1.0 / (rate_hz * factor as f64));
        let reading_phase = BEHIND % factor;
        Stream {
            reading_phase,
            delay_samples: Interpolator::DELAY + (BEHIND - reading_phase) / factor,
            interpolator: Interpolator::new(factor),
            weights: polynomial_weights(),
            window: [0.0; WINDOW],
            load,
            ports,
            source_full_scale_v: jig.source_full_scale_v,
            hand_n: 0.0,
            joint: bench.loose_joint.map(|joint| RunningJoint {
                joint,
                open: false,
                random: Random::new(seed ^ 0x70f7),
                step_s: 1.0 / rate_hz,
            }),
            input: RunningInput::new(&bench.input, rate_hz, seed),
        }
    }

    /// One sample to the output, one from each input channel.
    pub fn push(&mut self, dac_sample: f64) -> [f64; 2] {
        let volts = self.push_volts(dac_sample);
        self.input.push(volts)
    }

    /// One sample to the output; the voltages at the clips before the input has touched them.
    pub fn push_volts(&mut self, dac_sample: f64) -> [f64; 2] {
        let circuit = usize::from(self.joint.as_mut().is_some_and(RunningJoint::step));
        let Stream { interpolator, window, weights, load, ports, reading_phase, hand_n, .. } = self;
        let mut phase = 0;
        let mut reading = (0.0, 0.0);
        interpolator.push(dac_sample * self.source_full_scale_v, |fine_v| {
            window.copy_within(1.., 0);
            window[WINDOW - 1] = fine_v;
            if let Load::Driver(stepper) = load {
                let polynomial = weights.map(|row| ports.open_gain * dot(&row, window));
                stepper.step(circuit, &polynomial, [*hand_n; 2]);
            }
            if phase == *reading_phase {
                reading = (window[NOW], load.current_a(ports, window[NOW]));
            }
            phase += 1;
        });
        let (source_v, current_a) = reading;
        self.ports.read_v(source_v, current_a)
    }

    /// Samples by which everything comes later than it was pushed.
    pub fn delay_samples(&self) -> usize {
        self.delay_samples
    }

    /// A hand presses on the cone from now on, in N, outwards positive.
    pub fn hold(&mut self, hand_n: f64) {
        self.hand_n = hand_n;
    }

    /// Whether the loose joint is open now.
    pub fn joint_is_open(&self) -> bool {
        self.joint.as_ref().is_some_and(|j| j.open)
    }

    /// What the driver does now; none where no driver hangs there.
    pub fn motion(&self) -> Option<Motion> {
        match &self.load {
            Load::Driver(stepper) => Some(stepper.motion()),
            Load::Resistance(_) => None,
        }
    }
}

impl Load {
    fn current_a(&self, ports: &Ports, source_v: f64) -> f64 {
        match self {
            Load::Driver(stepper) => stepper.motion().current_a,
            Load::Resistance(total_ohm) => ports.open_gain * source_v / total_ohm,
        }
    }
}

impl RunningJoint {
    /// Whether the joint is open during the coming sample.
    fn step(&mut self) -> bool {
        let mean_s = if self.open { self.joint.mean_open_s } else { self.joint.mean_closed_s };
        if self.random.uniform() < self.step_s / mean_s {
            self.open = !self.open;
        }
        self.open
    }
}

fn load_at(bench: &PracticeBench, position: Position, ports: &Ports, jig: &Jig, step_s: f64) -> Load {
    let outside_ohm = ports.behind_ohm + jig.lead_ohm;
    match position {
        Position::Driver | Position::SameNode => {
            let mut circuits = vec![outside_ohm];
            circuits.extend(bench.loose_joint.map(|j| outside_ohm + j.open_ohm));
            Load::Driver(Box::new(Stepper::new(&bench.loaded(), &circuits, step_s)))
        }
        Position::KnownResistor { resistor_ohm } => Load::Resistance(outside_ohm + resistor_ohm),
        Position::Short => Load::Resistance(outside_ohm),
        Position::Open => Load::Resistance(f64::INFINITY),
    }
}

/// Fine steps a sample that keep the band up to 20 kHz exact.
pub fn oversampling_for(rate_hz: f64) -> usize {
    if rate_hz < FOURFOLD_BELOW_HZ {
        4
    } else if rate_hz < 2.0 * FOURFOLD_BELOW_HZ {
        2
    } else {
        1
    }
}

fn dot(a: &[f64; WINDOW], b: &[f64; WINDOW]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}
