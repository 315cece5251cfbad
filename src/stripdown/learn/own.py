"""What was learned → an own knowledge file, to be laid over the shipped one by id."""

import copy
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import tomli_w

from stripdown.knowledge.files import read_files
from stripdown.learn.study import Study
from stripdown.reasoning import strengths

SOURCE = "learned"
"""Id in the table of sources."""
_DIGITS = 12
_ABOVE = 1.0 + 1e-10
_MOVED = 1e-3
"""Share of a strength (or of its complement) below which a change is none."""


def own_file(study: Study, before: Path | None = None) -> str:
    """The text of the file: every entry with a strength that moved, whole, and all that the own file `before` held."""
    held = tomllib.loads(before.read_text(encoding="utf-8")) if before else {}
    raw = read_files(before).raw
    moved: dict[str, dict[int, float]] = {}
    for m in study.learnt.moved:
        if abs(m.after - m.before) > _MOVED * min(m.before, 1.0 - m.before):
            moved.setdefault(m.key[0], {})[m.key[1]] = m.records
    now = strengths.read(study.learnt.knowledge)
    mechanisms = held.get("mechanisms", {}) | _mechanisms(study, raw["mechanisms.toml"])
    tables: dict[str, Any] = {"mechanisms": mechanisms} if mechanisms else {}
    for kind, change in (("state", _state), ("cause", _cause), ("finding", _finding)):
        kept = {entry["id"] for entry in held.get(kind, [])}
        entries = []
        for entry in (e for table in raw.values() for e in table.get(kind, [])):
            if entry["id"] in moved:
                entry = copy.deepcopy(entry)
                change(entry, now, moved[entry["id"]])
            elif entry["id"] not in kept:
                continue
            entries.append(entry)
        if entries:
            tables[kind] = entries
    return _head(study) + tomli_w.dumps(tables)


def _head(study: Study) -> str:
    what, which = "Link strengths", "each written strength"
    if study.shares:
        what, which = "Link strengths and shares of first mechanisms", f"{which}, and all written shares together,"
    return (
        f"# {what} learned from {study.used} confirmed records onto the knowledge\n"
        f"# {study.knowledge.digest},\n"
        f"# {which} counting as {study.prior_records:g} records. Use it with --knowledge.\n"
        "# Learn again from all records together, not on top of this file: else the old ones count twice.\n\n"
    )


def _mechanisms(study: Study, raw: Mapping[str, Any]) -> dict[str, Any]:
    """The tables of all mechanisms with a learned share; one that moves moves the others."""
    out = {}
    for share in sorted(study.shares, key=lambda s: list(raw).index(s.mechanism)):
        entry = raw[share.mechanism] | {"source": SOURCE, "counts": share.records}
        out[share.mechanism] = entry | {"desk": [_rounded(x * share.ratio) for x in entry["desk"]]}
    return out


def _rounded(value: float) -> float:
    return float(f"{value:.{_DIGITS}g}")


def _learned(link: dict[str, Any], records: float) -> None:
    link["source"] = SOURCE
    link["counts"] = round(records, 1)


def _state(entry: dict[str, Any], now: strengths.Strengths, moved: Mapping[int, float]) -> None:
    if strengths.OTHERWISE in moved:
        entry["otherwise"] = _rounded(float(now[entry["id"], strengths.OTHERWISE][0]))
    for i, link in enumerate(entry["links"]):
        if i in moved:
            link["chance"] = _rounded(float(now[entry["id"], i][0]))
            _learned(link, moved[i])


def _cause(entry: dict[str, Any], now: strengths.Strengths, moved: Mapping[int, float]) -> None:
    for i, feed in enumerate(entry["feeds"]):
        if i in moved:
            feed["share"] = _rounded(float(now[entry["id"], i][0]))
            _learned(feed, moved[i])


def _finding(entry: dict[str, Any], now: strengths.Strengths, moved: Mapping[int, float]) -> None:
    """What a link shows holds what is there anyway, so all of its numbers are written where either moved; a hair above
    it, so that no rounding makes a link that tells nothing show less than is there anyway."""
    own = now[entry["id"], strengths.OTHERWISE]
    entry |= _levels(entry, own, "otherwise", "otherwise_heavy")
    for i, link in enumerate(entry["links"]):
        link |= _levels(entry, strengths.shows(now[entry["id"], i], own) * _ABOVE, "shows", "heavy")
        if i in moved:
            _learned(link, moved[i])


def _levels(entry: Mapping[str, Any], levels: strengths.Acts, total: str, heavy: str) -> dict[str, Any]:
    """Probabilities of the levels in the form in which the entry gives them."""
    levels = levels / max(1.0, float(levels.sum()))
    if isinstance(entry["otherwise"], list):
        return {total: [_rounded(float(x)) for x in levels]}
    out = {total: _rounded(float(levels.sum()))}
    if entry.get("graded") is not False:
        out[heavy] = _rounded(float(levels[-1] / levels.sum())) if levels.sum() > 0.0 else 0.0
    return out
