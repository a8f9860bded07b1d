//! Weight on the cone and known box: rounds that the person asks for after the free reading. Each asks its values, waits
//! until the weight is fitted or the box is closed, and takes the driver once more.

use super::super::bench::ImpedanceBench;
use super::super::build::{choice, kilogram_field};
use super::super::known_box::{self, BOX_M3, CLOSED, DIAMETER_M, DISPLACEMENT_M3};
use super::super::past::Past;
use super::super::step::{Action, Choice, DrawingKind, Field, Happening, Stage, Step, TakeNote};
use super::super::{cautions, defaults};
use super::connect::jig;
use super::level::found;
use super::takes::{fault, TRIES};
use crate::driver::mounted::{suggested_weight_kg, usual_mass_kg};
use crate::signal::wording::three_digits;

/// What a round adds to the driver.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    Weight,
    Box,
}

/// A stretch of the past that belongs to one weight or box.
#[derive(Clone, Copy, Debug)]
struct Round {
    kind: Kind,
    from: usize,
    to: usize,
}

/// Weights that any driver meets; beyond them it is a slip of the pen.
const MASS_KG: (f64, f64) = (0.0005, 1.0);

impl Kind {
    fn ask(self) -> &'static str {
        match self {
            Kind::Weight => "weight",
            Kind::Box => "box",
        }
    }

    fn fitted(self) -> &'static str {
        match self {
            Kind::Weight => "weight_fitted",
            Kind::Box => "box_fitted",
        }
    }

    fn play(self) -> &'static str {
        match self {
            Kind::Weight => "driver_weighted",
            Kind::Box => "driver_in_box",
        }
    }

    /// Name of the value that the round is about.
    fn value(self) -> &'static str {
        match self {
            Kind::Weight => "added_mass_kg",
            Kind::Box => "box_volume_m3",
        }
    }

    fn range(self) -> (f64, f64) {
        match self {
            Kind::Weight => MASS_KG,
            Kind::Box => BOX_M3,
        }
    }
}

/// Station: rounds asked for at the reading.
pub(super) fn mounted(bench: &ImpedanceBench, past: &Past) -> Option<Step> {
    rounds(past).iter().find_map(|round| next(bench, past, round))
}

/// The usable takes of all rounds.
pub(super) fn good_takes<'a>(bench: &ImpedanceBench, past: &Past<'a>) -> Vec<(usize, &'a TakeNote)> {
    rounds(past).iter().filter_map(|round| good_take(bench, past, round)).collect()
}

/// Answers that the analysis wants beside the takes.
pub(super) fn fields(past: &Past) -> Vec<(&'static str, f64)> {
    let mut out = Vec::new();
    for (name, range) in [("effective_diameter_m", DIAMETER_M), ("driver_displacement_m3", DISPLACEMENT_M3)] {
        let given = past.number("weight", name).or_else(|| past.number("box", name));
        out.extend(given.filter(|v| (range.0..=range.1).contains(v)).map(|v| (name, v)));
    }
    for name in ["air_temperature_c", "air_pressure_pa"] {
        out.extend(past.number("box", name).or_else(|| past.number("weight", name)).map(|v| (name, v)));
    }
    out
}

/// What could be done next at the reading.
pub(super) fn offers(past: &Past) -> Vec<Choice> {
    let mut out = vec![
        choice("add_weight", "A weight on the cone", "Gives the moving mass, the motor, compliance and V_as."),
        choice("in_box", "In a known box", "Gives V_as from a closed box of known volume."),
    ];
    if rounds(past).iter().any(|r| good(past, r)) {
        let help = "The takes with weight and box are kept, and not read.";
        out.push(choice("without_mountings", "Read without weight and box", help));
    }
    out
}

