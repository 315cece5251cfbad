"""What the explorer says in HTML: bars, comparisons, records, curves. Text from a record is escaped, always."""

from collections.abc import Mapping, Sequence
from html import escape
from math import isfinite
from typing import Any

from stripdown import vocabulary
from stripdown.figures import lives
from stripdown.figures.words import chance_words, percent
from stripdown.numbers import count, number
from stripdown.pages.units import day, money
from stripdown.vocabulary import label
from stripdown.widgets.explorer import Explorer
from stripdown.widgets.explorer_choice import Choice, Kept
from stripdown.widgets.explorer_measure import KINDS, METHODS, Bar, Measure, Sort
from stripdown.widgets.explorer_table import DIMENSIONS

_IDS = ("first", "status", "outcome", "liability", "opened_before", "duty")
"""Dimensions whose names are ids, shown in words."""
_MOST = 4
"""Mechanisms of each side in the table of incidence, as in its drawing."""
_WIDEST = 2.0
"""An interval may make the scale this much longer than the longest bar."""


def said(text: str, *, refused: bool = False) -> str:
    """What came of a click."""
    words, look = (f"◆ Not done: {text}.", " class='sd-warn'") if refused else (f"{text}.", "")
    return f"<p role='status'{look}><b>{escape(words)}</b></p>"


def name_words(dimension: str, name: str) -> str:
    """The name of a group as a person says it."""
    return label(name) if dimension in _IDS else name


def measure_words(measure: Measure) -> str:
    """'began with the mechanism: floodback'."""
    words = KINDS[measure.kind].words
    return f"{words}: {label(measure.of)}" if measure.of else words


def axis_words(sort: Sort, currency: str) -> str:
    """What stands along the bars, with its unit."""
    return {"share": "share of returns [%]", "plain share": "share of returns [%]", "money": f"cost [{currency}]",
            "count": "returns", "rate": "returns per 1000 unit-months"}[sort]  # fmt: skip


def kept_words(kept: Kept) -> str:
    """'model M-1 or M-2; site north', or 'all returns'."""
    told = [f"{DIMENSIONS[d]} {' or '.join(name_words(d, n) for n in names)}" for d, names in kept]
    return "; ".join(told) or "all returns"


def value_words(value: float, sort: Sort, currency: str) -> str:
    """A value with its unit; '–' where there is none."""
    if not isfinite(value):
        return "–"
    if sort in ("share", "plain share"):
        return percent(value)
    return money(value, currency) if sort == "money" else number(value, 3 if sort == "rate" else 9)


def bar_words(bar: Bar, choice: Choice) -> str:
    """'41 % (35 % to 47 %) of 212'; a count stands for itself."""
    sort, currency = choice.measure.sort, choice.table.currency
    value, low, high = (value_words(v, sort, currency) for v in (bar.value, bar.low, bar.high))
    if sort == "count":
        return value
    reach = f" ({low} to {high})" if isfinite(bar.low) else ""
    of = count(bar.returns)
    return f"{value}{reach} of {of}" if sort != "rate" else f"{value}{reach}, {of} returns"


def head(explorer: Explorer) -> str:
    """How much there is, how far it reaches, and what is missing in it."""
    fleet = explorer.fleet
    until = f" · watched until {day(fleet.until)}" if fleet.until else ""
    units = 0 if fleet.lives is None else int(fleet.lives.frame["count"].sum())
    stock = f"{number(units, 9)} units" if units else "units that did not come back unknown"
    notices = "".join(f"<li>{escape(n.what)}: {escape(n.fix)}</li>" for n in fleet.notices)
    folded = f"<details><summary>{len(fleet.notices)} notices on the files</summary><ul>{notices}</ul></details>"
    return (
        f"<h2>Fleet explorer <small>{number(len(fleet.returns), 9)} returns · {fleet.rejected} rejected{until} · "
        f"{stock}</small></h2>" + (folded if notices else "")
    )


