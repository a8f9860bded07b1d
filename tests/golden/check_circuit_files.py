"""Files for circuit programs, read by others: Touchstone by scikit-rf, the SPICE subcircuit by ngspice.

The files come fresh from the core that the page ships (circuit_files.mjs); nothing is stored. The fitted circuit is
evaluated here by its definition, and that definition is first held against the curve that the reading shows.

Run: python check_circuit_files.py --check. Needs ngspice (Debian's package), Node and the built core.
"""
import json
import re
import subprocess
import tempfile
from pathlib import Path

import numpy as np
import skrf

HERE = Path(__file__).parent
CREEP_LOSS = np.pi / 2 / np.log(10)


def circuit(v, f):
    """Z of the fitted circuit at f: R_e + coil + R_es/D (definitions of Small 1972, Leach 2002, logarithmic creep)."""
    w, x = 2j * np.pi * f, f / v["f_s_hz"]
    if "k_ohm_s_n" in v:
        coil = v["k_ohm_s_n"] * w ** v["n"]
    else:
        coil = w * v["l_e_h"]
        if "l_2_h" in v:
            coil = coil + 1 / (1 / (w * v["l_2_h"]) + 1 / v["r_2_ohm"])
    creep = v.get("creep", 0.0)
    loss = creep * CREEP_LOSS
    stiffness = (1 + loss**2) / (1 - creep * np.log10(1j * x))
    d = 1 + v["q_ms"] * (1j * x + stiffness / (1j * x) - loss)
    return v["r_e_ohm"] + coil + v["r_e_ohm"] * v["q_ms"] / v["q_es"] / d


def simulated(netlist, band):
    """Impedance of the subcircuit by ngspice's .ac, driven by 1 A: the voltage is the impedance."""
    name = re.search(r"^\.subckt (\S+) plus minus$", netlist, re.M).group(1)
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "part.cir").write_text(netlist)
        raw = Path(folder) / "out.raw"
        deck = ["a driver", f".include {folder}/part.cir", "I1 0 a DC 0 AC 1", f"X1 a 0 {name}",
                f".ac dec 60 {band[0]!r} {band[1]!r}", ".options reltol=1e-9 gmin=1e-18",
                ".control", "set filetype=ascii", "run", f"write {raw} v(a)", "quit 0", ".endc", ".end"]
        (Path(folder) / "deck.cir").write_text("\n".join(deck) + "\n")
        subprocess.run(["ngspice", "-b", str(Path(folder) / "deck.cir")], check=True, capture_output=True)
        body = raw.read_text().split("Values:")[1].split()
    rows = [body[i:i + 3] for i in range(0, len(body), 3)]
    f = np.array([float(x[1].split(",")[0]) for x in rows])
    return f, np.array([complex(*map(float, x[2].split(","))) for x in rows])


def stated(netlist):
    """The departure that the file states, as a fraction; none stated means rounding alone."""
    found = re.search(r"largest departure from the fitted circuit ([\d.]+) % of \|Z\|", netlist)
    return float(found.group(1)) / 100 if found else None


def check_spice(case):
    f, z = simulated(case["spice"], case["band"])
    wanted = circuit(case["values"], f)
    found = np.abs(z / wanted - 1).max()
    allowed = stated(case["spice"])
    chains = "k_ohm_s_n" in case["values"] or "creep" in case["values"]
    assert (allowed is None) != chains, "a chain states its departure, an exact network none"
    # Elements carry twelve digits (5e-12, times a sensitivity of at most 2 Q_ms, below 40), ngspice's file fifteen: 1e-9
    # for the exact networks. The statement is rounded up; it was taken at 200 frequencies a decade, and between two of them
    # an error that waves once in half a decade rises by less than half a per cent of itself.
    allowed = 1e-9 if allowed is None else 1.005 * allowed + 1e-9
    assert found < allowed, f"ngspice departs by {found:.3g}, stated {allowed:.3g}"
    # Nor is the statement idle: rounding up adds at most 1e-6.
    assert not chains or found > 0.5 * (allowed - 1e-6), f"stated {allowed:.3g}, but no more than {found:.3g} is seen"
    return found


def check_touchstone(case):
    curve = {k: np.array(v) for k, v in case["curve"].items()}
    wanted = curve["magnitude_ohm"] * np.exp(1j * np.radians(curve["phase_deg"]))
    worst = 0.0
    for ohm, text in case["touchstone"].items():
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "curve.s1p"
            path.write_text(text)
            network = skrf.Network(str(path))
        assert np.array_equal(network.f, curve["frequency_hz"]), "frequencies"
        assert np.all(network.z0 == float(ohm)), "reference"
        # By way of S at 1 ohm, 60 ohm comes back with 60 times the rounding: 2e-14.
        worst = max(worst, np.abs(network.z[:, 0, 0] / wanted - 1).max())
    assert worst < 1e-9, f"scikit-rf reads the curve {worst:.3g} off"
    return worst


def main():
    text = subprocess.run(["node", str(HERE / "circuit_files.mjs")], check=True, capture_output=True, text=True).stdout
    cases = json.loads(text)
    failed = 0
    for case in cases:
        try:
            fit = {k: np.array(v) for k, v in case["fit"].items()}
            wanted = fit["magnitude_ohm"] * np.exp(1j * np.radians(fit["phase_deg"]))
            apart = np.abs(circuit(case["values"], fit["frequency_hz"]) / wanted - 1).max()
            assert apart < 1e-9, f"the definition differs from the fitted curve by {apart:.3g}"
            print(f"ok {case['name']} ({case['outcome']}): ngspice {check_spice(case):.2g}, scikit-rf {check_touchstone(case):.2g}")
        except AssertionError as error:
            failed += 1
            print(f"not ok {case['name']}: {error}")
    print(f"{len(cases) - failed} passed, {failed} failed")
    assert len(cases) == 15
    raise SystemExit(1 if failed else 0)


if __name__ == "__main__":
    main()
