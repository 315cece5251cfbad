"""What a finding says of the variables it hangs on."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from stripdown.knowledge.model import Finding, Knowledge
from stripdown.reasoning.network import Leaf, Network, Vector
from stripdown.reasoning.tables import Table

Likelihoods = Mapping[str, Vector]
"""Finding id → likelihood of each level, none first; shape (levels,) or (levels, batch)."""
FAILED_WHEN = "history.failed_when"


def leaf_of(network: Network, finding: str) -> Leaf:
    """The leaf of a finding, or of when the machine failed."""
    return _failed_when(network.knowledge) if finding == FAILED_WHEN else network.leaf(finding)


def leaves_of(networks: Sequence[Network], finding: str) -> Iterator[tuple[Network, Leaf, slice | list[int]]]:
    """The leaves of a finding in some networks: a network that it stands in, and the batch entries it holds for."""
    distinct = {id(n): n for n in networks}
    leaves = {key: leaf_of(n, finding) for key, n in distinct.items()}
    tables = {id(leaf.table): (distinct[key], leaf) for key, leaf in leaves.items()}
    if len(tables) == 1:
        yield *next(iter(tables.values())), slice(None)
        return
    for table, (network, leaf) in tables.items():
        yield network, leaf, [j for j, n in enumerate(networks) if id(leaves[id(n)].table) == table]


@dataclass(frozen=True, slots=True)
class Rows:
    """The levels of findings that hang on the same variables, one a row, for some entries of a batch."""

    scope: tuple[int, ...]
    columns: slice | list[int]
    places: list[int]
    """Which of the findings asked for each row belongs to."""
    levels: list[int]
    """Which level of it."""
    table: Vector
    """P(level | values of `scope`), shape (rows, mechanisms, other values)."""


def rows_of(networks: Sequence[Network], findings: Sequence[str]) -> list[Rows]:
    """The tables of findings, those of one scope that are the same for all networks together."""
    common: dict[tuple[int, ...], list[tuple[int, Leaf]]] = {}
    out = []
    for place, finding in enumerate(findings):
        for network, leaf, columns in leaves_of(networks, finding):
            if isinstance(columns, slice):
                common.setdefault(leaf.scope, []).append((place, leaf))
            else:
                out.append(_rows(network, columns, [(place, leaf)]))
    return out + [_rows(networks[0], slice(None), leaves) for leaves in common.values()]


def _rows(network: Network, columns: slice | list[int], leaves: Sequence[tuple[int, Leaf]]) -> Rows:
    def stacked() -> Vector:
        return np.concatenate([x.table.reshape(len(x.table), x.table.shape[1], -1) for _, x in leaves])

    table = network.shared(("rows", *(id(leaf.table) for _, leaf in leaves)), stacked)
    places = [place for place, leaf in leaves for _ in leaf.table]
    levels = [level for _, leaf in leaves for level in range(len(leaf.table))]
    return Rows(leaves[0][1].scope, columns, places, levels, table)


@lru_cache(maxsize=8)
def _failed_when(knowledge: Knowledge) -> Leaf:
    when = knowledge.failed_when
    table = np.array([when.by.get(m, when.any) for m in knowledge.mechanisms]).T[:, :, None]
    return Leaf(Finding(FAILED_WHEN, when.STATES[1:], (), (), {}, True), (0,), table)


def observed(leaf: Leaf, likelihood: Vector) -> Table:
    """Probability of what was observed, over the variables the leaf hangs on (batch last)."""
    rows = likelihood if likelihood.ndim == 2 else likelihood[:, None]
    out: Table = rows[0] * leaf.table[0]
    for row, level in zip(rows[1:], leaf.table[1:], strict=True):
        out = out + row * level
    return out
