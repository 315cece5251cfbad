"""Readings of a case, all against their limits on one chart."""

from collections.abc import Callable, Sequence
from math import log10

from stripdown.case import Case
from stripdown.figures.figure import BAD, BAND, GOOD, PLAIN, WARN, Figure, once, wrap
from stripdown.figures.plot import GAP, PAD, Frame, box, labels, line, mark, sizes, text, width
from stripdown.figures.words import VERDICTS, folded, verdict_words
from stripdown.limits.model import Judged
from stripdown.vocabulary import label

LOW, HIGH = 0.3, 0.7
"""Where the two limits stand on every row of the chart."""

COLOURS = {"within": GOOD, "outside": BAD, "open": WARN}
MARKERS = {"within": "o", "outside": "s", "open": "D", "no_limit": "-"}
_MOST = 24
LOGARITHMIC = {"insulation_resistance"}
WIDTH, _LABEL = 324.0, 25
"""Width of a drawing [pt] and of its labels [characters]: legible on a phone without scrolling."""
_EDGE = 0.04
"""Room beyond either end of a row [of the row]."""


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
    heights = sizes(shown)
    height = 32.4 + 15.84 * sum(heights)
    left = PAD + max(width(words, 8.5) for words in shown) + GAP
    frame = Frame(left, PAD, WIDTH - PAD - max(width(words, 9) for words in told) - GAP, height - 14.5)
    at, (middles, each) = frame.across(-_EDGE, 1 + _EDGE), frame.rows(heights)
    body = [_row(at, y, each, reading) for y, reading in zip(middles, rows, strict=True)]
    body += [labels(left - GAP, middles, shown, 8.5, "end"), labels(frame.right + GAP, middles, told)]
    body += [text(at(x), height - 7.8, f"{end} limit", 8, "middle") for x, end in ((LOW, "low"), (HIGH, "high"))]
    said = "; ".join(f"{n} {verdict_words(r.verdict)}" for n, r in zip(named, rows, strict=True))
    alt = f"Each reading and its verdict: {said}."
    return wrap("".join(body), WIDTH, height, title="Readings against their limits", alt=alt)


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
    logarithmic = reading.quantity in LOGARITHMIC
    x = place(value, low, high, logarithmic=logarithmic)
    colour = COLOURS[reading.verdict]
    if not 0 <= x <= 1:
        return drawn + mark("<" if x < 0 else ">", at(min(max(x, 0.005), 0.995)), y, colour)
    u = 2 * (reading.judged_uncertainty or 0.0)
    ends = [place(v, low, high, logarithmic=logarithmic and v > 0) for v in (value - u, value + u)]
    drawn += line(at(max(ends[0], 0)), y, at(min(ends[1], 1)), y, colour, 1.6)
    return drawn + mark(MARKERS[reading.verdict], at(x), y, colour)
