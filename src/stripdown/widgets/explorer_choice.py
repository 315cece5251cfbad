"""Which returns are chosen, what is measured of them, by what they are grouped; and what that comes to."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal, get_args

import numpy as np

from stripdown.widgets.explorer_life import Exposed, Units
from stripdown.widgets.explorer_measure import Bar, Measure, bar, means, stated, values
from stripdown.widgets.explorer_table import DIMENSIONS, NOT_STATED, Dimension, Mask, Numbers, Table

Order = Literal["returns", "value", "name"]
ORDERS: tuple[Order, ...] = get_args(Order)
Kept = tuple[tuple[str, tuple[str, ...]], ...]
"""What is kept: dimension and names of it, in the order of the dimensions."""
ALL = "all chosen together"


@dataclass(frozen=True)
class Choice:
    """One question to a fleet; all that follows from it is worked out once, when it is asked for."""

    table: Table
    units: Units | None
    kept: Kept = ()
    measure: Measure = Measure("returns")  # noqa: RUF009  # frozen
    by: str = "model"
    order: Order = "returns"

    @property
    def dimension(self) -> Dimension:
        """That by which the returns are grouped."""
        return self.table.dimensions[self.by]

    @cached_property
    def chosen(self) -> Mask:
        """Which returns are chosen."""
        return self._kept_by(self.kept)

    def _kept_by(self, kept: Kept) -> Mask:
        mask = np.ones(self.table.size, dtype=bool)
        for d, names in kept:
            mask &= self.table.dimensions[d].among(names)
        return mask

    @cached_property
    def numbers(self) -> Numbers:
        """What each return adds to the measure; nan = not stated."""
        return values(self.table, self.measure)

    @cached_property
    def some(self) -> Mask:
        """Those of the chosen returns that state the measure."""
        return stated(self.numbers, self.chosen)

    def names(self, dimension: str) -> list[str]:
        """The names of a dimension that can still be kept: those of returns chosen by all that is kept besides."""
        own = self.table.dimensions[dimension]
        besides = self._kept_by(tuple((d, names) for d, names in self.kept if d != dimension))
        there = np.bincount(own.codes[besides], minlength=len(own.names))
        return [n for n, count in zip(own.names, there, strict=True) if count]

    def group(self, name: str | None) -> Mask:
        """The chosen returns of one group; None = all."""
        return self.chosen if name is None else self.chosen & (self.dimension.codes == self.dimension.code(name))

    @property
    def silent(self) -> str | None:
        """Why the measure has no value here; None where it has."""
        if self.measure.sort == "rate":
            return self.unknown(grouped=True)
        return None if self.chosen.any() else "no return is left: keep more of them"

    def unknown(self, *, grouped: bool) -> str | None:
        """Why the units behind the chosen returns cannot be counted; None where they can."""
        if self.units is None:
            return "the units that did not come back are unknown: give a units table with --population"
        for d in (*(d for d, _ in self.kept), *([self.by] if grouped else [])):
            if not self.units.knows(d):
                return f"the {DIMENSIONS[d]} of the units that did not come back is unknown: choose without it"
        return None

    @cached_property
    def units_chosen(self) -> Mask:
        """The rows of the units; only where all that is kept is known of them."""
        assert self.units is not None
        rows = self.units.everyone
        for d, names in self.kept:
            rows &= self.units.among(d, names)
        return rows

    def _months(self, names: Sequence[str]) -> Numbers:
        """Unit-months of groups; nan where they are not asked for or unknown."""
        if self.units is None or self.measure.sort != "rate" or self.unknown(grouped=True):
            return np.full(len(names), np.nan)
        return self.exposed.of(names).months

    @cached_property
    def exposed(self) -> Exposed:
        """What each group's units have run and how often they failed; only where that is known."""
        assert self.units is not None
        return self.units.exposure(self.by, self.units_chosen)

    @cached_property
    def groups(self) -> list[str]:
        """All groups that chosen returns fall into, in order; what states none stands last."""
        own = self.dimension
        returns, total = own.sums(np.ones(self.table.size), self.some), own.sums(self.numbers, self.some)
        value = means(self.measure.sort, returns, total, self._months(own.names))
        there = np.bincount(own.codes[self.chosen], minlength=len(own.names))
        by = {"returns": -there, "value": np.nan_to_num(-value, nan=np.inf), "name": np.zeros(len(there))}[self.order]
        places = [i for i in range(len(own.names)) if there[i]]
        places.sort(key=lambda i: (own.names[i] == NOT_STATED, by[i], own.names[i]))
        return [own.names[i] for i in places]

    def measured(self, names: Sequence[str]) -> list[Bar]:
        """The measure of some groups."""
        own = self.dimension
        return [
            bar(n, self.measure.sort, self.numbers[self.some & (own.codes == own.code(n))], m)
            for n, m in zip(names, self._months(names), strict=True)
        ]

    @cached_property
    def together(self) -> Bar:
        """The measure of all that are chosen."""
        months = float("nan")
        if self.units is not None and self.measure.sort == "rate" and not self.unknown(grouped=False):
            months = float(self.units.together(self.units_chosen).months[0])
        return bar(ALL, self.measure.sort, self.numbers[self.some], months)
