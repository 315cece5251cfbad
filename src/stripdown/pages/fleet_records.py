"""Sections of the fleet page on what stands behind it: records, people, method."""

from collections.abc import Mapping, Sequence
from typing import Any

from stripdown.figures import looks
from stripdown.figures.words import finding_words
from stripdown.numbers import count, decimals, fixed, percent, share
from stripdown.pages import blocks as b
from stripdown.pages.fleet_words import asked
from stripdown.pages.show import Show
from stripdown.vocabulary import label

_MOST = 10


def quality(report: Mapping[str, Any], show: Show) -> list[b.Block]:
    """What was looked at, measured and named; which checks would help; how far people agree with the proposals."""
    out = [*_records(report), *_checks(report), *_agreement(report.get("agreement") or {})]
    return out or [b.para("Nothing is known of the records beyond their results.")]


def _records(report: Mapping[str, Any]) -> list[b.Block]:
    q = report.get("quality") or {}
    if not q:
        return []
    n = count(q["records"])
    out = asked("What is looked at, and what is not?", looks.looked_at(report), "Lines: Wilson, 95 %.")
    said = [
        f"{count(q['with_readings'])} of {n} records hold readings: {count(q['readings'])}, of them "
        f"{count(q['readings_open'])} open.",
        f"{count(q['with_examiner'])} of {n} name who examined, {count(q['with_instruments'])} the instruments.",
    ]
    out.append(b.bullets(said))
    years = [
        (
            str(y["year"]),
            count(y["records"]),
            fixed(y["groups_each"], 1),
            fixed(y["readings_each"], 1),
            count(y["with_instruments"]),
        )
        for y in q.get("years") or []
    ]
    if years:
        columns = (("Year of failure", 1.2), ("Records", 1.0), ("Groups looked at, each", 1.6), ("Readings, each", 1.3),
                   ("Name instruments", 1.3))  # fmt: skip
        out.append(b.table("Do the records get better?", columns, years, "lrrrr"))
    return out


def _checks(report: Mapping[str, Any]) -> list[b.Block]:
    told = report.get("next_checks") or {}
    checks = told.get("checks") or []
    rows = [
        (finding_words(c["id"]), count(c["missing"]), decimals(c["gain_bits"], 2), decimals(c["minutes"], 0),
         decimals(c["bits_per_minute"], 3))
        for c in checks[:_MOST]
    ]  # fmt: skip
    if not rows:
        return []
    columns = (("Check", 3.2), ("Missing in", 1.0), ("Gain [bit]", 1.0), ("Time [min]", 1.0), ("Gain [bit/min]", 1.2))
    title = f"Of {count(told['records'])} records that are not established; gain = mean of what the check would tell"
    title += _cut(checks, "next_checks.csv")
    return [b.heading("Which check would have told most?"), b.table(title, columns, rows, "lrrrr")]


def _cut(rows: Sequence[object], file: str) -> str:
    """What a table says where it does not show all."""
    return f"; {_MOST} of {count(len(rows))}, all in {file}" if len(rows) > _MOST else ""


def _agreement(agreed: Mapping[str, Any]) -> list[b.Block]:
    out: list[b.Block] = []
    for key, who in (("first", "People and program on the first mechanism"), ("analysts", "One person and the next")):
        k = agreed.get(key) or {}
        if k.get("kappa") is not None:
            records = k.get("records", agreed.get("records", 0))
            text = f"{who}: kappa {k['kappa']:.2f} ({k['low']:.2f} to {k['high']:.2f}), {count(records)} records."
            out.append(b.para(text))
    if not out and not agreed.get("records"):
        return []
    if out:
        out.append(
            b.small("Kappa: agreement beyond chance, 1 = always; normal interval, 95 %, two records by chance added.")
        )
    differ = [(label(d["person"]), label(d["program"]), count(d["records"])) for d in agreed.get("disagree") or []]
    if differ:
        columns = (("A person said", 2.0), ("The program said", 2.0), ("Records", 1.0))
        out.append(b.table("Where they differ" + _cut(differ, "disagree.csv"), columns, differ[:_MOST], "llr"))
    said = [
        (
            f"{percent(c['from'])} to {percent(c['to'])}",
            count(c["records"]),
            percent(c["said"]),
            share(dict(c) | {"share": c["right"]}),
        )
        for c in agreed.get("calibration") or []
    ]
    if said:
        headings = (("Said", 1.5), ("Records", 1.0), ("Mean", 1.0), ("Right, Wilson 95 %", 1.6))
        out.append(b.table("Said so sure, right how often?", headings, said, "lrrr"))
    return [b.heading("Do our people agree with the proposal, and with each other?"), *out]


def method(report: Mapping[str, Any], show: Show) -> list[b.Block]:
    """How the figures were made, what was noticed, what the page was made with."""
    limits = [
        "Expected counts are sums of probabilities; plain counts take only records with a headline.",
        "A return with no fault found is no failure: for the life of its model it counts as removed while good.",
        "The probabilities of a return start from shares that hang on its run hours, duty and motor: groups of unequal "
        "age or duty differ by that alone. Trends are tested among alike returns only.",
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
