"""Units as people write them: spelling → family, and factor and offset to the family's base unit.

Factors follow from exact definitions (inch 25.4 mm, pound-force 4.4482216152605 N, US gallon 231 cubic inches,
conventional mercury 13595.1 kg/m³ at 9.80665 m/s²), as NIST SP 811 (2008), Appendix B, gives them.
"""

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Literal

Reference = Literal["gauge", "absolute", "down"]

ATMOSPHERE = 101.325
"""Standard atmosphere [kPa]."""


@dataclass(frozen=True, slots=True)
class Scale:
    """base value = value · factor + offset. `reference` where the spelling itself says what a pressure counts from."""

    name: str
    factor: float
    offset: float = 0.0
    reference: Reference | None = None


BASE = {
    "resistance": "ohm",
    "voltage": "V",
    "current": "A",
    "pressure": "kPa",
    "temperature": "degC",
    "temperature difference": "K",
    "acid number": "mg KOH/g",
    "moisture": "ppm",
    "torque": "N·m",
    "length": "mm",
    "pressure rise": "kPa/min",
    "volume": "l",
    "frequency of starts": "1/h",
}
"""Family → base unit of `Reading.base`."""

_INCH = 25.4  # mm
_PSI = 4.4482216152605 / 0.0254**2 / 1000  # kPa
_MMHG = 13595.1 * 9.80665 * 1e-6  # kPa, conventional mercury
_LBF_FT = 4.4482216152605 * 0.3048  # N·m
_GALLON = 231 * 0.254**3  # l
_FAHRENHEIT = 5 / 9

# Family → rows of (name, factor, offset, reference, other spellings). Spellings stand without blanks, dots, dashes,
# and with Ω as ohm, µ as u and ° as deg: `_plain` brings what was written to that form.
_Row = tuple[str, float, float, Reference | None, tuple[str, ...]]
_ROWS: dict[str, tuple[_Row, ...]] = {
    "resistance": (
        ("ohm", 1.0, 0.0, None, ("ohms", "R")),
        ("kohm", 1e3, 0.0, None, ("kohms", "kiloohm", "kiloohms", "kilohm", "kilohms")),
        ("Mohm", 1e6, 0.0, None, ("MOhm", "Mohms", "MOhms", "megohm", "megohms", "megaohm", "megaohms", "meg")),
        ("mohm", 1e-3, 0.0, None, ("mOhm", "mohms", "mOhms", "milliohm", "milliohms")),
        ("Gohm", 1e9, 0.0, None, ("Gohms", "gigohm", "gigaohm")),
    ),
    "voltage": (
        ("V", 1.0, 0.0, None, ("volt", "volts", "VAC", "VDC")),
        ("mV", 1e-3, 0.0, None, ("millivolt", "millivolts")),
        ("kV", 1e3, 0.0, None, ("kilovolt",)),
    ),
    "current": (
        ("A", 1.0, 0.0, None, ("amp", "amps", "ampere", "amperes")),
        ("mA", 1e-3, 0.0, None, ("milliamp", "milliamps")),
    ),
    "pressure": (
        ("psi", _PSI, 0.0, None, ("lbf/in2", "lb/in2")),
        ("psig", _PSI, 0.0, "gauge", ("psi(g)",)),
        ("psia", _PSI, 0.0, "absolute", ("psi(a)",)),
        ("bar", 100.0, 0.0, None, ("bars",)),
        ("barg", 100.0, 0.0, "gauge", ("bar(g)",)),
        ("bara", 100.0, 0.0, "absolute", ("bar(a)",)),
        ("kPa", 1.0, 0.0, None, ()),
        ("kPag", 1.0, 0.0, "gauge", ("kPa(g)",)),
        ("kPaa", 1.0, 0.0, "absolute", ("kPa(a)", "kPaabs")),
        ("MPa", 1e3, 0.0, None, ()),
        ("inHg", _MMHG * _INCH, 0.0, "down", ("in/Hg", '"Hg', "inchHg", "inchesHg")),
        ("kgf/cm2", 98.0665, 0.0, None, ("kg/cm2",)),
        ("mbar", 0.1, 0.0, None, ("millibar", "hPa")),
        ("Pa", 1e-3, 0.0, None, ()),
        ("micron", _MMHG / 1000, 0.0, "absolute", ("microns", "umHg", "mTorr")),
        ("mmHg", _MMHG, 0.0, "absolute", ("Torr",)),
    ),
    "temperature": (
        ("degC", 1.0, 0.0, None, ("C", "celsius")),
        ("degF", _FAHRENHEIT, -32 * _FAHRENHEIT, None, ("F", "fahrenheit")),
        ("K", 1.0, -273.15, None, ("kelvin",)),
    ),
    "temperature difference": (
        ("K", 1.0, 0.0, None, ("kelvin",)),
        ("degC", 1.0, 0.0, None, ("C", "celsius")),
        ("degF", _FAHRENHEIT, 0.0, None, ("F", "fahrenheit")),
    ),
    "acid number": (("mg KOH/g", 1.0, 0.0, None, ("mgKOH/goil", "mgKOHperg")),),
    "moisture": (("ppm", 1.0, 0.0, None, ("ppmw", "ppmmass", "ppm(mass)", "mg/kg", "ug/g")),),
    "torque": (
        ("N·m", 1.0, 0.0, None, ("Nxm",)),
        ("lbf·ft", _LBF_FT, 0.0, None, ("ftlb", "ftlbf", "lbft", "ftlbs", "lbsft", "lb/ft", "ft/lb")),
        ("lbf·in", _LBF_FT / 12, 0.0, None, ("inlb", "inlbf", "lbin", "inlbs")),
        ("kgf·m", 9.80665, 0.0, None, ("kgm",)),
    ),
    "length": (
        ("mm", 1.0, 0.0, None, ()),
        ("um", 1e-3, 0.0, None, ("micron", "microns", "micrometre", "micrometer")),
        ("thou", _INCH / 1000, 0.0, None, ("mil", "mils")),
        ("in", _INCH, 0.0, None, ("inch", "inches", '"')),
        ("cm", 10.0, 0.0, None, ()),
    ),
    "pressure rise": (
        ("kPa/min", 1.0, 0.0, None, ()),
        ("psi/min", _PSI, 0.0, None, ("psig/min", "psipermin", "psi/minute")),
        ("bar/min", 100.0, 0.0, None, ("barg/min",)),
        ("mbar/min", 0.1, 0.0, None, ("hPa/min",)),
        ("inHg/min", _MMHG * _INCH, 0.0, None, ()),
    ),
    "volume": (
        ("l", 1.0, 0.0, None, ("litre", "liter", "litres", "liters", "ltr", "dm3")),
        ("ml", 1e-3, 0.0, None, ("cc", "cm3", "millilitre", "milliliter")),
        ("pint", _GALLON / 8, 0.0, None, ("pints", "pt", "USpint", "pint(US)")),
        ("quart", _GALLON / 4, 0.0, None, ("quarts", "qt", "USquart", "quart(US)")),
        ("gal", _GALLON, 0.0, None, ("gallon", "gallons", "USgal", "gal(US)", "USgallon")),
        ("fl oz", _GALLON / 128, 0.0, None, ("USfloz", "floz(US)")),
    ),
    "frequency of starts": (
        (
            "1/h",
            1.0,
            0.0,
            None,
            ("/h", "1/hr", "/hr", "perhour", "starts/h", "starts/hr", "startsperhour", "1/hour", "/hour"),
        ),
        ("1/day", 1 / 24, 0.0, None, ("/day", "perday", "starts/day", "1/d")),
    ),
}

