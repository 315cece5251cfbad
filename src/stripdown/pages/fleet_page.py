"""The page of a fleet, as HTML and as PDF, from the object of `fleet --json`."""

import json
from collections.abc import Mapping
from functools import lru_cache
from typing import Any

from stripdown.numbers import count
from stripdown.pages import fleet_groups, fleet_life, fleet_looks, fleet_records, fleet_tallies, html, pdf
from stripdown.pages.blocks import cleaned
from stripdown.pages.sections import Section
from stripdown.pages.show import Paper, Show
from stripdown.pages.units import day_of
from stripdown.vocabulary import label

Report = Mapping[str, Any]

first: Section[Report] = Section("first", "What the returns failed of", fleet_tallies.first)
causes: Section[Report] = Section("causes", "Causes and failed parts", fleet_tallies.causes)
life: Section[Report] = Section("life", "How long they live", fleet_life.life)
groups: Section[Report] = Section("groups", "Models, sites, contractors", fleet_groups.groups)
alerts: Section[Report] = Section("alerts", "Alerts, comparisons and trends", fleet_looks.alerts)
forecast: Section[Report] = Section("forecast", "What is to be expected", fleet_life.forecast)
costs: Section[Report] = Section("costs", "Costs", fleet_tallies.costs)
quality: Section[Report] = Section("quality", "How good the records are", fleet_records.quality)
method: Section[Report] = Section("method", "Limits of the method", fleet_records.method)

_ALL = (first, causes, life, groups, alerts, forecast, costs, quality, method)
FLEET_SECTIONS: tuple[tuple[str, str, Section[Report]], ...] = tuple((s.key, s.title, s) for s in _ALL)
"""Key, title and function of every section of the fleet page, in its order."""


def fleet_html(report: Report, *, paper: Paper = "a4") -> str:
    """The fleet page as one HTML file with everything inside it."""
    return html.page(content(report, Show(paper=paper)))


def fleet_pdf(report: Report, *, paper: Paper = "a4") -> bytes:
    """The fleet page as PDF; the numbers are those of `fleet_html`."""
    return pdf.page(content(report, Show(paper=paper)))


def content(report: Report, show: Show) -> dict[str, Any]:
    """What the page says, as plain data: title, facts, sections; drawn once for page and print."""
    return _content(json.dumps(report), show)


@lru_cache(maxsize=2)
def _content(told: str, show: Show) -> dict[str, Any]:
    report = json.loads(told)
    period = [day_of(d) for d in report["period"]]
    head = {
        "title": "Fleet report",
        "subject": f"{count(report['returns'])} returned compressors",
        "line": f"Failed or removed {period[0]} to {period[-1]}" if period else "No dates in the records",
        "facts": [
            ["Returns judged", count(report["returns"])],
            ["Rejected records", count(report["rejected"])],
            ["Not decided", count(report["undecided"])],
            ["Watched until", day_of(report["until"]) or "not known"],
            *_chosen(report.get("chosen") or {}),
        ],
        "paper": show.paper,
        "foot": f"stripdown {report['version']} · knowledge {str(report['knowledge'])[:19]}",
    }
    shown: dict[str, Any] = cleaned(head)
    return shown | {"sections": [s.content(report, show) for s in _ALL]}


def _chosen(choices: Mapping[str, Any]) -> list[list[str]]:
    """What the report was narrowed to, and the change that was asked about."""
    out = []
    for key, meant in choices.items():
        only = f"Only {label(key)}" if key in ("model", "site", "contractor") else label(key).capitalize()
        names = [meant] if isinstance(meant, str) else meant
        out.append([only, ", ".join((day_of(n) or n) if key == "change" else n for n in names)])
    return out
