"""Oil of one record against its limits: net pressure, charge, acid, moisture, sump."""

from collections.abc import Callable

from stripdown.bench import lubrication as bench
from stripdown.bench.measurement import combined, rectangular
from stripdown.limits.context import Context, oil_kind
from stripdown.limits.model import Corrected, Judged
from stripdown.limits.verdict import judged_value, unjudged
from stripdown.record.model import Reading

_WRONG_PORT = 6.894757
"""Half-width [kPa] added where the suction port stands in for the crankcase: 1 psi (estimate)."""


def pump_pressure(ctx: Context, r: Reading) -> list[Judged]:
    """Net oil pressure: the pump's outlet less the crankcase of the same moment, or less what the suction port says
    of it."""
    net = _net(ctx, r)
    if net is None:
        return [
            unjudged(r, "net oil pressure needs the crankcase's pressure at the same moment", corrected=ctx.as_read(r))
        ]
    corrected, remarks = net
    remarks = [*remarks, *_state(corrected.value)]
    limit = ctx.limit("net_oil_pressure")
    return [judged_value(r, limit, corrected.value, corrected.uncertainty, corrected=corrected, remarks=remarks)]


def _net(ctx: Context, r: Reading) -> tuple[Corrected, list[str]] | None:
    crankcase = ctx.beside(r, "crankcase_pressure")
    other = crankcase or ctx.beside(r, "suction_pressure")
    if other is None:
        return None
    (pump, own), (below, theirs) = _on_one_scale(ctx, r, other)
    remarks = [ctx.accuracy_remark(r, other)]
    spread = combined(own, theirs)
    if crankcase is not None:
        value = bench.net_oil_pressure(pump, below)
        return Corrected(value, "kPa", float(spread), ("less crankcase pressure",)), remarks
    drops = ctx.unit.cooling != "air"
    below = bench.crankcase_from_suction(below) if drops else below
    spread = combined(spread, rectangular(_WRONG_PORT))
    named = "less suction pressure, taken 2 psi down to the crankcase" if drops else "less suction pressure"
    remarks.append("Crankcase pressure was not read: the suction port stands in for it, with a wider uncertainty.")
    return Corrected(bench.net_oil_pressure(pump, below), "kPa", float(spread), (named,)), remarks


def _on_one_scale(ctx: Context, a: Reading, b: Reading) -> tuple[tuple[float, float], tuple[float, float]]:
    """Two pressures with their uncertainties: as they stand where both are gauge or both absolute, else absolute."""
    if a.absolute == b.absolute:
        return (float(a.base or 0.0), ctx.uncertainty(a)), (float(b.base or 0.0), ctx.uncertainty(b))
    return ctx.absolute(a), ctx.absolute(b)


def _state(net: float) -> list[str]:
    """What stands at this net pressure."""
    if net < bench.TRIP[1]:
        return ["At or below 7 to 9 psi oil protection trips."]
    return ["Near the pump's by-pass: cold oil reads high."] if net > bench.BYPASS else []


def crankcase_pressure(ctx: Context, r: Reading) -> list[Judged]:
    """Used for the net oil pressure."""
    return [unjudged(r, "used for the net oil pressure, no limit of its own", corrected=ctx.as_read(r))]


def net_pressure(ctx: Context, r: Reading) -> list[Judged]:
    """Net pressure read directly: judged, or compared where both ends were read too."""
    assert r.base is not None
    corrected, remarks = ctx.as_read(r), [ctx.accuracy_remark(r)]
    pump = ctx.beside(r, "oil_pump_pressure")
    if pump is not None and ctx.beside(r, "crankcase_pressure") is not None:
        net = _net(ctx, pump)
        assert net is not None
        said = compare(ctx, r, net[0], "net oil pressure from both ends")
        return [unjudged(r, "both ends were read too: those count", corrected=corrected, remarks=[said])]
    remarks += _state(r.base)
    limit = ctx.limit("net_oil_pressure")
    return [judged_value(r, limit, r.base, corrected.uncertainty, corrected=corrected, remarks=remarks)]


def compare(ctx: Context, r: Reading, derived: Corrected, what: str) -> str:
    """How a directly read value goes with the derived one; a disagreement is a notice too."""
    assert r.base is not None
    difference = r.base - derived.value
    spread = 2.0 * float(combined(ctx.uncertainty(r), derived.uncertainty))
    said = f"Differs by {difference:+.3g} {r.base_unit} from the {what}, {derived.value:.4g} {r.base_unit}"
    if abs(difference) <= spread:
        return f"{said}: within what both instruments allow."
    ctx.notice(
        r.entry, f"{r.quantity} {r.value} {r.unit} does not agree with the {what}", "check instrument, ports and moment"
    )
    return f"{said}: more than both instruments allow."


def oil_drained(ctx: Context, r: Reading) -> list[Judged]:
    """What came out, as a share of the sheet's charge."""
    assert r.base is not None
    corrected, charge = ctx.as_read(r), ctx.sheet.machine.oil_charge
    if charge is None:
        return [unjudged(r, "the sheet of this model states no oil charge", corrected=corrected)]
    share, spread = bench.oil_charge(r.base, charge), bench.oil_charge(corrected.uncertainty, charge)
    remarks = [ctx.accuracy_remark(r), "Diluted oil drains more, spilt or carried-over oil less than there was."]
    return [judged_value(r, ctx.limit("oil_charge"), share, spread, corrected=corrected, remarks=remarks)]


def acid(ctx: Context, r: Reading) -> list[Judged]:
    """Acid number, above that of fresh oil where it is known."""
    assert r.base is not None
    fresh, own = ctx.sheet.machine.fresh_acid, ctx.uncertainty(r)
    corrected = Corrected(r.base, r.base_unit, own)
    if fresh is not None:
        corrected = Corrected(bench.acid_rise(r.base, fresh), r.base_unit, own, ("less that of fresh oil",))
    limit = ctx.limit("oil_acid")
    return [judged_value(r, limit, corrected.value, own, corrected=corrected, remarks=[ctx.accuracy_remark(r)])]


def moisture(ctx: Context, r: Reading) -> list[Judged]:
    """Water in the oil, by the kind of oil."""
    assert r.base is not None
    corrected = ctx.as_read(r)
    silent = "no limit known for this oil" if ctx.unit.oil else "the record names no oil, and the limit depends on it"
    if oil_kind(ctx.unit.oil) is None:
        ctx.notice("unit.oil", "does not say POE or mineral: the oil's moisture is not judged", 'write it, as "POE 32"')
    limit, remarks = ctx.limit("oil_moisture"), [ctx.accuracy_remark(r)]
    return [judged_value(r, limit, r.base, corrected.uncertainty, corrected=corrected, remarks=remarks, silent=silent)]


RULES: dict[str, Callable[[Context, Reading], list[Judged]]] = {
    "oil_pump_pressure": pump_pressure,
    "crankcase_pressure": crankcase_pressure,
    "net_oil_pressure": net_pressure,
    "oil_drained": oil_drained,
    "oil_acid_number": acid,
    "oil_moisture": moisture,
}
"""Quantity → what judges it."""
