"""Short words for figures and pages: ids, findings, verdicts and strengths as a person would say them."""

import re
import textwrap
from collections.abc import Collection, Iterable
from math import floor

from stripdown.numbers import percent as percent
from stripdown.record.schema import QUANTITIES
from stripdown.vocabulary import label, presence_only

VERDICTS = {"within": "●", "outside": "■", "open": "◆", "no_limit": "–"}
"""Verdict → the marker that stands beside its word."""

EXTENTS = {"heavy": "■", "slight": "◆", "none": "○", "unreadable": "?"}
"""Extent → the marker that stands beside its word."""

EXTENT_WORDS = {"heavy": "heavy", "slight": "slight", "none": "sound", "unreadable": "unreadable"}

_BARS = (0.6, 0.9)
"""Probabilities of the first mechanism from which a finding is likely, and established."""
_PLAINER = {"pumping.pumps": "it pumps", "pumping.does_not_pump": "it does not pump"}
_ID = re.compile(r"[a-z0-9_]+(\.[a-z0-9_]+)?")
_STATE = re.compile(r"heavy|slight|none|unreadable|present|within|outside|open|high|low|\d+")
_STRENGTHS = ((14.8, "strong"), (7.0, "moderate"), (3.0, "weak"), (0.0, "hardly any"))


def strength(decibans: float) -> str:
    """Word for a weight of evidence [decibans]: 14.8 = odds × 30, 7 = × 5, 3 = × 2."""
    return next(word for least, word in _STRENGTHS if abs(decibans) >= least)


def finding_words(finding: str, read_open: Collection[str] = ()) -> str:
    """'main_bearing.worn heavy' → 'main bearing worn: heavy'; a sound part is called so; plain words stay.

    What is there or not has no extent to name: 'start_timer.faulty heavy' → 'start timer faulty'. A reading keeps its
    value: 'running_current L1 41 A' → 'running current L1 41 A'. `read_open`: the findings of which "open" is what the
    meter read and no verdict.
    """
    what, *more = finding.replace("alarms ", "alarms.").split(" ")
    if what in QUANTITIES and more and not _STATE.fullmatch(more[-1]):
        return " ".join((label(what), *more))
    if not _ID.fullmatch(what) or (more and not _STATE.fullmatch(more[-1])):
        return finding
    words = _PLAINER.get(what) or label(what).replace("alarms ", "alarm memory, ")
    if not more or (more == ["heavy"] and "." in what and presence_only(*what.split("."))):
        return words
    *where, state = more
    if state == "open" and finding not in read_open:
        state = verdict_words(state)
    if where[-1:] == ["not"]:
        return " ".join((words, *where[:-1])) + f": not {state}"
    return " ".join((words, *where)) + f": {EXTENT_WORDS.get(state, state)}"


def read_open(readings: Iterable[tuple[str, str | None, str | None, object]]) -> frozenset[str]:
    """The findings of a conflict in which "open" is what the meter read: of (quantity, between, at, value) each."""
    return frozenset(
        " ".join(x for x in (quantity, between, f"at {at}" if at else "", "open") if x)
        for quantity, between, at, value in readings
        if value == "open"
    )


def verdict_words(verdict: str) -> str:
    """'no_limit' → 'no limit', 'open' → 'undecided': beside electrical readings "open" is a circuit that is none."""
    return "undecided" if verdict == "open" else verdict.replace("_", " ")


def folded(text: str, width: int, most: int | None = None) -> str:
    """The text broken into lines of at most `width` characters; where it has more than `most` lines, its beginning."""
    return "\n".join(textwrap.wrap(text, width, max_lines=most, placeholder=" …")) or text


def chance_words(p: float) -> str:
    """A probability as a person reads it: whatever a record holds, none is 0 % or 100 %, and none is rounded over a bar
    that its status does not reach."""
    if any(p < bar <= round(p, 2) for bar in _BARS):
        return f"{floor(1000 * p) / 10:.1f} %"
    return "over 99 %" if p > 0.99 else "under 1 %" if p < 0.01 else f"{100 * p:.0f} %"
