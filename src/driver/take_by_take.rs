//! What the two checks that compare takes with one another share: spectra that can be trusted, gain between two takes of one
//! thing, takes brought in step.

use super::impedance_takes::{severity, Severity};
use super::take_delay::{fit_delay, in_step};
use crate::electrical::jig::Jig;
use crate::electrical::ratio::RatioCurve;
use crate::electrical::take_ratio::{agreement, take_spectrum, TakeSpectrum};
use crate::signal::health::assess_known_period;
use crate::signal::notice::{Code, Notice};
use crate::signal::period_search::find_period;
use crate::signal::pilots::unmarked;
use crate::signal::role_take::RoleTake;

/// Warnings on the way; true where they make the reading doubtful.
pub type Warnings = Vec<(Notice, bool)>;
/// Two takes of one clock lie a whole number of samples apart, to this.
const ONE_CLOCK: f64 = 0.03;
/// Signal over scatter of a period: told below the one; below the other the takes may as well be of different signals.
const SNR_WANTED_DB: f64 = 30.0;
const SNR_REFUSED_DB: f64 = 6.0;

/// The mean spectrum of a take, marks taken off, once the samples can be trusted. What is merely worth knowing is `told`
/// for some takes only: it is the same in all.
pub fn spectrum(
    take: &RoleTake,
    channel: usize,
    told: bool,
    warnings: &mut Warnings,
) -> Result<TakeSpectrum, Box<Notice>> {
    let rate_hz = take.take.rate_hz();
    let silent = assess_known_period(&take.take, &[channel], None);
    if let Some(notice) = silent.notices.into_iter().find(|n| n.code == Code::Silent) {
        return Err(Box::new(notice));
    }
    let bare = unmarked(&take.take, channel)?;
    let inner = bare.as_ref().map_or(&take.take, |u| &u.take);
    let samples = inner.channel(channel).unwrap_or_default();
    let period = bare.as_ref().map(|u| u.period).or_else(|| find_period(samples, rate_hz));
    let period = period.ok_or_else(|| Box::new(Notice::new(Code::NoStimulus, &[])))?;
    for notice in assess_known_period(inner, &[channel], Some(period)).notices {
        match severity(&notice, inner.len()) {
            Severity::Refuses => return Err(Box::new(notice)),
            Severity::Doubtful => warnings.push((notice, true)),
            Severity::Told if told => warnings.push((notice, false)),
            Severity::Told => {}
        }
    }
    let too_short = |_| Box::new(Notice::new(Code::TooShort, &[("duration_s", inner.duration_s())]));
    let spectrum = take_spectrum(samples, rate_hz, period).map_err(too_short)?;
    trusted(&spectrum, warnings)?;
    Ok(spectrum)
}

fn trusted(spectrum: &TakeSpectrum, warnings: &mut Warnings) -> Result<(), Box<Notice>> {
    let (kept, dropped, slips) = spectrum.counts;
    if slips > 0 {
        // Delay is what everything hangs on here.
        return Err(Box::new(Notice::new(Code::Gap, &[("slips", slips as f64)])));
    }
    if dropped > 0 {
        let many = dropped as f64 > 0.4 * (kept + dropped) as f64;
        warnings.push((Notice::new(Code::Noise, &[("periods_dropped", dropped as f64)]), many));
    }
    let snr_db = spectrum.snr_db();
    let numbers = [("snr_db", snr_db), ("wanted_db", SNR_WANTED_DB)];
    if snr_db < SNR_REFUSED_DB {
        return Err(Box::new(Notice::new(Code::Noise, &numbers)));
    }
    if snr_db < SNR_WANTED_DB {
        warnings.push((Notice::new(Code::Noise, &numbers), false));
    }
    Ok(())
}

/// Takes that are to be compared were played at one rate with one period.
pub fn same_signal<'a>(
    first: &TakeSpectrum,
    others: impl IntoIterator<Item = &'a TakeSpectrum>,
) -> Result<(), Box<Notice>> {
    let differs = |s: &&TakeSpectrum| (s.rate_hz, s.period) != (first.rate_hz, first.period);
    others.into_iter().find(differs).map_or(Ok(()), |_| Err(Box::new(Notice::new(Code::NoStimulus, &[]))))
}

