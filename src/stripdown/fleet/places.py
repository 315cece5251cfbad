"""Repeat failures at one place: chains of units of which each replaced the one before."""

from datetime import date
from typing import Any

import pandas as pd

from stripdown.fleet.equal_age import EqualAge
from stripdown.fleet.lives import event_day
from stripdown.fleet.tallies import Row
from stripdown.numbers import number


def places(returns: pd.DataFrame, age: EqualAge | None, until: date | None) -> list[Row]:
    """One row a place where a replacement came back: how many failed beside how many were to be expected.

    The replacement that runs there now is not known; it is taken as put in on the day of the last failure.
    """
    columns = {c: returns[c].astype("str").tolist() for c in ("serial", "replaces", "model", "site", "headline")}
    units = [dict(zip(columns, row, strict=True)) for row in zip(*columns.values(), strict=True)]
    for unit, day, days, sound in zip(
        units, event_day(returns), returns["age_day"], returns["first.no_fault"].astype(float), strict=True
    ):
        unit |= {"day": day, "age": days, "failed": 1 - sound}
    chains = _chains([u for u in units if not pd.isna(u["day"]) and u["serial"]])
    again = [c for c in chains if any(u["replaces"] for u in c)]
    found = [_place(chain, age, pd.Timestamp(until or chain[-1]["day"])) for chain in again]
    return sorted(found, key=lambda r: (r["p"], r["id"], r["serials"]))


def _chains(units: list[dict[str, Any]]) -> list[list[dict[str, Any]]]:
    """Units grouped by the first serial of their place, each group in order of time."""
    before = {u["serial"]: u["replaces"] for u in units if u["replaces"] and u["replaces"] != u["serial"]}
    groups: dict[str, list[dict[str, Any]]] = {}
    for unit in units:
        root, seen = unit["serial"], set()
        while root in before and root not in seen:
            seen.add(root)
            root = before[root]
        groups.setdefault(min(seen) if root in seen else root, []).append(unit)
    return [sorted(g, key=lambda u: (u["day"], u["serial"])) for g in groups.values()]


def _place(chain: list[dict[str, Any]], age: EqualAge | None, until: pd.Timestamp) -> Row:
    later = [u for u in chain if u["replaces"]]
    last = chain[-1]
    spans = [(u["model"], u["age"]) for u in later] + [(last["model"], (until - last["day"]).days)]
    observed = sum(u["failed"] for u in later)
    expected = sum(age.of_unit(m, max(a, 0.0)) for m, a in spans if a == a) if age else float("nan")
    serials = [u["serial"] for u in chain]
    if chain[0]["replaces"]:
        serials.insert(0, chain[0]["replaces"])
    where = next((u["site"] for u in reversed(chain) if u["site"]), serials[0])
    return {
        "id": where,
        "model": last["model"],
        "serials": serials,
        "observed": observed,
        "expected": expected,
        "p": _tail(observed, expected),
        "first": [u["headline"] for u in chain],
        "text": _text(where, chain, observed, expected),
    }


def _tail(observed: float, expected: float) -> float:
    """Probability of so many failures or more of a Poisson count, given one: only places with a repeat are tested."""
    from scipy.special import gammainc

    if observed <= 1 or not expected > 0:
        return 1.0
    return float(gammainc(observed, expected) / gammainc(1, expected))


def _text(where: str, chain: list[dict[str, Any]], observed: float, expected: float) -> str:
    same = len({u["headline"] for u in chain}) == 1 and len(chain) > 1
    pattern = f", each time {chain[0]['headline']}" if same else ""
    beside = "" if expected != expected else f" where {number(expected, 2)} were to be expected"
    return f"{where}: {number(observed, 3)} failed replacements{beside}{pattern}"
