"""Readings of a case: all against their limits on one chart, and the windings and insulation by themselves."""

from math import ceil, floor, log10
from typing import TYPE_CHECKING
from warnings import catch_warnings, simplefilter

from stripdown.case import Case
from stripdown.figures.figure import BAD, BAND, GOOD, PLAIN, WARN, Figure, canvas, column, drawn, finish
from stripdown.figures.words import VERDICTS, verdict_words
from stripdown.limits.model import Judged
from stripdown.vocabulary import label

if TYPE_CHECKING:
    from matplotlib.axes import Axes

LOW, HIGH = 0.3, 0.7
"""Where the two limits stand on every row of the chart."""

_COLOURS = {"within": GOOD, "outside": BAD, "open": WARN}
_MARKERS = {"within": "o", "outside": "s", "open": "D"}
_MOST = 24
_OHMS = {"ohm": 1.0, "kohm": 1e3, "Mohm": 1e6}
_LOGARITHMIC = {"insulation_resistance"}


def name(reading: Judged) -> str:
    """What was measured, where: 'winding resistance U-V, leads'."""
    bits = [label(reading.quantity)]
    if reading.between:
        bits[0] += f" {reading.between}"
    if reading.at:
        bits.append(reading.at)
    if reading.cylinder:
        bits.append(f"cyl. {reading.cylinder}")
    if reading.site:
        bits.append("site")
    return ", ".join(bits)


def place(value: float, low: float | None, high: float | None, *, logarithmic: bool = False) -> float:
    """Position of a value on the row: its limits at LOW and HIGH, zero at 0 where there is but one limit."""
    if logarithmic and value > 0 and (low or high):
        return (LOW if low else HIGH) + 0.2 * log10(value / (low or high or 1.0))
    if low is not None and high is not None:
        return LOW + (HIGH - LOW) * (value - low) / (high - low) if high > low else 0.5
    if high is not None:
        return HIGH * value / high if high > 0 else HIGH + (value - high)
    if low is not None:
        return LOW * value / low if low > 0 else LOW + (value - low)
    raise ValueError("a reading without limits has no place on the chart")


def with_limits(case: Case) -> list[Judged]:
    """The readings held against a limit, as many as the chart takes; where they are too many the worst stay."""
    judged = [r for r in case.readings if r.verdict != "no_limit"]
    order = {"outside": 0, "open": 1, "within": 2, "no_limit": 3}
    kept = sorted(range(len(judged)), key=lambda i: (order[judged[i].verdict], i))[:_MOST]
    return [judged[i] for i in sorted(kept)]


@drawn
def against_limits(case: Case) -> Figure | None:
    """Every judged reading with its uncertainty beside the band that its limits leave; None where none is judged."""
    rows = with_limits(case)
    if not rows:
        return None
    drawing, (ax,) = canvas(6.2, 0.4 + 0.215 * len(rows))
    for at, reading in zip(range(len(rows), 0, -1), rows, strict=True):
        _row(ax, at, reading)
    ax.set_yticks(range(len(rows), 0, -1), [name(r) for r in rows])
    ax.tick_params(length=0)
    ax.set_xlim(-0.04, 1.04)
    ax.set_ylim(0.4, len(rows) + 0.6)
    words = [f"{VERDICTS[r.verdict]} {verdict_words(r.verdict)}" for r in rows]
    column(ax, list(range(len(rows), 0, -1)), words)
    ax.set_xticks([LOW, HIGH], ["low limit", "high limit"], fontsize=8)
    ax.spines[["bottom", "left"]].set_visible(False)
    said = "; ".join(f"{name(r)} {verdict_words(r.verdict)}" for r in rows)
    return finish(drawing, title="Readings against their limits", alt=f"Each reading and its verdict: {said}.")


def _row(ax: "Axes", at: int, reading: Judged) -> None:
    low, high = reading.limits()
    logarithmic = reading.quantity in _LOGARITHMIC
    left, right = LOW if low is not None else 0.0, HIGH if high is not None else 1.0
    if low is not None or high is not None:
        ax.barh(at, right - left, left=left, height=0.58, color=BAND, alpha=0.35, linewidth=0)
    for edge in ([LOW] if low is not None else []) + ([HIGH] if high is not None else []):
        ax.plot([edge, edge], [at - 0.36, at + 0.36], color=PLAIN, linewidth=1.1)
    value = reading.judged
    if value is None or (low is None and high is None):
        ax.text(0.5, at, f"read “{reading.value}”", va="center", ha="center", fontsize=8)
        return
    x = place(value, low, high, logarithmic=logarithmic)
    colour = _COLOURS[reading.verdict]
    if 0 <= x <= 1:
        u = 2 * (reading.judged_uncertainty or 0.0)
        ends = [place(v, low, high, logarithmic=logarithmic and v > 0) for v in (value - u, value + u)]
        ax.plot([max(ends[0], 0), min(ends[1], 1)], [at, at], color=colour, linewidth=1.6)
        ax.plot([x], [at], marker=_MARKERS[reading.verdict], color=colour, markersize=6)
    else:
        ax.plot([min(max(x, 0.005), 0.995)], [at], marker="<" if x < 0 else ">", color=colour, markersize=7)


