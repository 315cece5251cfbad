"""Numbers as a page shows them: SI or US units, as many digits as the uncertainty allows; converted only here."""

import re
from datetime import date
from math import floor, isfinite, log10
from typing import Literal, NamedTuple

from stripdown.numbers import fixed as fixed
from stripdown.numbers import number as number
from stripdown.numbers import trimmed

System = Literal["si", "us"]


class Shown(NamedTuple):
    """How a unit is shown: its name, and factor and offset from the unit it comes in; a vacuum counts down, so its
    factor is below 0."""

    unit: str
    factor: float = 1.0
    offset: float = 0.0


_PSI, _INHG = 1 / 6.894757, 1 / 3.386389
_SHOWN: dict[str, tuple[Shown, Shown]] = {
    "kPa": (Shown("bar", 0.01), Shown("psi", _PSI)),
    "kPa/min": (Shown("kPa/min"), Shown("psi/min", _PSI)),
    "degC": (Shown("°C"), Shown("°F", 1.8, 32.0)),
    "K": (Shown("K"), Shown("°F difference", 1.8)),
    "N·m": (Shown("N·m"), Shown("lbf·ft", 0.7375621)),
    "mm": (Shown("mm"), Shown("thou", 1000 / 25.4)),
    "m": (Shown("m"), Shown("ft", 1 / 0.3048)),
    "l": (Shown("l"), Shown("qt", 1 / 0.946352946)),
    "1": (Shown(""), Shown("")),
}
_OF_QUANTITY: dict[tuple[str, str], tuple[Shown, Shown]] = {
    ("insulation_resistance", "ohm"): (Shown("Mohm", 1e-6), Shown("Mohm", 1e-6)),
    ("evacuation_vacuum", "kPa"): (Shown("Pa", 1000.0), Shown("micron", 7500.617)),
    ("winding_resistance", "%"): (Shown("% from the mean"), Shown("% from the mean")),
    ("rotor_air_gap", "1"): (Shown("of the mean gap"), Shown("of the mean gap")),
    ("vacuum_pull_down", "kPa"): (Shown("bar absolute", 0.01), Shown("inHg", -_INHG, 101.325 * _INHG)),
}


def shown(unit: str, system: System, quantity: str = "") -> Shown:
    """How a value in `unit` is shown in the system; a unit that has no other form stays as it is."""
    both = _OF_QUANTITY.get((quantity, unit)) or _SHOWN.get(unit)
    return Shown(unit) if both is None else both[system == "us"]


def measured(
    value: float, unit: str, system: System, *, uncertainty: float | None = None, quantity: str = "", plus: bool = False
) -> str:
    """'111 ± 2.4 °C': value, standard uncertainty and unit; a plain value has four significant digits."""
    how = shown(unit, system, quantity)
    v = value * how.factor + how.offset
    if uncertainty and isfinite(uncertainty):
        u = uncertainty * abs(how.factor)
        places = _places(u)
        text = f"{fixed(v, places, plus)} ± {fixed(u, places)}"
    else:
        text = number(v, plus=plus)
    return f"{text} {how.unit}".strip()


def limits(low: float | None, high: float | None, unit: str, system: System, quantity: str = "") -> str:
    """'2 to 5 bar', 'at least 5 Mohm', 'at most 107 °C'."""
    how = shown(unit, system, quantity)
    shown_ends = [None if x is None else x * how.factor + how.offset for x in (low, high)]
    if how.factor < 0:
        shown_ends.reverse()
    places = max(0, 2 - floor(log10(max((abs(x) for x in shown_ends if x), default=1.0))))
    ends = [None if x is None else trimmed(fixed(x, places)) for x in shown_ends]
    if ends[0] is not None and ends[1] is not None:
        return f"{ends[0]} to {ends[1]} {how.unit}".strip()
    if ends[0] is not None:
        return f"at least {ends[0]} {how.unit}".strip()
    return f"at most {ends[1]} {how.unit}".strip() if ends[1] is not None else "none"


_SAID: dict[str, tuple[Shown | None, Shown | None]] = {
    "um": (None, Shown("thou", 1 / 25.4)),
    "mm": (None, Shown("in", 1 / 25.4)),
    "m": (None, Shown("ft", 1 / 0.3048)),
    "K": (None, Shown("°F difference", 1.8)),
    "degC": (Shown("°C"), Shown("°F", 1.8, 32.0)),
    "degF": (Shown("°C", 1 / 1.8, -32 / 1.8), Shown("°F")),
    "bar": (None, Shown("psi", 100 * _PSI)),
    "kPa": (None, Shown("psi", _PSI)),
    "psi": (Shown("bar", 0.01 / _PSI), None),
    "kPa/min": (None, Shown("psi/min", _PSI)),
    "psi/min": (Shown("kPa/min", 1 / _PSI), None),
    "N·m": (None, Shown("lbf·ft", 0.7375621)),
}
_NUMBER = r"-?\d+(?:\.\d+)?"
_WITH_UNIT = re.compile(
    rf"(?<![\w.,+-])({_NUMBER})(?: to ({_NUMBER}))? ({'|'.join(sorted(_SAID, key=len, reverse=True))})(?![\w/·])"
)


def in_words(text: str, system: System) -> str:
    """A sentence with its numbers in the units of the system: '25 um' is '0.98 thou'; inHg stays, as gauges have it."""

    def told(found: re.Match[str]) -> str:
        how = _SAID[found[3]][system == "us"]
        if how is None:
            return found[0]
        return " to ".join(_converted(x, how) for x in (found[1], found[2]) if x) + f" {how.unit}"

    return _WITH_UNIT.sub(told, text)


def _converted(written: str, how: Shown) -> str:
    """As many digits as were written, two at least; of a temperature as many decimals."""
    value = float(written) * how.factor + how.offset
    if how.offset or how.factor == 1:
        return fixed(value, len(written.partition(".")[2]))
    return number(value, max(2, len(written.strip("-0.").replace(".", ""))))


def money(amount: float, currency: str) -> str:
    """'EUR 2 140', rounded to the whole."""
    return f"{currency} {fixed(amount, 0)}"


def day(when: date | None) -> str | None:
    """'3 Feb 2026': the month in letters, so that no reader takes it for the day."""
    if when is None:
        return None
    month = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")[when.month - 1]
    return f"{when.day} {month} {when.year}"


def day_of(iso: object) -> str | None:
    """`day` of an ISO date; None where there is none."""
    return day(date.fromisoformat(iso)) if isinstance(iso, str) and iso else None


def _places(u: float) -> int:
    """Decimals that leave the uncertainty two digits where it starts with 1 or 2, else one."""
    exponent = floor(log10(u))
    lead = u / 10**exponent
    return max(0, (1 if lead < 2.95 else 0) - exponent)
