//! Stations before anything sounds: is the setup usable, the bench card, the wiring, the volts of an amplifier.

use super::super::bench::{ImpedanceBench, Output};
use super::super::build::{attitude, channel_words, choice, drawing, ohm_field, ohm_words, tick};
use super::super::past::Past;
use super::super::step::{Action, Answer, Caution, Drawing, DrawingKind, Field, Happening, Stage, Step, TickItem};
use super::super::{cautions, defaults};
use crate::signal::notice::{Code, Notice};

/// Series resistors outside this are a slip of the pen or give no figure. Common practice, no source.
const RESISTOR_OHM: (f64, f64) = (1.0, 10_000.0);
/// What a meter can read at a coil, ohms.
const METER_OHM: (f64, f64) = (0.5, 200.0);
/// Below this the band ends before the voice coil shows itself (telephone quality).
const LEAST_RATE_HZ: f64 = 32_000.0;
/// Peak of the tone at which a meter reads the amplifier's volts.
const VOLTS_TONE_DBFS: f64 = -40.0;
/// A frequency that every meter reads rightly.
const VOLTS_TONE_HZ: f64 = 100.0;
/// Long enough to read a meter.
const VOLTS_TONE_S: u32 = 15;

/// A setup that cannot give a figure is refused at once.
pub(super) fn setup(bench: &ImpedanceBench, _: &Past) -> Option<Step> {
    let ohm = bench.series_resistor_ohm;
    let notice = if !(RESISTOR_OHM.0..=RESISTOR_OHM.1).contains(&ohm) {
        let shown = if ohm.is_finite() { ohm } else { 0.0 };
        Notice::new(Code::WrongResistor, &[("series_resistor_ohm", shown)])
    } else if bench.source_channel == bench.driver_channel || bench.source_channel.min(bench.driver_channel) == 0 {
        Notice::new(Code::SameChannels, &[("channel", bench.source_channel as f64)])
    } else if !(LEAST_RATE_HZ..=768_000.0).contains(&bench.rate_hz) {
        let rate = if bench.rate_hz.is_finite() { bench.rate_hz } else { 0.0 };
        Notice::new(Code::LowRate, &[("rate_hz", rate)])
    } else {
        return None;
    };
    Some(Step::refused(Stage::BenchCard, "setup_refused", notice, Vec::new()))
}

/// What spoils the reading.
pub(super) fn bench_card(bench: &ImpedanceBench, past: &Past) -> Option<Step> {
    let mains = bench.output == Output::Amplifier && !bench.practice;
    card_step(past, card(bench), if mains { vec![cautions::mains()] } else { Vec::new() })
}

/// The card with its points, and what could be harmed beside foam and magnet.
pub(super) fn card_step(past: &Past, items: Vec<TickItem>, more: Vec<Caution>) -> Option<Step> {
    if past.times_chosen("bench_card", "foam_crumbles") > 0 {
        let notice = Notice::new(Code::CrumblingFoam, &[]);
        let back = choice("again:bench_card", "The surround is whole", "Looked at again, and it holds together.");
        return Some(Step::refused(Stage::BenchCard, "foam_refused", notice, vec![back]));
    }
    if card_is_ticked(past, &items) {
        return None;
    }
    let note = if past.confirmed_at("bench_card").is_some() {
        "The points marked as needed are still open."
    } else {
        "These spoil the reading. Tick what is so; what stays open is kept with the reading."
    };
    let action = Action::Tick {
        items,
        picks: vec![attitude()],
        fields: vec![meter_field()],
        button: "The bench is ready".to_owned(),
    };
    let mut shown = vec![cautions::foam(), cautions::magnet()];
    shown.extend(more);
    let foam = choice("foam_crumbles", "The foam crumbles", "Then the cone is not driven.");
    Some(
        Step::new(Stage::BenchCard, "bench_card", "Look the bench over first.", action)
            .note(note)
            .cautions(shown)
            .choices(vec![foam]),
    )
}

/// Nothing in a take tells a wrong series resistor; a meter at the coil does.
fn meter_field() -> Field {
    let help = "Where one is at hand, its leads' own taken off. It shows whether the series resistor is the typed one.";
    let label = "The coil's resistance by a meter";
    Field { optional: true, ..ohm_field("r_e_ohm", label, METER_OHM, None, help) }
}

/// What the meter read at the coil, where it was typed.
pub(super) fn meter_r_e_ohm(past: &Past) -> Option<f64> {
    past.number("bench_card", "r_e_ohm").filter(|r| (METER_OHM.0..=METER_OHM.1).contains(r))
}

/// The last confirmation ticked everything that is needed.
fn card_is_ticked(past: &Past, items: &[TickItem]) -> bool {
    let ticked = |item: &TickItem| past.answer("bench_card", &item.id) == Some(&Answer::Bool(true));
    past.confirmed_at("bench_card").is_some() && items.iter().filter(|i| i.required).all(ticked)
}

fn card(bench: &ImpedanceBench) -> Vec<TickItem> {
    let mut items = vec![
        tick("vent_free", "The magnet's vent is free", "A covered vent adds stiffness and loss.", false),
        tick("frame_held", "The frame is held firmly", "A frame that moves adds a second resonance.", false),
        tick("warm", "The driver is at room temperature", "5 K are 2 % of the coil's resistance.", false),
        tick("rested", "It was not worked hard in the last half hour", "The suspension softens and recovers.", false),
        tick("neighbours", "No other driver stands close by", "Others resonate along.", false),
        tick("charger_off", "The computer's charger is unplugged", "It brings hum.", false),
    ];
    if bench.output == Output::Amplifier && !bench.practice {
        let help = "A bridged output has no grounded terminal and must not be used here.";
        items.push(tick("ground_checked", "The amplifier's minus is the input's ground (meter)", help, true));
    }
    items
}

