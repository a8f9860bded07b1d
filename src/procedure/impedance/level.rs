//! Finds a safe level: from very low upwards in steps of at most 6 dB until the signal suffices on both inputs.
//!
//! It never plays louder than needed: it stops at enough signal, at a cut-off top, at the typed limit of volts, or at
//! the end of the scale, whichever comes first, and refuses where even the loudest allowed level is too quiet.

use super::super::bench::{ImpedanceBench, Output};
use super::super::build::choice;
use super::super::past::Past;
use super::super::step::{Action, ChannelNote, Stage, Step, TakeNote};
use super::super::{cautions, defaults};
use super::connect::{full_scale_v, goes_on};
use super::level_riding::Followed;
use crate::signal::notice::{Code, Notice};

/// First level, peak. A sensitive driver behind a strong amplifier is hardly heard at it.
pub(super) const START_DBFS: f64 = -50.0;
/// Largest step upwards.
pub(super) const STEP_DB: f64 = 6.0;
/// Signal over noise that suffices on each input in one short play. Five kept periods of twice the length add 10 dB.
pub(super) const ENOUGH_DB: f64 = 50.0;
/// Below this no reading is tried: one part in 30 of noise on a single line.
pub(super) const LEAST_DB: f64 = 30.0;
/// Loudest level: 1 dB of room for the converter's filter.
pub(super) const TOP_DBFS: f64 = -1.0;
/// Loudest level of an amplifier whose volts are unknown.
const UNKNOWN_VOLTS_TOP_DBFS: f64 = -20.0;
/// Volts allowed where none were typed. Common practice, no source: small-signal figures are read well below 1 V.
const DEFAULT_LIMIT_V: f64 = 1.0;
/// Plays in a row that lost samples before the search ends with that. Common practice, no source.
pub(super) const BROKEN_AT_MOST: usize = 3;
/// Peaks above this are cut off somewhere, or will be with the next breath.
pub(super) const TOO_LOUD_DBFS: f64 = -0.5;

/// What the level takes amount to.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Level {
    /// Play at this level, peak dB below full scale.
    Play(f64),
    /// Good enough; what to tell beside.
    Found(f64, Option<Notice>),
    /// No level serves.
    Refused(Notice),
}

/// Station: looks for the level.
pub(super) fn level(bench: &ImpedanceBench, past: &Past) -> Option<Step> {
    match judge(bench, past) {
        Level::Found(..) => None,
        Level::Play(peak_dbfs) => Some(play(bench, past, peak_dbfs)),
        Level::Refused(notice) => {
            let again = choice("again:level", "Look for the level again", "After the remedy.");
            let wiring = choice("again:connect", "Back to the wiring", "");
            Some(Step::refused(Stage::Measure, "level_refused", notice, vec![again, wiring]))
        }
    }
}

fn play(bench: &ImpedanceBench, past: &Past, peak_dbfs: f64) -> Step {
    let takes = past.takes("level");
    let (done, lost) = (takes.len(), takes.last().and_then(|(_, take)| gap(take)));
    let stimulus = defaults::level(bench.rate_hz, peak_dbfs);
    let seconds = defaults::seconds(&stimulus) + defaults::tail_s(bench.practice);
    let most = ((top_dbfs(bench, past) - START_DBFS) / STEP_DB).ceil().max(0.0) as usize + 1;
    let action = Action::Play {
        stimulus,
        role: "level".to_owned(),
        tail_s: defaults::tail_s(bench.practice),
        resistor_ohm: None,
        added_mass_kg: None,
        box_volume_m3: None,
        channels: vec![bench.source_channel, bench.driver_channel],
        by_itself: goes_on(past, "level"),
        button: "Find a safe level".to_owned(),
    };
    Step::new(Stage::Measure, "level", "Finding a safe level, from very low upwards.", action)
        .note("Short plays, each a little louder, until the signal stands clear of the noise. Stop at any moment.")
        .cautions(if bench.practice { Vec::new() } else { vec![cautions::hearing(), cautions::excursion()] })
        .progress(done, most.max(done + 1), Some(seconds))
        .notices(lost.into_iter().cloned().collect())
}

/// Loudest level allowed: end of scale or the limit of volts.
pub(super) fn top_dbfs(bench: &ImpedanceBench, past: &Past) -> f64 {
    if bench.output == Output::Headphones || bench.practice {
        return TOP_DBFS;
    }
    let limit_v = bench.limit_v.filter(|v| *v > 0.0).unwrap_or(DEFAULT_LIMIT_V);
    match full_scale_v(past) {
        Some(full_v) => (20.0 * (limit_v / full_v).log10()).min(TOP_DBFS),
        None => UNKNOWN_VOLTS_TOP_DBFS,
    }
}

