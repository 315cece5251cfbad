"""Windings, insulation, supply, sensors and switchgear: what an electrical reading means.

Caution: these are taken only on a circuit that is isolated, locked off and proven dead (live ones by a licensed
electrician); local code and the equipment maker's instructions come first. No insulation test under vacuum, none
across sensors or electronics.
"""

import math
from collections.abc import Sequence
from typing import Literal

import numpy as np

from stripdown.bench.number import Number

COPPER = 234.5
"""Constant of copper of 100 % conductivity in degC: IEEE Std 112 (from memory)."""
COPPER_IEC = 235.0
"""The same in IEC 60034-1, 8.6.2 (from memory)."""
ALUMINIUM = 225.0
"""Constant of aluminium in both (from memory)."""

DERATING = ((0.0, 1.0), (1.0, 1.0), (2.0, 0.95), (3.0, 0.89), (4.0, 0.82), (5.0, 0.76))
"""Voltage unbalance [%] and usable share of rated power, read off the curve of NEMA MG 1, figure 14-1: each within
0.02."""

PTC_LIMITS = {"cold": (None, 250.0), -5: (None, 550.0), 5: (1330.0, None), 15: (4000.0, None)}
"""Offset from the nominal temperature [K] → (low, high) of one motor sensor [ohm]: DIN 44081, as printed in a public
data sheet."""


def mean_of(values: Sequence[Number]) -> Number:
    """Mean that does not depend on the order of the entries.

    values [one unit], one or more. Result [that unit]. Source: arithmetic.

    >>> mean_of([462.0, 463.0, 455.0])
    460.0
    """
    if all(isinstance(v, float | int) for v in values):
        return math.fsum(values) / len(values)
    return np.mean(np.asarray(values, dtype=float), axis=0)


def deviations(values: Sequence[Number]) -> list[Number]:
    """Each value's own deviation from the mean of all.

    values [one unit], readings of one moment, mean not 0. Result [%], signed. Source: ANSI/EASA AR100-2020 (balance),
    NEMA MG 1 (unbalance).

    >>> [round(d, 4) for d in deviations([0.86, 0.84, 0.85])]
    [1.1765, -1.1765, 0.0]
    """
    mean = mean_of(values)
    return [100.0 * (v - mean) / mean for v in values]


def unbalance(values: Sequence[Number]) -> Number:
    """Largest deviation from the mean, over the mean (not the spread over the mean, which is about double).

    values [one unit], of one moment, mean not 0. Result [%], 0 or more. Source: NEMA MG 1-2011; US DOE Motor Systems
    Tip Sheet 7.

    >>> round(unbalance([480.0, 476.0, 472.0]), 6)
    0.840336
    """
    parts = [abs(d) for d in deviations(values)]
    return max(parts) if all(isinstance(p, float) for p in parts) else np.max(np.asarray(parts), axis=0)


def deviation_uncertainty(values: Sequence[float], parts: Sequence[float]) -> list[float]:
    """Standard uncertainty of each deviation from the mean; a gain error common to all has fallen out already.

    values [one unit], mean not 0; parts [same unit], standard uncertainty of each that is its own (zero, leads,
    digits). Result [%]. Source: JCGM 100:2008, 5.1.2, on the formula of `deviations`.

    >>> [round(u, 4) for u in deviation_uncertainty([1.0, 1.0, 1.0], [0.01, 0.01, 0.01])]
    [0.8165, 0.8165, 0.8165]
    """
    n, mean = len(values), mean_of(values)
    squares = [u * u for u in parts]
    total = math.fsum(squares)
    out = []
    for value, own in zip(values, squares, strict=True):
        slope = value / (n * mean)
        out.append(100.0 / abs(mean) * math.sqrt(own * (1.0 - slope) ** 2 + (total - own) * slope**2))
    return out


def extra_heating(percent: Number) -> Number:
    """Extra temperature rise of a motor from unbalanced voltage, as a share of its balanced rise.

    percent [%], voltage unbalance, 0..5. Result [%]: 2 · percent². Source: US DOE Motor Systems Tip Sheet 7,
    DOE/GO-102012-3733.

    >>> extra_heating(2.0)
    8.0
    """
    return 2.0 * percent * percent


