"""Five stored noisy takes of a microphone close to a cone, and what NumPy and SciPy make of them.

Takes: 16-bit mono, 4 kHz, five periods of 1 s of a multisine, each begun at another moment of the signal: without a resistor,
with one across the output, with one in series, the same played louder and shaped, and without again (0.3 % louder). Pressures
are the coil's currents by circuit theory through a second-order roll-off at 45 Hz; white noise, fixed seed.
Analysis: numpy.fft of whole periods; delays of takes without resistor and loaded take from the cross-spectrum, a whole number
of samples; the gain between both outer takes; scipy.optimize.least_squares over circuit and delay of the shaped take together,
weighted with the scatter between periods, pooled over 13 lines; the output's resistance by scipy.optimize.minimize_scalar from
the moduli of the loaded take, with driver and output together as the shaped take gives them.

Run: python make_microphone.py [--check]
"""
import sys

import numpy as np
from scipy.optimize import least_squares, minimize_scalar

from golden_io import HERE, settle
from golden_takes import keep, spectrum_of, whole_delay

RATE, PERIOD, PERIODS = 4000, 4000, 5
SERIES_OHM, ACROSS_OHM, OUTPUT_OHM, LOUDER = 8.2, 8.2, 0.9, 1.003
SHAPED = dict(shaped_louder_db=7.0, shaped_at_hz=39.0, shaped_q_without=0.45, shaped_q_with=0.88)
BEGUN = {"close_without": 0, "close_loaded": 1234, "close_with": 400, "close_shaped": 3210, "close_without_again": 777}
TRUTH = dict(r_e_ohm=5.9, f_s_hz=38.7, q_ms=4.4, q_es=0.45, k_ohm_s_n=0.017, n=0.66)
NAMES = list(TRUTH)
LOW, HIGH, TOP = 8, 800, 1000
# Where the periods begin and how many fit is the analysis' own choice (slack after the settling period and before the end).
FIRST_SAMPLE, KEPT = 3800, 4


def impedance(p, f):
    r_e, f_s, q_ms, q_es, k, n = p
    return r_e + k * (2j * np.pi * f) ** n + (r_e * q_ms / q_es) / (1 + 1j * q_ms * (f / f_s - f_s / f))


def played(f):
    x = f / SHAPED["shaped_at_hz"]
    shape = np.abs(1 - x * x + 1j * x / SHAPED["shaped_q_with"]) / np.abs(1 - x * x + 1j * x / SHAPED["shaped_q_without"])
    return shape * 10 ** (SHAPED["shaped_louder_db"] / 20)


def signal_lines(top):
    return np.array([f for f in range(LOW | 1, top, 2) if f % 50 and f % 60])


