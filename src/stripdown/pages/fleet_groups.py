"""Sections of the fleet page that compare: life per model, groups, alerts, forecast."""

from collections.abc import Mapping
from typing import Any

from stripdown.figures import lives
from stripdown.figures.words import percent
from stripdown.pages import blocks as b
from stripdown.pages.show import Show
from stripdown.pages.units import number
from stripdown.vocabulary import label

_MOST = 12
_DIMENSIONS = ("model", "site", "contractor", "build_month", "duty", "refrigerant", "opened_before")


def life(report: Mapping[str, Any], show: Show) -> list[b.Block]:
    """Life per model with units still running counted, and what fails how soon."""
    if not report["life"]:
        return [b.para("Life needs the units that did not come back: without a units table none is given.")]
    rows = [
        (
            m["model"],
            number(m["failures"], 3),
            str(m["running"]),
            _range(m["shape"], 2),
            _range(m["scale"], 3),
            _range(m["b10"], 3),
            b.cell(_shape_word(m["shape"]), note=str(m.get("method", ""))),
        )
        for m in report["life"]
    ]
    columns = (
        ("Model", 1.3),
        ("Failed", 0.8),
        ("Running", 0.9),
        ("Shape", 1.7),
        ("Scale, days", 2.1),
        ("B10, days", 2.1),
        ("Reads as", 2.6),
    )
    out = [
        *b.figure(lives.life(report)),
        b.small(
            "Steps: share failed without any assumption, with its 95 % band; broken line: the fitted or stated curve."
        ),
        b.table("Life per model, 95 % intervals; B10 = age by which 10 % have failed", columns, rows, "lrrrrrl"),
    ]
    return [*out, *b.figure(lives.incidence(report))]


def _shape_word(shape: Mapping[str, Any]) -> str:
    low, high = shape.get("low"), shape.get("high")
    if low is None or high is None:
        return "shape taken over, not estimated"
    if low > 1:
        return "wear: the older, the likelier to fail"
    return "early failures" if high < 1 else "chance: age tells little"


def _range(e: Mapping[str, Any], digits: int) -> str:
    if e.get("value") is None:
        return "–"
    ends = [e.get("low"), e.get("high")]
    if ends[0] is None and ends[1] is None:
        return number(e["value"], digits)
    told = [("–" if x is None else number(x, digits)) for x in ends]
    return f"{number(e['value'], digits)} ({told[0]} to {told[1]})"


def groups(report: Mapping[str, Any], show: Show) -> list[b.Block]:
    """Each dimension: returns, rate where the running units are known, and the mechanism that leads."""
    out: list[b.Block] = []
    for dimension in _DIMENSIONS:
        rows = report["by"].get(dimension) or []
        if rows:
            out.append(b.heading(f"By {label(dimension)}"))
            out += b.figure(lives.rates(report, dimension))
            out.append(_group_table(dimension, rows))
    return out or [b.para("The records name no model, site or contractor to compare.")]


def _group_table(dimension: str, rows: list[Mapping[str, Any]]) -> b.Block:
    rated = any(r.get("rate_per_1000_unit_months") is not None for r in rows)
    columns = [(label(dimension).capitalize(), 1.6), ("Returns", 0.8), ("Leading first mechanisms", 4.0)]
    if rated:
        columns.insert(2, ("Per 1000 unit-months", 1.8))
    table = []
    for r in rows[:_MOST]:
        lead = "; ".join(f"{label(x['id'])} {percent(x.get('shrunk', x['share']))}" for x in _leading(r))
        cells = [str(r["id"]), str(r["returns"]), lead or "–"]
        if rated:
            cells.insert(2, _rate(r))
        table.append(cells)
    caption = "Shares are drawn towards the fleet's" + ("; rates with 95 % interval" if rated else "")
    if len(rows) > _MOST:
        caption += f"; the {_MOST} with most returns of {len(rows)}"
    return b.table(caption, columns, table, "lrrl" if rated else "lrl")


def _leading(r: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    return sorted(r.get("first") or [], key=lambda x: -x.get("shrunk", x["share"]))[:3]


def _rate(r: Mapping[str, Any]) -> str:
    rate = r.get("rate_per_1000_unit_months")
    if rate is None:
        return "–"
    return (
        f"{number(rate, 2)} ({number(r['rate_low'], 2)} to {number(r['rate_high'], 2)})"
        if "rate_low" in r
        else number(rate, 2)
    )


def alerts(report: Mapping[str, Any], show: Show) -> list[b.Block]:
    """What stands out after correction for how much was looked at."""
    out: list[b.Block] = []
    for a in report["alerts"]:
        text = f"{a['text']} Observed {a['observed']:g}, expected {number(a['expected'], 3)}{_p(a)}."
        out.append(b.warning(label(a["kind"]).upper(), text))
    out += _comparisons(report)
    if report["trend"]:
        rows = [(t["what"], t["direction"], _p(t).strip(", ")) for t in report["trend"]]
        out.append(b.table("Trends", (("What", 4.5), ("Direction", 1.5), ("p, adjusted", 1.6)), rows, "llr"))
    return out or [b.para("Nothing stands out.")]


def _or_none(value: float | None) -> str:
    """A ratio or its end; – where there is none, as when the rest had no failure."""
    return "–" if value is None else number(value, 3)


def _comparisons(report: Mapping[str, Any]) -> list[b.Block]:
    """The surest differences; how many were compared is said, since with many some differ by chance."""
    known = [c for c in report["comparisons"] if c.get("ratio") is not None and c.get("p_adjusted") is not None]
    shown = sorted(known, key=lambda c: c["p_adjusted"])[:_MOST]
    if not shown:
        return []
    rows = [(c["what"], _range(c | {"value": c["ratio"]}, 3), _p(c).strip(", ")) for c in shown]
    whole = len(report["comparisons"])
    caption = f"The {len(shown)} least likely by chance of {whole} comparisons, corrected for their number"
    return [b.table(caption, (("Compared", 4.5), ("Ratio, 95 %", 2.2), ("p, adjusted", 1.6)), rows, "lrr")]


def _p(row: Mapping[str, Any]) -> str:
    p = row.get("p_adjusted")
    if p is None:
        return ""
    return ", p under 0.001" if p < 0.001 else f", p {p:.3f}"


def forecast(report: Mapping[str, Any], show: Show) -> list[b.Block]:
    """Returns to expect in the coming months."""
    rows = report["forecast"]
    if not rows:
        return [b.para("No forecast: it needs a fitted life and the units still running.")]
    table = [
        (r["month"], f"{r['failures']:.1f}", f"{r['returns']:.1f}", f"{r['low']:g} to {r['high']:g}") for r in rows
    ]
    columns = (("Month", 1), ("Failures", 1), ("Returns", 1), ("Prediction limits", 1.4))
    return [*b.figure(lives.forecast(report)), b.table("Expected by month", columns, table, "lrrr")]
