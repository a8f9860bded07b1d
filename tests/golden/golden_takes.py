"""What the generators of takes share: a take in 16 bit, the mean of its periods, and the delay between two takes."""
import wave

import numpy as np


def keep(path, signal, rate):
    """Writes one channel, full scale 1, as a 16-bit WAV."""
    samples = np.clip(np.round(signal * 32767), -32768, 32767).astype("<i2")
    with wave.open(str(path), "wb") as w:
        w.setnchannels(1)
        w.setsampwidth(2)
        w.setframerate(rate)
        w.writeframes(samples.tobytes())


def spectrum_of(path, first, kept, period):
    """Mean and variance of the mean of the periods, phases counted from the first sample of the take."""
    with wave.open(str(path), "rb") as w:
        raw = np.frombuffer(w.readframes(w.getnframes()), "<i2") / 32768
    parts = np.fft.rfft(raw[first:first + kept * period].reshape(kept, period), axis=1)
    turn = np.exp(-2j * np.pi * np.arange(period // 2 + 1) * first / period)
    return parts.mean(axis=0) * turn, parts.var(axis=0, ddof=1) / kept


def whole_delay(mean, reference, lines, period):
    """Samples by which a take came later than another, where the ratio of the two is a real number."""
    cross = np.zeros(period // 2 + 1, complex)
    cross[lines] = (mean * reference.conj())[lines]
    late = int(np.argmax(np.fft.irfft(cross, period)))
    return late - period if late > period // 2 else late
