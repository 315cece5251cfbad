"""What a calibrated junction tree knows: probabilities of its variables, and what they become once more is known."""

from collections.abc import Iterable, Sequence
from functools import reduce
from operator import or_
from typing import TYPE_CHECKING

import numpy as np

from stripdown.reasoning.tables import Table, divided, total
from stripdown.reasoning.triangulate import bits, mask

if TYPE_CHECKING:
    from stripdown.reasoning.junction import JunctionTree

Piece = tuple[tuple[int, ...], Table]
"""Variables that lie in one clique, and weights of their values: axes ascending, batch last."""
_Named = tuple[int, Table]
"""Variables as a bit mask, and a table of them: axes descending, batch last."""


class Beliefs:
    """Calibrated clique tables. Weights are unnormalised; `marginal` normalises."""

    def __init__(
        self,
        tree: "JunctionTree",
        tables: list[Table],
        log_scale: Table,
        due: "tuple[Beliefs, set[int]] | None" = None,
    ) -> None:
        """`due`: the beliefs that `tables` come from where all but the root still waits for what the root knows, and
        the cliques that have been weighed on the way up."""
        self._tree = tree
        self._all = range(len(tables))
        self._due = due
        self._settled = {len(tables) - 1} if due else set(self._all)
        self._tables = tables
        last = len(tables) - 1
        self._evidence = total(tree.marginal_of(tables[last], last, tree.cliques[last].variables[-1:]))
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
        some = [np.take(t, places, axis=-1, mode="clip") if t.shape[-1] > 1 else t for t in map(self._table, self._all)]
        scale = self._log_scale if len(self._log_scale) == 1 else self._log_scale[places]
        return Beliefs(self._tree, some, scale)

    def also(self, pieces: Sequence[Piece]) -> "Beliefs":
        """Beliefs once more is known: each piece weighs the values of variables that lie in one clique.

        The evidence then is that of these beliefs and of the pieces together. What lies away from the pieces is worked
        out when it is asked for.
        """
        tables, weighed = self._upwards(pieces)
        return Beliefs(self._tree, tables, self._log_scale, (self, weighed))

    def share(self, pieces: Sequence[Piece]) -> Table:
        """What the pieces are expected to weigh, given the evidence so far: one value a batch entry."""
        tables, _ = self._upwards(pieces)
        last = len(tables) - 1
        weight = total(self._tree.marginal_of(tables[last], last, self._tree.cliques[last].variables[-1:]))
        return divided(weight, self._evidence)

    def _upwards(self, pieces: Sequence[Piece]) -> tuple[list[Table], set[int]]:
        """The tables with the pieces in them and in all cliques above, and those cliques."""
        tables, tree = [self._table(i) for i in self._all], self._tree
        weighed: set[int] = set()
        for scope, table in pieces:
            place = tree.place_of(scope)
            piece = tree.spread(table.transpose(place.turn), place.axes, place.clique)
            tables[place.clique] = tables[place.clique] * piece
            weighed.add(place.clique)
        for i, clique in enumerate(tree.cliques[:-1]):
            if i in weighed:
                change = divided(self._to_parent(i, tables[i]), self._separator(i))
                tables[clique.parent] = tables[clique.parent] * tree.spread(change, clique.above, clique.parent)
                weighed.add(clique.parent)
        return tables, weighed

    def _table(self, i: int) -> Table:
        """The calibrated table of a clique."""
        if i not in self._settled:
            assert self._due is not None
            before, weighed = self._due
            clique = self._tree.cliques[i]
            around = self._tree.cliques[clique.parent].variables
            down = self._tree.sum_out(self._table(clique.parent), around, clique.parent_summed)
            up = self._to_parent(i, self._tables[i]) if i in weighed else before._separator(i)
            self._tables[i] = self._tables[i] * self._tree.spread(divided(down, up), clique.kept, i)
            self._settled.add(i)
        return self._tables[i]

    def _separator(self, i: int) -> Table:
        """The weight of what a clique shares with its parent."""
        if i not in self._shared:
            self._shared[i] = self._to_parent(i, self._table(i))
        return self._shared[i]

    def _to_parent(self, i: int, table: Table) -> Table:
        clique = self._tree.cliques[i]
        return self._tree.sum_out(table, clique.variables, clique.summed)

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
        table = self._tree.marginal_of(self._table(clique), clique, tuple(bits(variables)))
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
