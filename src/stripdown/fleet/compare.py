"""Is a batch, a site, a crew bad; do replacements die sooner; did the fix work: rates at equal age, and what alarms.

Every look is a row with a p and the smallest p it could have had; `settle` corrects all that could matter together
before anything is called an alert.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd

from stripdown.fleet.ages import Numbers
from stripdown.fleet.equal_age import DAY_ZERO, EqualAge, together
from stripdown.fleet.lives import Lives
from stripdown.fleet.proportions import adjusted, least_p, two_counts
from stripdown.fleet.shrinkage import gamma_poisson
from stripdown.fleet.tallies import Row

_NEVER = 10**7
"""A day since 1970 after all others."""
ALARM = 0.05
"""Share of false ones among the alerts, at most, in the long run."""


@dataclass(frozen=True, slots=True)
class Change:
    """Something put right from a day on: at some sites, or, with none named, everywhere."""

    day: date
    sites: tuple[str, ...] = ()


def comparisons(lives: Lives, age: EqualAge, rated: frozenset[str], change: Change | None) -> list[Row]:
    """All looks at groups of units: each site and contractor, each month of building within its model, and the rest."""
    f = lives.frame
    expected = age.expected(f["model"].cat.codes.to_numpy(), f["age_day"].to_numpy(), f["count"].to_numpy())
    counted = f.assign(expected=expected)
    out: list[Row] = []
    for dimension in ("site", "contractor"):
        if dimension in rated:
            out += _against_rest(counted, dimension, (f"{dimension} ", " against the rest"))
    if "build_month" in rated:
        for model, rows in counted.groupby("model", observed=True):
            out += _against_rest(rows, "build_month", (f"{model} built ", " against its other months"), str(model))
    if "replaces" in rated:
        again = counted.assign(kind=np.where(counted["replaces"].astype("str") == "", "first", "again"))
        out += _against_rest(again, "kind", "replacements against first units", only="again")
    return out if change is None else [*out, *_before_after(lives.frame, age, change)]


def _against_rest(
    rows: pd.DataFrame,
    dimension: str,
    what: str | tuple[str, str],
    model: str | None = None,
    only: str | None = None,
) -> list[Row]:
    """Each group against all other rows, at equal model and age; `what` it is called, or what stands around it."""
    sums = rows.groupby(dimension, observed=True)[["failed", "expected"]].sum()
    total = sums.sum()
    names = sums.index.astype("str")
    sums = sums[(names == only) if only else (names != "")]
    if not len(sums) or not total["failed"] > 0:
        return []
    o, e = sums["failed"].to_numpy(dtype=float), sums["expected"].to_numpy(dtype=float)
    rest_o, rest_e = np.maximum(total["failed"] - o, 0.0), np.maximum(total["expected"] - e, 0.0)
    shrunk = gamma_poisson(o, e).rates if only is None else np.full(len(o), np.nan)
    return _rows(
        [what if isinstance(what, str) else f"{what[0]}{n}{what[1]}" for n in sums.index],
        (o, e, rest_o, rest_e),
        dimension,
        list(map(str, sums.index)),
        model,
        shrunk,
    )


def _rows(
    what: Sequence[str], counts: tuple[Numbers, Numbers, Numbers, Numbers], dimension: str, ids: Sequence[str],
    model: str | None, shrunk: Numbers,
) -> list[Row]:  # fmt: skip
    o, e, rest_o, rest_e = counts
    ratio, low, high, p = two_counts(o, e, rest_o, rest_e)
    with np.errstate(divide="ignore", invalid="ignore"):
        due = np.where(rest_e > 0, e * rest_o / rest_e, np.nan)
        least = least_p(o + rest_o, e / (e + rest_e))
    return [
        {"what": what[i], "ratio": ratio[i], "low": low[i], "high": high[i], "p": p[i], "dimension": dimension,
         "id": ids[i], "model": model, "least_p": least[i], "observed": o[i], "expected": due[i],
         "ratio_shrunk": shrunk[i]}
        for i in range(len(o))
    ]  # fmt: skip


def _before_after(frame: pd.DataFrame, age: EqualAge, change: Change) -> list[Row]:
    """Failures after a day against those up to it, each beside what its units' ages led to expect.

    Where only some sites were changed, the same at all others: what moved there as well is not the change's doing.
    """
    at = frame["site"].isin(change.sites).to_numpy() if change.sites else np.ones(len(frame), dtype=bool)
    named = ", ".join(change.sites)
    parts = [(f" at {named}" if named else "", at), (f" elsewhere than at {named}", ~at)]
    day = int((np.datetime64(change.day) - DAY_ZERO).astype(int))
    out: list[Row] = []
    for where, some in parts:
        rows = together(frame[some])
        failed = rows["failed"].to_numpy(dtype=float)
        later = (rows["start"] + rows["age_day"]).to_numpy() > day
        before, whole = age.upto(np.array([day, _NEVER]), rows)
        e = [np.array([whole - before]), np.array([before])]
        o = [np.array([failed[side].sum()]) for side in (later, ~later)]
        if e[0][0] + e[1][0] > 0:
            what = f"after {change.day.isoformat()} against before{where}"
            none = np.full(1, np.nan)
            out += _rows([what], (o[0], e[0], o[1], e[1]), "date", [change.day.isoformat()], None, none)
    return out


def settle(*kinds: list[Row]) -> tuple[int, int]:
    """Write `p_adjusted` into every look of all kinds, corrected for all of them together; how many, and how many not.

    A look too small to reach `ALARM` whatever it had shown is none: None, and it costs the others nothing.
    """
    every = [row for kind in kinds for row in kind]
    looks = [row for row in every if row.get("least_p", 0.0) <= ALARM]
    for row in every:
        row["p_adjusted"] = None
    for row, p in zip(looks, adjusted([row["p"] for row in looks]), strict=True):
        row["p_adjusted"] = float(p)
    return len(looks), len(every) - len(looks)
