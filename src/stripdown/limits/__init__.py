"""Limit sheets, measurement uncertainty, probability of conformity, verdicts."""

from stripdown.limits.judge import judge_readings
from stripdown.limits.load import load_sheets
from stripdown.limits.model import Corrected, Judged, Tier
from stripdown.limits.sheet import Limit, Sheet, Sheets, effective_unit
from stripdown.limits.together import Clash

__all__ = [
    "Clash",
    "Corrected",
    "Judged",
    "Limit",
    "Sheet",
    "Sheets",
    "Tier",
    "effective_unit",
    "judge_readings",
    "load_sheets",
]
