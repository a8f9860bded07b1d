"""Two stored sets of meter readings, and what SciPy makes of them.

Readings: volts across the driver and across the resistor (or across both), computed from a circuit by its definition,
with a relative error and the rounding of a display, fixed seed. Analysis: scipy.optimize.least_squares on the ln ratios
with their variances, and with the same prior knowledge as observations: resistor, ohms reading, exponent and size of the
coil, creep. The meter's own relative error is found so that residuals and stated percentage come out as expected.

Run: python make_meter.py [--check]
"""
import numpy as np
from scipy.optimize import brentq, least_squares

from golden_io import settle

R_OHM, R_RELATIVE = 10.0, 0.005
PERCENT, RESOLUTION_V = 0.3, 0.001
OHMS = 5.6
OHMS_RELATIVE = np.hypot(0.005 * OHMS, 0.05) / OHMS
TONES = [14.0, 22.0, 27.0, 30.5, 33.0, 39.0, 52.0, 110.0, 330.0, 900.0]
TRUTH = dict(f_s_hz=31.0, q_ms=5.2, q_es=0.42, r_e_ohm=5.55, k_ohm_s_n=0.0245, n=0.66, creep=0.05)
# ln f_s, ln Q_ms, ln Q_es, ln R_e, ln |K (jw)^n| at 1 kHz, n, creep, ln (resistor / stated)
PIVOT = 2 * np.pi * 1000


def impedance(p, f):
    f_s, q_ms, q_es, r_e, pivot_ohm = np.exp(p[:5])
    n, creep = p[5], p[6]
    coil = pivot_ohm * (2j * np.pi * f / PIVOT) ** n
    x = f / f_s
    loss = creep * (np.pi / 2) / np.log(10)
    stiffness = (1 + loss**2) / (1 - creep * np.log10(1j * x))
    return r_e + coil + (r_e * q_ms / q_es) / (1 + q_ms * (1j * x + stiffness / (1j * x) - loss))


def log_ratio(p, f, both):
    z, r = impedance(p, f), R_OHM * np.exp(p[7])
    return np.log(np.abs(z) / np.abs(z + r)) if both else np.log(np.abs(z) / r)


def make(both, rng):
    f = np.array(TONES)
    t = TRUTH
    pivot_ohm = t["k_ohm_s_n"] * PIVOT ** t["n"]
    p = [*np.log([t["f_s_hz"], t["q_ms"], t["q_es"], t["r_e_ohm"], pivot_ohm]), t["n"], t["creep"], 0.002]
    z, r = impedance(np.array(p), f), R_OHM * np.exp(p[7])
    driver = np.abs(z) / np.abs(z + r)
    other = np.ones_like(f) if both else r / np.abs(z + r)
    read = lambda v: np.round(v * (1 + 0.002 * rng.uniform(-1, 1, len(v))), 3)
    return f, read(driver), read(other)


def display(v):
    return RESOLUTION_V / np.sqrt(12) / v


def fit(f, driver, other, both, ohms):
    y = np.log(driver / other)
    a2 = display(driver) ** 2 + display(other) ** 2
    stated2 = (PERCENT / 100 / np.sqrt(3)) ** 2 + 3e-4**2
    start = np.array([np.log(31), np.log(4), np.log(0.4), np.log(5.5), np.log(2.5), 0.75, 0.04, 0.0])

    def residuals(p, m2):
        rows = [(log_ratio(p, f, both) - y) / np.sqrt(a2 + 2 * m2)]
        rows += [[p[7] / R_RELATIVE], [(p[5] - 0.75) / 0.15], [(p[4] - p[3] - np.log(0.45)) / 0.9], [(p[6] - 0.04) / 0.04]]
        if ohms:
            rows.append([(p[3] - np.log(OHMS)) / OHMS_RELATIVE])
        return np.concatenate(rows)

    m2 = stated2
    for _ in range(60):
        got = least_squares(residuals, start, jac="3-point", args=(m2,), xtol=1e-15, ftol=1e-15, gtol=1e-15)
        start, slopes = got.x, got.jac
        covariance = np.linalg.inv(slopes.T @ slopes)
        leverage = np.einsum("ij,jk,ik->i", slopes[: len(f)], covariance, slopes[: len(f)])
        freedom = np.sum(1 - leverage)
        r2 = (log_ratio(start, f, both) - y) ** 2
        balance = lambda x: np.sum(r2 / (a2 + 2 * np.exp(x))) + 3 * stated2 / np.exp(x) - freedom - 3
        m2 = np.exp(brentq(balance, np.log(stated2) - 7, 4, xtol=1e-13))
    return dict(
        parameters=list(start),
        standard_errors=list(np.sqrt(np.diag(covariance))),
        relative_error=float(np.sqrt(m2)),
        freedom=float(freedom),
        f_s_hz=float(np.exp(start[0])),
        q_ms=float(np.exp(start[1])),
        q_es=float(np.exp(start[2])),
        r_e_ohm=float(np.exp(start[3])),
    )


def main():
    rng = np.random.default_rng(11)
    sets = []
    for both, ohms in [(False, True), (True, False)]:
        f, driver, other = make(both, rng)
        name = "source_v" if both else "resistor_v"
        readings = [dict(frequency_hz=a, driver_v=float(b)) | {name: float(c)} for a, b, c in zip(TONES, driver, other)]
        setup = dict(series_resistor_ohm=R_OHM, readings=readings)
        setup["accuracy"] = dict(percent_of_reading=PERCENT, resolution_v=RESOLUTION_V)
        if ohms:
            setup["r_e_ohm"] = OHMS
        sets.append(dict(setup=setup, truth=TRUTH, found=fit(f, driver, other, both, ohms)))
    # The search of another linear algebra kernel ends elsewhere in the last digits; the weights are converged to 1e-9.
    settle("meter.json", dict(sets=sets), 1e-5)


if __name__ == "__main__":
    main()
