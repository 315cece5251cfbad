"""Sections of the fleet page over time: how long they live, and what is to be expected."""

from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any

from stripdown.figures import lives
from stripdown.numbers import count, decimals, fixed
from stripdown.pages import blocks as b
from stripdown.pages.fleet_words import asked, between, column, p_words, verdict
from stripdown.pages.show import Show
from stripdown.pages.units import day
from stripdown.vocabulary import label

_YEAR = 365.25
_WHOLE_YEAR = 365
_MOST_YEARS = 100.0
_MOST_MECHANISMS = 4
_MOST_ROWS = 16


def life(report: Mapping[str, Any], show: Show) -> list[b.Block]:
    """Life per model with units still running counted, what fails how soon, replacements beside first units."""
    if not report["life"]:
        return [b.para("Life needs the units that did not come back: without a units table none is given.")]
    out = asked(
        "How long do they live?",
        lives.life(report),
        "Steps: share failed without any assumption (Kaplan-Meier), band 95 %; broken line: fitted or stated curve. "
        f"Models with fewer than two failures, and those after the first {lives.MOST_MODELS}, are in the table only.",
    )
    title = "Life per model; failed = sum of the probabilities of a failure, B10 = age by which 10 % have failed"
    columns = (
        ("Model", 1.2),
        ("Failed [units]", 0.9),
        ("Running [units]", 1.0),
        ("Shape, 95 %", 1.8),
        ("Scale [years], 95 %", 2.0),
        ("B10 [years], 95 %", 1.9),
        ("Reads as", 2.6),
    )
    rows = [
        (
            m["model"],
            decimals(m["failures"], 2),
            count(m["running"]),
            column(m["shape"], 2),
            column(m["scale"], 1, divided=_YEAR, most=_MOST_YEARS),
            column(m["b10"], 1, divided=_YEAR, most=_MOST_YEARS),
            b.cell(_shape_word(m["shape"]), note=str(m.get("method", ""))),
        )
        for m in report["life"]
    ]
    out.append(b.table(title, columns, rows, "lrrrrrl"))
    out += asked(
        "Is one mechanism early, another late?",
        lives.incidence(report),
        "Share failed by each mechanism at every full year, the others competing (Aalen-Johansen); the "
        f"{_MOST_MECHANISMS} most frequent ones of the {lives.MOST_MODELS} models with most failures at most.",
    )
    return [*out, *_incidence_table(report), *_replacements(report)]


def _incidence_table(report: Mapping[str, Any]) -> list[b.Block]:
    """The last full year of each model's most frequent mechanisms, with intervals."""
    seen: dict[str, int] = {}
    rows = []
    for r in report["incidence"]:
        seen[r["model"]] = seen.get(r["model"], 0) + 1
        if seen[r["model"]] <= _MOST_MECHANISMS and r["value"][-1] >= 0.001:
            last = {"value": r["value"][-1], "low": r["low"][-1], "high": r["high"][-1]}
            year = f"{r['at_days'][-1] / _WHOLE_YEAR:.0f}"
            rows.append((r["model"], label(r["mechanism"]), year, column(last, 1, divided=0.01)))
    if not rows:
        return []
    columns = (("Model", 1.3), ("First mechanism", 2.5), ("By year", 0.9), ("Failed of it [%], 95 %", 2.0))
    title = "Failed by each mechanism, the others competing; errors by the delta method on ln(-ln)"
    left_out = len(report["incidence"]) - min(len(rows), _MOST_ROWS)
    if left_out:
        title += f"; {_MOST_MECHANISMS} a model and {_MOST_ROWS} rows at most, {left_out} more in incidence.csv"
    return [b.table(title, columns, rows[:_MOST_ROWS], "llrr")]


def _replacements(report: Mapping[str, Any]) -> list[b.Block]:
    """Whether replacements die sooner than first units, and the places where they did."""
    out: list[b.Block] = []
    row = next((c for c in report["comparisons"] if c.get("dimension") == "kind"), None)
    if row is not None and row.get("ratio") is not None:
        ratio = between(row | {"value": row["ratio"]}, 2)
        out.append(
            b.para(
                "They fail ",
                b.strong(f"{ratio} times"),
                f" as often as first units of equal age, 95 %; p {p_words(row['p'])} by itself, "
                f"{p_words(row['p_adjusted'])} corrected for all looks taken: {verdict(row)}.",
            )
        )
    repeats = report.get("repeats") or []
    places = [
        (str(r["id"]), " → ".join(map(str, r["serials"])), "; ".join(label(m) for m in r["first"]),
         decimals(r["observed"], 2), decimals(r["expected"], 2), p_words(r["p"]),
         p_words(r["p_adjusted"]))
        for r in repeats[:_MOST_ROWS]
    ]  # fmt: skip
    if places:
        columns = (("Place", 1.8), ("Units one after another", 2.8), ("First mechanisms", 2.4), ("Failed [units]", 0.9),
                   ("Due [units]", 0.8), ("p", 1.0), ("Corrected", 1.1))  # fmt: skip
        title = "Places where a replacement came back; failed = replacements that failed, due = at equal age"
        if len(repeats) > len(places):
            title += f"; the {len(places)} least likely by chance of {len(repeats)}, all in repeats.csv"
        out.append(b.table(title, columns, places, "lllrrrr"))
    return [b.heading("Do replacements at the same place die sooner?"), *out] if out else []


def _shape_word(shape: Mapping[str, Any]) -> str:
    low, high = shape.get("low"), shape.get("high")
    if low is None or high is None:
        return "shape taken over: too few sure failures for its own"
    if low > 1:
        return "wear: the older, the likelier to fail"
    return "early failures" if high < 1 else "chance: age tells little"


def forecast(report: Mapping[str, Any], show: Show) -> list[b.Block]:
    """Returns to expect in the coming months."""
    rows = report["forecast"]
    if not rows:
        return [b.para("No forecast: it needs a fitted life and the units still running.")]
    out = asked(
        "How many come back in the coming months?",
        lives.forecast(report),
        "Lines: 95 % prediction limits of the returns of a month; they hold what is not known of the curves (500 of "
        "them, as likely as the data make them) and the chance of the count. Units installed after the last day "
        "watched, and replacements of what fails, are not in it.",
    )
    out.append(b.small(_not_in_it(report["until"], rows[0]["month"])))
    table = [
        (
            r["month"],
            fixed(r["failures"], 1),
            _limits(r, "failures_low", "failures_high"),
            fixed(r["returns"], 1),
            _limits(r, "low", "high"),
        )
        for r in rows
    ]
    columns = (("Month", 1.0), ("Failures [units]", 1.0), ("95 %", 1.2), ("Returns [units]", 1.0), ("95 %", 1.2))
    return [*out, b.table("Expected by month, with prediction limits", columns, table, "lrrrr")]


def _limits(r: Mapping[str, Any], low: str, high: str) -> str:
    return "–" if r.get(low) is None else f"{count(r[low])} to {count(r[high])}"


def _not_in_it(until: str, first: str) -> str:
    """Why returns and failures of a month differ, and the rest of a month that no row stands for."""
    said = (
        "Returns are not the failures of the same month: units come back some time after they failed, by the lags seen "
        "so far, and units with no fault found come back too, at the rate seen so far."
    )
    begun = date.fromisoformat(until) + timedelta(days=1)
    if begun < date.fromisoformat(f"{first}-01"):
        said += f" Whole months only: what is left of the month in which watching ends, from {day(begun)}, is left out."
    return said
