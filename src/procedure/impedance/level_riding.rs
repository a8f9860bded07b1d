//! Does louder output come back louder in proportion? An input that rides its gain does not let it.
//!
//! Two signs, both on the source's input, where nothing of the driver stands between output and input: the signal rises by
//! another step than was played; or its level moves from period to period although the noise, known from the quietest play
//! so far, is far too weak for that. A gain that moves looks like noise, so the search for a level would else end with
//! 'too quiet' at the loudest one.

use super::super::step::ChannelNote;
use crate::signal::notice::{Code, Notice};

/// Change of gain that is none. Half a decibel is what a take may show (a coil that warms by 10 K moves 0.3 dB);
/// with it goes what noise of −30 dB moves a level by in two periods, 20 log10(1.032/0.968) = 0.55 dB.
pub(super) const ALLOWED_DB: f64 = 1.05;
/// Signal over the noise of the quietest play from which on noise moves nothing by more than that.
const CLEAR_DB: f64 = 30.0;

/// What the source's input did so far.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Followed {
    /// Level played and level that came back, of the last play that stood clear.
    last: Option<(f64, f64)>,
    /// Least noise of any play, dB below full scale.
    noise_dbfs: Option<f64>,
}

impl Followed {
    /// One more play; the notice where the gain was riding.
    pub(super) fn add(&mut self, played_dbfs: f64, source: &ChannelNote) -> Option<Notice> {
        // Where nothing repeats, nothing is known of noise either.
        let (signal_dbfs, snr_db) = (source.signal_dbfs?, source.snr_db?);
        let noise_dbfs = self.noise_dbfs.unwrap_or(f64::INFINITY).min(signal_dbfs - snr_db);
        self.noise_dbfs = Some(noise_dbfs);
        if signal_dbfs - noise_dbfs < CLEAR_DB {
            return None;
        }
        let step_db = self.last.map(|(played, came)| ((signal_dbfs - came) - (played_dbfs - played)).abs());
        self.last = Some((played_dbfs, signal_dbfs));
        let change_db = step_db.unwrap_or(0.0).max(source.drift_db.unwrap_or(0.0));
        let numbers = [("change_db", change_db), ("allowed_db", ALLOWED_DB)];
        (change_db > ALLOWED_DB).then(|| Notice::new(Code::GainRiding, &numbers))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A play that came back with so much signal, noise and change between periods.
    fn came(signal_dbfs: f64, noise_dbfs: f64, drift_db: f64) -> ChannelNote {
        ChannelNote {
            peak_dbfs: signal_dbfs + 10.0,
            rms_dbfs: signal_dbfs,
            clipped_samples: 0,
            snr_db: Some(signal_dbfs - noise_dbfs),
            signal_dbfs: Some(signal_dbfs),
            drift_db: Some(drift_db),
        }
    }

    fn codes(plays: &[(f64, ChannelNote)]) -> Vec<bool> {
        let mut followed = Followed::default();
        plays.iter().map(|(played, note)| followed.add(*played, note).is_some()).collect()
    }

    #[test]
    fn noise_alone_moves_levels_and_is_no_riding() {
        // The weaker the signal the more its level moves; it never stands clear of the noise.
        let plays =
            [(-50.0, came(-70.0, -72.0, 3.0)), (-44.0, came(-64.0, -72.0, 2.0)), (-38.0, came(-58.0, -72.0, 1.2))];
        assert_eq!(codes(&plays), [false; 3]);
    }

    #[test]
    fn a_gain_that_moves_within_a_play_or_between_two_is() {
        // Noise in proportion to the signal: the gain's own movement.
        let moving =
            [(-50.0, came(-70.0, -88.0, 3.0)), (-44.0, came(-64.0, -82.0, 3.0)), (-38.0, came(-58.0, -76.0, 3.0))];
        assert_eq!(codes(&moving), [false, false, true]);
        let held =
            [(-38.0, came(-50.0, -90.0, 0.0)), (-32.0, came(-44.0, -90.0, 0.0)), (-26.0, came(-41.0, -90.0, 0.0))];
        assert_eq!(codes(&held), [false, false, true]);
    }
}
