//! What a procedure needs to know of a take and of a reading, without samples and curves.
//!
//! Signal and noise are told apart on the lines that the stimulus excites: what repeats from period to period is signal,
//! what does not is noise. Multiples of 50 and 60 Hz are left out, because hum repeats as well.

use super::step::{Action, ChannelNote, KnockNote, ReadingNote, TakeNote};
use crate::driver::knock_check::{spot_knocks, SpottedKnock};
use crate::driver::knock_quiet::dead_input;
use crate::driver::pair_knocks::spot_pair;
use crate::math::order::by_name;
use crate::signal::health::{self, ChannelHealth};
use crate::signal::notice::{Code, Notice};
use crate::signal::periods::{self, Periods};
use crate::signal::pilots::unmarked;
use crate::signal::reading::Reading;
use crate::signal::slips::find_break;
use crate::signal::stimulus::{Shape, Stimulus};
use crate::signal::take::Take;
use crate::signal::test_signals::{excited_lines, is_mains_line, period_samples};

/// Plays of at most so many periods leave two to compare: none can be outvoted.
const SHORT_PLAY: u32 = 3;
/// As clear and as steady as this a short play serves whatever happened in it (the level search is content), and nobody
/// needs to look for breaks.
const UNBROKEN_DB: f64 = 50.0;
const STEADY_DB: f64 = 0.05;
/// Level of nothing at all, where the logarithm has no answer.
const NOTHING_DBFS: f64 = -300.0;

/// The note of a take that was recorded (or imported) for `action`. `id` is its name in the store.
pub fn take_note(id: &str, action: &Action, take: &Take) -> TakeNote {
    let Some((channel, marked)) = marked_channel(action) else { return plain_take_note(id, action, take) };
    // A marked take is looked at without its marks; what its marks say comes on top.
    let (inner, broken) = match unmarked(take, channel) {
        Ok(Some(bare)) => (bare.take, None),
        Ok(None) => (take.clone(), Some(Notice::new(Code::Gap, &[("marks_found", 0.0)]))),
        Err(notice) => (take.clone(), Some(*notice)),
    };
    let mut note = plain_take_note(id, &marked, &inner);
    note.duration_s = take.duration_s();
    let silent = note.notices.iter().any(|n| n.code == Code::Silent);
    note.notices.extend(broken.filter(|_| !silent));
    note
}

/// First channel of an action that plays a marked signal, and the action with the plain signal between the marks.
fn marked_channel(action: &Action) -> Option<(usize, Action)> {
    let mut plain = action.clone();
    let Action::Play { stimulus, channels, .. } = &mut plain else { return None };
    if stimulus.shape != Shape::MarkedMultisine {
        return None;
    }
    stimulus.shape = Shape::Multisine;
    Some((channels.first().copied().unwrap_or(1), plain))
}

fn plain_take_note(id: &str, action: &Action, take: &Take) -> TakeNote {
    let mut note = TakeNote {
        id: id.to_owned(),
        role: "free".to_owned(),
        stimulus_peak_dbfs: None,
        resistor_ohm: None,
        load_ohm: None,
        added_mass_kg: None,
        box_volume_m3: None,
        duration_s: take.duration_s(),
        channels: health::assess(take).channels.iter().map(plain_note).collect(),
        knocks: Vec::new(),
        notices: health::assess_channels(take, &channels_of(action, take)).notices,
    };
    match action {
        Action::Play { stimulus, role, resistor_ohm, added_mass_kg, box_volume_m3, .. } => {
            (note.added_mass_kg, note.box_volume_m3) = (*added_mass_kg, *box_volume_m3);
            note.role.clone_from(role);
            note.stimulus_peak_dbfs = Some(stimulus.peak_dbfs);
            note.resistor_ohm = *resistor_ohm;
            add_signal(&mut note.channels, take, stimulus);
            note.notices.extend(unseen_break(&note, take, stimulus));
        }
        Action::Listen { channel, second_channel, load_ohm, added_mass_kg, box_volume_m3, .. } => {
            note.load_ohm = *load_ohm;
            (note.added_mass_kg, note.box_volume_m3) = (*added_mass_kg, *box_volume_m3);
            note.knocks = knock_notes(take, *channel, *second_channel);
            // A quiet room is no dead input: there it is the knock that is missing.
            note.notices.retain(|n| n.code != Code::Silent || dead_input(take, *channel).is_some());
        }
        _ => {}
    }
    note
}

/// Knocks of a take, or of what was heard of it so far, in order of time; channels count from 1.
pub fn knock_notes(take: &Take, channel: usize, second_channel: Option<usize>) -> Vec<KnockNote> {
    let Some(second) = second_channel else {
        return spot_knocks(take, channel).into_iter().map(|knock| knock_note(channel, knock)).collect();
    };
    let channels = [channel, second];
    spot_pair(take, channels).into_iter().map(|k| knock_note(channels[k.driver], k.knock)).collect()
}

