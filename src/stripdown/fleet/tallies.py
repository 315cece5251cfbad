"""What the returns died of: expected counts beside plain counts, with intervals, for all and by group."""

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from stripdown.fleet.columns import CAUSES, MECHANISMS
from stripdown.fleet.lives import month_names
from stripdown.fleet.proportions import resampled, wilson

DECIDED = ("established", "likely")
DIMENSIONS = ("model", "site", "contractor", "duty", "refrigerant", "opened_before", "build_month")

Row = dict[str, Any]


def decided(returns: pd.DataFrame) -> np.ndarray:
    """Which returns count by headline: status established or likely."""
    return returns["status"].isin(DECIDED).to_numpy()


def by_mechanism(returns: pd.DataFrame) -> list[Row]:
    """First mechanisms, `no_fault` among them, most expected first."""
    return _tally(returns, "first.", MECHANISMS, "headline")


def by_cause(returns: pd.DataFrame) -> list[Row]:
    """Causes, each on its own, most expected first; `count` by the most probable one of each record."""
    return _tally(returns, "cause.", CAUSES, "top_cause")


def _tally(returns: pd.DataFrame, prefix: str, ids: Sequence[str], headline: str) -> list[Row]:
    block = returns[[prefix + i for i in ids]].to_numpy()
    return tally(block, headline_codes(returns, headline, ids), ids)


def headline_codes(returns: pd.DataFrame, headline: str, ids: Sequence[str]) -> np.ndarray:
    """Place of each record's headline among `ids`; -1 where it has none that counts."""
    said = pd.Categorical(returns[headline])
    place = {name: k for k, name in enumerate(ids)}
    of_category = np.array([place.get(str(c), -1) for c in said.categories] + [-1])
    return np.where(decided(returns), of_category[said.codes], -1)


def tally(block: np.ndarray, headlines: np.ndarray, ids: Sequence[str]) -> list[Row]:
    """One row an id, most expected first. `block`: record by id, probabilities; `headlines`: as `headline_codes`."""
    if not len(block):
        return []
    counts = np.bincount(headlines[headlines >= 0], minlength=len(ids))
    expected = block.sum(axis=0)
    low, high = resampled(block)
    rows = [
        {"id": i, "count": int(n), "expected": e, "share": e / len(block), "low": lo, "high": hi}
        for i, n, e, lo, hi in zip(ids, counts, expected, low, high, strict=True)
        if e > 0
    ]
    return sorted(rows, key=lambda r: -r["expected"])


def by_part(returns: pd.DataFrame) -> list[Row]:
    """Parts found damaged, most frequent first."""
    counts = part_counts(returns["parts"])
    low, high = wilson(counts.to_numpy(), len(returns))
    return [
        {"id": part, "count": int(n), "share": n / len(returns), "low": lo, "high": hi}
        for (part, n), lo, hi in zip(counts.items(), low, high, strict=True)
    ]


def part_counts(parts: pd.Series) -> pd.Series:
    """How many rows name each part, most frequent first, equal ones in the order of their names."""
    exploded = parts[parts != ""].str.split(";").explode()
    return exploded.value_counts().sort_index().sort_values(ascending=False, kind="stable")


def mean_share(values: pd.Series) -> Row | None:
    """Mean of a probability over the records that state it, records resampled."""
    stated = values.dropna().to_numpy()[:, None]
    if not len(stated):
        return None
    low, high = resampled(stated)
    return {"share": float(stated.mean()), "low": float(low[0]), "high": float(high[0])}


def with_build_month(returns: pd.DataFrame) -> pd.DataFrame:
    """The table with the month of building as "2021-06"."""
    return returns.assign(build_month=month_names(returns["built"]))


def electrical(returns: pd.DataFrame) -> Row:
    """Records that ended in the winding, at the terminals or at a sensor, and where they started."""
    ended = returns[returns["parts"].map(_last_group).isin(_ELECTRICAL)]
    return {"records": len(ended), "first": by_mechanism(ended)}


def flow(returns: pd.DataFrame) -> list[Row]:
    """From the first mechanism to where it ended: expected counts; a record ends in the last group its parts reach."""
    if not len(returns):
        return []
    last = returns["parts"].map(_last_group)
    sums = returns[[f"first.{m}" for m in MECHANISMS]].groupby(last.to_numpy()).sum()
    rows = [
        {"first": m, "last": end, "expected": float(np.float64(sums[f"first.{m}"][end]))}
        for m in MECHANISMS
        for end in sums.index
    ]
    return [r for r in rows if r["expected"] > 0]


_ELECTRICAL = ("winding", "terminals", "sensor")
_BEARINGS = ("rod_bearings", "main_bearing", "centre_bearing", "pump_end_bearing")
_ENDS = (  # from the end of the chain to its beginning: a burnt winding is last whatever broke before
    ("winding", ("stator", "motor_leads")),
    ("terminals", ("terminal_plate", "terminal_nuts", "terminal_box")),
    ("sensor", ("motor_sensor",)),
    ("rotor", ("rotor",)),
    (
        "running gear",
        ("piston", "piston_rings", "cylinder_bore", "wrist_pin", "connecting_rod", "crankshaft", *_BEARINGS),
    ),
    ("valves", ("suction_reed", "discharge_valve", "valve_backer", "backer_bolts", "valve_plate")),
    ("gaskets and bolts", ("head_gasket", "head_bolts", "cover_gasket")),
)


def _last_group(parts: str) -> str:
    if not parts:
        return "nothing damaged"
    found = set(parts.split(";"))
    return next((name for name, members in _ENDS if found.intersection(members)), "other parts")
