//! Stations before the first knock: is the setup usable, the bench card, the cable or the microphone.

use super::super::bench::{KnockBench, Sensor, Socket};
use super::super::build::{attitude, channel_words, choice, drawing, tick};
use super::super::cautions;
use super::super::past::Past;
use super::super::step::{Action, Caution, Drawing, DrawingKind, Stage, Step, TickItem};
use crate::signal::notice::{Code, Notice};

/// A setup that cannot give a figure is refused at once.
pub(super) fn setup(bench: &KnockBench, _: &Past) -> Option<Step> {
    let notice = if bench.channel == 0 {
        Notice::new(Code::TooFewChannels, &[("wanted_channel", 0.0)])
    } else if bench.r_e_ohm.is_some_and(|r| !(0.1..=1000.0).contains(&r)) {
        Notice::new(Code::WrongResistor, &[])
    } else {
        return None;
    };
    Some(Step::refused(Stage::BenchCard, "setup_refused", notice, Vec::new()))
}

/// What spoils the reading.
pub(super) fn bench_card(bench: &KnockBench, past: &Past) -> Option<Step> {
    if past.confirmed_at("bench_card").is_some() {
        return None;
    }
    let action =
        Action::Tick { items: card(bench), picks: vec![attitude()], fields: Vec::new(), button: "Ready".to_owned() };
    Some(
        Step::new(Stage::BenchCard, "bench_card", "Look the bench over first.", action)
            .note("These spoil the reading. Tick what is so; what stays open is kept with the reading.")
            .cautions(vec![cautions::magnet(), cautions::foam()]),
    )
}

fn card(bench: &KnockBench) -> Vec<TickItem> {
    let mut items = vec![
        tick("vent_free", "The magnet's vent is free", "A covered vent adds stiffness and loss.", false),
        tick(
            "frame_held",
            "The frame is held firmly, on foam or a folded cloth",
            "A frame that moves rings too.",
            false,
        ),
        tick("warm", "The driver is at room temperature", "A cold suspension is stiff.", false),
        tick("rested", "It was not worked hard in the last half hour", "The suspension softens and recovers.", false),
        tick("terminals_free", "Nothing else hangs on the terminals", "A crossover or an amplifier damps it.", false),
    ];
    match bench.sensor {
        Sensor::Coil => items.push(tick("charger_off", "The charger is unplugged", "It brings hum.", false)),
        Sensor::Microphone => {
            items.push(tick("quiet", "The room is quiet", "Rumble below 100 Hz hides the ring.", false));
        }
    }
    items
}

/// The cable or the microphone.
pub(super) fn connect(bench: &KnockBench, past: &Past) -> Option<Step> {
    if past.confirmed_at("connect").is_some() {
        return None;
    }
    let (sentence, note) = wiring_words(bench);
    let note = if bench.practice {
        "Nothing needs wiring on the practice bench. The drawing shows what it stands for."
    } else {
        note
    };
    let action = Action::Confirm { button: "Connected".to_owned() };
    let mut step = Step::new(Stage::Connect, "connect", sentence, action)
        .note(note)
        .cautions(if bench.practice { Vec::new() } else { socket_cautions(bench) })
        .drawing(sensor_drawing(bench));
    if bench.sensor == Sensor::Coil && !bench.practice {
        step = step.choices(vec![choice("again:bench_card", "Back to the bench card", "")]);
    }
    Some(step)
}

fn wiring_words(bench: &KnockBench) -> (&'static str, &'static str) {
    match (bench.sensor, bench.socket) {
        (Sensor::Microphone, _) => (
            "Hold the microphone a finger's width from the cone.",
            "As close as it goes without touching, off the middle. Switch off noise suppression and automatic gain.",
        ),
        (Sensor::Coil, Some(Socket::Headset)) => (
            "Clip the cable to both terminals, through 2.2 kΩ and a capacitor.",
            "A headset socket reads a bare coil as a pressed button: about 2.2 kΩ in series keeps it a microphone, and \
             10 µF keeps its feed out of the coil. State the input's resistance if you know it; it damps the ring.",
        ),
        (Sensor::Coil, Some(Socket::Microphone)) => (
            "Clip the cable to both terminals, either way round.",
            "A third of a millimetre of travel gives 0.1 to 0.5 V, and a microphone input cuts that off: put a divider of \
             10 kΩ to 1 kΩ in front, or knock very gently.",
        ),
        (Sensor::Coil, _) => (
            "Clip the cable to both terminals, either way round.",
            "The coil itself is the sensor. A third of a millimetre of travel gives 0.1 to 0.5 V, right for a line input.",
        ),
    }
}

fn socket_cautions(bench: &KnockBench) -> Vec<Caution> {
    match (bench.sensor, bench.socket) {
        (Sensor::Coil, Some(Socket::Headset | Socket::Microphone)) => vec![cautions::socket_feed()],
        _ => Vec::new(),
    }
}

/// The drawing of the sensor, with the person's values.
pub(super) fn sensor_drawing(bench: &KnockBench) -> Drawing {
    let kind = match (bench.sensor, bench.socket) {
        (Sensor::Microphone, _) => DrawingKind::Microphone,
        (Sensor::Coil, Some(Socket::Headset)) => DrawingKind::HeadsetCable,
        (Sensor::Coil, _) => DrawingKind::CoilCable,
    };
    drawing(kind, &sensor_labels(bench))
}

/// Labels that every drawing of this check carries.
pub(super) fn sensor_labels(bench: &KnockBench) -> Vec<(&'static str, String)> {
    let knock = match bench.sensor {
        Sensor::Coil => "rubber end of a pencil, near the edge",
        Sensor::Microphone => "press in a little and let go",
    };
    let mut labels = vec![
        ("knock", knock.to_owned()),
        ("rest", "folded cloth, magnet down".to_owned()),
        ("input", channel_words(bench.channel)),
        ("terminals", "both terminals, either way round".to_owned()),
    ];
    match (bench.sensor, bench.socket) {
        (Sensor::Microphone, _) => labels.push(("microphone", "a finger's width away".to_owned())),
        (Sensor::Coil, Some(Socket::Headset)) => {
            labels.push(("series_resistor", "2.2\u{a0}kΩ".to_owned()));
            labels.push(("series_capacitor", "10\u{a0}µF".to_owned()));
        }
        _ => {}
    }
    labels
}
