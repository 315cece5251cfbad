"""What each group would have shown by now, had its units failed like all units of their model at the same age."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from stripdown.fleet.ages import Numbers
from stripdown.fleet.lives import Lives

DAY_ZERO = np.datetime64("1970-01-01")


@dataclass(frozen=True)
class EqualAge:
    """Lives of equal model, start and age counted together, and each model's cumulative hazard by day of age.

    `rows`: model (code), start [day since 1970], age_day, count, failed. `hazard[model][a]` is that up to age a.
    """

    models: tuple[str, ...]
    hazard: tuple[Numbers, ...]
    rows: pd.DataFrame

    def expected(self, model: np.ndarray, age_day: np.ndarray, count: np.ndarray) -> Numbers:
        """Failures expected of `count` units from installing to `age_day`; ages before installing give none."""
        out = np.zeros(len(model))
        for code, hazard in enumerate(self.hazard):
            some = model == code
            age = np.clip(age_day[some], -1, len(hazard) - 1).astype(np.int64)
            out[some] = np.where(age >= 0, hazard[age], 0.0) * count[some]
        return out

    def upto(self, days: np.ndarray, rows: pd.DataFrame | None = None) -> Numbers:
        """Failures expected of all of `rows` (None: its own) up to the end of each of `days` [day since 1970]."""
        r = self.rows if rows is None else rows
        model, start, age, count = (r[c].to_numpy() for c in ("model", "start", "age_day", "count"))
        return np.array([self.expected(model, np.minimum(day - start, age), count).sum() for day in days])

    def of_unit(self, model: str, age_day: float) -> float:
        """Failures expected of one unit up to an age; nan for a model without lives."""
        if model not in self.models:
            return float("nan")
        code = np.array([self.models.index(model)])
        return float(self.expected(code, np.array([age_day]), np.ones(1))[0])


def equal_age(lives: Lives) -> EqualAge:
    """Nelson-Aalen hazard of each model over all its lives, so that expected and observed agree in total."""
    rows = together(lives.frame)
    models = lives.frame["model"].cat.categories
    hazard = [_hazard(rows[rows["model"] == code]) for code in range(len(models))]
    return EqualAge(tuple(map(str, models)), tuple(hazard), rows)


def together(frame: pd.DataFrame) -> pd.DataFrame:
    """Rows of `Lives.frame` of equal model, start and age counted together."""
    keys = [frame["model"].cat.codes.to_numpy(), frame["start"].to_numpy(), frame["age_day"].to_numpy()]
    return frame[["count", "failed"]].groupby(keys).sum().reset_index(names=["model", "start", "age_day"])


def _hazard(rows: pd.DataFrame) -> Numbers:
    if not len(rows):
        return np.zeros(1)
    age = rows["age_day"].to_numpy().astype(np.int64)
    ended = np.bincount(age, weights=rows["count"])
    failed = np.bincount(age, weights=rows["failed"])
    at_risk = np.cumsum(ended[::-1])[::-1]
    return np.asarray(np.cumsum(failed / np.maximum(at_risk, 1e-12)))
