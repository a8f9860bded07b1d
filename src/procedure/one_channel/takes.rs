//! The four takes: resistor, nothing, driver, resistor again. All at one level and in this order, so that a change of
//! gain between the first and the last shows.

use super::super::bench::OneChannelBench;
use super::super::build::{choice, ohm_field};
use super::super::impedance::shared;
use super::super::past::Past;
use super::super::step::{Action, Choice, DrawingKind, Stage, Step, TakeNote};
use super::super::{cautions, defaults};
use super::{fatal, jig, known_ohm, two_inputs};
use crate::signal::notice::{Code, Notice};

/// Step, role, sentence, note and drawing of each take in order.
const TAKES: [(&str, &str, &str, &str, DrawingKind); 4] = [
    (
        "resistor",
        "known_resistor",
        "The known resistor in the driver's place.",
        "Everything is measured against this take.",
        DrawingKind::OneInputResistor,
    ),
    (
        "open",
        "open",
        "Take the resistor off: nothing in the driver's place.",
        "The input stays where it is. From this take the resistance of the output itself is found.",
        DrawingKind::OneInputOpen,
    ),
    (
        "driver",
        "driver",
        "Now the driver. Leave it alone while it plays.",
        "Same clips, same input. Keep still, and keep doors and fans still, until the signal ends.",
        DrawingKind::OneInput,
    ),
    (
        "resistor_again",
        "known_resistor",
        "The known resistor once more.",
        "It shows whether anything moved meanwhile: gain, volume, a clip.",
        DrawingKind::OneInputResistor,
    ),
];
/// Takes in a row that cannot be used before the road ends with the reason.
const TRIES: usize = 3;
/// A cut-off top lowers the level of all takes by so much.
const LOWER_DB: f64 = 6.0;
/// Takes belong together where they were played at one level.
const SAME_LEVEL_DB: f64 = 0.01;
/// Outputs of more than this are not made for headphones.
const OUTPUT_OHM: (f64, f64) = (0.0, 150.0);

/// Station: the takes in their order, then on.
pub(super) fn takes(bench: &OneChannelBench, past: &Past) -> Option<Step> {
    for (done, take) in TAKES.iter().enumerate() {
        if take.0 == "open" && skips_open(past) {
            if output_ohm(past).is_none() {
                return Some(ask_output(past));
            }
            continue;
        }
        if good(bench, past, take.0).is_some() {
            continue;
        }
        let all = past.takes(take.0);
        let faults: Vec<Notice> = all.iter().rev().map_while(|(_, t)| fault(bench, t)).collect();
        if faults.len() >= TRIES {
            let again = choice(&format!("again:{}", take.0), "Take it again", "After the remedy.");
            let wiring = choice("again:connect", "Back to the wiring", "");
            return Some(Step::refused(Stage::Measure, "takes_refused", faults[0].clone(), vec![again, wiring]));
        }
        return Some(play(bench, past, done, faults.into_iter().take(1).collect()));
    }
    None
}

/// The takes of the road that count, with their place.
pub(super) fn counting<'a>(bench: &OneChannelBench, past: &Past<'a>) -> Vec<(usize, &'a TakeNote)> {
    TAKES.iter().filter(|t| t.0 != "open" || !skips_open(past)).filter_map(|t| good(bench, past, t.0)).collect()
}

/// The last take of a step, where it is good and at the level of now.
fn good<'a>(bench: &OneChannelBench, past: &Past<'a>, step: &str) -> Option<(usize, &'a TakeNote)> {
    let level = level_dbfs(bench, past);
    let fits = |t: &TakeNote| t.stimulus_peak_dbfs.is_some_and(|p| (p - level).abs() < SAME_LEVEL_DB);
    past.takes(step).last().copied().filter(|(_, take)| fault(bench, take).is_none() && fits(take))
}

fn fault(bench: &OneChannelBench, take: &TakeNote) -> Option<Notice> {
    if shared::channel(take, bench.channel).is_none() {
        return Some(Notice::new(Code::TooFewChannels, &[("channels", take.channels.len() as f64)]));
    }
    if shared::is_clipped(&two_inputs(bench), take) {
        let peak_dbfs = shared::channel(take, bench.channel).map_or(0.0, |c| c.peak_dbfs);
        return Some(Notice::new(Code::Clipped, &[("peak_dbfs", peak_dbfs)]));
    }
    fatal(&take.notices)
}

/// The level of all takes: as found, lower for every top that was cut off.
pub(super) fn level_dbfs(bench: &OneChannelBench, past: &Past) -> f64 {
    // Takes of the driver are counted where the level is found.
    let others = past.takes_in(&["resistor", "open", "resistor_again"]);
    let clipped = others.iter().filter(|(_, t)| shared::is_clipped(&two_inputs(bench), t)).count();
    shared::found(&two_inputs(bench), past).0 - LOWER_DB * clipped as f64
}

fn skips_open(past: &Past) -> bool {
    past.times_chosen("open", "type_output") > 0
}

/// The output's resistance as typed, where the take with nothing connected is left out.
pub(super) fn output_ohm(past: &Past) -> Option<f64> {
    let typed = past.number("output_value", "output_resistance_ohm");
    typed.filter(|r| skips_open(past) && (OUTPUT_OHM.0..=OUTPUT_OHM.1).contains(r))
}

fn ask_output(past: &Past) -> Step {
    let help = "From the data sheet. A good headphone output has less than 2 Ω, a laptop's up to 30 Ω and more.";
    let field = ohm_field("output_resistance_ohm", "Resistance of the output itself", OUTPUT_OHM, None, help);
    let note = match past.number("output_value", "output_resistance_ohm") {
        Some(_) => "That lies outside 0 to 150 Ω.",
        None => "Stated, it is believed to a fifth of itself; found from a take it is known better.",
    };
    let action = Action::Ask { fields: vec![field], button: "Keep".to_owned() };
    Step::new(Stage::Measure, "output_value", "What is the output's resistance?", action).note(note)
}

fn play(bench: &OneChannelBench, past: &Past, done: usize, faults: Vec<Notice>) -> Step {
    let (id, role, sentence, note, kind) = TAKES[done];
    let stimulus = defaults::marked(bench.rate_hz, level_dbfs(bench, past));
    let tail_s = defaults::tail_s(bench.practice);
    let seconds = defaults::seconds(&stimulus) + tail_s;
    let action = Action::Play {
        stimulus,
        role: role.to_owned(),
        tail_s,
        resistor_ohm: known_ohm(past).filter(|_| role == "known_resistor"),
        added_mass_kg: None,
        box_volume_m3: None,
        channels: vec![bench.channel],
        by_itself: false,
        button: if id == "driver" { "Measure" } else { "Play" }.to_owned(),
    };
    let mut notices = faults;
    notices.extend(shared::found(&two_inputs(bench), past).1);
    let drives = id == "driver" && !bench.practice;
    Step::new(Stage::Measure, id, sentence, action)
        .note(note)
        .cautions(if drives { vec![cautions::hearing(), cautions::foam()] } else { Vec::new() })
        .drawing(jig(bench, past, kind))
        .progress(done, TAKES.len(), Some(seconds))
        .choices(side_choices(id))
        .notices(notices)
}

fn side_choices(id: &str) -> Vec<Choice> {
    let mut choices = Vec::new();
    if id == "open" {
        let help = "Where it is known from a data sheet; the budget then carries how well.";
        choices.push(choice("type_output", "Type the output's resistance instead", help));
    }
    choices.push(choice("again:level", "Look for the level again", "After a knob was turned: all takes begin anew."));
    choices
}
