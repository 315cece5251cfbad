"""The looks that alarm, and what of each is another one's too: a crew with one bad site is no second fault."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from stripdown.fleet.compare import ALARM
from stripdown.fleet.equal_age import EqualAge
from stripdown.fleet.tallies import Row
from stripdown.numbers import number

_KEYS = ("model", "id", "observed", "expected", "p", "p_adjusted")
_SUBJECT = {"build_month": "{model} built {id}", "site": "site {id}", "contractor": "contractor {id}"}
_EVEN = 1e-6


def alerts(
    groups: Sequence[Row], places: Sequence[Row], frame: pd.DataFrame, age: EqualAge, returns: pd.DataFrame
) -> list[Row]:
    """More failures than expected, and too many to be chance after correction; `frame`: that of `Lives`.

    `shared`: its failures that are in other alerts too; `also_in`: which; `others_observed`, `others_expected`: its
    failures outside them beside those due, None where none of its units is.
    """
    by_group = [g for g in groups if g["dimension"] in _SUBJECT and _loud(g)]
    loud = [{"kind": g["dimension"], "text": _text(g)} | {k: g[k] for k in _KEYS} for g in by_group]
    by_place = [p for p in places if _loud(p)]
    loud += [{"kind": "repeat_at_place", "text": p["text"]} | {k: p[k] for k in (*_KEYS, "serials")} for p in by_place]
    found = sorted(loud, key=lambda a: (a["p_adjusted"], a["kind"], a["id"]))
    return [a | more for a, more in zip(found, _shared(found, frame, age, returns), strict=True)]


def _loud(look: Row) -> bool:
    p = look["p_adjusted"]
    return p is not None and p <= ALARM and not look["observed"] <= look["expected"]


def _text(g: Row) -> str:
    seen, due = (number(g[k], max(3, len(f"{g[k]:.0f}"))) for k in ("observed", "expected"))
    return f"{subject(g | {'kind': g['dimension']})}: {seen} failures where {due} were to be expected at equal age"


def subject(alert: Mapping[str, Any]) -> str:
    """'site pier 4', 'K6-220 built 2021-06', 'repeat failures at pier 4'."""
    return _SUBJECT.get(alert["kind"], "repeat failures at {id}").format(**alert)


def _shared(found: Sequence[Row], frame: pd.DataFrame, age: EqualAge, returns: pd.DataFrame) -> list[Row]:
    """For each alert what it has in common with the others."""
    members = [_members(a, frame, returns) for a in found]
    failed = frame["failed"].to_numpy(dtype=float)
    due = age.expected(frame["model"].cat.codes.to_numpy(), frame["age_day"].to_numpy(), frame["count"].to_numpy())
    times = np.sum(members, axis=0) if members else np.zeros(len(frame))
    out: list[Row] = []
    for i, (a, own) in enumerate(zip(found, members, strict=True)):
        common, alone = own & (times > 1), own & (times == 1)
        also = [subject(b) for j, b in enumerate(found) if j != i and failed[own & members[j]].sum() > _EVEN]
        row: Row = {"shared": float(failed[common].sum()), "also_in": also}
        left = a["kind"] in _SUBJECT and alone.any() and due[own].sum() > 0
        row["others_observed"] = float(failed[alone].sum()) if left else None
        row["others_expected"] = float(a["expected"] * due[alone].sum() / due[own].sum()) if left else None
        out.append(row)
    return out


def _members(alert: Row, frame: pd.DataFrame, returns: pd.DataFrame) -> np.ndarray:
    """Which lives an alert is about."""
    if alert["kind"] == "repeat_at_place":
        rows = returns.index[returns["serial"].isin(alert["serials"][1:])]
        return np.asarray(frame["row"].isin(rows).to_numpy())
    own = (frame[alert["kind"]] == alert["id"]).to_numpy()
    return np.asarray(own if alert["model"] is None else own & (frame["model"] == alert["model"]).to_numpy())
