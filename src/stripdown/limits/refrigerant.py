"""Pressures and temperatures of the refrigerant of one record against their limits."""

from collections.abc import Callable

from stripdown.bench import refrigerant as bench
from stripdown.bench.fluid import Fluid, OutsideTableError, UnsupportedRefrigerantError, names
from stripdown.bench.measurement import combined
from stripdown.limits.context import Context
from stripdown.limits.lubrication import compare
from stripdown.limits.model import Corrected, Judged
from stripdown.limits.verdict import judged_value, unjudged
from stripdown.record.model import Reading
from stripdown.record.text import near

_OIL_BREAKS_DOWN = 135.0


def suction_pressure(ctx: Context, r: Reading) -> list[Judged]:
    """Evaporating temperature against the model's envelope."""
    return _envelope(ctx, r, "envelope_evaporating") or [
        _unjudged(ctx, r, "used for superheat and ratio, no limit of its own")
    ]


def discharge_pressure(ctx: Context, r: Reading) -> list[Judged]:
    """Condensing temperature against the model's envelope, and the compression ratio."""
    out = _envelope(ctx, r, "envelope_condensing")
    suction = ctx.beside(r, "suction_pressure")
    if suction is not None:
        out += _ratio(ctx, r, suction)
    return out or [_unjudged(ctx, r, "a ratio needs the suction pressure of the same moment")]


def _ratio(ctx: Context, r: Reading, suction: Reading) -> list[Judged]:
    (high, u_high), (low, u_low) = ctx.absolute(r), ctx.absolute(suction)
    if low <= 0.0:
        ctx.notice(suction.entry, "is a vacuum deeper than the air allows: no ratio", "check the value and its unit")
        return []
    ratio = bench.compression_ratio(high, low)
    spread = ratio * float(combined(u_high / high, u_low / low)) if high > 0 else u_high / low
    corrected = Corrected(ratio, "1", spread, ("absolute discharge over absolute suction",))
    remarks = [ctx.accuracy_remark(r, suction), ctx.air_remark(r, suction)]
    silent = _beyond(ctx, "compression ratio")
    return [
        judged_value(
            r, ctx.limit("compression_ratio"), ratio, spread, corrected=corrected, remarks=remarks, silent=silent
        )
    ]


def _envelope(ctx: Context, r: Reading, rule: str) -> list[Judged]:
    limit = ctx.limit(rule)
    if limit is None:
        return []
    line = "dew"
    state = _saturated(ctx, r, line)
    if state is None:
        return []
    remarks = [ctx.accuracy_remark(r), ctx.air_remark(r)]
    return [judged_value(r, limit, state.value, state.uncertainty, corrected=state, remarks=remarks)]


def _fluid(ctx: Context) -> Fluid | None:
    """The refrigerant, or None with a notice that says what is missing."""
    try:
        fluid = ctx.fluid
    except UnsupportedRefrigerantError as error:
        meant = near(str(ctx.unit.refrigerant), names())
        fix = f"did you mean {meant}?" if meant else f"write one of {', '.join(names())}"
        ctx.notice("unit.refrigerant", f"{str(error).split(';')[0]}: superheat and ratio limits go without it", fix)
        return None
    if fluid is None:
        ctx.notice(
            "unit.refrigerant", "is missing: no superheat or expected temperature", "write the refrigerant, as R449A"
        )
    return fluid


def _saturated(ctx: Context, r: Reading, line: str) -> Corrected | None:
    """Saturation temperature of a pressure [degC]; None with a notice where there is none."""
    fluid = _fluid(ctx)
    if fluid is None:
        return None
    pressure, spread = ctx.absolute(r)
    at = bench.dew_temperature if line == "dew" else bench.bubble_temperature
    try:
        value = float(at(fluid, pressure))
        step = max(pressure * 1e-3, 1e-3)
        slope = (float(at(fluid, pressure - step)) - value) / -step
    except OutsideTableError as error:
        ctx.notice(r.entry, str(error), "check the pressure, its unit and the refrigerant")
        return None
    return Corrected(value, "degC", abs(slope) * spread, (f"{line} temperature of {fluid.name}",))