@drawn
def resistances(case: Case) -> Figure | None:
    """Winding resistance by pair and insulation to frame; None where neither was read as a number."""
    windings = _numbers(case, "winding_resistance")
    insulation = _numbers(case, "insulation_resistance")
    panels = [p for p in (windings, insulation) if p]
    if not panels:
        return None
    drawing, axes = canvas(3.1 * len(panels), 1.6, 1, len(panels))
    said = []
    for ax, panel in zip(axes, panels, strict=True):
        said.append(_panel(ax, panel))
    return finish(drawing, title="Windings and insulation", alt=" ".join(said))


def _numbers(case: Case, quantity: str) -> list[tuple[Judged, float, float]]:
    """Readings of the quantity with value and uncertainty [ohm; Mohm for insulation]."""
    out = []
    for r in case.readings:
        c = r.corrected
        if r.quantity == quantity and c is not None and c.unit in _OHMS:
            factor = _OHMS[c.unit] / (1e6 if quantity in _LOGARITHMIC else 1.0)
            out.append((r, c.value * factor, c.uncertainty * factor))
    return out


def _least(r: Judged) -> float | None:
    """The low limit of an insulation reading [Mohm]."""
    low = r.limits()[0]
    return None if low is None else low * _OHMS.get(r.judged_unit or "", 1.0) / 1e6


def _decades(ax: "Axes", values: list[float], limit: float | None) -> None:
    """A logarithmic axis with plain numbers at whole decades, and the low limit as a line [Mohm]."""
    ends = [v for v in (*values, limit) if v is not None and v > 0]
    ends = ends or [1.0]
    low, high = floor(log10(min(ends)) - 0.2), ceil(log10(max(ends)) + 0.2)
    ticks = [10.0**n for n in range(low, high + 1)]
    with catch_warnings():
        simplefilter("ignore", UserWarning)  # a reading of zero has no place on this axis: it stands in the table
        ax.set_yscale("log")
    ax.set_ylim(ticks[0], ticks[-1])
    ax.set_yticks(ticks, [f"{t:g}" for t in ticks])
    ax.minorticks_off()
    if limit is not None:
        ax.axhline(limit, color=BAD, linestyle=(0, (4, 2)), linewidth=1)
        beside = ax.get_yaxis_transform()
        ax.text(0.98, limit, f"limit {limit:g}", transform=beside, ha="right", va="bottom", fontsize=8)


def _panel(ax: "Axes", rows: list[tuple[Judged, float, float]]) -> str:
    insulation = rows[0][0].quantity in _LOGARITHMIC
    pairs = list(dict.fromkeys(r.between or "?" for r, _, _ in rows))
    unit = "Mohm" if insulation else "ohm"
    for at, marker, fill, shift in (("terminals", "o", True, -0.12), ("leads", "s", False, 0.12), (None, "D", True, 0)):
        group = [(r, v, u) for r, v, u in rows if r.at == at]
        if not group:
            continue
        ax.errorbar(
            [pairs.index(r.between or "?") + shift for r, _, _ in group],
            [v for _, v, _ in group],
            yerr=[2 * u for _, _, u in group],
            fmt=marker,
            color=GOOD,
            mfc=GOOD if fill else "none",
            capsize=3,
            label=f"at {at}" if at else "",
        )
    if insulation:
        _decades(ax, [v for _, v, _ in rows], _least(rows[0][0]))
    ax.set_xticks(range(len(pairs)), pairs)
    ax.set_xlim(-0.6, len(pairs) - 0.4)
    ax.set_title(f"{label(rows[0][0].quantity)} [{unit}]", fontsize=9, loc="left")
    if any(r.at for r, _, _ in rows):
        ax.legend(frameon=False, fontsize=8, loc="best")
    values = ", ".join(f"{r.between or ''} {r.at or ''} {v:.3g} {unit}".strip() for r, v, _ in rows)
    return f"{label(rows[0][0].quantity).capitalize()}: {values}."
