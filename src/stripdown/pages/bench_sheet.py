"""The blank bench sheet to print: every step of the teardown in order, caution first, boxes and limits beside."""

from typing import Any

from stripdown import vocabulary
from stripdown.knowledge.model import Knowledge, Step
from stripdown.limits.sheet import Sheet
from stripdown.pages import bench_limits, bench_plan, pdf, units
from stripdown.pages import blocks as b
from stripdown.pages.answer import first_of_all
from stripdown.pages.blocks import cleaned
from stripdown.pages.show import Paper, Show

_BOX = "☐"
_GRADES = ("sound", "slight", "heavy, yes", "cannot read", "not looked at")
_LOOK = (("Part", 2.1), ("Look for", 2.4), *((g, 1.05) for g in _GRADES), ("Cyl.", 0.8), ("Photo, note", 2.4))
_MEASURE = (
    ("Measure", 2.6),
    ("Between", 1.2),
    ("Limit", 3.7),
    ("Value, unit", 2.0),
    ("Temp.", 0.9),
    ("Instrument", 1.6),
)
_SIGNED = (("Instruments", 2), ("Name", 1), ("Date", 1), ("Minutes in all", 1), ("Signature", 1))


def sheet_pdf(sheet: Sheet, knowledge: Knowledge, *, system: units.System = "si", paper: Paper = "a4") -> bytes:
    """The bench sheet of a model; where the model has no limit sheet, the limits are those of the class and say so."""
    return pdf.page(content(sheet, knowledge, Show(system=system, paper=paper)))


def content(sheet: Sheet, knowledge: Knowledge, show: Show) -> dict[str, Any]:
    """What stands on the sheet, as plain data."""
    m = sheet.machine
    known = [
        ("Motor", m.motor and m.motor.replace("_", " ")),
        ("Cooling", m.cooling and f"{m.cooling}-cooled"),
        ("Oil feed", m.oil_feed),
        ("Cylinders", str(m.cylinders) if m.cylinders else None),
        ("Oil", m.oil),
        ("Oil charge", units.measured(m.oil_charge, "l", show.system) if m.oil_charge else None),
    ]
    head = {
        "title": "Bench sheet",
        "subject": sheet.model if sheet.known else f"{sheet.model} (no limit sheet: limits of the class)",
        "line": f"{sheet.name}; not looked at is never sound: tick every row",
        "facts": [[k, v] for k, v in known if v],
        "paper": show.paper,
        "foot": f"{sheet.name} · knowledge {knowledge.digest[:19]}",
    }
    steps = [_step(i, s, sheet, show) for i, s in enumerate(knowledge.steps, 1)]
    shown: dict[str, Any] = cleaned(head | {"sections": [_opening(knowledge), *steps]})
    return shown


def _opening(knowledge: Knowledge) -> dict[str, Any]:
    fields = (
        *("Claim", "Serial", "Model", "Refrigerant, oil", "Run hours", "Failed when", "Installed", "Failed on"),
        *("Site, altitude", "Contractor"),
    )
    alarms = ("Oil", "Motor heat", "Discharge heat", "Phase", "Locked rotor", "Starts, hours")
    made = [
        first_of_all(knowledge.general_caution),
        b.form("Unit and claim", (), [(f, 1) for f in fields]),
        b.form("Examined, and found as written here", (), _SIGNED),
        b.form("Alarm memory, as counted before the unit left the site", (), [(a, 1) for a in alarms]),
    ]
    return {"key": "opening", "title": "Before anything", "blocks": made}


def _step(number: int, step: Step, sheet: Sheet, show: Show) -> dict[str, Any]:
    made: list[b.Block] = [b.caution([step.caution]), b.para(f"{step.text}.")]
    looked = [_look(part, c) for part in step.parts for c in bench_plan.conditions(part, sheet.machine)]
    if looked:
        made.append(b.table("Look", _LOOK, looked, "llcccccll", roomy=True))
    measures = bench_plan.measures(step.id, sheet.machine)
    measured = [_measure(m, sheet, show) for m in measures for _ in range(bench_plan.rows_for(m))]
    if measured:
        made.append(b.table("Measure", _MEASURE, measured, roomy=True))
    return {"key": step.id, "title": f"{number}  {step.title} ({step.minutes:g} min)", "blocks": made}


def _look(part: str, condition: str) -> list[str]:
    """Boxes of one row: what is there or not has no slight; a crank turns or not, and is then not called sound."""
    sound = "–" if part in ("crank", "pumping") else _BOX
    slight = "–" if vocabulary.presence_only(part, condition) else _BOX
    return [vocabulary.label(part), vocabulary.label(condition), sound, slight, _BOX, _BOX, _BOX, "", ""]


def _measure(asked: bench_plan.Measure, sheet: Sheet, show: Show) -> list[str]:
    point = f"cyl. {asked.cylinder}" if asked.cylinder else asked.between or ""
    return [vocabulary.label(asked.quantity), point, bench_limits.told(asked, sheet, show.system), "", "", ""]
