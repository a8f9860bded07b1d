//! Named broken and unusual WAV files (`wav_corpus/`, written by its `generate.py`): each is read, or refused with the byte
//! and what is wanted there.

use conewright::signal::wav::{read, Format};

macro_rules! files {
    ($($name:literal),* $(,)?) => {
        &[$(($name, include_bytes!(concat!("wav_corpus/", $name, ".wav")) as &[u8])),*]
    };
}

const FILES: &[(&str, &[u8])] = files![
    "big_endian",
    "compressed",
    "empty_file",
    "extensible_cut_short",
    "extensible_more_valid_bits_than_stored",
    "extensible_unknown_coding",
    "five_bytes",
    "float_infinite",
    "float_not_a_number",
    "float_of_64_bits",
    "format_of_odd_size",
    "frame_size_lies",
    "good_16_bit",
    "good_eight_channels",
    "good_extensible_24_in_32",
    "good_float",
    "good_pad_byte_forgotten",
    "good_trailing_part",
    "good_trailing_rubbish",
    "good_unknown_part_before_data",
    "half_a_frame",
    "lying_data_size",
    "lying_riff_size",
    "nine_channels",
    "no_channels",
    "no_data",
    "no_format",
    "no_samples",
    "not_wave",
    "rate_absurd",
    "rate_zero",
    "riff_but_not_wave",
    "truncated_in_data",
    "truncated_in_header",
    "twelve_bits",
    "unfinished_recording",
];

#[test]
fn every_file_is_read_or_refused_as_described() {
    let expected = include_str!("wav_corpus/expected.csv");
    let described: Vec<(&str, &str)> =
        expected.lines().filter(|l| !l.starts_with('#')).filter_map(|l| l.split_once(';')).collect();
    assert_eq!(described.len(), FILES.len(), "the list here and the corpus differ");
    for (file, says) in described {
        let bytes = FILES.iter().find(|(name, _)| format!("{name}.wav") == file).expect("a file of that name").1;
        match read(bytes) {
            Ok(_) => assert_eq!(says, "ok", "{file} was read"),
            Err(error) => assert!(says != "ok" && error.to_string().contains(says), "{file}: {error}; wanted: {says}"),
        }
    }
}

fn file(name: &str) -> &'static [u8] {
    FILES.iter().find(|(n, _)| *n == name).expect("a file of that name").1
}

#[test]
fn unusual_files_are_read_right() {
    let plain = read(file("good_16_bit")).expect("reads");
    assert_eq!(plain.take.channel(1).expect("left"), &[0.0, -200.0 / 32_768.0, -1.0, 5.0 / 32_768.0]);
    for same in ["good_unknown_part_before_data", "good_trailing_part", "good_trailing_rubbish"] {
        assert_eq!(read(file(same)).expect("reads"), plain, "{same}");
    }
    let wide = read(file("good_extensible_24_in_32")).expect("reads");
    assert_eq!((wide.format, wide.valid_bits, wide.take.len()), (Format::Int32, 24, 1));
    // Bytes 0, 1, 2, 3 from the lowest: 0x03020100 of 2³¹.
    assert_eq!(wide.take.channel(2).expect("right"), &[f64::from(0x0302_0100) / 2.0_f64.powi(31)]);
    assert_eq!(read(file("good_float")).expect("reads").take.channel(1).expect("one"), &[0.0, 0.5, -0.5, 0.25]);
    assert_eq!(read(file("good_eight_channels")).expect("reads").take.channel_count(), 8);
    assert_eq!(read(file("good_pad_byte_forgotten")).expect("reads").take.len(), 3);
}
