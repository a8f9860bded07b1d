//! A take: what was recorded at one go.

use thiserror::Error;

/// Why samples cannot become a take.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum TakeError {
    /// The rate is outside what a sound card can have.
    #[error("the sample rate of {rate_hz} Hz is outside 4000 to 768000 Hz")]
    Rate {
        /// The rate found.
        rate_hz: f64,
    },
    /// No channel, or more than eight.
    #[error("a take has 1 to 8 channels, this one has {count}")]
    ChannelCount {
        /// The count found.
        count: usize,
    },
    /// Channels of different length.
    #[error("channel {channel} has {found} samples, channel 1 has {expected}")]
    Length {
        /// Counted from 1.
        channel: usize,
        /// Samples found.
        found: usize,
        /// Samples in channel 1.
        expected: usize,
    },
    /// Not a number, or infinite.
    #[error("sample {index} of channel {channel} is not a finite number")]
    NotFinite {
        /// Counted from 1.
        channel: usize,
        /// Counted from 0.
        index: usize,
    },
    /// No samples at all.
    #[error("the take holds no samples")]
    Empty,
}

/// Samples of 1 to 8 channels at one rate; full scale is ±1. Always finite and of equal length.
#[derive(Clone, Debug, PartialEq)]
pub struct Take {
    rate_hz: f64,
    channels: Vec<Vec<f64>>,
}

impl Take {
    /// Checks and takes over the samples (`channels[c][n]`).
    ///
    /// # Errors
    /// [`TakeError`] for an absurd rate, no or too many channels, unequal lengths, no samples, or a sample that is not finite.
    pub fn new(rate_hz: f64, channels: Vec<Vec<f64>>) -> Result<Self, TakeError> {
        if !(4000.0..=768_000.0).contains(&rate_hz) {
            return Err(TakeError::Rate { rate_hz });
        }
        if channels.is_empty() || channels.len() > 8 {
            return Err(TakeError::ChannelCount { count: channels.len() });
        }
        let expected = channels[0].len();
        if expected == 0 {
            return Err(TakeError::Empty);
        }
        for (c, samples) in channels.iter().enumerate() {
            if samples.len() != expected {
                return Err(TakeError::Length { channel: c + 1, found: samples.len(), expected });
            }
            if let Some(index) = samples.iter().position(|s| !s.is_finite()) {
                return Err(TakeError::NotFinite { channel: c + 1, index });
            }
        }
        Ok(Take { rate_hz, channels })
    }

    /// Samples a second.
    pub fn rate_hz(&self) -> f64 {
        self.rate_hz
    }

    /// Number of channels, 1 to 8.
    pub fn channel_count(&self) -> usize {
        self.channels.len()
    }

    /// Samples in each channel.
    pub fn len(&self) -> usize {
        self.channels[0].len()
    }

    /// Never true; a take holds at least one sample.
    pub fn is_empty(&self) -> bool {
        false
    }

    /// Length in seconds.
    pub fn duration_s(&self) -> f64 {
        self.len() as f64 / self.rate_hz
    }

    /// Channel counted from 1, as people count; none where the take has fewer.
    pub fn channel(&self, number: usize) -> Option<&[f64]> {
        self.channels.get(number.checked_sub(1)?).map(Vec::as_slice)
    }

    /// All channels.
    pub fn channels(&self) -> &[Vec<f64>] {
        &self.channels
    }
}
