"""The bars of one question to a fleet, as the explorer hands them out."""

from collections.abc import Mapping, Sequence
from math import isfinite
from typing import Any

from stripdown.figures.figure import GOOD, INK, PLAIN, Figure, canvas, column, drawn, finish
from stripdown.figures.words import folded


@drawn
def bars(told: Mapping[str, Any]) -> Figure | None:
    """Groups with their values and intervals, and all together as a broken line; None where no group has a value.

    `told`: title, axis (what is measured, with its unit), rows (name, value, low, high, said), together.
    """
    rows: Sequence[Mapping[str, Any]] = [r for r in told["rows"] if isfinite(r["value"])]
    if not rows:
        return None
    names = [folded(r["name"], 34) for r in rows]
    drawing, (ax,) = canvas(7.0, 0.85 + sum(0.25 + 0.14 * n.count("\n") for n in names))
    places = list(range(len(rows), 0, -1))
    ax.barh(places, [r["value"] for r in rows], height=0.6, color=GOOD, alpha=0.75)
    for at, r in zip(places, rows, strict=True):
        if isfinite(r["low"]) and isfinite(r["high"]):
            reach = [[r["value"] - r["low"]], [r["high"] - r["value"]]]
            ax.errorbar([r["value"]], [at], xerr=reach, fmt="none", ecolor=INK, capsize=2.5, elinewidth=1.2)
    if isfinite(told["together"]):
        ax.axvline(told["together"], linestyle=(0, (3, 2)), linewidth=1, color=PLAIN)
    ax.set_yticks(places, names)
    ax.set_ylim(0.4, len(rows) + 0.6)
    ax.set_xlim(min(0.0, *(r["low"] for r in rows if isfinite(r["low"]))) if rows else 0.0, None)
    ax.tick_params(axis="y", length=0)
    ax.set_xlabel(f"{told['axis']}, 95 % interval; broken line: all together", fontsize=8)
    drawing.suptitle(folded(told["title"], 84), fontsize=9, x=0.006, ha="left")
    column(ax, places, [r["said"] for r in rows])
    said = "; ".join(f"{r['name']} {r['said']}" for r in rows)
    return finish(drawing, title=told["title"], alt=f"{told['title']}, {told['axis']}: {said}.")