fn knock_note(channel: usize, knock: SpottedKnock) -> KnockNote {
    let positive = |x: f64| (x.is_finite() && x > 0.0).then_some(x);
    KnockNote {
        channel,
        time_s: knock.time_s,
        peak_dbfs: knock.peak_dbfs,
        frequency_hz: positive(knock.frequency_hz),
        q: positive(knock.q),
        set_aside: knock.set_aside,
    }
}

/// The note of a reading of the takes with these ids, in the order of the `analyse` action.
pub fn reading_note(takes: &[String], reading: &Reading) -> ReadingNote {
    ReadingNote {
        takes: takes.to_vec(),
        outcome: reading.outcome,
        refusal: reading.refusal.clone(),
        warnings: reading.warnings.iter().map(|w| w.code).collect(),
        values: by_name(reading.values.iter().map(|(name, figure)| (name.as_str(), figure.value))),
    }
}

fn plain_note(channel: &ChannelHealth) -> ChannelNote {
    ChannelNote {
        peak_dbfs: channel.peak_dbfs.max(NOTHING_DBFS),
        rms_dbfs: channel.rms_dbfs.max(NOTHING_DBFS),
        clipped_samples: channel.clipped_samples,
        snr_db: None,
        signal_dbfs: None,
        drift_db: None,
    }
}

/// Channels that the action names, counted from 1, as far as the take has them; all where it names none.
fn channels_of(action: &Action, take: &Take) -> Vec<usize> {
    let wanted: Vec<usize> = match action {
        Action::Play { channels, .. } => channels.clone(),
        Action::Listen { channel, second_channel, .. } => [*channel].into_iter().chain(*second_channel).collect(),
        _ => Vec::new(),
    };
    let there: Vec<usize> = wanted.into_iter().filter(|c| (1..=take.channel_count()).contains(c)).collect();
    if there.is_empty() {
        return (1..=take.channel_count()).collect();
    }
    there
}

/// Adds what the periods tell. The loudest channel decides where periods begin.
fn add_signal(notes: &mut [ChannelNote], take: &Take, stimulus: &Stimulus) {
    let lines: Vec<usize> =
        excited_lines(stimulus).into_iter().filter(|line| !is_mains_line(*line, stimulus.period_s)).collect();
    let channels: Vec<&[f64]> = take.channels().iter().map(Vec::as_slice).collect();
    let samples = period_samples(stimulus);
    let loudest = (0..notes.len()).max_by(|a, b| notes[*a].rms_dbfs.total_cmp(&notes[*b].rms_dbfs));
    let Some(reference) = loudest.filter(|_| samples > 1 && take.rate_hz() == stimulus.rate_hz) else { return };
    let Ok(periods) = periods::split_known(&channels, take.rate_hz(), reference, samples) else { return };
    for (index, note) in notes.iter_mut().enumerate() {
        let level = level_on(&periods, index, &lines);
        note.snr_db =
            Some(10.0 * (level.signal / level.noise.max(f64::MIN_POSITIVE)).log10()).filter(|x| x.is_finite());
        note.signal_dbfs = Some(dbfs(level.signal));
        note.drift_db = level.drift_db;
    }
}

/// A break that left neither zeros nor a block that comes twice: told by the delay of what was played, in short plays that
/// came out poorly. (Longer ones tell it by their spoiled period; a signal that stands this clear was not broken.)
fn unseen_break(note: &TakeNote, take: &Take, stimulus: &Stimulus) -> Option<Notice> {
    let known = note.notices.iter().any(|n| n.code == Code::Gap);
    let loudest = (0..note.channels.len())
        .max_by(|a, b| note.channels[*a].rms_dbfs.total_cmp(&note.channels[*b].rms_dbfs))
        .filter(|_| !known && stimulus.periods <= SHORT_PLAY && take.rate_hz() == stimulus.rate_hz)?;
    let channel = &note.channels[loudest];
    let steady = channel.drift_db.is_some_and(|d| d < STEADY_DB);
    if steady && channel.snr_db.is_some_and(|snr| snr > UNBROKEN_DB) {
        return None;
    }
    let found = find_break(&take.channels()[loudest], stimulus)?;
    Some(Notice::new(Code::Gap, &[("time_s", found.time_s), ("slips", 1.0)]))
}

/// Powers on the excited lines, full scale (a root mean square of 1) being 1.
struct Level {
    /// Of what repeats.
    signal: f64,
    /// Of what does not, in one period.
    noise: f64,
    /// Loudest over softest period.
    drift_db: Option<f64>,
}

fn level_on(periods: &Periods, channel: usize, lines: &[usize]) -> Level {
    let lines = || lines.iter().copied().filter(|line| *line < periods.line_count());
    let count = periods.kept.len() as f64;
    let noise: f64 = lines().map(|line| 0.5 * periods.covariance(channel, channel, line).re).sum();
    let mean: f64 = lines().map(|line| 0.5 * periods.mean(channel, line).norm_sqr()).sum();
    let each = periods.spectra[channel].iter().map(|p| lines().map(|line| 0.5 * p[line].norm_sqr()).sum::<f64>());
    let (low, high) = each.fold((f64::INFINITY, 0.0f64), |(low, high), p| (low.min(p), high.max(p)));
    let drift_db = Some(10.0 * (high / low).log10()).filter(|x| x.is_finite());
    // The mean of K periods still holds 1/K of the noise.
    Level { signal: (mean - noise / count).max(0.0), noise, drift_db }
}