/// Judges the takes so far.
pub(super) fn judge(bench: &ImpedanceBench, past: &Past) -> Level {
    let top_dbfs = top_dbfs(bench, past);
    let mut next_dbfs = START_DBFS.min(top_dbfs);
    let mut usable: Option<(f64, f64)> = None;
    let mut broken = 0;
    let mut followed = Followed::default();
    for (_, take) in past.takes("level") {
        let played_dbfs = take.stimulus_peak_dbfs.unwrap_or(next_dbfs);
        let (Some(source), Some(driver)) = (channel(take, bench.source_channel), channel(take, bench.driver_channel))
        else {
            return Level::Refused(Notice::new(Code::TooFewChannels, &[("channels", take.channels.len() as f64)]));
        };
        if too_loud(source) || too_loud(driver) {
            return cut_off(usable, source.peak_dbfs.max(driver.peak_dbfs));
        }
        let snr_db = snr(source).min(snr(driver));
        if let Some(gap) = gap(take).filter(|_| snr_db < ENOUGH_DB) {
            // Lost samples look like noise. Nothing is learnt about the level: the same one again.
            broken += 1;
            if broken == BROKEN_AT_MOST {
                return Level::Refused(gap.clone());
            }
            next_dbfs = played_dbfs;
            continue;
        }
        broken = 0;
        if let Some(riding) = followed.add(played_dbfs, source) {
            return Level::Refused(riding);
        }
        if snr_db >= LEAST_DB {
            usable = Some((played_dbfs, snr_db));
        }
        if snr_db >= ENOUGH_DB {
            return wiring_fault(take, source, driver).map_or(Level::Found(played_dbfs, None), Level::Refused);
        }
        if played_dbfs >= top_dbfs - 0.01 {
            return at_the_top(take, (source, driver), played_dbfs, usable);
        }
        let wanted_db = (ENOUGH_DB + 1.0 - snr_db).clamp(1.0, STEP_DB);
        next_dbfs = (played_dbfs + wanted_db).min(top_dbfs);
    }
    Level::Play(next_dbfs)
}

/// Tops are cut off: the step before serves, where it does.
fn cut_off(usable: Option<(f64, f64)>, peak_dbfs: f64) -> Level {
    match usable {
        Some((dbfs, snr_db)) => Level::Found(dbfs, Some(Notice::new(Code::Noise, &[("snr_db", snr_db)]))),
        None => Level::Refused(Notice::new(Code::Clipped, &[("peak_dbfs", peak_dbfs)])),
    }
}

/// The loudest allowed level is not enough: good with a warning, or refused with the reason.
fn at_the_top(take: &TakeNote, pair: (&ChannelNote, &ChannelNote), dbfs: f64, usable: Option<(f64, f64)>) -> Level {
    let (source, driver) = pair;
    if let Some(fault) = wiring_fault(take, source, driver) {
        return Level::Refused(fault);
    }
    match usable {
        Some((best_dbfs, snr_db)) => {
            Level::Found(best_dbfs, Some(Notice::new(Code::TooQuiet, &[("snr_db", snr_db), ("level_dbfs", dbfs)])))
        }
        None => {
            let snr_db = snr(source).min(snr(driver));
            Level::Refused(Notice::new(Code::TooQuiet, &[("snr_db", snr_db), ("level_dbfs", dbfs)]))
        }
    }
}

/// What the two levels say about the wiring.
fn wiring_fault(take: &TakeNote, source: &ChannelNote, driver: &ChannelNote) -> Option<Notice> {
    if let Some(same) = take.notices.iter().find(|n| n.code == Code::SameChannels) {
        return Some(same.clone());
    }
    let (s, d) = (snr(source), snr(driver));
    // 10 dB: more than chance gives with two periods, less than any wired input shows at a useful level.
    if s < 10.0 && d < 10.0 {
        return Some(Notice::new(Code::Silent, &[("peak_dbfs", source.peak_dbfs.max(driver.peak_dbfs))]));
    }
    if s < 10.0 || d < 10.0 {
        let dead = if s < 10.0 { source } else { driver };
        return Some(Notice::new(Code::DeadChannel, &[("rms_dbfs", dead.rms_dbfs)]));
    }
    let excess_db = driver.signal_dbfs? - source.signal_dbfs?;
    // The divider only takes away; 1 dB is more than two inputs of one device differ.
    (excess_db > 1.0).then(|| Notice::new(Code::SwappedChannels, &[("excess_db", excess_db)]))
}

/// The level found and the warning that goes with it, lowered by 6 dB for every driver take with cut-off tops.
pub(super) fn found(bench: &ImpedanceBench, past: &Past) -> (f64, Option<Notice>) {
    let clipped = past.takes_in(&super::takes::STEPS).iter().filter(|(_, t)| is_clipped(bench, t)).count();
    let lowered_db = STEP_DB * clipped as f64;
    match judge(bench, past) {
        Level::Found(dbfs, notice) => (dbfs - lowered_db, notice),
        Level::Play(dbfs) => (dbfs - lowered_db, None),
        Level::Refused(notice) => (START_DBFS, Some(notice)),
    }
}

/// A channel of a take, counted from 1.
pub(super) fn channel(take: &TakeNote, number: usize) -> Option<&ChannelNote> {
    take.channels.get(number.checked_sub(1)?)
}

/// Signal over noise; nothing found counts as nought.
pub(super) fn snr(channel: &ChannelNote) -> f64 {
    channel.snr_db.filter(|x| x.is_finite()).unwrap_or(0.0)
}

/// Samples were lost or repeated in the take.
pub(super) fn gap(take: &TakeNote) -> Option<&Notice> {
    take.notices.iter().find(|n| n.code == Code::Gap)
}

fn too_loud(channel: &ChannelNote) -> bool {
    channel.clipped_samples > 0 || channel.peak_dbfs > TOO_LOUD_DBFS
}

/// Either input is cut off.
pub(super) fn is_clipped(bench: &ImpedanceBench, take: &TakeNote) -> bool {
    [bench.source_channel, bench.driver_channel].iter().filter_map(|c| channel(take, *c)).any(too_loud)
}
