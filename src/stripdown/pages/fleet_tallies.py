"""Sections of the fleet page that count: mechanisms, causes, parts, costs."""

from collections.abc import Mapping, Sequence
from itertools import accumulate
from typing import Any

from stripdown import numbers
from stripdown.figures import fleet_machine, tallies
from stripdown.numbers import count, fixed, percent, share_places
from stripdown.pages import blocks as b
from stripdown.pages import units
from stripdown.pages.fleet_words import asked
from stripdown.pages.show import Show
from stripdown.vocabulary import label, words

_MOST_ROWS = 12
_MOST_EQUALS = 4
_PRICES = (
    "All amounts are by the cost table that the records were judged with. Until you give your own with --costs it is "
    "the shipped one, whose prices are invented: good for comparing, not for a budget."
)
_RESAMPLED = "Bars: expected counts, the sum of the probabilities of all returns; lines: records resampled, 95 %."


def first(report: Mapping[str, Any], show: Show) -> list[b.Block]:
    """First mechanisms: expected beside plain counts, with intervals, and where electrical failures began."""
    rows = report["first"]
    if not rows:
        return [b.para("No return was judged, so there is nothing to count.")]
    out = [_headline(rows)]
    said: list[str | Sequence[b.Run]] = []
    for share, text in (
        (report["no_fault"], "were sound: nothing found wrong with the returned compressor"),
        (report["avoidable"]["return"], "need not have come back: sound, or repairable on the site"),
        (report["avoidable"]["failure"], "had a cause that site, installer or supply could have corrected"),
    ):
        if share is not None:
            said.append([b.strong(numbers.share(share)), f" {text}."])
    out.append(b.bullets(said))
    if report["undecided"]:
        text = f"Returns without a headline: {count(report['undecided'])}. They count by their probabilities only."
        out.append(b.para(text))
    out += [*asked("What do the returns fail of first?", tallies.first_mechanisms(report), _RESAMPLED), _table(rows)]
    out += asked(
        "Where did it start, and what failed last?",
        tallies.flow(report),
        "Expected number of returns; a return ends in the last group that its damage reached, the winding last of all.",
    )
    ended = report.get("electrical") or {"records": 0}
    out += asked(
        "Of the electrical failures, where did they start?",
        tallies.electrical(report),
        f"The {count(ended['records'])} returns that ended in winding, terminals or sensor. {_RESAMPLED}",
    )
    return out


def _headline(rows: Sequence[Mapping[str, Any]]) -> b.Block:
    """The most frequent mechanism, or that none is: its interval overlaps that of the next."""
    faults = [r for r in rows if r["id"] != "no_fault"] or list(rows)
    top = faults[0]
    equals = [r for r in faults if r["high"] >= top["low"]]
    kind = "MOST FREQUENT FIRST MECHANISM"
    if len(equals) > 1:
        told = ", ".join(f"{label(r['id'])} {numbers.share(r)}" for r in equals[:_MOST_EQUALS])
        more = f" and {count(len(equals) - _MOST_EQUALS)} more" if len(equals) > _MOST_EQUALS else ""
        return b.banner(kind, "◆", "warn", "None stands out", f"the intervals overlap, 95 %: {told}{more}")
    line = f"{words(top['id'])}; {numbers.share(top)} of the returns"
    return b.banner(kind, "▶", "good", label(top["id"]).capitalize(), line)


def _table(rows: Sequence[Mapping[str, Any]]) -> b.Block:
    sums = accumulate(r["share"] for r in rows)
    places = share_places(rows[:_MOST_ROWS])
    columns = (
        ("First mechanism", 2.0),
        ("Meaning", 4.2),
        ("Expected [returns]", 1.2),
        ("By headline [returns]", 1.2),
        ("Share, 95 %", 1.8),
        ("Together", 1.1),
    )
    table = [
        (label(r["id"]), words(r["id"]), fixed(r["expected"], 1), count(r["count"]),
         numbers.share(r, places), percent(min(whole, 1.0), places))
        for r, whole in zip(rows[:_MOST_ROWS], sums, strict=False)
    ]  # fmt: skip
    title = "First mechanisms; expected = sum of probabilities over all returns" + _of(rows)
    return b.table(title, columns, table, "llrrrr")