def make():
    """Writes the takes once; they are stored, never made anew by --check."""
    rng = np.random.default_rng(20250918)
    lines = signal_lines(TOP)
    spectrum = np.zeros(PERIOD // 2 + 1, complex)
    spectrum[lines] = np.exp(2j * np.pi * rng.random(len(lines)))
    f = np.maximum(np.fft.rfftfreq(PERIOD, 1 / RATE), 1e-3)
    z = impedance(list(TRUTH.values()), f)
    corner = f / 45
    # What the cone makes of a current is the same factor in every take; the roll-off stands for all of it.
    heard = (1j * corner) ** 2 / (1 + 1j * corner / 0.707 + (1j * corner) ** 2)
    behind = ACROSS_OHM * OUTPUT_OHM / (ACROSS_OHM + OUTPUT_OHM)
    current = {
        "close_without": 1 / (z + OUTPUT_OHM),
        "close_loaded": ACROSS_OHM / (ACROSS_OHM + OUTPUT_OHM) / (z + behind),
        "close_with": 1 / (z + OUTPUT_OHM + SERIES_OHM),
        "close_shaped": played(f) / (z + OUTPUT_OHM + SERIES_OHM),
        "close_without_again": LOUDER / (z + OUTPUT_OHM),
    }
    top = max(np.abs(np.fft.irfft(spectrum * heard * i, PERIOD)).max() for i in current.values())
    for name, i in current.items():
        one = 0.9 * np.fft.irfft(spectrum * heard * i, PERIOD) / top
        signal = np.roll(np.tile(one, PERIODS), -BEGUN[name])
        signal = signal + 3e-4 * rng.standard_normal(signal.size)
        keep(HERE / "takes" / f"{name}.wav", signal, RATE)


def analyse():
    spectra = {name: spectrum_of(HERE / "takes" / f"{name}.wav", FIRST_SAMPLE, KEPT, PERIOD) for name in BEGUN}
    k = np.arange(PERIOD // 2 + 1)
    every, lines = signal_lines(TOP), signal_lines(HIGH)
    turn = lambda samples: np.exp(2j * np.pi * k * samples / PERIOD)
    first, first_var = spectra["close_without"]
    again, again_var = spectra["close_without_again"]
    again = again * turn(whole_delay(again, first, every, PERIOD))
    middle = lines[(lines >= 60) & (lines <= 500)]
    gain = np.abs(np.sum((again * first.conj())[middle]) / np.sum(np.abs(first[middle]) ** 2))
    reference, reference_var = 0.5 * (first * gain ** 0.5 + again * gain ** -0.5), 0.25 * (first_var + again_var)

    shaped, shaped_var = spectra["close_shaped"]
    f = lines * RATE / PERIOD
    ratio = (shaped / reference)[lines] / played(f)
    pool = lambda v: np.convolve(np.pad(v[lines], 6, mode="edge"), np.ones(13) / 13, "valid")
    variance = (pool(shaped_var) / played(f) ** 2 + np.abs(ratio) ** 2 * pool(reference_var)) / np.abs(reference[lines]) ** 2
    coarse = whole_delay(shaped, reference, every, PERIOD)

    def curve(late):
        h = ratio * np.exp(2j * np.pi * f * late / RATE)
        return SERIES_OHM * h / (1 - h), np.sqrt(variance) * np.abs(SERIES_OHM / (1 - h) ** 2)

    def residuals(p):
        z, sigma = curve(coarse + p[-1])
        d = (impedance(np.exp(p[:-1]), f) - z) / sigma
        return np.concatenate([d.real, d.imag])

    # Driver and output are one impedance here: R_e and Q_es are those of both until the output is known.
    start = np.append(np.log([7.5, 37.0, 4.0, 0.55, 0.02, 0.7]), 0.0)
    options = dict(method="lm", xtol=1e-15, ftol=1e-15, gtol=1e-15)
    late = coarse + least_squares(residuals, start, **options).x[-1]
    # One clock made the takes: the delay is a whole number of samples, and the circuit is fitted once more with it.
    whole = round(late)
    seen, sigma = curve(whole)

    loaded = spectra["close_loaded"][0]
    loaded_part = np.abs(loaded / reference)[middle]
    at = np.searchsorted(lines, middle)
    wanted = lambda r: 1 / np.abs(1 + r / ACROSS_OHM * (1 - r / seen[at]))
    # White noise: alike on every line but for the level of the reference.
    weight = np.abs(reference[middle]) ** 2 / (1 + loaded_part ** 2 / 2)
    found = minimize_scalar(lambda r: np.sum(weight * (loaded_part - wanted(r)) ** 2), bounds=(0, 3), method="bounded",
                            options=dict(xatol=1e-10)).x

    def own(p):
        d = (impedance(np.exp(p), f) + found - seen) / sigma
        return np.concatenate([d.real, d.imag])

    fit = least_squares(own, np.log(list(TRUTH.values())), **options)
    p = np.exp(fit.x)
    dof = 2 * len(f) - len(p)
    se = np.sqrt(np.diag(np.linalg.inv(fit.jac.T @ fit.jac)) * 2 * fit.cost / dof) * p
    return {
        "takes": [f"takes/{name}.wav" for name in BEGUN], "series_resistor_ohm": SERIES_OHM, "across_ohm": ACROSS_OHM,
        "shaped": SHAPED, "truth": TRUTH | {"output_ohm": OUTPUT_OHM}, "gain": gain, "delay_samples": whole,
        "free_delay_samples": late, "output_ohm": found,
        "fit": dict(zip(NAMES, p.tolist())), "fit_standard_error": dict(zip(NAMES, se.tolist())),
    }


if __name__ == "__main__":
    if "--check" not in sys.argv:
        make()
    # As for the other takes: the minimum is flat to about the square root of machine precision.
    settle("microphone.json", {"source": "NumPy FFT, SciPy least_squares"} | analyse(), 1e-6)
