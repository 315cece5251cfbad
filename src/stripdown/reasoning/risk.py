"""Hidden damage that makes an outcome fail within the year: what a record's findings leave of it."""

from collections.abc import Iterator, Sequence

import numpy as np

from stripdown.knowledge.model import Disposition
from stripdown.reasoning.beliefs import Piece
from stripdown.reasoning.infer import Posterior
from stripdown.reasoning.network import Network

Asked = Sequence[tuple[int, Disposition]]
"""An entry of a batch, and an outcome that it admits."""
Placed = tuple[Posterior, Sequence[int], Sequence[Disposition | None]]
"""A posterior; for each of its entries which of the batch it is, and the outcome that is asked for, if one is."""


def side_by_side(posterior: Posterior, asked: Asked) -> Iterator[Placed]:
    """Posteriors in which each entry stands for one of the outcomes asked for."""
    waiting: dict[int, list[Disposition]] = {}
    for j, rule in asked:
        waiting.setdefault(j, []).append(rule)
    entries = range(len(posterior.asked))
    # Beliefs of a few records are worth copying, those of most are not.
    while 2 * len(waiting) >= len(entries):
        yield posterior, entries, [waiting[j].pop(0) if j in waiting else None for j in entries]
        waiting = {j: rules for j, rules in waiting.items() if rules}
    if waiting:
        pooled = [(j, rule) for j, rules in waiting.items() for rule in rules]
        yield posterior.only([j for j, _ in pooled]), [j for j, _ in pooled], [rule for _, rule in pooled]


def none_of_it(network: Network, rules: Sequence[Disposition | None]) -> list[Piece]:
    """What would be known if nothing made the outcome fail, one outcome a batch entry."""
    pieces: list[Piece] = []
    for state in sorted({state for rule in rules if rule for state in rule.risk}):
        left = np.array([float(rule is None or state not in rule.risk) for rule in rules])
        if state in network.index:
            pieces.append(((network.index[state],), np.stack([np.ones(len(rules)), left])))
        else:
            weights = np.ones((len(network.mechanisms), len(rules)))
            weights[network.first_index[state]] = left
            pieces.append(((0,), weights))
    return pieces


def unharmed(posterior: Posterior, asked: Asked) -> dict[tuple[int, str], float]:
    """(entry, outcome) → P(nothing makes it fail | findings)."""
    out: dict[tuple[int, str], float] = {}
    for batch, entries, rules in side_by_side(posterior, asked):
        share = batch.share(none_of_it(posterior.network, rules)).tolist()
        out |= {(j, rule.id): p for j, rule, p in zip(entries, rules, share, strict=True) if rule}
    return out
