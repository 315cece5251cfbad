"""Exact inference in a discrete Bayesian network by a junction tree, in numpy, batch axis last.

Tables are arrays whose axes are the variables of their scope in ascending order, followed by one batch axis
(length 1 or n).
Source: S. L. Lauritzen and D. J. Spiegelhalter, J. R. Statist. Soc. B 50 (1988) 157-224.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Table = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class _Clique:
    variables: tuple[int, ...]
    parent: int
    """Index of the clique its message goes to; -1 = root."""
    separator: tuple[int, ...]
    summed: tuple[int, ...]
    """Axes summed out on the way to the parent."""
    parent_summed: tuple[int, ...]
    """Axes of the parent that are summed out on the way down."""
    spread: tuple[slice | None, ...]


def divided(weight: Table, by: Table) -> Table:
    """weight / by, zero where `by` is zero."""
    out: Table = np.zeros(np.broadcast_shapes(weight.shape, by.shape))
    np.divide(weight, by, out=out, where=by > 0.0)
    return out


class JunctionTree:
    """Cliques of the graph in which every scope is complete. `cards[v]` is the number of values of variable v."""

    def __init__(self, cards: Sequence[int], scopes: Iterable[Iterable[int]], root: Sequence[int] = ()) -> None:
        """`root`: variables that must lie together in the root clique (the query of `collect`)."""
        self.cards = tuple(cards)
        scope_list = [tuple(sorted(set(s))) for s in scopes]
        needed = [*scope_list, tuple(sorted(root))] if root else scope_list
        self.cliques = _build(self.cards, needed, tuple(sorted(root)))
        self._holders: dict[tuple[int, ...], int] = {}
        self.home = [self._home_of(s) for s in scope_list]
        self._spread = [self._spread_of(s, c) for s, c in zip(scope_list, self.home, strict=True)]

    @property
    def size(self) -> int:
        """Number of entries of all clique tables together."""
        return sum(math.prod(self.cards[v] for v in c.variables) for c in self.cliques)

    @property
    def width(self) -> int:
        """Variables in the largest clique, less one."""
        return max(len(c.variables) for c in self.cliques) - 1

    def _home_of(self, scope: tuple[int, ...]) -> int:
        """The smallest clique that holds these variables."""
        if scope not in self._holders:
            holders = [i for i, c in enumerate(self.cliques) if set(scope) <= set(c.variables)]
            if not holders:
                raise ValueError(f"no clique holds {scope}")
            self._holders[scope] = min(
                holders, key=lambda i: math.prod(self.cards[v] for v in self.cliques[i].variables)
            )
        return self._holders[scope]

    def _spread_of(self, scope: tuple[int, ...], clique: int) -> tuple[slice | None, ...]:
        return (*(slice(None) if v in scope else None for v in self.cliques[clique].variables), slice(None))

    def _potentials(self, tables: Sequence[Table]) -> tuple[list[Table | None], Table]:
        if len(tables) != len(self.home):
            raise ValueError(f"{len(self.home)} tables wanted, {len(tables)} given")
        potentials: list[Table | None] = [None] * len(self.cliques)
        for table, home, spread in zip(tables, self.home, self._spread, strict=True):
            piece = table[spread]
            held = potentials[home]
            potentials[home] = piece if held is None else held * piece
        return potentials, np.zeros(1)

    def _collect(self, tables: Sequence[Table]) -> tuple[list[Table], list[Table], Table]:
        """Clique tables with all messages from below, the messages, and the log of what was scaled away."""
        potentials, log_scale = self._potentials(tables)
        messages: list[Table] = [np.ones(1)] * len(self.cliques)
        done: list[Table] = [np.ones(1)] * len(self.cliques)
        for i, clique in enumerate(self.cliques):
            table = potentials[i]
            if table is None:
                table = np.ones((1,) * len(clique.variables) + (1,))
            done[i] = table
            if clique.parent < 0:
                continue
            full = np.broadcast_to(table, (*(self.cards[v] for v in clique.variables), table.shape[-1]))
            message = full.sum(axis=clique.summed) if clique.summed else full
            top = message.max(axis=tuple(range(message.ndim - 1)), keepdims=True)
            top = np.where(top > 0.0, top, 1.0)
            log_scale = log_scale + np.log(top.reshape(-1))
            message = message / top
            messages[i] = message
            held = potentials[clique.parent]
            spread = message[clique.spread]
            potentials[clique.parent] = spread if held is None else held * spread
        return done, messages, log_scale

    def collect(self, tables: Sequence[Table], query: Sequence[int]) -> tuple[Table, Table]:
        """(table over `query`, log scale): joint weight of `query` and the evidence is table × exp(log scale).

        `query` must lie in the root clique.
        """
        done, _, log_scale = self._collect(tables)
        return self._marginal(done[-1], self.cliques[-1], query), log_scale

    def calibrate(self, tables: Sequence[Table]) -> "Beliefs":
        """All clique marginals given the evidence that the tables hold."""
        done, messages, log_scale = self._collect(tables)
        beliefs: list[Table] = list(done)
        for i in range(len(self.cliques) - 2, -1, -1):
            clique = self.cliques[i]
            up = beliefs[clique.parent]
            parent = self.cliques[clique.parent]
            up = np.broadcast_to(up, (*(self.cards[v] for v in parent.variables), up.shape[-1]))
            down = up.sum(axis=clique.parent_summed) if clique.parent_summed else up
            ratio = divided(down, messages[i])
            index = (*(slice(None) if v in clique.separator else None for v in clique.variables), slice(None))
            beliefs[i] = done[i] * ratio[index]
        root = np.broadcast_to(
            beliefs[-1], (*(self.cards[v] for v in self.cliques[-1].variables), beliefs[-1].shape[-1])
        )
        evidence = root.sum(axis=tuple(range(root.ndim - 1)))
        return Beliefs(self, beliefs, evidence, log_scale)

    def _marginal(self, table: Table, clique: _Clique, query: Sequence[int]) -> Table:
        wanted = tuple(sorted(query))
        if not set(wanted) <= set(clique.variables):
            raise ValueError(f"{wanted} do not lie together in a clique")
        full = np.broadcast_to(table, (*(self.cards[v] for v in clique.variables), table.shape[-1]))
        axes = tuple(i for i, v in enumerate(clique.variables) if v not in wanted)
        return full.sum(axis=axes) if axes else full


class Beliefs:
    """Calibrated clique tables. Weights are unnormalised; `marginal` normalises."""

    def __init__(self, tree: JunctionTree, tables: list[Table], evidence: Table, log_scale: Table) -> None:
        self._tree = tree
        self._tables = tables
        self._evidence = evidence
        self._log_scale = log_scale
        self._known: dict[tuple[int, ...], Table] = {}

    @property
    def log_evidence(self) -> Table:
        """Log probability of the evidence, one a batch entry; -inf where it is impossible."""
        with np.errstate(divide="ignore"):
            return np.log(self._evidence) + self._log_scale

    def marginal(self, *variables: int) -> Table:
        """Joint probability of variables that lie in one clique; axes ascending, batch last. Zero everywhere where
        the evidence is impossible."""
        wanted = tuple(sorted(variables))
        if wanted not in self._known:
            home = self._tree._home_of(wanted)
            table = self._tree._marginal(self._tables[home], self._tree.cliques[home], wanted)
            self._known[wanted] = divided(table, table.sum(axis=tuple(range(table.ndim - 1)), keepdims=True))
        return self._known[wanted]


def _build(cards: tuple[int, ...], scopes: list[tuple[int, ...]], root: tuple[int, ...]) -> tuple[_Clique, ...]:
    raw = _eliminate(cards, scopes, root)
    maximal = _maximal(raw)
    parents = _spanning_tree(maximal, root)
    order = _children_first(parents)
    position = {old: new for new, old in enumerate(order)}
    cliques = []
    for old in order:
        variables = maximal[old]
        parent = parents[old]
        if parent < 0:
            cliques.append(_Clique(variables, -1, (), (), (), ()))
            continue
        above = maximal[parent]
        separator = tuple(v for v in variables if v in above)
        cliques.append(
            _Clique(
                variables,
                position[parent],
                separator,
                tuple(i for i, v in enumerate(variables) if v not in separator),
                tuple(i for i, v in enumerate(above) if v not in separator),
                (*(slice(None) if v in separator else None for v in above), slice(None)),
            )
        )
    return tuple(cliques)


def _eliminate(cards: tuple[int, ...], scopes: list[tuple[int, ...]], root: tuple[int, ...]) -> list[tuple[int, ...]]:
    """Cliques of a triangulation: the variable that adds the fewest links goes first, the smaller table where equal;
    root variables last."""
    neighbours: dict[int, set[int]] = {v: set() for scope in scopes for v in scope}
    for scope in scopes:
        for v in scope:
            neighbours[v].update(u for u in scope if u != v)
    cliques = []
    left = set(neighbours)
    while left:
        free = left - set(root) or left
        best = min(free, key=lambda v: (_fill(v, neighbours), math.prod(cards[u] for u in neighbours[v]), v))
        around = neighbours.pop(best)
        cliques.append(tuple(sorted({best, *around})))
        for u in around:
            neighbours[u].discard(best)
            neighbours[u].update(w for w in around if w != u)
        left.discard(best)
    return cliques


def _fill(v: int, neighbours: Mapping[int, set[int]]) -> int:
    around = list(neighbours[v])
    return sum(1 for i, a in enumerate(around) for b in around[i + 1 :] if b not in neighbours[a])


def _maximal(cliques: list[tuple[int, ...]]) -> list[tuple[int, ...]]:
    sets = [set(c) for c in cliques]
    return [
        c
        for i, c in enumerate(cliques)
        if not any(sets[i] < s or (sets[i] == s and i < j) for j, s in enumerate(sets) if j != i)
    ]


def _spanning_tree(cliques: list[tuple[int, ...]], root: tuple[int, ...]) -> list[int]:
    """Parent of each clique in a tree of largest separators (Prim), rooted at the smallest clique that holds `root`."""
    sets = [set(c) for c in cliques]
    start = min((i for i, s in enumerate(sets) if set(root) <= s), key=lambda i: len(sets[i]))
    parents = [-1] * len(cliques)
    best = {i: (len(sets[i] & sets[start]), start) for i in range(len(cliques)) if i != start}
    while best:
        i = max(best, key=lambda k: (best[k][0], -k))
        parents[i] = best.pop(i)[1]
        for j in best:
            shared = len(sets[j] & sets[i])
            if shared > best[j][0]:
                best[j] = (shared, i)
    return parents


def _children_first(parents: list[int]) -> list[int]:
    children: dict[int, list[int]] = {}
    for i, p in enumerate(parents):
        children.setdefault(p, []).append(i)
    order: list[int] = []
    stack = [children[-1][0]]
    while stack:
        i = stack.pop()
        order.append(i)
        stack.extend(children.get(i, []))
    return order[::-1]
