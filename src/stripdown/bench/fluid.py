"""A refrigerant's saturation and gas properties from the tables beside this module; CoolProp made them and is never
loaded here.

Recipe: tools/make_refrigerant_tables.py. Inside the range of its file a table is within 0.1 K and 0.2 % of CoolProp
(tested).
"""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from stripdown.bench.number import Number

_FOLDER = Path(__file__).parent / "refrigerants"
_ALIASES = {
    "R1234ZE": "R1234ze(E)",
    "PROPANE": "R290",
    "AMMONIA": "R717",
    "NH3": "R717",
    "CO2": "R744",
    "ISOBUTANE": "R600a",
}


class UnsupportedRefrigerantError(ValueError):
    """No table for this refrigerant; the message says which there are."""


class OutsideTableError(ValueError):
    """A state that a refrigerant's table does not cover; the message says why."""


@dataclass(frozen=True, slots=True)
class Line:
    """A polynomial on middle ± half, lowest power first."""

    middle: float
    half: float
    c: tuple[float, ...]

    def at(self, x: Number) -> Number:
        """Its value at x."""
        return horner(self.c, (x - self.middle) / self.half)


@dataclass(frozen=True, slots=True)
class Gas:
    """Enthalpy, entropy and pressure over density of the superheated gas as polynomials in ln p and superheat.

    rows[i][j] belongs to power i of the scaled logarithm and power j of the scaled superheat.
    """

    log_p: tuple[float, float]
    superheat: tuple[float, float]
    h: tuple[tuple[float, ...], ...]
    s: tuple[tuple[float, ...], ...]
    w: tuple[tuple[float, ...], ...]


@dataclass(frozen=True, slots=True)
class Fluid:
    """One refrigerant. `low`..`high` [degC] bound its saturation table, `critical` [degC]."""

    name: str
    halocarbon: bool
    critical: float
    low: float
    high: float
    made_with: str
    bubble_pressure: Line
    dew_pressure: Line
    bubble_temperature: Line
    dew_temperature: Line
    gas: Gas


def horner(c: Sequence[Any], x: Number) -> Number:
    """Value of a polynomial, lowest power first.

    c [any], x [1]. Result [unit of c]. Source: Horner's scheme.

    >>> horner([1.0, 2.0, 3.0], 2.0)
    17.0
    """
    value: Number = 0.0
    for k in reversed(c):
        value = value * x + k
    return value


def isobar(rows: Sequence[Sequence[float]], scale: tuple[float, float], log_p: Number) -> list[Number]:
    """The polynomial in superheat alone that a gas property is at one pressure.

    rows, scale: of `Gas`; log_p [1], ln of kPa. Result [unit of the property], lowest power first. Source: arithmetic.

    >>> isobar([[1.0, 0.0], [0.0, 2.0]], (0.0, 1.0), 0.5)
    [1.0, 1.0]
    """
    x = (log_p - scale[0]) / scale[1]
    return [horner([row[j] for row in rows], x) for j in range(len(rows[0]))]


def slope(c: Sequence[Any]) -> list[Number]:
    """Coefficients of a polynomial's derivative, lowest power first.

    c [any], two or more. Result [unit of c]. Source: arithmetic.

    >>> slope([1.0, 2.0, 3.0])
    [2.0, 6.0]
    """
    return [n * k for n, k in enumerate(c)][1:]


def names() -> tuple[str, ...]:
    """The refrigerants that have a table.

    >>> "R449A" in names()
    True
    """
    return tuple(sorted(p.stem for p in _FOLDER.glob("*.json")))


def fluid_of(name: str) -> Fluid:
    """The table of a refrigerant, however its name is written (R-449A, r449a, 449A).

    Raises UnsupportedRefrigerantError where there is none.

    >>> fluid_of("r-449a").name
    'R449A'
    """
    plain = "".join(c for c in name.upper() if c.isalnum() or c in "()")
    plain = plain if plain in _ALIASES or plain.startswith("R") else f"R{plain}"
    found = _ALIASES.get(plain) or _by_upper().get(plain)
    if found is None:
        raise UnsupportedRefrigerantError(f"no table for refrigerant {name[:40]!r}; there are {', '.join(names())}")
    return _load(found)


@cache
def _by_upper() -> dict[str, str]:
    return {n.upper(): n for n in names()}


@cache
def _load(name: str) -> Fluid:
    raw = json.loads((_FOLDER / f"{name}.json").read_text(encoding="utf-8"))
    sides = ("bubble_pressure", "bubble_temperature", "dew_pressure", "dew_temperature")
    lines = {k: Line(raw[k]["scale"][0], raw[k]["scale"][1], tuple(raw[k]["c"])) for k in sides}
    gas = raw["gas"]
    surfaces = {k: tuple(tuple(row) for row in gas[k]) for k in "hsw"}
    return Fluid(
        name=raw["name"],
        halocarbon=raw["halocarbon"],
        critical=raw["critical"],
        low=raw["range"][0],
        high=raw["range"][1],
        made_with=raw["made_with"],
        gas=Gas(tuple(gas["log_p"]), tuple(gas["superheat"]), **surfaces),
        **lines,
    )


def everywhere(condition: Number) -> bool:
    """Whether a condition holds for a number, or for all of an array.

    >>> everywhere(np.array([False, True]))
    False
    """
    return condition if isinstance(condition, bool) else bool(np.all(condition))
