"""Limits that follow from what a sheet says of the machine, where it states none: a heater by its rating, a play by
the size of the journal."""

from stripdown.bench import electrical, wear
from stripdown.limits.model import Tier
from stripdown.limits.sheet import Limit, Sheet

_WORN, HEAVY = 0.025, 0.075
"""Play [mm] above the largest new clearance that is worn (common practice), and heavily worn (estimate)."""
_HEATER = 0.1
"""Share by which a heater may be off its rating (common practice)."""


def limit_of(sheet: Sheet, rule: str, between: str | None = None, oil: str | None = None) -> Limit | None:
    """The limit of a rule for this model, stated or derived; `oil` is POE or mineral. None where nothing is known."""
    limit = sheet.limit(rule, between, oil)
    if rule == "heater_resistance" and limit is None:
        return _heater(sheet)
    if (limit is None or limit.is_class) and (journal := sheet.machine.journals.get(rule)) is not None:
        return _play(sheet, rule, journal)
    return limit


def _heater(sheet: Sheet) -> Limit | None:
    rating = sheet.machine.heater
    if rating is None:
        return None
    nominal = electrical.heater_resistance(*rating)
    tier = Tier("limit", (1 - _HEATER) * nominal, (1 + _HEATER) * nominal)
    source = f"{sheet.name}: {rating[0]:g} V, {rating[1]:g} W within 10 %: common practice, no source"
    return Limit(rule="heater_resistance", tiers=(tier,), source=source, nominal=nominal)


def _play(sheet: Sheet, rule: str, journal: float) -> Limit:
    metal = sheet.machine.bearing_metal
    new = wear.new_clearance(journal, metal)
    tiers = (Tier("notice", None, new), Tier("limit", None, new + _WORN), Tier("danger", None, new + HEAVY))
    source = f"class limit: {journal:g} mm journal in {metal} new, 25 um more worn: common practice, no source"
    return Limit(rule=rule, tiers=tiers, source=source, is_class=True)
