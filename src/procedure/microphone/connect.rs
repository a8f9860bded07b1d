//! Stations before anything sounds: bench card, the amplifier's output, the wiring.

use super::super::bench::MicrophoneBench;
use super::super::build::{choice, drawing, ohm_field, ohm_words, tick};
use super::super::cautions;
use super::super::impedance::shared;
use super::super::past::Past;
use super::super::step::{Action, Drawing, DrawingKind, Stage, Step};

/// Outputs of more than this are none of an amplifier.
const OUTPUT_OHM: (f64, f64) = (0.0, 20.0);
/// What stands in the field at first: an ordinary transistor amplifier with its leads (common practice, no source).
const ORDINARY_OHM: f64 = 0.1;

/// What spoils the reading.
pub(super) fn bench_card(bench: &MicrophoneBench, past: &Past) -> Option<Step> {
    let items = vec![
        tick("vent_free", "The magnet's vent is free", "A covered vent adds stiffness and loss.", false),
        tick("frame_held", "The frame is held firmly", "A frame that moves adds a second resonance.", false),
        tick("warm", "The driver is at room temperature", "5 K are 2 % of the coil's resistance.", false),
        tick("rested", "It was not worked hard in the last half hour", "The suspension softens and recovers.", false),
        tick("quiet", "Fans, fridge and traffic are as quiet as can be", "Low rumble decides what can be read.", false),
        tick(
            "microphone_rests",
            "The microphone rests on something, a finger's width before the cone's middle",
            "All takes are compared with one another; a hand does not hold still enough.",
            false,
        ),
    ];
    let mains = if bench.practice { Vec::new() } else { vec![cautions::mains()] };
    shared::card(past, items, mains)
}

/// The output's own resistance: typed, or to be found from a take.
pub(super) fn output(_: &MicrophoneBench, past: &Past) -> Option<Step> {
    if output_ohm(past).is_some() || finds_output(past) {
        return None;
    }
    let help =
        "Transistor amplifiers have less than 0.2 Ω, valve amplifiers 0.5 to 3 Ω. Leads to the driver count as well.";
    let label = "Resistance of the amplifier's output";
    let field = ohm_field("output_resistance_ohm", label, OUTPUT_OHM, Some(ORDINARY_OHM), help);
    let note = match past.number("output", "output_resistance_ohm") {
        Some(_) => "That lies outside 0 to 20 Ω.",
        None => "The coil's resistance is read together with it. Stated, it is believed to a fifth of itself.",
    };
    let find = "One take more, with the resistor across the output. Not with a valve amplifier of which nobody knows the load it wants.";
    let action = Action::Ask { fields: vec![field], button: "Keep".to_owned() };
    Some(
        Step::new(Stage::Connect, "output", "What is the amplifier's output resistance?", action)
            .note(note)
            .choices(vec![choice("find_output", "Find it with the resistor", find)]),
    )
}

/// As typed.
pub(super) fn output_ohm(past: &Past) -> Option<f64> {
    past.number("output", "output_resistance_ohm").filter(|r| (OUTPUT_OHM.0..=OUTPUT_OHM.1).contains(r))
}

/// It is found from a take.
pub(super) fn finds_output(past: &Past) -> bool {
    past.times_chosen("output", "find_output") > 0
}

/// The wiring without the resistor.
pub(super) fn connect(bench: &MicrophoneBench, past: &Past) -> Option<Step> {
    if past.confirmed_at("connect").is_some() {
        return None;
    }
    let note = if bench.practice {
        "Nothing needs wiring on the practice bench. The drawing shows what it stands for."
    } else {
        "Amplifier to driver, no resistor yet, and no wire into any input. From here on touch no volume and no gain knob, \
         and do not move the microphone: all takes are compared with one another."
    };
    let shown = if bench.practice {
        Vec::new()
    } else {
        vec![cautions::amplifier_load(), cautions::excursion(), cautions::hearing()]
    };
    let action = Action::Confirm { button: "Connected".to_owned() };
    Some(
        Step::new(
            Stage::Connect,
            "connect",
            "The amplifier straight to the driver, the microphone before the cone.",
            action,
        )
        .note(note)
        .cautions(shown)
        .drawing(wiring(bench, DrawingKind::CloseWithout)),
    )
}

/// A drawing with the person's values.
pub(super) fn wiring(bench: &MicrophoneBench, kind: DrawingKind) -> Drawing {
    let mut labels =
        vec![("output", "amplifier".to_owned()), ("microphone", "microphone, a finger's width away".to_owned())];
    if kind != DrawingKind::CloseWithout {
        labels.push(("resistor", ohm_words(bench.series_resistor_ohm)));
    }
    drawing(kind, &labels)
}
