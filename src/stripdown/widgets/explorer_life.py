"""The units behind the returns: how long those of a selection live, what fails how soon, and how often."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from stripdown.fleet import life
from stripdown.fleet.equal_age import equal_age
from stripdown.fleet.lives import DAYS_A_MONTH, Lives
from stripdown.fleet.plain import plain
from stripdown.widgets.explorer_table import Dimension, Mask, Numbers, dimension

CURVES = ("life", "incidence")


@dataclass(frozen=True)
class Exposure:
    """Of each group: unit-months run, failures, and failures expected at equal model and age."""

    months: Numbers
    failed: Numbers
    expected: Numbers


@dataclass(frozen=True)
class Exposed:
    """The same of every group: a row each of `sums` for months, failures and expected, a column a name."""

    names: tuple[str, ...]
    sums: Numbers

    def of(self, names: Sequence[str]) -> Exposure:
        """Of each of these; zero where no unit has the name."""
        places = [self.names.index(n) if n in self.names else None for n in names]
        return Exposure(*(np.array([0.0 if i is None else row[i] for i in places]) for row in self.sums))

    def besides(self, name: str) -> Exposure:
        """Of all others together."""
        others = self.sums[:, [n != name for n in self.names]]
        return Exposure(*others.sum(axis=1, keepdims=True))


class Units:
    """All units of a population, in the order of their ages, as far as the units table states who they are."""

    def __init__(self, lives: Lives, stated: frozenset[str], returns: pd.DataFrame) -> None:
        order = np.argsort(lives.frame["age_day"].to_numpy(), kind="stable")
        self.lives = replace(lives, frame=lives.frame.iloc[order].reset_index(drop=True))
        self.stated = stated
        """The dimensions that the units table states, or that go without saying (model)."""
        self._returns = returns
        f = self.lives.frame
        count, age, self._failed = (f[c].to_numpy(dtype=float) for c in ("count", "age_day", "failed"))
        self._months = count * age / DAYS_A_MONTH
        self._expected = equal_age(lives).expected(f["model"].cat.codes.to_numpy(), age, count)
        self._dimensions = {d: _dimension(f[d]) for d in sorted(stated) if d in f}

    @property
    def everyone(self) -> Mask:
        """All rows."""
        return np.ones(len(self._failed), dtype=bool)

    def knows(self, dimension: str) -> bool:
        """Whether it is known of units that did not come back."""
        return dimension in self._dimensions

    def among(self, dimension: str, names: Sequence[str]) -> Mask:
        """The rows of some names of a known dimension."""
        return self._dimensions[dimension].among(names)

    def exposure(self, dimension: str, chosen: Mask) -> "Exposed":
        """Of every group of a known dimension, among the chosen rows."""
        own = self._dimensions[dimension]
        sums = (own.sums(w, chosen) for w in (self._months, self._failed, self._expected))
        return Exposed(own.names, np.array(list(sums)))

    def together(self, rows: Mask) -> Exposure:
        """Of the rows as one group."""
        return Exposure(*(np.array([w[rows].sum()]) for w in (self._months, self._failed, self._expected)))

    def curves(self, rows: Mask, name: str, what: str) -> dict[str, Any]:
        """`life`, `kaplan_meier` and, where it is `what`, `incidence` of the rows taken together, as in the report."""
        frame = self.lives.frame[rows]
        frame = frame.assign(model=pd.Categorical([name]).repeat(len(frame)))
        some = replace(self.lives, frame=frame)
        models = life.model_lives(some)
        return {
            "life": [plain(m.as_json(some)) for m in models],
            "kaplan_meier": [plain(life.kaplan_meier(m)) for m in models],
            "incidence": plain(life.incidences(some, models, self._returns)) if what == "incidence" else [],
        }


def _dimension(column: pd.Series) -> Dimension:
    return dimension(column.cat.codes.to_numpy(), [str(n) for n in column.cat.categories])
