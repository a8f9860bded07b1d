"""The core's two-channel impedance analysis once more, in NumPy and SciPy: the same steps, for the speed ratio.

Health of both channels (levels, cut tops, grid, hum, breaks, repeated buffers, equal channels, steadiness), kind of the
signal, period, whole periods with delays and outliers, scatter, wiring faults, one impedance curve, bands refused, three
voice coils with and without creep by weighted least squares with analytic derivatives, choice by the information
criterion, budget, evidence curves. Written as NumPy is best written: whole arrays, no loop over samples or lines.
Branches that this take does not enter (refusals, calibrations, other kinds of signal) end in an error.

Usage: python pipeline.py TAKE.wav SERIES_OHM ROUNDS FIGURES.json   (32-bit float stereo WAV)
Prints the median seconds of one analysis. FIGURES.json holds the core's answer: every figure must agree with it.
"""
import json
import statistics
import sys
import time

import numpy as np
from scipy import fft, optimize, signal, stats
from scipy.io import wavfile

TAU, PIVOT = 2 * np.pi, 2 * np.pi * 1000.0
CREEP_LOSS = (np.pi / 2) / np.log(10)

# ---- health of the samples -----------------------------------------------------------------------------------------


def half_band():
    k = np.array([1, 3, 5, 7, 9, 11])
    side = np.sin(np.pi * k / 2) / (np.pi * k) * (0.5 + 0.5 * np.cos(np.pi * k / 12))
    taps = np.zeros(23)
    taps[11], taps[11 + k], taps[11 - k] = 0.5, side, side
    return taps / taps.sum()


TAPS = half_band()


