"""Impedance of five equivalent circuits by ngspice's small-signal analysis.

The circuits reach ngspice as networks of ideal R, L and C driven by 1 A, so no formula of ours takes part: the voltage
is the impedance. (jw)^n has no finite network; the lossy coil is a chain of 16 sections R || L and one plain L (the
sections above the band), fitted here by non-negative least squares; the chain's own largest relative error against
(jw)^n is stored as `coil_error`.

Run: python make_circuits.py [--check]. Needs ngspice (Debian's package) and SciPy.
"""
import subprocess
import tempfile
from pathlib import Path

import numpy as np
from scipy.optimize import nnls

from golden_io import settle

# Invented drivers.
CIRCUITS = [
    dict(name="bass, plain coil", r_e_ohm=5.6, f_s_hz=31.0, q_ms=5.2, q_es=0.36, coil="inductance", l_e_h=0.7e-3),
    dict(name="bass, lossy coil", r_e_ohm=6.2, f_s_hz=24.5, q_ms=3.9, q_es=0.41, coil="semi_inductance",
         k_ohm_s_n=0.0115, n=0.72),
    dict(name="mid, lossy coil", r_e_ohm=7.1, f_s_hz=88.0, q_ms=2.1, q_es=0.63, coil="semi_inductance",
         k_ohm_s_n=0.031, n=0.58),
    dict(name="mid, two inductances", r_e_ohm=6.0, f_s_hz=61.0, q_ms=7.7, q_es=0.52, coil="two_inductances",
         l_e_h=0.25e-3, l_2_h=0.9e-3, r_2_ohm=12.0),
    dict(name="tweeter, two inductances", r_e_ohm=4.8, f_s_hz=940.0, q_ms=1.4, q_es=1.1, coil="two_inductances",
         l_e_h=0.02e-3, l_2_h=0.035e-3, r_2_ohm=1.9),
]
PER_DECADE = 40
LOW_HZ, HIGH_HZ = 10.0, 20000.0


def ladder(k, n, sections=16):
    """Chain of sections R || L and one L close to k (jw)^n from 10 Hz to 20 kHz: r, l, plain l, largest relative error."""
    w = 2 * np.pi * np.geomspace(LOW_HZ, HIGH_HZ, 600)
    corners = 2 * np.pi * np.geomspace(0.6, 2.0e5, sections)
    goal = k * (1j * w[:, None]) ** n
    x = 1j * w[:, None] / corners
    columns = np.hstack([x / (1 + x), 1j * w[:, None] / corners[-1]]) / goal
    stacked = np.vstack([columns.real, columns.imag])
    weight, _ = nnls(stacked, np.concatenate([np.ones(len(w)), np.zeros(len(w))]), maxiter=5000)
    error = np.abs(columns @ weight - 1).max()
    r = weight[:-1]
    used = r > 0
    return r[used], (r / corners)[used], weight[-1] / corners[-1], float(error)


def coil_elements(c):
    """Netlist lines from node `c1` to node `m`, and the chain's error."""
    if c["coil"] == "inductance":
        return [f"Lcoil c1 m {c['l_e_h']!r}"], 0.0
    if c["coil"] == "two_inductances":
        return [f"Lcoil c1 x {c['l_e_h']!r}", f"L2 x m {c['l_2_h']!r}", f"R2 x m {c['r_2_ohm']!r}"], 0.0
    r, l, plain, error = ladder(c["k_ohm_s_n"], c["n"])
    nodes = ["c1"] + [f"k{i}" for i in range(1, len(r))] + ["last"]
    lines = [f"Lk last m {max(float(plain), 1e-12)!r}"]
    for i, (ri, li) in enumerate(zip(r, l)):
        lines += [f"Rk{i} {nodes[i]} {nodes[i + 1]} {float(ri)!r}", f"Lk{i} {nodes[i]} {nodes[i + 1]} {float(li)!r}"]
    return lines, error


def run(c):
    """Frequencies, impedances and the coil chain's own error."""
    r_es = c["r_e_ohm"] * c["q_ms"] / c["q_es"]
    w_s = 2 * np.pi * c["f_s_hz"]
    coil, error = coil_elements(c)
    with tempfile.TemporaryDirectory() as folder:
        raw = Path(folder) / "out.raw"
        netlist = [c["name"], "I1 0 a DC 0 AC 1", f"Re a c1 {c['r_e_ohm']!r}", *coil,
                   f"Rmot m 0 {float(r_es)!r}", f"Lmot m 0 {float(r_es / (w_s * c['q_ms']))!r}",
                   f"Cmot m 0 {float(c['q_ms'] / (w_s * r_es))!r}",
                   f".ac dec {PER_DECADE} {LOW_HZ} {HIGH_HZ}", ".options reltol=1e-9 gmin=1e-18",
                   ".control", "set filetype=ascii", "run", f"write {raw} v(a)", "quit 0", ".endc", ".end"]
        deck = Path(folder) / "deck.cir"
        deck.write_text("\n".join(netlist) + "\n")
        subprocess.run(["ngspice", "-b", str(deck)], check=True, capture_output=True)
        body = raw.read_text().split("Values:")[1].split()
    rows = [body[i:i + 3] for i in range(0, len(body), 3)]
    f = [float(x[1].split(",")[0]) for x in rows]
    z = [tuple(map(float, x[2].split(","))) for x in rows]
    return f, z, error


def main():
    document = {"source": "ngspice small-signal analysis of R, L, C networks", "circuits": []}
    for c in CIRCUITS:
        f, z, error = run(c)
        document["circuits"].append({**c, "coil_error": error, "frequency_hz": f,
                                     "real_ohm": [a for a, _ in z], "imaginary_ohm": [b for _, b in z]})
    # The simulator's pivoting noise is about 1e-12; the ladder's non-negative fit moves by less than 1e-6 of |Z|.
    settle("circuits.json", document, 1e-6)


if __name__ == "__main__":
    main()
