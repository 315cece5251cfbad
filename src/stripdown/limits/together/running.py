"""Pressures and temperatures of one moment that no machine shows together.

A running machine discharges above its suction; a vacuum is no deeper than the air; heat leaves a condenser only
towards what is colder; and refrigerant that leaves a compressor as gas, or as gas with liquid in it, is no colder
than the boiling point at its pressure.
"""

from collections.abc import Iterator

from stripdown.bench import refrigerant as bench
from stripdown.bench.fluid import Fluid, OutsideTableError, UnsupportedRefrigerantError
from stripdown.bench.lubrication import TRIP
from stripdown.bench.measurement import combined
from stripdown.limits.context import Context
from stripdown.limits.together.model import COVERAGE, Facts, Found, found
from stripdown.record.model import Observation, Reading

_SWAY = 20.0
"""Pressure [kPa] by which suction and discharge may differ by the way to the gauges (estimate)."""
_BELOW_NOTHING = 10.0
"""Net oil pressure [kPa] that is clearly negative beyond its uncertainty (estimate)."""
_RUNS = 1.5
"""Compression ratio from which on a machine runs, or has just run (estimate)."""
_DRAWN = 1.0
"""Current [A] that no heater or controller explains (estimate)."""
_PIPE = 5.0
"""What a pipe's skin may be colder than its gas [K], beyond the probe (estimate)."""
_FAR = 10.0
"""Beyond this [K] a badly placed probe no longer explains it (estimate)."""
_OTHER_AIR, _FAR_BELOW = 5.0, 15.0
"""By how much the air at the condenser may differ from the air that was read, and when it is told as impossible [K]
(estimates)."""
_DRY = 5.0
"""Superheat [K] of gas that carries no liquid (common practice)."""
_WORST = 0.45
"""Isentropic efficiency below which no machine that is tight inside runs at a ratio of up to `_HIGH` (estimate)."""
_HIGH = 10.0
_MOTOR_HEAT = {"refrigerant": 40.0, "air": 10.0, None: 40.0}
"""What motor and body may add to the gas [K], by what cools them (estimate)."""
_TIGHT = ("suction_reed.broken", "discharge_valve.broken", "head_gasket.blown")
_RELIEF = ("relief_valve.leaking", "relief_valve.lifted")
_PUMP_TESTS = 2
_LEAKS = (
    *(*_TIGHT, *_RELIEF, "suction_reed.bent", "discharge_valve.bent", "discharge_valve.displaced", "unloader.stuck"),
    *("valve_plate.cracked", "head_gasket.cracked", "piston.holed", "piston.broken", "piston_rings.broken"),
)
"""What lets gas back inside, to be compressed and heated again."""
_HINDERED = (
    *("condenser.fouled", "condenser.fan_failed", "charge.over"),
    *("discharge_side.non_condensables", "discharge_side.restricted", "discharge_side.valve_closed"),
)
"""What raises the condensing temperature; one of them may be of another day, two are the state of this condenser."""


def oil_ends(f: Facts, r: Reading) -> list[Reading]:
    """What the net oil pressure at the moment of `r` was read from: pump and crankcase, or an instrument that shows
    it; never the suction port. Empty = neither."""
    pump, below = f.ctx.beside(r, "oil_pump_pressure"), f.ctx.beside(r, "crankcase_pressure")
    if pump is not None and below is not None:
        return [pump, below]
    direct = f.ctx.beside(r, "net_oil_pressure")
    return [] if direct is None else [direct]


def net_pressure(f: Facts, r: Reading) -> float | None:
    """Net oil pressure [kPa] at the moment of `r`; None = not read."""
    ends = oil_ends(f, r)
    if len(ends) < 2:
        return float(ends[0].base or 0.0) if ends else None
    pump, below = ends
    if pump.absolute == below.absolute:
        return float(pump.base or 0.0) - float(below.base or 0.0)
    return f.ctx.absolute(pump)[0] - f.ctx.absolute(below)[0]


def runs(f: Facts, r: Reading) -> list[Reading]:
    """Readings of the moment of `r` that only a running machine gives: current, oil pressure."""
    net = net_pressure(f, r)
    oil = oil_ends(f, r) if net is not None and net >= TRIP[1] else []
    return oil + [c for c in f.ctx.together(r, "running_current") if (c.base or 0.0) > _DRAWN]


def suction_above_discharge(f: Facts) -> Iterator[Found]:
    """Both pressures of one moment: the other way round only where the machine stands."""
    for suction in f.readings("suction_pressure"):
        discharge = f.ctx.beside(suction, "discharge_pressure")
        if discharge is None:
            continue
        (low, own), (high, theirs) = f.ctx.absolute(suction), f.ctx.absolute(discharge)
        if low - high <= COVERAGE * float(combined(own, theirs)) + _SWAY:
            continue
        running = runs(f, suction)
        more = "" if running else ": was it standing, with a condenser colder than the evaporator?"
        yield found(
            f"suction is {low - high:.0f} kPa above discharge{more}", suction, discharge, *running, hard=bool(running)
        )


