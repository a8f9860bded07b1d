"""Four stored noisy takes of one input, and what NumPy and SciPy make of them.

Takes: 16-bit mono, 8 kHz, five periods of 1 s of a multisine, each begun at another moment of the signal: a known resistor,
nothing, a driver, the resistor again (0.4 % louder). Voltages are computed by the divider in the frequency domain, an input
of 20 kOhm in parallel; white noise with a fixed seed.
Analysis: numpy.fft of whole periods; delays of resistor and open take from the phase of the cross-spectrum, a whole number of
samples; resistance behind the driver from the open take; scipy.optimize.least_squares over the circuit and the delay of the
driver's take together, weighted with the scatter between periods, pooled over 13 lines.

Run: python make_one_channel.py [--check]
"""
import sys

import numpy as np
from scipy.optimize import least_squares

from golden_io import HERE, settle
from golden_takes import keep, spectrum_of, whole_delay

RATE, PERIOD, PERIODS = 8000, 8000, 5
KNOWN_OHM, SERIES_OHM, INPUT_OHM, LOUDER = 8.2, 51.3, 2e4, 1.004
BEGUN = {"one_resistor": 0, "one_open": 1234, "one_driver": 3210, "one_resistor_again": 777}
TRUTH = dict(r_e_ohm=5.9, f_s_hz=37.3, q_ms=4.4, q_es=0.47, k_ohm_s_n=0.017, n=0.66)
NAMES = list(TRUTH)
LOW, HIGH = 8, 3500
# Where the periods begin and how many fit is the analysis' own choice (slack after the settling period and before the end).
FIRST_SAMPLE, KEPT = 7600, 4


def impedance(p, f):
    r_e, f_s, q_ms, q_es, k, n = p
    return r_e + k * (2j * np.pi * f) ** n + (r_e * q_ms / q_es) / (1 + 1j * q_ms * (f / f_s - f_s / f))


def make():
    """Writes the takes once; they are stored, never made anew by --check."""
    rng = np.random.default_rng(20250311)
    lines = np.array([f for f in range(LOW | 1, HIGH, 2) if f % 50 and f % 60])
    spectrum = np.zeros(PERIOD // 2 + 1, complex)
    spectrum[lines] = np.exp(2j * np.pi * rng.random(len(lines))) / np.sqrt(lines)
    f = np.maximum(np.fft.rfftfreq(PERIOD, 1 / RATE), 1e-3)
    z = impedance(list(TRUTH.values()), f)
    behind = {"one_resistor": KNOWN_OHM, "one_open": 1e15, "one_driver": z, "one_resistor_again": KNOWN_OHM}
    top = np.abs(np.fft.irfft(spectrum, PERIOD)).max()
    for name, load in behind.items():
        across = 1 / (1 + SERIES_OHM * (1 / load + 1 / INPUT_OHM)) * (LOUDER if name.endswith("again") else 1)
        one = 0.9 * np.fft.irfft(spectrum * across, PERIOD) / top
        signal = np.roll(np.tile(one, PERIODS), -BEGUN[name])
        signal = signal + 2e-4 * rng.standard_normal(signal.size)
        keep(HERE / "takes" / f"{name}.wav", signal, RATE)


def analyse():
    spectra = {name: spectrum_of(HERE / "takes" / f"{name}.wav", FIRST_SAMPLE, KEPT, PERIOD) for name in BEGUN}
    k = np.arange(PERIOD // 2 + 1)
    lines = np.array([f for f in range(LOW | 1, HIGH, 2) if f % 50 and f % 60])
    turn = lambda samples: np.exp(2j * np.pi * k * samples / PERIOD)
    first, first_var = spectra["one_resistor"]
    delays = {name: whole_delay(spectra[name][0], first, lines, PERIOD) for name in ("one_open", "one_resistor_again")}
    again, again_var = spectra["one_resistor_again"]
    again = again * turn(delays["one_resistor_again"])
    middle = lines[(lines >= 100) & (lines <= 3400)]
    gain = np.abs(np.sum((again * first.conj())[middle]) / np.sum(np.abs(first[middle]) ** 2))
    reference, reference_var = 0.5 * (first * gain ** 0.5 + again * gain ** -0.5), 0.25 * (first_var + again_var)
    opened = spectra["one_open"][0] * turn(delays["one_open"])
    quiet = lines[(lines >= 200) & (lines <= 3500)]
    level = np.mean(np.abs(opened / reference)[quiet])
    known = 1 / (1 / KNOWN_OHM + 1 / INPUT_OHM)
    series = known * (level - 1) / (1 - level * known / INPUT_OHM)

    driver, driver_var = spectra["one_driver"]
    ratio = (driver / reference)[lines]
    pool = lambda v: np.convolve(np.pad(v[lines], 6, mode="edge"), np.ones(13) / 13, "valid")
    variance = (pool(driver_var) + np.abs(ratio) ** 2 * pool(reference_var)) / np.abs(reference[lines]) ** 2
    f = lines * RATE / PERIOD
    coarse = whole_delay(driver, reference, lines, PERIOD)

    def curve(late):
        h = ratio * np.exp(2j * np.pi * f * late / RATE) * known / (known + series)
        seen = series * h / (1 - h)
        z = seen / (1 - seen / INPUT_OHM)
        return z, np.sqrt(variance) * np.abs(series / (1 - h) ** 2 * known / (known + series) * (z / seen) ** 2)

    def residuals(p):
        z, sigma = curve(coarse + p[-1])
        d = (impedance(np.exp(p[:-1]), f) - z) / sigma
        return np.concatenate([d.real, d.imag])

    start = np.append(np.log([6.5, 36.0, 4.0, 0.5, 0.02, 0.7]), 0.0)
    fit = least_squares(residuals, start, method="lm", xtol=1e-15, ftol=1e-15, gtol=1e-15)
    late = coarse + fit.x[-1]
    # One clock made the takes: the delay is a whole number of samples, and the circuit is fitted once more with it.
    whole = round(late)
    again_fit = least_squares(lambda p: residuals(np.append(p, whole - coarse)), fit.x[:-1], method="lm",
                              xtol=1e-15, ftol=1e-15, gtol=1e-15)
    p = np.exp(again_fit.x)
    dof = 2 * len(f) - len(p)
    se = np.sqrt(np.diag(np.linalg.inv(again_fit.jac.T @ again_fit.jac)) * 2 * again_fit.cost / dof) * p
    return {
        "takes": [f"takes/{name}.wav" for name in BEGUN], "known_resistor_ohm": KNOWN_OHM, "input_resistance_ohm": INPUT_OHM,
        "truth": TRUTH | {"series_ohm": SERIES_OHM}, "series_ohm": series, "gain": gain,
        "delay_samples": whole, "free_delay_samples": late,
        "fit": dict(zip(NAMES, p.tolist())), "fit_standard_error": dict(zip(NAMES, se.tolist())),
    }


if __name__ == "__main__":
    if "--check" not in sys.argv:
        make()
    # As for the other takes: the minimum is flat to about the square root of machine precision.
    settle("one_channel.json", {"source": "NumPy FFT, SciPy least_squares"} | analyse(), 1e-7)
