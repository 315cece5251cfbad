"""The table of returns as codes and plain arrays, so that every question about it is a sum, not a search."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from stripdown.fleet.lives import event_day

Mask = NDArray[np.bool_]
Numbers = NDArray[np.float64]
Codes = NDArray[np.int64]

NOT_STATED = "not stated"
DIMENSIONS: dict[str, str] = {
    "model": "model",
    "site": "site",
    "contractor": "contractor",
    "duty": "duty",
    "refrigerant": "refrigerant",
    "first": "first mechanism by headline",
    "status": "status",
    "opened_before": "opened before",
    "build_month": "month of building",
    "half_year": "half-year of failure",
    "outcome": "outcome",
    "liability": "proposal on liability",
}
"""What returns are kept and grouped by → its words."""
_COLUMN = {"first": "headline"}


@dataclass(frozen=True)
class Dimension:
    """`codes[i]` is the place in `names` of return i; names are sorted, what is not stated comes last."""

    names: tuple[str, ...]
    codes: Codes

    def code(self, name: str) -> int | None:
        """The place of a name; None where no return has it."""
        return self.names.index(name) if name in self.names else None

    def among(self, names: Sequence[str]) -> Mask:
        """Which returns have one of these names."""
        wanted = np.array([n in names for n in self.names], dtype=bool)
        return np.asarray(wanted[self.codes]) if len(wanted) else np.zeros(len(self.codes), dtype=bool)

    def sums(self, weights: Numbers, chosen: Mask) -> Numbers:
        """The weights of the chosen returns, added up by name."""
        return np.bincount(self.codes[chosen], weights=weights[chosen], minlength=len(self.names)).astype(np.float64)


class Table:
    """The returns of one fleet, each column in the form in which it is summed."""

    def __init__(self, returns: pd.DataFrame) -> None:
        self.returns = returns
        self.size = len(returns)
        self.place = np.argsort(np.argsort(returns["claim"].to_numpy(dtype=object), kind="stable"))
        """Where each return stands when all are in the order of their claims."""
        worded = {d: returns[_COLUMN.get(d, d)] for d in DIMENSIONS if d not in ("build_month", "half_year")}
        self.dimensions: Mapping[str, Dimension] = {d: _of_words(c) for d, c in worded.items()} | {
            "build_month": _of_days(returns["built"], str),
            "half_year": _of_days(event_day(returns), _half_year),
        }
        self.parts, self._damaged = _parts(returns["parts"])
        self.currency, self.cost = _cost(returns)
        """Expected cost of each return's outcome [`currency`]; nan where it has none or is in another currency."""
        self._columns: dict[str, Numbers] = {}

    def column(self, name: str) -> Numbers:
        """A column of the table as numbers, nan = not stated."""
        if name not in self._columns:
            self._columns[name] = np.asarray(self.returns[name].to_numpy(dtype=np.float64))
        return self._columns[name]

    def damaged(self, part: str) -> Numbers:
        """1 where the part was found damaged, else 0."""
        return np.asarray(self._damaged[self.parts.index(part)], dtype=np.float64)


def _of_words(column: pd.Series) -> Dimension:
    values = column.astype("category")
    return dimension(values.cat.codes.to_numpy(), [str(n) for n in values.cat.categories])


def _of_days(days: pd.Series, named: Callable[[str], str]) -> Dimension:
    """Days by what `named` calls their month, "2021-06"."""
    codes, months = pd.factorize(days.to_numpy().astype("datetime64[M]"), sort=True)
    return dimension(codes, [named(str(m)) for m in months])


def dimension(codes: NDArray[np.integer], words: Sequence[str]) -> Dimension:
    """`words` of each code, some of which may be equal or empty; code -1 = nothing stated."""
    told = [*(w or NOT_STATED for w in words), NOT_STATED]
    names = sorted({told[c] for c in np.unique(codes)}, key=lambda n: (n == NOT_STATED, n))
    place = {name: i for i, name in enumerate(names)}
    return Dimension(tuple(names), np.array([place.get(w, 0) for w in told], dtype=np.int64)[codes])


def _half_year(month: str) -> str:
    year, number = month.split("-")
    return f"{year} {'first' if int(number) <= 6 else 'second'} half"


def _parts(column: pd.Series) -> tuple[tuple[str, ...], NDArray[np.bool_]]:
    """All parts found damaged somewhere, and a row a part: which returns name it."""
    codes, lists = pd.factorize(column.astype("str"))
    members = [set(str(text).split(";")) - {""} for text in lists]
    parts = sorted(set().union(*members)) if members else []
    if not parts:
        return (), np.zeros((0, len(column)), dtype=bool)
    has = np.array([[p in m for m in members] for p in parts], dtype=bool)
    return tuple(parts), has[:, codes]


def _cost(returns: pd.DataFrame) -> tuple[str, Numbers]:
    """The currency that most returns are priced in, and their costs in it."""
    currency = returns["currency"].astype("str")
    stated = currency[currency != ""].value_counts()
    if not len(stated):
        return "", np.full(len(returns), np.nan)
    most = str(stated.index[0])
    return most, returns["expected_cost"].where(currency == most).to_numpy(dtype=np.float64)