/// The wiring, with the person's own values.
pub(super) fn connect(bench: &ImpedanceBench, past: &Past) -> Option<Step> {
    if past.confirmed_at("connect").is_some() {
        return None;
    }
    let (source, driver) = (channel_words(bench.source_channel), channel_words(bench.driver_channel));
    let note = if bench.practice {
        "Nothing needs wiring on the practice bench. The drawing shows what it stands for.".to_owned()
    } else {
        format!(
            "{source} on the source side of the resistor, {driver} on the driver. All minus leads meet at one point."
        )
    };
    let shown = if bench.practice { Vec::new() } else { wiring_cautions(bench) };
    Some(
        Step::new(
            Stage::Connect,
            "connect",
            &format!("Put {} between output and driver.", ohm_words(bench.series_resistor_ohm)),
            Action::Confirm { button: "Connected".to_owned() },
        )
        .note(&note)
        .cautions(shown)
        .drawing(jig(bench, DrawingKind::TwoChannelDivider, &[])),
    )
}

fn wiring_cautions(bench: &ImpedanceBench) -> Vec<Caution> {
    match bench.output {
        Output::Headphones => vec![cautions::excursion()],
        Output::Amplifier => vec![
            cautions::amplifier_ground(),
            cautions::input_volts(),
            cautions::amplifier_load(),
            cautions::excursion(),
        ],
    }
}

/// A drawing of the jig with the person's values; `more` adds labels.
pub(super) fn jig(bench: &ImpedanceBench, kind: DrawingKind, more: &[(&str, String)]) -> Drawing {
    let output = match bench.output {
        Output::Headphones => "headphone output",
        Output::Amplifier => "amplifier",
    };
    let mut labels = vec![
        ("resistor", ohm_words(bench.series_resistor_ohm)),
        ("source_input", channel_words(bench.source_channel)),
        ("driver_input", channel_words(bench.driver_channel)),
        ("output", output.to_owned()),
        ("ground", "all minus leads at one point".to_owned()),
    ];
    labels.extend_from_slice(more);
    drawing(kind, &labels)
}

/// An amplifier's volts are not known from the page's level: a meter reads them once.
pub(super) fn volts(bench: &ImpedanceBench, past: &Past) -> Option<Step> {
    let skipped = past.times_chosen("volts", "skip") > 0;
    if bench.output != Output::Amplifier || bench.practice || skipped || past.confirmed_at("volts").is_some() {
        return None;
    }
    let skip = choice("skip", "No meter at hand", "Then the level stays 20 dB below full scale, to be safe.");
    if past.takes("volts_tone").is_empty() {
        return Some(volts_tone(bench).choices(vec![skip]));
    }
    let field = Field {
        id: "output_v".to_owned(),
        label: "Alternating volts across the amplifier's output".to_owned(),
        unit: "V".to_owned(),
        scale: 1.0,
        low: 1e-4,
        high: 60.0,
        default: None,
        optional: false,
        help: "As the meter showed it while the tone sounded.".to_owned(),
    };
    let action = Action::Ask { fields: vec![field], button: "Keep".to_owned() };
    let again = choice("again:volts_tone", "Play the tone again", "");
    Some(
        Step::new(Stage::Measure, "volts", "What did the meter read?", action)
            .note("From this the page knows how many volts each level is, and keeps below the limit.")
            .choices(vec![again, skip]),
    )
}

fn volts_tone(bench: &ImpedanceBench) -> Step {
    let stimulus = defaults::tone(bench.rate_hz, VOLTS_TONE_HZ, VOLTS_TONE_DBFS, VOLTS_TONE_S);
    let seconds = defaults::seconds(&stimulus);
    let action = Action::Play {
        stimulus,
        role: "volts_tone".to_owned(),
        tail_s: 0.0,
        resistor_ohm: None,
        added_mass_kg: None,
        box_volume_m3: None,
        channels: vec![bench.source_channel],
        by_itself: false,
        button: "Play the tone".to_owned(),
    };
    Step::new(Stage::Measure, "volts_tone", "Hold the meter across the amplifier's output.", action)
        .note("A tone of 100 Hz will sound for 15 s. Read the alternating volts while it does.")
        .cautions(vec![cautions::hearing()])
        .progress(0, 1, Some(seconds))
}

/// Volts (root mean square) of a sine whose peak is full scale; none where no meter read them.
pub(super) fn full_scale_v(past: &Past) -> Option<f64> {
    let read_v = past.number("volts", "output_v").filter(|v| *v > 0.0)?;
    Some(read_v * 10f64.powf(-VOLTS_TONE_DBFS / 20.0))
}

/// How the driver was held, by the last answer; without one nothing is claimed.
pub(super) fn attitude_words(past: &Past) -> &'static str {
    match past.answer("bench_card", "attitude") {
        Some(Answer::Text(id)) if id == "face_up" => "face up",
        Some(Answer::Text(id)) if id == "face_down" => "face down",
        Some(Answer::Text(id)) if id == "vertical" => "upright",
        _ => "attitude not noted",
    }
}

/// The last happening was a take of this step: a series may go on by itself.
pub(super) fn goes_on(past: &Past, step: &str) -> bool {
    matches!(past.last(), Some(Happening::Took { step: s, .. }) if s == step)
}
