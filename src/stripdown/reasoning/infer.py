"""Findings as likelihoods over their levels → probabilities of everything in the network. Exact."""

from collections.abc import Callable, Hashable, Mapping, Sequence
from functools import cached_property, lru_cache, reduce

import numpy as np

from stripdown.reasoning.beliefs import Beliefs, Piece
from stripdown.reasoning.junction import JunctionTree
from stripdown.reasoning.leaves import FAILED_WHEN, Groups, Likelihoods, grouped, leaf_of, observed
from stripdown.reasoning.network import Network, Vector
from stripdown.reasoning.tables import Table, divided, total
from stripdown.reasoning.whole import Asked, whole

__all__ = [
    "CHUNK",
    "FAILED_WHEN",
    "Asked",
    "Likelihoods",
    "Posterior",
    "Question",
    "everything",
    "leaf_of",
    "posterior_of",
]
CHUNK = 48
"""Batch entries that are worked at a time where there is no better number."""
IN_CACHE = 200_000
"""Numbers of one table that stay in the processor's cache."""


@lru_cache(maxsize=512)
def _tree(
    cards: tuple[int, ...], scopes: frozenset[tuple[int, ...]]
) -> tuple[JunctionTree, tuple[tuple[int, ...], ...]]:
    ordered = tuple(sorted(scopes))
    return JunctionTree(cards, ordered, root=(0,)), ordered


