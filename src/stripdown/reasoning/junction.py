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
from operator import itemgetter, or_

import numpy as np
from numpy.typing import NDArray

from stripdown.reasoning.triangulate import bits, mask, triangulate

Table = NDArray[np.float64]
Piece = tuple[tuple[int, ...], Table]
"""Variables that lie in one clique, and weights of their values: axes ascending, batch last."""
_Named = tuple[int, Table]
"""Variables as a bit mask, and a table of them: axes descending, batch last."""
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


_LEAST = 5e-324


def divided(weight: Table, by: Table) -> Table:
    """weight / by of numbers that are not negative; zero where both are zero."""
    return np.asarray(weight / np.maximum(by, _LEAST))


def total(table: Table) -> Table:
    """Sum over all axes but the last, in one order whatever the length of that."""
    rows = np.ascontiguousarray(table).reshape(-1, table.shape[-1])
    # Of a single column numpy would add pairs of neighbours, of several row after row.
    return np.asarray(rows.sum(axis=0) if rows.shape[1] > 1 else np.repeat(rows, 2, axis=1).sum(axis=0)[:1])


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
        self._places = [self._place(s) for s in scope_list]

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

    def _place(self, scope: tuple[int, ...]) -> _Place:
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
                (place.size, self._spread(np.ascontiguousarray(table.transpose(place.turn)), place.axes, place.clique))
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
            message, scale = _scaled(self._sum_out(table, clique.variables, clique.summed))
            log_scale = log_scale - np.log(scale)
            messages.append((message, scale))
            pieces[clique.parent].append((clique.shared, self._spread(message, clique.above, clique.parent)))
        return done, messages, log_scale

    def _sum_out(self, table: Table, variables: tuple[int, ...], axes: tuple[int, ...]) -> Table:
        """Sum over axes, also where a table is the same for all values of one and holds it once; the rest stays."""
        if not axes:
            return table
        out = table.sum(axis=axes)
        times = math.prod(self.cards[variables[a]] for a in axes if table.shape[a] == 1)
        return np.asarray(out * times) if times > 1 else np.asarray(out)

    def _spread(self, table: Table, axes: tuple[int, ...], clique: int) -> Table:
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
        return self._marginal(done[-1], len(self.cliques) - 1, tuple(sorted(query))), log_scale

    def calibrate(self, tables: Sequence[Table]) -> "Beliefs":
        """All clique marginals given the evidence that the tables hold."""
        beliefs, messages, log_scale = self._collect(tables)
        for i in range(len(self.cliques) - 2, -1, -1):
            clique = self.cliques[i]
            down = self._sum_out(beliefs[clique.parent], self.cliques[clique.parent].variables, clique.parent_summed)
            message, scale = messages[i]
            beliefs[i] = beliefs[i] * self._spread(divided(down, message) * scale, clique.kept, i)
        return Beliefs(self, beliefs, log_scale)

    def _marginal(self, table: Table, clique: int, query: tuple[int, ...]) -> Table:
        variables = self.cliques[clique].variables
        if not set(query) <= set(variables):
            raise ValueError(f"{query} do not lie together in a clique")
        axes = tuple(i for i, v in enumerate(variables) if v not in query)
        out = self._sum_out(table, variables, axes)
        out = np.broadcast_to(out, (*(self.cards[v] for v in reversed(query)), out.shape[-1]))
        return out.transpose(*reversed(range(len(query))), len(query))


