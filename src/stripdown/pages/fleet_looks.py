"""Section of the fleet page that compares: what stands out, month by month, group by group, before and after."""

from collections.abc import Mapping, Sequence
from typing import Any

from stripdown.figures import looks
from stripdown.pages import blocks as b
from stripdown.pages.fleet_words import asked, column, decimals, p_words
from stripdown.pages.show import Show
from stripdown.pages.units import number
from stripdown.vocabulary import label

_MOST = 12

Look = Mapping[str, Any]


def alerts(report: Mapping[str, Any], show: Show) -> list[b.Block]:
    """What stands out after correction for how much was looked at."""
    known = [c for c in report["comparisons"] if c.get("ratio") is not None]
    changes = [c for c in known if c.get("dimension") == "date"]
    others = [c for c in known if c.get("dimension") != "date" and c.get("p_adjusted") is not None]
    surest = sorted(others, key=lambda c: (c["p_adjusted"], c["p"]))[:_MOST]
    out = [b.heading("Does a batch, a site, a crew or a place stand out?"), *_alerts(report)]
    out += asked(
        "Is this month worse?",
        looks.months(report),
        "Expected: the ages of all units and the hazard of their model at that age. A failure that has not come back "
        "yet is not counted, so the last months look better than they are.",
    )
    out += asked("Did the change work?", looks.compared(_drawn(changes)), _EXACT)
    out += asked("Which differences are least likely to be chance?", looks.compared(_drawn(surest)), _EXACT)
    if changes or surest:
        rows = [(c["what"], _seen(c), column(c | {"value": c["ratio"]}, 2), p_words(c)) for c in [*changes, *surest]]
        columns = (("Compared", 4.2), ("Failed / due [units]", 1.8), ("Ratio, 95 %", 2.2), ("Adjusted", 1.5))
        title = f"The {len(surest)} least likely by chance of {len(report['comparisons'])} comparisons"
        out.append(b.table(title + (", after the change" if changes else ""), columns, rows, "lrrr"))
    if report["trend"]:
        trends = [(t["what"].replace("_", " "), t["direction"], p_words(t)) for t in report["trend"]]
        out.append(b.heading("Does it get worse, or the mix change?"))
        headings = (("What", 4.5), ("Direction", 1.5), ("Adjusted", 1.6))
        out.append(b.table("Trends by half-year, score test", headings, trends, "llr"))
    return out


_EXACT = "Failures beside those due at equal model and age; exact interval (two Poisson counts given their sum), 95 %."


def _alerts(report: Mapping[str, Any]) -> list[b.Block]:
    """The alerts, or that there are none, and for how many looks they were corrected."""
    out: list[b.Block] = []
    for a in report["alerts"]:
        seen = f"Observed {number(a['observed'], 3)}, expected {number(a['expected'], 3)}, {p_words(a)}."
        out.append(b.warning(label(a["kind"]).upper(), f"{b.sentence(a['text'])} {seen}"))
    if not out:
        out.append(b.para("Nothing stands out beyond what chance brings."))
    if report.get("looks") is not None:
        said = f"Looks taken: {report['looks']}, every p corrected for all of them (Benjamini-Hochberg, 5 %)."
        if report.get("looks_too_small"):
            said += (
                f" Left out: {report['looks_too_small']} groups so small that no number of failures in them could have "
                "come to 5 %."
            )
        out.append(b.small(said))
    return out


def _drawn(rows: Sequence[Look]) -> tuple[tuple[str, float, float | None, float | None, str], ...]:
    return tuple((c["what"], c["ratio"], c["low"], c["high"], p_words(c)) for c in rows)


def _seen(c: Look) -> str:
    due = c.get("expected")
    return "–" if c.get("observed") is None else f"{decimals(c['observed'], 2)} / {decimals(due, 2)}"
