"""Make src/stripdown/bench/refrigerants/*.json: polynomials fitted to CoolProp, so that `judge` never loads it.

Run with the extra `refrigerants` installed: python tools/make_refrigerant_tables.py [NAME …]
Made with CoolProp 8.0.0. Blends mostly need its suffix `.mix`; a few of its states do not converge: the fit passes
through the states that do. Each file states its range and the error in pressure that 99 of 100 of those states keep.
Pressures in kPa absolute, temperatures in K, h and w = p/density in kJ/kg, s in kJ/(kg K).
"""

import json
import math
import sys
from pathlib import Path

import CoolProp
import numpy as np
from CoolProp import CoolProp as Cp
from numpy.polynomial import chebyshev

OUT = Path(__file__).parent.parent / "src" / "stripdown" / "bench" / "refrigerants"
SATURATION_DEGREE, GAS_DEGREE = 10, (12, 12)
SUPERHEAT, SUPERHEAT_OF_AMMONIA = 200.0, 320.0
LOWEST, HIGHEST = -60.0, 70.0
HALOCARBON, OTHER = True, False

# Name → CoolProp's name, halocarbon or not, critical temperature in degC (of blends from memory: it bounds the range).
FLUIDS: dict[str, tuple[str, bool, float]] = {
    "R12": ("R12", HALOCARBON, 111.97),
    "R22": ("R22", HALOCARBON, 96.15),
    "R32": ("R32", HALOCARBON, 78.11),
    "R134a": ("R134a", HALOCARBON, 101.06),
    "R152a": ("R152a", HALOCARBON, 113.26),
    "R290": ("R290", OTHER, 96.74),
    "R404A": ("R404A", HALOCARBON, 72.12),
    "R407A": ("R407A.mix", HALOCARBON, 82.3),
    "R407C": ("R407C", HALOCARBON, 86.2),
    "R407F": ("R407F.mix", HALOCARBON, 82.7),
    "R410A": ("R410A", HALOCARBON, 71.34),
    "R417A": ("R417A.mix", HALOCARBON, 87.1),
    "R427A": ("R427A.mix", HALOCARBON, 85.3),
    "R448A": ("R448A.mix", HALOCARBON, 83.7),
    "R449A": ("R449A.mix", HALOCARBON, 81.5),
    "R450A": ("R450A.mix", HALOCARBON, 104.5),
    "R452A": ("R452A.mix", HALOCARBON, 74.9),
    "R454A": ("R454A.mix", HALOCARBON, 81.7),
    "R454B": ("R454B.mix", HALOCARBON, 78.1),
    "R454C": ("R454C.mix", HALOCARBON, 85.7),
    "R455A": ("R455A.mix", HALOCARBON, 85.6),
    "R502": ("R502.mix", HALOCARBON, 81.5),
    "R507A": ("R507A", HALOCARBON, 70.62),
    "R513A": ("R513A.mix", HALOCARBON, 94.9),
    "R600a": ("R600a", OTHER, 134.67),
    "R717": ("R717", OTHER, 132.41),
    "R744": ("R744", OTHER, 30.98),
    "R1234yf": ("R1234yf", HALOCARBON, 94.7),
    "R1234ze(E)": ("R1234ze(E)", HALOCARBON, 109.36),
    "R1270": ("R1270", OTHER, 91.06),
}


