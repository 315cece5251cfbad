"""The windings and the insulation of a case by themselves: each reading between its ends, at its place."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from math import ceil, floor, log10

from stripdown.case import Case
from stripdown.figures.figure import BAD, PLAIN, Figure, once, wrap
from stripdown.figures.plot import GAP, PAD, Frame, line, mark, steps, text, width
from stripdown.figures.readings import COLOURS, LOGARITHMIC, MARKERS, WIDTH
from stripdown.figures.words import VERDICTS, verdict_words
from stripdown.limits.model import Judged
from stripdown.vocabulary import label

_OHMS = {"ohm": 1.0, "kohm": 1e3, "Mohm": 1e6}
_PANEL = 138.0
"""Height of a panel [pt]."""
_BEYOND = 11.0
"""Height of a line of readings that lie beyond the axis [pt]."""
_BROKEN = "4 2"
_MOST_DECADES = 6
"""Numbers beside a logarithmic axis, less one."""
_SHIFTS = {"terminals": -0.12, "leads": 0.12, None: 0.0}
"""Place of a point beside its pair."""


@once
def resistances(case: Case) -> Figure | None:
    """Winding resistance by pair and insulation to frame; None where neither was read as a number."""
    both = (_points(case, q) for q in ("winding_resistance", "insulation_resistance"))
    panels = [points for points in both if any(p.value is not None for p in points)]
    if not panels:
        return None
    scales = [_decades(points) if points[0].reading.quantity in LOGARITHMIC else _even(points) for points in panels]
    left = PAD + max(width(written, 9) for scale in scales for written in scale.written) + 2 * GAP
    body = ""
    for i, (points, scale) in enumerate(zip(panels, scales, strict=True)):
        right = WIDTH - PAD - max((width(f"{limit:.3g}", 8) + GAP for limit in _limits(points)), default=0.0)
        body += _panel(Frame(left, 27.8 + i * _PANEL, right, (i + 1) * _PANEL - 19), points, scale)
    alt = " ".join(_told(points) for points in panels)
    return wrap(body, WIDTH, _PANEL * len(panels), title="Windings and insulation", alt=alt)


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
    first, per = found[0], 1e6 if found[0].quantity in LOGARITHMIC else 1.0
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


@dataclass(frozen=True, slots=True)
class _Scale:
    """The values at the two ends of an axis as `place` counts them, and its numbers."""

    place: Callable[[float], float]
    low: float
    high: float
    numbers: list[float]
    written: list[str]


def _limits(points: list[_Point]) -> set[float]:
    return {v for p in points for v in (p.low, p.high) if v is not None}


def _even(points: list[_Point]) -> _Scale:
    """A linear axis [ohm] with some room beyond the values and their bars."""
    read = [p for p in points if p.value is not None]
    ends = [(p.value or 0.0) + s * 2 * p.uncertainty for p in read for s in (-1, 1)] + list(_limits(points))
    room = 0.15 * (max(ends) - min(ends)) or 0.05 * abs(ends[0]) or 1.0
    low, high = min(ends) - room, max(ends) + room
    return _Scale(float, low, high, *steps(low, high, 5))


def _decades(points: list[_Point]) -> _Scale:
    """A logarithmic axis with plain numbers at whole decades [Mohm]."""
    ends = [v for v in (*(p.value or 0.0 for p in points), *_limits(points)) if v > 0] or [1.0]
    low, high = floor(log10(min(ends)) - 0.2), ceil(log10(max(ends)) + 0.2)
    numbers = [10.0**n for n in range(low, high + 1, ceil((high - low) / _MOST_DECADES))]
    return _Scale(log10, low, high, numbers, [f"{number:g}" for number in numbers])


def _panel(frame: Frame, points: list[_Point], scale: _Scale) -> str:
    pairs = list(dict.fromkeys(p.reading.between or "?" for p in points))
    along = frame.across(-0.7, len(pairs) - 0.3)
    beyond = {
        end: _places(p for p in points if p.value is None and p.reading.value == end) for end in ("open", "short")
    }
    inner = replace(
        frame, top=frame.top + _BEYOND * len(beyond["open"]), bottom=frame.bottom - _BEYOND * len(beyond["short"])
    )
    up = inner.up(scale.low, scale.high)
    drawn = [*_heading(frame.top, points)]
    for limit in sorted(_limits(points)):
        y = up(scale.place(limit))
        drawn.append(line(frame.left, y, frame.right, y, BAD, 1, _BROKEN))
        drawn.append(text(frame.right + GAP, y, f"{limit:.3g}", 8))
    drawn.append(line(frame.left, frame.top, frame.left, frame.bottom))
    drawn.append(line(frame.left, frame.bottom, frame.right, frame.bottom))
    for number, written in zip(scale.numbers, scale.written, strict=True):
        y = up(scale.place(number))
        drawn.append(line(frame.left - GAP, y, frame.left, y))
        drawn.append(text(frame.left - 2 * GAP, y, written, anchor="end"))
    for i, pair in enumerate(pairs):
        drawn.append(line(along(i), frame.bottom, along(i), frame.bottom + GAP))
        drawn.append(text(along(i), frame.bottom + 10.6, pair, anchor="middle"))
    for p in points:
        x = along(pairs.index(p.reading.between or "?"))
        if p.value is None:
            lines = beyond[str(p.reading.value)]
            at = _BEYOND * (lines.index(p.reading.at) + 0.5)
            drawn.append(_read_beyond(p, x, frame.top + at if p.reading.value == "open" else inner.bottom + at))
        else:
            shift = _SHIFTS[p.reading.at] * (along(1) - along(0))
            drawn.append(_mark(inner, p, x + shift, scale))
    return "".join(drawn)


def _places(points: Iterable[_Point]) -> list[str | None]:
    """Where they were measured, each place once, as their lines stand from the top down."""
    return sorted({p.reading.at for p in points}, key=lambda at: at == "leads")


def _heading(foot: float, points: list[_Point]) -> Iterator[str]:
    """What is measured, and what the marks mean; verdicts differ in shape, places in being filled or hollow."""
    quantity = points[0].reading.quantity
    places = [at for at in _places(points) if at]
    where = {0: "", 1: f"; at the {''.join(places)}", 2: "; filled: terminals, hollow: leads"}[len(places)]
    yield text(PAD, foot - 21.3, f"{label(quantity)} [{'Mohm' if quantity in LOGARITHMIC else 'ohm'}]{where}")
    shapes = [f"{VERDICTS[v]} {verdict_words(v)}" for v in VERDICTS if any(p.verdict == v for p in points)]
    limit = ["╌ limit"] if _limits(points) else []
    yield text(PAD, foot - 10.3, " · ".join([*shapes, *limit]), 8)


def _read_beyond(p: _Point, x: float, y: float) -> str:
    """A reading over range or at the meter's floor, in a line of its own above or below the axis."""
    said = f"“{p.reading.value}”"
    across = 9 + width(said, 8)
    colour, shape = COLOURS.get(p.verdict, PLAIN), MARKERS[p.verdict]
    return mark(shape, x - across / 2 + 3, y, colour, full=p.reading.at != "leads") + text(
        x - across / 2 + 9, y, said, 8
    )


