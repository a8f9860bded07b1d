//! A new device is looked at for gain control: one tone at two levels 20 dB apart must come back 20 dB apart.
//! Once in the mid band, once low: noise suppression likes to work on low notes only.

use super::super::bench::ImpedanceBench;
use super::super::build::choice;
use super::super::defaults;
use super::super::past::Past;
use super::super::step::{Action, Choice, Stage, Step, TakeNote};
use super::connect::goes_on;
use super::level::{channel, found, gap, snr, BROKEN_AT_MOST};
use crate::signal::notice::{Code, Notice};

/// Apart by so much.
pub(super) const APART_DB: f64 = 20.0;
/// Allowed deviation.
pub(super) const ALLOWED_DB: f64 = 0.2;
/// A quiet tone below this over the noise cannot show a deviation of 0.2 dB: noise of −30 dB moves it by up to 0.27 dB.
const LEAST_SNR_DB: f64 = 30.0;
/// Seconds a tone lasts: a settling one and two to compare.
const TONE_S: u32 = 3;

/// Name of the step, its tone in Hz (no multiple of 50 or 60, where hum lies) and its sentence.
const TONES: [(&str, f64, &str); 2] = [
    ("linearity_mid", 1010.0, "Checking the input for gain control: a tone, loud and soft."),
    ("linearity_low", 40.0, "The same with a low tone."),
];

/// Station: plays both tones at both levels, then judges.
pub(super) fn linearity(bench: &ImpedanceBench, past: &Past) -> Option<Step> {
    if !bench.new_device || past.times_chosen("linearity", "skip") > 0 {
        return None;
    }
    let (level_dbfs, _) = found(bench, past);
    for (id, frequency_hz, sentence) in TONES {
        // A tone that lost samples falls in level as under a gain control: it is played again instead.
        let (broken, takes): (Vec<&TakeNote>, Vec<&TakeNote>) =
            past.takes(id).into_iter().map(|(_, take)| take).partition(|take| gap(take).is_some());
        if takes.len() < 2 {
            if let Some(lost) = broken.get(BROKEN_AT_MOST - 1).and_then(|take| gap(take)) {
                let again = choice("again:linearity_mid", "Check again", "After the remedy.");
                return Some(Step::refused(Stage::Measure, "linearity_refused", lost.clone(), vec![again, skip()]));
            }
            return Some(play(bench, past, (id, frequency_hz, sentence), level_dbfs, takes.len()));
        }
        if let Some(notice) = riding(bench, takes[0], takes[1]) {
            let again = choice("again:linearity_mid", "Check again", "After automatic gain is switched off.");
            return Some(Step::refused(Stage::Measure, "linearity_refused", notice, vec![again]));
        }
    }
    None
}

fn play(bench: &ImpedanceBench, past: &Past, tone: (&str, f64, &str), level_dbfs: f64, done: usize) -> Step {
    let (id, frequency_hz, sentence) = tone;
    let peak_dbfs = if done == 0 { level_dbfs } else { level_dbfs - APART_DB };
    let stimulus = defaults::tone(bench.rate_hz, frequency_hz, peak_dbfs, TONE_S);
    let seconds = defaults::seconds(&stimulus) + defaults::tail_s(bench.practice);
    let action = Action::Play {
        stimulus,
        role: "linearity".to_owned(),
        tail_s: defaults::tail_s(bench.practice),
        resistor_ohm: None,
        added_mass_kg: None,
        box_volume_m3: None,
        channels: vec![bench.source_channel],
        by_itself: ["level", "linearity_mid", "linearity_low"].iter().any(|step| goes_on(past, step)),
        button: "Play the tone".to_owned(),
    };
    let heard = if id == "linearity_low" { 2 } else { 0 };
    Step::new(Stage::Measure, id, sentence, action)
        .note("This device is new here. Its input must return both levels as they were played.")
        .progress(heard + done, 4, Some(seconds))
        .choices(vec![skip()])
}

fn skip() -> Choice {
    choice("skip", "Skip this check", "The reading then cannot say whether gain was riding.")
}

/// How far the two levels come back from 20 dB apart, or how much the gain moves within a tone; none where both hold.
fn riding(bench: &ImpedanceBench, loud: &TakeNote, quiet: &TakeNote) -> Option<Notice> {
    let (loud, quiet) = (channel(loud, bench.source_channel)?, channel(quiet, bench.source_channel)?);
    if snr(quiet) < LEAST_SNR_DB {
        return None;
    }
    let apart_db = loud.signal_dbfs? - quiet.signal_dbfs?;
    let deviation_db = (apart_db - APART_DB).abs();
    let drift_db = loud.drift_db.unwrap_or(0.0);
    let worst_db = deviation_db.max(drift_db);
    (worst_db > ALLOWED_DB).then(|| {
        Notice::new(Code::GainRiding, &[("change_db", worst_db), ("allowed_db", ALLOWED_DB), ("apart_db", apart_db)])
    })
}
