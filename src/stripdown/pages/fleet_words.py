"""What the sections of a fleet page share: a question above its figure, shares, ranges and p in words."""

from collections.abc import Mapping
from typing import Any

from stripdown.figures.figure import Figure
from stripdown.figures.words import percent
from stripdown.pages import blocks as b
from stripdown.pages.units import number


def asked(question: str, drawn: Figure | None, how: str = "") -> list[b.Block]:
    """A question, the figure that answers it, and how its figures were made; nothing where there is no figure."""
    if drawn is None:
        return []
    return [b.heading(question), *b.figure(drawn), *([b.small(how)] if how else [])]


def interval(r: Mapping[str, Any]) -> str:
    """'20 % (15 to 26)'."""
    return f"{percent(r['share'])} ({100 * r['low']:.0f} to {100 * r['high']:.0f})"


def between(e: Mapping[str, Any], digits: int, *, divided: float = 1.0, most: float = 1e9) -> str:
    """'2.1 (1.8 to 2.5)' of value, low, high, each `divided`; beyond `most` only that it is; – where there is none."""
    if e.get("value") is None:
        return "–"
    value, *ends = (_told(e.get(k), digits, divided, most) for k in ("value", "low", "high"))
    return value if ends == ["–", "–"] else f"{value} ({ends[0]} to {ends[1]})"


def _told(x: float | None, digits: int, divided: float, most: float) -> str:
    if x is None:
        return "–"
    return number(x / divided, digits) if x / divided <= most else f"over {most:g}"


def p_words(row: Mapping[str, Any]) -> str:
    """The p of a look after correction."""
    p = row.get("p_adjusted")
    if p is None:
        return "too few to tell"
    return "p under 0.001" if p < 0.001 else f"p {p:.3f}" if p < 0.1 else f"p {p:.2f}"
