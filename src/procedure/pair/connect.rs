//! Stations before the first knock: is the setup usable, the bench card, the two cables.

use super::super::bench::PairBench;
use super::super::build::{attitude, channel_words, choice, drawing, ohm_words, tick};
use super::super::cautions;
use super::super::past::Past;
use super::super::step::{Action, Drawing, DrawingKind, Stage, Step};
use crate::signal::notice::{Code, Notice};

/// A setup that cannot give a figure is refused at once.
pub(super) fn setup(bench: &PairBench) -> Option<Step> {
    let notice = if bench.first_channel == 0 || bench.second_channel == 0 {
        Notice::new(Code::TooFewChannels, &[("wanted_channel", 0.0)])
    } else if bench.first_channel == bench.second_channel {
        Notice::new(Code::SameChannels, &[])
    } else {
        return None;
    };
    Some(Step::refused(Stage::BenchCard, "setup_refused", notice, Vec::new()))
}

/// What spoils the comparison.
pub(super) fn bench_card(past: &Past) -> Option<Step> {
    if past.confirmed_at("bench_card").is_some() {
        return None;
    }
    let items = vec![
        tick(
            "alike",
            "Both drivers lie or stand the same way",
            "Gravity shifts the coil, so two attitudes are two readings.",
            false,
        ),
        tick("apart", "Each on a cloth of its own, an arm's length apart", "A bench hands the knock over.", false),
        tick("vents_free", "Both magnets' vents are free", "A covered vent adds stiffness and loss.", false),
        tick(
            "warm",
            "Both have lain in this room for hours",
            "What is alike in both cancels in their difference.",
            false,
        ),
        tick("rested", "Neither was worked hard in the last half hour", "The suspension softens and recovers.", false),
        tick("terminals_free", "Nothing else hangs on either pair of terminals", "A crossover damps the ring.", false),
        tick("charger_off", "The charger is unplugged", "It brings hum.", false),
    ];
    let action = Action::Tick { items, picks: vec![attitude()], fields: Vec::new(), button: "Ready".to_owned() };
    Some(
        Step::new(Stage::BenchCard, "bench_card", "Look both drivers over first.", action)
            .note("What differs between the two here will stand in their difference. What stays open is kept with the reading.")
            .cautions(vec![cautions::magnet(), cautions::foam()]),
    )
}

/// A cable from each driver to its input.
pub(super) fn connect(bench: &PairBench, past: &Past) -> Option<Step> {
    if past.confirmed_at("connect").is_some() {
        return None;
    }
    let note = if bench.practice {
        "Nothing needs wiring on the practice bench. The drawing shows what it stands for: a driver and its sister."
    } else {
        "Each coil is its own sensor. Line inputs suit: a third of a millimetre of travel gives 0.1 to 0.5 V. Set both \
         gains alike, and join the two drivers nowhere."
    };
    let step = Step::new(
        Stage::Connect,
        "connect",
        "Clip one cable to each driver, and each cable to an input of its own.",
        Action::Confirm { button: "Connected".to_owned() },
    );
    let step = step.note(note).drawing(cables(bench, None));
    Some(if bench.practice {
        step
    } else {
        step.cautions(vec![cautions::socket_feed()]).choices(vec![choice(
            "again:bench_card",
            "Back to the bench card",
            "",
        )])
    })
}

/// The drawing, with a resistor across one of the two where there is one.
pub(super) fn cables(bench: &PairBench, load: Option<(usize, f64)>) -> Drawing {
    let mut labels = vec![
        ("first_input", channel_words(bench.first_channel)),
        ("second_input", channel_words(bench.second_channel)),
        ("knock", "rubber end of a pencil, near the edge".to_owned()),
        ("rest", "a folded cloth under each, magnet down".to_owned()),
    ];
    if let Some((driver, ohm)) = load {
        labels.push((["first_load", "second_load"][driver], ohm_words(ohm)));
    }
    drawing(DrawingKind::PairCables, &labels)
}
