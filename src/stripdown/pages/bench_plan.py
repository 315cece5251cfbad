"""What a bench looks for and measures at each step (`bench_plan.toml`): the same for printed sheets and workbooks."""

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Protocol

from stripdown import vocabulary
from stripdown.record import schema, units

FALLBACK_CYLINDERS = 4
"""Cylinders taken where neither record nor limit sheet says how many there are."""

_BOLTS = 4
"""Rows for a torque."""


class Kind(Protocol):
    """What decides which parts and points a machine has; None = not known, and nothing is left out for it."""

    @property
    def cooling(self) -> str | None: ...
    @property
    def motor(self) -> str | None: ...
    @property
    def oil_feed(self) -> str | None: ...
    @property
    def cylinders(self) -> int | None: ...


@dataclass(frozen=True, slots=True)
class Measure:
    """One reading that a step asks for; `rules` hold its limits, none where it has none of its own."""

    quantity: str
    between: str | None
    cylinder: int | None
    at: str | None
    site: bool
    rules: tuple[str, ...]


@cache
def _plan() -> dict[str, Any]:
    return tomllib.loads(Path(__file__).with_suffix(".toml").read_text(encoding="utf-8"))


def conditions(part: str, kind: Kind) -> tuple[str, ...]:
    """What is looked for on a part of this machine, nothing where it has no such part; a missing or wrong part is no
    question of its own."""
    own = vocabulary.parts().get(part, ())
    return tuple(c for c in own if c not in ("missing", "wrong_part") and _has(part, c, kind))


def _has(part: str, condition: str, kind: Kind) -> bool:
    needs = {**_plan()["only"].get(part, {}), **_plan()["only"].get(f"{part}.{condition}", {})}
    return all((said := getattr(kind, name)) is None or said in fitting for name, fitting in needs.items())


def by_cylinder(part: str) -> bool:
    """Whether each cylinder has this part, so that it is looked at one by one."""
    return part in _plan()["by_cylinder"]["parts"]


def measures(step: str, kind: Kind) -> tuple[Measure, ...]:
    """The readings that a step asks for on this machine, in order."""
    return tuple(m for entry in _plan()["steps"].get(step, ()) for m in _measures(step, entry, kind))


def _measures(step: str, entry: dict[str, Any], kind: Kind) -> list[Measure]:
    quantity = entry["quantity"]
    if not _has(quantity, "", kind):
        return []
    at = _plan()["at"].get(step) if quantity in _plan()["at"]["quantities"] else None
    points: list[tuple[str | None, int | None]] = [(None, None)]
    between = entry.get("between")
    if between == "cylinders":
        points = [(None, n) for n in range(1, (kind.cylinders or FALLBACK_CYLINDERS) + 1)]
    elif isinstance(between, str):
        points = [(b, None) for b in _plan()[between][kind.motor or "star"]]
    elif between:
        points = [(b, None) for b in between]
    rules = tuple(entry.get("rules", ()))
    return [Measure(quantity, b, n, at, step == "site_history", rules) for b, n in points]


def rows_for(measure: Measure) -> int:
    """How many rows a blank sheet leaves for it: bolts are read one by one."""
    return _BOLTS if schema.QUANTITIES[measure.quantity].family == "torque" else 1


def first_unit(quantity: str, system: str) -> str:
    """The unit that a bench most likely reads this quantity in, SI or US; as a record takes it."""
    usual = _plan()["units"].get(quantity) or _plan()["units"].get(schema.QUANTITIES[quantity].family)
    return str(usual[system == "us"]) if usual else units.names(schema.QUANTITIES[quantity].family)[0]


def step_of(quantity: str, at: str | None) -> str:
    """The step at which a quantity is measured; winding and insulation have two, by where the meter sits."""
    found: list[str] = [s for s, entries in _plan()["steps"].items() if any(e["quantity"] == quantity for e in entries)]
    return next((s for s in found if _plan()["at"].get(s) == (at or "terminals")), found[0])
