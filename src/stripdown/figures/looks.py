"""Figures of what a fleet is compared with: months with their limits, ratios with their intervals, groups looked at."""

from collections.abc import Mapping, Sequence
from typing import Any

from stripdown.figures.figure import BAD, FLEET_WIDTH, GOOD, INK, PLAIN, WARN, Figure, canvas, column, drawn, finish
from stripdown.figures.words import folded
from stripdown.numbers import count, number

MOST_MONTHS = 36
_MOST_LOOKS = 12


@drawn
def months(report: Mapping[str, Any]) -> Figure | None:
    """Failures of each month, the number that the ages led to expect, and the limits of a count chart."""
    rows = (report.get("months") or [])[-MOST_MONTHS:]
    if len(rows) < 2:
        return None
    drawing, (ax,) = canvas(FLEET_WIDTH, 1.9)
    at = list(range(len(rows)))
    ax.fill_between(at, [r["low"] for r in rows], [r["high"] for r in rows], step="mid", color=PLAIN, alpha=0.2)
    ax.step(at, [r["expected"] for r in rows], where="mid", color=PLAIN, linewidth=1.2)
    ax.plot(at, [r["failures"] for r in rows], "o", color=GOOD, markersize=4)
    out = [i for i in at if rows[i]["outside"]]
    ax.plot(out, [rows[i]["failures"] for i in out], "s", color=BAD, markersize=8)
    step = max(1, len(rows) // 9)
    ax.set_xticks(at[::step], [rows[i]["month"] for i in at[::step]], fontsize=8)
    ax.set_ylim(0, None)
    ax.set_ylabel("failures", fontsize=8)
    ax.set_xlabel("● failures  ■ outside the limits  — expected at equal age, with limits of three sigma", fontsize=8)
    told = "; ".join(f"{rows[i]['month']} {number(rows[i]['failures'], 3)} failures" for i in out) or "none"
    return finish(drawing, title="Failures by month", alt=f"Failures of the last {len(rows)} months; outside: {told}.")


@drawn
def compared(rows: tuple[tuple[str, float, float | None, float | None, str], ...]) -> Figure | None:
    """Ratios with their intervals on a log axis, 1 = no difference; a row is words, ratio, low, high, p in words."""
    rows = rows[:_MOST_LOOKS]
    if not rows:
        return None
    drawing, (ax,) = canvas(FLEET_WIDTH, 0.62 + 0.27 * len(rows))
    places = list(range(len(rows), 0, -1))
    ratios = [r[1] for r in rows if r[1] > 0]
    least = min([x / 30 for x in ratios], default=0.1)
    most = max([x * 30 for x in ratios], default=10)
    for y, (_, ratio, low, high, _) in zip(places, rows, strict=True):
        ends = [max(low or least, least), min(high or most, most)]
        ax.plot(ends, [y, y], color=INK, linewidth=1.2)
        ax.plot([max(ratio, least)], [y], "o", color=GOOD if ratio < 1 else WARN, markersize=6)
    ax.axvline(1, color=PLAIN, linestyle=":")
    ax.set_xscale("log")
    ax.set_yticks(places, [folded(r[0], 30, most=3) for r in rows], fontsize=8)
    ax.set_ylim(0.4, len(rows) + 0.6)
    ax.tick_params(axis="y", length=0)
    ticks = [t for t in (0.01, 0.1, 0.2, 0.5, 1, 2, 5, 10, 100, 1000) if least <= t <= most]
    ax.set_xticks(ticks, [f"{t:g}" for t in ticks])
    ax.minorticks_off()
    ax.set_xlabel("failures, times as many as the others at equal age; 95 % interval", fontsize=8)
    column(ax, places, [r[4] for r in rows])
    told = "; ".join(f"{r[0]} {number(r[1], 3)}, {r[4]}" for r in rows)
    return finish(drawing, title="Compared at equal age", alt=f"Ratios of failures: {told}.")


@drawn
def looked_at(report: Mapping[str, Any]) -> Figure | None:
    """Share of records in which each main group of machine and site was looked at or measured."""
    rows: Sequence[Mapping[str, Any]] = (report.get("quality") or {}).get("looked_at") or []
    if not rows:
        return None
    drawing, (ax,) = canvas(FLEET_WIDTH, 0.62 + 0.215 * len(rows))
    places = list(range(len(rows), 0, -1))
    share = [100 * r["share"] for r in rows]
    reach = [[100 * (r["share"] - r["low"]) for r in rows], [100 * (r["high"] - r["share"]) for r in rows]]
    ax.barh(places, share, height=0.6, color=GOOD, alpha=0.75)
    ax.errorbar(share, places, xerr=reach, fmt="none", ecolor=INK, capsize=2.5, elinewidth=1.2)
    ax.set_yticks(places, [r["title"] for r in rows], fontsize=8)
    ax.set_ylim(0.4, len(rows) + 0.6)
    ax.set_xlim(0, 100)
    ax.tick_params(axis="y", length=0)
    ax.set_xlabel("share of records [%], 95 % interval", fontsize=8)
    column(ax, places, [count(r["records"]) for r in rows])
    told = "; ".join(f"{r['title']} {r['records']}" for r in rows)
    return finish(drawing, title="What was looked at", alt=f"Records in which each group was looked at: {told}.")
