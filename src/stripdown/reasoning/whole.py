"""Many records at once through the one junction tree of everything that a knowledge holds.

Whatever a record's context and whatever it looked at, its numbers come out of the same operations in the same order,
so that a record is judged the same alone and among a hundred thousand others.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np

from stripdown.knowledge.model import Knowledge
from stripdown.reasoning.beliefs import Beliefs, Piece
from stripdown.reasoning.junction import JunctionTree
from stripdown.reasoning.leaves import FAILED_WHEN, Likelihoods, leaf_of, observed
from stripdown.reasoning.network import Leaf, Network, Vector, widest_scopes
from stripdown.reasoning.tables import Table


@dataclass(frozen=True)
class Asked:
    """One record put to its network: its findings (likelihoods of shape (levels,)), and weights of the values of
    `first`, a state or a cause where more than the findings is taken as known."""

    network: Network
    likelihoods: Likelihoods
    known: Mapping[int, Vector] = field(default_factory=dict)


class Whole:
    """The junction tree of everything that a knowledge holds, in whatever context: one for all records, so that a
    record comes out the same alone and among others."""

    def __init__(self, knowledge: Knowledge) -> None:
        cards, scopes = widest_scopes(knowledge)
        self.scopes: dict[int | str, tuple[int, ...]] = {**scopes, FAILED_WHEN: (0,)}
        self.ordered = tuple(sorted({*self.scopes.values(), *((0, v) if v else (0,) for v in range(len(cards)))}))
        self.place = {s: i for i, s in enumerate(self.ordered)}
        self.tree = JunctionTree(cards, self.ordered, root=(0,))

    def calibrate(self, asked: Sequence[Asked]) -> tuple[Beliefs, dict[str, Table]]:
        """(all probabilities of all records, one batch entry each; finding → the probability of what each record says
        of it, over `scopes` of that finding)."""
        seen = {f: self._observed(f, asked) for f in sorted({f for a in asked for f in a.likelihoods})}
        return self.tree.calibrate(self._tables(asked, seen)), seen

    def pieces(self, asked: Sequence[Asked]) -> list[Piece]:
        """What records say of some findings, as more evidence for beliefs."""
        return [(self.scopes[f], self._observed(f, asked)) for f in sorted({f for a in asked for f in a.likelihoods})]

    def _tables(self, asked: Sequence[Asked], seen: Mapping[str, Table]) -> list[Table]:
        """One table a scope of the tree, one batch entry a record."""
        found: list[Table | None] = [None] * len(self.ordered)

        def take(scope: tuple[int, ...], table: Table) -> None:
            held = found[self.place[scope]]
            found[self.place[scope]] = table if held is None else held * table

        networks = [a.network for a in asked]
        for v in range(1, len(networks[0].names)):
            families = [n.family(v) for n in networks]
            take(self.scopes[v], _abreast(self.scopes[v], networks[0].cards, [(s, t) for s, t in families]))
        for finding, table in seen.items():
            take(self.scopes[finding], table)
        for v in sorted({v for a in asked for v in a.known}):
            size = networks[0].cards[v]
            weights = np.stack([a.known.get(v, np.ones(size)) for a in asked], axis=1)
            take((0, v) if v else (0,), weights[None] if v else weights)
        take((0,), np.stack([n.prior for n in networks], axis=1))
        return _filled(self.ordered, found)

    def _observed(self, finding: str, asked: Sequence[Asked]) -> Table:
        """Probability of what each record says of a finding, exactly 1 where it says nothing."""
        scope, cards = self.scopes[finding], asked[0].network.cards
        groups: dict[int, tuple[Leaf, list[int]]] = {}
        for j, a in enumerate(asked):
            if finding in a.likelihoods:
                leaf = leaf_of(a.network, finding)
                groups.setdefault(id(leaf.table), (leaf, []))[1].append(j)
        out = np.ones((*(cards[v] for v in reversed(scope)), len(asked)))
        out = out.transpose(*reversed(range(len(scope))), len(scope))
        for leaf, columns in groups.values():
            likelihood = np.stack([asked[j].likelihoods[finding] for j in columns], axis=1)
            out[..., columns] = _widened(leaf.scope, scope, observed(leaf, likelihood))
        return out


def _filled(scopes: Sequence[tuple[int, ...]], tables: Sequence[Table | None]) -> list[Table]:
    """The tables, ones where there is none."""
    return [np.ones((1,) * (len(s) + 1)) if t is None else t for s, t in zip(scopes, tables, strict=True)]


def _widened(scope: tuple[int, ...], into: tuple[int, ...], table: Table) -> Table:
    """A table of some variables as one of more, the same whatever those are."""
    if scope == into:
        return table
    lengths = iter(table.shape)
    return table.reshape(*(next(lengths) if v in scope else 1 for v in into), table.shape[-1])


def _abreast(into: tuple[int, ...], cards: tuple[int, ...], parts: Sequence[tuple[tuple[int, ...], Table]]) -> Table:
    """Tables of the same thing in several networks side by side; one alone where they are the same."""
    if len({id(t) for _, t in parts}) == 1:
        return _widened(parts[0][0], into, parts[0][1])
    out = np.empty((*(cards[v] for v in reversed(into)), len(parts)))
    out = out.transpose(*reversed(range(len(into))), len(into))
    groups: dict[int, tuple[tuple[int, ...], Table, list[int]]] = {}
    for j, (scope, table) in enumerate(parts):
        groups.setdefault(id(table), (scope, table, []))[2].append(j)
    for scope, table, columns in groups.values():
        out[..., columns] = _widened(scope, into, table)
    return out


@lru_cache(maxsize=4)
def whole(knowledge: Knowledge) -> Whole:
    """The tree of a knowledge, made once."""
    return Whole(knowledge)
