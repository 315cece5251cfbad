"""Plays, gaps, torques, pumping and counts of one record against their limits."""

from collections.abc import Callable
from functools import partial

from stripdown.bench import wear as bench
from stripdown.bench.electrical import mean_of
from stripdown.bench.measurement import combined
from stripdown.bench.refrigerant import atmosphere
from stripdown.limits.context import Context
from stripdown.limits.model import Corrected, Judged
from stripdown.limits.verdict import judged_value, unjudged
from stripdown.record.model import Reading


def plain(rule: str, ctx: Context, r: Reading) -> list[Judged]:
    """A reading that is held against its limit as it stands."""
    corrected = ctx.as_read(r)
    remarks = [ctx.accuracy_remark(r)]
    return [
        judged_value(r, ctx.limit(rule), corrected.value, corrected.uncertainty, corrected=corrected, remarks=remarks)
    ]


def pin_drop(ctx: Context, r: Reading) -> list[Judged]:
    """Wrist-pin drop, less the play of the same cylinder's big end where it was read."""
    corrected = ctx.as_read(r)
    rods = [p for p in ctx.numbers("rod_play") if p.cylinder == r.cylinder]
    remarks = [ctx.accuracy_remark(r, *rods[:1])]
    if rods and r.cylinder is not None:
        values = [float(p.base or 0.0) for p in rods]
        own = float(combined(corrected.uncertainty, max(ctx.uncertainty(p) for p in rods)))
        corrected = Corrected(bench.pin_drop(corrected.value, mean_of(values)), "mm", own, ("less rod play",))
    elif corrected.value > 0.025:
        remarks.append("Includes the play of the big end, which was not read.")
    limit = ctx.limit("wrist_pin_drop")
    return [judged_value(r, limit, corrected.value, corrected.uncertainty, corrected=corrected, remarks=remarks)]


def air_gap(ctx: Context, r: Reading) -> list[Judged]:
    """Each gap as a share of the mean of its moment."""
    peers = [p for p in ctx.together(r, r.quantity) if p.base is not None]
    among = ctx.compared(peers) if len({p.between for p in peers}) >= 2 else None
    corrected = ctx.as_read(r)
    if among is None:
        return [unjudged(r, "gaps are compared among themselves: read at least two sides", corrected=corrected)]
    n = peers.index(r)
    share, spread = bench.gap_shares(among.values)[n], among.uncertainties[n] / 100.0
    remarks = [ctx.accuracy_remark(r), "Unequal gaps with sound bearings point to the assembly."]
    return [judged_value(r, ctx.limit("air_gap"), share, spread, corrected=corrected, remarks=remarks)]


def pull_down(ctx: Context, r: Reading) -> list[Judged]:
    """Absolute pressure reached; a gauge's reading counts down from the air of the site, not from that at sea level.

    Where the altitude is not stated the air is taken as at sea level. Any height only makes the true pressure lower,
    so not knowing it leaves room for a better vacuum and never for a worse one.
    """
    limit, read = ctx.limit("pull_down"), ctx.as_read(r)
    remarks = [ctx.accuracy_remark(r)]
    if r.absolute:
        return [judged_value(r, limit, read.value, read.uncertainty, corrected=read, remarks=remarks)]
    said: tuple[str, ...] = ("air pressure at the altitude of the site",)
    if ctx.record.history.altitude is None:
        said = ()
        remarks.append("Altitude of the site not stated: counted from the air at sea level, where it is worst.")
    value = max(read.value + ctx.air - atmosphere(0.0), 0.0)
    spreads = (read.uncertainty, float(combined(read.uncertainty, ctx.air_uncertainty)))
    both = [
        judged_value(r, limit, value, own, corrected=Corrected(value, "kPa", own, said), remarks=remarks)
        for own in dict.fromkeys(spreads)
    ]
    return [max(both, key=lambda j: j.probability_within or 0.0)]


def torque(ctx: Context, r: Reading) -> list[Judged]:
    """A bolt as found against the sheet; without one bolts are only compared."""
    corrected, limit = ctx.as_read(r), ctx.limit(r.quantity)
    peers = [float(p.base or 0.0) for p in ctx.numbers(r.quantity)]
    remarks = [ctx.accuracy_remark(r), "Break-loose torque differs from set torque by tens of percent."]
    if limit is None and len(peers) > 1 and mean_of(peers) > 0:
        away = 100.0 * (corrected.value - mean_of(peers)) / mean_of(peers)
        remarks.append(f"{away:+.0f} % from the mean of {len(peers)} bolts.")
    silent = "no torque of this model known: bolts are only compared"
    return [
        judged_value(
            r, limit, corrected.value, corrected.uncertainty, corrected=corrected, remarks=remarks, silent=silent
        )
    ]


RULES: dict[str, Callable[[Context, Reading], list[Judged]]] = {
    **{p: partial(plain, p) for p in ("main_bearing_play", "centre_bearing_play", "pump_end_bearing_play", "rod_play")},
    **dict.fromkeys(("terminal_nut_torque", "head_bolt_torque", "backer_bolt_torque"), torque),
    "wrist_pin_drop": pin_drop,
    "rotor_air_gap": air_gap,
    "crankshaft_end_float": partial(plain, "crankshaft_end_float"),
    "vacuum_pull_down": pull_down,
    "leak_back_rate": partial(plain, "leak_back"),
    "evacuation_vacuum": partial(plain, "evacuation"),
    "starts_per_hour": partial(plain, "starts_per_hour"),
}
"""Quantity → what judges it."""
