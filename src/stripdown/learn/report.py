"""What moved, by how much and on how many records; and whether people and program agree."""

import math
from collections.abc import Iterator, Sequence

import numpy as np
import pandas as pd

from stripdown.fleet.agreement import agreement, kappa, kappa_interval
from stripdown.knowledge import Knowledge
from stripdown.learn.shares import Share
from stripdown.learn.study import Pair, Study
from stripdown.numbers import count, fixed, probability
from stripdown.reasoning import strengths
from stripdown.reasoning.learning import Moved
from stripdown.record import Fault

SHOWN = 0.1
"""Change of the log odds from which a strength is listed: about a tenth of the odds."""


def report(study: Study) -> Iterator[str]:
    """The lines of the report."""
    yield (
        f"{len(study.pairs)} confirmed records, {study.used} of them learned from; {study.unconfirmed} without a "
        f"confirmed finding, {study.rejected} rejected"
    )
    yield f"prior: each written strength counts as {study.prior_records:g} records in which its link could act"
    trace = study.learnt.log_posterior
    if trace:
        end = "settled" if study.learnt.settled else "not settled yet: what moved is a step on the way"
        yield f"log posterior {trace[0]:.2f} -> {trace[-1]:.2f} nat in {len(trace) - 1} steps, {end}"
    yield from _moved(study)
    yield from _shares(study)
    yield from _agreement(study.pairs)


def _moved(study: Study) -> Iterator[str]:
    listed = sorted((m for m in study.learnt.moved if _change(m) >= SHOWN), key=lambda m: (-_change(m), m.key))
    if not listed:
        yield "what moved: nothing that would show"
        return
    names = _names(study.knowledge)
    yield "what moved, most first: effect <- parents: probability before -> after (95 %), records behind it"
    for m in listed:
        yield (f"{names[m.key]}: {_from_to(m)}, {fixed(m.records, 1)} records")
    yield f"{len(study.learnt.moved) - len(listed)} strengths moved by less than a tenth of their odds"


def _shares(study: Study) -> Iterator[str]:
    if not study.shares:
        yield "shares of first mechanisms: as they were"
        return
    yield (
        f"shares of first mechanisms, the written ones counting as {study.prior_records:g} records: "
        "before -> after (95 %), confirmed records"
    )
    for s in study.shares:
        yield f"  {s.mechanism}: {_from_to(s)}, {count(s.records)}"
    yield (
        "  that is how often they come back only where the confirmed records are a fair sample of the returns; "
        "--keep-shares leaves them as written"
    )


def _from_to(m: Moved | Share) -> str:
    """'0.12 -> 0.143 (0.1 to 0.19)'."""
    before, after, low, high = (probability(p) for p in (m.before, m.after, m.low, m.high))
    return f"{before} -> {after} ({low} to {high})"


def _change(m: Moved) -> float:
    """Size of the change in log odds; none where a strength is sure either way."""
    if not (0.0 < m.before < 1.0 and 0.0 < m.after < 1.0):
        return 0.0
    return abs(math.log(m.after / (1.0 - m.after)) - math.log(m.before / (1.0 - m.before)))


def _names(knowledge: Knowledge) -> dict[strengths.Key, str]:
    """Each strength as `check --knowledge` writes its link."""
    out = {}
    effects = [(s.id, s.links) for s in knowledge.states] + [(f.id, f.links) for f in knowledge.findings.values()]
    for effect, links in effects:
        out[effect, strengths.OTHERWISE] = f"{effect} otherwise"
        out |= {(effect, i): f"{effect} <- {' + '.join(link.parents)}" for i, link in enumerate(links)}
    for cause in knowledge.causes.values():
        out |= {(cause.id, i): f"{cause.id} <- {mechanism}" for i, (mechanism, _, _) in enumerate(cause.feeds)}
    return out


def _agreement(pairs: Sequence[Pair]) -> Iterator[str]:
    if not pairs:
        yield "agreement of person and program: no confirmed record"
        return
    notices: list[Fault] = []
    table = pd.DataFrame(
        {
            "claim": [p.claim for p in pairs],
            "confirmed_first": [p.people[-1] for p in pairs],
            "confirmed_all": [";".join(p.people) for p in pairs],
            "headline": [p.program for p in pairs],
            "headline_probability": [p.probability for p in pairs],
        }
    )
    first = agreement(table, notices)["first"]
    same = sum(p.people[-1] == p.program for p in pairs)
    yield f"agreement of person and program: {same} of {len(pairs)}, kappa {_kappa(first)}"
    for mechanism in sorted({m for p in pairs for m in (p.people[-1], p.program)}):
        person = np.array([p.people[-1] == mechanism for p in pairs])
        program = np.array([p.program == mechanism for p in pairs])
        counts = [[int((a & b).sum()) for b in (program, ~program)] for a in (person, ~person)]
        found, ends = kappa(counts), kappa_interval(counts)
        value: dict[str, float | None] = {"kappa": None}
        if found is not None and ends is not None:
            value = {"kappa": found.value, "low": ends[0], "high": ends[1]}
        yield (
            f"  {mechanism}: person {person.sum()}, program {program.sum()}, both {counts[0][0]}, kappa {_kappa(value)}"
        )


def _kappa(value: dict[str, float | None]) -> str:
    if value["kappa"] is None:
        return "not defined (all answers are one and the same)"
    return f"{value['kappa']:.2f} (95 %: {value['low']:.2f} to {value['high']:.2f})"
