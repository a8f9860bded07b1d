//! Rounds of knocks: with open terminals first, then as the person chooses: a resistor, a weight, or the same again.
//! Each round asks for its value, has it fitted, and listens until enough knocks can be used.

use super::super::bench::{KnockBench, Sensor};
use super::super::build::{choice, drawing, ohm_field, ohm_words};
use super::super::cautions;
use super::super::known_box::{self, litre_words, CLOSED};
use super::super::past::Past;
use super::super::step::{Action, Drawing, DrawingKind, Field, Happening, Stage, Step, TakeNote};
use super::connect::sensor_labels;
use super::listen;
use super::proposals;
use super::read::last_values;
use crate::signal::notice::{Code, Notice};
use crate::signal::wording::three_digits;

/// What is changed for a round.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    /// Terminals open, no weight.
    Open,
    /// A resistor across the terminals.
    Load,
    /// A weight on the cone.
    Weight,
    /// Closed into a box of known volume, terminals open.
    Box,
    /// The same with the last resistor across the terminals.
    BoxLoad,
}

/// One round: the happenings from its choice up to the next round's.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Round {
    /// Kind.
    pub kind: Kind,
    /// First happening of it.
    pub from: usize,
    /// One behind the last.
    pub to: usize,
}

impl Kind {
    /// Step during which this kind listens.
    pub(super) fn listen_step(self) -> &'static str {
        match self {
            Kind::Open => "listen",
            Kind::Load => "listen_loaded",
            Kind::Weight => "listen_weighted",
            Kind::Box => "listen_boxed",
            Kind::BoxLoad => "listen_boxed_loaded",
        }
    }
}

/// Rounds so far, the first always with open terminals.
pub(super) fn rounds(_: &KnockBench, past: &Past) -> Vec<Round> {
    let mut rounds = vec![Round { kind: Kind::Open, from: 0, to: past.events().len() }];
    for (at, event) in past.events().iter().enumerate() {
        let Happening::Chosen { step, choice } = event else { continue };
        let kind = match choice.as_str() {
            "knock_again" => Kind::Open,
            "add_resistor" => Kind::Load,
            "add_weight" => Kind::Weight,
            "in_box" => Kind::Box,
            "box_resistor" => Kind::BoxLoad,
            _ => continue,
        };
        if !step.starts_with("read") {
            continue;
        }
        if let Some(last) = rounds.last_mut() {
            last.to = at;
        }
        rounds.push(Round { kind, from: at, to: past.events().len() });
    }
    rounds
}

/// What this round still wants; none where it has its take or was given up.
pub(super) fn next(bench: &KnockBench, past: &Past, round: &Round) -> Option<Step> {
    let given_up = past.events()[round.from..round.to]
        .iter()
        .any(|e| matches!(e, Happening::Chosen { choice, .. } if choice == "give_up"));
    if (given_up && round.from > 0) || good_take(bench, past, round).is_some() {
        return None;
    }
    match round.kind {
        Kind::Open | Kind::Box | Kind::BoxLoad => {}
        Kind::Load => {
            let ohm = number(past, round, "load", "load_ohm").filter(|r| (LOAD_OHM.0..=LOAD_OHM.1).contains(r));
            let Some(ohm) = ohm else { return Some(ask_load(bench, past, round)) };
            if !confirmed(past, round, "load_fitted") {
                return Some(fit_load(bench, ohm));
            }
        }
        Kind::Weight => {
            let kg = number(past, round, "weight", "added_mass_kg").filter(|m| (MASS_KG.0..=MASS_KG.1).contains(m));
            let Some(kg) = kg else { return Some(ask_weight(bench, past, round)) };
            if !confirmed(past, round, "weight_fitted") {
                return Some(fit_weight(bench, kg));
            }
        }
    }
    let closing = match round.kind {
        Kind::Box => next_box(bench, past, round),
        Kind::BoxLoad => load_in_box(bench, past, round),
        _ => None,
    };
    if closing.is_some() {
        return closing;
    }
    if round.kind == Kind::Open && round.from > 0 && !confirmed(past, round, "opened") {
        return Some(open_again(bench, past));
    }
    Some(listen::listen(bench, past, round))
}

/// Loads that show anything, ohms; a short is refused with its reason.
pub(in crate::procedure) const LOAD_OHM: (f64, f64) = (1.0, 10_000.0);
/// Weights that any cone carries.
const MASS_KG: (f64, f64) = (0.0005, 1.0);

/// The take of a round that can be used.
pub(super) fn good_take<'a>(bench: &KnockBench, past: &Past<'a>, round: &Round) -> Option<(usize, &'a TakeNote)> {
    let takes = past.takes(round.kind.listen_step()).into_iter();
    let mut inside = takes.filter(|(at, _)| (round.from..round.to).contains(at));
    inside.find(|(at, take)| listen::is_good(bench, past, *at, take))
}