def derating(percent: float) -> float:
    """Usable share of rated power under unbalanced voltage, read off the curve, each value within 0.02.

    percent [%], voltage unbalance, 0..5. Result [1]. Raises ValueError above 5: such a supply is not run on.
    Source: NEMA MG 1-2011, figure 14-1 (from memory).

    >>> round(derating(2.0), 2)
    0.95
    """
    if not 0.0 <= percent <= 5.0:
        raise ValueError(f"voltage unbalance {percent:g} % is outside 0 to 5 %: above 5 % a motor is not to be run")
    return float(np.interp(percent, [p for p, _ in DERATING], [share for _, share in DERATING]))


def at_temperature(resistance: Number, measured: Number, wanted: Number, constant: float = COPPER) -> Number:
    """Resistance of a winding carried to another temperature.

    resistance [ohm]; measured, wanted [degC], -50..200; constant [degC], of the metal. Result [ohm].
    Source: IEEE Std 112 (234.5), IEC 60034-1, 8.6.2 (235), from memory.

    >>> round(at_temperature(0.86, 24.0, 25.0), 6)
    0.863327
    """
    return resistance * (constant + wanted) / (constant + measured)


def winding_temperature(cold: Number, temperature: Number, hot: Number, constant: float = COPPER) -> Number:
    """Mean temperature of a winding from its resistance cold and hot.

    cold, hot [ohm], above 0; temperature [degC], of the cold winding; constant [degC], of the metal. Result [degC].
    Source: IEEE Std 112; IEC 60034-1, 8.6.2 (from memory).

    >>> round(winding_temperature(1.0, 20.0, 1.35), 3)
    109.075
    """
    return hot / cold * (constant + temperature) - constant


def star_phases(ab: Number, bc: Number, ca: Number) -> tuple[Number, Number, Number]:
    """Phase resistances of a star from its three terminal pairs.

    ab, bc, ca [ohm], each two phases in series. Result [ohm]: A, B, C. Source: arithmetic of series resistances.

    >>> [round(r, 3) for r in star_phases(0.86, 0.84, 0.85)]
    [0.435, 0.425, 0.415]
    """
    half = (ab + bc + ca) / 2.0
    return half - bc, half - ca, half - ab


def delta_pairs(ab: Number, bc: Number, ca: Number) -> tuple[Number, Number, Number]:
    """Terminal pairs of a delta from its three coils: each pair reads one coil beside the two others in series.

    ab, bc, ca [ohm], the coils, `math.inf` = open. Result [ohm]: pairs AB, BC, CA. Source: arithmetic of parallel
    resistances.

    >>> delta_pairs(3.0, 3.0, 3.0), delta_pairs(math.inf, 3.0, 3.0)
    ((2.0, 2.0, 2.0), (6.0, 3.0, 3.0))
    """
    return tuple(
        1.0 / (1.0 / own + 1.0 / (one + other)) for own, one, other in ((ab, bc, ca), (bc, ca, ab), (ca, ab, bc))
    )


def delta_coils(ab: Number, bc: Number, ca: Number) -> tuple[Number, Number, Number]:
    """Coil resistances of a delta from its three terminal pairs.

    ab, bc, ca [ohm], as read at the terminals, finite. Result [ohm]: coils AB, BC, CA; `inf` = open coil.
    Source: star–delta transformation of the star that reads the same pairs.

    >>> [round(float(r), 9) for r in delta_coils(2.0, 2.0, 2.0)], float(delta_coils(6.0, 3.0, 3.0)[0])
    ([3.0, 3.0, 3.0], inf)
    """
    a, b, c = star_phases(ab, bc, ca)
    total = a * b + b * c + c * a
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.divide(total, c), np.divide(total, a), np.divide(total, b)


def start_to_run(common_start: Number, common_run: Number) -> Number:
    """What start to run should read on a single-phase motor.

    common_start, common_run [ohm]. Result [ohm]. Source: arithmetic of series resistances.

    >>> start_to_run(3.0, 1.5)
    4.5
    """
    return common_start + common_run


