"""Result lines of `judge --json` → one tidy table, typed and documented."""

import math
from array import array
from collections.abc import Iterable, Mapping
from functools import lru_cache
from typing import Any

import numpy as np
import pandas as pd

from stripdown import vocabulary
from stripdown.fleet.reprice import KEPT
from stripdown.record.groups import touched

MECHANISMS = tuple(vocabulary.mechanisms())
CAUSES = tuple(vocabulary.causes())

_WORDS = {
    "claim": "claim of the record",
    "file": "file it stood in",
    "status": "established, likely, open, conflicting, rejected or unreadable (no result line)",
    "serial": "serial of the unit",
    "model": "model of the unit",
    "refrigerant": "refrigerant",
    "cooling": "how its motor is cooled, where the record says so",
    "motor": "how its motor is wound, where the record says so",
    "oil_feed": "pump or splash, where the record says so",
    "inverter": "yes or no: fed by an inverter",
    "site": "where it stood",
    "contractor": "who looked after it",
    "duty": "low, medium or high evaporating temperature",
    "opened_before": "never, site or workshop",
    "replaces": "serial of the unit that stood there before",
    "headline": "most probable first mechanism",
    "top_cause": "most probable cause",
    "outcome": "what should be done with it",
    "currency": "currency of expected_cost",
    "cost_kept": "yes: expected_cost is by the cost table of the line, as another could not price it",
    "liability": "proposal on liability",
    "confirmed_first": "first mechanism as the last confirming person saw it",
    "confirmed_by": "who that was",
    "confirmed_all": "first mechanisms of all who confirmed, in order, with ; between them",
    "parts": "own parts found damaged, with ; between them",
    "examined_by": "bench or person",
    "looked_at": "main groups of the machine and the site that were looked at or measured, with ; between them",
    "next_checks": "of a record that is not established: checks that would help, with ; between them",
    "next_gains_bit": "what each of these checks is expected to tell [bit], with ; between them",
    "next_minutes": "what each of these checks takes [min], with ; between them",
    "knowledge": "hash of the knowledge used",
    "version": "version of the program used",
}
_DATES = {
    "built": "day it was built",
    "installed": "day it was installed",
    "failed": "day it failed",
    "returned": "day it came back",
}
_NUMBERS = {
    "run_hours_h": "running hours [h]",
    "age_day": "installed to failed [day]; to returned where no failure date is stated",
    "headline_probability": "probability of the headline [1]",
    "expected_cost": "expected cost of the outcome [currency]",
    "avoidable_return": "probability that it need not have come back [1]",
    "avoidable_failure": "probability that site, installer or supply could have prevented the failure [1]",
}
_COUNTS = {
    "readings_count": "number of readings judged",
    "outside_count": "number of readings outside their limit",
    "open_count": "number of readings too uncertain to tell",
    "instruments_count": "number of instruments named; -1 = the line does not say",
}
COLUMNS: dict[str, str] = {
    **_WORDS,
    **_DATES,
    **_NUMBERS,
    **_COUNTS,
    **{f"first.{m}": f"probability that the damage started with {m} [1]" for m in MECHANISMS},
    **{f"mechanism.{m}": f"probability that {m} was at work at all [1]" for m in MECHANISMS},
    **{f"cause.{c}": f"probability of the cause {c} [1]" for c in CAUSES},
}
SHARES = tuple(c for c in COLUMNS if c.startswith(("first.", "mechanism.", "cause.")))
"""The columns that hold probabilities of mechanisms and causes; they stand last."""
_REPEATING = ("status", "model", "refrigerant", "cooling", "motor", "oil_feed", "inverter", "site", "contractor",
              "duty", "opened_before", "headline", "top_cause", "outcome", "currency", "cost_kept", "liability",
              "confirmed_first", "knowledge", "version")  # fmt: skip
_STATUSES = ("established", "likely", "open", "conflicting")
_LISTS = (("first", MECHANISMS), ("mechanisms", MECHANISMS), ("causes", CAUSES))


def table(lines: Iterable[Mapping[str, Any]]) -> pd.DataFrame:
    """One row a line, in their order; columns as `COLUMNS` says. Words are "" and numbers nan where nothing is stated.

    A rejected line keeps its row (claim, file, status); one that is no result of `judge` has status `unreadable`.
    """
    words: dict[str, list[str]] = {k: [] for k in _WORDS}
    dates: dict[str, list[str]] = {k: [] for k in _DATES}
    numbers: dict[str, list[float]] = {k: [] for k in (*_NUMBERS, *_COUNTS) if k != "age_day"}
    shares = array("d")
    for line in lines:
        row = _row(line)
        for k in words:
            words[k].append(row.words.get(k, ""))
        for k in dates:
            dates[k].append(row.dates.get(k, ""))
        for k in numbers:
            numbers[k].append(row.numbers.get(k, math.nan if k in _NUMBERS else 0.0))
        shares.extend(row.shares)
    return _frame(words, dates, numbers, np.frombuffer(shares).reshape(-1, _WIDTH))


class _Row:
    """What one line says, before it becomes columns."""

    __slots__ = ("dates", "numbers", "shares", "words")

    def __init__(self, words: dict[str, str]) -> None:
        self.words = words
        self.dates: dict[str, str] = {}
        self.numbers: dict[str, float] = {}
        self.shares = _NO_SHARES


_WIDTH = sum(len(ids) for _, ids in _LISTS)
_NO_SHARES = [math.nan] * _WIDTH
_PLACE = {
    key: {name: start + i for i, name in enumerate(ids)}
    for (key, ids), start in zip(_LISTS, np.cumsum([0] + [len(ids) for _, ids in _LISTS[:-1]]).tolist(), strict=True)
}


