//! Faults of the practice bench, and what each ought to call forth.
use serde::{Deserialize, Serialize};

use super::bench::{LeadFault, LooseJoint, PracticeBench};
use super::driver::{Driver, Friction};
use super::input::{BufferFault, GainRiding, Loss, Routing};
use super::knock::{KnockScene, Sensor};
use super::microphone::Microphone;
use super::noise::Hum;

/// A fault to choose.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Fault {
    /// Nothing is wrong.
    None,
    /// Two of a hundred turns shorted.
    ShortedTurns,
    /// The coil rubs.
    Rub,
    /// Surround half as stiff again.
    StiffSurround,
    /// Too much glue on the cone.
    HeavyCone,
    /// Weak magnet.
    WeakMagnet,
    /// A joint that opens by itself.
    LooseJoint,
    /// A gain control in the input.
    GainRiding,
    /// Hum.
    Hum,
    /// Noise.
    Noise,
    /// The input is driven too hard.
    Clipped,
    /// The computer lost a buffer.
    LostBuffer,
    /// The series resistor is not what is printed on it.
    WrongResistor,
    /// The input mixes both channels.
    MonoInput,
    /// Channels exchanged.
    SwappedChannels,
    /// Nothing arrives from the driver's side.
    DeadChannel,
    /// Nothing arrives at all.
    Silent,
    /// Driver not connected, or its coil open.
    OpenCircuit,
    /// Leads touch.
    ShortCircuit,
    /// An offset in the input.
    DirectCurrent,
    /// Nobody knocks.
    NoKnock,
    /// Somebody speaks instead of knocking.
    Speech,
    /// Traffic rumbles.
    Rumble,
    /// The driver is wound or wired the other way round.
    Reversed,
    /// The hand pulls as well as pushes; the microphone is held far away.
    UnsteadyHand,
}

/// A fault with what it ought to call forth.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
pub struct PracticeFault {
    /// Which.
    pub fault: Fault,
    /// Code of the warning or refusal in the impedance check; none where the reading itself shows it or nothing does.
    pub impedance_code: Option<&'static str>,
    /// The same in the knock check.
    pub knock_code: Option<&'static str>,
    /// Whether it can be chosen in the impedance check.
    pub for_impedance: bool,
    /// Whether it can be chosen in the impedance check with one input.
    pub for_one_channel: bool,
    /// Whether it can be chosen in the knock check.
    pub for_knock: bool,
    /// Whether it can be chosen with two drivers; what is wrong with a driver is wrong with the second one.
    pub for_pair: bool,
    /// Code of the warning or refusal in the polarity check.
    pub polarity_code: Option<&'static str>,
    /// Whether it can be chosen in the polarity check.
    pub for_polarity: bool,
    /// Whether it can be chosen in the loose-joint check.
    pub for_loose_joint: bool,
    /// Whether it can be chosen in the impedance check by microphone.
    pub for_microphone: bool,
}

/// All faults, none first.
pub fn faults() -> Vec<PracticeFault> {
    let row = |fault, impedance_code, knock_code, for_impedance, for_knock| PracticeFault {
        fault,
        impedance_code,
        knock_code,
        for_impedance,
        for_one_channel: for_impedance
            && !matches!(fault, Fault::MonoInput | Fault::SwappedChannels | Fault::DeadChannel),
        for_knock,
        for_pair: matches!(fault, Fault::MonoInput | Fault::DeadChannel)
            || (for_knock && !matches!(fault, Fault::Speech | Fault::Rumble)),
        polarity_code: None,
        for_polarity: false,
        for_loose_joint: false,
        for_microphone: (for_impedance && for_knock && !matches!(fault, Fault::Hum | Fault::DirectCurrent))
            || matches!(fault, Fault::Rumble | Fault::WrongResistor | Fault::OpenCircuit),
    };
    let polarity = |fault, polarity_code| PracticeFault {
        polarity_code,
        for_polarity: true,
        ..row(fault, None, None, false, false)
    };
    vec![
        PracticeFault { for_polarity: true, for_loose_joint: true, ..row(Fault::None, None, None, true, true) },
        row(Fault::ShortedTurns, None, None, true, true),
        row(Fault::Rub, None, Some("friction"), true, true),
        row(Fault::StiffSurround, None, None, true, true),
        row(Fault::HeavyCone, None, None, true, true),
        row(Fault::WeakMagnet, None, None, true, true),
        PracticeFault { for_loose_joint: true, ..row(Fault::LooseJoint, Some("noise"), None, true, false) },
        row(Fault::GainRiding, Some("gain_riding"), Some("gain_riding"), true, true),
        row(Fault::Hum, Some("hum"), Some("hum"), true, true),
        row(Fault::Noise, Some("noise"), Some("noise"), true, true),
        row(Fault::Clipped, Some("clipped"), Some("clipped"), true, true),
        row(Fault::LostBuffer, Some("gap"), Some("gap"), true, true),
        row(Fault::WrongResistor, Some("wrong_resistor"), None, true, false),
        row(Fault::MonoInput, Some("same_channels"), None, true, false),
        row(Fault::SwappedChannels, Some("swapped_channels"), None, true, false),
        row(Fault::DeadChannel, Some("dead_channel"), None, true, false),
        row(Fault::Silent, Some("silent"), Some("silent"), true, true),
        row(Fault::OpenCircuit, Some("open_circuit"), None, true, false),
        row(Fault::ShortCircuit, Some("short_circuit"), None, true, false),
        row(Fault::DirectCurrent, Some("direct_current"), Some("direct_current"), true, true),
        row(Fault::NoKnock, None, Some("no_knock"), false, true),
        row(Fault::Speech, None, Some("no_knock"), false, true),
        row(Fault::Rumble, None, Some("noise"), false, true),
        polarity(Fault::Reversed, Some("moves_inwards")),
        polarity(Fault::UnsteadyHand, Some("polarity_unclear")),
    ]
}