def vacuum(f: Facts) -> Iterator[Found]:
    """A pull-down that counts from the air, against the air at the stated altitude."""
    altitude = f.ctx.record.history.altitude
    for r in f.readings("vacuum_pull_down"):
        if altitude is None or r.absolute or r.base is None:
            continue
        depth = float(bench.atmosphere(0.0)) - r.base
        if depth > f.ctx.air + f.margin(r):
            air = f"the air has only {f.ctx.air:.1f} kPa at {altitude:g} m"
            yield found(
                f"{depth:.1f} kPa below the air, and {air}: was it pulled down elsewhere?",
                r,
                hard=False,
                beside={"history.altitude": f"altitude {altitude:g} m"},
            )


def oil_pressure(f: Facts) -> Iterator[Found]:
    """Net oil pressure clearly below nothing."""
    told: set[str] = set()
    for r in f.readings("oil_pump_pressure", "net_oil_pressure"):
        value, ends = net_pressure(f, r), oil_ends(f, r)
        if value is None or ends[0].entry in told:
            continue
        told.add(ends[0].entry)
        if value < -f.margin(*ends) - _BELOW_NOTHING:
            yield found(f"net oil pressure is {value:.0f} kPa, below nothing: gauges exchanged?", *ends, hard=False)


def condensing(f: Facts) -> Iterator[Found]:
    """Condensing temperature against the air: impossible where the condenser is found hindered in two ways."""
    for r in f.readings("discharge_pressure"):
        air = f.ctx.beside(r, "ambient_temperature")
        state = None if air is None else _saturated(f.ctx, r, "dew")
        if air is None or state is None or not _compresses(f.ctx, r):
            continue
        below = float(air.base or 0.0) - state[0] - _spread(f, air, state[1])
        if below <= _OTHER_AIR:
            continue
        hindered = f.there(*_HINDERED, heavy=True)
        what = f"it condenses at {state[0]:.0f} degC in air of {air.base:.0f} degC"
        more = "" if hindered else ": is the condenser in other air, or cooled by water?"
        yield found(what + more, r, air, *hindered, hard=len(hindered) > 1 and below > _FAR_BELOW)


def discharge_gas(f: Facts) -> Iterator[Found]:
    """Discharge gas against the boiling point at its pressure, and against the gas that was drawn in."""
    for r in f.readings("discharge_line_temperature"):
        pressure = f.ctx.beside(r, "discharge_pressure")
        if pressure is None or not _compresses(f.ctx, pressure):
            continue
        suction, gas = f.ctx.beside(r, "suction_pressure"), f.ctx.beside(r, "suction_gas_temperature")
        state = _saturated(f.ctx, pressure, "bubble")
        mixed = bool(f.there("discharge_side.non_condensables"))
        if state is not None and suction is not None:
            below = state[0] - float(r.base or 0.0) - _spread(f, r, state[1])
            if below > _PIPE:
                dry = _dry(f.ctx, r, suction, gas)
                what = (
                    f"gas leaves at {r.base:.0f} degC, below the {state[0]:.0f} degC at which it boils at its pressure"
                )
                yield found(what, r, pressure, suction, *dry, hard=bool(dry) and below > _FAR and not mixed)
                continue
        if gas is not None and suction is not None:
            colder = float(gas.base or 0.0) - float(r.base or 0.0) - f.margin(gas, r)
            if colder > _PIPE:
                what = f"gas leaves at {r.base:.0f} degC and came in at {gas.base:.0f} degC: lines or probes exchanged?"
                yield found(what, r, gas, hard=False)


def too_hot(f: Facts) -> Iterator[Found]:
    """Discharge gas of a wet suction hotter than the worst compression and the motor make it. Impossible only where
    nothing lets it back inside, to be heated again; told where that is not known."""
    if f.there(*_LEAKS) or f.ctx.beyond_class():
        return
    for r in f.readings("discharge_line_temperature"):
        pressure, suction = f.ctx.beside(r, "discharge_pressure"), f.ctx.beside(r, "suction_pressure")
        if pressure is None or suction is None or not _compresses(f.ctx, pressure):
            continue
        wet = _wet(f.ctx, r, suction)
        most = None if wet is None else _hottest(f, wet[1], suction, pressure)
        if wet is None or most is None or float(r.base or 0.0) - most - f.margin(r) <= _PIPE:
            continue
        tight = _tight_inside(f)
        sound = bool(tight) and f.ctx.unit.cooling is not None and f.ctx.unit.inverter is not True
        what = f"gas drawn in wet leaves at {r.base:.0f} degC, and at these pressures at most at {most:.0f} degC"
        more = "" if sound else ": does gas leak back inside, or were they read at different moments?"
        yield found(what + more, r, pressure, suction, wet[0], *(tight if sound else []), hard=sound)


