"""Windings, insulation, sensors and heater of one record against their limits."""

from collections.abc import Callable
from dataclasses import replace

from stripdown.bench import electrical as bench
from stripdown.bench.measurement import combined, rectangular
from stripdown.limits.context import Context
from stripdown.limits.model import Corrected, Judged, Tier
from stripdown.limits.sheet import Limit
from stripdown.limits.verdict import judged_by_meaning, judged_value, tier_of, unjudged
from stripdown.record.model import Reading
from stripdown.record.schema import SINGLE_PAIRS, STAR_PAIRS

_THERMOMETER = 1.0
"""Half-width [K] of the temperature written beside a winding (estimate)."""
_UNKNOWN_COPPER = 10.0 / (bench.COPPER + 20.0)
"""Half-width [1] of a resistance whose temperature is not stated: 20 degC give or take 10 K (estimate)."""
_UNKNOWN_INSULATION = 0.35
"""Half-width [1] of an insulation value whose temperature is not stated: 10 to 40 degC (IEEE 43 factors 0.66 to 1)."""
_EARTHED, _GOOD = 1e6, 5e6
_INTERRUPTED = 20.0
"""Times the least of three coils from which on one counts as open (estimate)."""
_TEST_VOLTAGE = 500.0
"""Direct voltage [V] for windings below 1 kV: IEEE Std 43-2013, table 1 (from memory)."""
_SENSOR_RULE = (
    "What may be done about a failed sensor is for the maker's written instructions for that motor to say; "
    "never run with a protection removed, bridged or set wide."
)
_BAD_AT_BOTH = "an open or shorted {} is bad, whatever the limit"


def winding(ctx: Context, r: Reading) -> list[Judged]:
    """Balance within the half, and each pair against the model's own value at 20 degC."""
    if r.base is None:
        return [judged_by_meaning(r, "winding_balance", False, _BAD_AT_BOTH.format("winding"), [_plate_remark(ctx, r)])]
    corrected, remarks = _copper(ctx, r, 25.0)
    remarks = [*remarks, ctx.accuracy_remark(r)]
    out = []
    balance = _balance(ctx, r, corrected, remarks)
    if balance is not None:
        out.append(balance)
    value = _winding_value(ctx, r, remarks)
    if value is not None:
        out.append(value)
    if out:
        return out
    why = (
        "start, run and common are not equal by design"
        if _single(r)
        else "no second pair of this half to compare, no sheet value"
    )
    return [unjudged(r, why, corrected=corrected, remarks=[*remarks, _series_remark(ctx, r)])]


def _copper(ctx: Context, r: Reading, wanted: float) -> tuple[Corrected, list[str]]:
    """A winding's resistance at `wanted` [degC], or as it is where its temperature is not stated."""
    assert r.base is not None
    own = ctx.uncertainty(r)
    if r.temperature is None:
        ctx.notice(
            f"{r.entry}.temperature",
            "is missing: the resistance is not corrected and its uncertainty is wider",
            "state the temperature of the winding in degC",
        )
        spread = combined(own, rectangular(r.base * _UNKNOWN_COPPER))
        return Corrected(r.base, "ohm", float(spread)), ["Temperature not stated: no correction, wider uncertainty."]
    factor = bench.at_temperature(1.0, r.temperature, wanted)
    spread = combined(own * factor, rectangular(r.base * factor * _THERMOMETER / (bench.COPPER + r.temperature)))
    return Corrected(r.base * factor, "ohm", float(spread), (f"copper to {wanted:g} degC",)), []


def _half(between: str | None) -> str:
    """Which of two part windings: '1', '2' or '' for an undivided one."""
    return between[0] if between and between[0].isdigit() else ""


def _single(r: Reading) -> bool:
    """Whether the pair belongs to a single-phase motor."""
    return bool(r.between) and set(str(r.between)) <= set("SRC-")


def _balance(ctx: Context, r: Reading, corrected: Corrected, remarks: list[str]) -> Judged | None:
    peers = [
        p
        for p in ctx.together(r, r.quantity)
        if p.base is not None and p.at == r.at and _half(p.between) == _half(r.between)
    ]
    if _single(r) or len({p.between for p in peers}) < 2:
        return None
    even = all(p.temperature is not None for p in peers)
    factors = [bench.at_temperature(1.0, p.temperature, 25.0) if even else 1.0 for p in peers]
    among = ctx.compared(peers, factors)
    if among is None:
        return judged_by_meaning(r, "winding_balance", False, _BAD_AT_BOTH.format("winding"), remarks)
    n = peers.index(r)
    deviation, spread = among.deviations[n], among.uncertainties[n]
    if len({p.between for p in peers}) < 3:
        remarks = [*remarks, "Only two of three pairs were read."]
    limit = ctx.limit("winding_balance", r.between)
    if limit is not None and tier_of(deviation, limit) in ("limit", "danger"):
        remarks = [*remarks, _phase_remark(ctx, peers, among.values)]
    return judged_value(r, limit, deviation, spread, corrected=corrected, remarks=remarks)


