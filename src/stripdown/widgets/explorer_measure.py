"""What is asked of a group of returns, with its interval: shares, counts, rates, cost; the fleet room's statistics."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from stripdown.fleet.columns import CAUSES, MECHANISMS
from stripdown.fleet.proportions import poisson_limits, resampled, wilson
from stripdown.widgets.explorer_table import Mask, Numbers, Table

Sort = Literal["share", "plain share", "money", "count", "rate"]
Of = Literal["", "mechanism", "cause", "part"]
LEAST_PRICED = 2


@dataclass(frozen=True, slots=True)
class Kind:
    """A way to measure: its words, what it is statistically, and what of must be chosen."""

    words: str
    sort: Sort
    of: Of = ""


KINDS: dict[str, Kind] = {
    "first": Kind("first mechanism", "share", "mechanism"),
    "mechanism": Kind("mechanism at work", "share", "mechanism"),
    "cause": Kind("cause at work", "share", "cause"),
    "part": Kind("part damaged", "plain share", "part"),
    "no_fault": Kind("no fault found", "share"),
    "avoidable_return": Kind("needless return", "share"),
    "avoidable_failure": Kind("preventable failure", "share"),
    "cost": Kind("cost a return", "money"),
    "returns": Kind("number of returns", "count"),
    "rate": Kind("rate of returns", "rate"),
}
METHODS: dict[Sort, str] = {
    "share": "probabilities of the records added up, as a share; records resampled, 95 %",
    "plain share": "share of the records that name the part; Wilson, 95 %",
    "money": "mean expected cost of the proposed outcome by the cost table the records were judged with, "
    "the shipped one being invented; Student's t, 95 %",
    "count": "count; Poisson, exact, 95 %",
    "rate": "returns per 1000 unit-months, those still running counted; Poisson, exact, 95 %",
}
_COLUMNS = {"no_fault": "first.no_fault"}


@dataclass(frozen=True, slots=True)
class Measure:
    """A kind, and what of: ("cause", "low_load")."""

    kind: str
    of: str = ""

    @property
    def sort(self) -> Sort:
        """What it is statistically."""
        return KINDS[self.kind].sort

    def fault(self, table: Table) -> str | None:
        """What is wrong with it for this table, in words."""
        if self.kind not in KINDS:
            return f"there is no measure {self.kind}"
        what = KINDS[self.kind].of
        if not what:
            return f"{KINDS[self.kind].words} is not asked of {self.of}" if self.of else None
        known = self.of in choices(table, self.kind)
        return None if known else f"no return tells of {self.of or 'nothing chosen'}: choose a {what}"


def choices(table: Table, kind: str) -> Sequence[str]:
    """What of a kind can be measured; empty where nothing need be chosen."""
    of = KINDS[kind].of
    faults = tuple(m for m in MECHANISMS if m != "no_fault")
    return {"": (), "mechanism": faults, "cause": CAUSES, "part": table.parts}[of]


def values(table: Table, measure: Measure) -> Numbers:
    """What each return adds to the measure, nan = not stated; 1 each for counts and rates."""
    if measure.sort in ("count", "rate"):
        return np.ones(table.size)
    if measure.kind == "part":
        return table.damaged(measure.of)
    if measure.kind == "cost":
        return table.cost
    name = f"{measure.kind}.{measure.of}" if measure.of else measure.kind
    return table.column(_COLUMNS.get(name, name))


@dataclass(frozen=True, slots=True)
class Bar:
    """One group: `returns` that state the measure, its `value` and interval; nan where there is none."""

    name: str
    returns: int
    value: float
    low: float
    high: float


def bar(name: str, sort: Sort, some: Numbers, months: float = float("nan")) -> Bar:
    """The measure of one group from the values of its returns, none of them nan; `months`: unit-months of a rate."""
    n, value = len(some), float(some.mean()) if len(some) else float("nan")
    low = high = float("nan")
    if sort in ("count", "rate"):
        each = 1.0 if sort == "count" else 1000 / months if months > 0 else float("nan")
        value = n * each
        low, high = (float(end) * each for end in poisson_limits(n))
    elif n and sort == "share":
        low, high = (float(end[0]) for end in resampled(some[:, None]))
    elif n and sort == "plain share":
        low, high = (float(end) for end in wilson(some.sum(), n))
    elif n >= LEAST_PRICED and sort == "money":
        from scipy.stats import ttest_1samp

        ends = ttest_1samp(some, 0.0).confidence_interval(0.95) if np.ptp(some) > 0 else (value, value)
        low, high = (float(end) for end in ends)
    return Bar(name, n, value, low, high)


def means(sort: Sort, returns: Numbers, total: Numbers, months: Numbers) -> Numbers:
    """The values of many groups at once, to bring them into order; nan where there is none."""
    with np.errstate(divide="ignore", invalid="ignore"):
        if sort == "rate":
            return np.where(months > 0, 1000 * returns / months, np.nan)
        return returns if sort == "count" else np.where(returns > 0, total / returns, np.nan)


def stated(numbers: Numbers, chosen: Mask) -> Mask:
    """Those of the chosen returns that state the measure."""
    return chosen & ~np.isnan(numbers)