# Where a capital turns milli into mega the case is never guessed at.
_CASE_COUNTS = frozenset({"Mohm", "mohm", "Mohms", "mohms", "MOhm", "mOhm", "MOhms", "mOhms", "MPa", "mV", "mA"})


@lru_cache(maxsize=1024)  # a large batch asks for the same few units again and again
def lookup(spelling: str, family: str) -> Scale | None:
    """The scale that `spelling` means in this family, or None. Case is forgiven where only one unit can be meant."""
    exact, folded = _index(family)
    plain = _plain(spelling)
    return exact.get(plain) or folded.get(plain.casefold())


def either_case(spelling: str, family: str) -> tuple[str, ...]:
    """The units that differ from `spelling` only in capitals that count, as Mohm and mohm from MOHM."""
    plain = _plain(spelling).casefold()
    return tuple(dict.fromkeys(scale.name for s, scale in _index(family)[0].items() if s.casefold() == plain))


def families(spelling: str) -> tuple[str, ...]:
    """All families in which this spelling is a unit, the plainest first."""
    return tuple(f for f in BASE if lookup(spelling, f))


_USUAL = {
    "resistance": ("ohm", "kohm", "Mohm"),
    "voltage": ("V", "mV"),
    "current": ("A",),
    "pressure": ("psi", "psig", "bar", "kPa", "MPa", "inHg"),
    "temperature": ("degC", "degF"),
    "torque": ("N·m", "lbf·ft"),
    "length": ("mm", "um", "thou"),
    "frequency of starts": ("1/h",),
}


def names(family: str) -> tuple[str, ...]:
    """The units of a family that a message should propose."""
    return _USUAL.get(family) or tuple(row[0] for row in _ROWS[family])


def spellings() -> Iterator[tuple[str, str, Scale]]:
    """Every (family, spelling, scale) of the table."""
    for family in _ROWS:
        for spelling, scale in _index(family)[0].items():
            yield family, spelling, scale


def to_base(value: float, scale: Scale) -> float:
    """`value` in the base unit of the scale's family."""
    return value * scale.factor + scale.offset


def _plain(spelling: str) -> str:
    """One form for the many ways to write a unit: 'lbf·ft', 'lbf-ft', 'lbf ft' → 'lbfft', 'MΩ' → 'Mohm'."""
    text = unicodedata.normalize("NFKC", spelling)
    text = text.replace("Ω", "ohm").replace("μ", "u").replace("°", "deg").replace("′′", '"')
    return re.sub(r"[\s·⋅•∙*.‐-―_-]+", "", text)


@cache
def _index(family: str) -> tuple[dict[str, Scale], dict[str, Scale]]:
    exact: dict[str, Scale] = {}
    for name, factor, offset, reference, others in _ROWS[family]:
        scale = Scale(name, factor, offset, reference)
        exact |= dict.fromkeys((_plain(name), *others), scale)
    folded = {s.casefold(): scale for s, scale in exact.items() if s not in _CASE_COUNTS}
    return exact, folded
