"""The root-cause page of one case, as HTML and as PDF, from one content."""

from typing import Any, Literal

from stripdown.case import Case
from stripdown.pages import html, pdf, units
from stripdown.pages.blocks import cleaned
from stripdown.pages.sections import of_purpose
from stripdown.pages.show import Paper, Purpose, Show
from stripdown.record.model import Alarms, History, Plate, Unit

_TITLES = {"warranty": "Root-cause summary", "site": "Root-cause summary for the site"}


def case_html(
    case: Case,
    *,
    purpose: Purpose = "warranty",
    system: Literal["si", "us"] = "si",
    paper: Paper = "a4",
    parts_kept: int | None = None,
) -> str:
    """The page as one HTML file with everything inside it. `parts_kept`: days from the examination, None = not said."""
    return html.page(content(case, Show(purpose=purpose, system=system, paper=paper, parts_kept=parts_kept)))


def case_pdf(
    case: Case,
    *,
    purpose: Purpose = "warranty",
    system: Literal["si", "us"] = "si",
    paper: Paper = "a4",
    parts_kept: int | None = None,
) -> bytes:
    """The page as PDF; the numbers are those of `case_html`."""
    return pdf.page(content(case, Show(purpose=purpose, system=system, paper=paper, parts_kept=parts_kept)))


def content(case: Case, show: Show) -> dict[str, Any]:
    """What the page says, as plain data: title, facts, sections."""
    head = {
        "title": _TITLES[show.purpose],
        "subject": f"Claim {case.record.claim}",
        "line": f"Compressor {case.record.unit.model}, serial {case.record.unit.serial}",
        "facts": [[k, v] for k, v in _facts(case, show) if v],
        "paper": show.paper,
        "foot": f"Claim {case.record.claim} · stripdown {case.version} · knowledge {case.knowledge[:19]}",
    }
    shown: dict[str, Any] = cleaned(head)
    return shown | {"sections": [s.content(case, show) for s in of_purpose(show.purpose)]}


def _facts(case: Case, show: Show) -> list[tuple[str, str | None]]:
    r = case.record
    return [
        *life(r.unit, r.history, show),
        ("Examined", ", ".join(x for x in (r.examined_by, units.day(r.examined_on)) if x)),
        ("Record", None if r.revision is None else f"revision {r.revision}"),
    ]


def life(u: Unit, h: History, show: Show) -> list[tuple[str, str | None]]:
    """The machine and its life up to the return, label and words; None or empty where nothing is known."""
    plate = [units.number(v) + " " + unit for v, unit in _plate(u.plate) if v is not None]
    bits = [u.cooling and f"{u.cooling}-cooled", u.motor and u.motor.replace("_", " ") + " motor"]
    bits += [u.oil_feed and f"{u.oil_feed} oil feed", f"{u.cylinders} cylinders" if u.cylinders else None]
    return [
        ("Refrigerant, oil", ", ".join(x for x in (u.refrigerant, u.oil) if x)),
        ("Build", ", ".join(x for x in bits if x) + (", inverter-fed" if u.inverter else "")),
        ("Plate", ", ".join(plate)),
        ("Built", units.day(u.built)),
        ("Installed", units.day(h.installed)),
        ("Failed", " ".join(x for x in (units.day(h.failed), _when(h.failed_when)) if x)),
        ("Returned", units.day(h.returned)),
        ("Run hours", None if u.run_hours is None else units.number(u.run_hours, 6) + " h"),
        ("Site", h.site),
        ("Altitude", None if h.altitude is None else units.measured(h.altitude, "m", show.system)),
        ("Contractor", h.contractor),
        ("Duty", h.duty),
        ("Replaces", h.replaces),
        ("Opened before", h.opened_before),
        ("Alarm memory", _alarms(h.alarms)),
        ("Warranty until", units.day(h.warranty_until) if show.purpose == "warranty" else None),
    ]


def _plate(p: Plate) -> list[tuple[float | None, str]]:
    return [(p.voltage, "V"), (p.frequency, "Hz"), (p.current, "A")]


def _when(word: str | None) -> str | None:
    return (
        None if word is None else {"start": "at a start", "running": "while running"}.get(word, word.replace("_", " "))
    )


def _alarms(a: Alarms) -> str | None:
    counts = {
        "oil": a.oil,
        "motor heat": a.motor_heat,
        "discharge heat": a.discharge_heat,
        "phase": a.phase,
        "locked rotor": a.locked_rotor,
    }
    read = [f"{name} {n}" for name, n in counts.items() if n is not None]
    return ", ".join(read) or None