def saturation(state: Cp.AbstractState, quality: float, temperatures: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Temperatures [K] that CoolProp can do, and their pressures [kPa]."""
    good_t, good_p = [], []
    for t in temperatures:
        try:
            state.update(Cp.QT_INPUTS, quality, t)
            p = state.p() / 1e3
        except ValueError:
            continue
        if math.isfinite(p) and p > 0:
            good_t.append(t)
            good_p.append(p)
    return np.array(good_t), np.array(good_p)


def scaled(x: np.ndarray) -> tuple[list[float], np.ndarray]:
    """Middle and half-width of a range, and x on -1..1."""
    middle, half = (x.max() + x.min()) / 2, (x.max() - x.min()) / 2
    return [float(middle), float(half)], (x - middle) / half


def line(x: np.ndarray, y: np.ndarray) -> dict[str, object]:
    """Polynomial of y in scaled x, power basis, lowest first; points far off the fit (false solutions) are dropped."""
    scale, u = scaled(x)
    keep = np.ones(len(x), dtype=bool)
    for _ in range(3):
        c = chebyshev.chebfit(u[keep], y[keep], SATURATION_DEGREE)
        rest = np.abs(chebyshev.chebval(u, c) - y)
        keep = rest <= max(6 * float(np.median(rest)), 1e-7)
        if keep.sum() < 0.8 * len(x):
            keep = rest <= np.quantile(rest, 0.9)
    return {"scale": scale, "c": [float(v) for v in chebyshev.cheb2poly(c)]}


def value(poly: dict[str, object], x: float | np.ndarray) -> np.ndarray:
    """The polynomial at x."""
    (middle, half), c = poly["scale"], poly["c"]
    return np.polynomial.polynomial.polyval((np.asarray(x) - middle) / half, c)


def surface(x: np.ndarray, y: np.ndarray, z: np.ndarray) -> list[list[float]]:
    """Power-basis coefficients of z in x and y (both on -1..1), rows by power of x."""
    n, m = GAS_DEGREE
    fit, *_ = np.linalg.lstsq(chebyshev.chebvander2d(x, y, [n, m]), z, rcond=None)
    c = fit.reshape(n + 1, m + 1)
    rows = np.array([chebyshev.cheb2poly(np.r_[row, np.zeros(m + 1 - len(row))]) for row in c])
    return [[float(v) for v in row] for row in np.array([chebyshev.cheb2poly(col) for col in rows.T]).T]


def make(name: str) -> dict[str, object]:
    """The table of one refrigerant."""
    code, halocarbon, critical = FLUIDS[name]
    state = Cp.AbstractState("HEOS", code)
    low = max(LOWEST, -55.0) if name == "R744" else LOWEST
    high = min(HIGHEST, critical - 5.0)
    temperatures = np.linspace(low, high, 131) + 273.15
    table: dict[str, object] = {"name": name, "halocarbon": halocarbon, "critical": critical}
    sides = {side: saturation(state, quality, temperatures) for side, quality in (("bubble", 0.0), ("dew", 1.0))}
    # the range ends where the solver still did both sides: beyond, the way back from a pressure has no end to stand on
    held = [t - 273.15 for t, _ in sides.values()]
    table["range"] = [round(max(float(t.min()) for t in held), 6), round(min(float(t.max()) for t in held), 6)]
    for side, (t, p) in sides.items():
        table[f"{side}_pressure"] = line(1.0 / t, np.log(p))
        off = np.abs(np.exp(value(table[f"{side}_pressure"], 1.0 / t)) / p - 1.0)
        table[f"{side}_error_percent"] = round(100.0 * float(np.quantile(off, 0.99)), 5)
        table[f"{side}_temperature"] = line(np.log(p), 1.0 / t)
    gas_high = min(HIGHEST, critical - 12.0)
    ends = value(table["dew_pressure"], 1.0 / (np.array([low, gas_high]) + 273.15))
    top = SUPERHEAT_OF_AMMONIA if name == "R717" else SUPERHEAT
    points = []
    for u in np.cos(np.pi * (np.arange(34) + 0.5) / 34):
        for v in np.cos(np.pi * (np.arange(32) + 0.5) / 32):
            log_p = ends.mean() + u * (ends[1] - ends[0]) / 2
            t = 1.0 / float(value(table["dew_temperature"], log_p)) + top * (v + 1) / 2
            try:
                state.specify_phase(Cp.iphase_gas)
                state.update(Cp.PT_INPUTS, math.exp(log_p) * 1e3, t)
                points.append((u, v, state.hmass() / 1e3, state.smass() / 1e3, state.p() / state.rhomass() / 1e3))
            except ValueError:
                continue
    x, y, h, s, w = np.array(points).T
    table["gas"] = {
        "log_p": [float(ends.mean()), float((ends[1] - ends[0]) / 2)],
        "superheat": [top / 2, top / 2],
        "h": surface(x, y, h),
        "s": surface(x, y, s),
        "w": surface(x, y, w),
    }
    table["made_with"] = f"CoolProp {CoolProp.__version__}, {code}"
    return table


def main() -> None:
    """Write the tables asked for, or all."""
    OUT.mkdir(exist_ok=True)
    for name in sys.argv[1:] or FLUIDS:
        table = make(name)
        (OUT / f"{name}.json").write_text(json.dumps(table, sort_keys=True) + "\n", encoding="utf-8")
        print(name, *(f"{side} {table[f'{side}_error_percent']} %" for side in ("bubble", "dew")))


if __name__ == "__main__":
    main()