def title(explorer: Explorer) -> str:
    """What is asked, among what, and what it comes to for all together; or why there is no answer."""
    choice = explorer.choice
    asked = f"<h3>{escape(capital(measure_words(choice.measure)))}, by {escape(DIMENSIONS[choice.by])}</h3>"
    among = f"Among {escape(kept_words(choice.kept))}: {count(choice.chosen.sum())} returns."
    if choice.silent:
        return f"{asked}<p>{among}</p><p class='sd-warn'>◆ No answer: {escape(choice.silent)}.</p>"
    together = escape(bar_words(choice.together, choice))
    method = escape(METHODS[choice.measure.sort])
    return f"{asked}<p>{among} <b>All together (broken line): {together}</b>. <small>{capital(method)}.</small></p>"


def capital(text: str) -> str:
    """Text with its first letter large."""
    return text[:1].upper() + text[1:]


def scale(bars: Sequence[Bar], choice: Choice) -> float:
    """The value at the right end of the tracks."""
    shown = bars if choice.measure.sort == "count" else [*bars, choice.together]
    longest = max([b.value for b in shown if isfinite(b.value)], default=0.0)
    ends = max([b.high for b in bars if isfinite(b.high)], default=0.0)
    return max(longest, min(ends, _WIDEST * longest)) or 1.0


def track(bar: Bar, choice: Choice, top: float) -> str:
    """A bar, its interval and the value of all together, on a track whose right end is `top`."""
    parts = []
    if isfinite(bar.value):
        parts.append(f"<span class='sd-bar' style='width:{_share(bar.value, top)}%'></span>")
    if isfinite(bar.low) and isfinite(bar.high):
        left, right = _share(bar.low, top), _share(bar.high, top)
        open_end = " sd-on" if bar.high > top else ""
        parts.append(f"<span class='sd-reach{open_end}' style='left:{left}%;width:{right - left:.2f}%'></span>")
    if isfinite(choice.together.value) and choice.measure.sort != "count":
        parts.append(f"<span class='sd-all' style='left:{_share(choice.together.value, top)}%'></span>")
    said = escape(bar_words(bar, choice))
    return f"<div class='sd-track' aria-hidden='true'>{''.join(parts)}</div><div class='sd-said'>{said}</div>"


def _share(value: float, top: float) -> float:
    return round(100 * min(max(value / top, 0.0), 1.0), 2)


def pages(page: int, number_of: int, size: int, what: str) -> str:
    """'groups 13 to 24 of 200'."""
    if not number_of:
        return ""
    first = page * size + 1
    return f"<p>{what} {first} to {min(first + size - 1, number_of)} of {number_of}</p>"


def behind(explorer: Explorer) -> str:
    """Of which group the records are."""
    by, opened = explorer.choice.by, explorer.opened
    name = "all that are chosen" if opened is None else f"{DIMENSIONS[by]} {name_words(by, opened)}"
    return f"<h3>Records behind {escape(name)}</h3>"


def record_line(explorer: Explorer, row: int) -> str:
    """One return in a line of plain text."""
    r = explorer.choice.table.returns.iloc[row]
    value = explorer.choice.numbers[row]
    sort, currency = explorer.choice.measure.sort, explorer.choice.table.currency
    weight = "" if sort in ("count", "rate") else f"{value_words(value, sort, currency)} · "
    headline = f"{label(str(r['headline']))} {chance_words(float(r['headline_probability']))}"
    told = (r["claim"] or "no claim", r["model"], r["site"], _day(r["failed"], "failed"), headline, r["status"])
    return weight + " · ".join(str(t) for t in told if t)


def record_facts(explorer: Explorer, row: int) -> str:
    """What the result line says of one return."""
    r: Mapping[Any, Any] = explorer.choice.table.returns.iloc[row].to_dict()
    parts = ", ".join(label(p) for p in str(r["parts"]).split(";") if p) or "none"
    cost = r["expected_cost"]
    facts = [
        ("Unit", f"{r['model']} {r['serial']}"),
        ("Site, contractor", " · ".join(str(r[k]) for k in ("site", "contractor") if r[k]) or "not stated"),
        ("Installed, failed", " · ".join(t for t in (_day(r["installed"]), _day(r["failed"])) if t) or "not stated"),
        (
            "First mechanism",
            f"{label(str(r['headline']))} {chance_words(float(r['headline_probability']))} ({r['status']})",
        ),
        ("Top cause", label(str(r["top_cause"])) or "none"),
        ("Parts damaged", parts),
        ("Proposal", vocabulary.words(str(r["outcome"])) + (f", {money(cost, r['currency'])}" if cost == cost else "")),
        ("Confirmed", f"{label(r['confirmed_first'])}, by {r['confirmed_by']}" if r["confirmed_first"] else "not yet"),
        ("File", str(r["file"])),
    ]
    rows = "".join(f"<tr><th scope='row'>{k}</th><td>{escape(v)}</td></tr>" for k, v in facts)
    return f"<h3>Claim {escape(str(r['claim']) or 'not stated')}</h3><table>{rows}</table>"


