//! Stations of the polarity check. Takes of pushes and of the cell are recorded in silence, for a fixed time.

use super::super::bench::PolarityBench;
use super::super::build::{channel_words, choice, drawing, tick};
use super::super::closing::{self, Ending, Material};
use super::super::past::{take_use, Past};
use super::super::step::{Action, Answer, Caution, Choice, Drawing, DrawingKind, Happening, Pick, PickOption};
use super::super::step::{ReadingNote, Stage, Step, TakeNote};
use super::super::{cautions, defaults};
use crate::acoustic::polarity::PolarityMethod;
use crate::signal::notice::Code;
use crate::signal::stimulus::{Shape, Stimulus};

/// Five pushes two seconds apart, with a breath before and after.
const PUSH_S: u32 = 13;
/// Three touches of the cell.
const CELL_S: u32 = 8;
/// Pulses; the average over them halves the room's noise twice.
const PULSES: u32 = 8;
/// First level of the pulse: hardly heard at the cone.
const PULSE_DBFS: f64 = -26.0;
/// Step upwards, by a press each, and the end of it.
const LOUDER_DB: f64 = 6.0;
const LOUDEST_DBFS: f64 = -2.0;
/// Frequency of which one cycle is the pulse: 1.4 ms, slow enough for a woofer, quick enough for a tweeter.
const PULSE_HZ: f64 = 700.0;

/// What makes a sign worthless, and what could be harmed.
pub(super) fn bench_card(bench: &PolarityBench, past: &Past) -> Option<Step> {
    if past.confirmed_at("bench_card").is_some() {
        return None;
    }
    let items = match bench.method {
        PolarityMethod::Push => vec![
            tick(
                "terminals_free",
                "The driver hangs on nothing else",
                "An amplifier or crossover swallows the voltage.",
                false,
            ),
            tick(
                "marked",
                "The marked terminal is found",
                "A plus, a red dot, a red lead: the sign is told for it.",
                false,
            ),
            tick(
                "cap_left",
                "The push goes on the cone, not on the cap",
                "Caps dent. Two fingers near the middle push it straight.",
                false,
            ),
        ],
        PolarityMethod::Pulse => vec![
            tick(
                "alike",
                "Every driver is driven over the same leads",
                "A lead turned round between two drivers turns the sign.",
                false,
            ),
            tick("quiet", "The room is quiet", "Noise hides the first arrival.", false),
        ],
    };
    let action = Action::Tick { items, picks: Vec::new(), fields: Vec::new(), button: "Ready".to_owned() };
    let mut shown = vec![cautions::old_professional(), cautions::magnet()];
    if bench.method == PolarityMethod::Pulse {
        shown.push(cautions::hearing());
    }
    Some(
        Step::new(Stage::BenchCard, "bench_card", "Look the bench over first.", action)
            .note("Wire by measured motion, not by paint.")
            .cautions(shown),
    )
}

/// The path's own sign: known with the device, learnt now, or left out.
pub(super) fn learn(bench: &PolarityBench, past: &Past) -> Option<Step> {
    if bench.input_inverts.is_some() {
        return None;
    }
    let Some(Answer::Text(way)) = past.answer("sign", "way") else { return Some(ask_sign(bench)) };
    match way.as_str() {
        "cell" => taught(bench, past, "cell", "connect_cell"),
        "known_driver" => taught(bench, past, "known_driver", "connect_known_driver"),
        _ => None,
    }
}

fn ask_sign(bench: &PolarityBench) -> Step {
    let option = |id: &str, label: &str| PickOption { id: id.to_owned(), label: label.to_owned() };
    let mut options = vec![
        option("known_driver", "by a driver known to move outwards for plus"),
        option("compare", "not now: only compare drivers with each other"),
    ];
    let (default, note) = match bench.method {
        PolarityMethod::Push => {
            options.insert(0, option("cell", "by a 1.5 V cell through 10 kΩ and 1 kΩ"));
            ("cell", "Some inputs turn every signal upside down. It is learnt once and kept with this input.")
        }
        PolarityMethod::Pulse => (
            "known_driver",
            "Output, amplifier and microphone may each turn the signal round. The way as a whole is learnt once.",
        ),
    };
    let pick = Pick { id: "way".to_owned(), label: "Learn it".to_owned(), options, default: default.to_owned() };
    let action = Action::Tick { items: Vec::new(), picks: vec![pick], fields: Vec::new(), button: "Go on".to_owned() };
    Step::new(Stage::Connect, "sign", "Which way round does this path hear?", action).note(note)
}

fn taught(bench: &PolarityBench, past: &Past, step: &str, connect: &str) -> Option<Step> {
    if !fresh(past, step).is_empty() {
        return None;
    }
    if past.confirmed_at(connect).is_none() {
        return Some(connect_teacher(bench, step, connect));
    }
    Some(record(bench, past, step))
}