def _tight_inside(f: Facts) -> list[Reading | Observation]:
    """The entries that say no gas gets back inside: valves, gasket and relief valve looked at and sound, or a machine
    that on the bench pulls down and holds; empty = not known."""
    held: list[Reading | Observation] = []
    for quantity, rule in (("vacuum_pull_down", "pull_down"), ("leak_back_rate", "leak_back")):
        verdicts = [(r, f.verdict(r, rule)) for r in f.on_bench(quantity)]
        held += [r for r, judged in verdicts if judged is not None and judged.verdict == "within"][:1]
    if len(held) == _PUMP_TESTS:
        return held
    looked, relief = [f.sound(x) for x in _TIGHT], [o for x in _RELIEF for o in f.sound(x)]
    return [*(o for some in looked for o in some), *relief] if all(looked) and relief else []


def _wet(ctx: Context, r: Reading, suction: Reading) -> tuple[Reading, float] | None:
    """The reading that says the gas drawn in was wet or nearly so, and its largest temperature [degC]; None where
    none says it, or one denies it."""
    dew = _saturated(ctx, suction, "dew")
    gas, direct = ctx.beside(r, "suction_gas_temperature"), ctx.beside(r, "superheat")
    above = [] if gas is None or dew is None else [(float(gas.base or 0.0) - dew[0], gas)]
    above += [] if direct is None else [(float(direct.base or 0.0), direct)]
    if dew is None or not above:
        return None
    most, read = max(above, key=lambda x: x[0])
    return None if most > _DRY else (read, dew[0] + max(most, 0.0) + COVERAGE * ctx.uncertainty(read))


def _hottest(f: Facts, drawn: float, suction: Reading, discharge: Reading) -> float | None:
    """Largest temperature [degC] of gas drawn in at this one, compressed between these pressures without a leak inside;
    None where it is not known."""
    (low, own), (high, theirs) = f.ctx.absolute(suction), f.ctx.absolute(discharge)
    low, high = low - COVERAGE * own, high + COVERAGE * theirs
    if low <= 0.0 or high > _HIGH * low or f.ctx.fluid is None:
        return None
    try:
        left = float(bench.discharge_temperature(f.ctx.fluid, low, drawn, high, _WORST))
    except OutsideTableError:
        return None
    return left + _MOTOR_HEAT[f.ctx.unit.cooling]


def suction_gas(f: Facts) -> Iterator[Found]:
    """Gas drawn in, or leaving the evaporator, against the boiling point at the suction pressure of a running
    machine: even wet gas is no colder. A standing one may be, where refrigerant gathers in it."""
    for r in f.readings("suction_gas_temperature", "evaporator_outlet_temperature"):
        suction, discharge = f.ctx.beside(r, "suction_pressure"), f.ctx.beside(r, "discharge_pressure")
        state = None if suction is None else _saturated(f.ctx, suction, "bubble")
        if suction is None or state is None:
            continue
        below = state[0] - float(r.base or 0.0) - _spread(f, r, state[1])
        running = runs(f, r)
        if not running and discharge is not None and _compresses(f.ctx, discharge):
            running = [discharge]
        if below > _PIPE:
            what = f"it is drawn in at {r.base:.0f} degC, and boils at {state[0]:.0f} degC at its pressure"
            more = "" if running else ": was it standing?"
            yield found(what + more, r, suction, *running, hard=bool(running) and below > _FAR)


def _spread(f: Facts, r: Reading, other: float) -> float:
    """What a temperature and a saturation temperature of this standard uncertainty may differ by chance [K]."""
    return COVERAGE * float(combined(f.ctx.uncertainty(r), other))


def _dry(ctx: Context, r: Reading, suction: Reading, gas: Reading | None) -> list[Reading]:
    """The readings that say the gas drawn in held no liquid; empty = none does."""
    if gas is not None:
        dew = _saturated(ctx, suction, "dew")
        if dew is not None and float(gas.base or 0.0) - dew[0] - COVERAGE * ctx.uncertainty(gas) > _DRY:
            return [gas]
    direct = ctx.beside(r, "superheat")
    return (
        [direct] if direct is not None and float(direct.base or 0.0) - COVERAGE * ctx.uncertainty(direct) > _DRY else []
    )


def _compresses(ctx: Context, discharge: Reading) -> bool:
    """Whether the pressures of this moment stand apart as in a running machine; True where suction was not read but
    the reading is from the running system."""
    suction = ctx.beside(discharge, "suction_pressure")
    if suction is None:
        return discharge.site
    low = ctx.absolute(suction)[0]
    return low > 0.0 and ctx.absolute(discharge)[0] >= _RUNS * low


def _saturated(ctx: Context, r: Reading, line: str) -> tuple[float, float] | None:
    """Saturation temperature of a pressure and its standard uncertainty [degC, K]; None = not known."""
    try:
        fluid: Fluid | None = ctx.fluid
        if fluid is None:
            return None
        at = bench.dew_temperature if line == "dew" else bench.bubble_temperature
        pressure, own = ctx.absolute(r)
        value, above = float(at(fluid, pressure)), float(at(fluid, pressure + own))
    except (UnsupportedRefrigerantError, OutsideTableError):
        return None
    return value, abs(above - value)
