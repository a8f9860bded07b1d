//! What the worker and the headless script call. Errors are thrown as `{kind, message, field?}`.
use super::record::{merge_records, read_record};
use super::recorded::Recorded;
use super::values::{
    from_js, object, read_js, reading_to_js, single, take_from_js, take_to_js, takes_from_js, thrown, to_js, write_js,
};
use super::wire::{Check, CoreFault, Setup};
use crate::acoustic::polarity;
use crate::driver::spice::{self, NamedFigure};
use crate::driver::{impedance_check, knock_check, meter_check, mic_impedance_check, one_channel_check, pair_check};
use crate::electrical::loose_joint;
use crate::electrical::touchstone::{self, OnePort};
use crate::electrical::{preferred_values, resistor_code};
use crate::job::look_points::points_of;
use crate::job::overview::{overview, OverviewRequest};
use crate::job::record::PartKind;
use crate::job::summary::summary;
use crate::procedure::step::Happening;
use crate::procedure::{impedance, knock, meter, microphone, note, one_channel, pair, polarity as polarity_procedure};
use crate::signal::health;
use crate::signal::role_take::RoleTake;
use crate::signal::stimulus::Stimulus;
use crate::signal::{test_signals, wav};
use crate::sim::practice_meter::{read_practice_meter, PracticeMeter};
use crate::sim::practice_pair::{knock_practice_pair, practice_pair_truth, PracticePair};
use crate::sim::practice_takes::{knock_practice, play_practice, PracticeKnock, PracticePlay};
use crate::sim::{faults, practice};
use crate::verdict::coil_meter::{judge_coil, CoilQuestion};
use crate::verdict::diagnosis::{self, DiagnosisSetup};
use crate::verdict::history::{self, BreakInSetup, HistorySetup};
use crate::verdict::limits::pair_limits;
use crate::verdict::matching::{self, MatchSetup};
use crate::verdict::part_limits::tolerances;
use js_sys::{global, Float32Array, Reflect};
use wasm_bindgen::prelude::*;

/// Runs once when the module is loaded. With `panic = "abort"` the message of a panic would be lost: it is kept
/// where the worker finds it after the trap.
#[wasm_bindgen(start)]
pub fn start() {
    std::panic::set_hook(Box::new(|info| {
        // Nothing can be done if even this fails; the trap itself is still seen.
        let _ = Reflect::set(&global(), &"conewrightPanic".into(), &info.to_string().into());
    }));
}

/// Version of the core.
#[wasm_bindgen]
pub fn version() -> String {
    env!("CARGO_PKG_VERSION").to_owned()
}

/// Panics. The page's tests prove with it that a dead core is reported and replaced; nothing in the page calls it.
#[wasm_bindgen]
pub fn panic_on_purpose() {
    panic!("asked to panic");
}

/// The entries of a setup's `takes`, in order, after the whole setup was checked.
#[wasm_bindgen(unchecked_return_type = "TakeEntry[]")]
pub fn setup_takes(setup_json: &str) -> Result<JsValue, JsValue> {
    write_js(&Setup::parse(setup_json).map_err(thrown)?.takes)
}

/// The samples of a stimulus, all periods, at its own rate and level.
#[wasm_bindgen]
pub fn render(#[wasm_bindgen(unchecked_param_type = "Stimulus")] stimulus: JsValue) -> Result<Float32Array, JsValue> {
    let stimulus: Stimulus = read_js(&stimulus)?;
    let samples = test_signals::render(&stimulus).map_err(|error| thrown(CoreFault::new("stimulus", error)))?;
    Ok(single(&samples))
}

/// The drivers of the practice bench with their true figures.
#[wasm_bindgen(unchecked_return_type = "PracticeDriver[]")]
pub fn practice_drivers() -> Result<JsValue, JsValue> {
    to_js(&practice::drivers())
}

/// The faults that can be chosen on the practice bench, none first.
#[wasm_bindgen(unchecked_return_type = "PracticeFault[]")]
pub fn practice_faults() -> Result<JsValue, JsValue> {
    to_js(&faults::faults())
}

/// What the practice bench hears while `samples` are played; as many come back.
#[wasm_bindgen(unchecked_return_type = "PageTake")]
pub fn practice_play(
    #[wasm_bindgen(unchecked_param_type = "PracticePlay")] request: JsValue,
    samples: &[f32],
) -> Result<JsValue, JsValue> {
    let request: PracticePlay = from_js(&request)?;
    let played: Vec<f64> = samples.iter().copied().map(f64::from).collect();
    take_to_js(&play_practice(&request, &played).map_err(|error| thrown(CoreFault::new("request", error)))?)
}