def thinned(x, times):
    for _ in range(times):
        # One nought in front puts the filter's middle on the even samples.
        x = signal.upfirdn(TAPS, np.concatenate(([0.0], x)), 1, 2)[6 : 6 + (len(x) + 1) // 2]
    return x


def block_means(x, length):
    whole = len(x) // length * length
    means = x[:whole].reshape(-1, length).mean(axis=1)
    return np.append(means, x[whole:].mean()) if whole < len(x) else means


def active_span(x, rate):
    length = int(0.010 * rate)
    centre = np.median(block_means(x, length))
    energy = block_means((x - centre) ** 2, length)
    active = energy >= 0.01 * np.quantile(energy, 0.9)
    run = np.flatnonzero(active[:-2] & active[1:-1] & active[2:])
    return run[0] * length, min((run[-1] + 3) * length, len(x))


def clipped(x):
    ends = ((x == x.max()) | (x == x.min())) & (np.abs(x) > 0.01)
    places = np.flatnonzero(ends)
    count = 0
    for run in np.split(places, np.flatnonzero((np.diff(places) > 1) | (np.diff(x[places]) != 0)) + 1):
        if len(run) >= 3:
            before = abs(x[run[0] - 1] - x[run[0]]) if run[0] else 0.0
            after = abs(x[run[-1] + 1] - x[run[0]]) if run[-1] + 1 < len(x) else 0.0
            count += len(run) * (max(before, after) > 4 / 32768)
    return count


def on_grid(x):
    judged = x[:: len(x) // 20_000 + 1]
    judged = judged[judged != 0]
    off = lambda scale: np.abs(judged * scale - np.round(judged * scale)) < 0.005
    part = max(off(32768).mean(), off(np.where(judged > 0, 32767, 32768)).mean())
    return part >= 0.99


def hum(x, rate):
    times = int(np.floor(np.log2(rate / 3000)))
    x, rate = thinned(x, times), rate / 2**times
    n = len(x)
    size = fft.next_fast_len(n, real=True)
    window = 0.5 - 0.5 * np.cos(TAU * (np.arange(n) + 0.5) / n)
    amplitude = np.abs(fft.rfft((x - x.mean()) * window, size)) * 4 / n
    per_hz = size / rate

    def peak(low, high):
        last = min(int(high * per_hz), len(amplitude) - 1)
        return amplitude[min(int(np.ceil(low * per_hz)), last) : last + 1].max()

    best = (0.0, None)
    for mains in (50.0, 60.0):
        found = []
        for f in mains * np.arange(1, 11):
            here = peak(f - 0.25, f + 0.25)
            if here > 2.8 * np.sqrt(peak(f - 3.2, f - 0.8) * peak(f + 0.8, f + 3.2)):
                found.append((here, f))
        rms = np.sqrt(sum(0.5 * a * a for a, _ in found))
        if rms > best[0]:
            best = (rms, max(found)[1])
    return best


def zero_runs(channels):
    quiet = np.all(channels == 0, axis=0)
    edges = np.flatnonzero(np.diff(np.concatenate(([False], quiet, [False])).astype(np.int8)))
    loud = lambda a: np.any(np.sqrt((channels[:, a : a + 64] ** 2).mean(axis=1)) > 30 / 32768)
    runs = [(a, b) for a, b in edges.reshape(-1, 2) if b - a >= 32 and a >= 64 and b + 64 <= channels.shape[1]]
    return [(a, b) for a, b in runs if loud(a - 64) and loud(b)]


def repeated_blocks(channels):
    """Equal windows of 32 samples at most 16384 apart, by a hash; a hit would be followed sample by sample."""
    bits = channels[0].copy().view(np.uint64)
    value = (bits ^ (bits >> np.uint64(29))) * np.uint64(0xBF58476D1CE4E5B9) >> np.uint64(7)
    for k in range(5):
        base = np.uint64(pow(0x9E3779B97F4A7C15, 1 << k, 1 << 64))
        value = value[: -(1 << k)] * base + value[1 << k :]
    kept = value[::8]
    order = np.argsort(kept, kind="stable")
    # A bit table first: what is not in it needs no search.
    seen = np.zeros(1 << 22, bool)
    seen[kept & np.uint64((1 << 22) - 1)] = True
    hit = np.flatnonzero(seen[value & np.uint64((1 << 22) - 1)])
    place = np.minimum(np.searchsorted(kept[order], value[hit]), len(kept) - 1)
    same = kept[order][place] == value[hit]
    hit, place = hit[same], place[same]
    lag = hit - order[place] * 8
    hit = hit[(lag >= 32) & (lag <= 16384)]
    lively = [n for n in hit if len(np.unique(channels[0, n : n + 32])) >= 8]
    if lively:
        raise ValueError("a buffer came twice; this take has none")
    return []


def level_change_db(x, rate, period):
    begin, end = active_span(x, rate)
    whole = (end - begin) // period
    sixteenth = period // 16
    part = x[begin : begin + whole * period].reshape(whole, period)[:, : sixteenth * 16].reshape(whole, 16, sixteenth)
    power = (part**2).sum(axis=2)
    changes = np.median(10 * np.log10(power[1:] / power[0]), axis=1)
    return changes[np.argmax(np.abs(changes))]


def dbfs(power):
    return 10 * np.log10(max(power, 1e-30))


def health(channels, rate, period):
    out = {"zero_runs": zero_runs(channels), "repeated": repeated_blocks(channels), "channels": []}
    for x in channels:
        dc = np.median(block_means(x, int(0.05 * rate)))
        out["channels"].append(
            {
                "peak": dbfs(np.max(np.abs(x)) ** 2),
                "rms": dbfs(np.mean((x - dc) ** 2)),
                "clipped": clipped(x),
                "dc": dc,
                "grid": on_grid(x),
                "hum": hum(x, rate),
            }
        )
    a, b = channels
    out["identical"] = bool(np.any(a) and np.all(np.abs(a - b) <= 1e-7 * np.maximum(np.abs(a), np.abs(b))))
    loudest = max((0, 1), key=lambda i: out["channels"][i]["rms"])
    out["level_change"] = level_change_db(channels[loudest], rate, period)
    return out


# ---- kind of the signal and its period -----------------------------------------------------------------------------


def is_tone(x):
    n = min(len(x), 1 << 17)
    middle = (len(x) - n) // 2
    x = x[middle : middle + n]
    power = np.abs(fft.rfft((x - x.mean()) * signal.windows.hann(n, sym=False))) ** 2
    top = 1 + np.argmax(power[1:])
    return power[max(top - 2, 0) : top + 3].sum() > 0.98 * power.sum()


def find_period(x, rate):
    begin, end = active_span(x, rate)
    part = x[begin:end]
    times = int(np.floor(np.log2(rate / 12_000)))
    centred = part - part.mean()
    thin = thinned(centred, times)
    if np.mean(thin**2) < 0.05 * np.mean(centred**2):
        raise ValueError("a signal of high frequencies; this take is none")
    factor = 1 << times
    n, shortest = len(thin), int(0.2 * rate / factor)
    longest = int(0.52 * n)
    size = fft.next_fast_len(n + longest + 1, real=True)
    products = fft.irfft(np.abs(fft.rfft(thin, size)) ** 2, size)[: longest + 1]
    energy = np.concatenate(([0.0], np.cumsum(thin**2)))
    lags = np.arange(longest + 1)
    correlation = products / np.sqrt(energy[n - lags] * (energy[n] - energy[lags]))
    inner = correlation[shortest:longest]
    best = inner.max()
    if best < 0.5:
        raise ValueError("no period")
    peaks = (inner >= correlation[shortest - 1 : longest - 1]) & (inner >= correlation[shortest + 1 : longest + 1])
    first = shortest + np.flatnonzero(peaks & (inner >= 0.6 * best))[0]
    coarse = first + np.argmax(correlation[first : min(first + int(0.1 * first), longest)])
    about, reach = coarse * factor, 2 * factor
    lags = np.arange(about - reach, about + reach + 1)
    return lags[np.argmax([part[:-lag] @ part[lag:] / (len(part) - lag) for lag in lags])]


# ---- whole periods and the ratio -----------------------------------------------------------------------------------


def split(channels, rate, period):
    begin, end = active_span(channels[0], rate)
    first = begin + period - int(min(0.05 * period, 0.060 * rate))
    found = (end - int(0.020 * rate) - first) // period
    blocks = channels[:, first : first + found * period].reshape(2, found, period)
    spectra = fft.rfft(blocks, axis=2) * (2 / period)
    spectra[:, :, 0] *= 0.5
    spectra[:, :, -1] *= 0.5 if period % 2 == 0 else 1.0
    middle = spectra[0, found // 2]
    power = np.abs(middle) ** 2
    strong = np.flatnonzero(power > 1e-5 * power[1:].max())
    strong = strong[strong > 0]
    away = (np.abs(spectra[0][:, strong] - middle[strong]) ** 2).sum(axis=1)
    if np.any(away >= 1e-4 * power[strong].sum()):
        raise ValueError("samples were lost; in this take none were")
    products = found * found * len(strong)
    lines = strong[:: max(int(products / 2e7), 1)]
    some = spectra[:, :, lines]
    energy = (np.abs(some) ** 2).sum(axis=(1, 2)) / found
    apart = (np.abs(some[:, :, None] - some[:, None]) ** 2).sum(axis=3) / energy[:, None, None]
    distances = apart.sum(axis=0)
    centre = np.argmin(np.quantile(distances, 0.4, axis=1))
    row = distances[centre]
    kept = row <= max(6 * np.quantile(row[row > 0], 0.25), 1e-8)
    return spectra[:, kept]


def on_mains(hz, tolerance):
    out = np.zeros(len(hz), bool)
    for mains in (50.0, 60.0):
        multiple = np.round(hz / mains)
        out |= (multiple >= 1) & (multiple * mains <= 1000) & (np.abs(hz - multiple * mains) <= tolerance)
    return out


def pooled(f, floor):
    sums = np.concatenate(([0.0], np.cumsum(floor)))
    i = np.arange(len(f))
    low = np.minimum(np.searchsorted(f, f * 0.95), np.maximum(i - 6, 0))
    high = np.maximum(np.searchsorted(f, f * 1.05, side="right"), np.minimum(i + 7, len(f)))
    return (sums[high] - sums[low]) / (high - low)


def ratio_lines(spectra, rate, period):
    count = spectra.shape[1]
    mean = spectra.mean(axis=1)
    power = np.abs(mean[0]) ** 2
    overall = power[1:].max()
    edges = [1]
    while edges[-1] < len(power):
        edges.append(min(int(np.ceil(edges[-1] * 1.06)) + 5, len(power)))
    tops = np.maximum.reduceat(power, edges[:-1])
    strongest = np.concatenate(([overall], np.repeat(tops, np.diff(edges))))
    spacing = rate / period
    f = np.arange(len(power)) * spacing
    use = (power > 1e-3 * strongest) & (power > 1e-9 * overall) & ~on_mains(f, 0.51 * spacing)
    use[0] = False
    x, y = spectra[0][:, use], spectra[1][:, use]
    f, power, ratio = f[use], power[use], mean[1, use] / mean[0, use]
    variance = (np.abs(y - ratio * x) ** 2).sum(axis=0) / ((count - 1) * count * power)
    noise = (np.abs(x - mean[0, use]) ** 2).sum(axis=0) / (count - 1)
    heard = power > 30 * pooled(f, noise) / count
    f, power, ratio, variance = f[heard], power[heard], ratio[heard], variance[heard]
    every = slice(1, None, 5)
    scatter = (np.abs(spectra[1][:, every] - mean[1, every]) ** 2).sum() / (count - 1)
    snr_db = 10 * np.log10((np.abs(mean[1, every]) ** 2).sum() / scatter)
    return f, ratio, pooled(f, variance * power) / power, snr_db


def wiring_fault(channels, ratio, series):
    a, b = channels - channels.mean(axis=1, keepdims=True)
    xx, yy, xy = a @ a, b @ b, a @ b
    dead = min(xx, yy) < 0.05**2 * max(xx, yy) and abs(xy) < 0.2 * np.sqrt(xx * yy)
    modulus = np.abs(ratio)
    middle = np.median(modulus)
    swapped = middle > 1.04 and np.mean(modulus > 1) > 0.75
    is_open = middle > 0.9 and np.mean(np.abs(modulus - middle) > 0.02) < 0.02
    shorted = np.median(np.abs(ratio * series / (1 - ratio))) < 0.6
    return dead or swapped or is_open or shorted or np.median(ratio.real) < 0


# ---- points of the curve -------------------------------------------------------------------------------------------


def merged(begins, f, z, variance):
    """Weighted means from each begin to the next."""
    w = 1 / variance
    total = np.add.reduceat(w, begins)
    mean = lambda v: np.add.reduceat(v * w, begins) / total
    return mean(f), mean(z), 1 / total


def gather(f, z, variance, width):
    begins, at = [], 0
    while at < len(f):
        begins.append(at)
        at = int(np.searchsorted(f, f[at] + width(f[at]), side="right"))
    return merged(np.array(begins), f, z, variance)


def refused_bands(f, z, variance, low, high):
    edges = [low]
    while edges[-1] < high * 0.999:
        edges.append(min(edges[-1] * 2 ** (1 / 6), high))
    begins = np.searchsorted(f, edges)
    bands = []
    for k, (a, b) in enumerate(zip(begins[:-1], begins[1:])):
        if a == b:
            known = 0 < a < len(f) and f[a] / f[a - 1] < 1.27
        else:
            w = 1 / variance[a:b]
            known = np.sqrt(0.5 / w.sum()) < 0.05 * np.abs((z[a:b] * w).sum() / w.sum())
        if not known:
            bands.append((edges[k], edges[k + 1]))
    return bands


def find_peak(f, z, variance):
    f, z, _ = gather(f, z, variance, lambda hz: 0.02 * hz)
    m = np.abs(z)
    best = None
    for i in 1 + np.flatnonzero((m[1:-1] >= m[:-2]) & (m[1:-1] > m[2:])):
        higher = np.flatnonzero(m > m[i])
        left = higher[higher < i].max(initial=-1) + 1
        right = higher[higher > i].min(initial=len(m))
        above = i + np.argmin(m[i:right])
        valleys = m[left : i + 1].min(), m[above]
        if best is None or m[i] / max(valleys) > best[0]:
            best = (m[i] / max(valleys), f[i], m[i], valleys[0], valleys[1], f[above])
    return best[1:]


# ---- the circuit ---------------------------------------------------------------------------------------------------


def coil_and_slopes(model, p, omega):
    if model == "inductance":
        z = 1j * omega * np.exp(p[0])
        return z, [z]
    if model == "semi_inductance":
        z = np.exp(p[0]) * (omega / PIVOT) ** p[1] * np.exp(0.5j * np.pi * p[1])
        return z, [z, z * (np.log(omega / PIVOT) + 0.5j * np.pi)]
    l_e, l_2, r_2 = np.exp(p[:3])
    x, series = 1j * omega * l_2, 1j * omega * l_e
    total = x + r_2
    return series + x * r_2 / total, [series, x * r_2**2 / total**2, x * x * r_2 / total**2]


COIL_COUNT = {"inductance": 1, "semi_inductance": 2, "two_inductances": 3}


def circuit(model, creeps, p, f):
    """Impedance, its part that a model error belongs to, and its derivatives by the parameters."""
    f_s, q_ms, q_es, r_e = np.exp(p[:4])
    creep = p[4 + COIL_COUNT[model]] if creeps else 0.0
    x = f / f_s
    decades = (np.log(x) + 0.5j * np.pi) / np.log(10)
    soft = 1 - decades * creep
    loss = creep * CREEP_LOSS
    stiff = (1 + loss * loss) / soft
    d = 1 + q_ms * (1j * x - 1j * stiff / x - loss)
    d_x = q_ms * (1j * x + 1j * (stiff - stiff / soft * creep / np.log(10)) / x)
    motional = r_e * q_ms / q_es / d
    slope = -motional / d
    coil, coil_slopes = coil_and_slopes(model, p[4:], TAU * f)
    rows = [-slope * d_x, motional + slope * (d - 1), -motional, motional + r_e, *coil_slopes]
    if creeps:
        stiff_creep = 2 * loss * CREEP_LOSS / soft + stiff * decades / soft
        rows.append(slope * q_ms * (-1j * stiff_creep / x - CREEP_LOSS))
    return coil + r_e + motional, np.abs(coil) ** 2 + np.abs(motional) ** 2, np.array(rows)


def parts(z):
    return np.concatenate((z.real, z.imag), axis=-1)


def fit_circuit(model, creeps, start, f, z, variance):
    """Weighted complex least squares; scatter and a relative error of the model, set so that the sum is as expected."""
    scatter = np.maximum(variance, (1e-6 * np.abs(z)) ** 2)
    p, excess = np.asarray(start), 0.01
    expected = len(f) - 0.5 * len(p)
    for turn in range(6):
        s = np.sqrt(0.5 * (scatter + excess**2 * circuit(model, creeps, p, f)[1]))
        ss = np.concatenate((s, s))
        residuals = lambda p: parts(circuit(model, creeps, p, f)[0] - z) / ss
        jacobian = lambda p: (parts(circuit(model, creeps, p, f)[2]) / ss).T
        p = optimize.least_squares(
            residuals, p, jac=jacobian, method="lm", ftol=1e-4 if turn == 0 else 1e-10, xtol=1e-10, gtol=1e-6
        ).x
        found, part, _ = circuit(model, creeps, p, f)
        misfit = np.abs(z - found) ** 2
        total = lambda ln_m2: (misfit / (scatter + np.exp(ln_m2) * part)).sum() - expected
        following = 0.0
        if (misfit / scatter).sum() > expected + 3 * np.sqrt(expected):
            following = np.exp(0.5 * optimize.brentq(total, -40.0, 4.0, xtol=1e-9))
        if turn > 0 and abs(following - excess) <= 0.04 * max(excess, 1e-7):
            break
        if turn < 5:
            excess = following
    j = jacobian(p)
    covariance = np.linalg.inv(j.T @ j)
    deviance = (misfit / s**2 + 2 * np.log(2 * s * s)).sum()
    return {
        "model": model,
        "creeps": creeps,
        "p": p,
        "excess": excess,
        "criterion": deviance + len(p) * np.log(2 * len(f)),
        "errors": np.sqrt(np.diag(covariance)),
        "sensitivity": covariance @ j.T / ss,
        "residuals": z - found,
    }


def physical(fit):
    share = fit["p"][-1] * CREEP_LOSS * np.exp(fit["p"][1]) if fit["creeps"] else 0.0
    return np.all(fit["errors"][:4] < 0.3) and 0 <= share <= 1


def first_guess(model, f, z, peak):
    peak_hz, peak_ohm, below, above, above_hz = peak
    r_e = 0.95 * min(below, above)
    three = three_frequencies(f, z, np.argmin(np.abs(f - peak_hz)), r_e)
    ratio = max(peak_ohm / r_e, 1.05)
    q_ms = np.clip(three[1], 0.3, 30.0)
    low = np.argmin(np.abs(f - min(2 * above_hz, 0.5 * f[-1])))
    high = np.argmin(np.abs(f - 0.8 * f[-1]))
    reactance = lambda i: max(z[i].imag, 0.02 * r_e)
    inductance = lambda i: reactance(i) / (TAU * f[i])
    if model == "inductance":
        coil = [0.5 * np.log(inductance(low) * inductance(high))]
    elif model == "semi_inductance":
        n = np.clip(np.log(reactance(high) / reactance(low)) / np.log(f[high] / f[low]), 0.45, 0.95)
        modulus = reactance(high) / np.sin(n * np.pi / 2)
        coil = [np.log(modulus) - n * np.log(TAU * f[high] / PIVOT), n]
    else:
        l_e = 0.7 * inductance(high)
        coil = np.log([l_e, max(inductance(low) - l_e, 0.3 * l_e), max(z[high].real - r_e, 0.5 * r_e)])
    return [*np.log([three[0], q_ms, q_ms / (ratio - 1), r_e]), *coil]


def three_frequencies(f, z, peak, r_e):
    m = np.abs(z)
    x = np.log(f[peak - 1 : peak + 2] / f[peak])
    a, b, c = np.polyfit(x, m[peak - 1 : peak + 2], 2)
    z_max = c - b * b / (4 * a) if a < 0 else m[peak]
    level = np.sqrt(r_e * z_max)
    below = np.flatnonzero(m < level)
    low, high = below[below < peak][-1], below[below > peak][0]
    crossing = lambda i: np.exp(np.interp(0, *sorted_pair(np.log(m[i : i + 2] / level), np.log(f[i : i + 2]))))
    f_1, f_2 = crossing(low), crossing(high - 1)
    ratio, f_s = z_max / r_e, np.sqrt(f_1 * f_2)
    return f_s, f_s * np.sqrt(ratio) / (f_2 - f_1)


def sorted_pair(x, y):
    return (x, y) if x[0] < x[1] else (x[::-1], y[::-1])


def choose(f, z, variance, peak):
    fits = [fit_circuit(m, False, first_guess(m, f, z, peak), f, z, variance) for m in COIL_COUNT]
    fits = sorted(filter(physical, fits), key=lambda fit: fit["criterion"])
    plain, others = fits[0], fits[1:]
    creeping = fit_circuit(plain["model"], True, [*plain["p"], 0.05], f, z, variance)
    if physical(creeping) and creeping["criterion"] < plain["criterion"]:
        again = [fit_circuit(o["model"], True, [*o["p"], creeping["p"][-1]], f, z, variance) for o in others]
        return creeping, list(filter(physical, again)), [plain]
    return plain, others, [creeping] if physical(creeping) else []


# ---- figures and their budget --------------------------------------------------------------------------------------


def figures_of(model, creeps, p):
    f_s, q_ms, q_es, r_e = np.exp(p[:4])
    modulus = lambda ln_x: -np.abs(circuit(model, creeps, p, np.array([f_s * np.exp(ln_x)]))[0][0])
    top = optimize.minimize_scalar(modulus, bounds=(-0.4, 0.4), method="bounded", options={"xatol": 1e-9})
    figures = {"f_s_hz": f_s, "q_ms": q_ms, "q_es": q_es, "q_ts": q_ms * q_es / (q_ms + q_es)}
    figures |= {"r_e_ohm": r_e, "z_max_ohm": -top.fun}
    creep = {"creep": p[-1]} if creeps else {}
    if model == "inductance":
        return figures | {"l_e_h": np.exp(p[4])} | creep
    if model == "semi_inductance":
        return figures | {"k_ohm_s_n": np.exp(p[4] - p[5] * np.log(PIVOT)), "n": p[5]} | creep
    return figures | dict(zip(("l_e_h", "l_2_h", "r_2_ohm"), np.exp(p[4:7]))) | creep


def parameter_sources(fit, f, z, variance, series):
    """Changes of the parameters by one standard uncertainty of each source, and its degrees of freedom."""
    sensitivity, n = fit["sensitivity"], len(fit["p"])
    noise = np.linalg.cholesky((sensitivity * (0.5 * np.concatenate((variance, variance)))) @ sensitivity.T).T
    ratio = z / (z + series)
    moved = lambda z2: sensitivity @ parts(z2 - z)
    jig = [
        moved(series * np.exp(0.005) * ratio / (1 - ratio)),
        moved(series * (h := ratio / np.exp(0.0023)) / (1 - h)),
        moved(z - 0.05),
        moved(1 / (1 / z - 5.8e-5)),
    ]
    temperature, travel = np.zeros(n), np.zeros(n)
    temperature[2:4], travel[0] = 0.00393 * 3.0, 3e-4
    sources = [(noise, np.inf)] + [(c[None], np.inf) for c in (*jig, temperature, travel)]
    if fit["excess"] > 0:
        block = np.floor(2 * np.log2(f / f[0])).astype(int)
        begins = np.flatnonzero(np.diff(block, prepend=-1))
        by_point = sensitivity[:, : len(f)] * fit["residuals"].real + sensitivity[:, len(f) :] * fit["residuals"].imag
        freedom = 2.0 * len(begins)
        changes = np.add.reduceat(by_point, begins, axis=1).T * np.sqrt(freedom / max(freedom - n, 1.0))
        sources.append((changes, max(freedom - n, 1.0)))
    return sources


def budget(best, other_coils, other_suspension, sources):
    model, creeps, p = best["model"], best["creeps"], best["p"]
    own = figures_of(model, creeps, p)
    names = list(own)
    moved = lambda k, step: np.array(list(figures_of(model, creeps, p + step * np.eye(len(p))[k]).values()))
    slopes = np.array([(moved(k, 1e-4) - moved(k, -1e-4)) / 2e-4 for k in range(len(p))]).T
    effects = [np.sqrt(((slopes @ changes.T) ** 2).sum(axis=1)) for changes, _ in sources]
    freedom = [dof for _, dof in sources]
    if best["excess"] > 0:
        for others in filter(None, (other_coils, other_suspension)):
            worst = np.zeros(len(names))
            for other in others:
                weight = min(best["excess"] / max(other["excess"], best["excess"]), 1.0)
                theirs = figures_of(other["model"], other["creeps"], other["p"])
                difference = [weight * abs(theirs[n] - own[n]) if i < 6 else 0.0 for i, n in enumerate(names)]
                worst = np.maximum(worst, difference)
            effects.append(worst)
            freedom.append(np.inf)
    squares = np.array(effects) ** 2
    total = squares.sum(axis=0)
    with np.errstate(divide="ignore"):
        dof = total**2 / (squares**2 / np.array(freedom)[:, None]).sum(axis=0)
    factor = np.where(dof < 1e4, stats.t.ppf(0.975, np.clip(dof, 1.0, 1e4)), 1.96)
    return {n: (own[n], u, u * k) for n, u, k in zip(names, np.sqrt(total), factor)}


def evidence(best, sources, f, z, variance, points_f):
    count = int(np.ceil(np.log10(points_f[-1] / points_f[0]) * 120))
    axis = points_f[0] * (points_f[-1] / points_f[0]) ** (np.arange(count + 1) / count)
    fitted, _, slopes = circuit(best["model"], best["creeps"], best["p"], axis)
    along = (slopes * (fitted.conj() / np.abs(fitted))).real
    uncertainty = np.sqrt(sum(((changes @ along) ** 2).sum(axis=0) for changes, _ in sources))
    shown_f, shown_z, shown_v = gather(f, z, variance, lambda hz: 0.0137 * hz)
    percent = 100 * (np.abs(shown_z) / np.abs(circuit(best["model"], best["creeps"], best["p"], shown_f)[0]) - 1)
    fit = axis, np.abs(fitted), np.angle(fitted, deg=True), uncertainty
    return fit, (shown_f, np.abs(shown_z), np.angle(shown_z, deg=True), np.sqrt(0.5 * shown_v)), percent


# ---- all of it -----------------------------------------------------------------------------------------------------


def analyse(channels, rate, series):
    source = channels[0]
    active_span(source, rate)
    if is_tone(source):
        raise ValueError("a tone")
    period = find_period(source, rate)
    found = health(channels, rate, period)
    spectra = split(channels, rate, period)
    f, ratio, variance, snr_db = ratio_lines(spectra, rate, period)
    if wiring_fault(channels, ratio, series) or found["identical"] or snr_db < 30:
        raise ValueError("a fault; this take has none")
    z = series * ratio / (1 - ratio)
    variance = variance * np.abs(series / (1 - ratio) ** 2) ** 2
    band = (f >= 5.0) & (f <= min(20_000.0, 0.45 * rate))
    f, z, variance = f[band], z[band], variance[band]
    refused_bands(f, z, variance, 10.0, 20_000.0)
    peak = find_peak(f, z, variance)
    width = lambda hz: hz / (240 if 0.5 <= hz / peak[0] < 2 else 60 if hz / peak[0] < 8 else 30)
    points = gather(f, z, variance, width)
    best, other_coils, other_suspension = choose(*points, peak)
    sources = parameter_sources(best, *points, series)
    values = budget(best, other_coils, other_suspension, sources)
    curves = evidence(best, sources, f, z, variance, points[0])
    return values, curves, best


def compare(values, figures):
    """Worst difference of a value in its own standard uncertainties, and of an uncertainty relative to itself."""
    apart = max(abs(value - figures[n]["value"]) / figures[n]["standard_uncertainty"] for n, (value, _, _) in values.items())
    wide = max(abs(u / figures[n]["standard_uncertainty"] - 1) for n, (_, u, _) in values.items())
    return apart, wide


def main():
    path, series, rounds, answer = sys.argv[1], float(sys.argv[2]), int(sys.argv[3]), sys.argv[4]
    rate, raw = wavfile.read(path)
    channels = np.ascontiguousarray(raw.T, dtype=float)
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        values, _, best = analyse(channels, rate, series)
        times.append(time.perf_counter() - start)
    with open(answer) as file:
        figures = json.load(file)["values"]
    apart, wide = compare(values, figures)
    print(
        f"{statistics.median(times):.4f} s  f_s {values['f_s_hz'][0]:.3f} Hz  {best['model']}, "
        f"values within {apart:.1e} of their uncertainty, uncertainties within {wide:.1e} of the core's"
    )
    # Fits end within 1e-6 * sqrt(1000) standard errors of the minimum, the model's error m within 4 % (both programs):
    # m weighs the points, so values may differ by some per cent of their uncertainty and uncertainties by as much.
    if apart > 0.05 or wide > 0.05 or values.keys() != figures.keys():
        sys.exit("the two programs disagree")


if __name__ == "__main__":
    main()
