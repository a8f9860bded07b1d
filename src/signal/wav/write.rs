//! Writing of WAV files.

use super::error::WavError;
use super::Format;
use crate::signal::take::Take;

/// Form of the format part.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Layout {
    /// 16 bytes for integers, 18 and a `fact` part for floats.
    Plain,
    /// 40 bytes and a `fact` part.
    Extensible,
}

const SUBFORMAT_TAIL: [u8; 14] = [0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xAA, 0, 0x38, 0x9B, 0x71];

/// The take as a WAV file: plain for one or two channels of 16 bits or float, extensible for all else.
/// Integers are rounded, and samples beyond full scale are held at it.
///
/// # Errors
/// [`WavError`] for a rate that is not a whole number, for more than 4 GiB, and for [`Format::Int8`].
pub fn write(take: &Take, format: Format) -> Result<Vec<u8>, WavError> {
    let plain = take.channel_count() <= 2 && matches!(format, Format::Int16 | Format::Float32);
    write_laid_out(take, format, if plain { Layout::Plain } else { Layout::Extensible })
}

/// As [`write()`], in a given layout.
///
/// # Errors
/// As [`write()`].
pub fn write_laid_out(take: &Take, format: Format, layout: Layout) -> Result<Vec<u8>, WavError> {
    if format == Format::Int8 {
        return Err(WavError::WriteFormat);
    }
    if take.rate_hz().fract() != 0.0 {
        return Err(WavError::BrokenRate { rate_hz: take.rate_hz() });
    }
    let data_bytes = take.len() * take.channel_count() * format.bytes();
    if data_bytes > u32::MAX as usize - 100 {
        return Err(WavError::TooLong { bytes: data_bytes });
    }
    let coding = if format.is_float() { 3 } else { 1 };
    let size = match layout {
        Layout::Plain if coding == 1 => 16,
        Layout::Plain => 18,
        Layout::Extensible => 40,
    };
    let tag = if layout == Layout::Extensible { 0xFFFE } else { coding };
    let mut out = header(tag, size, format, take.channel_count() as u16, take.rate_hz() as u32, data_bytes as u32);
    out.reserve(data_bytes + 1);
    for n in 0..take.len() {
        for channel in take.channels() {
            push_sample(&mut out, channel[n], format);
        }
    }
    if data_bytes % 2 == 1 {
        out.push(0);
    }
    Ok(out)
}

/// Everything before the samples. `format_size` 16 has no extension and no `fact` part.
pub fn header(tag: u16, format_size: u32, format: Format, channels: u16, rate_hz: u32, data_bytes: u32) -> Vec<u8> {
    let frame = channels * format.bytes() as u16;
    let bits = 8 * format.bytes() as u16;
    let fact_bytes = if format_size == 16 { 0 } else { 12 };
    let mut out = Vec::with_capacity(80);
    out.extend(b"RIFF");
    out.extend((4 + 8 + format_size + fact_bytes + 8 + data_bytes + data_bytes % 2).to_le_bytes());
    out.extend(b"WAVEfmt ");
    out.extend(format_size.to_le_bytes());
    out.extend(tag.to_le_bytes());
    out.extend(channels.to_le_bytes());
    out.extend(rate_hz.to_le_bytes());
    out.extend((rate_hz.wrapping_mul(u32::from(frame))).to_le_bytes());
    out.extend(frame.to_le_bytes());
    out.extend(bits.to_le_bytes());
    if format_size > 16 {
        out.extend((format_size as u16 - 18).to_le_bytes());
    }
    if format_size == 40 {
        out.extend(bits.to_le_bytes());
        out.extend(speaker_mask(channels).to_le_bytes());
        out.extend(if format.is_float() { [3, 0] } else { [1, 0] });
        out.extend(SUBFORMAT_TAIL);
    }
    if fact_bytes > 0 {
        out.extend(b"fact");
        out.extend(4_u32.to_le_bytes());
        out.extend((data_bytes / u32::from(frame.max(1))).to_le_bytes());
    }
    out.extend(b"data");
    out.extend(data_bytes.to_le_bytes());
    out
}

/// Front left and right for two channels; otherwise no places are claimed, for measuring channels have none.
fn speaker_mask(channels: u16) -> u32 {
    if channels == 2 {
        3
    } else {
        0
    }
}

fn push_sample(out: &mut Vec<u8>, sample: f64, format: Format) {
    if format.is_float() {
        out.extend((sample as f32).to_le_bytes());
        return;
    }
    let full_scale = 2.0_f64.powi(8 * format.bytes() as i32 - 1);
    let value = (sample * full_scale).round().clamp(-full_scale, full_scale - 1.0) as i32;
    out.extend(&value.to_le_bytes()[..format.bytes()]);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_as_the_specification_counts_them() {
        // RIFF/WAVE specification (a published description of it): block size, bytes a second, data, RIFF and file size.
        let cases = [
            (1, 48_000, 48_000, Format::Int16, Layout::Plain, [2, 96_000, 96_000, 96_036, 96_044]),
            (1, 44_100, 3, Format::Int24, Layout::Plain, [3, 132_300, 9, 46, 54]),
            (2, 48_000, 1000, Format::Float32, Layout::Plain, [8, 384_000, 8000, 8050, 8058]),
            (2, 96_000, 1000, Format::Int24, Layout::Extensible, [6, 576_000, 6000, 6072, 6080]),
        ];
        for (channels, rate, frames, format, layout, expected) in cases {
            let take = Take::new(f64::from(rate), vec![vec![0.25; frames]; channels]).expect("a take");
            let bytes = write_laid_out(&take, format, layout).expect("writes");
            let at =
                |i: usize, n: usize| bytes[i..i + n].iter().rev().fold(0_usize, |sum, b| sum << 8 | usize::from(*b));
            let data = bytes.windows(4).position(|w| w == b"data").expect("a data part");
            let found = [at(32, 2), at(28, 4), at(data + 4, 4), at(4, 4), bytes.len()];
            assert_eq!(found, expected, "{format:?} {layout:?}");
        }
    }

    #[test]
    fn what_cannot_be_written_is_said() {
        let take = Take::new(44_100.5, vec![vec![0.0]]).expect("a take");
        assert!(matches!(write(&take, Format::Int16), Err(WavError::BrokenRate { .. })));
        assert_eq!(write(&take, Format::Int8), Err(WavError::WriteFormat));
    }

    #[test]
    fn an_independent_reader_agrees() {
        let take = Take::new(48_000.0, vec![vec![0.5, -0.25], vec![0.125, -1.0]]).expect("a take");
        let reader = hound::WavReader::new(std::io::Cursor::new(write(&take, Format::Int24).expect("writes")));
        let samples: Vec<i32> = reader.expect("reads").into_samples().map(|s| s.expect("a sample")).collect();
        assert_eq!(samples, [1 << 22, 1 << 20, -(1 << 21), -(1 << 23)]);
    }
}