def _above_dew(ctx: Context, r: Reading, pressure: Reading, what: str) -> Corrected | None:
    """Temperature of `r` above the dew line at `pressure` [K]."""
    dew = _saturated(ctx, pressure, "dew")
    if dew is None:
        return None
    assert r.base is not None
    spread = float(combined(ctx.uncertainty(r), dew.uncertainty))
    return Corrected(r.base - dew.value, "K", spread, (f"{what} above the {dew.corrections[0]}",))


def suction_gas(ctx: Context, r: Reading) -> list[Judged]:
    """Superheat at the compressor, and the gas temperature against the model's largest."""
    assert r.base is not None
    out, limit, remarks = [], ctx.limit("return_gas"), [ctx.accuracy_remark(r)]
    superheat = _superheat(ctx, r)
    if superheat is not None:
        out.append(superheat)
    if limit is not None:
        corrected = ctx.as_read(r)
        out.append(judged_value(r, limit, r.base, corrected.uncertainty, corrected=corrected, remarks=remarks))
    return out or [_unjudged(ctx, r, "superheat needs the suction pressure of the same moment and a known refrigerant")]


def _superheat(ctx: Context, r: Reading) -> Judged | None:
    pressure = ctx.beside(r, "suction_pressure")
    derived = None if pressure is None else _above_dew(ctx, r, pressure, "suction gas")
    if pressure is None or derived is None:
        return None
    remarks = [ctx.accuracy_remark(r, pressure), ctx.air_remark(pressure)]
    limit, silent = ctx.limit("suction_superheat"), _beyond(ctx, "superheat")
    return judged_value(r, limit, derived.value, derived.uncertainty, corrected=derived, remarks=remarks, silent=silent)


def superheat(ctx: Context, r: Reading) -> list[Judged]:
    """Superheat read directly: judged, or compared where both ends were read too."""
    gas, pressure = ctx.beside(r, "suction_gas_temperature"), ctx.beside(r, "suction_pressure")
    derived = None if gas is None or pressure is None else _above_dew(ctx, gas, pressure, "suction gas")
    if derived is not None:
        said = compare(ctx, r, derived, "superheat from both ends")
        return [unjudged(r, "both ends were read too: those count", corrected=ctx.as_read(r), remarks=[said])]
    return _direct(ctx, r, "suction_superheat", _beyond(ctx, "superheat"))


def subcooling(ctx: Context, r: Reading) -> list[Judged]:
    """Subcooling read directly."""
    return _direct(ctx, r, "subcooling", _beyond(ctx, "subcooling"))


def evaporator_outlet(ctx: Context, r: Reading) -> list[Judged]:
    """Superheat at the bulb, with the suction pressure at the compressor for want of one at the evaporator."""
    pressure = ctx.beside(r, "suction_pressure")
    derived = None if pressure is None else _above_dew(ctx, r, pressure, "evaporator outlet")
    if pressure is None or derived is None:
        return [_unjudged(ctx, r, "superheat needs the suction pressure of the same moment and a known refrigerant")]
    remarks = [
        ctx.accuracy_remark(r, pressure),
        "Pressure was read at the compressor: line loss makes the true superheat smaller.",
    ]
    limit, silent = ctx.limit("evaporator_superheat"), _beyond(ctx, "superheat")
    return [
        judged_value(r, limit, derived.value, derived.uncertainty, corrected=derived, remarks=remarks, silent=silent)
    ]


def discharge_line(ctx: Context, r: Reading) -> list[Judged]:
    """The largest temperature allowed, and what the suction state and pressures let expect."""
    assert r.base is not None
    corrected, remarks = ctx.as_read(r), [ctx.accuracy_remark(r)]
    if r.base > _OIL_BREAKS_DOWN:
        remarks.append("Beyond 135 degC the oil breaks down (common practice).")
    silent = _beyond(ctx, "discharge temperature")
    limit = ctx.limit("discharge_temperature")
    out = [judged_value(r, limit, r.base, corrected.uncertainty, corrected=corrected, remarks=remarks, silent=silent)]
    expected = _expected(ctx, r)
    return out if expected is None else [*out, expected]


