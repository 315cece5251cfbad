"""Takes values out of one limit sheet's tables and notes everything that is wrong with them."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from stripdown.limits.sheet import RULES
from stripdown.record import units
from stripdown.record.fault import Fault
from stripdown.record.text import either, near, shown

_LARGEST = 1e12
"""A number beyond it is a slip of the pen in any unit."""
_REFERENCES: Mapping[str, tuple[tuple[str, ...], str]] = {
    "evacuation": (("gauge", "down"), "write Pa, mbar or micron: the pressure counts from zero"),
    "pull_down": (("gauge",), "write inHg, or kPa, mbar or bar that count from zero"),
    "net_oil_pressure": (("absolute", "down"), "write psi, bar or kPa: it is a difference"),
}
"""Rule → the kinds of unit that would mean something else, and what to write."""


class Reader:
    """Takes values out of one file's tables and notes what is wrong with them."""

    def __init__(self, path: Path, faults: list[Fault]) -> None:
        self.path, self.faults = path, faults

    def fault(self, entry: str, what: str, fix: str) -> None:
        self.faults.append(Fault(str(self.path), entry, what, fix))

    def table(self, raw: Any, entry: str, keys: tuple[str, ...] | None) -> Mapping[str, Any]:
        """`raw` as a table whose keys are all among `keys`."""
        if not isinstance(raw, dict):
            self.fault(entry, f"is {shown(raw)}", "write a table")
            return {}
        for key in raw:
            if keys is not None and key not in keys:
                meant = near(key, keys)
                fix = f"write {meant}" if meant else f"use {either(keys)}"
                self.fault(f"{entry}.{shown(key)[1:-1]}".lstrip("."), "is not known here", fix)
        return {k: v for k, v in raw.items() if keys is None or k in keys}

    def number(self, raw: Any, entry: str, *, positive: bool = False) -> float | None:
        if raw is None:
            self.fault(entry, "is missing", "write a number")
            return None
        if isinstance(raw, bool) or not isinstance(raw, int | float) or not abs(raw) <= _LARGEST:  # nan is not
            self.fault(entry, f"is {shown(raw)}", "write a number")
            return None
        if positive and raw <= 0:
            self.fault(entry, f"is {shown(raw)}", "write a number above 0")
            return None
        return float(raw)

    def count(self, raw: Any, entry: str) -> int | None:
        if isinstance(raw, bool) or not isinstance(raw, int) or not 1 <= raw <= 99:
            self.fault(entry, f"is {shown(raw)}", "write a whole number from 1 to 99")
            return None
        return raw

    def part(self, raw: Any, entry: str, *, share: bool) -> float:
        """One part of an instrument's accuracy; `share`: of the reading."""
        number = self.number(raw, entry)
        if number is not None and number < 0:
            self.fault(entry, f"is {shown(raw)}", "write 0 or more")
        elif number is not None and share and number > 1:
            self.fault(entry, f"is {shown(raw)}, more than the whole reading", "write 0.05 for 5 %")
        return number or 0.0

    def text(self, raw: Any, entry: str) -> str | None:
        if not isinstance(raw, str) or not raw.strip() or not raw.isprintable():
            self.fault(entry, f"is {shown(raw)}", "write text on one line")
            return None
        return raw.strip()

    def word(self, raw: Any, entry: str, words: tuple[str, ...]) -> str | None:
        if raw not in words:
            self.fault(entry, f"is {shown(raw)}", f"write {either(words)}")
            return None
        return str(raw)

    def scale(self, raw: Any, entry: str, rule: str) -> units.Scale | None:
        """The scale of a limit's unit; for rules of one unit only that one will do."""
        base, family = RULES[rule]
        if family is None:
            if raw == base:
                return units.Scale(base, 1.0)
            self.fault(entry, f"is {shown(raw)}", f'write "{base}"')
            return None
        scale = units.lookup(raw, family) if isinstance(raw, str) else None
        if scale is None:
            self.fault(entry, f"is {shown(raw)}, not a unit of {family}", f"write {either(units.names(family))}")
            return None
        refused, fix = _REFERENCES.get(rule, ((), ""))
        if scale.reference in refused:
            self.fault(entry, f"is {shown(raw)}, which counts from elsewhere", fix)
            return None
        if base == "Mohm":
            return units.Scale(scale.name, scale.factor / 1e6)
        return scale
