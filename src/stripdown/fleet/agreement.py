"""Do people agree with the proposal, and with each other: Cohen's kappa with an interval, and calibration."""

import math
from collections import Counter
from dataclasses import dataclass
from itertools import pairwise
from statistics import NormalDist
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from stripdown.fleet.notices import counted
from stripdown.fleet.proportions import wilson
from stripdown.record.fault import Fault

_SURENESS = (0.0, 0.6, 0.7, 0.8, 0.9, 0.95, 1.0001)


@dataclass(frozen=True, slots=True)
class Kappa:
    """Agreement beyond chance: observed and by-chance share, kappa, its standard error, and that were kappa zero."""

    observed: float
    by_chance: float
    value: float
    error: float
    error_at_zero: float

    def wald(self, *, level: float = 0.95) -> tuple[float, float]:
        """Value plus and minus its normal error."""
        z = NormalDist().inv_cdf((1 + level) / 2)
        return self.value - z * self.error, self.value + z * self.error


def kappa(counts: ArrayLike) -> Kappa | None:
    """Cohen's kappa of a square table of counts (Fleiss, Cohen and Everitt's errors); None where it is not defined."""
    p = np.asarray(counts, dtype=float)
    n = p.sum()
    if n <= 0:
        return None
    p = p / n
    rows, columns = p.sum(axis=1), p.sum(axis=0)
    agree, chance = float(np.trace(p)), float(rows @ columns)
    if math.isclose(chance, 1.0):
        return None
    value = (agree - chance) / (1 - chance)
    both = rows[:, None] + columns[None, :]
    on = float((np.diag(p) * (1 - np.diag(both) * (1 - value)) ** 2).sum())
    reverse = columns[:, None] + rows[None, :]
    off = float(((p - np.diag(np.diag(p))) * reverse**2).sum()) * (1 - value) ** 2
    error = math.sqrt(max(on + off - (value - chance * (1 - value)) ** 2, 0.0) / n) / (1 - chance)
    spread = chance + chance**2 - float((rows * columns * (rows + columns)).sum())
    return Kappa(agree, chance, value, error, math.sqrt(max(spread, 0.0) / n) / (1 - chance))


def kappa_interval(counts: ArrayLike, *, level: float = 0.95) -> tuple[float, float] | None:
    """Normal interval of kappa, two records that agree by chance counted along: few records never look certain."""
    table = np.asarray(counts, dtype=float)
    n, plain = table.sum(), kappa(table)
    if plain is None:
        return None
    widened = kappa(table + 2 * np.outer(table.sum(axis=1), table.sum(axis=0)) / n**2)
    low, high = (widened or plain).wald(level=level)
    return max(min(low, plain.value), -1.0), min(max(high, plain.value), 1.0)


def agreement(returns: pd.DataFrame, notices: list[Fault]) -> dict[str, Any]:
    """People (the last to confirm counts) against the program's headline, and against the one who confirmed before."""
    confirmed = returns[returns["confirmed_first"].astype("str") != ""]
    people = confirmed["confirmed_first"].astype("str").to_numpy()
    each = [c.split(";") for c in confirmed["confirmed_all"]]
    twice = np.array([len(e) > 1 for e in each], dtype=bool)
    differ = [claim for claim, e in zip(confirmed["claim"], each, strict=True) if len(set(e)) > 1]
    what = "records on which those who confirmed them disagree"
    notices += counted("", len(differ), what, "the last one counts", pd.Series(differ, dtype="str"))
    before = np.array([e[-2] if len(e) > 1 else "" for e in each], dtype=str)
    return {
        "records": len(confirmed),
        "first": _agreed(people, confirmed["headline"].astype("str").to_numpy(), "people and program", notices),
        "analysts": {"records": int(twice.sum())}
        | _agreed(people[twice], before[twice], "one person and the next", notices),
        "disagree": _pairs(people, confirmed["headline"].astype("str").to_numpy()),
        "calibration": calibration(confirmed),
    }


def _agreed(a: np.ndarray, b: np.ndarray, who: str, notices: list[Fault]) -> dict[str, Any]:
    ids = {name: i for i, name in enumerate(sorted({*a.tolist(), *b.tolist()}))}
    table = np.zeros((len(ids), len(ids)))
    np.add.at(table, ([ids[x] for x in a], [ids[x] for x in b]), 1)
    found, ends = kappa(table), kappa_interval(table)
    if found is None or ends is None:
        if len(a):
            what = f"kappa of {who} is not defined: all {len(a)} records have one and the same answer"
            notices.append(Fault("", "agreement", what, "confirm records of different mechanisms too"))
        return {"kappa": None, "low": None, "high": None}
    return {"kappa": found.value, "low": ends[0], "high": ends[1], "observed": found.observed}


def _pairs(people: np.ndarray, program: np.ndarray) -> list[dict[str, Any]]:
    """Where they differ: what a person said, what the program said, how often."""
    pairs = Counter((str(a), str(b)) for a, b in zip(people, program, strict=True) if a != b)
    return [
        {"person": a, "program": b, "records": n} for (a, b), n in sorted(pairs.items(), key=lambda r: (-r[1], r[0]))
    ]


def calibration(confirmed: pd.DataFrame) -> list[dict[str, Any]]:
    """Said so sure, right how often: confirmed records by the headline's probability."""
    said = confirmed["headline_probability"].to_numpy(dtype=float)
    right = (confirmed["headline"].astype("str") == confirmed["confirmed_first"].astype("str")).to_numpy()
    out = []
    for low, high in pairwise(_SURENESS):
        some = (said >= low) & (said < high)
        if n := int(some.sum()):
            ends = [float(x) for x in wilson(right[some].sum(), n)]
            share = {"said": float(said[some].mean()), "right": float(right[some].mean())}
            out.append({"from": low, "to": min(high, 1.0), "records": n, **share, "low": ends[0], "high": ends[1]})
    return out