def _phase_remark(ctx: Context, peers: list[Reading], values: list[float]) -> str:
    """What single phases or coils the three pairs come to, once a pair is off."""
    by_pair = {p.between: v for p, v in zip(peers, values, strict=True)}
    turn = {"star": bench.star_phases, "delta": bench.delta_coils}.get(ctx.unit.motor or "")
    if turn is None or len(peers) != 3 or set(by_pair) != set(STAR_PAIRS):
        return ""
    parts = turn(*(by_pair[pair] for pair in STAR_PAIRS))
    names = ("U", "V", "W") if ctx.unit.motor == "star" else STAR_PAIRS
    each = ", ".join(f"{name} {_coil(part, parts)}" for name, part in zip(names, parts, strict=True))
    return f"By {'phase' if ctx.unit.motor == 'star' else 'coil'}: {each} ohm."


def _coil(part: float, parts: tuple[float, ...]) -> str:
    """A phase or coil [ohm]; one that is many times the others, or that no number fits, is open."""
    others = [p for p in parts if p > 0]
    return "open" if part <= 0 or part > _INTERRUPTED * min(others, default=part) else f"{part:.3g}"


def _series_remark(ctx: Context, r: Reading) -> str:
    """Single phase: start to run is start and run in series."""
    pairs = {p.between: p for p in ctx.together(r, r.quantity) if p.base is not None and p.at == r.at}
    if r.between != "S-R" or not set(SINGLE_PAIRS) <= set(pairs):
        return ""
    sum_of = bench.start_to_run(pairs["C-S"].base, pairs["C-R"].base)
    spread = 2.0 * float(combined(*(ctx.uncertainty(pairs[p]) for p in SINGLE_PAIRS)))
    if abs(float(r.base or 0.0) - sum_of) <= spread:
        return ""
    return f"Start to run should read start and run in series, {sum_of:.3g} ohm: a lead or a reading is wrong."


def _winding_value(ctx: Context, r: Reading, remarks: list[str]) -> Judged | None:
    limit = ctx.limit("winding_value", r.between)
    if limit is None or ctx.unit.motor != ctx.sheet.machine.motor:
        return None
    at_20, _ = _copper(ctx, r, 20.0)
    return judged_value(r, limit, at_20.value, at_20.uncertainty, corrected=at_20, remarks=remarks)


def insulation(ctx: Context, r: Reading) -> list[Judged]:
    """R40 by the thermosetting formula against the minimum; the halving rule stands beside it."""
    limit = _minimum(ctx, r)
    remarks = [_earth_remark(ctx, r), _plate_remark(ctx, r), _voltage_remark(ctx, r)]
    if r.base is None:
        good = r.value == "open"
        source = "over range is good" if good else "earthed: the meter's floor is below any minimum"
        return [judged_by_meaning(r, "insulation_minimum", good, source, remarks)]
    corrected, said = _at_40(ctx, r)
    remarks += [*said, ctx.accuracy_remark(r)]
    if corrected.value < _GOOD / 1e6:
        remarks.append("Below 5 Mohm repeat after the crankcase was warmed by its own heater, never by a flame.")
    return [judged_value(r, limit, corrected.value, corrected.uncertainty, corrected=corrected, remarks=remarks)]


def _minimum(ctx: Context, r: Reading) -> Limit | None:
    """The least insulation: the sheet's, else the class's, which from 1 kV of the plate is that of form-wound coils."""
    limit, volts = ctx.limit("insulation_minimum", r.between), ctx.unit.plate.voltage
    if limit is None or not limit.is_class or volts is None or volts < 1000.0:
        return limit
    least = bench.insulation_minimum("form", volts / 1000.0)
    source = f"class limit: IEEE 43-2013, form-wound at {volts / 1000.0:g} kV, at 40 degC"
    return replace(limit, tiers=(Tier("limit", least, None),), doubtful=(None, None), source=source)


def _voltage_remark(ctx: Context, r: Reading) -> str:
    """A test at another voltage than the standard takes for this winding."""
    volts = ctx.unit.plate.voltage
    if r.test_voltage in (None, _TEST_VOLTAGE) or (volts is not None and volts >= 1000.0):
        return ""
    return f"Tested with {r.test_voltage:g} V; IEEE 43 takes 500 V d.c. below 1 kV."


