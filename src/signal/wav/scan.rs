//! Walks over the parts of a WAV file and checks all that is said about its samples, before any is decoded.

use super::error::WavError;
use super::Format;

/// What a checked file says about itself. `data_start + data_bytes` never exceeds the file.
#[derive(Clone, Debug, PartialEq)]
pub struct Contents {
    pub format: Format,
    pub valid_bits: u16,
    pub channels: u16,
    pub rate_hz: u32,
    pub data_start: usize,
    pub data_bytes: usize,
}

/// The last 14 bytes of the identifier of an extensible sub-format; the first two are the plain coding.
const SUBFORMAT_TAIL: [u8; 14] = [0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xAA, 0, 0x38, 0x9B, 0x71];
const EXTENSIBLE: u16 = 0xFFFE;

/// Checks the file and tells where its samples are.
pub fn scan(bytes: &[u8]) -> Result<Contents, WavError> {
    if bytes.is_empty() {
        return Err(WavError::EmptyFile);
    }
    expect_tag(bytes, 0, "RIFF")?;
    let says = u32_at(bytes, 4).ok_or(WavError::TooShort { has: bytes.len() })? as usize;
    expect_tag(bytes, 8, "WAVE")?;
    let has = bytes.len() - 8;
    // Some writers forget the pad byte after an odd number of data bytes: one byte missing at the very end is no loss.
    if says > has + 1 {
        return Err(WavError::CutOff { says, has });
    }
    let format = find_part(bytes, "fmt ", 12)?;
    let description = describe(bytes, &format)?;
    let data = find_part(bytes, "data", format.next())?;
    if data.start + data.size > says + 8 {
        return Err(WavError::SizeLies { says: says + 8, needs: data.start + data.size });
    }
    let frame = usize::from(description.channels) * description.format.bytes();
    if data.size == 0 {
        return Err(WavError::NoSamples { at: data.start });
    }
    if data.size % frame != 0 {
        return Err(WavError::BrokenFrame { at: data.start, found: data.size, frame });
    }
    Ok(Contents { data_start: data.start, data_bytes: data.size, ..description })
}

/// A part: where its data begin and how many bytes they are; checked against the file.
struct Part {
    start: usize,
    size: usize,
}

impl Part {
    /// Where the next part begins.
    fn next(&self) -> usize {
        self.start + self.size + self.size % 2
    }
}

fn u16_at(bytes: &[u8], at: usize) -> Option<u16> {
    Some(u16::from_le_bytes(bytes.get(at..at + 2)?.try_into().ok()?))
}

fn u32_at(bytes: &[u8], at: usize) -> Option<u32> {
    Some(u32::from_le_bytes(bytes.get(at..at + 4)?.try_into().ok()?))
}

/// Up to four bytes as text that is safe to show.
fn shown(bytes: &[u8], at: usize) -> String {
    let end = (at + 4).min(bytes.len());
    let part = bytes.get(at..end).unwrap_or_default();
    part.iter().map(|b| if b.is_ascii_graphic() || *b == b' ' { char::from(*b) } else { '.' }).collect()
}

fn expect_tag(bytes: &[u8], at: usize, wanted: &'static str) -> Result<(), WavError> {
    if bytes.get(at..at + 4) == Some(wanted.as_bytes()) {
        return Ok(());
    }
    Err(WavError::NotWave { at, found: shown(bytes, at), wanted })
}

/// The first part of that name at or after `from`; parts of other names are stepped over.
fn find_part(bytes: &[u8], name: &'static str, from: usize) -> Result<Part, WavError> {
    let mut at = from;
    while at + 8 <= bytes.len() {
        let says = u32_at(bytes, at + 4).unwrap_or(0) as usize;
        let has = bytes.len() - at - 8;
        let wanted = bytes.get(at..at + 4) == Some(name.as_bytes());
        if says > has {
            return Err(WavError::PartCutOff { at: at + 4, name: shown(bytes, at), says, has });
        }
        let part = Part { start: at + 8, size: says };
        if wanted {
            return Ok(part);
        }
        at = part.next();
    }
    Err(WavError::PartMissing { at: bytes.len(), name })
}

/// Reads and checks the format part; the place of the data is filled in later.
fn describe(bytes: &[u8], part: &Part) -> Result<Contents, WavError> {
    let at = part.start;
    // A plain PCM header may carry a zero-length extension: 18 bytes.
    if ![16, 18, 40].contains(&part.size) {
        return Err(WavError::FormatSize { at: at - 4, found: part.size });
    }
    let field = |offset: usize| u16_at(bytes, at + offset).unwrap_or(0);
    let (mut coding, mut coding_at) = (field(0), at);
    let (channels, bits) = (field(2), field(14));
    let rate_hz = u32_at(bytes, at + 4).unwrap_or(0);
    let mut valid_bits = bits;
    if coding == EXTENSIBLE {
        if part.size != 40 {
            return Err(WavError::FormatSize { at: at - 4, found: part.size });
        }
        (valid_bits, coding, coding_at) = (field(18), field(24), at + 24);
        if bytes.get(at + 26..at + 40) != Some(&SUBFORMAT_TAIL) {
            coding = EXTENSIBLE;
        }
    }
    let format = match (coding, bits) {
        (1, 8) => Format::Int8,
        (1, 16) => Format::Int16,
        (1, 24) => Format::Int24,
        (1, 32) => Format::Int32,
        (3, 32) => Format::Float32,
        (1 | 3, _) => return Err(WavError::Bits { at: at + 14, found: bits }),
        _ => return Err(WavError::Coding { at: coding_at, found: coding }),
    };
    if !(1..=8).contains(&channels) {
        return Err(WavError::Channels { at: at + 2, found: channels });
    }
    if !(4000..=768_000).contains(&rate_hz) {
        return Err(WavError::Rate { at: at + 4, found: rate_hz });
    }
    let frame = usize::from(channels) * format.bytes();
    if usize::from(field(12)) != frame {
        return Err(WavError::FrameSize { at: at + 12, found: field(12), wanted: frame });
    }
    // Some writers leave the number of valid bits at zero and mean all of them.
    if valid_bits == 0 {
        valid_bits = bits;
    }
    if valid_bits > bits {
        return Err(WavError::ValidBits { at: at + 18, found: valid_bits, stored: bits });
    }
    Ok(Contents { format, valid_bits, channels, rate_hz, data_start: 0, data_bytes: 0 })
}
