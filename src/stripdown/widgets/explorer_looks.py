"""What the explorer says of comparisons, in HTML. Text from a record is escaped, always."""

from collections.abc import Mapping
from html import escape
from math import isfinite

from stripdown.fleet.compare import ALARM
from stripdown.pages.units import number
from stripdown.widgets.explorer import REST_WORDS, Explorer
from stripdown.widgets.explorer_compare import REST, Look, Question
from stripdown.widgets.explorer_table import DIMENSIONS
from stripdown.widgets.explorer_words import capital, kept_words, measure_words, name_words, value_words

_MOST = 30
"""Looks that are listed; Save writes all."""


def looks(explorer: Explorer) -> str:
    """What the latest comparison came to, and all of them with their corrected p, those that stand out most first."""
    if not explorer.looks:
        return "<p>Nothing has been compared yet. Every comparison counts as a look; each p is corrected for all.</p>"
    currency = explorer.choice.table.currency
    corrected = {look.question: p for look, p in zip(explorer.looks, explorer.corrected, strict=True)}
    told = sorted(explorer.looks, key=lambda k: (corrected[k.question], k.difference.p))
    rows = "".join(_row(k, corrected[k.question], currency) for k in told[:_MOST])
    more = f"<p>{len(told) - _MOST} more, less clear: Save writes all.</p>" if len(told) > _MOST else ""
    return (
        f"{_latest(explorer, corrected)}"
        f"<h4>{_counted(len(told))} taken, each p corrected for all of them</h4>"
        "<table><thead><tr><th>Looked at</th><th>Difference, 95 %</th><th>p</th><th>p corrected</th><th>Reads as</th>"
        f"</tr></thead><tbody>{rows}</tbody></table>{more}<p><small>Correction: Benjamini and Hochberg. A bar picked "
        "because it is the longest of many stands out by chance more easily than its p says: compare each instead, "
        "which counts them all.</small></p>"
    )


def _row(look: Look, p: float, currency: str) -> str:
    about = "about " if look.difference.few else ""
    cells = (
        capital(_subject(look.question)),
        _change(look, currency),
        about + _p(look.difference.p),
        _p(p),
        _verdict(p),
    )
    return f"<tr>{''.join(f'<td>{escape(c)}</td>' for c in cells)}</tr>"


def _latest(explorer: Explorer, corrected: Mapping[Question, float]) -> str:
    """In a sentence what was asked for last; nothing where that was before the program behind the page began anew."""
    latest, currency = explorer.latest, explorer.choice.table.currency
    if len(latest) == 1:
        (look,) = latest
        return _sentence(look, corrected[look.question], len(explorer.looks), currency)
    if not latest:
        return ""
    first = latest[0].question
    out = sum(corrected[k.question] <= ALARM for k in latest)
    passed = explorer.passed_over
    too_few = f" Too little is known of {passed} more to compare them." if passed else ""
    return (
        f"<p class='sd-latest'><b>{escape(capital(measure_words(first.measure)))}: each {DIMENSIONS[first.by]} against "
        f"{REST_WORDS}{escape(_among(first))}</b>: {len(latest)} looks, of which <b>{_standing(out)} out</b> "
        f"when corrected for all {_counted(len(explorer.looks))} taken.{too_few}</p>"
    )


def _standing(number_of: int) -> str:
    return "none stands" if not number_of else f"{number_of} stand{'s' if number_of == 1 else ''}"


def _counted(number_of: int) -> str:
    return f"{number_of} look{'s' if number_of > 1 else ''}"


def _subject(asked: Question) -> str:
    b = REST_WORDS if asked.b == REST else name_words(asked.by, asked.b)
    return f"{measure_words(asked.measure)}: {name_words(asked.by, asked.a)} against {b}{_among(asked)}"


def _among(asked: Question) -> str:
    return f"; among {kept_words(asked.kept)}" if asked.kept else ""


def _change(look: Look, currency: str) -> str:
    d = look.difference
    if d.is_ratio:
        low, high = (number(v, 3) if isfinite(v) else "no end" for v in (d.low, d.high))
        return f"{number(d.change, 3)} times ({low} to {high})"
    if look.question.measure.sort == "money":
        change, low, high = (number(v, 4, plus=True) for v in (d.change, d.low, d.high))
        return f"{change} {currency} ({low} to {high})"
    change, low, high = (f"{100 * v:+.1f}".replace("-", "−") for v in (d.change, d.low, d.high))
    return f"{change} points ({low} to {high})"


def _sentence(look: Look, p: float, count: int, currency: str) -> str:
    d, sort = look.difference, look.question.measure.sort
    if d.is_ratio:
        told = [f"{number(v, 3)} failures for each expected at equal model and age" for v in (d.a, d.b)]
    else:
        told = [value_words(v, sort, currency) for v in (d.a, d.b)]
    few = " Few cases: the p is a rough one." if d.few else ""
    return (
        f"<p class='sd-latest'><b>{escape(capital(_subject(look.question)))}</b>: "
        f"{escape(told[0])} against {escape(told[1])}. "
        f"Difference {escape(_change(look, currency))}; p {_p(d.p)}, corrected for {_counted(count)} {_p(p)}: "
        f"<b>{_verdict(p)}</b>.{few}</p>"
    )


def _p(p: float) -> str:
    return "under 0.0001" if p < 0.0001 else f"{p:.2g}"


def _verdict(p: float) -> str:
    return "■ stands out" if p <= ALARM else "○ may be chance"
