"""The limits of a blank sheet in words: what a reading may be on this model, before it is taken."""

from stripdown.limits.context import oil_kind
from stripdown.limits.derived import limit_of
from stripdown.limits.sheet import RULES, Limit, Sheet
from stripdown.pages import units
from stripdown.pages.bench_plan import Measure

_JUDGED = {
    "winding_value": "{} at 20 °C",
    "insulation_minimum": "{} at 40 °C",
    "supply_unbalance": "{} from the mean",
    "current_unbalance": "{} from the mean",
    "supply_voltage": "{} of the plate",
    "net_oil_pressure": "{} above the crankcase",
    "oil_charge": "{} of the charge",
    "suction_superheat": "superheat {}",
    "evaporator_superheat": "superheat {}",
    "compression_ratio": "absolute ratio {}",
    "envelope_evaporating": "evaporating {}",
    "envelope_condensing": "condensing {}",
    "sump_margin": "{} above saturated suction",
}
"""Rule → what it judges, where that is not the reading itself."""
_DIRECT = {"superheat", "net_oil_pressure"}
"""Quantities that are read as what their rule judges."""


def told(asked: Measure, sheet: Sheet, system: units.System) -> str:
    """The limits of one row of a sheet, '–' where there is none."""
    return "; ".join(text for rule in asked.rules if (text := _told(rule, asked, sheet, system))) or "–"


def _told(rule: str, asked: Measure, sheet: Sheet, system: units.System) -> str:
    limit = limit_of(sheet, rule, asked.between, oil_kind(sheet.machine.oil))
    if limit is None or (limit.only is not None and (sheet.machine.stages or 1) > 1):
        return ""
    tiers = {t.name: t for t in limit.tiers}
    tier, usual = (tiers["limit"], "") if "limit" in tiers else (tiers.get("notice"), "usually ")
    if tier is None:
        return ""
    judged = "{}" if asked.quantity in _DIRECT else _JUDGED.get(rule, "{}")
    text = usual + units.limits(tier.low, tier.high, RULES[rule][0], system, asked.quantity)
    return judged.format(text) + _whose(limit)


def _whose(limit: Limit) -> str:
    if limit.only:
        return " (class, single-stage halocarbon)"
    return " (class)" if limit.is_class else ""