/// What the practice bench hears of knocks.
#[wasm_bindgen(unchecked_return_type = "PageTake")]
pub fn practice_knock(
    #[wasm_bindgen(unchecked_param_type = "PracticeKnock")] request: JsValue,
) -> Result<JsValue, JsValue> {
    let request: PracticeKnock = from_js(&request)?;
    take_to_js(&knock_practice(&request).map_err(|error| thrown(CoreFault::new("request", error)))?)
}

/// What the practice bench hears of knocks on two drivers.
#[wasm_bindgen(unchecked_return_type = "PageTake")]
pub fn practice_pair(
    #[wasm_bindgen(unchecked_param_type = "PracticePair")] request: JsValue,
) -> Result<JsValue, JsValue> {
    let request: PracticePair = from_js(&request)?;
    take_to_js(&knock_practice_pair(&request).map_err(|error| thrown(CoreFault::new("request", error)))?)
}

/// True figures of a practice driver and its sister, and their true differences.
#[wasm_bindgen(js_name = practice_pair_truth, unchecked_return_type = "Record<string, number>")]
pub fn pair_truth(driver: &str) -> Result<JsValue, JsValue> {
    to_js(&practice_pair_truth(driver).map_err(|error| thrown(CoreFault::new("request", error)))?)
}

/// What the practice bench's meter shows across each pair while a tone sounds.
#[wasm_bindgen(unchecked_return_type = "PracticeVolts")]
pub fn practice_meter(
    #[wasm_bindgen(unchecked_param_type = "PracticeMeter")] request: JsValue,
) -> Result<JsValue, JsValue> {
    let request: PracticeMeter = from_js(&request)?;
    to_js(&read_practice_meter(&request).map_err(|error| thrown(CoreFault::new("request", error)))?)
}

/// A WAV file's samples, and how they were stored.
#[wasm_bindgen(unchecked_return_type = "{ take: PageTake; format: Format; valid_bits: number }")]
pub fn read_wav(bytes: &[u8]) -> Result<JsValue, JsValue> {
    let file = wav::read(bytes).map_err(|error| thrown(CoreFault::new("wav", error)))?;
    let (take, format) = (take_to_js(&file.take)?, write_js(&file.format)?);
    object(&[("take", &take), ("format", &format), ("valid_bits", &file.valid_bits.into())])
}

/// A take as a WAV file.
#[wasm_bindgen]
pub fn write_wav(
    #[wasm_bindgen(unchecked_param_type = "PageTake")] take: JsValue,
    #[wasm_bindgen(unchecked_param_type = "Format")] format: JsValue,
) -> Result<Vec<u8>, JsValue> {
    wav::write(&take_from_js(&take)?, read_js(&format)?).map_err(|error| thrown(CoreFault::new("wav", error)))
}

/// The knocks of a take or of what was heard so far, quickly, of one channel or of two; they count from 1.
#[wasm_bindgen(unchecked_return_type = "KnockNote[]")]
pub fn spot_knocks(
    #[wasm_bindgen(unchecked_param_type = "PageTake")] take: JsValue,
    channel: usize,
    second_channel: Option<usize>,
) -> Result<JsValue, JsValue> {
    write_js(&note::knock_notes(&take_from_js(&take)?, channel, second_channel))
}

/// Whether a take can be trusted: levels, cut tops, breaks, grid, hum.
#[wasm_bindgen(unchecked_return_type = "Health")]
pub fn assess(#[wasm_bindgen(unchecked_param_type = "PageTake")] take: JsValue) -> Result<JsValue, JsValue> {
    write_js(&health::assess(&take_from_js(&take)?))
}

/// What a procedure wants to know of a take that was recorded for `action`.
#[wasm_bindgen(unchecked_return_type = "TakeNote")]
pub fn take_note(
    id: &str,
    #[wasm_bindgen(unchecked_param_type = "Action")] action: JsValue,
    #[wasm_bindgen(unchecked_param_type = "PageTake")] take: JsValue,
) -> Result<JsValue, JsValue> {
    let recorded: Recorded = read_js(&action)?;
    write_js(&note::take_note(id, &recorded.action(), &take_from_js(&take)?))
}

/// A measured curve as a Touchstone file of one port; the columns are of equal length.
#[wasm_bindgen]
pub fn files_touchstone(
    remarks: Vec<String>,
    frequency_hz: &[f64],
    magnitude_ohm: &[f64],
    phase_deg: &[f64],
    standard_uncertainty_ohm: &[f64],
    reference_ohm: f64,
) -> Result<String, JsValue> {
    let columns = frequency_hz.iter().zip(magnitude_ohm).zip(phase_deg.iter().zip(standard_uncertainty_ohm));
    let points: Vec<OnePort> = columns
        .map(|((&frequency_hz, &magnitude_ohm), (&phase_deg, &standard_uncertainty_ohm))| OnePort {
            frequency_hz,
            magnitude_ohm,
            phase_deg,
            standard_uncertainty_ohm,
        })
        .collect();
    touchstone::one_port(&points, reference_ohm, &remarks).map_err(|error| thrown(CoreFault::new("export", error)))
}