impl Fault {
    /// The bench with this fault.
    pub fn on(self, mut bench: PracticeBench) -> PracticeBench {
        let driver = &mut bench.driver;
        let input = &mut bench.input;
        match self {
            Fault::ShortedTurns => driver.shorted_part = 0.02,
            Fault::Rub => driver.friction = rub_for(driver),
            // The viscous loss stays, and with it nearly the whole R_es: f_s and both Q's rise by one factor.
            Fault::StiffSurround => driver.suspension.stiffness_n_per_m *= 1.5,
            Fault::HeavyCone => driver.moving_mass_kg *= 1.3,
            Fault::WeakMagnet => driver.motor.bl_t_m *= 0.8,
            Fault::LooseJoint => {
                bench.loose_joint = Some(LooseJoint { open_ohm: 400.0, mean_closed_s: 0.7, mean_open_s: 0.004 });
            }
            Fault::GainRiding => {
                input.gain_riding =
                    Some(GainRiding { target_dbfs: -22.0, range_db: 12.0, attack_s: 0.4, release_s: 3.0 });
            }
            Fault::Hum => input.hum = Some(Hum { mains_hz: 50.0, fundamental_dbfs: -32.0 }),
            Fault::Noise => input.channels.iter_mut().for_each(|c| c.noise_dbfs = -32.0),
            Fault::Clipped => input.channels.iter_mut().for_each(|c| c.full_scale_v /= 12.0),
            Fault::LostBuffer => {
                input.buffer_faults = vec![
                    BufferFault { at_part: 0.37, samples: 1024, loss: Loss::Dropped },
                    BufferFault { at_part: 0.62, samples: 1024, loss: Loss::Zeros },
                ];
            }
            Fault::WrongResistor => bench.jig.series_resistor_relative_error = 1.1,
            Fault::MonoInput => input.routing = Routing::Mono,
            Fault::SwappedChannels => input.routing = Routing::Swapped,
            Fault::DeadChannel => input.channels[1].dead = true,
            Fault::Silent => input.channels.iter_mut().for_each(|c| c.dead = true),
            Fault::OpenCircuit => bench.lead_fault = Some(LeadFault::Open),
            Fault::ShortCircuit => bench.lead_fault = Some(LeadFault::Short),
            Fault::DirectCurrent => input.channels.iter_mut().for_each(|c| c.offset = 0.12),
            Fault::Reversed => driver.motor.bl_t_m *= -1.0,
            Fault::None | Fault::NoKnock | Fault::Speech | Fault::Rumble | Fault::UnsteadyHand => {}
        }
        bench
    }

    /// The scene of knocks with this fault.
    pub fn on_scene(self, mut scene: KnockScene) -> KnockScene {
        if matches!(self, Fault::NoKnock | Fault::Speech) {
            scene.touches.clear();
        }
        if let Sensor::Microphone { microphone } = &mut scene.sensor {
            *microphone = self.at_microphone(microphone.clone());
        }
        scene
    }

    /// The microphone and its room with this fault.
    pub fn at_microphone(self, mut microphone: Microphone) -> Microphone {
        match self {
            Fault::Speech => microphone.speech_db_spl = Some(75.0),
            Fault::Rumble => microphone.rumble_db_spl = 95.0,
            Fault::Noise => microphone.room_noise_db_spl = 85.0,
            _ => {}
        }
        microphone
    }
}

/// Friction in proportion to the driver: 0.05 N for a moving mass of 70 g.
fn rub_for(driver: &Driver) -> Friction {
    let sliding_n = 0.05 * driver.moving_mass_kg / 0.07;
    Friction { sliding_n, breakaway_n: 1.2 * sliding_n }
}