def _row(line: Mapping[str, Any]) -> _Row:
    """A line as a row; whatever is wrong with it makes it unreadable, never an exception."""
    if not isinstance(line, Mapping):
        return _Row({"status": "unreadable"})
    named = {k: _text(line.get(k)) for k in ("claim", "file", "status", "knowledge", "version")}
    if named["status"] == "rejected":
        return _Row(named)
    if named["status"] not in _STATUSES:
        return _Row(named | {"status": "unreadable"})
    row = _Row(named)
    try:
        _fill(row, line)
    except (AttributeError, KeyError, IndexError, TypeError, ValueError):
        return _Row(named | {"status": "unreadable"})
    return row


def _fill(row: _Row, line: Mapping[str, Any]) -> None:
    unit, history = line["unit"], line.get("history") or {}
    row.words |= {k: _text(unit.get(k)) for k in ("serial", "model", "refrigerant", "cooling", "motor", "oil_feed")}
    row.words["inverter"] = {True: "yes", False: "no"}.get(unit.get("inverter"), "")
    row.words |= {k: _text(history.get(k)) for k in ("site", "contractor", "duty", "opened_before", "replaces")}
    row.dates = {"built": _text(unit.get("built"))} | {
        k: _text(history.get(k)) for k in ("installed", "failed", "returned")
    }
    row.shares = _shares(line)
    first, causes, outcome = line["first"], line["causes"], line.get("outcome") or {}
    if first[0]["id"] not in MECHANISMS:
        raise ValueError("no first mechanism of the vocabulary")
    liability = line.get("liability") or [{}]
    confirmed = [c for c in line.get("confirmed") or () if c.get("first")] or [{}]
    examined = line.get("examined") or {}
    row.words |= {
        "headline": first[0]["id"],
        "top_cause": causes[0]["id"] if causes else "",
        "outcome": _text(outcome.get("id")),
        "currency": _text(outcome.get("currency")),
        "cost_kept": "yes" if outcome.get(KEPT) else "",
        "liability": _text(liability[0].get("id")),
        "confirmed_first": _text(confirmed[-1].get("first")),
        "confirmed_by": _text(confirmed[-1].get("by")),
        "confirmed_all": ";".join(str(c["first"]) for c in confirmed if c),
        "parts": ";".join(sorted({str(p) for p in line.get("parts") or ()})),
        "examined_by": _text(examined.get("by")),
        "looked_at": _looked_at(line, examined.get("parts") or ()),
    }
    if row.words["status"] != "established":
        checks = line.get("next_checks") or ()
        for column, key in (("next_checks", "id"), ("next_gains_bit", "gain_bits"), ("next_minutes", "minutes")):
            row.words[column] = ";".join(_text(c[key]).replace(";", ",") for c in checks)
    verdicts = [r.get("verdict") for r in line.get("readings") or ()]
    avoidable = line.get("avoidable") or {}
    row.numbers = {
        "run_hours_h": _number(unit.get("run_hours")),
        "headline_probability": float(first[0]["probability"]),
        "expected_cost": _number(outcome.get("expected_cost")),
        "avoidable_return": _number(avoidable.get("return")),
        "avoidable_failure": _number(avoidable.get("failure")),
        "readings_count": len(verdicts),
        "outside_count": verdicts.count("outside"),
        "open_count": verdicts.count("open"),
        "instruments_count": len(examined["instruments"]) if "instruments" in examined else -1,
    }


def _looked_at(line: Mapping[str, Any], parts: Iterable[str]) -> str:
    return _groups_of(frozenset([*parts, *(_text(r.get("quantity")) for r in line.get("readings") or ())]))


@lru_cache(maxsize=4096)
def _groups_of(names: frozenset[str]) -> str:
    return ";".join(sorted(touched(names)))


def _shares(line: Mapping[str, Any]) -> list[float]:
    """All probabilities of a line in the order of the columns; ids unknown to the vocabulary are passed over."""
    out = [0.0] * _WIDTH
    for key, places in _PLACE.items():
        for item in line[key]:
            p = item["probability"]
            if not 0 <= p <= 1:
                raise ValueError("a probability outside 0..1")
            place = places.get(item["id"])
            if place is not None:
                out[place] = p
    return out


def _text(value: object) -> str:
    return "" if value is None else str(value)


def _number(value: Any) -> float:
    if value is None:
        return math.nan
    number = float(value)
    if not math.isfinite(number):
        raise ValueError("a number that is none")
    return number


def _frame(
    words: dict[str, list[str]], dates: dict[str, list[str]], numbers: dict[str, list[float]], block: np.ndarray
) -> pd.DataFrame:
    columns: dict[str, Any] = {}
    for k, v in words.items():
        columns[k] = pd.Categorical(v, categories=sorted(set(v))) if k in _REPEATING else pd.array(v, dtype="str")
    for k, v in dates.items():
        columns[k] = pd.to_datetime(pd.Series(v, dtype="str"), format="%Y-%m-%d", errors="coerce").astype(
            "datetime64[s]"
        )
    for k, n in numbers.items():
        columns[k] = np.asarray(n, dtype=np.float64 if k in _NUMBERS else np.int32)
    ended = columns["failed"].fillna(columns["returned"])
    columns["age_day"] = (ended - columns["installed"]).dt.total_seconds() / 86400
    said = pd.DataFrame({k: columns[k] for k in COLUMNS if k in columns})
    return pd.concat([said, pd.DataFrame(block, columns=list(SHARES))], axis="columns")