fn dbfs(power: f64) -> f64 {
    (10.0 * power.log10()).max(NOTHING_DBFS)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Random;
    use crate::procedure::defaults;
    use crate::signal::reading::{Figure, Outcome};
    use crate::signal::test_signals::render;

    const RATE_HZ: f64 = 48_000.0;

    fn play(stimulus: &Stimulus) -> Action {
        Action::Play {
            stimulus: stimulus.clone(),
            role: "level".to_owned(),
            tail_s: 1.0,
            resistor_ohm: None,
            added_mass_kg: None,
            box_volume_m3: None,
            channels: vec![1, 2],
            by_itself: false,
            button: String::new(),
        }
    }

    /// The stimulus, delayed, on two channels of different gain, with noise of `noise_rms` on each.
    fn recorded(stimulus: &Stimulus, gains: [f64; 2], noise_rms: f64) -> Take {
        let signal = render(stimulus).expect("a stimulus");
        let mut random = Random::new(3);
        let mut channel = |gain: f64| -> Vec<f64> {
            let silence = |seconds: f64| vec![0.0; (seconds * RATE_HZ) as usize];
            let played = signal.iter().map(|s| gain * s);
            let all = silence(0.3).into_iter().chain(played).chain(silence(1.0));
            all.map(|s| s + noise_rms * random.normal()).collect()
        };
        Take::new(RATE_HZ, vec![channel(gains[0]), channel(gains[1])]).expect("a take")
    }

    /// Two kept periods of a tone. Noise on one line has power 2σ²/N with N samples a period (white noise spreads evenly
    /// over N/2 lines), but with one line and two periods its estimate is a χ² of 2 degrees: only the level is asked for.
    /// Level: a sine of amplitude a has a root mean square of a/√2.
    #[test]
    fn a_tone_comes_back_at_its_level() {
        for peak_dbfs in [-20.0, -40.0] {
            let stimulus = defaults::tone(RATE_HZ, 1010.0, peak_dbfs, 3);
            let note = take_note("t", &play(&stimulus), &recorded(&stimulus, [1.0, 0.1], 1e-4));
            let level = note.channels[0].signal_dbfs.expect("a level");
            // σ = 1e-4 over 48000 samples moves the amplitude by about σ √(2/N) = 6e-7, of 0.01: 0.0006 dB; ten times that.
            assert!((level - (peak_dbfs - 3.0103)).abs() < 0.006, "{level}");
            assert!(note.channels[0].drift_db.expect("a drift") < 0.02);
        }
    }

    /// Signal over noise on the excited lines: signal power is that of the rendered signal, noise power σ² times the
    /// excited part of all lines. Two periods over about 9000 lines: the noise estimate's spread is 1/√9000, 0.05 dB.
    #[test]
    fn signal_over_noise_is_that_of_the_lines() {
        let stimulus = defaults::level(RATE_HZ, -20.0);
        let noise_rms = 1e-4;
        let note = take_note("t", &play(&stimulus), &recorded(&stimulus, [1.0, 0.1], noise_rms));
        let period = crate::signal::test_signals::one_period(&stimulus).expect("a period");
        let lines = excited_lines(&stimulus);
        let counted = lines.iter().filter(|l| !is_mains_line(**l, stimulus.period_s)).count() as f64;
        let power = 0.01 * period.iter().map(|s| s * s).sum::<f64>() / period.len() as f64;
        let noise = noise_rms * noise_rms * counted / (period.len() as f64 / 2.0);
        let expected = 10.0 * (power * counted / lines.len() as f64 / noise).log10();
        let (source, driver) = (note.channels[0].snr_db.expect("source"), note.channels[1].snr_db.expect("driver"));
        // Mains lines of a sweep would take a little power with them; half a decibel covers both shapes.
        assert!((source - expected).abs() < 0.5, "{source} against {expected}");
        assert!((source - driver - 20.0).abs() < 0.3, "{source} {driver}");
    }

    #[test]
    fn silence_has_no_signal() {
        let stimulus = defaults::level(RATE_HZ, -50.0);
        let note = take_note("t", &play(&stimulus), &recorded(&stimulus, [0.0, 0.0], 1e-4));
        assert!(note.channels.iter().all(|c| c.snr_db.is_none_or(|snr| snr < 10.0)), "{:?}", note.channels);
    }

    #[test]
    fn a_reading_keeps_its_figures_by_name() {
        let mut reading = Reading::new("knock", "test");
        reading.values.insert("f_s_hz".to_owned(), Figure::without_uncertainty(31.0, "a test"));
        let note = reading_note(&["a".to_owned()], &reading);
        assert_eq!((note.outcome, note.values["f_s_hz"], note.takes.len()), (Outcome::Reading, 31.0, 1));
    }
}
