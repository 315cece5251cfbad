"""What a finding says of the variables it hangs on."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import lru_cache
from itertools import chain

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


Groups = Sequence[tuple[Network, list[int]]]
"""Each network of a batch once, and the batch entries that it is asked for."""


def grouped(networks: Iterable[Network]) -> Groups:
    """The entries of a batch by their networks."""
    groups: dict[int, tuple[Network, list[int]]] = {}
    for j, network in enumerate(networks):
        groups.setdefault(id(network), (network, []))[1].append(j)
    return list(groups.values())


def leaves_of(groups: Groups, finding: str) -> Iterator[tuple[Network, Leaf, slice | list[int]]]:
    """The leaves of a finding in a batch: a network that it stands in, and the batch entries it holds for."""
    tables: dict[int, tuple[Network, Leaf, list[list[int]]]] = {}
    for network, entries in groups:
        leaf = leaf_of(network, finding)
        tables.setdefault(id(leaf.table), (network, leaf, []))[2].append(entries)
    for network, leaf, parts in tables.values():
        yield network, leaf, slice(None) if len(tables) == 1 else list(chain.from_iterable(parts))


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
