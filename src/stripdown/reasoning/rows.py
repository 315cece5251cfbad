"""What is expected of many findings at once: findings that hang on the same variables are weighed together."""

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from stripdown.knowledge.model import Knowledge
from stripdown.reasoning.infer import Posterior
from stripdown.reasoning.leaves import Groups, leaves_of
from stripdown.reasoning.network import Leaf, Network, Vector

Made = Callable[[Network, Leaf], Vector]
"""What to expect of a finding, for the values of what it hangs on: shape (rows, mechanisms, …, 1)."""


def by_level(network: Network, leaf: Leaf) -> Vector:
    """P(level | values of the scope), a row a level."""
    return leaf.table


def level_starts(knowledge: Knowledge, findings: Sequence[str]) -> tuple[int, ...]:
    """The row of the first level of each finding, all levels one after the other, and one past the last."""
    return tuple(itertools.accumulate((len(knowledge.findings[f].levels) + 1 for f in findings), initial=0))


def expected(posterior: Posterior, findings: Sequence[str], starts: Sequence[int], made: Made = by_level) -> Vector:
    """The expectation of each row given what is known, shape (rows of all findings, batch)."""
    out = np.empty((starts[-1], len(posterior.asked)))
    for rows in _rows_of(posterior.groups, findings, made):
        joint = _joint(posterior, rows)
        table = rows.table.reshape(len(rows.table), -1)
        _put(out, starts, rows, _weighed("rk,kb->rb", table, joint.reshape(-1, joint.shape[-1])))
    return out


def by_first(posterior: Posterior, findings: Sequence[str], starts: Sequence[int]) -> Vector:
    """P(level, first | what is known), shape (levels of all findings, mechanisms, batch)."""
    out = np.empty((starts[-1], len(posterior.network.mechanisms), len(posterior.asked)))
    for rows in _rows_of(posterior.groups, findings, by_level):
        _put(out, starts, rows, _weighed("rms,msb->rmb", rows.table, _joint(posterior, rows)))
    return out


@dataclass(frozen=True, slots=True)
class _Rows:
    """Rows of findings that hang on the same variables, for some entries of a batch."""

    scope: tuple[int, ...]
    columns: slice | list[int]
    places: list[tuple[int, int]]
    """Which of the findings asked for each row belongs to, and which of its rows it is."""
    table: Vector
    """Shape (rows, mechanisms, other values)."""


def _rows_of(groups: Groups, findings: Sequence[str], made: Made) -> list[_Rows]:
    """The rows of findings in a batch, those of one scope that are the same for all networks together."""
    common: dict[tuple[int, ...], list[tuple[int, Leaf]]] = {}
    out = []
    for place, finding in enumerate(findings):
        for network, leaf, columns in leaves_of(groups, finding):
            if isinstance(columns, slice):
                common.setdefault(leaf.scope, []).append((place, leaf))
            else:
                out.append(_rows(network, columns, [(place, leaf)], made))
    return out + [_rows(groups[0][0], slice(None), leaves, made) for leaves in common.values()]


def _rows(network: Network, columns: slice | list[int], leaves: Sequence[tuple[int, Leaf]], made: Made) -> _Rows:
    def stacked() -> tuple[Vector, list[int]]:
        tables = [made(network, leaf) for _, leaf in leaves]
        return np.concatenate([t.reshape(len(t), t.shape[1], -1) for t in tables]), [len(t) for t in tables]

    table, heights = network.shared((made, *(id(leaf.table) for _, leaf in leaves)), stacked)
    places = [(place, row) for (place, _), height in zip(leaves, heights, strict=True) for row in range(height)]
    return _Rows(leaves[0][1].scope, columns, places, table)


def _put(into: Vector, starts: Sequence[int], rows: _Rows, values: Vector) -> None:
    """Put values (rows first, batch last) where they belong among the rows of all findings."""
    places = [starts[place] + row for place, row in rows.places]
    if isinstance(rows.columns, slice):
        into[places] = values
    else:
        block = into[places]
        block[..., rows.columns] = values
        into[places] = block


def _joint(posterior: Posterior, rows: _Rows) -> Vector:
    """P(values of the scope | what is known), shape (mechanisms, other values, batch)."""
    joint = posterior.marginal(*rows.scope)[..., rows.columns]
    return np.ascontiguousarray(joint).reshape(joint.shape[0], -1, joint.shape[-1])


def _weighed(how: str, table: Vector, joint: Vector) -> Vector:
    """A sum of products, one batch entry as among many: numpy adds a single column in another order."""
    if joint.shape[-1] > 1:
        return np.asarray(np.einsum(how, table, joint))
    return np.asarray(np.einsum(how, table, np.repeat(joint, 2, axis=-1))[..., :1])