def _day(when: Any, word: str = "") -> str:
    return "" if when != when or when is None else f"{word} {day(when.date())}".strip()


def frame(page: str, claim: str) -> str:
    """A page shown as it stands: nothing in it runs."""
    return (
        f"<iframe class='sd-frame' sandbox='' title='Page of claim {escape(claim)}' srcdoc='{escape(page)}'></iframe>"
    )


def curves(explorer: Explorer, what: str, *, drawn: bool = True) -> str:
    """Life or incidence in numbers, the drawing below where it is wanted; or why there is none."""
    told = explorer.curves(what)
    of = "one group beside the other side" if explorer.opened is not None else "all chosen together"
    asked = f"<h3>{'How long they live' if what == 'life' else 'What fails how soon'}: {of}</h3>"
    among = f"<p>Among {escape(kept_words(explorer.choice.kept))}; units still running count.</p>"
    if isinstance(told, str):
        return f"{asked}{among}<p class='sd-warn'>◆ No curve: {escape(told)}.</p>"
    numbers = _life_table(told["life"]) if what == "life" else _incidence_table(told["incidence"])
    if not drawn:
        return asked + among + numbers
    drawing = (lives.life if what == "life" else lives.incidence)(told)
    few = "failures on at least two days" if what == "life" else "a failure within the first full years"
    shown = (
        f"<div class='sd-drawing'>{drawing.svg}</div>" if drawing else f"<p class='sd-warn'>◆ A curve takes {few}.</p>"
    )
    return asked + among + numbers + shown


def _incidence_table(rows: Sequence[Mapping[str, Any]]) -> str:
    """The most frequent mechanisms of each side at the last full year."""
    shown = [r for m in dict.fromkeys(r["model"] for r in rows) for r in [r for r in rows if r["model"] == m][:_MOST]]
    body = "".join(
        f"<tr><th scope='row'>{escape(str(r['model']))}</th><td>{label(r['mechanism'])}</td>"
        f"<td>{int(r['at_days'][-1]) // 365}</td><td>{_shares(r)}</td></tr>"
        for r in shown
    )
    head = "<tr><th>Units</th><th>First mechanism</th><th>By full years</th><th>Share failed of it, 95 %</th></tr>"
    return f"<table><thead>{head}</thead><tbody>{body}</tbody></table>" if shown else ""


def _shares(row: Mapping[str, Any]) -> str:
    value, low, high = ("–" if row[k][-1] is None else percent(row[k][-1]) for k in ("value", "low", "high"))
    return f"{value} ({low} to {high})"


def _life_table(rows: Sequence[Mapping[str, Any]]) -> str:
    body = "".join(
        f"<tr><th scope='row'>{escape(str(m['model']))}</th><td>{number(m['failures'], 4)}</td>"
        f"<td>{count(m['running'])}</td>"
        + "".join(f"<td>{_range(m[k], d)}</td>" for k, d in (("shape", 2), ("scale", 3), ("b10", 3)))
        + f"<td>{escape(str(m['method']))}</td></tr>"
        for m in rows
    )
    return (
        "<table><thead><tr><th>Units</th><th>Failed</th><th>Running</th><th>Shape</th><th>Scale, days</th>"
        f"<th>B10, days</th><th>How</th></tr></thead><tbody>{body}</tbody></table><p><small>95 % intervals; B10 = "
        "age by which 10 % have failed. Several models together are a mixture: its shape is that of none.</small></p>"
    )


def _range(e: Mapping[str, Any], digits: int) -> str:
    value, low, high = ("–" if e.get(k) is None else number(e[k], digits) for k in ("value", "low", "high"))
    return value if low == high == "–" else f"{value} ({low} to {high})"
