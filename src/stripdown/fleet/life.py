"""How long each model lives: Weibull or Weibayes, Kaplan-Meier beside it, and what fails how soon."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from stripdown.fleet.ages import Ages, ages
from stripdown.fleet.columns import MECHANISMS
from stripdown.fleet.life_intervals import Estimate, intervals, weibayes
from stripdown.fleet.lives import Lives
from stripdown.fleet.nonparametric import incidence, life_table, log_log
from stripdown.fleet.tallies import Row
from stripdown.fleet.weibull import LEAST_FAILURES, NoFitError, Weibull, fit

STATED_SHAPE = 1.5
"""Weibayes shape where the whole fleet has too few failures to estimate one: an estimate between chance and wear."""
_POINTS = 200
_YEAR = 365
_FAULTS = [m for m in MECHANISMS if m != "no_fault"]


@dataclass(frozen=True)
class ModelLife:
    """One model: its rows of the lives, its ages [day], the curve that was fitted or stated, and how it came."""

    model: str
    rows: np.ndarray
    data: Ages
    curve: Weibull
    shape: Estimate
    scale: Estimate
    b10: Estimate
    method: str

    def as_json(self, lives: Lives) -> Row:
        """The contract's entry."""
        f = lives.frame.iloc[self.rows]
        came_back = float((f["count"] - f["failed"])[f["row"] >= 0].sum())
        still = int(f["count"][f["row"] < 0].sum())
        out: Row = {"model": self.model, "failures": self.data.failures, "running": still, "removed_good": came_back}
        out |= {k: vars_of(e) for k, e in (("shape", self.shape), ("scale", self.scale), ("b10", self.b10))}
        return out | {"unit": "day", "method": self.method}


def vars_of(e: Estimate) -> Row:
    """value, low, high."""
    return {"value": e.value, "low": e.low, "high": e.high}


def model_lives(lives: Lives) -> list[ModelLife]:
    """Every model of the population, those with most failures first."""
    members = lives.frame.groupby("model", observed=True).indices
    pooled, source = _stated_shape(lives)
    out = [
        _model_life(str(m), np.asarray(rows), lives.ages(np.asarray(rows)), pooled, source)
        for m, rows in members.items()
    ]
    return sorted((m for m in out if len(m.data.count)), key=lambda m: (-m.data.failures, m.model))


def _stated_shape(lives: Lives) -> tuple[float, str]:
    """The shape for models with too few failures, and where it is from."""
    data = lives.ages()
    if data.failures >= LEAST_FAILURES:
        try:
            return fit(data).shape, "fitted to all models together"
        except NoFitError:
            pass
    return STATED_SHAPE, "estimate, no source: too few failures in the whole fleet"


def _model_life(model: str, rows: np.ndarray, data: Ages, shape: float, source: str) -> ModelLife:
    if data.failures >= LEAST_FAILURES:
        try:
            curve = fit(data)
            return ModelLife(model, rows, data, curve, *intervals(data, curve), "Weibull, likelihood ratio, 95 %")
        except NoFitError as why:
            source = f"{source}; no own shape: {why}"
    scale, b10 = weibayes(data, shape)
    what = "Weibayes, 95 %" if data.failures > 0 else "Weibayes without failure: one assumed, low end one-sided 95 %"
    curve = Weibull(shape, scale.value, float("nan"), data.failures)
    return ModelLife(
        model, rows, data, curve, Estimate(shape, None, None), scale, b10, f"{what}; shape {shape:.3g} {source}"
    )


def kaplan_meier(m: ModelLife) -> Row:
    """Share still good by age [day], at most some hundred steps, with the last age watched."""
    t = life_table(m.data)
    low, high = log_log(1 - t.survival, t.error, t.at_risk)
    some = np.unique(np.linspace(0, len(t.age) - 1, min(_POINTS, len(t.age))).astype(int)) if len(t.age) else slice(0)
    out = {"days": t.age, "survival": t.survival, "low": 1 - high, "high": 1 - low, "at_risk": t.at_risk}
    watched = np.where(np.isfinite(m.data.upper), m.data.upper, m.data.lower).max()
    return {"model": m.model, **{k: v[some].tolist() for k, v in out.items()}, "watched_days": float(watched)}


def incidences(lives: Lives, models: list[ModelLife], returns: pd.DataFrame) -> list[Row]:
    """Share failed by each mechanism at each full year, the others competing."""
    first = returns[[f"first.{m}" for m in _FAULTS]]
    out: list[Row] = []
    for m in models:
        f = lives.frame.iloc[m.rows]
        bad = f[f["failed"] > 0]
        causes = first.loc[bad["row"]].to_numpy(dtype=float)
        if not len(bad):
            continue
        rest = ages(running=f["age_day"], running_count=f["count"] - f["failed"])
        age = np.r_[bad["age_day"].to_numpy(), rest.lower]
        count = np.r_[bad["failed"].to_numpy(), rest.count]
        table = incidence(age, count, np.vstack([causes, np.zeros((len(rest.lower), len(_FAULTS)))]))
        years = np.arange(_YEAR, max(age.max(), _YEAR) + 1, _YEAR)
        value, error = table.at(years)
        at_risk = table.at_risk[np.clip(np.searchsorted(table.age, years), 0, len(table.age) - 1)]
        low, high = log_log(value, error, at_risk[:, None])
        order = np.argsort(-value[-1], kind="stable")
        out += [
            {"model": m.model, "mechanism": _FAULTS[k], "at_days": years.tolist(), "value": value[:, k].tolist(),
             "low": low[:, k].tolist(), "high": high[:, k].tolist()}
            for k in order if value[-1, k] > 0
        ]  # fmt: skip
    return out