fn connect_teacher(bench: &PolarityBench, step: &str, connect: &str) -> Step {
    let input = channel_words(bench.channel);
    let (sentence, note) = match step {
        "cell" => (
            "Put the cell behind 10 kΩ, and 1 kΩ across the input.".to_owned(),
            format!("Minus of the cell to the sleeve of {input}. The tip is touched by the free end of the 10 kΩ, which hangs on plus."),
        ),
        _ => match bench.method {
            PolarityMethod::Push => (
                "Connect the known driver: marked terminal to the tip.".to_owned(),
                format!("The other terminal to the sleeve of {input}."),
            ),
            PolarityMethod::Pulse => (
                "Connect the known driver, and hold the microphone to its cone.".to_owned(),
                "Marked terminal to the output's plus; a finger's width from the cone.".to_owned(),
            ),
        },
    };
    let shown = if step == "cell" { vec![cautions::direct_current()] } else { Vec::new() };
    let drawn = if step == "cell" { cell_drawing(bench) } else { driver_drawing(bench) };
    Step::new(Stage::Connect, connect, &sentence, Action::Confirm { button: "Connected".to_owned() })
        .note(&note)
        .cautions(shown)
        .drawing(drawn)
}

fn cell_drawing(bench: &PolarityBench) -> Drawing {
    let labels = [
        ("cell", "1.5\u{a0}V".to_owned()),
        ("series", "10\u{a0}kΩ".to_owned()),
        ("shunt", "1\u{a0}kΩ".to_owned()),
        ("input", channel_words(bench.channel)),
        ("touch", "touch the tip here".to_owned()),
    ];
    drawing(DrawingKind::CellDivider, &labels)
}

fn driver_drawing(bench: &PolarityBench) -> Drawing {
    match bench.method {
        PolarityMethod::Push => drawing(
            DrawingKind::PushCable,
            &[
                ("input", channel_words(bench.channel)),
                ("terminals", "marked terminal to the tip".to_owned()),
                ("rest", "folded cloth, magnet down, on nothing else".to_owned()),
            ],
        ),
        PolarityMethod::Pulse => drawing(
            DrawingKind::DrivenMicrophone,
            &[
                ("microphone", "a finger's width away".to_owned()),
                ("rest", "marked terminal to the output's plus".to_owned()),
            ],
        ),
    }
}

/// Takes at the level that counts: a press of 'louder' makes those before it worthless.
fn fresh<'a>(past: &Past<'a>, step: &str) -> Vec<(usize, &'a TakeNote)> {
    let louder =
        past.events().iter().rposition(|e| matches!(e, Happening::Chosen { choice, .. } if choice == "louder"));
    past.takes(step).into_iter().filter(|(at, _)| louder.is_none_or(|l| *at > l)).collect()
}

/// A driver's place in the run: the takes so far, and one more for every 'another driver'.
fn wanted(past: &Past) -> usize {
    1 + past.times_chosen("read", "another_driver")
}

/// One driver after the other.
pub(super) fn drivers(bench: &PolarityBench, past: &Past) -> Option<Step> {
    let done = fresh(past, "driver").len();
    if done >= wanted(past) {
        return None;
    }
    // Confirmed since the last take.
    let last = fresh(past, "driver").last().map_or(0, |(at, _)| at + 1);
    if past.confirmed_at("connect_driver").is_none_or(|at| at < last) {
        return Some(connect_driver(bench, done + 1));
    }
    Some(record(bench, past, "driver"))
}

fn connect_driver(bench: &PolarityBench, number: usize) -> Step {
    let (sentence, note) = match bench.method {
        PolarityMethod::Push => (
            format!("Driver {number}: marked terminal to the tip, the other to the sleeve."),
            format!(
                "On {}. The terminal that the tip meets is the one the sign is told for.",
                channel_words(bench.channel)
            ),
        ),
        PolarityMethod::Pulse => (
            format!("Driver {number}: hold the microphone to its cone."),
            "A finger's width away, the others covered with a hand or a cushion. The leads stay as they are."
                .to_owned(),
        ),
    };
    let shown = match bench.method {
        PolarityMethod::Push => vec![cautions::input_volts()],
        PolarityMethod::Pulse => vec![cautions::excursion(), cautions::hearing()],
    };
    Step::new(Stage::Connect, "connect_driver", &sentence, Action::Confirm { button: "Connected".to_owned() })
        .note(&note)
        .cautions(if bench.practice { Vec::new() } else { shown })
        .drawing(driver_drawing(bench))
}