class Question:
    """The part of a network that some findings touch, ready to be asked about `first` in many variants at once.

    `also`: variables whose probabilities are wanted although no finding needs them.
    """

    def __init__(self, network: Network, findings: Sequence[str], also: Sequence[int] = ()) -> None:
        self.network = network
        self.leaves = {f: leaf_of(network, f) for f in findings}
        wanted = {v for leaf in self.leaves.values() for v in leaf.scope} | set(also)
        self._families = sorted(network.ancestors(sorted(wanted)))
        scopes = {network.family(v)[0] for v in self._families} | {leaf.scope for leaf in self.leaves.values()} | {(0,)}
        self.tree, self._scopes = _tree(network.cards, frozenset(scopes))
        self._place = {s: i for i, s in enumerate(self._scopes)}
        self._base: list[Table | None] = [None] * len(self._scopes)
        for v in self._families:
            self._multiply(self._base, network.family(v)[0], network.family(v)[1])

    def _multiply(self, tables: list[Table | None], scope: tuple[int, ...], table: Table) -> None:
        i = self._place[scope]
        held = tables[i]
        tables[i] = table if held is None else held * table

    def _tables(self, likelihoods: Likelihoods) -> list[Table]:
        tables = list(self._base)
        for finding, likelihood in likelihoods.items():
            leaf = self.leaves[finding]
            self._multiply(tables, leaf.scope, observed(leaf, likelihood))
        return [np.ones((1,) * (len(s) + 1)) if t is None else t for s, t in zip(self._scopes, tables, strict=True)]

    def first(self, likelihoods: Likelihoods) -> tuple[Vector, Vector]:
        """(P(first | findings), log P(findings)): shapes (mechanisms, batch) and (batch,). Missing findings are not
        looked at."""
        batch = max((v.shape[1] for v in likelihoods.values() if v.ndim == 2), default=1)
        at_once = max(CHUNK // 3, IN_CACHE // self.tree.largest)
        if batch <= at_once:
            return self._first(likelihoods)
        parts = []
        for start in range(0, batch, at_once):
            cut = {k: v if v.ndim == 1 else v[:, start : start + at_once] for k, v in likelihoods.items()}
            parts.append(self._first(cut))
        return np.concatenate([p for p, _ in parts], axis=1), np.concatenate([e for _, e in parts])

    def _first(self, likelihoods: Likelihoods) -> tuple[Vector, Vector]:
        weights, log_scale = self.tree.collect(self._tables(likelihoods), (0,))
        return _normalised(weights * self.network.prior[:, None], log_scale)

    def beliefs(self, likelihoods: Likelihoods, known: Mapping[int, Vector] | None = None) -> Beliefs:
        """All joint probabilities within cliques, given the findings and the prior.

        known: weights of the values of `first` (0) or of a cause, shape (values, batch), where a person has said so.
        """
        tables = self._tables(likelihoods)
        for variable, weights in (known or {}).items():
            place = self._place[self.network.family(variable)[0] if variable else (0,)]
            tables[place] = tables[place] * (weights[None, :] if variable else weights)
        place = self._place[(0,)]
        tables[place] = tables[place] * self.network.prior[:, None]
        return self.tree.calibrate(tables)


class Posterior:
    """Probabilities of everything given the findings; last axis = batch, one entry a record."""

    def __init__(
        self,
        asked: Sequence[Asked],
        beliefs: Beliefs,
        seen: Mapping[str, Table],
        part_of: "tuple[Posterior, slice | list[int]] | None" = None,
    ) -> None:
        """`seen`: finding → the probability of what each record says of it, over what it hangs on.

        `part_of`: the larger batch that `beliefs` and `seen` are of, and which of its entries these are.
        """
        self.asked = tuple(asked)
        self.network = asked[0].network
        self.seen = seen
        self._beliefs = beliefs
        self._part_of = part_of
        self._alone: Beliefs | None = None
        self._made: dict[Hashable, Vector] = {}

    def once(self, what: Hashable, make: Callable[["Posterior"], Vector]) -> Vector:
        """Something of one value or more a batch entry (last axis), worked out for the whole batch at once."""
        if self._part_of is not None:
            batch, entries = self._part_of
            return batch.once(what, make)[..., entries]
        if what not in self._made:
            self._made[what] = make(self)
        return self._made[what]

    def marginal(self, *variables: int) -> Vector:
        """Joint probability of variables; axes ascending, batch last."""
        if self._part_of is not None:
            batch, entries = self._part_of
            return batch.marginal(*variables)[..., entries]
        return self._beliefs.marginal(*variables)

    @cached_property
    def groups(self) -> Groups:
        """The entries of the batch by their networks."""
        return grouped(a.network for a in self.asked)

    @property
    def first(self) -> Vector:
        """P(first), shape (mechanisms, batch)."""
        return self.marginal(0)

    @property
    def log_evidence(self) -> Vector:
        """Log probability of the findings."""
        return self.once("log evidence", lambda batch: batch._beliefs.log_evidence)

    @property
    def with_first(self) -> Vector:
        """P(first = m and variable v + 1 there), shape (variables, mechanisms, batch)."""
        return self.once("with first", _with_first)

    @property
    def there(self) -> Vector:
        """P(variable v + 1 there), shape (variables, batch)."""
        return self.once("there", lambda batch: reduce(np.add, batch.with_first.transpose(1, 0, 2)))

    @property
    def states(self) -> Mapping[str, Vector]:
        """State id → P(it is there)."""
        return dict(zip(self.network.states, self.there, strict=False))

    @property
    def causes(self) -> Mapping[str, Vector]:
        """Cause id → P(it is at work)."""
        return dict(zip(self.network.causes, self.there[len(self.network.states) :], strict=True))

    def at_work(self, mechanism: str) -> Vector:
        """P(mechanism at work, first or following)."""
        if mechanism in self.network.index:
            return total(self.marginal(0, self.network.index[mechanism])[:, 1])
        return np.asarray(self.first[self.network.first_index[mechanism]])

    def given_first(self, state: str, mechanism: str) -> Vector:
        """P(state or cause | first = mechanism, findings)."""
        row = self.network.first_index[mechanism]
        return divided(self.with_first[self.network.index[state] - 1, row], self.first[row])

    def entry(self, j: int) -> "Posterior":
        """The posterior of one record of the batch."""
        if len(self.asked) == 1:
            return self
        return Posterior(self.asked[j : j + 1], self._beliefs, self.seen, (self, slice(j, j + 1)))

    def only(self, entries: Sequence[int]) -> "Posterior":
        """The posterior of some records of the batch; one may stand in it several times."""
        if list(entries) == list(range(len(self.asked))):
            return self
        return Posterior([self.asked[j] for j in entries], self._beliefs, self.seen, (self, list(entries)))

    def also(self, pieces: Sequence[Piece]) -> "Posterior":
        """The posterior once more is known: weights of the values of variables that lie together."""
        return Posterior(self.asked, self._own().also(pieces), {})

    def share(self, pieces: Sequence[Piece]) -> Vector:
        """The probability of what more would be known, given the findings so far; one value a batch entry."""
        return self._own().share(pieces)

    def _own(self) -> Beliefs:
        if self._part_of is None:
            return self._beliefs
        if self._alone is None:
            batch, entries = self._part_of
            self._alone = batch._own().only(entries)
        return self._alone


def _with_first(batch: Posterior) -> Vector:
    return np.stack([batch.marginal(0, v)[:, 1] for v in range(1, len(batch.network.names))])


def everything(network: Network, likelihoods: Likelihoods, known: Mapping[int, Vector] | None = None) -> Posterior:
    """Probabilities of all mechanisms, states and causes of one record; `known` as in `Asked`."""
    return posterior_of([Asked(network, likelihoods, known or {})])


def posterior_of(asked: Sequence[Asked]) -> Posterior:
    """The same for many records of one knowledge, one batch entry each."""
    return Posterior(asked, *whole(asked[0].network.knowledge).calibrate(asked))


def _normalised(weights: Vector, log_scale: Vector) -> tuple[Vector, Vector]:
    every = total(weights)
    with np.errstate(divide="ignore"):
        return divided(weights, every), np.log(every) + log_scale
