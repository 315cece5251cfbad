"""The most probable path from cause to failed part, by the posterior of links having acted."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import reduce

import numpy as np

from stripdown import vocabulary
from stripdown.knowledge.model import Knowledge, Link, fits
from stripdown.reasoning.infer import Posterior
from stripdown.reasoning.model import Evidence, Step
from stripdown.reasoning.network import Leaf, Network, Vector
from stripdown.reasoning.rows import expected

LIKELY_STATE = 0.5
NAMED_CAUSE = 0.15
UNEXPLAINED_FROM = 0.5


def acted(
    network: Network,
    links: Sequence[Link],
    own: float,
    scope: tuple[int, ...],
    weight: np.ndarray,
) -> tuple[list[float], float]:
    """P(each link acted), P(none did, only the rate of its own), for an effect that is there.

    `weight`: P(values of `scope`, effect there | findings), batch dropped; links are noisy-OR with chance `shows` at
    the lowest level.
    """
    every = float(weight.sum())
    if every <= 0.0:
        return [0.0] * len(links), 1.0
    *shares, alone = (float((weight * p).sum()) / every for p in _responsible(network, links, own, scope)[..., 0])
    return shares, alone


def _responsible(network: Network, links: Sequence[Link], own: float, scope: tuple[int, ...]) -> Vector:
    """P(each link acted), then P(none did), where the effect is there, for the values of `scope`; batch of one."""
    shape = (*(network.cards[v] for v in scope), 1)
    chances = [np.broadcast_to(np.where(network.active(x, scope), x.shows[0], 0.0), shape) for x in links]
    no_link = reduce(np.multiply, [1.0 - c for c in chances], np.ones(shape))
    there = 1.0 - (1.0 - own) * no_link
    safe = np.where(there > 0.0, there, 1.0)
    return np.stack([*(c / safe for c in chances), np.where(there > 0.0, own * no_link / safe, 1.0)])


def _finding_links(network: Network, posterior: Posterior, finding: str) -> tuple[list[tuple[Link, float]], float]:
    """Links of a finding that is there with P(acted), and P(only its own rate)."""
    leaf = network.leaf(finding)
    chances, own = _chances(network, leaf)
    belief = posterior.marginal(*leaf.scope)[..., 0]
    shares, alone = acted(network, chances, own, leaf.scope, belief)
    return list(zip(chances, shares, strict=True)), alone


def _chances(network: Network, leaf: Leaf) -> tuple[list[Link], float]:
    """(the links of a finding in this context, each with its chance to show it at all; its own rate)."""
    own = sum(leaf.finding.otherwise)
    links = [x for x in leaf.finding.links if fits(x.when, network.context)]
    return [replace(x, shows=(1.0 - (1.0 - sum(x.shows)) / (1.0 - own),)) for x in links], own


def unexplained(posterior: Posterior, evidences: Sequence[Evidence]) -> list[tuple[str, ...]]:
    """For each record of a batch the findings that are there although nothing at work brings them about."""
    there = [sorted(e.stated & set(posterior.network.knowledge.findings)) for e in evidences]
    findings = sorted({f for some in there for f in some})
    if not findings:
        return [() for _ in there]
    row = {f: i for i, f in enumerate(findings)}
    own = expected(posterior, findings, range(len(findings) + 1), _alone)
    own[:, np.isneginf(posterior.log_evidence)] = 1.0
    return [tuple(f for f in some if own[row[f], j] >= UNEXPLAINED_FROM) for j, some in enumerate(there)]


def _alone(network: Network, leaf: Leaf) -> Vector:
    """P(nothing but its own rate brought a finding about that is there), for the values of what it hangs on."""
    return _responsible(network, *_chances(network, leaf), leaf.scope)[-1:]


def chain(network: Network, knowledge: Knowledge, posterior: Posterior, evidence: Evidence) -> tuple[Step, ...]:
    """Cause → first mechanism → states → what is seen; the deepest path of states that are likelier than not."""
    headline = network.mechanisms[int(np.argmax(posterior.first[:, 0]))]
    steps = []
    given = {c: float(posterior.given_first(c, headline)[0]) for c in network.causes}
    cause = max(given, key=lambda c: (given[c], c))
    if given[cause] >= NAMED_CAUSE:
        steps.append(_step(cause, given[cause] * float(posterior.first[network.first_index[headline], 0]), False))
    steps.append(_step(headline, float(posterior.first[network.first_index[headline], 0]), False))
    seen_of = _seen_by_state(network, posterior, evidence, headline)
    for node in _path(network, knowledge, posterior, headline, seen_of):
        if node != headline:
            p = float(posterior.states[node][0])
            steps.append(_step(node, p, False))
        if node in seen_of:
            steps.append(_step(seen_of[node], 1.0, True))
    return tuple(steps)


def _step(node: str, probability: float, seen: bool) -> Step:
    return Step(node, vocabulary.words(node), probability, seen)


def _seen_by_state(network: Network, posterior: Posterior, evidence: Evidence, headline: str) -> dict[str, str]:
    """State or headline → the finding that it explains best."""
    best: dict[str, tuple[float, str]] = {}
    for finding in sorted(evidence.stated & set(network.knowledge.findings)):
        shares, _ = _finding_links(network, posterior, finding)
        for link, share in shares:
            node = _state_of(link, network, headline)
            if node is not None and share >= LIKELY_STATE and share > best.get(node, (0.0, ""))[0]:
                best[node] = (share, finding)
    return {node: finding for node, (_, finding) in best.items()}


def _state_of(link: Link, network: Network, headline: str) -> str | None:
    """The last state among a link's parents (the nearest to the finding), or the headline itself; causes do not
    count."""
    bare = [p.removesuffix("!") for p in link.parents]
    states = [p for p in bare if p in network.states]
    if states:
        return max(states, key=network.states.index)
    return headline if headline in bare else None


def _path(
    network: Network, knowledge: Knowledge, posterior: Posterior, headline: str, seen: Mapping[str, str]
) -> list[str]:
    """The path of states from the headline whose end is seen and farthest, each step likelier than not to have
    acted."""
    paths: dict[str, list[str]] = {headline: [headline]}
    worth: dict[str, float] = {headline: 1.0}
    for state in knowledge.states:
        if state.id == headline or float(posterior.states[state.id][0]) < LIKELY_STATE:
            continue
        links = [x for x in state.links if fits(x.when, network.context)]
        scope = network.family(network.index[state.id])[0][:-1]
        belief = posterior.marginal(*scope, network.index[state.id])[..., 1, 0]
        shares, _ = acted(network, links, state.otherwise, scope, belief)
        for link, share in zip(links, shares, strict=True):
            for parent in (p.removesuffix("!") for p in link.parents):
                if parent in paths and share * worth[parent] > worth.get(state.id, 0.0):
                    worth[state.id] = share * worth[parent]
                    paths[state.id] = [*paths[parent], state.id]
    ends = [s for s in paths if s in seen and worth[s] >= 0.25] or [headline]
    best = max(ends, key=lambda s: (len(paths[s]), worth[s], s))
    return paths[best]
