"""What a finding says of the variables it hangs on."""

from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache

import numpy as np

from stripdown.knowledge.model import Finding, Knowledge
from stripdown.reasoning.junction import Table
from stripdown.reasoning.network import Leaf, Network, Vector

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
