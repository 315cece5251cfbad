"""All readings of a record against its limits."""

from stripdown.limits import electrical, lubrication, refrigerant, supply, wear
from stripdown.limits.context import Context
from stripdown.limits.disturbed import with_disturbances
from stripdown.limits.model import Judged
from stripdown.limits.sheet import FROM_SHEET, Sheets, effective_unit
from stripdown.limits.together import Clash, clashes
from stripdown.limits.verdict import unjudged
from stripdown.record.fault import Fault
from stripdown.record.model import Record

_RULES = electrical.RULES | supply.RULES | lubrication.RULES | refrigerant.RULES | wear.RULES


def judge_readings(record: Record, sheets: Sheets) -> tuple[tuple[Judged, ...], tuple[Fault, ...], tuple[Clash, ...]]:
    """Every reading under every rule that judges it, in the order of the record; what a person should know about
    them; and what of the record cannot all be true of one machine, which stands among the notices too."""
    ctx = Context(record, sheets.for_model(record.unit.model), effective_unit(record, sheets))
    _sheet_notices(ctx)
    out: list[Judged] = []
    for reading in record.readings:
        rule = _RULES.get(reading.quantity)
        found = rule(ctx, reading) if rule else [unjudged(reading, "no rule for this quantity")]
        out.extend(with_disturbances(judged) for judged in found)
    clashing = clashes(ctx, out)
    return tuple(out), (*ctx.notices, *(c.notice(record.file) for c in clashing)), clashing


def _sheet_notices(ctx: Context) -> None:
    unit, machine = ctx.record.unit, ctx.sheet.machine
    if not ctx.sheet.known:
        ctx.notice(
            "unit.model",
            f"no limit sheet for model {unit.model}: class limits are used, with a wider uncertainty",
            "write a limit sheet for it (docs/limit-sheets.md), or check the spelling",
        )
    for name in FROM_SHEET:
        said, sheet = getattr(unit, name), getattr(machine, name)
        if said is not None and sheet is not None and said != sheet:
            ctx.notice(
                f"unit.{name}", f"{said} here, {sheet} in the {ctx.sheet.name}: the record counts", "check the plate"
            )