class Beliefs:
    """Calibrated clique tables. Weights are unnormalised; `marginal` normalises."""

    def __init__(self, tree: JunctionTree, tables: list[Table], log_scale: Table) -> None:
        self._tree = tree
        self._tables = tables
        last = len(tables) - 1
        self._evidence = total(tree._marginal(tables[last], last, tree.cliques[last].variables[-1:]))
        self._log_scale = log_scale
        self._known: dict[tuple[int, ...], Table] = {}
        self._shared: dict[int, Table] = {}

    @property
    def log_evidence(self) -> Table:
        """Log probability of the evidence, one a batch entry; -inf where it is impossible."""
        with np.errstate(divide="ignore"):
            return np.log(self._evidence) + self._log_scale

    def marginal(self, *variables: int) -> Table:
        """Joint probability of variables; axes ascending, batch last. Zero everywhere where the evidence is
        impossible. Costs least where they lie in one clique."""
        wanted = tuple(sorted(variables))
        if wanted not in self._known:
            _, weight = self._weight(wanted)
            turn = (*reversed(range(len(wanted))), len(wanted))
            self._known[wanted] = divided(weight, self._evidence).transpose(turn)
        return self._known[wanted]

    def only(self, entries: slice | list[int]) -> "Beliefs":
        """The beliefs of some batch entries."""
        size = len(self._evidence)
        places = range(size)[entries] if isinstance(entries, slice) else entries
        # With 'clip' numpy need not look at every place first, which takes longer than the copy.
        some = [t if t.shape[-1] == 1 else np.take(t, places, axis=-1, mode="clip") for t in self._tables]
        scale = self._log_scale if len(self._log_scale) == 1 else self._log_scale[places]
        return Beliefs(self._tree, some, scale)

    def also(self, pieces: Sequence[Piece]) -> "Beliefs":
        """Beliefs once more is known: each piece weighs the values of variables that lie in one clique.

        The evidence then is that of these beliefs and of the pieces together.
        """
        tables, weighed = self._upwards(pieces)
        for i in range(len(tables) - 2, -1, -1):
            clique = self._tree.cliques[i]
            around = self._tree.cliques[clique.parent].variables
            down = self._tree._sum_out(tables[clique.parent], around, clique.parent_summed)
            up = self._to_parent(i, tables[i]) if i in weighed else self._separator(i)
            tables[i] = tables[i] * self._tree._spread(divided(down, up), clique.kept, i)
        return Beliefs(self._tree, tables, self._log_scale)

    def share(self, pieces: Sequence[Piece]) -> Table:
        """What the pieces are expected to weigh, given the evidence so far: one value a batch entry."""
        tables, _ = self._upwards(pieces)
        last = len(tables) - 1
        weight = total(self._tree._marginal(tables[last], last, self._tree.cliques[last].variables[-1:]))
        return divided(weight, self._evidence)

    def _upwards(self, pieces: Sequence[Piece]) -> tuple[list[Table], set[int]]:
        """The tables with the pieces in them and in all cliques above, and those cliques."""
        tables, tree = list(self._tables), self._tree
        weighed: set[int] = set()
        for scope, table in pieces:
            place = tree._place(scope)
            piece = tree._spread(table.transpose(place.turn), place.axes, place.clique)
            tables[place.clique] = tables[place.clique] * piece
            weighed.add(place.clique)
        for i, clique in enumerate(tree.cliques[:-1]):
            if i in weighed:
                change = divided(self._to_parent(i, tables[i]), self._separator(i))
                tables[clique.parent] = tables[clique.parent] * tree._spread(change, clique.above, clique.parent)
                weighed.add(clique.parent)
        return tables, weighed

    def _separator(self, i: int) -> Table:
        """The weight of what a clique shares with its parent."""
        if i not in self._shared:
            self._shared[i] = self._to_parent(i, self._tables[i])
        return self._shared[i]

    def _to_parent(self, i: int, table: Table) -> Table:
        clique = self._tree.cliques[i]
        return self._tree._sum_out(table, clique.variables, clique.summed)

    def _weight(self, wanted: tuple[int, ...]) -> _Named:
        home, root = self._tree.holder(wanted), self._tree.root
        if home >= 0:
            return self._of(home, [mask(wanted)])
        parts = self._tree.apart(wanted)
        if len(parts) == 1 or root & ~mask(wanted):
            return self._across(mask(wanted))
        common = self._weight(tuple(bits(root)))
        return _joined([common, *(_given(self._weight(p), common) for p in parts)], mask(wanted))

    def _across(self, wanted: int) -> _Named:
        """Weight of variables of several cliques: conditional on what a clique shares with the next, then summed."""
        tree = self._tree
        cliques = tree.subtree(wanted)
        shared = {i: tree.sets[i] & tree.sets[tree.cliques[i].parent] for i in cliques[:-1]}
        below: dict[int, list[_Named]] = {i: [] for i in cliques}
        for i in cliques:
            parent = tree.cliques[i].parent
            table = self._of(
                i, [wanted, shared.get(i, 0), *(s for c, s in shared.items() if tree.cliques[c].parent == i)]
            )
            if i == cliques[-1]:
                break
            given = _given(table, _summed(table, shared[i]))
            below[parent].append(_joined([given, *below[i]], wanted | shared[i]))
        return _joined([table, *below[i]], wanted)

    def _of(self, clique: int, kept: Iterable[int]) -> _Named:
        """Weight of those variables of a clique that lie in one of the bit masks."""
        variables = self._tree.sets[clique] & reduce(or_, kept)
        table = self._tree._marginal(self._tables[clique], clique, tuple(bits(variables)))
        return variables, table.transpose(*reversed(range(table.ndim - 1)), table.ndim - 1)


def _turned(table: _Named, into: int) -> Table:
    """The values of a table, shaped to stand among more variables."""
    variables, values = table
    shape = iter(values.shape)
    return values.reshape(
        *(next(shape) if variables >> v & 1 else 1 for v in reversed(list(bits(into)))), values.shape[-1]
    )


def _summed(table: _Named, kept: int) -> _Named:
    variables, values = table
    axes = tuple(i for i, v in enumerate(reversed(list(bits(variables)))) if not kept >> v & 1)
    return variables & kept, values.sum(axis=axes) if axes else values


def _given(table: _Named, by: _Named) -> _Named:
    """A weight conditional on some of its variables, whose own weight is `by`."""
    return table[0], divided(table[1], _turned(by, table[0]))


def _joined(tables: list[_Named], kept: int) -> _Named:
    """Product of tables, what is not kept summed out."""
    every = reduce(or_, (v for v, _ in tables))
    return _summed((every, reduce(np.multiply, [_turned(t, every) for t in tables])), kept)


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