/// The fitted circuit of a reading as a SPICE subcircuit; half-widths that are no number stand for none.
#[wasm_bindgen]
pub fn files_spice(
    part: &str,
    remarks: Vec<String>,
    names: Vec<String>,
    values: &[f64],
    half_widths_95: &[f64],
    low_hz: f64,
    high_hz: f64,
) -> Result<String, JsValue> {
    let columns = names.into_iter().zip(values).zip(half_widths_95);
    let figures: Vec<NamedFigure> =
        columns.map(|((name, &value), &half_width_95)| NamedFigure { name, value, half_width_95 }).collect();
    spice::subcircuit(part, &remarks, &figures, (low_hz, high_hz))
        .map_err(|error| thrown(CoreFault::new("export", error)))
}

/// What the colour bands of a resistor say, read from the end that they crowd at.
#[wasm_bindgen(unchecked_return_type = "Resistor")]
pub fn resistor_bands(colours: Vec<String>) -> Result<JsValue, JsValue> {
    let colours: Vec<&str> = colours.iter().map(String::as_str).collect();
    to_js(&resistor_code::bands(&colours).map_err(|error| thrown(CoreFault::new("resistor", error)))?)
}

/// What the letter code of a resistor says.
#[wasm_bindgen(unchecked_return_type = "Resistor")]
pub fn resistor_letters(text: &str) -> Result<JsValue, JsValue> {
    to_js(&resistor_code::letters(text).map_err(|error| thrown(CoreFault::new("resistor", error)))?)
}

/// What to take where a resistance is not at hand: another one, two of E12, two of E24, each nearer than the one before.
#[wasm_bindgen(unchecked_return_type = "Made[]")]
pub fn resistor_instead_of(wanted_ohm: f64) -> Result<JsValue, JsValue> {
    to_js(&preferred_values::instead_of(wanted_ohm))
}

/// A setup of this very check with its takes, given in the order of the setup's `takes`.
fn setup_of(check: Check, setup_json: &str, takes: &JsValue) -> Result<(Setup, Vec<RoleTake>), JsValue> {
    let setup = Setup::parse(setup_json).map_err(thrown)?;
    if setup.check != check {
        return Err(thrown(CoreFault::at("check".to_owned(), "the setup is that of another check")));
    }
    let takes = setup.with(takes_from_js(takes)?).map_err(thrown)?;
    Ok((setup, takes))
}

/// Every check with its two calls: what the page shows and does next, from the bench and everything that happened so far;
/// and the reading of takes. What only `step_NAME` and `analyse_NAME` reach becomes the part NAME of the core, which is
/// fetched when that check is opened (`pkg-scripts/builder`).
macro_rules! checks {
    ($($check:ident: $step_name:ident($bench:tt, $read:ident, $step:path), $analyse_name:ident($own:ident, $analyse:path);)*) => {$(
        #[wasm_bindgen(unchecked_return_type = "Step")]
        #[allow(missing_docs)]
        pub fn $step_name(
            #[wasm_bindgen(unchecked_param_type = $bench)] bench: JsValue,
            #[wasm_bindgen(unchecked_param_type = "Happening[]")] history: JsValue,
        ) -> Result<JsValue, JsValue> {
            let history: Vec<Happening> = read_js(&history)?;
            write_js(&$step(&$read(&bench)?, &history))
        }

        #[wasm_bindgen(unchecked_return_type = "Reading")]
        #[allow(missing_docs)]
        pub fn $analyse_name(
            setup_json: &str,
            #[wasm_bindgen(unchecked_param_type = "PageTake[]")] takes: JsValue,
        ) -> Result<JsValue, JsValue> {
            let (setup, takes) = setup_of(Check::$check, setup_json, &takes)?;
            reading_to_js($analyse(&setup.$own().map_err(thrown)?, &takes).map_err(thrown)?)
        }
    )*};
}

