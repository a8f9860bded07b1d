//! Stations before anything sounds: is the setup usable, the bench card, the wiring, the coil by ohms.

use super::super::bench::{MeterBench, Output};
use super::super::build::{attitude, choice, drawing, ohm_field, ohm_words, tick};
use super::super::cautions;
use super::super::past::Past;
use super::super::step::{Action, Answer, Caution, DrawingKind, Field, Stage, Step, TickItem};
use crate::electrical::meter_reading::Across;
use crate::signal::notice::{Code, Notice};

/// Series resistors outside this are a slip of the pen or give no figure. Common practice, no source.
const RESISTOR_OHM: (f64, f64) = (1.0, 10_000.0);

/// A setup that cannot give a figure is refused at once.
pub(super) fn setup(bench: &MeterBench, _: &Past) -> Option<Step> {
    let ohm = bench.series_resistor_ohm;
    let notice = if !(RESISTOR_OHM.0..=RESISTOR_OHM.1).contains(&ohm) {
        Notice::new(Code::WrongResistor, &[("series_resistor_ohm", if ohm.is_finite() { ohm } else { 0.0 })])
    } else if bench.accuracy.check().is_err() {
        Notice::new(Code::CoarseReadings, &[])
    } else if !bench.by_hand && !(8000.0..=768_000.0).contains(&bench.rate_hz) {
        Notice::new(Code::LowRate, &[("rate_hz", if bench.rate_hz.is_finite() { bench.rate_hz } else { 0.0 })])
    } else {
        return None;
    };
    Some(Step::refused(Stage::BenchCard, "setup_refused", notice, Vec::new()))
}

/// What spoils the reading. What was read elsewhere is past helping.
pub(super) fn bench_card(bench: &MeterBench, past: &Past) -> Option<Step> {
    if bench.by_hand {
        return None;
    }
    if past.times_chosen("bench_card", "foam_crumbles") > 0 {
        let back = choice("again:bench_card", "The surround is whole", "Looked at again, and it holds together.");
        return Some(Step::refused(
            Stage::BenchCard,
            "foam_refused",
            Notice::new(Code::CrumblingFoam, &[]),
            vec![back],
        ));
    }
    let items = card(bench);
    let ticked = |item: &TickItem| past.answer("bench_card", &item.id) == Some(&Answer::Bool(true));
    if past.confirmed_at("bench_card").is_some() && items.iter().filter(|i| i.required).all(ticked) {
        return None;
    }
    let action =
        Action::Tick { items, picks: vec![attitude()], fields: Vec::new(), button: "The bench is ready".to_owned() };
    let mut shown = vec![cautions::foam(), cautions::magnet()];
    if bench.output == Output::Amplifier && !bench.practice {
        shown.push(cautions::mains());
    }
    Some(
        Step::new(Stage::BenchCard, "bench_card", "Look the bench over first.", action)
            .note("These spoil the reading. Tick what is so; what stays open is kept with the reading.")
            .cautions(shown)
            .choices(vec![choice("foam_crumbles", "The foam crumbles", "Then the cone is not driven.")]),
    )
}

fn card(bench: &MeterBench) -> Vec<TickItem> {
    let mut items = vec![
        tick("vent_free", "The magnet's vent is free", "A covered vent adds stiffness and loss.", false),
        tick("frame_held", "The frame is held firmly", "A frame that moves adds a second resonance.", false),
        tick("warm", "The driver is at room temperature", "5 K are 2 % of the coil's resistance.", false),
        tick("neighbours", "No other driver stands close by", "Others resonate along.", false),
    ];
    if !bench.practice {
        let help = "It reads alternating volts of a sine; ranges that change by themselves may do so.";
        items.push(tick("alternating", "The meter stands at alternating volts", help, false));
    }
    items
}

/// The wiring, with the person's own values.
pub(super) fn connect(bench: &MeterBench, past: &Past) -> Option<Step> {
    if bench.by_hand || past.confirmed_at("connect").is_some() {
        return None;
    }
    let output = match bench.output {
        Output::Headphones => "headphone output",
        Output::Amplifier => "amplifier",
    };
    let labels = [
        ("resistor", ohm_words(bench.series_resistor_ohm)),
        ("output", output.to_owned()),
        ("first_volts", "across the driver".to_owned()),
        ("second_volts", second_words(bench).to_owned()),
    ];
    let note = if bench.practice {
        "Nothing needs wiring on the practice bench. The drawing shows what it stands for."
    } else {
        "The meter is held by hand, first across the driver's terminals, then across the other pair. One meter for both: \
         its errors of gain and frequency cancel."
    };
    let sentence = format!("Put {} between output and driver.", ohm_words(bench.series_resistor_ohm));
    Some(
        Step::new(Stage::Connect, "connect", &sentence, Action::Confirm { button: "Connected".to_owned() })
            .note(note)
            .cautions(wiring_cautions(bench))
            .drawing(drawing(DrawingKind::MeterByHand, &labels)),
    )
}

/// Across what the second voltage is read.
pub(super) fn second_words(bench: &MeterBench) -> &'static str {
    match bench.across {
        Across::Resistor => "across the resistor",
        Across::Both => "across driver and resistor together",
    }
}

fn wiring_cautions(bench: &MeterBench) -> Vec<Caution> {
    match (bench.practice, bench.output) {
        (true, _) => Vec::new(),
        (false, Output::Headphones) => vec![cautions::excursion()],
        (false, Output::Amplifier) => {
            vec![cautions::amplifier_output(), cautions::amplifier_load(), cautions::excursion()]
        }
    }
}

/// The coil by the meter's ohms, the leads subtracted.
pub(super) fn ohms(_: &MeterBench, past: &Past) -> Option<Step> {
    if past.confirmed_at("ohms").is_some() || past.times_chosen("ohms", "skip") > 0 {
        return None;
    }
    let ohm = Field { optional: true, ..ohm_field("ohms", "Driver and leads", (0.1, 2000.0), None, COIL_HELP) };
    let leads = Field { optional: true, ..ohm_field("leads_ohm", "The leads alone", (0.0, 20.0), None, LEADS_HELP) };
    let action = Action::Ask { fields: vec![ohm, leads], button: "Keep".to_owned() };
    Some(
        Step::new(Stage::Measure, "ohms", "What is the coil by ohms?", action)
            .note("Nothing sounds yet. It makes Q and the coil's resistance more certain; nine tones alone leave them loose.")
            .choices(vec![choice("skip", "No ohms reading", "The tones then say it, less surely.")]),
    )
}

const COIL_HELP: &str = "The meter at ohms across the driver, resistor and output taken off, the cone at rest.";
const LEADS_HELP: &str = "The tips of the leads held together; it is subtracted.";

/// R_e by ohms, where it was typed and makes sense.
pub(super) fn r_e_ohm(past: &Past) -> Option<f64> {
    let leads = past.number("ohms", "leads_ohm").unwrap_or(0.0);
    past.number("ohms", "ohms").map(|ohm| ohm - leads).filter(|ohm| (0.05..=2000.0).contains(ohm))
}
