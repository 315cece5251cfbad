"""Fleets made for the explorer: many returns with their units, spread over models, sites and crews."""

from itertools import islice

import numpy as np
import pandas as pd

from stripdown.fleet import Population, table
from stripdown.fleet.columns import CAUSES, MECHANISMS
from tests.fleet.made import line

MODELS = tuple(f"M-{i}" for i in range(12))
_DAY_ONE = np.datetime64("2014-01-01", "s")


def many(returns: int, units: int, seed: int = 1) -> tuple[pd.DataFrame, Population]:
    """A table of returns and the population they came from; dates to the day, 200 sites, 40 crews."""
    rng = np.random.default_rng(seed)
    model, place = rng.integers(0, len(MODELS), units), rng.integers(0, 200, units)
    installed = _DAY_ONE + rng.integers(0, 3600, units).astype("timedelta64[D]")
    age = np.ceil(1500 * rng.weibull(1.4, units)).astype(np.int64)
    back = np.sort(rng.permutation(units)[:returns])
    population = pd.DataFrame(
        {
            "serial": pd.array([f"S{i}" for i in range(units)], dtype="str"),
            "model": pd.Categorical.from_codes(model, list(MODELS)),
            "site": pd.Categorical.from_codes(place, [f"site {i:03d}" for i in range(200)]),
            "contractor": pd.Categorical.from_codes(place % 40, [f"crew {i:02d}" for i in range(40)]),
            "replaces": pd.array([""] * units, dtype="str"),
            "built": installed - np.timedelta64(40, "D"),
            "installed": installed,
            "removed": pd.Series(pd.NaT, index=range(units), dtype="datetime64[s]"),
            "count": np.ones(units, dtype=np.int64),
        }
    )
    stated = frozenset({"site", "contractor", "built"})
    return _returns(rng, population.iloc[back], age[back]), Population("units.csv", population, False, stated)


def _returns(rng: np.random.Generator, units: pd.DataFrame, age: np.ndarray) -> pd.DataFrame:
    """One row a unit; each tells of two mechanisms and a cause."""
    some = table(_lines(rng, 400))
    out = some.iloc[rng.integers(0, len(some), len(units))].reset_index(drop=True)
    for column in ("serial", "model", "site", "contractor", "built", "installed"):
        out[column] = units[column].to_numpy() if column not in ("model", "site", "contractor") else units[column].array
    out["claim"] = pd.array([f"C-{i:06d}" for i in range(len(out))], dtype="str")
    out["failed"] = out["installed"] + pd.to_timedelta(age, unit="D").astype("timedelta64[s]")
    out["age_day"] = age.astype(float)
    return out


def _lines(rng: np.random.Generator, number: int) -> list[dict[str, object]]:
    out = []
    for i in range(number):
        a, b = rng.choice(len(MECHANISMS), 2, replace=False)
        p = float(rng.uniform(0.5, 1.0))
        first = {MECHANISMS[a]: p, MECHANISMS[b]: 1 - p}
        causes = {c: float(rng.uniform()) for c in islice(CAUSES, int(rng.integers(1, 8)))}
        duty = ("low", "medium", "high")[int(rng.integers(3))]
        parts = tuple(rng.choice(["main_bearing", "stator", "suction_reed", "piston"], 2, replace=False))
        cost = {"id": "rebuild", "expected_cost": float(rng.uniform(500, 4000)), "currency": "EUR"}
        more = {"duty": duty, "refrigerant": "R404A", "outcome": cost}
        out.append(line(f"X{i}", first=first, causes=causes, parts=parts, **more))
    return out