fn record(bench: &PolarityBench, past: &Past, role: &str) -> Step {
    let (sentence, note, seconds) = match (bench.method, role) {
        (PolarityMethod::Push, "cell") => (
            "Touch the tip three times with plus.",
            "Each touch for less than a second, two seconds apart. Wait a second before the first.",
            CELL_S,
        ),
        (PolarityMethod::Push, _) => (
            "Push the cone straight in, five times.",
            "A gentle, quick press of a millimetre, and let go within half a second. Two seconds between pushes, and wait one before the first.",
            PUSH_S,
        ),
        (PolarityMethod::Pulse, _) => ("Hold still while it clicks.", "Eight clicks, one a second.", PULSES),
    };
    let stimulus = match bench.method {
        PolarityMethod::Push => silence(bench.rate_hz, seconds),
        PolarityMethod::Pulse => pulse(bench.rate_hz, past),
    };
    let tail_s = if bench.method == PolarityMethod::Push { 0.0 } else { defaults::tail_s(bench.practice) };
    let action = Action::Play {
        stimulus,
        role: role.to_owned(),
        tail_s,
        resistor_ohm: None,
        added_mass_kg: None,
        box_volume_m3: None,
        channels: vec![bench.channel],
        by_itself: false,
        button: if bench.method == PolarityMethod::Push { "Record" } else { "Play the clicks" }.to_owned(),
    };
    Step::new(Stage::Measure, role, sentence, action).note(note).cautions(measure_cautions(bench, role)).progress(
        0,
        1,
        Some(f64::from(seconds) + tail_s),
    )
}

fn measure_cautions(bench: &PolarityBench, role: &str) -> Vec<Caution> {
    match (bench.method, role) {
        _ if bench.practice => Vec::new(),
        (PolarityMethod::Push, "cell") => vec![cautions::direct_current()],
        (PolarityMethod::Push, _) => vec![cautions::foam()],
        (PolarityMethod::Pulse, _) => vec![cautions::hearing(), cautions::excursion()],
    }
}

fn silence(rate_hz: f64, seconds: u32) -> Stimulus {
    Stimulus { shape: Shape::Silence, ..defaults::tone(rate_hz, 100.0, -60.0, seconds) }
}

/// The pulse, louder by a step for every press of 'louder'.
fn pulse(rate_hz: f64, past: &Past) -> Stimulus {
    let louder = past.times_chosen("read", "louder") as f64;
    let peak_dbfs = (PULSE_DBFS + LOUDER_DB * louder).min(LOUDEST_DBFS);
    Stimulus { shape: Shape::Pulse, ..defaults::tone(rate_hz, PULSE_HZ, peak_dbfs, PULSES) }
}

/// Every take of the run, teachers first.
fn takes<'a>(past: &Past<'a>) -> Vec<(usize, &'a TakeNote)> {
    let mut all = Vec::new();
    for step in ["cell", "known_driver"] {
        all.extend(fresh(past, step).last().copied());
    }
    all.extend(fresh(past, "driver"));
    all
}

fn material(past: &Past) -> Material {
    Material::of(takes(past).into_iter().map(|(at, take)| take_use(past, at, take)).collect())
}

/// The takes were not read yet.
pub(super) fn analyse(_: &PolarityBench, past: &Past) -> Option<Step> {
    closing::analyse(past, material(past))
}

/// End of the road, as far as it goes.
pub(super) fn read(bench: &PolarityBench, past: &Past) -> Step {
    closing::read(past, material(past), |reading| Ending {
        next: suggestions(bench, past, reading),
        note: "Mark each terminal by what was measured, before anything is wired.".to_owned(),
        notices: Vec::new(),
    })
}

fn suggestions(bench: &PolarityBench, past: &Past, reading: &ReadingNote) -> Vec<Choice> {
    let mut next = Vec::new();
    let refused = reading.refusal.as_ref().map(|n| n.code);
    let quiet = pulse(bench.rate_hz, past).peak_dbfs < LOUDEST_DBFS;
    if bench.method == PolarityMethod::Pulse && refused == Some(Code::NoMovement) && quiet {
        next.push(choice("louder", "The same, 6 dB louder", "Nothing stood clear of the noise."));
    }
    if refused == Some(Code::InputSignUnknown) || refused == Some(Code::Contradiction) {
        next.push(choice("again:sign", "Learn the input's sign", "With a cell, or with a driver that is known."));
    }
    if refused.is_none() || refused == Some(Code::InputSignUnknown) {
        next.push(choice(
            "another_driver",
            "Another driver of this loudspeaker",
            "Each terminal as the builder marked it.",
        ));
    }
    next.push(choice("again:drivers", "Begin the drivers again", "The takes so far are kept, and not read."));
    next
}
