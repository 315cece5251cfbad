"""What the sections of a fleet page share: a question above its figure, shares, ranges and p in words."""

from collections.abc import Mapping, Sequence
from typing import Any

from stripdown.figures.figure import Figure
from stripdown.fleet.compare import ALARM
from stripdown.numbers import decimals, number
from stripdown.pages import blocks as b


def asked(question: str, drawn: Figure | None, how: str = "") -> list[b.Block]:
    """A question, the figure that answers it, and how its figures were made; nothing where there is no figure."""
    if drawn is None:
        return []
    return [b.heading(question), *b.figure(drawn), *([b.small(how)] if how else [])]


def between(e: Mapping[str, Any], digits: int) -> str:
    """'2.1 (1.8 to 3)' of value, low, high in a sentence; – where there is none."""
    return _ends([None if (x := e.get(k)) is None else number(x, digits) for k in _ENDS])


def column(e: Mapping[str, Any], places: int, *, divided: float = 1.0, most: float = 1e9) -> str:
    """'2.10 (1.80 to 3.00)' in a column: value, low, high, each `divided`, all with as many decimals; beyond `most`
    only that it is; – where there is none."""
    of = [None if (x := e.get(k)) is None else x / divided for k in _ENDS]
    return _ends([None if x is None else decimals(x, places) if x <= most else f"over {most:g}" for x in of])


_ENDS = ("value", "low", "high")


def _ends(told: Sequence[str | None]) -> str:
    value, low, high = (t or "–" for t in told)
    return value if low == high == "–" else f"{value} ({low} to {high})"


def p_words(p: float | None) -> str:
    """A p as a number; of a look too small to count there is none."""
    if p is None:
        return "too few to tell"
    return "under 0.001" if p < 0.001 else f"{p:.3f}" if p < 0.1 else f"{p:.2f}"


def both_p(row: Mapping[str, Any]) -> str:
    """'p 0.031 / 0.42': by itself, and corrected for all looks."""
    p, corrected = row.get("p"), row.get("p_adjusted")
    if corrected is None:
        return p_words(None)
    told = [p_words(x).replace("under ", "<\u00a0") for x in (p, corrected) if x is not None]
    return f"p {' / '.join(told)}"


def verdict(row: Mapping[str, Any]) -> str:
    """What the two p of a look come to, in plain words."""
    p, corrected = row.get("p"), row.get("p_adjusted")
    if corrected is None:
        return "too few to tell"
    if corrected <= ALARM:
        return "more than chance"
    return "may be chance: one of many looks" if p is not None and p <= ALARM else "no sign of a difference"
