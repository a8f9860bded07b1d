#!/usr/bin/env python3
"""Writes the corpus of broken and unusual WAV files from a description of each; `--check` compares instead of writing.

The layout follows the RIFF/WAVE specification; only struct packing is used, so that the corpus is independent of our writer.
"""
import pathlib
import struct
import sys

HERE = pathlib.Path(__file__).parent
PCM_TAIL = bytes([0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xAA, 0, 0x38, 0x9B, 0x71])


def part(name, data, size=None):
    return name + struct.pack("<I", len(data) if size is None else size) + data + b"\0" * (len(data) % 2)


def fmt(coding=1, channels=2, rate=48000, bits=16, frame=None, extra=b""):
    frame = channels * bits // 8 if frame is None else frame
    return part(b"fmt ", struct.pack("<HHIIHH", coding, channels, rate, rate * frame % 2**32, frame, bits) + extra)


def riff(*parts, size=None):
    body = b"WAVE" + b"".join(parts)
    return b"RIFF" + struct.pack("<I", len(body) if size is None else size) + body


def extensible(sub, bits, valid, channels=2):
    extra = struct.pack("<HHIH", 22, valid, 3, sub) + PCM_TAIL
    return fmt(0xFFFE, channels, bits=bits, extra=extra)


INTS = struct.pack("<8h", 0, 100, -200, 300, -32768, 32767, 5, -5)
FLOATS = struct.pack("<4f", 0.0, 0.5, -0.5, 0.25)
GOOD = riff(fmt(), part(b"data", INTS))

# name: (bytes, what the reader must say; "ok" where it must read the file)
FILES = {
    "good_16_bit": (GOOD, "ok"),
    "good_unknown_part_before_data": (riff(fmt(), part(b"LIST", b"odd"), part(b"data", INTS)), "ok"),
    "good_trailing_part": (riff(fmt(), part(b"data", INTS), part(b"LIST", b"abcd")), "ok"),
    "good_trailing_rubbish": (GOOD + b"rubbish", "ok"),
    "good_pad_byte_forgotten": (
        b"RIFF" + struct.pack("<I", 4 + 24 + 8 + 4) + b"WAVE" + fmt(channels=1, bits=8) + part(b"data", b"abc")[:-1], "ok"),
    "good_extensible_24_in_32": (riff(extensible(1, 32, 24), part(b"data", b"\0\1\2\3" * 2)), "ok"),
    "good_float": (riff(fmt(3, 1, bits=32, extra=b"\0\0"), part(b"fact", struct.pack("<I", 4)), part(b"data", FLOATS)), "ok"),
    "good_eight_channels": (riff(fmt(channels=8), part(b"data", INTS)), "ok"),
    "empty_file": (b"", "the file is empty"),
    "five_bytes": (b"RIFF\0", "the file ends after 5 bytes"),
    "not_wave": (b"\x89PNG" + bytes(40), "byte 0: '.PNG' stands here; wanted: 'RIFF'"),
    "riff_but_not_wave": (GOOD.replace(b"WAVE", b"AVI "), "byte 8: 'AVI ' stands here; wanted: 'WAVE'"),
    "big_endian": (b"RIFX" + GOOD[4:], "byte 0: 'RIFX' stands here"),
    "truncated_in_data": (GOOD[:-6], "byte 4: the file says it has 52 bytes after byte 8, but has 46"),
    "truncated_in_header": (GOOD[:20], "byte 4: the file says it has 52 bytes after byte 8, but has 12"),
    "lying_data_size": (riff(fmt(), part(b"data", INTS, size=4_000_000)), "part 'data' says it has 4000000 bytes, but 16 follow"),
    "unfinished_recording": (riff(fmt(), part(b"data", INTS, size=0xFFFFFFFF)), "part 'data' says it has 4294967295 bytes"),
    "lying_riff_size": (riff(fmt(), part(b"data", INTS), size=40), "byte 4: the file says it ends at byte 48"),
    "no_format": (riff(part(b"data", INTS)), "without a 'fmt ' part"),
    "no_data": (riff(fmt()), "without a 'data' part"),
    "no_samples": (riff(fmt(), part(b"data", b"")), "holds no samples"),
    "half_a_frame": (riff(fmt(), part(b"data", INTS[:14])), "14 bytes of samples are no whole number of frames of 4 bytes"),
    "rate_zero": (riff(fmt(rate=0), part(b"data", INTS)), "byte 24: 0 samples a second"),
    "rate_absurd": (riff(fmt(rate=4_000_000_000), part(b"data", INTS)), "byte 24: 4000000000 samples a second"),
    "no_channels": (riff(fmt(channels=0, frame=0), part(b"data", INTS)), "byte 22: 0 channels; wanted: 1 to 8"),
    "nine_channels": (riff(fmt(channels=9), part(b"data", bytes(18))), "byte 22: 9 channels; wanted: 1 to 8"),
    "frame_size_lies": (riff(fmt(frame=6), part(b"data", INTS)), "byte 32: 6 bytes a frame; wanted: 4"),
    "twelve_bits": (riff(fmt(bits=12, frame=4), part(b"data", INTS)), "byte 34: 12 bits a sample"),
    "float_of_64_bits": (riff(fmt(3, bits=64), part(b"data", bytes(16))), "byte 34: 64 bits a sample"),
    "compressed": (riff(fmt(2, bits=4, frame=256), part(b"data", bytes(256))), "byte 20: sample coding 2 is not supported"),
    "extensible_unknown_coding": (
        riff(fmt(0xFFFE, extra=struct.pack("<HHIH", 22, 16, 3, 1) + bytes(14)), part(b"data", INTS)), "byte 44: sample coding 65534"),
    "extensible_cut_short": (riff(fmt(0xFFFE, extra=b"\0\0"), part(b"data", INTS)), "the format part has 18 bytes"),
    "extensible_more_valid_bits_than_stored": (riff(extensible(1, 16, 24), part(b"data", INTS)), "24 valid bits in samples of 16 bits"),
    "format_of_odd_size": (riff(part(b"fmt ", bytes(20)), part(b"data", INTS)), "byte 16: the format part has 20 bytes"),
    "float_not_a_number": (
        riff(fmt(3, 2, bits=32), part(b"data", struct.pack("<4f", 0, 0, float("nan"), 0))), "byte 52: sample 1 of channel 1 is not a finite"),
    "float_infinite": (
        riff(fmt(3, 2, bits=32), part(b"data", struct.pack("<4f", 0, float("inf"), 0, 0))), "byte 48: sample 0 of channel 2 is not a finite"),
}


def main():
    wanted = {f"{name}.wav": data for name, (data, _) in FILES.items()}
    lines = ["# Written by generate.py: file, then what the reader must say (ok: it must read the file)."]
    lines += [f"{name}.wav;{says}" for name, (_, says) in sorted(FILES.items())]
    wanted["expected.csv"] = ("\n".join(lines) + "\n").encode()
    if "--check" in sys.argv:
        wrong = [name for name, data in wanted.items() if (HERE / name).read_bytes() != data]
        sys.exit(f"differ from their description: {wrong}" if wrong else 0)
    for name, data in wanted.items():
        (HERE / name).write_bytes(data)


if __name__ == "__main__":
    main()