fn rounds(past: &Past) -> Vec<Round> {
    let mut rounds: Vec<Round> = Vec::new();
    for (at, event) in past.events().iter().enumerate() {
        let Happening::Chosen { step, choice } = event else { continue };
        let kind = match choice.as_str() {
            "add_weight" => Kind::Weight,
            "in_box" => Kind::Box,
            "without_mountings" => {
                rounds.clear();
                continue;
            }
            _ => continue,
        };
        if step.starts_with("read") {
            if let Some(last) = rounds.last_mut() {
                last.to = at;
            }
            rounds.push(Round { kind, from: at, to: past.events().len() });
        }
    }
    rounds
}

fn next(bench: &ImpedanceBench, past: &Past, round: &Round) -> Option<Step> {
    let inside = &past.events()[round.from..round.to];
    let given_up = inside.iter().any(|e| matches!(e, Happening::Chosen { choice, .. } if choice == "give_up"));
    if given_up || good_take(bench, past, round).is_some() {
        return None;
    }
    let range = round.kind.range();
    let Some(value) = number(past, round, round.kind.value()).filter(|v| (range.0..=range.1).contains(v)) else {
        return Some(ask(past, round));
    };
    let own_m3 = number(past, round, "driver_displacement_m3");
    if round.kind == Kind::Box && !known_box::fits(value, own_m3, diameter(past)) {
        return Some(ask(past, round));
    }
    if answers(past, round, round.kind.fitted()).is_none() {
        return Some(fit(bench, round.kind, value));
    }
    Some(play(bench, past, round, value))
}

fn good(past: &Past, round: &Round) -> bool {
    past.takes(round.kind.play()).iter().any(|(at, _)| (round.from..round.to).contains(at))
}

fn good_take<'a>(bench: &ImpedanceBench, past: &Past<'a>, round: &Round) -> Option<(usize, &'a TakeNote)> {
    let takes = past.takes(round.kind.play()).into_iter();
    let mut inside = takes.filter(|(at, _)| (round.from..round.to).contains(at));
    inside.find(|(_, take)| fault(bench, take).is_none())
}

fn answers<'a>(past: &Past<'a>, round: &Round, step: &str) -> Option<&'a Happening> {
    let inside = past.events()[round.from..round.to].iter().rev();
    inside.copied().find(|e| matches!(e, Happening::Confirmed { step: s, .. } if s == step))
}

fn number(past: &Past, round: &Round, name: &str) -> Option<f64> {
    match answers(past, round, round.kind.ask())? {
        Happening::Confirmed { answers, .. } => answers.get(name)?.number(),
        _ => None,
    }
}

fn ask(past: &Past, round: &Round) -> Step {
    let again = answers(past, round, round.kind.ask()).is_some();
    let fields = match round.kind {
        Kind::Box => known_box::fields(diameter(past).is_some()),
        Kind::Weight => {
            let diameter = diameter(past).is_none().then(known_box::diameter_field);
            [weight_field(past)].into_iter().chain(diameter).chain(known_box::air_fields()).collect()
        }
    };
    let (sentence, note) = match (round.kind, again) {
        (Kind::Weight, false) => {
            ("How heavy is the weight?", "It lowers the resonance, and that tells the moving mass.")
        }
        (Kind::Weight, true) => ("How heavy is the weight?", "Half a gram to a kilogram, please."),
        (Kind::Box, again) => known_box::question(again),
    };
    let shown = if round.kind == Kind::Weight { vec![cautions::weight()] } else { Vec::new() };
    Step::new(Stage::Measure, round.kind.ask(), sentence, Action::Ask { fields, button: "Keep".to_owned() })
        .note(note)
        .cautions(shown)
        .choices(vec![choice("give_up", "Not now", "Back to the reading.")])
}

fn diameter(past: &Past) -> Option<f64> {
    past.number("weight", "effective_diameter_m").or_else(|| past.number("box", "effective_diameter_m"))
}

