"""What becomes of a reading when it is held against a limit."""

from dataclasses import dataclass
from typing import Literal

from stripdown.record.model import Meter

TierName = Literal["notice", "limit", "danger"]
Verdict = Literal["within", "outside", "open", "no_limit"]


@dataclass(frozen=True, slots=True)
class Corrected:
    """Value after the named corrections; `uncertainty` is a standard uncertainty in `unit`."""

    value: float
    unit: str
    uncertainty: float
    corrections: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Tier:
    """One pair of limits in the judged unit; None = no limit on that side."""

    name: TierName
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """One reading under one rule. `judged` [judged_unit] with standard uncertainty `judged_uncertainty` is held
    against `tiers`; the verdict is on the tier `limit`. `rule` None = recorded, no limit of its own."""

    quantity: str
    value: float | Meter
    unit: str
    entry: str = ""
    between: str | None = None
    at: str | None = None
    cylinder: int | None = None
    site: bool = False
    corrected: Corrected | None = None
    rule: str | None = None
    notice_rule: str | None = None
    """The rule of a reading that has a notice but no limit, so that `rule` is None; its value still speaks as
    evidence."""
    judged: float | None = None
    judged_unit: str | None = None
    judged_uncertainty: float | None = None
    tiers: tuple[Tier, ...] = ()
    tier: TierName | None = None
    probability_within: float | None = None
    verdict: Verdict = "no_limit"
    source: str = "no limit known for this reading"
    remark: str | None = None
    """One plain sentence a person should read beside the verdict (a missing temperature, a class limit, what an earth
    means)."""

    def limits(self) -> tuple[float | None, float | None]:
        """Low and high of the tier `limit`, (None, None) where there is none."""
        return next(((t.low, t.high) for t in self.tiers if t.name == "limit"), (None, None))

    def as_json(self) -> dict[str, object]:
        """The entry of `readings` in the result."""
        low, high = self.limits()
        out: dict[str, object] = {
            "quantity": self.quantity,
            "between": self.between,
            "at": self.at,
            "cylinder": self.cylinder,
            "site": self.site,
            "value": self.value,
            "unit": self.unit,
            "corrected": None
            if self.corrected is None
            else {
                "value": self.corrected.value,
                "unit": self.corrected.unit,
                "uncertainty": self.corrected.uncertainty,
                "corrections": list(self.corrected.corrections),
            },
            "rule": self.rule,
            "judged": self.judged,
            "judged_unit": self.judged_unit,
            "judged_uncertainty": self.judged_uncertainty,
            "limit_low": low,
            "limit_high": high,
            "tier": self.tier,
            "probability_within": self.probability_within,
            "verdict": self.verdict,
            "source": self.source,
            "remark": self.remark,
        }
        return out