/// How far two takes of one thing may differ.
pub struct Limits {
    /// Band in which they are compared, in Hz.
    pub band_hz: (f64, f64),
    /// Departure of their ratio from one number: beyond it they are of different things.
    pub departs: f64,
    /// Change of ln gain that is refused, and that makes doubtful.
    pub gain: (f64, f64),
}

/// What all other takes are compared with.
pub struct Reference {
    /// The mean of both takes, gain half way between them.
    pub mean: TakeSpectrum,
    /// ln of the last one's gain over the first one's.
    pub ln_gain: f64,
    /// Their delay is a whole number of samples: output and input run on one clock.
    pub one_clock: bool,
}

/// The first and the last take, of one thing, brought together.
///
/// # Errors
/// A [`Notice`] where gain moved too far between them, or they are not of one thing.
pub fn reference(
    first: TakeSpectrum,
    last: TakeSpectrum,
    limits: &Limits,
    warnings: &mut Warnings,
) -> Result<Reference, Box<Notice>> {
    let rate_hz = first.rate_hz;
    let samples = last.later_s(&first) * rate_hz;
    let one_clock = (samples - samples.round()).abs() < ONE_CLOCK;
    let last = last.earlier(if one_clock { samples.round() } else { samples } / rate_hz);
    let ln_gain = gain_between(&last, &first, limits, warnings)?;
    let mean = scaled(first, 0.5 * ln_gain).averaged(&scaled(last, -0.5 * ln_gain));
    Ok(Reference { mean, ln_gain, one_clock })
}

fn gain_between(
    last: &TakeSpectrum,
    first: &TakeSpectrum,
    limits: &Limits,
    warnings: &mut Warnings,
) -> Result<f64, Box<Notice>> {
    let found = agreement(last, first, limits.band_hz);
    if found.departure.is_nan() || found.departure > limits.departs {
        let numbers = [("difference", found.departure), ("allowed", limits.departs)];
        return Err(Box::new(Notice::new(Code::Contradiction, &numbers)));
    }
    let (refused, doubtful) = limits.gain;
    let moved = found.ln_gain.abs();
    let db = 20.0 / std::f64::consts::LN_10;
    let allowed = if moved > refused { refused } else { doubtful };
    let notice = Notice::new(Code::GainRiding, &[("change_db", found.ln_gain * db), ("allowed_db", allowed * db)]);
    if moved > refused {
        return Err(Box::new(notice));
    }
    if moved > doubtful {
        warnings.push((notice, true));
    }
    Ok(found.ln_gain)
}

fn scaled(mut spectrum: TakeSpectrum, ln_gain: f64) -> TakeSpectrum {
    let gain = ln_gain.exp();
    spectrum.mean.iter_mut().for_each(|m| *m *= gain);
    spectrum.variance.iter_mut().for_each(|v| *v *= gain * gain);
    spectrum
}

/// Every take over the reference, in step, and the uncertainty of the delays in s (root mean square). `level` takes out what
/// was played louder, `look` says what is wrong with a ratio before its delay is fitted.
pub fn in_steps(
    takes: Vec<TakeSpectrum>,
    reference: &Reference,
    jig: &Jig,
    band_hz: (f64, f64),
    level: impl Fn(RatioCurve) -> RatioCurve,
    look: impl Fn(&RatioCurve) -> Result<(), Box<Notice>>,
) -> Result<(Vec<RatioCurve>, f64), Box<Notice>> {
    let mut curves = Vec::new();
    let (mut sum, count) = (0.0, takes.len() as f64);
    let rate_hz = reference.mean.rate_hz;
    for take in takes {
        let before_s = take.later_s(&reference.mean);
        let curve = level(take.earlier(before_s).over(&reference.mean, band_hz));
        look(&curve)?;
        // A curve without a resonance tells no delay; the reading says so by itself.
        let fitted = fit_delay(&curve, jig, rate_hz, before_s * rate_hz, reference.one_clock);
        sum += fitted.map_or(0.0, |d| d.uncertainty_s * d.uncertainty_s);
        curves.push(in_step(curve, fitted.map_or(0.0, |d| d.delay_s)));
    }
    Ok((curves, (sum / count).sqrt()))
}
