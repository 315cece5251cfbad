"""Scopes → cliques that hang together as a tree. Sets of variables are bit masks."""

import math
from collections.abc import Iterable, Iterator


def mask(variables: Iterable[int]) -> int:
    """A set of variables."""
    return sum(1 << v for v in variables)


def bits(of: int) -> Iterator[int]:
    """The variables of a set, ascending."""
    while of:
        low = of & -of
        yield low.bit_length() - 1
        of ^= low


def triangulate(
    cards: tuple[int, ...], scopes: Iterable[tuple[int, ...]], root: tuple[int, ...]
) -> tuple[list[int], list[int]]:
    """(cliques such that every scope lies in one, parent of each): children before parents, the root with parent -1
    last, in which the root variables lie."""
    cliques, parents = _tree_of(*_eliminate(cards, [*scopes, root], mask(root)))
    order = _children_first(parents)
    position = {old: new for new, old in enumerate(order)} | {-1: -1}
    return [cliques[i] for i in order], [position[parents[i]] for i in order]


def _eliminate(cards: tuple[int, ...], scopes: list[tuple[int, ...]], root: int) -> tuple[list[int], list[int]]:
    """(variables in the order of elimination, clique of each as a bit mask): the variable that adds the fewest links
    goes first, the smaller table where equal; root variables last."""
    near: dict[int, int] = {}
    for scope in scopes:
        whole = mask(scope)
        for v in scope:
            near[v] = near.get(v, 0) | whole
    worth = {v: _worth(v, near, cards) for v in near}
    order, cliques = [], []
    while near:
        free = [v for v in near if not root >> v & 1] or list(near)
        best = min(free, key=worth.__getitem__)
        around = near.pop(best)
        order.append(best)
        cliques.append(around)
        rest = around & ~(1 << best)
        touched = 0
        for u in bits(rest):
            near[u] = (near[u] | rest) & ~(1 << best)
            touched |= near[u]
        for u in bits(touched):
            worth[u] = _worth(u, near, cards)
    return order, cliques


def _worth(v: int, near: dict[int, int], cards: tuple[int, ...]) -> tuple[int, int, int]:
    around = near[v]
    members = list(bits(around))
    missing = sum((around & ~near[u]).bit_count() for u in members)
    return missing, math.prod(cards[u] for u in members), v


def _tree_of(order: list[int], cliques: list[int]) -> tuple[list[int], list[int]]:
    """(cliques that lie in no other, parent of each): a clique hangs on that of the next of its variables to go."""
    place = {v: i for i, v in enumerate(order)}
    parents = [min((place[u] for u in bits(c) if u != v), default=-1) for v, c in zip(order, cliques, strict=True)]
    last = len(order) - 1
    parents = [last if p < 0 and i != last else p for i, p in enumerate(parents)]
    into = list(range(len(order)))
    for child, parent in enumerate(parents):
        if parent >= 0 and into[parent] == parent and cliques[parent] & ~cliques[into[child]] == 0:
            into[parent] = into[child]
    kept = [i for i in range(len(order)) if into[i] == i]
    new = {old: i for i, old in enumerate(kept)}
    found = []
    for i in kept:
        top = i
        while parents[top] >= 0 and into[parents[top]] == i:
            top = parents[top]
        found.append(-1 if parents[top] < 0 else new[into[parents[top]]])
    return [cliques[i] for i in kept], found


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
