"""Section of the fleet page that compares: what stands out, month by month, group by group, before and after."""

from collections.abc import Mapping, Sequence
from typing import Any

from stripdown.figures import looks
from stripdown.fleet.compare import ALARM
from stripdown.numbers import count, decimals, fixed, number
from stripdown.pages import blocks as b
from stripdown.pages.fleet_words import asked, both_p, column, p_words, verdict
from stripdown.pages.show import Show
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
        "yet is not counted, so the last months look better than they are." + _earlier(report),
    )
    out += asked("Did the change work?", looks.compared(_drawn(changes)), _EXACT)
    out += asked(
        "Which differences are least likely to be chance?",
        looks.compared(_drawn(surest)),
        _EXACT + (_REST if report["alerts"] else ""),
    )
    if surest and surest[0]["p_adjusted"] > ALARM:
        looks_taken = count(report.get("looks") or len(report["comparisons"]))
        out.append(b.para(f"None of these differences is more than {looks_taken} looks bring by chance."))
    if changes or surest:
        shown = [*changes, *surest]
        least = min((c["expected"] for c in shown if c.get("expected")), default=1.0)
        rows = [_compared(c, 2 if least < 1 else 1 if least < 100 else 0) for c in shown]
        columns = (("Compared", 3.6), ("Failed / due [units]", 1.6), ("Ratio, 95 %", 2.0), ("p", 1.1),
                   ("Corrected", 1.1), ("Reads as", 1.9))  # fmt: skip
        title = f"The {len(surest)} least likely by chance of {len(report['comparisons'])} comparisons"
        out.append(b.table(title + (", after the change" if changes else ""), columns, rows, "lrrrrl"))
    return [*out, *_trends(report)]


_EXACT = (
    "Failures beside those due at equal model and age; exact interval (two Poisson counts given their sum), 95 %. p: "
    "how often chance alone would show so much; at the right by itself / corrected for all looks."
)
_REST = (
    " What stands out is part of the rest that all others are held against: they look better beside it than they are."
)
_TREND_COLUMNS = (
    ("What", 3.0),
    ("Change a year, 95 %", 2.8),
    ("Returns compared", 1.1),
    ("p", 1.1),
    ("Corrected", 1.1),
    ("Reads as", 2.0),
)


def _earlier(report: Mapping[str, Any]) -> str:
    months = report.get("months") or []
    left_out = len(months) - looks.MOST_MONTHS
    return "" if left_out <= 0 else f" The last {looks.MOST_MONTHS} months; {count(left_out)} earlier in months.csv."


def _compared(c: Look, places: int) -> tuple[str, ...]:
    ratio = column(dict(c) | {"value": c["ratio"]}, 2)
    return (c["what"], _seen(c, places), ratio, p_words(c["p"]), p_words(c.get("p_adjusted")), verdict(c))


def _trends(report: Mapping[str, Any]) -> list[b.Block]:
    """Each trend with its size; where the mix cannot be tested, why."""
    rows = [
        (t["what"].replace("_", " "), _change(t), count(t["returns"]), p_words(t["p"]), p_words(t.get("p_adjusted")),
         verdict(t) if verdict(t) != "more than chance" else t["direction"])
        for t in sorted(report["trend"], key=lambda t: t["unit"] == _POINTS)[:_MOST]
    ]  # fmt: skip
    shares = [t for t in report["trend"] if t["unit"] == _POINTS]
    out: list[b.Block] = []
    if rows:
        title = "Trends; score test, and the changes that it leaves possible"
        if len(report["trend"]) > _MOST:
            title += f"; the {_MOST} least likely by chance of {len(report['trend'])}, all in trend.csv"
        out.append(b.table(title, _TREND_COLUMNS, rows, "lrrrrl"))
    if shares:
        out.append(
            b.small(
                "Shares: each return beside those of equal run hours (in bands), duty, model and history only, as its "
                "probabilities start from those; a fleet that grows older moves no share by that. The change is one of "
                "expected shares, in points of 100: where findings tell little, the real one is greater. Fuller "
                "records move them too, and so does a true trend of a mechanism that leaves like marks."
            )
        )
    elif report["returns"]:
        alike = count(report["alike"])
        out.append(
            b.small(
                f"Mix: {alike} of {count(report['returns'])} returns have others of equal run hours (in bands), duty, "
                "model and history in another half-year. That is too few, or too few of any one mechanism, to tell "
                "whether a share changes."
            )
        )
    if len(report["trend"]) > len(shares):
        out.append(
            b.small(
                "Failures at equal age: whether it is the years or the later units that make the difference cannot be "
                "told apart."
            )
        )
    return [b.heading("Does it get worse, or the mix change?"), *out] if out else []


_POINTS = "share a year"


def _change(t: Look) -> str:
    """'+0.6 points (+0.1 to +1.1)' or '1.05 times (0.99 to 1.12)'."""
    points = t["unit"] == _POINTS
    ends = [t[k] for k in ("change", "low", "high")]
    told = ["no end" if e is None else fixed(100 * e, 2, plus=True) if points else fixed(e, 2) for e in ends]
    return f"{told[0]} {'points' if points else 'times'} ({told[1]} to {told[2]})"


def _alerts(report: Mapping[str, Any]) -> list[b.Block]:
    """The alerts, or that there are none, and for how many looks they were corrected."""
    out: list[b.Block] = []
    for a in report["alerts"]:
        text = f"{b.sentence(a['text'])} Corrected p {p_words(a['p_adjusted'])}."
        out.append(b.warning(label(a["kind"]).upper(), text + _in_common(a)))
    if not out:
        out.append(b.para("Nothing stands out beyond what chance brings."))
    if report.get("looks") is not None:
        said = f"Looks taken: {count(report['looks'])}, every p corrected for all of them (Benjamini-Hochberg, 5 %)."
        if report.get("looks_too_small"):
            said += (
                f" Left out: {count(report['looks_too_small'])} groups so small that no number of failures in them "
                "could have come to 5 %."
            )
        out.append(b.small(said))
    return out


def _in_common(a: Look) -> str:
    """How much of an alert is that of another, and what is left of it."""
    if not a.get("also_in"):
        return ""
    shared, whole = a["shared"], a["observed"]
    of_all = "All these failures are" if whole - shared < 0.5 else f"{count(shared)} of these failures are"
    out = f" {of_all} in the alert on {' and '.join(a['also_in'])}"
    if a.get("others_expected") is not None:
        out += f"; without those: {count(a['others_observed'])} where {number(a['others_expected'], 3)} were due"
    return out + "."


def _drawn(rows: Sequence[Look]) -> tuple[tuple[str, float, float | None, float | None, str], ...]:
    return tuple((c["what"], c["ratio"], c["low"], c["high"], both_p(c)) for c in rows)


def _seen(c: Look, places: int) -> str:
    return " / ".join(decimals(c.get(k), places) for k in ("observed", "expected"))
