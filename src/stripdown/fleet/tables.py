"""The tables of the fleet report, as written beside the page in CSV."""

from collections.abc import Mapping
from typing import Any

import pandas as pd

from stripdown.fleet.columns import COLUMNS, SHARES

_LISTS = (
    "first",
    "causes",
    "parts",
    "incidence",
    "trend",
    "comparisons",
    "alerts",
    "forecast",
    "flow",
    "months",
    "repeats",
    "notices",
    "electrical",
    "looked_at",
    "years",
    "next_checks",
    "disagree",
    "calibration",
    "by_outcome",
    "currencies",
)
_HOLDERS = ("quality", "agreement", "costs")
"""Keys whose lists are tables of their own."""


def tables(answer: Mapping[str, Any], returns: pd.DataFrame) -> dict[str, pd.DataFrame]:
    """Name → table; empty ones too, so that a missing figure is seen to be missing."""
    six_digits = dict.fromkeys(SHARES, "float32")  # written so, a quarter of the bytes and of the time
    out = {"returns": returns.astype(six_digits).reset_index(drop=True)}
    out["columns"] = pd.DataFrame(COLUMNS.items(), columns=["column of returns", "what it says [unit]"])
    inner = {name: rows for key in _HOLDERS for name, rows in (answer.get(key) or {}).items() if isinstance(rows, list)}
    for name, key in (("electrical", "first"), ("next_checks", "checks")):
        inner[name] = (answer.get(name) or {}).get(key, [])
    lists = {name: rows for name, rows in answer.items() if isinstance(rows, list)} | inner
    out |= {name: pd.DataFrame(_scalars(lists.get(name) or [])) for name in _LISTS if name != "incidence"}
    out["incidence"] = pd.DataFrame(
        [
            {"model": r["model"], "mechanism": r["mechanism"], "at_days": d, "value": v, "low": lo, "high": hi}
            for r in answer["incidence"]
            for d, v, lo, hi in zip(r["at_days"], r["value"], r["low"], r["high"], strict=True)
        ]
    )
    for name, rows in answer["by"].items():
        out[f"by_{name}"] = pd.DataFrame([{k: v for k, v in r.items() if k != "first"} for r in rows])
        out[f"first_by_{name}"] = pd.DataFrame([{name: r["id"]} | f for r in rows for f in r["first"]])
    out["life"] = pd.DataFrame([_flat(r) for r in answer["life"]])
    out["kaplan_meier"] = pd.DataFrame(
        [
            {"model": r["model"], **{k: r[k][i] for k in ("days", "survival", "low", "high", "at_risk")}}
            for r in answer["kaplan_meier"]
            for i in range(len(r["days"]))
        ]
    )
    return dict(sorted(out.items()))


def _scalars(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Rows with lists written as text."""
    return [{k: "; ".join(map(str, v)) if isinstance(v, list) else v for k, v in r.items()} for r in rows]


def _flat(row: dict[str, Any]) -> dict[str, Any]:
    """shape: {value, low, high} → shape, shape_low, shape_high."""
    out: dict[str, Any] = {}
    for k, v in row.items():
        if isinstance(v, dict):
            out |= {k: v["value"], f"{k}_low": v["low"], f"{k}_high": v["high"]}
        else:
            out[k] = v
    return out
