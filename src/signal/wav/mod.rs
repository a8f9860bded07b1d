//! WAV files in and out.
//!
//! RIFF/WAVE: chunks of a four-byte name, a size and data, odd data padded by one byte that the size does not count; `fmt `
//! of 16 (PCM), 18 (float) or 40 bytes (extensible). Reading first walks over the chunks and names the byte at which
//! something is wrong and what is wanted there; only a file that is what it says goes to the decoding library.
//! Full scale is ±1. Integers of 8, 16, 24, 32 bits and floats of 32 bits; 1 to 8 channels.

mod error;
mod scan;
mod write;

pub use error::WavError;
pub use write::{write, write_laid_out, Layout};

use super::take::Take;
use scan::{scan, Contents};
use serde::{Deserialize, Serialize};
use std::io::{Cursor, Read};

/// How samples are stored.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Format {
    /// Unsigned integer of 8 bits (read only).
    Int8,
    /// Integer of 16 bits.
    Int16,
    /// Integer of 24 bits.
    Int24,
    /// Integer of 32 bits.
    Int32,
    /// Floating point of 32 bits.
    Float32,
}

impl Format {
    /// Bytes a sample.
    pub fn bytes(self) -> usize {
        match self {
            Format::Int8 => 1,
            Format::Int16 => 2,
            Format::Int24 => 3,
            Format::Int32 | Format::Float32 => 4,
        }
    }

    /// True for floating point.
    pub fn is_float(self) -> bool {
        self == Format::Float32
    }
}

/// A file's samples and how they were stored.
#[derive(Clone, Debug, PartialEq)]
pub struct WavFile {
    /// The samples.
    pub take: Take,
    /// How they were stored.
    pub format: Format,
    /// Bits that carry the signal; fewer than stored in some extensible files.
    pub valid_bits: u16,
}

/// Reads a whole file.
///
/// # Errors
/// [`WavError`] names the byte at which the file is not what it says, and what is wanted there.
pub fn read(bytes: &[u8]) -> Result<WavFile, WavError> {
    let contents = scan(bytes)?;
    let channels = decode(bytes, &contents)?;
    let take = Take::new(f64::from(contents.rate_hz), channels).map_err(|source| WavError::Take { source })?;
    Ok(WavFile { take, format: contents.format, valid_bits: contents.valid_bits })
}

/// Samples as `[channel][frame]`.
fn decode(bytes: &[u8], contents: &Contents) -> Result<Vec<Vec<f64>>, WavError> {
    let header = plain_header(contents);
    let reader = Cursor::new(header).chain(&bytes[contents.data_start..contents.data_start + contents.data_bytes]);
    let decoder = hound::WavReader::new(reader)
        .map_err(|e| WavError::Decoder { at: contents.data_start, reason: e.to_string() })?;
    let count = usize::from(contents.channels);
    let mut channels = vec![Vec::with_capacity(contents.data_bytes / (count * contents.format.bytes())); count];
    let failed = |e: hound::Error| WavError::Decoder { at: contents.data_start, reason: e.to_string() };
    if contents.format.is_float() {
        for (i, sample) in decoder.into_samples::<f32>().enumerate() {
            let sample = f64::from(sample.map_err(failed)?);
            if !sample.is_finite() {
                let (channel, at) = (i % count + 1, contents.data_start + 4 * i);
                return Err(WavError::NotFinite { at, channel, frame: i / count });
            }
            channels[i % count].push(sample);
        }
    } else {
        let scale = 0.5_f64.powi(8 * contents.format.bytes() as i32 - 1);
        for (i, sample) in decoder.into_samples::<i32>().enumerate() {
            channels[i % count].push(f64::from(sample.map_err(failed)?) * scale);
        }
    }
    Ok(channels)
}

/// The plainest header with the same meaning: what the scan has accepted, the decoder need not judge again.
fn plain_header(contents: &Contents) -> Vec<u8> {
    let tag = if contents.format.is_float() { 3_u16 } else { 1 };
    write::header(tag, 16, contents.format, contents.channels, contents.rate_hz, contents.data_bytes as u32)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn take(channels: usize, frames: usize) -> Take {
        let sample = |c: usize, n: usize| ((n * 37 + c * 11) % 255) as f64 / 128.0 - 1.0;
        let samples = (0..channels).map(|c| (0..frames).map(|n| sample(c, n)).collect()).collect();
        Take::new(48_000.0, samples).expect("a take")
    }

    #[test]
    fn what_is_written_is_read_again_in_every_format_layout_and_channel_count() {
        for format in [Format::Int16, Format::Int24, Format::Int32, Format::Float32] {
            for channels in 1..=8 {
                for layout in [Layout::Plain, Layout::Extensible] {
                    let original = take(channels, 51);
                    let bytes = write_laid_out(&original, format, layout).expect("writes");
                    let back = read(&bytes).expect("reads");
                    // Multiples of 1/128 are exact in all formats.
                    assert_eq!(back.take, original, "{format:?} {channels} {layout:?}");
                    assert_eq!(back.format, format);
                }
            }
        }
    }

    #[test]
    fn eight_bits_are_read() {
        let mut bytes = write::header(1, 16, Format::Int8, 1, 44_100, 4);
        bytes.extend([0, 128, 255, 192]);
        let file = read(&bytes).expect("reads");
        assert_eq!(file.take.channel(1).expect("one"), &[-1.0, 0.0, 127.0 / 128.0, 0.5]);
    }

    #[test]
    fn full_scale_is_kept_inside_the_integers() {
        let loud = Take::new(48_000.0, vec![vec![1.0, -1.0, 2.0, -2.0]]).expect("a take");
        let back = read(&write(&loud, Format::Int16).expect("writes")).expect("reads");
        let top = 32_767.0 / 32_768.0;
        assert_eq!(back.take.channel(1).expect("one"), &[top, -1.0, top, -1.0]);
    }

    proptest! {
        #[test]
        fn no_bytes_make_the_reader_panic(bytes in proptest::collection::vec(any::<u8>(), 0..300)) {
            let _ = read(&bytes);
        }

        #[test]
        fn no_damage_to_a_good_file_makes_it_panic(
            channels in 1_usize..=8, frames in 1_usize..40, which in 0_usize..8,
            damage in proptest::collection::vec((0_usize..100, any::<u8>()), 1..6), cut in 0_usize..200,
        ) {
            let format = [Format::Int16, Format::Int24, Format::Int32, Format::Float32][which % 4];
            let layout = if which < 4 { Layout::Plain } else { Layout::Extensible };
            let mut bytes = write_laid_out(&take(channels, frames), format, layout).expect("writes");
            for (at, value) in damage {
                let at = at % bytes.len();
                bytes[at] = value;
            }
            bytes.truncate(bytes.len().saturating_sub(cut));
            if let Ok(file) = read(&bytes) {
                prop_assert!(file.take.channels().iter().flatten().all(|s| s.is_finite()));
            }
        }

        #[test]
        fn floats_come_back_bit_by_bit(samples in proptest::collection::vec(-4.0_f32..4.0, 1..200)) {
            let original = Take::new(96_000.0, vec![samples.iter().map(|s| f64::from(*s)).collect()]).expect("a take");
            prop_assert_eq!(read(&write(&original, Format::Float32).expect("writes")).expect("reads").take, original);
        }
    }
}