fn weight_field(past: &Past) -> Field {
    let help = match proposed_kg(past) {
        Some((kg, true)) => format!("With putty, weighed to 1 %. About {}\u{a0}g serves this cone best.", grams(kg)),
        Some((kg, false)) => {
            format!("With putty, weighed to 1 %. For a cone of this size about {}\u{a0}g is a start.", grams(kg))
        }
        None => "With putty, weighed to 1 %. Half of the moving mass serves best: 5 g for 5 inches, 10 g for 6, 20 g for 10, \
                 40 g for 12, 70 g for 15 (common practice)."
            .to_owned(),
    };
    kilogram_field("added_mass_kg", "Weight and putty together", MASS_KG, &help)
}

/// Weight that suits, and whether a measured mass says so: 30 to 100 % of M_ms, the middle by ratio.
fn proposed_kg(past: &Past) -> Option<(f64, bool)> {
    let measured = past.events().iter().rev().find_map(|e| match e {
        Happening::Read { reading } => reading.values.get("m_ms_kg").copied(),
        _ => None,
    });
    if let Some(mass) = measured {
        return Some((suggested_weight_kg(mass), true));
    }
    let diameter =
        past.number("weight", "effective_diameter_m").or_else(|| past.number("box", "effective_diameter_m"))?;
    Some((suggested_weight_kg(usual_mass_kg(diameter)), false))
}

fn grams(kg: f64) -> String {
    three_digits(1000.0 * kg)
}

fn fit(bench: &ImpedanceBench, kind: Kind, value: f64) -> Step {
    let action = Action::Confirm { button: "Fitted".to_owned() };
    match kind {
        Kind::Weight => {
            let grams = format!("{}\u{a0}g", grams(value));
            Step::new(Stage::Connect, kind.fitted(), &format!("Fix {grams} to the cone with putty."), action)
                .note("Close to the middle, so that the cone does not tilt. The leads stay where they are, the attitude as before.")
                .cautions(vec![cautions::weight(), cautions::magnet()])
                .drawing(jig(bench, DrawingKind::TwoChannelDivider, &[]))
        }
        Kind::Box => {
            let litres = known_box::litre_words(value);
            Step::new(Stage::Connect, kind.fitted(), &format!("Close the driver into the box of {litres}."), action)
                .note(CLOSED)
                .cautions(vec![cautions::magnet()])
                .drawing(jig(bench, DrawingKind::TwoChannelDivider, &[]))
        }
    }
}

fn play(bench: &ImpedanceBench, past: &Past, round: &Round, value: f64) -> Step {
    let tries = past.takes(round.kind.play()).into_iter().filter(|(at, _)| (round.from..round.to).contains(at));
    let tries: Vec<&TakeNote> = tries.map(|(_, take)| take).collect();
    let last = tries.last().and_then(|take| fault(bench, take));
    let give_up = choice("give_up", "Not now", "Back to the reading without it.");
    if let Some(notice) = last.clone().filter(|_| tries.len() >= TRIES) {
        return Step::refused(Stage::Measure, "mounted_refused", notice, vec![give_up]);
    }
    let (level_dbfs, _) = found(bench, past);
    let stimulus = defaults::measuring(bench.rate_hz, level_dbfs);
    let seconds = defaults::seconds(&stimulus) + defaults::tail_s(bench.practice);
    let action = Action::Play {
        stimulus,
        role: "driver".to_owned(),
        tail_s: defaults::tail_s(bench.practice),
        resistor_ohm: None,
        added_mass_kg: (round.kind == Kind::Weight).then_some(value),
        box_volume_m3: (round.kind == Kind::Box).then_some(value),
        channels: vec![bench.source_channel, bench.driver_channel],
        by_itself: false,
        button: "Measure".to_owned(),
    };
    Step::new(Stage::Measure, round.kind.play(), "Measuring. Leave the driver alone.", action)
        .note("The same signal at the same level as before.")
        .cautions(if bench.practice { Vec::new() } else { vec![cautions::hearing(), cautions::foam()] })
        .progress(0, 1, Some(seconds))
        .choices(vec![give_up])
        .notices(last.into_iter().collect())
}