def causes(report: Mapping[str, Any], show: Show) -> list[b.Block]:
    """What to put right, and which parts were found damaged."""
    out = asked("What would have to be put right?", tallies.causes(report), _RESAMPLED)
    shown = report["causes"][:_MOST_ROWS]
    places = share_places(shown)
    rows = [(words(r["id"]), fixed(r["expected"], 1), numbers.share(r, places)) for r in shown]
    if rows:
        columns = (("To put right", 5.0), ("Expected [returns]", 1.3), ("Share, 95 %", 1.8))
        title = "Causes; each on its own, so they need not sum to all" + _of(report["causes"])
        out.append(b.table(title, columns, rows, "lrr"))
    out += asked("Which parts are damaged most often?", tallies.parts(report), "Plain counts; lines: Wilson, 95 %.")
    out += asked("Where in the machine was the damage found, in how many returns?", fleet_machine.parts(report))
    return out or [b.para("No cause and no damaged part is recorded.")]


def _whole(c: Mapping[str, Any]) -> str:
    if len(c.get("currencies") or ()) > 1:
        return f"the {count(c['priced'])} returns priced in {c['currency']}"
    return "all returns together"


def _of(rows: Sequence[object]) -> str:
    return f"; the {_MOST_ROWS} most frequent of {len(rows)}" if len(rows) > _MOST_ROWS else ""


def costs(report: Mapping[str, Any], show: Show) -> list[b.Block]:
    """What the returns cost by the table of costs, what of it need not have been, what the next year will cost."""
    c = report["costs"]
    if not c.get("currency"):
        return [b.para("The results carry no costs.")]

    def money(x: float) -> str:
        return str(units.money(x, c["currency"]))

    said: list[str | Sequence[b.Run]] = [
        [b.strong(money(c["total"])), f" for {_whole(c)}, by the expected cost of each proposal."]
    ]
    for key, text in (
        ("avoidable", "in returns that need not have come back: sound, or repairable on the site"),
        ("avoidable_failure", "in failures with a cause that site, installer or supply could have corrected"),
    ):
        if c.get(key) is not None:
            share = c.get(f"{key}_share")
            of_it = f" ({numbers.share(share)} of it)" if share else ""
            said.append([b.strong(money(c[key])), f" {text}{of_it}."])
    ahead = c.get("coming")
    if ahead:
        ends = f" ({fixed(ahead['total_low'], 0)} to {fixed(ahead['total_high'], 0)})"
        returns = f"{fixed(ahead['returns'], 1)} ({count(ahead['returns_low'])} to {count(ahead['returns_high'])})"
        when = f" for the {returns} returns expected in the {ahead['months']} months of the forecast"
        how = f", at the {money(ahead['each'])} that one has cost so far; prediction limits, 95 %."
        said.append([b.strong(money(ahead["total"]) + ends), when + how])
    out = [b.heading("What do the returns cost, and what of it was avoidable?"), b.small(_PRICES), b.bullets(said)]
    if len(c.get("currencies") or ()) > 1:
        priced = [(x["id"], count(x["returns"]), str(units.money(x["total"], x["id"]))) for x in c["currencies"]]
        title = f"Currencies of the lines, never added up; all other costs here are those in {c['currency']}"
        out.append(b.table(title, (("Currency", 3.0), ("Returns", 1.0), ("Expected cost", 1.5)), priced, "lrr"))
    rows = [
        (label(r["id"]), count(r["returns"]), money(r["total"]), money(0.1 * r["total"]))
        for r in c.get("by_outcome") or []
    ]
    if rows:
        columns = (("Outcome", 3.0), ("Returns", 1.0), ("Expected cost", 1.5), ("Were it 10 % dearer, more by", 1.7))
        out.append(b.table("By outcome", columns, rows, "lrrr"))
    out.append(b.small("Intervals of shares of the cost: records resampled, 95 %."))
    return out
