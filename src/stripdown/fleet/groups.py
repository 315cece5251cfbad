"""The tallies again for each model, site, contractor …, with rates where the population is known."""

import numpy as np
import pandas as pd

from stripdown.fleet.columns import MECHANISMS
from stripdown.fleet.lives import DAYS_A_MONTH, Lives
from stripdown.fleet.proportions import poisson_limits
from stripdown.fleet.shrinkage import gamma_poisson, prior_weight
from stripdown.fleet.tallies import DIMENSIONS, Row, headline_codes, tally, with_build_month

_FIRST = [f"first.{m}" for m in MECHANISMS]


def by_groups(returns: pd.DataFrame, lives: Lives | None, rated: frozenset[str]) -> dict[str, list[Row]]:
    """For each dimension its groups, most returns first; `rated`: the dimensions that the population states.

    `drawn`: how much of a group's shrunk shares is the fleet's: 1 = all, nothing being known of its own.
    """
    table = with_build_month(returns)
    return {d: _groups(table, d, lives if d in rated else None) for d in DIMENSIONS}


def unit_months(lives: Lives, dimension: str) -> pd.Series:
    """Running unit-months of each group, "" among them."""
    f = lives.frame
    return (f["count"] * f["age_day"] / DAYS_A_MONTH).groupby(f[dimension], observed=True).sum()


def _groups(table: pd.DataFrame, dimension: str, lives: Lives | None) -> list[Row]:
    members = {str(k): np.asarray(v) for k, v in table.groupby(dimension, observed=True).indices.items() if str(k)}
    if not members:
        return []
    ids = sorted(members, key=lambda i: (-len(members[i]), i))
    rows: list[Row] = [{"id": i, "returns": len(members[i]), "rate_per_1000_unit_months": None} for i in ids]
    if lives is not None:
        _add_rates(rows, unit_months(lives, dimension))
    block = table[_FIRST].to_numpy()
    headlines = headline_codes(table, "headline", MECHANISMS)
    own = [members[i] for i in ids]
    mixed, weight = _shrunk_shares(block, own)
    for row, some, shrunk in zip(rows, own, mixed, strict=True):
        row["drawn"] = weight / (weight + len(some))
        row["first"] = [r | {"shrunk": shrunk[r["id"]]} for r in tally(block[some], headlines[some], MECHANISMS)]
    return rows


def _add_rates(rows: list[Row], months: pd.Series) -> None:
    """Returns per 1000 running unit-months, exact Poisson interval, and the rate shrunk towards the fleet."""
    returns = np.array([r["returns"] for r in rows], dtype=float)
    exposure = months.reindex([r["id"] for r in rows], fill_value=0.0).to_numpy(dtype=float)
    if not (exposure > 0).any():
        return
    quiet = months[~months.index.isin([r["id"] for r in rows]) & (months.index != "")].to_numpy(dtype=float)
    shrunk = gamma_poisson(np.r_[returns, np.zeros(len(quiet))], np.r_[exposure, quiet]).rates
    low, high = poisson_limits(returns)
    for i, row in enumerate(rows):
        if exposure[i] > 0:
            each = 1000 / exposure[i]
            row["rate_per_1000_unit_months"] = returns[i] * each
            row |= {"unit_months": exposure[i], "rate_low": low[i] * each, "rate_high": high[i] * each}
            row["rate_shrunk"] = 1000 * shrunk[i]


def _shrunk_shares(block: np.ndarray, members: list[np.ndarray]) -> tuple[list[dict[str, float]], float]:
    """Shares of first mechanisms of each group, mixed with the fleet's (all groups together), and how many records of
    the fleet each is mixed with."""
    sizes = np.array([len(m) for m in members], dtype=float)
    shares = np.array([block[m].mean(axis=0) for m in members])
    block = block[np.concatenate(members)]
    fleet = block.mean(axis=0)
    weight = prior_weight(shares, sizes, block)
    mixed = (sizes[:, None] * shares + weight * fleet) / (sizes[:, None] + weight)
    return [dict(zip(MECHANISMS, row.tolist(), strict=True)) for row in mixed], weight
