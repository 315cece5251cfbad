"""The index of a batch: one file that sorts, filters and searches by itself, with what needs a person first."""

import base64
import hashlib
from collections import Counter
from collections.abc import Iterable, Mapping
from functools import cache
from pathlib import Path
from typing import Any
from urllib.parse import quote

from markupsafe import Markup

from stripdown.figures.words import chance_words
from stripdown.pages import html, units
from stripdown.pages.blocks import cleaned
from stripdown.pages.status import STATUS
from stripdown.record import folder_name
from stripdown.vocabulary import label

ORDER = ("conflicting", "open", "rejected", "failed", "timed_out", "likely", "established")
"""Statuses, those that need a person first."""

INVENTED_COSTS = (
    "Amounts are by the cost table shipped with the program, which is invented, until --costs gives your own."
)

_MARKS = {status: (mark, level) for status, (mark, level, _) in STATUS.items()} | {
    "rejected": ("⊘", "bad"),
    "failed": ("⊘", "bad"),
    "timed_out": ("⊘", "bad"),
}
_COLUMNS = (
    ("claim", "Claim", False),
    ("status", "Status", False),
    ("first", "First mechanism", False),
    ("outcome", "Outcome", False),
    ("cost", "Expected cost", True),
    ("model", "Model", False),
    ("site", "Site", False),
    ("contractor", "Contractor", False),
    ("failed", "Failed", False),
    ("signed", "Sign-off", False),
)


def index_html(
    rows: Iterable[Mapping[str, Any]], *, title: str = "Returned compressors", own_costs: bool = False
) -> str:
    """The index page of result lines (`judge --json`) and of records that came to nothing (`faults` instead).

    A row links to `page` where it has one, else to CLAIM/page.html. Where a row says `state`, as in the ledger,
    and that is not `done`, it counts as its status. `own_costs`: amounts are by the user's table, not by the invented
    one.
    """
    lines = sorted((_line(r) for r in rows), key=lambda x: x["order"])
    for at, line in enumerate(lines):
        line["rank"] = at
    script = _script()
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode("ascii")
    context = {
        "title": title,
        "columns": [{"key": key, "title": name, "right": right} for key, name, right in _COLUMNS],
        "rows": cleaned(lines),
        "totals": _totals(lines),
        "costs_note": "" if own_costs or not any(x["currency"] for x in lines) else INVENTED_COSTS,
        "statuses": [s for s in ORDER if any(x["status"] == s for x in lines)],
        "models": sorted({x["model"] for x in lines if x["model"]}),
        "outcomes": sorted({x["outcome"] for x in lines if x["outcome"]}),
    }
    template = html.environment().get_template("index.html")
    return template.render(page=context, style=Markup(html.sheet()), script=Markup(script), digest=digest)


@cache
def _script() -> str:
    return (Path(__file__).with_name("templates") / "index.js").read_text(encoding="utf-8").strip()


def _line(row: Mapping[str, Any]) -> dict[str, Any]:
    """One row of the table: texts, what it is sorted by, and where it stands before anybody sorts."""
    state = row.get("state", "done")
    status = state if state != "done" else row["status"]
    mark, level = _MARKS[status]
    done = status in STATUS
    top: Mapping[str, Any] = row["first"][0] if done else {"id": "", "probability": 0.0}
    outcome: Mapping[str, Any] = row["outcome"] if done else {"id": "", "expected_cost": 0.0, "currency": ""}
    unit, history = row.get("unit", {}), row.get("history", {})
    signed = signed_by(row)
    claim = row.get("claim") or ""
    return {
        "claim": claim,
        "file": row.get("file", ""),
        "link": (row.get("page") or f"{quote(folder_name(claim))}/page.html") if done else "",
        "status": status,
        "mark": mark,
        "level": level,
        "first": label(top["id"]),
        "chance": chance_words(top["probability"]) if done else "",
        "outcome": label(outcome["id"]),
        "cost": outcome["expected_cost"],
        "money": units.money(outcome["expected_cost"], outcome["currency"]) if done else "",
        "currency": outcome["currency"],
        "model": str(unit.get("model", "")),
        "serial": str(unit.get("serial", "")),
        "site": str(history.get("site", "")),
        "contractor": str(history.get("contractor", "")),
        "failed": str(history.get("failed", "")),
        "signed": f"✓ {signed}" if signed else "☐ to sign" if done else "–",
        "faults": [{"entry": f.get("entry", ""), "what": f["what"], "fix": f["fix"]} for f in row.get("faults") or []],
        "order": (ORDER.index(status), bool(signed), -outcome["expected_cost"], claim),
    }


def signed_by(row: Mapping[str, Any]) -> str:
    """Who confirmed the finding last; '' where nobody did."""
    signed = row.get("confirmed") or []
    return str(signed[-1].get("by") or "not named") if signed else ""


def _totals(lines: list[dict[str, Any]]) -> list[list[str]]:
    counts = Counter(x["status"] for x in lines)
    sums: Counter[str] = Counter()
    for x in lines:
        if x["currency"]:
            sums[x["currency"]] += x["cost"]
    done = [x for x in lines if x["status"] in STATUS]
    return [
        ["Records", str(len(lines))],
        *([f"{_MARKS[s][0]} {s.replace('_', ' ')}", str(counts[s])] for s in ORDER if counts[s]),
        ["Signed off", f"{sum(x['signed'].startswith('✓') for x in done)} of {len(done)}"],
        *(
            ["Expected cost of the proposals", units.money(amount, currency)]
            for currency, amount in sorted(sums.items())
        ),
    ]
