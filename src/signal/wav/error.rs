//! Why a file is no usable WAV: always the byte, what is there and what is wanted.

use crate::signal::take::TakeError;
use thiserror::Error;

/// Why bytes could not be read as WAV, or a take not written.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
#[allow(missing_docs)] // the sentences say what the fields are; `at` counts bytes from 0
pub enum WavError {
    #[error("the file is empty; wanted: a WAV file")]
    EmptyFile,
    #[error("the file ends after {has} bytes; wanted: a WAV file, which has 12 bytes before its first part")]
    TooShort { has: usize },
    #[error("byte {at}: '{found}' stands here; wanted: '{wanted}', as every WAV file has")]
    NotWave { at: usize, found: String, wanted: &'static str },
    #[error(
        "byte 4: the file says it has {says} bytes after byte 8, but has {has}; it was cut off. Wanted: the whole file"
    )]
    CutOff { says: usize, has: usize },
    #[error("byte {at}: part '{name}' says it has {says} bytes, but {has} follow; wanted: the whole part")]
    PartCutOff { at: usize, name: String, says: usize, has: usize },
    #[error("byte 4: the file says it ends at byte {says}, but its samples reach to byte {needs}; wanted: true sizes")]
    SizeLies { says: usize, needs: usize },
    #[error("byte {at}: the file ends without a '{name}' part; wanted: one")]
    PartMissing { at: usize, name: &'static str },
    #[error("byte {at}: the format part has {found} bytes; wanted: 16, 18 or 40")]
    FormatSize { at: usize, found: usize },
    #[error("byte {at}: sample coding {found} is not supported; wanted: 1 (integer), 3 (float) or 65534 (extensible)")]
    Coding { at: usize, found: u16 },
    #[error("byte {at}: {found} channels; wanted: 1 to 8")]
    Channels { at: usize, found: u16 },
    #[error("byte {at}: {found} samples a second; wanted: 4000 to 768000")]
    Rate { at: usize, found: u32 },
    #[error("byte {at}: {found} bits a sample; wanted: 8, 16, 24 or 32 for integers, 32 for floats")]
    Bits { at: usize, found: u16 },
    #[error("byte {at}: {found} bytes a frame; wanted: {wanted} for this many channels and bits")]
    FrameSize { at: usize, found: u16, wanted: usize },
    #[error("byte {at}: {found} valid bits in samples of {stored} bits; wanted: 1 to {stored}")]
    ValidBits { at: usize, found: u16, stored: u16 },
    #[error("byte {at}: the data part holds no samples; wanted: at least one frame")]
    NoSamples { at: usize },
    #[error(
        "byte {at}: {found} bytes of samples are no whole number of frames of {frame} bytes; wanted: whole frames"
    )]
    BrokenFrame { at: usize, found: usize, frame: usize },
    #[error("byte {at}: sample {frame} of channel {channel} is not a finite number; wanted: numbers")]
    NotFinite { at: usize, channel: usize, frame: usize },
    #[error("byte {at}: the samples could not be decoded: {reason}")]
    Decoder { at: usize, reason: String },
    #[error("the samples make no take: {source}")]
    Take { source: TakeError },
    #[error("a rate of {rate_hz} Hz cannot be written; wanted: a whole number of hertz")]
    BrokenRate { rate_hz: f64 },
    #[error("{bytes} bytes of samples do not fit in a WAV file; wanted: less than 4 GiB")]
    TooLong { bytes: usize },
    #[error("8-bit files are read, but not written; wanted: 16, 24 or 32 bits, or float")]
    WriteFormat,
}
