"""What the returns cost, and what of it need not have been."""

from collections.abc import Mapping
from typing import Any

import pandas as pd

from stripdown.fleet.proportions import resampled_ratio
from stripdown.record.fault import Fault


def costs(returns: pd.DataFrame, table: Mapping[str, float] | None, notices: list[Fault]) -> dict[str, Any]:
    """`total`; `avoidable`: of returns that need not have come; `avoidable_failure`: of failures that need not have.

    By the expected cost of each line's outcome, or by `table` (outcome → cost, with "currency") where it names it.
    """
    currencies = returns.loc[returns["currency"].astype("str") != "", "currency"].astype("str").value_counts()
    currency = currencies.index[0] if len(currencies) else None
    cost = returns["expected_cost"]
    if len(currencies) > 1:
        other = returns["currency"].astype("str") != currency
        what = f"{int(other.sum())} returns priced in another currency than {currency}"
        notices.append(Fault("", "costs", what, "left out of the costs; judge them with one cost table"))
        cost = cost.mask(other)
    if table is not None:
        currency = str(table["currency"]) if "currency" in table else currency
        cost = (
            returns["outcome"]
            .astype("str")
            .map({k: float(v) for k, v in table.items() if k != "currency"})
            .fillna(cost)
        )
    unpriced = int(cost.isna().sum())
    if unpriced and len(currencies) < 2:
        notices.append(Fault("", "costs", f"{unpriced} returns without a cost", "left out of the costs"))
    parts = {"avoidable": cost * returns["avoidable_return"], "avoidable_failure": cost * returns["avoidable_failure"]}
    return {
        "total": float(cost.sum()),
        "priced": int(cost.notna().sum()),
        **{name: float(part.sum()) for name, part in parts.items()},
        **{f"{name}_share": _share(part, cost) for name, part in parts.items()},
        "currency": currency,
        "by_outcome": _by_outcome(returns["outcome"].astype("str"), cost),
    }


def _share(part: pd.Series, whole: pd.Series) -> dict[str, float] | None:
    """Part of the whole cost, records resampled; None where nothing was paid."""
    known = part.notna() & whole.notna()
    if not whole[known].sum() > 0:
        return None
    low, high = resampled_ratio(part[known].to_numpy(), whole[known].to_numpy())
    return {"share": float(part[known].sum() / whole[known].sum()), "low": low, "high": high}


def _by_outcome(outcome: pd.Series, cost: pd.Series) -> list[dict[str, Any]]:
    """Number and cost of each outcome, dearest sum first."""
    sums = cost.groupby(outcome.to_numpy()).agg(["size", "sum"]).sort_values("sum", ascending=False, kind="stable")
    return [
        {"id": i, "returns": int(n), "total": float(s)}
        for i, n, s in zip(sums.index, sums["size"], sums["sum"], strict=True)
        if i
    ]
