"""Readings of a case: all against their limits on one chart, and the windings and insulation by themselves."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor, log10
from typing import TYPE_CHECKING
from warnings import catch_warnings, simplefilter

from stripdown.case import Case
from stripdown.figures.figure import BAD, BAND, GOOD, PLAIN, WARN, Figure, canvas, column, drawn, finish
from stripdown.figures.words import VERDICTS, folded, verdict_words
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
_WIDTH, _LABEL = 4.5, 25
"""Width of a drawing [inch] and of its labels [characters]: legible on a phone without scrolling."""
_SHIFTS = {"terminals": -0.12, "leads": 0.12, None: 0.0}
"""Place of a point beside its pair."""


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


def names(rows: Sequence[Judged]) -> list[str]:
    """`name` of each; where one reading is held against several limits, with what each of them judges."""
    plain = [name(r) for r in rows]
    return [_with_rule(n, r) if plain.count(n) > 1 else n for n, r in zip(plain, rows, strict=True)]


def _with_rule(named: str, reading: Judged) -> str:
    """The name with the words of its rule that it does not hold already: '…, terminals: balance'."""
    if reading.rule is None or reading.rule == reading.quantity:
        return named
    words = label(reading.rule).split()
    while len(words) > 1 and words[0] in named.split():
        words.pop(0)
    return f"{named}: {' '.join(words)}"


@drawn
def against_limits(case: Case) -> Figure | None:
    """Every judged reading with its uncertainty beside the band that its limits leave; None where none is judged."""
    rows = with_limits(case)
    if not rows:
        return None
    named = names(rows)
    shown = [folded(n, _LABEL) for n in named]
    lines = max(text.count("\n") + 1 for text in shown)
    drawing, (ax,) = canvas(_WIDTH, 0.45 + max(0.22, 0.145 * lines) * len(rows))
    heights = range(len(rows), 0, -1)
    for at, reading in zip(heights, rows, strict=True):
        _row(ax, at, reading)
    ax.set_yticks(heights, shown, fontsize=8.5)
    ax.tick_params(length=0)
    ax.set_xlim(-0.04, 1.04)
    ax.set_ylim(0.4, len(rows) + 0.6)
    column(ax, list(heights), [f"{VERDICTS[r.verdict]} {verdict_words(r.verdict)}" for r in rows])
    ax.set_xticks([LOW, HIGH], ["low limit", "high limit"], fontsize=8)
    ax.spines[["bottom", "left"]].set_visible(False)
    said = "; ".join(f"{n} {verdict_words(r.verdict)}" for n, r in zip(named, rows, strict=True))
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
    both = (_points(case, q) for q in ("winding_resistance", "insulation_resistance"))
    panels = [points for points in both if any(p.value is not None for p in points)]
    if not panels:
        return None
    drawing, axes = canvas(_WIDTH, 1.75 * len(panels), len(panels))
    said = [_panel(ax, panel) for ax, panel in zip(axes, panels, strict=True)]
    return finish(drawing, title="Windings and insulation", alt=" ".join(said))


@dataclass(frozen=True, slots=True)
class _Point:
    """One reading of a panel: value and standard uncertainty [ohm; Mohm for insulation], None where it was "open" or
    "short"; the worst verdict of its rules; the limits that hold for the value itself."""

    reading: Judged
    value: float | None
    uncertainty: float
    verdict: str
    low: float | None
    high: float | None


def _points(case: Case, quantity: str) -> list[_Point]:
    """The readings of a quantity, each once."""
    together: dict[tuple[object, ...], list[Judged]] = {}
    for r in case.readings:
        if r.quantity == quantity:
            together.setdefault((r.entry, r.between, r.at), []).append(r)
    return [_point(found) for found in together.values()]


def _point(found: list[Judged]) -> _Point:
    first, per = found[0], 1e6 if found[0].quantity in _LOGARITHMIC else 1.0
    verdict = next((v for v in ("outside", "open", "within") if any(r.verdict == v for r in found)), "no_limit")
    own = next((r for r in found if r.judged_unit in _OHMS), None)
    low, high = own.limits() if own is not None else (None, None)
    scale = _OHMS[own.judged_unit or ""] / per if own is not None else 1.0
    c = first.corrected
    if c is None or c.unit not in _OHMS:
        return _Point(first, None, 0.0, verdict, _times(low, scale), _times(high, scale))
    factor = _OHMS[c.unit] / per
    ends = (_times(low, scale), _times(high, scale))
    return _Point(first, c.value * factor, c.uncertainty * factor, verdict, *ends)


def _times(value: float | None, factor: float) -> float | None:
    return None if value is None else value * factor


def _decades(ax: "Axes", values: list[float]) -> None:
    """A logarithmic axis with plain numbers at whole decades [Mohm]."""
    ends = [v for v in values if v > 0] or [1.0]
    low, high = floor(log10(min(ends)) - 0.2), ceil(log10(max(ends)) + 0.2)
    ticks = [10.0**n for n in range(low, high + 1)]
    with catch_warnings():
        simplefilter("ignore", UserWarning)  # a reading of zero has no place on this axis: it stands in the table
        ax.set_yscale("log")
    ax.set_ylim(ticks[0], ticks[-1])
    ax.set_yticks(ticks, [f"{t:g}" for t in ticks])
    ax.minorticks_off()


def _panel(ax: "Axes", points: list[_Point]) -> str:
    insulation = points[0].reading.quantity in _LOGARITHMIC
    pairs = list(dict.fromkeys(p.reading.between or "?" for p in points))
    unit = "Mohm" if insulation else "ohm"
    for p in points:
        _mark(ax, p, pairs.index(p.reading.between or "?") + _SHIFTS[p.reading.at])
    limits = {v for p in points for v in (p.low, p.high) if v is not None}
    for limit in sorted(limits):
        ax.axhline(limit, color=BAD, linestyle=(0, (4, 2)), linewidth=1)
        beside = ax.get_yaxis_transform()
        ax.text(0.99, limit, f"limit {limit:.3g}", transform=beside, ha="right", va="bottom", fontsize=8)
    ax.margins(y=0.15)
    if insulation:
        _decades(ax, [p.value for p in points if p.value is not None] + list(limits))
    ax.set_xticks(range(len(pairs)), pairs)
    ax.set_xlim(-0.7, len(pairs) - 0.3)
    where = {"terminals": "● at the terminals", "leads": "○ at the leads"}
    told = ", ".join(where[at] for at in where if any(p.reading.at == at for p in points))
    ax.set_title(
        f"{label(points[0].reading.quantity)} [{unit}]" + (f": {told}" if told else ""), fontsize=9, loc="left"
    )
    return f"{label(points[0].reading.quantity).capitalize()}: {'; '.join(_said(p, unit) for p in points)}."


def _mark(ax: "Axes", p: _Point, x: float) -> None:
    """Value with its bar of two standard uncertainties; the verdict beside it where it is not within."""
    word = "" if p.verdict in ("within", "no_limit") else f"{VERDICTS[p.verdict]} {p.verdict}"
    if p.value is None:
        said = f"read “{p.reading.value}”\n{word}".strip()
        y, side = (0.95, "top") if p.reading.value == "open" else (0.05, "bottom")  # over range, or at the floor
        ax.text(x, y, said, transform=ax.get_xaxis_transform(), ha="center", va=side, fontsize=8)
        return
    colour, full = _COLOURS.get(p.verdict, PLAIN), p.reading.at != "leads"
    bar = 2 * p.uncertainty
    ax.errorbar([x], [p.value], yerr=[bar], fmt="o", color=colour, mfc=colour if full else "none", capsize=3)
    if word:
        away, side = (-5, "right") if full else (5, "left")
        ax.annotate(word, (x, p.value), xytext=(away, 0), textcoords="offset points", ha=side, va="center", fontsize=8)


def _said(p: _Point, unit: str) -> str:
    value = f"{p.value:.3g} {unit}" if p.value is not None else f"read “{p.reading.value}”"
    words = (p.reading.between, f"at the {p.reading.at}" if p.reading.at else None, value)
    return f"{' '.join(w for w in words if w)}, {verdict_words(p.verdict)}"
