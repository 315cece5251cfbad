"""Supply, current and contactor of one record against their limits."""

from collections.abc import Callable

from stripdown.bench import electrical as bench
from stripdown.bench.measurement import combined
from stripdown.limits.context import Context
from stripdown.limits.model import Corrected, Judged, Tier
from stripdown.limits.sheet import Limit
from stripdown.limits.verdict import judged_value, unjudged
from stripdown.record.model import Reading


def _unbalance(ctx: Context, r: Reading, rule: str) -> Judged | None:
    peers = [p for p in ctx.together(r, r.quantity) if p.base is not None]
    among = ctx.compared(peers) if len({p.between for p in peers}) >= 3 else None
    if among is None:
        return None
    n = peers.index(r)
    corrected = ctx.as_read(r)
    remarks = [ctx.accuracy_remark(r)]
    worst = max(abs(d) for d in among.deviations)
    if rule == "supply_unbalance" and worst > 1.0:
        remarks.append(_heating_remark(worst))
    away, spread = among.deviations[n], among.uncertainties[n]
    return judged_value(r, ctx.limit(rule), away, spread, corrected=corrected, remarks=remarks)


def _heating_remark(percent: float) -> str:
    rise = f"Voltage unbalance {percent:.2g} %: about {bench.extra_heating(percent):.2g} % more temperature rise"
    if percent > 5.0:
        return f"{rise}; above 5 % the motor is not to be run."
    return f"{rise}, {100 * bench.derating(percent):.0f} % of rated power usable (read off the curve of NEMA MG 1)."


def supply_voltage(ctx: Context, r: Reading) -> list[Judged]:
    """Each voltage's deviation from the mean, and its share of the plate's voltage."""
    assert r.base is not None
    out = [j for j in (_unbalance(ctx, r, "supply_unbalance"),) if j is not None]
    plate, own = ctx.unit.plate.voltage, ctx.uncertainty(r)
    corrected = Corrected(r.base, "V", own)
    if plate is None:
        return out or [
            unjudged(r, "no plate voltage stated, fewer than three pairs of one moment", corrected=corrected)
        ]
    limit = ctx.limit("supply_voltage")
    percent, spread = 100.0 * r.base / plate, 100.0 * own / plate
    return [*out, judged_value(r, limit, percent, spread, corrected=corrected, remarks=[ctx.accuracy_remark(r)])]


def running_current(ctx: Context, r: Reading) -> list[Judged]:
    """Each current's deviation from the mean, and the model's maximum; above the plate is a notice."""
    assert r.base is not None
    out = [j for j in (_unbalance(ctx, r, "current_unbalance"),) if j is not None]
    plate, limit = ctx.unit.plate.current, ctx.limit("running_current")
    corrected, remarks = ctx.as_read(r), [ctx.accuracy_remark(r)]
    if plate is not None:
        notice = Tier("notice", None, plate)
        if limit is None:
            limit = Limit(
                rule="running_current", tiers=(notice,), source="rated current of the plate; it is not the maximum"
            )
        elif not any(t.name == "notice" for t in limit.tiers):
            limit = Limit(
                rule="running_current", tiers=(notice, *limit.tiers), source=limit.source, is_class=limit.is_class
            )
        if r.base > plate:
            remarks.append(f"Above the plate's {plate:g} A, which is not the maximum: find out why.")
    if limit is not None:
        out.append(judged_value(r, limit, r.base, corrected.uncertainty, corrected=corrected, remarks=remarks))
    return out or [
        unjudged(r, "no plate or maximum current known, fewer than three lines of one moment", corrected=corrected)
    ]


def contact_drop(ctx: Context, r: Reading) -> list[Judged]:
    """A closed pole against twice the mean of the others, and the largest drop allowed."""
    assert r.base is not None
    limit, own = ctx.limit("contact_drop"), ctx.uncertainty(r)
    others = [p for p in ctx.together(r, r.quantity) if p.base is not None and p.between != r.between]
    remarks = [ctx.accuracy_remark(r)]
    if limit is not None and len(others) >= 2:
        twice = 2.0 * bench.mean_of([float(p.base or 0.0) for p in others])
        high = next((t.high for t in limit.tiers if t.name == "limit"), None)
        if high is not None and twice < high:
            spread = 2.0 / len(others) * float(combined(*(ctx.uncertainty(p) for p in others)))
            own = float(combined(own, spread))
            source = f"{limit.source}; twice the mean of the other poles"
            limit = Limit(rule=limit.rule, tiers=(Tier("limit", None, twice),), source=source, is_class=limit.is_class)
    corrected = ctx.as_read(r)
    return [judged_value(r, limit, r.base, own, corrected=corrected, remarks=remarks)]


RULES: dict[str, Callable[[Context, Reading], list[Judged]]] = {
    "supply_voltage": supply_voltage,
    "running_current": running_current,
    "contact_voltage_drop": contact_drop,
}
"""Quantity → what judges it."""
