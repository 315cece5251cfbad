"""Whether the numbers of one limit make sense together: tiers one inside the other, no length below nothing."""

from collections.abc import Iterator
from itertools import pairwise

from stripdown.limits.sheet import RULES, Limit

_NEVER_NEGATIVE = frozenset(
    {"resistance", "voltage", "current", "length", "torque", "acid number", "moisture", "frequency of starts"}
)
_ORDER = ("notice", "limit", "danger")


def contradictions(limit: Limit) -> Iterator[tuple[str, str]]:
    """What is wrong and what would be right, for everything that contradicts itself."""
    tiers = sorted(limit.tiers, key=lambda t: _ORDER.index(t.name))
    highs = [(t.name, t.high) for t in tiers if t.high is not None]
    lows = [(t.name, -t.low) for t in tiers if t.low is not None]
    for side in (highs, lows):
        for (inner, near), (outer, far) in pairwise(side):
            if far < near:
                yield f"{outer} is passed before {inner}", "put notice inside limit, and limit inside danger"
    edges = (*limit.edges, *(v for v in limit.doubtful if v is not None))
    if RULES[limit.rule][1] in _NEVER_NEGATIVE and any(edge < 0 for edge in edges):
        yield "holds a number below 0", "write what the maker states, 0 or more"
    yield from _doubtful(limit)


def _doubtful(limit: Limit) -> Iterator[tuple[str, str]]:
    """A doubtful band goes from the limit inward or outward, on the side where there is a limit."""
    low, high = limit.limits
    for side, edge, doubt in (("low", low, limit.doubtful[0]), ("high", high, limit.doubtful[1])):
        if doubt is not None and edge is None:
            yield f"doubtful {side} stands without a limit {side}", f"write limit = {{{side} = …}}, or take it out"