def _expected(ctx: Context, r: Reading) -> Judged | None:
    """Measured temperature less the band that a sound machine would give: 0 inside it, else the distance from its
    nearer end."""
    gas, suction, discharge = (
        ctx.beside(r, q) for q in ("suction_gas_temperature", "suction_pressure", "discharge_pressure")
    )
    limit = ctx.limit("discharge_against_expected")
    if gas is None or suction is None or discharge is None or limit is None:
        return None
    fluid = _fluid(ctx)
    if fluid is None:
        return None
    assert r.base is not None
    assert gas.base is not None
    low_side, high_side = ctx.absolute(suction)[0], ctx.absolute(discharge)[0]
    try:
        low, high = bench.discharge_band(fluid, low_side, gas.base, high_side)
    except OutsideTableError as error:
        ctx.notice(
            r.entry, f"no temperature to expect: {error}", "check pressures, suction gas temperature and refrigerant"
        )
        return None
    away = r.base - high if r.base > high else min(r.base - low, 0.0)
    spread = float(combined(ctx.uncertainty(r), ctx.uncertainty(gas)))
    corrected = Corrected(away, "K", spread, (f"less the band {low:.0f} to {high:.0f} degC",))
    remarks = [
        f"Expected {low:.0f} to {high:.0f} degC at isentropic efficiencies of 0.75 to 0.55, an estimate.",
        _meaning(away, limit.limits),
    ]
    return judged_value(r, limit, away, spread, corrected=corrected, remarks=remarks)


def _meaning(away: float, limits: tuple[float | None, float | None]) -> str:
    """What a temperature off the expected band says."""
    low, high = limits
    if high is not None and away > high:
        return "Hotter than its pressures explain: gas leaking from high to low side, recirculation, or a hot motor."
    if low is not None and away < low:
        return "Colder than its pressures explain: liquid carried over, or a probe that does not touch."
    return ""


def oil_sump(ctx: Context, r: Reading) -> list[Judged]:
    """Oil above the saturated suction temperature, and below the model's largest."""
    assert r.base is not None
    out, pressure = [], ctx.beside(r, "suction_pressure") or ctx.beside(r, "crankcase_pressure")
    if pressure is not None:
        margin = _above_dew(ctx, r, pressure, "sump oil")
        if margin is not None:
            remarks = [ctx.accuracy_remark(r, pressure), ctx.air_remark(pressure)]
            limit, silent = ctx.limit("sump_margin"), _beyond(ctx, "sump margin")
            out.append(
                judged_value(
                    r, limit, margin.value, margin.uncertainty, corrected=margin, remarks=remarks, silent=silent
                )
            )
    limit = ctx.limit("sump_temperature")
    if limit is not None:
        out += _direct(ctx, r, "sump_temperature", "")
    return out or [_unjudged(ctx, r, "a margin needs the suction pressure of the same moment and a known refrigerant")]


def ambient(ctx: Context, r: Reading) -> list[Judged]:
    """Recorded for the envelope."""
    return [_unjudged(ctx, r, "recorded, no limit of its own")]


def _direct(ctx: Context, r: Reading, rule: str, silent: str) -> list[Judged]:
    assert r.base is not None
    corrected = ctx.as_read(r)
    remarks = [ctx.accuracy_remark(r)]
    return [
        judged_value(
            r, ctx.limit(rule), r.base, corrected.uncertainty, corrected=corrected, remarks=remarks, silent=silent
        )
    ]


def _unjudged(ctx: Context, r: Reading, why: str) -> Judged:
    return unjudged(r, why, corrected=ctx.as_read(r))


def _beyond(ctx: Context, what: str) -> str:
    """Why there is no class limit here."""
    reason = ctx.beyond_class()
    return (
        f"class limits for {what} are for single-stage halocarbon machines ({reason})"
        if reason
        else f"no limit known for {what}"
    )


RULES: dict[str, Callable[[Context, Reading], list[Judged]]] = {
    "suction_pressure": suction_pressure,
    "discharge_pressure": discharge_pressure,
    "suction_gas_temperature": suction_gas,
    "superheat": superheat,
    "subcooling": subcooling,
    "evaporator_outlet_temperature": evaporator_outlet,
    "discharge_line_temperature": discharge_line,
    "oil_sump_temperature": oil_sump,
    "ambient_temperature": ambient,
}
"""Quantity → what judges it."""