def insulation_at_40(
    resistance: Number, temperature: Number, rule: Literal["thermosetting", "halving"] = "thermosetting"
) -> Number:
    """Insulation resistance carried to 40 degC.

    resistance [Mohm]; temperature [degC], of the winding, 10..85 for `thermosetting`; rule: enamelled, varnished
    windings are thermosetting, halving is the older rule. Result [Mohm]. Raises ValueError outside that range.
    Source: IEEE Std 43-2013, 6.3 (formulas from memory).

    >>> round(insulation_at_40(10.0, 20.0), 4), insulation_at_40(10.0, 20.0, "halving")
    (7.6223, 2.5)
    """
    if rule == "halving":
        return resistance * 0.5 ** ((40.0 - temperature) / 10.0)
    if not np.all(correctable(temperature)):
        raise ValueError(f"{temperature} degC is outside 10 to 85 degC, where IEEE 43 gives the correction")
    change = 1.0 / (temperature + 273.0) - 1.0 / 313.0
    if isinstance(change, float):
        return resistance * math.exp((-1245.0 if temperature <= 40.0 else -4230.0) * change)
    return resistance * np.exp(np.where(temperature <= 40.0, -1245.0, -4230.0) * change)


def correctable(temperature: Number) -> Number:
    """Whether insulation can be carried to 40 degC from here; 50 degF is 10 degC, whatever the arithmetic rounds.

    temperature [degC]. Result [truth]. Source: IEEE Std 43-2013, 6.3: 10 to 85 degC (from memory).

    >>> correctable(10.0), correctable(9.0)
    (True, False)
    """
    return (temperature >= 10.0 - 1e-9) & (temperature <= 85.0 + 1e-9)


def insulation_minimum(winding: Literal["random", "form", "old"], kilovolt: float) -> float:
    """Least insulation resistance at 40 degC after one minute.

    winding: random = random-wound (and form-wound below 1 kV), form = form-wound made after about 1970, old = made
    before; kilovolt [kV], rated, above 0. Result [Mohm]. Source: IEEE Std 43-2013, table 3 (from memory).

    >>> insulation_minimum("random", 0.4), round(insulation_minimum("old", 0.48), 2)
    (5.0, 1.48)
    """
    if winding == "old":
        return kilovolt + 1.0
    return 5.0 if winding == "random" or kilovolt < 1.0 else 100.0


def ptc_limits(offset: float, in_series: int = 1) -> tuple[float | None, float | None]:
    """Permitted resistance of a motor sensor (PTC) or of a chain of them, measured with 2.5 V at most.

    offset [K], from the nominal temperature: -20 and colder, -5, 5 or 15; in_series [1]. Result [ohm]: low, high;
    None = no limit. Raises ValueError at other offsets. Source: DIN 44081 and 44082, as printed in a public data
    sheet; a chain is a multiple.

    >>> ptc_limits(-30), ptc_limits(15, in_series=3)
    ((None, 250.0), (12000.0, None))
    """
    key = "cold" if offset <= -20 else offset
    if key not in PTC_LIMITS:
        raise ValueError(f"no limit is stated at {offset:g} K from nominal; stated are -20 and colder, -5, 5 and 15")
    low, high = PTC_LIMITS[key]
    return None if low is None else low * in_series, None if high is None else high * in_series


def ptc_state(resistance: float) -> Literal["short", "reset", "undefined", "tripped"]:
    """What a type A control unit does at this resistance of its sensor chain.

    resistance [ohm], 0 or more. Result: a word; below 20 a short is reported, to 750 it is reset, from 4000 it has
    tripped, between it may be either. Source: IEC 60947-8, type A (from memory).

    >>> ptc_state(12.0), ptc_state(300.0), ptc_state(4500.0)
    ('short', 'reset', 'tripped')
    """
    if resistance < 20.0:
        return "short"
    if resistance <= 750.0:
        return "reset"
    return "tripped" if resistance >= 4000.0 else "undefined"


def heater_resistance(voltage: Number, power: Number) -> Number:
    """Cold resistance of a plain resistance heater from its rating; not of self-regulating ones.

    voltage [V]; power [W], above 0. Result [ohm]. Source: arithmetic, V²/P.

    >>> heater_resistance(230.0, 100.0)
    529.0
    """
    return voltage * voltage / power