def _mark(frame: Frame, p: _Point, x: float, scale: _Scale) -> str:
    """Value with its bar of two standard uncertainties."""
    value = p.value or 0.0
    if scale.place is log10 and value <= 0:
        return ""  # a reading of zero has no place on this axis: it stands in the table
    up = frame.up(scale.low, scale.high)

    def height(value: float) -> float:
        lowest = scale.low if scale.place is log10 and value <= 0 else scale.place(value)
        return min(max(up(lowest), frame.top), frame.bottom)

    colour = COLOURS.get(p.verdict, PLAIN)
    y, *ends = height(value), height(value - 2 * p.uncertainty), height(value + 2 * p.uncertainty)
    drawn = line(x, ends[0], x, ends[1], colour, 1.5) + "".join(line(x - 3, end, x + 3, end, colour, 1) for end in ends)
    return drawn + mark(MARKERS[p.verdict], x, y, colour, full=p.reading.at != "leads")


def _told(points: list[_Point]) -> str:
    quantity = points[0].reading.quantity
    unit = "Mohm" if quantity in LOGARITHMIC else "ohm"
    return f"{label(quantity).capitalize()}: {'; '.join(_said(p, unit) for p in points)}."


def _said(p: _Point, unit: str) -> str:
    value = f"{p.value:.3g} {unit}" if p.value is not None else f"read “{p.reading.value}”"
    words = (p.reading.between, f"at the {p.reading.at}" if p.reading.at else None, value)
    return f"{' '.join(w for w in words if w)}, {verdict_words(p.verdict)}"