checks! {
    Impedance: step_impedance("ImpedanceBench", read_js, impedance::step), analyse_impedance(named, impedance_check::analyse);
    ImpedanceOneChannel: step_impedance_one_channel("OneChannelBench", read_js, one_channel::step),
        analyse_impedance_one_channel(named, one_channel_check::analyse);
    Knock: step_knock("KnockBench", read_js, knock::step), analyse_knock(named, knock_check::analyse);
    ImpedanceByMicrophone: step_impedance_by_microphone("MicrophoneBench", read_js, microphone::step),
        analyse_impedance_by_microphone(named, mic_impedance_check::analyse);
    Pair: step_pair("PairBench", read_js, pair::step), analyse_pair(named, pair_check::analyse);
    Meter: step_meter("MeterBench", read_js, meter::step), analyse_meter(named, meter_check::analyse);
    Polarity: step_polarity("PolarityBench", from_js, polarity_procedure::step), analyse_polarity(own, polarity::analyse);
    LooseJoint: step_loose_joint("ImpedanceBench", read_js, impedance::loose_joint_step), analyse_loose_joint(own, loose_joint::analyse);
}

/// The limits within a pair to start from.
#[wasm_bindgen(unchecked_return_type = "PairLimit[]")]
pub fn match_limits() -> Result<JsValue, JsValue> {
    to_js(&pair_limits())
}

/// The best pairing of a set of parts.
#[wasm_bindgen(unchecked_return_type = "Matched")]
pub fn match_parts(#[wasm_bindgen(unchecked_param_type = "MatchSetup")] setup: JsValue) -> Result<JsValue, JsValue> {
    let setup: MatchSetup = from_js(&setup)?;
    to_js(&matching::match_parts(&setup).map_err(|error| thrown(CoreFault::new("setup", error)))?)
}

/// The tolerances against a published or an earlier figure to start from.
#[wasm_bindgen(unchecked_return_type = "Tolerance[]")]
pub fn job_tolerances() -> Result<JsValue, JsValue> {
    to_js(&tolerances())
}

/// What a meter says of a coil.
#[wasm_bindgen(unchecked_return_type = "CoilAnswer")]
pub fn job_coil(#[wasm_bindgen(unchecked_param_type = "CoilQuestion")] question: JsValue) -> Result<JsValue, JsValue> {
    let question: CoilQuestion = from_js(&question)?;
    to_js(&judge_coil(&question).map_err(thrown)?)
}

/// A job from the text of its record, whatever version wrote it.
#[wasm_bindgen(unchecked_return_type = "Job")]
pub fn job_read(json: &str) -> Result<JsValue, JsValue> {
    to_js(&read_record(json).map_err(thrown)?)
}

/// Two records of one job as one: nothing that either held is lost.
#[wasm_bindgen(unchecked_return_type = "Job")]
pub fn job_merge(one: &str, two: &str) -> Result<JsValue, JsValue> {
    to_js(&merge_records(one, two).map_err(thrown)?)
}

/// Points of a part that are looked at.
#[wasm_bindgen(unchecked_return_type = "string[]")]
pub fn job_look_points(#[wasm_bindgen(unchecked_param_type = "PartKind")] kind: JsValue) -> Result<JsValue, JsValue> {
    let kind: PartKind = from_js(&kind)?;
    to_js(&points_of(kind))
}

/// A job at a glance, from its record and its readings.
#[wasm_bindgen(unchecked_return_type = "Overview")]
pub fn job_overview(
    #[wasm_bindgen(unchecked_param_type = "OverviewRequest")] request: JsValue,
) -> Result<JsValue, JsValue> {
    let request: OverviewRequest = from_js(&request)?;
    to_js(&overview(&request))
}

/// What a part suffers from, by how it differs from one reference.
#[wasm_bindgen(unchecked_return_type = "Diagnosis")]
pub fn job_diagnose(
    #[wasm_bindgen(unchecked_param_type = "DiagnosisSetup")] setup: JsValue,
) -> Result<JsValue, JsValue> {
    let setup: DiagnosisSetup = from_js(&setup)?;
    to_js(&diagnosis::diagnose(&setup))
}

/// Two readings of one part: what can be compared, and what changed.
#[wasm_bindgen(unchecked_return_type = "HistoryCompared")]
pub fn job_compare_history(
    #[wasm_bindgen(unchecked_param_type = "HistorySetup")] setup: JsValue,
) -> Result<JsValue, JsValue> {
    let setup: HistorySetup = from_js(&setup)?;
    to_js(&history::compare(&setup))
}

/// Whether break-in has come to its end.
#[wasm_bindgen(unchecked_return_type = "BreakIn")]
pub fn job_break_in(#[wasm_bindgen(unchecked_param_type = "BreakInSetup")] setup: JsValue) -> Result<JsValue, JsValue> {
    let setup: BreakInSetup = from_js(&setup)?;
    to_js(&history::break_in(&setup))
}

/// What the papers say of a job as a whole.
#[wasm_bindgen(unchecked_return_type = "Summary")]
pub fn job_summary(
    #[wasm_bindgen(unchecked_param_type = "OverviewRequest")] request: JsValue,
) -> Result<JsValue, JsValue> {
    let request: OverviewRequest = from_js(&request)?;
    to_js(&summary(&request))
}
