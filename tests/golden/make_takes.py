"""Two stored noisy two-channel takes, and what NumPy and SciPy make of them.

Takes: 16-bit stereo, 8 kHz, six periods of 1 s (the first one settles). The driver's voltage is computed by the
divider in the frequency domain; white noise and, in the second take, 50 Hz hum are added with a fixed seed.
Analysis: numpy.fft of whole periods, the ratio of mean spectra, its variance from the scatter between periods, and
scipy.optimize.least_squares over the circuit R_e + K (jw)^n + R_es/(1 + j Q_ms (f/f_s - f_s/f)), weighted with it.

Run: python make_takes.py [--check]
"""
import sys
import wave

import numpy as np
from scipy.optimize import least_squares

from golden_io import HERE, settle

RATE, PERIOD, PERIODS = 8000, 8000, 6
R_OHM = 10.0
# Where the periods begin and how many fit is the analysis' own choice (it leaves some slack after the settling period
# and before the end); any start is as good, so it is an input here.
FIRST_SAMPLE = {"sweep_noisy": 7600, "multisine_hum": 7600}
KEPT = {"sweep_noisy": 5, "multisine_hum": 5}
TRUTH = dict(r_e_ohm=5.9, f_s_hz=37.3, q_ms=4.4, q_es=0.47, k_ohm_s_n=0.017, n=0.66)
NAMES = list(TRUTH)
LOW, HIGH = 8, 3600


def impedance(p, f):
    r_e, f_s, q_ms, q_es, k, n = p
    return r_e + k * (2j * np.pi * f) ** n + (r_e * q_ms / q_es) / (1 + 1j * q_ms * (f / f_s - f_s / f))


def sweep():
    """One period of an exponential sweep, by its own phase law."""
    t = np.arange(PERIOD) / RATE
    rate = np.log(HIGH / LOW)
    return np.sin(2 * np.pi * LOW / rate * (np.exp(rate * t) - 1))


def multisine(rng):
    """One period of odd lines with random phases; multiples of 50 and 60 Hz empty."""
    lines = np.array([f for f in range(LOW | 1, HIGH, 2) if f % 50 and f % 60])
    amplitude = 1 / np.sqrt(lines)
    spectrum = np.zeros(PERIOD // 2 + 1, complex)
    spectrum[lines] = amplitude * np.exp(2j * np.pi * rng.random(len(lines)))
    x = np.fft.irfft(spectrum, PERIOD)
    return x / np.abs(x).max()


def make(name, source, noise, hum, rng):
    """Writes the take once; it is stored, never made anew by --check."""
    spectrum = np.fft.rfft(source)
    f = np.fft.rfftfreq(PERIOD, 1 / RATE)
    z = impedance(list(TRUTH.values()), np.maximum(f, 1e-3))
    driver = np.fft.irfft(spectrum * z / (z + R_OHM), PERIOD)
    both = 0.5 * np.stack([np.tile(source, PERIODS), np.tile(driver, PERIODS)])
    t = np.arange(both.shape[1]) / RATE
    both += noise * rng.standard_normal(both.shape) + hum * np.sin(2 * np.pi * 50 * t + 0.3)
    samples = np.clip(np.round(both * 32767), -32768, 32767).astype("<i2")
    with wave.open(str(HERE / "takes" / f"{name}.wav"), "wb") as w:
        w.setnchannels(2)
        w.setsampwidth(2)
        w.setframerate(RATE)
        w.writeframes(samples.T.tobytes())


def analyse(name):
    with wave.open(str(HERE / "takes" / f"{name}.wav"), "rb") as w:
        raw = np.frombuffer(w.readframes(w.getnframes()), "<i2").reshape(-1, 2).T / 32768
    first, count = FIRST_SAMPLE[name], KEPT[name]
    spectra = np.fft.rfft(raw[:, first:first + count * PERIOD].reshape(2, count, PERIOD), axis=2)
    mean = spectra.mean(axis=1)
    power = np.abs(mean[0]) ** 2
    lines = np.array([k for k in range(LOW, HIGH) if k % 50 and k % 60 and power[k] > 1e-4 * power[LOW:HIGH].max()])
    ratio = (mean[1] / mean[0])[lines]
    residue = spectra[1][:, lines] - ratio * spectra[0][:, lines]
    variance = (np.abs(residue) ** 2).sum(axis=0) / (count * (count - 1)) / power[lines]
    f = lines * RATE / PERIOD
    z = R_OHM * ratio / (1 - ratio)
    sigma_z = np.sqrt(variance) * np.abs(R_OHM / (1 - ratio) ** 2)

    def residuals(log_p):
        d = (impedance(np.exp(log_p), f) - z) / sigma_z
        return np.concatenate([d.real, d.imag])

    start = np.log([6.5, 36.0, 4.0, 0.5, 0.02, 0.7])
    fit = least_squares(residuals, start, method="lm", xtol=1e-15, ftol=1e-15, gtol=1e-15)
    p = np.exp(fit.x)
    rss = float(2 * fit.cost)
    dof = 2 * len(f) - len(p)
    se = np.sqrt(np.diag(np.linalg.inv(fit.jac.T @ fit.jac)) * rss / dof) * p
    keep = slice(None, None, 7)  # every seventh line is enough to hold the ratio
    return {
        "take": f"takes/{name}.wav", "rate_hz": RATE, "period_samples": PERIOD, "first_sample": first, "kept": count, "series_resistor_ohm": R_OHM,
        "truth": TRUTH, "line_count": len(lines), "lines": lines[keep].tolist(),
        "ratio_real": ratio.real[keep].tolist(), "ratio_imaginary": ratio.imag[keep].tolist(),
        "ratio_variance": variance[keep].tolist(), "all_lines": lines.tolist(),
        "fit": dict(zip(NAMES, p.tolist())), "fit_standard_error": dict(zip(NAMES, se.tolist())),
        "residual_sum_of_squares": rss,
    }


def main():
    rng = np.random.default_rng(20240917)
    if "--check" not in sys.argv:
        make("sweep_noisy", sweep(), 1e-3, 0.0, rng)
        make("multisine_hum", multisine(rng), 5e-4, 2e-3, rng)
    # The minimum is flat to about the square root of machine precision in each parameter: 1e-7 is what two linear
    # algebra kernels can be asked to agree on.
    settle("takes.json", {"source": "NumPy FFT, SciPy least_squares",
                          "takes": [analyse("sweep_noisy"), analyse("multisine_hum")]}, 1e-7)


if __name__ == "__main__":
    main()
