"""The two-channel pipeline in NumPy and SciPy, for the speed ratio: whole periods, ratio, scatter, three fits, choice.

The period is given; there is no health check, no creep and no budget, so it does less than the core.

Usage: python pipeline.py TAKE.wav SERIES_OHM PERIOD_S ROUNDS   (32-bit float or 16-bit stereo WAV)
Prints the median seconds of one analysis and the resonance found, so that the two programs are seen to do the same job.
"""
import statistics
import sys
import time

import numpy as np
from scipy.io import wavfile
from scipy.optimize import least_squares

LOW_HZ, HIGH_HZ, BINS_PER_OCTAVE = 8.0, 20000.0, 48


def coil(model, p, s):
    if model == "inductance":
        return s * p[0]
    if model == "semi_inductance":
        return p[0] * s ** p[1]
    return s * p[0] + 1 / (1 / (s * p[1]) + 1 / p[2])


STARTS = {"inductance": [5e-4], "semi_inductance": [0.02, 0.7], "two_inductances": [2e-4, 8e-4, 8.0]}


def impedance(model, p, f):
    r_e, f_s, q_ms, q_es = p[:4]
    return r_e + coil(model, p[4:], 2j * np.pi * f) + (r_e * q_ms / q_es) / (1 + 1j * q_ms * (f / f_s - f_s / f))


def bins(f, z, variance):
    """Log-spaced bins, weighted means; a bin with one line keeps it."""
    index = np.round(np.log2(f) * BINS_PER_OCTAVE).astype(int)
    _, place = np.unique(index, return_inverse=True)
    w = 1 / variance
    total = np.bincount(place, w)
    mean = lambda x: np.bincount(place, w * x) / total
    return mean(f), mean(z.real) + 1j * mean(z.imag), 1 / total


def analyse(raw, rate, series_ohm, period):
    count = raw.shape[0] // period - 1
    spectra = np.fft.rfft(raw[period:(count + 1) * period].T.reshape(2, count, period), axis=2)
    mean = spectra.mean(axis=1)
    power = np.abs(mean[0]) ** 2
    f = np.arange(power.size) * rate / period
    use = (f >= LOW_HZ) & (f <= HIGH_HZ) & (power > 1e-5 * np.median(power))
    use &= (np.abs(f % 50) > 0.6) & (np.abs(f % 60) > 0.6)
    ratio = mean[1, use] / mean[0, use]
    residue = spectra[1][:, use] - ratio * spectra[0][:, use]
    variance = (np.abs(residue) ** 2).sum(axis=0) / (count * (count - 1)) / power[use]
    z = series_ohm * ratio / (1 - ratio)
    f, z, variance = bins(f[use], z, variance * np.abs(series_ohm / (1 - ratio) ** 2) ** 2)
    sigma = np.sqrt(variance)
    peak = np.argmax(np.abs(z[f < 200]))
    start = [np.abs(z).min(), f[peak], 4.0, 0.5]
    best = None
    for model, more in STARTS.items():
        def residuals(log_p):
            d = (impedance(model, np.exp(log_p), f) - z) / sigma
            return np.concatenate([d.real, d.imag])
        fit = least_squares(residuals, np.log(start + more), method="lm")
        criterion = 2 * fit.cost + len(fit.x) * np.log(2 * len(f))
        if best is None or criterion < best[0]:
            best = (criterion, model, np.exp(fit.x))
    return best


def main():
    path, series_ohm, period_s, rounds = sys.argv[1], float(sys.argv[2]), float(sys.argv[3]), int(sys.argv[4])
    rate, raw = wavfile.read(path)
    raw = raw.astype(float) / (32768 if raw.dtype == np.int16 else 1)
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        best = analyse(raw, rate, series_ohm, int(round(rate * period_s)))
        times.append(time.perf_counter() - start)
    print(f"{statistics.median(times):.4f} s  f_s {best[2][1]:.3f} Hz  {best[1]}")


if __name__ == "__main__":
    main()
