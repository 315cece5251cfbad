"""Readings of a case: all against their limits on one chart, and the windings and insulation by themselves."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil, floor, log10

from stripdown.case import Case
from stripdown.figures.figure import BAD, BAND, GOOD, PLAIN, WARN, Figure, once, wrap
from stripdown.figures.plot import GAP, PAD, Frame, box, labels, line, mark, steps, text, width
from stripdown.figures.words import VERDICTS, folded, verdict_words
from stripdown.limits.model import Judged
from stripdown.vocabulary import label

LOW, HIGH = 0.3, 0.7
"""Where the two limits stand on every row of the chart."""

_COLOURS = {"within": GOOD, "outside": BAD, "open": WARN}
_MARKERS = {"within": "o", "outside": "s", "open": "D"}
_MOST = 24
_OHMS = {"ohm": 1.0, "kohm": 1e3, "Mohm": 1e6}
_LOGARITHMIC = {"insulation_resistance"}
_WIDTH, _LABEL = 324.0, 25
"""Width of a drawing [pt] and of its labels [characters]: legible on a phone without scrolling."""
_PANEL = 126.0
"""Height of a panel [pt]."""
_EDGE = 0.04
"""Room beyond either end of a row [of the row]."""
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


@once
def against_limits(case: Case) -> Figure | None:
    """Every judged reading with its uncertainty beside the band that its limits leave; None where none is judged."""
    rows = with_limits(case)
    if not rows:
        return None
    named = names(rows)
    shown = [folded(n, _LABEL) for n in named]
    told = [f"{VERDICTS[r.verdict]} {verdict_words(r.verdict)}" for r in rows]
    lines = max(words.count("\n") + 1 for words in shown)
    height = 32.4 + max(15.84, 10.44 * lines) * len(rows)
    left = PAD + max(width(words, 8.5) for words in shown) + GAP
    frame = Frame(left, PAD, _WIDTH - PAD - max(width(words, 9) for words in told) - GAP, height - 14.5)
    at, (middles, each) = frame.across(-_EDGE, 1 + _EDGE), frame.rows([1] * len(rows))
    body = [_row(at, y, each, reading) for y, reading in zip(middles, rows, strict=True)]
    body += [labels(left - GAP, middles, shown, 8.5, "end"), labels(frame.right + GAP, middles, told)]
    body += [text(at(x), height - 7.8, f"{end} limit", 8, "middle") for x, end in ((LOW, "low"), (HIGH, "high"))]
    said = "; ".join(f"{n} {verdict_words(r.verdict)}" for n, r in zip(named, rows, strict=True))
    alt = f"Each reading and its verdict: {said}."
    return wrap("".join(body), _WIDTH, height, title="Readings against their limits", alt=alt)


def _row(at: Callable[[float], float], y: float, each: float, reading: Judged) -> str:
    low, high = reading.limits()
    left, right = LOW if low is not None else 0.0, HIGH if high is not None else 1.0
    drawn = ""
    if low is not None or high is not None:
        drawn += box(at(left), at(right), y, 0.58 * each, BAND, ' fill-opacity=".35"')
    for edge in ([LOW] if low is not None else []) + ([HIGH] if high is not None else []):
        drawn += line(at(edge), y - 0.36 * each, at(edge), y + 0.36 * each, PLAIN, 1.1)
    value = reading.judged
    if value is None or (low is None and high is None):
        return drawn + text(at(0.5), y, f"read “{reading.value}”", 8, "middle")
    logarithmic = reading.quantity in _LOGARITHMIC
    x = place(value, low, high, logarithmic=logarithmic)
    colour = _COLOURS[reading.verdict]
    if not 0 <= x <= 1:
        return drawn + mark("<" if x < 0 else ">", at(min(max(x, 0.005), 0.995)), y, colour)
    u = 2 * (reading.judged_uncertainty or 0.0)
    ends = [place(v, low, high, logarithmic=logarithmic and v > 0) for v in (value - u, value + u)]
    drawn += line(at(max(ends[0], 0)), y, at(min(ends[1], 1)), y, colour, 1.6)
    return drawn + mark(_MARKERS[reading.verdict], at(x), y, colour)


@once
def resistances(case: Case) -> Figure | None:
    """Winding resistance by pair and insulation to frame; None where neither was read as a number."""
    both = (_points(case, q) for q in ("winding_resistance", "insulation_resistance"))
    panels = [points for points in both if any(p.value is not None for p in points)]
    if not panels:
        return None
    scales = [_decades(points) if points[0].reading.quantity in _LOGARITHMIC else _even(points) for points in panels]
    left = PAD + max(width(written, 9) for scale in scales for written in scale.written) + 2 * GAP
    body = ""
    for i, (points, scale) in enumerate(zip(panels, scales, strict=True)):
        body += _panel(Frame(left, 15.8 + i * _PANEL, _WIDTH - PAD, (i + 1) * _PANEL - 19), points, scale)
    alt = " ".join(_told(points) for points in panels)
    return wrap(body, _WIDTH, _PANEL * len(panels), title="Windings and insulation", alt=alt)


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
    numbers = [10.0**n for n in range(low, high + 1)]
    return _Scale(log10, low, high, numbers, [f"{number:g}" for number in numbers])


def _panel(frame: Frame, points: list[_Point], scale: _Scale) -> str:
    pairs = list(dict.fromkeys(p.reading.between or "?" for p in points))
    along, up = frame.across(-0.7, len(pairs) - 0.3), frame.up(scale.low, scale.high)
    where = {"terminals": "● at the terminals", "leads": "○ at the leads"}
    places = ", ".join(where[at] for at in where if any(p.reading.at == at for p in points))
    quantity = points[0].reading.quantity
    title = f"{label(quantity)} [{'Mohm' if quantity in _LOGARITHMIC else 'ohm'}]" + (f": {places}" if places else "")
    drawn = [text(frame.left, frame.top - 9.3, title)]
    for limit in sorted(_limits(points)):
        y = up(scale.place(limit))
        drawn.append(line(frame.left, y, frame.right, y, BAD, 1, "4 2"))
        drawn.append(text(frame.right - 3, y - 5.5, f"limit {limit:.3g}", 8, "end"))
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
        drawn.append(_mark(frame, p, along(pairs.index(p.reading.between or "?") + _SHIFTS[p.reading.at]), scale))
    return "".join(drawn)


def _mark(frame: Frame, p: _Point, x: float, scale: _Scale) -> str:
    """Value with its bar of two standard uncertainties; the verdict beside it where it is not within."""
    word = "" if p.verdict in ("within", "no_limit") else f"{VERDICTS[p.verdict]} {p.verdict}"
    if p.value is None:
        said = f"read “{p.reading.value}”\n{word}".strip()
        half = 4.7 * (said.count("\n") + 1) + 5
        y = frame.top + half if p.reading.value == "open" else frame.bottom - half  # over range, or at the floor
        return text(x, y, said, 8, "middle")
    if scale.place is log10 and p.value <= 0:
        return ""  # a reading of zero has no place on this axis: it stands in the table
    up = frame.up(scale.low, scale.high)

    def height(value: float) -> float:
        lowest = scale.low if scale.place is log10 and value <= 0 else scale.place(value)
        return min(max(up(lowest), frame.top), frame.bottom)

    colour, full = _COLOURS.get(p.verdict, PLAIN), p.reading.at != "leads"
    y, *ends = height(p.value), height(p.value - 2 * p.uncertainty), height(p.value + 2 * p.uncertainty)
    drawn = line(x, ends[0], x, ends[1], colour, 1.5) + "".join(line(x - 3, end, x + 3, end, colour, 1) for end in ends)
    drawn += mark("o", x, y, colour, full=full)
    if word:
        away, side = (-5, "end") if full else (5, "start")
        drawn += text(x + away, y, word, 8, side)
    return drawn


def _told(points: list[_Point]) -> str:
    quantity = points[0].reading.quantity
    unit = "Mohm" if quantity in _LOGARITHMIC else "ohm"
    return f"{label(quantity).capitalize()}: {'; '.join(_said(p, unit) for p in points)}."


def _said(p: _Point, unit: str) -> str:
    value = f"{p.value:.3g} {unit}" if p.value is not None else f"read “{p.reading.value}”"
    words = (p.reading.between, f"at the {p.reading.at}" if p.reading.at else None, value)
    return f"{' '.join(w for w in words if w)}, {verdict_words(p.verdict)}"
