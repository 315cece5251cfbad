"""A value with its uncertainty against a limit: probability of conformity, verdict, highest tier passed."""

from collections.abc import Sequence
from dataclasses import replace

from stripdown.bench.measurement import conformity
from stripdown.limits.model import Corrected, Judged, TierName, Verdict
from stripdown.limits.sheet import CLASS_WIDENING, RULES, Limit
from stripdown.record.model import Reading

SURE = 0.95
"""From here on a reading is `within`; at 1 - SURE and below it is `outside`."""

_RANK: dict[TierName, int] = {"notice": 0, "limit": 1, "danger": 2}


def verdict_of(probability: float) -> Verdict:
    """The word for a probability of conformity."""
    if probability >= SURE:
        return "within"
    return "outside" if probability <= 1.0 - SURE else "open"


def probability_of(value: float, uncertainty: float, limit: Limit) -> float:
    """Probability that `value` conforms to the tier `limit`; a doubtful band counts half by each of its ends."""
    low, high = limit.limits
    firm = conformity(value, uncertainty, low, high)
    if limit.doubtful == (None, None):
        return float(firm)
    doubt_low, doubt_high = limit.doubtful
    soft = conformity(
        value, uncertainty, low if doubt_low is None else doubt_low, high if doubt_high is None else doubt_high
    )
    return float(0.5 * (firm + soft))


def tier_of(value: float, limit: Limit) -> TierName | None:
    """The highest tier that the value passes; on a limit is not past it."""
    highest: TierName | None = None
    for t in limit.tiers:
        passed = (t.low is not None and value < t.low) or (t.high is not None and value > t.high)
        if passed and (highest is None or _RANK[t.name] > _RANK[highest]):
            highest = t.name
    return highest


def judged_value(
    reading: Reading,
    limit: Limit | None,
    value: float,
    uncertainty: float,
    *,
    corrected: Corrected,
    remarks: Sequence[str] = (),
    silent: str = "no limit known for this reading",
) -> Judged:
    """One reading under one rule; `value` and its standard uncertainty in the unit of the rule.

    limit None, or one that only notices: no verdict, `silent` or the notice's source says why.
    """
    if limit is None:
        return unjudged(reading, silent, corrected=corrected, remarks=remarks)
    value = _on_the_limit(value, limit)
    wide = uncertainty * CLASS_WIDENING if limit.is_class else uncertainty
    probability = probability_of(value, wide, limit) if limit.has_limit else None
    return Judged(
        quantity=reading.quantity,
        value=reading.value,
        unit=reading.unit,
        entry=reading.entry,
        between=reading.between,
        at=reading.at,
        cylinder=reading.cylinder,
        site=reading.site,
        corrected=corrected,
        rule=None if probability is None else limit.rule,
        notice_rule=limit.rule if probability is None else None,
        judged=value,
        judged_unit=RULES[limit.rule][0],
        judged_uncertainty=wide,
        tiers=limit.tiers,
        tier=tier_of(value, limit),
        probability_within=probability,
        verdict="no_limit" if probability is None else verdict_of(probability),
        source=limit.source if probability is not None else f"{limit.source}; a notice only, no limit",
        remark=_joined(remarks),
    )


def judged_by_meaning(reading: Reading, rule: str, good: bool, source: str, remarks: Sequence[str] = ()) -> Judged:
    """A reading "open" or "short", judged by what it means."""
    return replace(
        unjudged(reading, source, remarks=remarks),
        rule=rule,
        tier=None if good else "danger",
        probability_within=1.0 if good else 0.0,
        verdict="within" if good else "outside",
    )


def unjudged(
    reading: Reading, source: str, *, corrected: Corrected | None = None, remarks: Sequence[str] = ()
) -> Judged:
    """A reading that has no limit of its own, and why."""
    return Judged(
        quantity=reading.quantity,
        value=reading.value,
        unit=reading.unit,
        entry=reading.entry,
        between=reading.between,
        at=reading.at,
        cylinder=reading.cylinder,
        site=reading.site,
        corrected=corrected,
        source=source,
        remark=_joined(remarks),
    )


def _on_the_limit(value: float, limit: Limit) -> float:
    """`value`, or the limit it differs from only by the rounding of the arithmetic."""
    for edge in limit.edges:
        if abs(value - edge) <= 1e-9 * max(1.0, abs(edge)):
            return edge
    return value


def _joined(remarks: Sequence[str]) -> str | None:
    return " ".join(dict.fromkeys(r for r in remarks if r)) or None