/// Whether `step` was confirmed within the round.
fn confirmed(past: &Past, round: &Round, step: &str) -> bool {
    answers(past, round, step).is_some()
}

fn answers<'a>(past: &Past<'a>, round: &Round, step: &str) -> Option<&'a Happening> {
    let inside = past.events()[round.from..round.to].iter().rev();
    inside.copied().find(|e| matches!(e, Happening::Confirmed { step: s, .. } if s == step))
}

/// A number answered at `step` within the round.
pub(super) fn number(past: &Past, round: &Round, step: &str, name: &str) -> Option<f64> {
    match answers(past, round, step)? {
        Happening::Confirmed { answers, .. } => answers.get(name)?.number(),
        _ => None,
    }
}

fn ask_load(bench: &KnockBench, past: &Past, round: &Round) -> Step {
    let values = last_values(past);
    let get = |name: &str| values.and_then(|v| v.get(name)).copied();
    let r_e = bench.r_e_ohm.or_else(|| past.number("load", "r_e_ohm"));
    let suggested = proposals::load_ohm(get("q_ms").unwrap_or(f64::MAX), get("q_es"), r_e);
    let about = match get("q_es") {
        Some(_) => "With this value the ring has a Q of about 1.6, from the figures so far.",
        None => "About this value brings the ring to a Q of 1.6 with most drivers. Measure it with a meter.",
    };
    let help = format!("{about}{}", suggested.and_then(proposals::of_two).unwrap_or_default());
    let mut fields = vec![ohm_field("load_ohm", "Resistor across the terminals", LOAD_OHM, suggested, &help)];
    if bench.r_e_ohm.is_none() {
        fields.push(Field { optional: true, ..r_e_field(r_e) });
    }
    let refused = answers(past, round, "load").is_some();
    let note = if refused {
        "A short or nearly one stops the cone at once, and there is no ring to read. Take 1 Ω or more."
    } else {
        "It damps the ring through the coil, and that tells Q_es and Q_ts."
    };
    let action = Action::Ask { fields, button: "Keep".to_owned() };
    Step::new(Stage::Measure, "load", "Which resistor goes across the terminals?", action)
        .note(note)
        .choices(vec![choice("give_up", "Not now", "Back to the reading.")])
}

fn r_e_field(default: Option<f64>) -> Field {
    let help = "From a meter, at rest. Without it two different resistors are needed.";
    ohm_field("r_e_ohm", "The coil's own resistance", (0.1, 1000.0), default, help)
}

fn fit_load(bench: &KnockBench, ohm: f64) -> Step {
    let mut labels = sensor_labels(bench);
    labels.push(("load", ohm_words(ohm)));
    let action = Action::Confirm { button: "Fitted".to_owned() };
    let sentence = format!("Clip {} across the terminals.", ohm_words(ohm));
    let note = match bench.sensor {
        Sensor::Coil => "The cable stays where it is; the resistor goes beside it.",
        Sensor::Microphone => "The microphone stays where it is. Nothing else may hang on the terminals.",
    };
    Step::new(Stage::Connect, "load_fitted", &sentence, action)
        .note(note)
        .drawing(drawing(DrawingKind::LoadResistor, &labels))
}

fn ask_weight(bench: &KnockBench, past: &Past, round: &Round) -> Step {
    let mass = Field {
        id: "added_mass_kg".to_owned(),
        label: "Weight and putty together".to_owned(),
        unit: "g".to_owned(),
        scale: 0.001,
        low: MASS_KG.0,
        high: MASS_KG.1,
        default: None,
        optional: false,
        help: "Weigh it to 1 % or better. About half of the moving mass serves best.".to_owned(),
    };
    let mut fields = vec![mass];
    if diameter_m(bench, past).is_none() {
        fields.push(Field {
            id: "effective_diameter_m".to_owned(),
            label: "Diameter from middle to middle of the surround".to_owned(),
            unit: "mm".to_owned(),
            scale: 0.001,
            low: 0.01,
            high: 0.6,
            default: None,
            optional: true,
            help: "Wanted for the equivalent volume only.".to_owned(),
        });
    }
    let note = if answers(past, round, "weight").is_some() {
        "Half a gram to a kilogram, please."
    } else {
        "A known weight lowers the resonance, and that tells the moving mass."
    };
    let action = Action::Ask { fields, button: "Keep".to_owned() };
    Step::new(Stage::Measure, "weight", "How heavy is the weight?", action)
        .note(note)
        .cautions(vec![cautions::weight()])
        .choices(vec![choice("give_up", "Not now", "Back to the reading.")])
}

