"""Numbers as people read them: one way for page, figure, terminal and table."""

from collections.abc import Mapping, Sequence
from math import floor, isfinite, log10
from typing import Any


def number(value: float, digits: int = 4, *, plus: bool = False) -> str:
    """A number with so many significant digits, groups of three kept apart, no exponent below a billion."""
    if not isfinite(value):
        return str(value)
    if value == 0:
        return "0"
    places = max(0, digits - 1 - floor(log10(abs(value))))
    return trimmed(fixed(value, places, plus))


def fixed(value: float, places: int, plus: bool = False) -> str:
    """A number with so many decimals, groups of three kept apart by a space at which no line breaks; 0 has no sign."""
    text = f"{value:{'+' if plus else ''},.{places}f}".replace(",", "\u00a0")
    return text.replace("-", "−") if text.strip("+-0.") else text.strip("+-")


def trimmed(text: str) -> str:
    """A written number without the zeros that end its decimals."""
    return text.rstrip("0").rstrip(".") if "." in text else text


def count(value: float) -> str:
    """'6 453': a count, or a sum of probabilities told as one."""
    return fixed(value, 0)


def decimals(x: float | None, places: int) -> str:
    """A number of a column with so many decimals; one too small to show in them is not told as nothing."""
    if x is None:
        return "–"
    least = 10.0**-places
    return f"under {least:g}" if 0 < x < least / 2 else fixed(x, places)


def unbroken(text: str) -> str:
    """The text on one line: 'over 99 %' whole."""
    return text.replace(" ", "\u00a0")


def probability(p: float) -> str:
    """'0.0123'; within a ten-thousandth of 0 or 1 only that it is."""
    if 0.0 < p < 0.0001:
        return "under 0.0001"
    return "over 0.9999" if 0.9999 < p < 1.0 else number(p, 4 if p > 0.999 else 3)


def percent(p: float, places: int = 0) -> str:
    """'23 %'; never a rounded 0 % or 100 %."""
    least = 10.0**-places
    if p > 1.0 - least / 100:
        return "100 %" if p >= 1.0 else f"over {100 - least:g} %"
    if p < least / 100:
        return f"under {least:g} %" if p > 0.0 else "0 %"
    return f"{fixed(100 * p, places)} %"


def share(row: Mapping[str, Any], places: int | None = None) -> str:
    """'20 % (15 to 26)' of share, low, high; `places`: decimals, None = as many as its own interval takes."""
    shown = share_places([row]) if places is None else places
    value, low, high = unbroken(percent(row["share"], shown)), *(fixed(100 * row[k], shown) for k in ("low", "high"))
    return f"{value} ({low} to {high})"


def share_places(rows: Sequence[Mapping[str, Any]]) -> int:
    """Decimals of a column of shares in percent: one where whole ones would make both ends of an interval the same."""
    return int(any(r["low"] < r["high"] and f"{100 * r['low']:.0f}" == f"{100 * r['high']:.0f}" for r in rows))
