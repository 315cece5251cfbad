"""Exact inference in a discrete Bayesian network by a junction tree, in numpy, batch axis last.

Tables come and go as arrays whose axes are the variables of their scope in ascending order, followed by one batch axis
(length 1 or n). Within the tree the order is descending, so that variable 0, which stands in nearly every table, lies
beside the batch axis and the processor works along both at once. A batch entry comes out the same whatever stands
beside it.
Source: S. L. Lauritzen and D. J. Spiegelhalter, J. R. Statist. Soc. B 50 (1988) 157-224.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import reduce
from operator import itemgetter

import numpy as np

from stripdown.reasoning.beliefs import Beliefs
from stripdown.reasoning.tables import Table, divided
from stripdown.reasoning.triangulate import bits, mask, triangulate

MOST_FACTORS = 16
"""Tables multiplied before the product is scaled anew."""
np.empty(31 * 2**17)
# Once 31 MB were given back, the C library keeps freed tables for the next ones: new pages cost more than arithmetic.
_SMALL = -32
"""Power of two below which a message is scaled: sixteen of them still make a number."""


@dataclass(frozen=True, slots=True)
class _Clique:
    variables: tuple[int, ...]
    """Descending, as the axes of its table."""
    parent: int
    """Index of the clique its message goes to; -1 = root."""
    summed: tuple[int, ...]
    """Axes summed out on the way to the parent."""
    kept: tuple[int, ...]
    """Axes that stay."""
    above: tuple[int, ...]
    """The same variables as axes of the parent."""
    parent_summed: tuple[int, ...]
    """Axes of the parent that are summed out on the way down."""
    shared: int
    """Entries of its message."""


@dataclass(frozen=True, slots=True)
class _Place:
    """Where a table goes: its clique, the turn of its axes, and which axes of the clique they then are."""

    clique: int
    turn: tuple[int, ...]
    axes: tuple[int, ...]
    size: int


class JunctionTree:
    """Cliques of the graph in which every scope is complete. `cards[v]` is the number of values of variable v."""

    def __init__(self, cards: Sequence[int], scopes: Iterable[Iterable[int]], root: Sequence[int] = ()) -> None:
        """`root`: variables that must lie together in the root clique (the query of `collect`)."""
        self.cards = tuple(cards)
        scope_list = [tuple(sorted(set(s))) for s in scopes]
        self.cliques = _build(self.cards, scope_list, tuple(sorted(root)))
        self.sets = [mask(c.variables) for c in self.cliques]
        self._sizes = [math.prod(self.cards[v] for v in c.variables) for c in self.cliques]
        self._holders: dict[tuple[int, ...], int] = {}
        self._subtrees: dict[int, tuple[int, ...]] = {}
        self.root = mask(root)
        self._parts = self._cut()
        self._places = [self.place_of(s) for s in scope_list]

    @property
    def size(self) -> int:
        """Number of entries of all clique tables together."""
        return sum(self._sizes)

    @property
    def largest(self) -> int:
        """Number of entries of the largest clique table."""
        return max(self._sizes)

    @property
    def width(self) -> int:
        """Variables in the largest clique, less one."""
        return max(len(c.variables) for c in self.cliques) - 1

    def holder(self, scope: tuple[int, ...]) -> int:
        """The smallest clique that holds these variables, -1 where there is none."""
        if scope not in self._holders:
            wanted = mask(scope)
            holders = [i for i, s in enumerate(self.sets) if wanted & ~s == 0]
            self._holders[scope] = min(holders, key=lambda i: self._sizes[i], default=-1)
        return self._holders[scope]

    def _cut(self) -> dict[int, int]:
        """Variable → the part of the tree it lies in, parts being what hangs together by more than the root variables:
        given those, they know nothing of one another."""
        part = [0] * len(self.cliques)
        out: dict[int, int] = {}
        for i in range(len(self.cliques) - 1, -1, -1):
            parent = self.cliques[i].parent
            alone = parent < 0 or self.sets[i] & self.sets[parent] & ~self.root == 0
            part[i] = i if alone else part[parent]
            for v in bits(self.sets[i] & ~self.root):
                out[v] = part[i]
        return out

    def apart(self, scope: tuple[int, ...]) -> list[tuple[int, ...]]:
        """Variables of a scope by the part they lie in, each with the root variables of the scope."""
        common = tuple(v for v in scope if self.root >> v & 1)
        rest = [v for v in scope if v not in common]
        if any(v not in self._parts for v in rest):
            raise ValueError(f"{scope} are not all in the tree")
        parts = dict.fromkeys(self._parts[v] for v in rest)
        return [tuple(sorted((*common, *(v for v in rest if self._parts[v] == p)))) for p in parts]

    def subtree(self, wanted: int) -> tuple[int, ...]:
        """The fewest cliques that hang together and hold the variables of a bit mask among them, children first."""
        if wanted not in self._subtrees:
            near: list[set[int]] = [set() for _ in self.cliques]
            for i, clique in enumerate(self.cliques[:-1]):
                near[i].add(clique.parent)
                near[clique.parent].add(i)
            todo = list(range(len(near)))
            while todo:
                i = todo.pop()
                if len(near[i]) == 1:
                    [other] = near[i]
                    if self.sets[i] & wanted & ~self.sets[other] == 0:
                        near[i] = set()
                        near[other].discard(i)
                        todo.append(other)
            left = tuple(i for i, n in enumerate(near) if n)
            self._subtrees[wanted] = left
        return self._subtrees[wanted]

    def place_of(self, scope: tuple[int, ...]) -> _Place:
        clique = self.holder(scope)
        turn = (*reversed(range(len(scope))), len(scope))
        axes = tuple(i for i, v in enumerate(self.cliques[clique].variables) if v in scope)
        return _Place(clique, turn, axes, math.prod(self.cards[v] for v in scope))

    def _collect(self, tables: Sequence[Table]) -> tuple[list[Table], list[tuple[Table, Table]], Table]:
        """Clique tables with all messages from below; the messages, each with what it was scaled by; the log of what
        was scaled away."""
        if len(tables) != len(self._places):
            raise ValueError(f"{len(self._places)} tables wanted, {len(tables)} given")
        pieces: list[list[tuple[int, Table]]] = [[] for _ in self.cliques]
        for table, place in zip(tables, self._places, strict=True):
            pieces[place.clique].append(
                (place.size, self.spread(np.ascontiguousarray(table.transpose(place.turn)), place.axes, place.clique))
            )
        log_scale: Table = np.zeros(1)
        messages: list[tuple[Table, Table]] = []
        done: list[Table] = []
        for i, clique in enumerate(self.cliques):
            while len(pieces[i]) > MOST_FACTORS:
                product, scale = _scaled(_product(pieces[i][:MOST_FACTORS], len(clique.variables)))
                log_scale = log_scale - np.log(scale)
                pieces[i][:MOST_FACTORS] = [(self._sizes[i], product)]
            table = _product(pieces[i], len(clique.variables))
            done.append(table)
            if clique.parent < 0:
                continue
            message, scale = _scaled(self.sum_out(table, clique.variables, clique.summed))
            log_scale = log_scale - np.log(scale)
            messages.append((message, scale))
            pieces[clique.parent].append((clique.shared, self.spread(message, clique.above, clique.parent)))
        return done, messages, log_scale

    def sum_out(self, table: Table, variables: tuple[int, ...], axes: tuple[int, ...]) -> Table:
        """Sum over axes, also where a table is the same for all values of one and holds it once; the rest stays."""
        if not axes:
            return table
        out = table.sum(axis=axes)
        times = math.prod(self.cards[variables[a]] for a in axes if table.shape[a] == 1)
        return np.asarray(out * times) if times > 1 else np.asarray(out)

    def spread(self, table: Table, axes: tuple[int, ...], clique: int) -> Table:
        """A table or message as one of a clique in which its variables are these axes."""
        shape = [1] * (len(self.cliques[clique].variables) + 1)
        for axis, length in zip(axes, table.shape, strict=False):
            shape[axis] = length
        shape[-1] = table.shape[-1]
        return table.reshape(shape)

    def collect(self, tables: Sequence[Table], query: Sequence[int]) -> tuple[Table, Table]:
        """(table over `query`, log scale): joint weight of `query` and the evidence is table × exp(log scale).

        `query` must lie in the root clique.
        """
        done, _, log_scale = self._collect(tables)
        return self.marginal_of(done[-1], len(self.cliques) - 1, tuple(sorted(query))), log_scale

    def calibrate(self, tables: Sequence[Table]) -> Beliefs:
        """All clique marginals given the evidence that the tables hold."""
        beliefs, messages, log_scale = self._collect(tables)
        for i in range(len(self.cliques) - 2, -1, -1):
            clique = self.cliques[i]
            down = self.sum_out(beliefs[clique.parent], self.cliques[clique.parent].variables, clique.parent_summed)
            message, scale = messages[i]
            beliefs[i] = beliefs[i] * self.spread(divided(down, message) * scale, clique.kept, i)
        return Beliefs(self, beliefs, log_scale)

    def marginal_of(self, table: Table, clique: int, query: tuple[int, ...]) -> Table:
        variables = self.cliques[clique].variables
        if not set(query) <= set(variables):
            raise ValueError(f"{query} do not lie together in a clique")
        axes = tuple(i for i, v in enumerate(variables) if v not in query)
        out = self.sum_out(table, variables, axes)
        out = np.broadcast_to(out, (*(self.cards[v] for v in reversed(query)), out.shape[-1]))
        return out.transpose(*reversed(range(len(query))), len(query))


def _product(pieces: list[tuple[int, Table]], axes: int) -> Table:
    """Product of the tables of one clique, each beside the entries it could have, small ones first; the order never
    hangs on the batch."""
    ordered = [table for _, table in sorted(pieces, key=itemgetter(0))]
    return reduce(np.multiply, ordered) if ordered else np.ones((1,) * (axes + 1))


def _scaled(message: Table) -> tuple[Table, Table]:
    """(message times a power of two, that power): exact; keeps the largest entry from becoming too small to tell."""
    top = message.max(axis=tuple(range(message.ndim - 2))) if message.ndim > 2 else message
    _, exponent = np.frexp(top.max(axis=0) if top.ndim > 1 else top)
    scale = np.ldexp(1.0, np.where(exponent < _SMALL, -exponent, 0))
    return np.asarray(message * scale) if (scale != 1.0).any() else message, scale


def _build(cards: tuple[int, ...], scopes: list[tuple[int, ...]], root: tuple[int, ...]) -> tuple[_Clique, ...]:
    sets, parents = triangulate(cards, scopes, root)
    cliques = []
    for inside, parent in zip(sets, parents, strict=True):
        variables = tuple(bits(inside))[::-1]
        around = sets[parent] if parent >= 0 else 0
        above = tuple(bits(around))[::-1]
        cliques.append(
            _Clique(
                variables,
                parent,
                tuple(i for i, v in enumerate(variables) if not around >> v & 1) if around else (),
                tuple(i for i, v in enumerate(variables) if around >> v & 1),
                tuple(i for i, v in enumerate(above) if inside >> v & 1),
                tuple(i for i, v in enumerate(above) if not inside >> v & 1),
                math.prod(cards[v] for v in bits(inside & around)),
            )
        )
    return tuple(cliques)