fn fit_weight(bench: &KnockBench, kg: f64) -> Step {
    let grams = format!("{}\u{a0}g", three_digits(1000.0 * kg));
    let mut labels = sensor_labels(bench);
    labels.push(("weight", grams.clone()));
    let action = Action::Confirm { button: "Fitted".to_owned() };
    Step::new(Stage::Connect, "weight_fitted", &format!("Fix {grams} to the cone with putty."), action)
        .note("Close to the middle, so that the cone does not tilt. Terminals open again, the attitude as before.")
        .cautions(vec![cautions::weight(), cautions::magnet()])
        .drawing(drawing(DrawingKind::WeightOnCone, &labels))
}

/// Resistor across the terminals of a round, and volume of its box.
pub(super) fn load_of(past: &Past, round: &Round) -> Option<f64> {
    match round.kind {
        Kind::Load => number(past, round, "load", "load_ohm"),
        Kind::BoxLoad => past.number("load", "load_ohm"),
        _ => None,
    }
}

pub(super) fn box_of(past: &Past, round: &Round) -> Option<f64> {
    match round.kind {
        Kind::Box => number(past, round, "box", "box_volume_m3"),
        Kind::BoxLoad => past.number("box", "box_volume_m3"),
        _ => None,
    }
}

/// The effective diameter, wherever it was stated.
pub(super) fn diameter_m(bench: &KnockBench, past: &Past) -> Option<f64> {
    let answered = past.number("weight", "effective_diameter_m").or_else(|| past.number("box", "effective_diameter_m"));
    bench.effective_diameter_m.or(answered)
}

/// What a round in a box wants before it can be listened to.
fn next_box(bench: &KnockBench, past: &Past, round: &Round) -> Option<Step> {
    let diameter_m = diameter_m(bench, past);
    let own_m3 = number(past, round, "box", "driver_displacement_m3");
    let volume_m3 = box_of(past, round).filter(|v| known_box::fits(*v, own_m3, diameter_m));
    let Some(volume_m3) = volume_m3 else {
        let (sentence, note) = known_box::question(answers(past, round, "box").is_some());
        let action = Action::Ask { fields: known_box::fields(diameter_m.is_some()), button: "Keep".to_owned() };
        let step = Step::new(Stage::Measure, "box", sentence, action).note(note);
        return Some(step.choices(vec![choice("give_up", "Not now", "Back to the reading.")]));
    };
    (!confirmed(past, round, "box_fitted")).then(|| {
        let sentence = format!("Close the driver into the box of {}.", litre_words(volume_m3));
        let action = Action::Confirm { button: "Closed".to_owned() };
        Step::new(Stage::Connect, "box_fitted", &sentence, action)
            .note(&format!("{CLOSED} Resistor and weight are off; the cable comes out through a sealed hole."))
            .cautions(vec![cautions::magnet()])
            .drawing(in_box_drawing(bench, volume_m3, None))
    })
}

/// The resistor in the box, which tells whether the moving mass is the same there.
fn load_in_box(bench: &KnockBench, past: &Past, round: &Round) -> Option<Step> {
    let (Some(ohm), Some(volume_m3)) = (load_of(past, round), box_of(past, round)) else {
        let notice = Notice::new(Code::Contradiction, &[]);
        let back = vec![choice("give_up", "Leave this round out", "Back to the reading.")];
        return Some(Step::refused(Stage::Measure, "listen_refused", notice, back));
    };
    (!confirmed(past, round, "box_loaded")).then(|| {
        let sentence = format!("Clip {} across the terminals again.", ohm_words(ohm));
        Step::new(Stage::Connect, "box_loaded", &sentence, Action::Confirm { button: "Fitted".to_owned() })
            .note("The same part as before, outside the box, beside the cable. The box stays closed.")
            .drawing(in_box_drawing(bench, volume_m3, Some(ohm)))
    })
}

/// The drawing of a driver in its box.
pub(super) fn in_box_drawing(bench: &KnockBench, volume_m3: f64, load_ohm: Option<f64>) -> Drawing {
    let mut labels = sensor_labels(bench);
    labels.retain(|(place, _)| !["rest", "terminals"].contains(place));
    labels.push(("box", litre_words(volume_m3)));
    labels.extend(load_ohm.map(|ohm| ("load", ohm_words(ohm))));
    drawing(DrawingKind::InBox, &labels)
}

fn open_again(bench: &KnockBench, past: &Past) -> Step {
    let action = Action::Confirm { button: "Terminals open".to_owned() };
    let sentence = match past.confirmed_at("box_fitted") {
        Some(_) => "Take resistor and weight off, and the driver out of its box.",
        None => "Take resistor and weight off.",
    };
    Step::new(Stage::Connect, "opened", sentence, action)
        .note("Only the sensor stays connected, as in the first round.")
        .drawing(super::connect::sensor_drawing(bench))
}
