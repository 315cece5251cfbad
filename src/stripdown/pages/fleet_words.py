"""What the sections of a fleet page share: a question above its figure, shares, ranges and p in words."""

from collections.abc import Mapping, Sequence
from typing import Any

from stripdown.figures.figure import Figure
from stripdown.figures.words import percent
from stripdown.pages import blocks as b
from stripdown.pages.units import fixed, number


def asked(question: str, drawn: Figure | None, how: str = "") -> list[b.Block]:
    """A question, the figure that answers it, and how its figures were made; nothing where there is no figure."""
    if drawn is None:
        return []
    return [b.heading(question), *b.figure(drawn), *([b.small(how)] if how else [])]


def interval(r: Mapping[str, Any]) -> str:
    """'20 % (15 to 26)'."""
    return f"{percent(r['share'])} ({100 * r['low']:.0f} to {100 * r['high']:.0f})"


def between(e: Mapping[str, Any], digits: int) -> str:
    """'2.1 (1.8 to 3)' of value, low, high in a sentence; – where there is none."""
    return _ends([None if (x := e.get(k)) is None else number(x, digits) for k in _ENDS])


def column(e: Mapping[str, Any], places: int, *, divided: float = 1.0, most: float = 1e9) -> str:
    """'2.10 (1.80 to 3.00)' in a column: value, low, high, each `divided`, all with as many decimals; beyond `most`
    only that it is; – where there is none."""
    of = [None if (x := e.get(k)) is None else x / divided for k in _ENDS]
    return _ends([None if x is None else decimals(x, places) if x <= most else f"over {most:g}" for x in of])


def decimals(x: float | None, places: int) -> str:
    """A number of a column with so many decimals; one too small to show in them is not told as nothing."""
    if x is None:
        return "–"
    least = 10.0**-places
    return f"under {least:g}" if 0 < x < least / 2 else fixed(x, places)


_ENDS = ("value", "low", "high")


def _ends(told: Sequence[str | None]) -> str:
    value, low, high = (t or "–" for t in told)
    return value if low == high == "–" else f"{value} ({low} to {high})"


def p_words(row: Mapping[str, Any]) -> str:
    """The p of a look after correction."""
    p = row.get("p_adjusted")
    if p is None:
        return "too few to tell"
    return "p under 0.001" if p < 0.001 else f"p {p:.3f}" if p < 0.1 else f"p {p:.2f}"
