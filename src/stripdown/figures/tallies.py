"""Figures of a fleet's tallies: shares with intervals, and the way from first to last; from `fleet --json`."""

from collections.abc import Mapping, Sequence
from itertools import accumulate
from math import sqrt
from typing import TYPE_CHECKING, Any

from stripdown.figures.figure import FLEET_WIDTH, GOOD, INK, PLAIN, WARN, Figure, canvas, column, drawn, finish
from stripdown.numbers import count, fixed, percent
from stripdown.vocabulary import label

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_MOST = 12
_LEAST_SHOWN = 0.05


@drawn
def first_mechanisms(report: Mapping[str, Any]) -> Figure | None:
    """Expected share of each first mechanism with its interval, its plain count, and what they add up to."""
    return _shares(report["first"], report["returns"], "First mechanisms of the returns", together=True)


@drawn
def electrical(report: Mapping[str, Any]) -> Figure | None:
    """Of the records that ended in winding, terminals or sensor: what each started with."""
    ended = report.get("electrical") or {"records": 0, "first": []}
    return _shares(ended["first"], ended["records"], "Where electrical failures started", together=True)


@drawn
def causes(report: Mapping[str, Any]) -> Figure | None:
    """Expected share of returns in which each cause was at work."""
    return _shares(report["causes"], report["returns"], "Causes at work")


@drawn
def parts(report: Mapping[str, Any]) -> Figure | None:
    """Share of returns in which each part was found damaged."""
    return _shares(report["parts"], report["returns"], "Parts found damaged")


def _shares(rows: Sequence[Mapping[str, Any]], whole: int, title: str, *, together: bool = False) -> Figure | None:
    """Bars, most frequent first; `together`: a line of what the rows so far add up to, on the axis above."""
    rows = rows[:_MOST]
    if not rows:
        return None
    drawing, (ax,) = canvas(FLEET_WIDTH, (0.9 if together else 0.62) + 0.215 * len(rows))
    places = list(range(len(rows), 0, -1))
    share = [100 * r["share"] for r in rows]
    reach = [[100 * (r["share"] - r["low"]) for r in rows], [100 * (r["high"] - r["share"]) for r in rows]]
    ax.barh(places, share, height=0.6, color=GOOD, alpha=0.75)
    ax.errorbar(share, places, xerr=reach, fmt="none", ecolor=INK, capsize=2.5, elinewidth=1.2)
    expected = "expected" in rows[0]
    if expected:
        counted = [100 * r["count"] / max(whole, 1) for r in rows]
        ax.plot(counted, places, "D", color=WARN, markersize=5, mfc="none")
    ax.set_yticks(places, [label(r["id"]) for r in rows])
    ax.set_ylim(0.4, len(rows) + 0.6)
    ax.set_xlim(0, None)
    ax.tick_params(axis="y", length=0)
    ax.set_xlabel(
        "share of returns [%], 95 % interval" + ("; ◇ plain count by headline" if expected else ""), fontsize=8
    )
    said = [f"{fixed(r['expected'], 1)} ({count(r['count'])})" if expected else count(r["count"]) for r in rows]
    column(ax, places, said)
    if together:
        _add_sums(ax, list(accumulate(share)), places)
    told = "; ".join(f"{label(r['id'])} {percent(r['share'])} ({n})" for r, n in zip(rows, said, strict=True))
    return finish(drawing, title=title, alt=f"{title}, share of {whole} returns: {told}.")


def _add_sums(ax: "Axes", sums: list[float], places: list[int]) -> None:
    top = ax.twiny()
    top.plot(sums, places, ":", color=PLAIN, marker=".", markersize=5, linewidth=1.2)
    top.set_xlim(0, 100)
    top.set_xlabel("· · · all down to this one together [%]", fontsize=8)
    top.spines["top"].set_visible(True)


@drawn
def flow(report: Mapping[str, Any]) -> Figure | None:
    """Expected returns by first mechanism (rows) and by what failed last (columns), as discs with their number."""
    cells = [r for r in report.get("flow") or [] if r["expected"] >= _LEAST_SHOWN]
    if not cells:
        return None
    firsts = _largest(cells, "first")[:_MOST]
    lasts = _largest(cells, "last")
    drawing, (ax,) = canvas(FLEET_WIDTH, 0.75 + 0.3 * len(firsts))
    most = max(r["expected"] for r in cells)
    for r in cells:
        if r["first"] in firsts:
            x, y = lasts.index(r["last"]), -firsts.index(r["first"])
            size = 20 + 300 * r["expected"] / most
            ax.scatter([x], [y], s=size, color=GOOD, alpha=0.55, linewidth=0)
            beside = (sqrt(size) / 2 + 2, 0)
            told = fixed(r["expected"], 1)
            ax.annotate(told, (x, y), beside, textcoords="offset points", ha="left", va="center", fontsize=8)
    ax.set_xticks(range(len(lasts)), [last.replace(" ", "\n") for last in lasts], fontsize=8)
    ax.xaxis.tick_top()
    ax.set_yticks([-i for i in range(len(firsts))], [label(f) for f in firsts])
    ax.set_xlim(-0.4, len(lasts) - 0.2)
    ax.set_ylim(-len(firsts) + 0.4, 0.6)
    ax.tick_params(length=0)
    ax.spines[:].set_visible(False)
    top = sorted(cells, key=lambda r: -r["expected"])[:6]
    told = "; ".join(f"{label(r['first'])} ending in {r['last']} {fixed(r['expected'], 1)}" for r in top)
    return finish(drawing, title="From first mechanism to last failure", alt=f"Expected returns: {told}.")


def _largest(cells: Sequence[Mapping[str, Any]], key: str) -> list[str]:
    sums: dict[str, float] = {}
    for r in cells:
        sums[r[key]] = sums.get(r[key], 0.0) + r["expected"]
    return sorted(sums, key=lambda k: (-sums[k], k))
