"""Section of the fleet page on groups: models, sites, contractors, batches, and what else may matter."""

from collections.abc import Mapping, Sequence
from typing import Any

from stripdown.figures import lives
from stripdown.numbers import count, percent, unbroken
from stripdown.pages import blocks as b
from stripdown.pages.fleet_words import column
from stripdown.pages.show import Show
from stripdown.vocabulary import label

_MOST = 12
_QUESTIONS = {
    "model": "Which models come back most?",
    "site": "Which sites send most back?",
    "contractor": "Whose jobs come back most?",
    "build_month": "Which months of building come back most?",
    "duty": "Does the duty matter?",
    "refrigerant": "Does the refrigerant matter?",
    "opened_before": "Does it matter who opened the machine before?",
}


def groups(report: Mapping[str, Any], show: Show) -> list[b.Block]:
    """Each dimension: returns, rate where the running units are known, and the mechanism that leads."""
    out: list[b.Block] = []
    for dimension, question in _QUESTIONS.items():
        rows = report["by"].get(dimension) or []
        if rows:
            out.append(b.heading(question))
            out += b.figure(lives.rates(report, dimension))
            out.append(_group_table(dimension, rows))
    return out or [b.para("The records name no model, site or contractor to compare.")]


def _group_table(dimension: str, rows: list[Mapping[str, Any]]) -> b.Block:
    rated = any(r.get("rate_per_1000_unit_months") is not None for r in rows)
    alike = _alike(rows)
    columns = [(label(dimension).capitalize(), 1.6), ("Returns", 0.8), (_PLAIN if alike else _DRAWN, 4.0)]
    if rated:
        columns.insert(2, ("Per 1000 unit-months", 1.8))
    table = []
    for r in rows[:_MOST]:
        cells = [str(r["id"]), count(r["returns"]), (_counted(r) if alike else _drawn(r)) or "–"]
        if rated:
            cells.insert(2, _rate(r))
        table.append(cells)
    caption = ("Plain counts" if len(rows) == 1 else _ALIKE) if alike else "Shares are drawn towards the fleet's"
    if dimension == "duty" and not alike:
        caption += "; part of what differs is where the reasoning starts for each duty"
    caption += "; rates with exact Poisson interval, 95 %" if rated else ""
    if len(rows) > _MOST:
        caption += f"; the {_MOST} with most returns of {count(len(rows))}"
    return b.table(caption, columns, table, "lrrl" if rated else "lrl")


_DRAWN = "Leading first mechanisms"
_PLAIN = "Most frequent headlines [returns]"
_ALIKE = "Too little to tell them apart by mechanism, so none has shares of its own: plain counts"
_MOSTLY = 0.5


def _alike(rows: Sequence[Mapping[str, Any]]) -> bool:
    """Whether the shares of each group, drawn towards the fleet, are the fleet's more than its own."""
    return bool(min(r.get("drawn", 0.0) for r in rows) > _MOSTLY)


def _drawn(r: Mapping[str, Any]) -> str:
    return "; ".join(f"{label(x['id'])} {unbroken(percent(x.get('shrunk', x['share'])))}" for x in _leading(r))


def _counted(r: Mapping[str, Any]) -> str:
    """Its own returns with a headline, those most frequent; how many have none."""
    own = sorted((x for x in r.get("first") or [] if x["count"]), key=lambda x: -x["count"])
    told = [f"{label(x['id'])} {count(x['count'])}" for x in own[:3]]
    others = r["returns"] - sum(x["count"] for x in own)
    return "; ".join([*told, *([f"not decided {count(others)}"] if others else [])])


def _leading(r: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    return sorted(r.get("first") or [], key=lambda x: -x.get("shrunk", x["share"]))[:3]


def _rate(r: Mapping[str, Any]) -> str:
    of = {"value": r.get("rate_per_1000_unit_months"), "low": r.get("rate_low"), "high": r.get("rate_high")}
    return column(of, 2)
