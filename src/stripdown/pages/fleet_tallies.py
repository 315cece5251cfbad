"""Sections of the fleet page that count: mechanisms, causes, parts, costs, quality of the records, method."""

from collections.abc import Mapping, Sequence
from typing import Any

from stripdown.figures import tallies
from stripdown.figures.words import percent
from stripdown.pages import blocks as b
from stripdown.pages import units
from stripdown.pages.show import Show
from stripdown.vocabulary import label, words

_MOST_ROWS = 12


def first(report: Mapping[str, Any], show: Show) -> list[b.Block]:
    """First mechanisms: expected beside plain counts, with intervals."""
    rows = report["first"]
    if not rows:
        return [b.para("No return was judged, so there is nothing to count.")]
    top = next((r for r in rows if r["id"] != "no_fault"), rows[0])
    line = f"{words(top['id'])}; {_interval(top)} of the returns"
    out = [b.banner("MOST FREQUENT FIRST MECHANISM", "▶", "good", label(top["id"]).capitalize(), line)]
    said: list[str | Sequence[b.Run]] = []
    for share, text in (
        (report["no_fault"], "were sound: nothing found wrong with the returned compressor"),
        (report["avoidable"]["return"], "need not have come back: sound, or repairable on the site"),
        (report["avoidable"]["failure"], "had a cause that site, installer or supply could have corrected"),
    ):
        if share is not None:
            said.append([b.strong(_interval(share)), f" {text}."])
    out.append(b.bullets(said))
    if report["undecided"]:
        text = f"{report['undecided']} returns have no headline: they count by their probabilities only."
        out.append(b.para(text))
    out += b.figure(tallies.first_mechanisms(report))
    columns = (
        ("First mechanism", 2.2),
        ("Meaning", 4.4),
        ("Expected", 1.1),
        ("By headline", 1.1),
        ("Share, 95 %", 1.8),
    )
    table = [
        (label(r["id"]), words(r["id"]), f"{r['expected']:.1f}", str(r["count"]), _interval(r))
        for r in rows[:_MOST_ROWS]
    ]
    out.append(b.table("First mechanisms; expected = sum of probabilities over all returns", columns, table, "llrrr"))
    return [*out, *b.figure(tallies.flow(report))]


def causes(report: Mapping[str, Any], show: Show) -> list[b.Block]:
    """What to put right, and which parts were found damaged."""
    out = [*b.figure(tallies.causes(report)), *b.figure(tallies.parts(report))]
    rows = [(words(r["id"]), f"{r['expected']:.1f}", _interval(r)) for r in report["causes"][:_MOST_ROWS]]
    if rows:
        columns = (("To put right", 5.0), ("Expected returns", 1.3), ("Share, 95 %", 1.8))
        out.append(b.table("Causes; each on its own, so they need not sum to all", columns, rows, "lrr"))
    return out or [b.para("No cause and no damaged part is recorded.")]


def costs(report: Mapping[str, Any], show: Show) -> list[b.Block]:
    """What the returns cost by the table of costs, and what of it need not have been."""
    c = report["costs"]
    if not c.get("currency"):
        return [b.para("The results carry no costs.")]
    said = [
        f"All returns together: {units.money(c['total'], c['currency'])}, by the expected cost of each proposal.",
        f"Of it in returns that need not have come back: {units.money(c['avoidable'], c['currency'])}.",
    ]
    if c.get("avoidable_failure") is not None:
        said.append(
            f"Of it in failures with a cause that could have been corrected: "
            f"{units.money(c['avoidable_failure'], c['currency'])}."
        )
    out = [b.bullets(said)]
    rows = [
        (label(r["id"]), str(r["returns"]), units.money(r["total"], c["currency"])) for r in c.get("by_outcome") or []
    ]
    if rows:
        out.append(b.table("By outcome", (("Outcome", 3), ("Returns", 1), ("Expected cost", 1.5)), rows, "lrr"))
    return out


def quality(report: Mapping[str, Any], show: Show) -> list[b.Block]:
    """What was looked at, measured and named; and how far people agree with the proposals."""
    out: list[b.Block] = []
    q = report.get("quality") or {}
    if q:
        n = q["records"]
        said = [
            f"{q['with_parts_looked_at']} of {n} records name parts that were looked at.",
            f"{q['with_readings']} of {n} hold readings: {q['readings']} in all, {q['readings_open']} of them open.",
            f"{q['with_examiner']} of {n} name who examined.",
        ]
        if q.get("with_instruments") is not None:
            said.append(f"{q['with_instruments']} of {n} name the instruments.")
        out.append(b.bullets(said))
        seldom = sorted(q["looked_at"], key=lambda r: (r["share"], r["part"]))[:8]
        if seldom:
            told = "; ".join(f"{label(r['part'])} {percent(r['share'])}" for r in seldom)
            out.append(b.para("Seldom looked at, of the parts named at all: ", told + "."))
    agreed = report.get("agreement") or {}
    for key in ("first", "outcome", "liability"):
        k = agreed.get(key)
        if isinstance(k, Mapping) and k.get("kappa") is not None:
            text = f"Agreement of persons with the proposal on {key}: kappa {k['kappa']:.2f}"
            text += f" ({k['low']:.2f} to {k['high']:.2f})" if k.get("low") is not None else ""
            out.append(b.para(text + f", {agreed['records']} records."))
    return out or [b.para("Nothing is known of the records beyond their results.")]


def method(report: Mapping[str, Any], show: Show) -> list[b.Block]:
    """How the figures were made, what was noticed, what the page was made with."""
    limits = [
        "Expected counts are sums of probabilities; plain counts take only records with a headline.",
        "A return with no fault found is no failure: for the life of its model it counts as removed while good.",
        "Small groups are drawn towards the fleet; a difference between groups is no proof of its reason.",
        "The program proposes; a person confirms.",
    ]
    out = [b.bullets(limits)]
    out.append(b.facts([(label(k).capitalize(), str(v)) for k, v in report["methods"].items()]))
    if report["notices"]:
        out.append(b.heading("Noticed in the data"))
        out.append(b.bullets([_notice(n) for n in report["notices"]]))
    out.append(b.facts([("Knowledge", report["knowledge"]), ("Version", report["version"])]))
    return out


def _notice(n: Mapping[str, str]) -> str:
    place = ": ".join(x for x in (n.get("file", ""), n.get("entry", "")) if x)
    return (f"{place}: " if place else "") + f"{n['what']}; {n['fix']}."


def _interval(r: Mapping[str, Any]) -> str:
    """'20 % (15 to 26)'."""
    return f"{percent(r['share'])} ({100 * r['low']:.0f} to {100 * r['high']:.0f})"