def _at_40(ctx: Context, r: Reading) -> tuple[Corrected, list[str]]:
    assert r.base is not None
    megohm, own = r.base / 1e6, ctx.uncertainty(r) / 1e6
    t = r.temperature
    if t is None or not bench.correctable(t):
        ctx.notice(
            f"{r.entry}.temperature",
            "is missing" if t is None else f"{t:g} degC is outside 10 to 85 degC, where IEEE 43 gives the correction",
            "state the temperature of the winding in degC: without it there is no correction and more uncertainty",
        )
        spread = combined(own, rectangular(megohm * _UNKNOWN_INSULATION))
        return Corrected(megohm, "Mohm", float(spread)), [
            "No correction to 40 degC for want of a usable temperature: wider uncertainty."
        ]
    factor = bench.insulation_at_40(1.0, t)
    per_kelvin = (1245.0 if t <= 40.0 else 4230.0) / (t + 273.0) ** 2
    spread = combined(own * factor, rectangular(megohm * factor * per_kelvin * _THERMOMETER))
    halving = bench.insulation_at_40(megohm, t, "halving")
    remark = f"Corrected by IEEE 43 for thermosetting insulation; the halving rule would give {halving:.3g} Mohm."
    return Corrected(megohm * factor, "Mohm", float(spread), ("thermosetting to 40 degC",)), [remark]


def _ohms(r: Reading) -> float:
    """A resistance with "open" and "short" as numbers."""
    if r.base is None:
        return float("inf") if r.value == "open" else 0.0
    return r.base


def _earth_remark(ctx: Context, r: Reading) -> str:
    """One phase earthed and another good: joined phases cannot do that."""
    if r.between not in ("U-frame", "V-frame", "W-frame"):
        return ""
    phases = [p for p in ctx.together(r, r.quantity) if p.at == r.at and p.between in ("U-frame", "V-frame", "W-frame")]
    values = [_ohms(p) for p in phases]
    if min(values) < _EARTHED and max(values) >= _GOOD:
        return (
            "One phase is earthed and another is not: the phases of a closed star or delta are joined, "
            "so leads have parted, a star point has opened or a winding has burnt through."
        )
    return ""


def _plate_remark(ctx: Context, r: Reading) -> str:
    """Bad at the terminals and good at the leads: the plate, not the winding."""
    if r.at is None:
        return ""
    other = "leads" if r.at == "terminals" else "terminals"
    across = [p for p in ctx.record.readings if p.quantity == r.quantity and p.between == r.between and p.at == other]
    at = {r.at: _ohms(r), other: min((_ohms(p) for p in across), default=None)}
    terminals, leads = at["terminals"], at["leads"]
    if terminals is None or leads is None:
        return ""
    if r.quantity == "insulation_resistance":
        plate = terminals < _EARTHED and leads >= _GOOD
    else:
        plate = terminals == float("inf") and 0.0 < leads < float("inf")
    return (
        "Bad at the terminals, good at the leads: the fault is in the terminal plate, not in the winding."
        if plate
        else ""
    )


def sensor(ctx: Context, r: Reading) -> list[Judged]:
    """A sensor's value against its generation's, and motor sensors among themselves."""
    if r.base is None:
        return [judged_by_meaning(r, "sensor_value", False, _BAD_AT_BOTH.format("sensor"), [_SENSOR_RULE])]
    corrected = ctx.as_read(r)
    remarks = [ctx.accuracy_remark(r), "A cold value in range never proves a sensor good at temperature."]
    if str(r.between).startswith("common") and bench.ptc_state(r.base) == "tripped":
        remarks.append("From 4000 ohm a type A control unit has tripped: was the motor still hot?")
    out = []
    limit = ctx.limit("sensor_value", r.between)
    if limit is not None:
        out.append(judged_value(r, limit, r.base, corrected.uncertainty, corrected=corrected, remarks=remarks))
    motor = [p for p in ctx.together(r, r.quantity) if p.base is not None and str(p.between).startswith("common")]
    among = ctx.compared(motor) if r in motor and len({p.between for p in motor}) > 1 else None
    if among is not None:
        n = motor.index(r)
        deviation, spread = among.deviations[n], among.uncertainties[n]
        out.append(judged_value(r, ctx.limit("sensor_equality"), deviation, spread, corrected=corrected))
    return out or [unjudged(r, "no value of this sensor known", corrected=corrected, remarks=remarks)]


def heater(ctx: Context, r: Reading) -> list[Judged]:
    """The crankcase heater against its rating."""
    if r.base is None:
        return [judged_by_meaning(r, "heater_resistance", False, _BAD_AT_BOTH.format("heater"))]
    corrected = ctx.as_read(r)
    silent = "no rating of this heater known: only open and short are bad"
    return [
        judged_value(
            r,
            ctx.limit("heater_resistance"),
            r.base,
            corrected.uncertainty,
            corrected=corrected,
            remarks=[ctx.accuracy_remark(r)],
            silent=silent,
        )
    ]


RULES: dict[str, Callable[[Context, Reading], list[Judged]]] = {
    "winding_resistance": winding,
    "insulation_resistance": insulation,
    "sensor_resistance": sensor,
    "heater_resistance": heater,
}
"""Quantity → what judges it."""
