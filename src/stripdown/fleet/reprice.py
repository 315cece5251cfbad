"""A result line by another cost table, where the line holds what that takes."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from stripdown.knowledge import Knowledge
from stripdown.reasoning.costs import Costs
from stripdown.reasoning.decide import priced

KEPT = "cost_kept"
"""Key of a line's outcome that keeps the cost of the table it was judged with."""


def repriced(line: Mapping[str, Any], costs: Costs, knowledge: Knowledge) -> dict[str, Any]:
    """The line with the least expected cost by `costs`; with its own, marked, where that cannot be known.

    A line tells the first mechanism, on which returning and replacing depend. A repair depends on hidden damage too,
    and one more check on what it may show: their cost takes the record. A line that is no result stays as it is.
    """
    outcome = line.get("outcome")
    if not isinstance(outcome, Mapping):
        return dict(line)
    try:
        ids = [str(option["id"]) for option in (outcome, *outcome["alternatives"])]
        first = {str(share["id"]): float(share["probability"]) for share in line["first"]}
    except (KeyError, TypeError, ValueError):
        return dict(line) | {"outcome": dict(outcome) | {KEPT: True}}
    admitted = [knowledge.dispositions.get(i) for i in ids]
    if not all(d is not None and not d.risk for d in admitted):
        return dict(line) | {"outcome": dict(outcome) | {KEPT: True}}
    mechanisms = ["no_fault", *(m for m in first if m != "no_fault")]
    shares = np.array([[first.get(m, 0.0)] for m in mechanisms])
    options = sorted((float(priced(d, costs, shares, 0, np.ones(1))[0]), d.id) for d in admitted if d is not None)
    (cost, best), *others = options
    new = {
        "id": best,
        "expected_cost": cost,
        "currency": costs.currency,
        "alternatives": [{"id": i, "expected_cost": c} for c, i in others],
        "why": [knowledge.dispositions[best].why],
        "break_even": None,
    }
    return dict(line) | {"outcome": new}
