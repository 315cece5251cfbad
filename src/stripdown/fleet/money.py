"""What the returns cost, and what of it need not have been."""

from typing import Any

import numpy as np
import pandas as pd

from stripdown.fleet.forecast import Forecast, limits
from stripdown.fleet.proportions import resampled_means, resampled_ratio
from stripdown.record.fault import Fault

_SEED = 20


def costs(returns: pd.DataFrame, ahead: Forecast, notices: list[Fault]) -> dict[str, Any]:
    """By the expected cost of each line's outcome; where there are several currencies, in the one with most returns.

    `total`; `avoidable`: of returns that need not have come; `avoidable_failure`: of failures that need not have;
    `currencies`: returns and total of each, never added up; `kept`: returns that a new cost table could not price;
    `coming`: that of the forecast.
    """
    currencies = _by_currency(returns)
    currency = currencies[0]["id"] if currencies else None
    other = returns["currency"].astype("str") != (currency or "")
    cost = returns["expected_cost"].mask(other)
    kept = int((returns["cost_kept"] != "").sum())
    unpriced = int((returns["currency"].astype("str").eq("") | returns["expected_cost"].isna()).sum())
    if len(currencies) > 1:
        told = ", ".join(f"{c['id']} ({c['returns']} returns)" for c in currencies)
        what = f"returns priced in {len(currencies)} currencies, never added up: {told}"
        fix = f"the costs are those in {currency}; judge all records with one cost table"
        notices.append(Fault("", "costs", what, fix))
    if unpriced:
        notices.append(Fault("", "costs", f"{unpriced} returns without a cost", "left out of the costs"))
    if kept:
        what = f"{kept} of {len(returns)} returns keep the cost of the table that their line was judged with"
        fix = "a line does not say what a repair or one more check costs by another; give their records instead"
        notices.append(Fault("", "costs", what, fix))
    parts = {"avoidable": cost * returns["avoidable_return"], "avoidable_failure": cost * returns["avoidable_failure"]}
    return {
        "total": _to_the_cent(cost.sum()),
        "priced": int(cost.notna().sum()),
        **{name: _to_the_cent(part.sum()) for name, part in parts.items()},
        **{f"{name}_share": _share(part, cost) for name, part in parts.items()},
        "coming": coming(ahead, cost),
        "currency": currency,
        "currencies": currencies,
        "kept": kept,
        "by_outcome": _by_outcome(returns["outcome"].astype("str"), cost),
    }


def coming(returns: Forecast, cost: pd.Series) -> dict[str, Any] | None:
    """What the returns of the forecast will cost at what one has cost so far, with 95 % prediction limits.

    The limits hold what is not known of the curves, the chance of the count, and that returns differ in cost: a sum of
    so many costs is taken as gamma of the same mean and variance. The mean and mean square cost: records resampled.
    """
    known = cost.dropna().to_numpy(dtype=float)
    if not returns.months or not known.sum() > 0:
        return None
    mean, square = resampled_means(np.column_stack([known, known**2]), len(returns.returns) - 1).T
    rate = returns.returns[1:]
    shape, scale = rate * mean**2 / np.maximum(square, 1e-300), square / np.maximum(mean, 1e-300)
    drawn = np.random.default_rng(_SEED).gamma(shape, scale)
    ends = {"returns": limits(rate), "total": tuple(np.quantile(drawn, [0.025, 0.975]))}
    told = {"returns": float(returns.returns[0]), "total": float(returns.returns[0] * known.mean())}
    low_high = {f"{key}_{end}": v for key, both in ends.items() for end, v in zip(("low", "high"), both, strict=True)}
    out = {"months": len(returns.months), **told, **low_high, "each": float(known.mean())}
    return out | {k: _to_the_cent(v) for k, v in out.items() if k.startswith(("total", "each"))}


def _by_currency(returns: pd.DataFrame) -> list[dict[str, Any]]:
    """Returns and total of each currency, most returns first."""
    named = returns[returns["currency"].astype("str") != ""]
    cost = named["expected_cost"].groupby(named["currency"].astype("str")).agg(["count", "sum"])
    ranked = cost.sort_index().sort_values("count", ascending=False, kind="stable")
    return [{"id": str(i), "returns": int(n), "total": _to_the_cent(s)} for i, n, s in ranked.itertuples()]


def _to_the_cent(amount: float) -> float:
    return round(float(amount), 2)


def _share(part: pd.Series, whole: pd.Series) -> dict[str, float] | None:
    """Part of the whole cost, records resampled; None where nothing was paid."""
    known = part.notna() & whole.notna()
    if not whole[known].sum() > 0:
        return None
    low, high = resampled_ratio(part[known].to_numpy(), whole[known].to_numpy())
    return {"share": float(part[known].sum() / whole[known].sum()), "low": low, "high": high}


def _by_outcome(outcome: pd.Series, cost: pd.Series) -> list[dict[str, Any]]:
    """Number and cost of each outcome, of the returns that have a cost here, dearest sum first."""
    known = cost.notna()
    sums = cost[known].groupby(outcome[known].to_numpy()).agg(["size", "sum"])
    ranked = sums.sort_values("sum", ascending=False, kind="stable")
    return [{"id": str(i), "returns": int(n), "total": _to_the_cent(s)} for i, n, s in ranked.itertuples() if i]
