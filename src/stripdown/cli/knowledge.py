"""What `check --knowledge` prints: what the knowledge holds, how large its network is, how strong each link."""

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from stripdown.knowledge import Knowledge
    from stripdown.reasoning.network import Network, Vector

STRENGTHS = ((30.0, "S"), (5.0, "M"), (2.0, "W"), (0.5, "-"), (0.2, "w"), (1 / 30, "m"), (0.0, "s"))
"""Smallest likelihood ratio of each letter: for (capital) and against (small)."""


def report(own: Path | None) -> Iterator[str]:
    """The lines for the shipped knowledge with `own` laid over it; raises KnowledgeError with every problem."""
    from stripdown.knowledge import load

    knowledge = load(own)
    yield f"knowledge {knowledge.digest}"
    links = list(_links(knowledge))
    yield (
        f"{len(knowledge.mechanisms)} mechanisms, {len(knowledge.causes)} causes, {len(knowledge.states)} states, "
        f"{len(knowledge.findings)} findings, {len(links)} links: no fault"
    )
    yield _tree(knowledge)
    yield "what a state says at most for the first mechanism that brings it most (1 / share x chance of the others)"
    yield from _caps(knowledge)
    yield "what no machine shows together: the findings, how often a record states them all the same"
    for exclusion in knowledge.exclusions:
        findings = (f + " at every cylinder" * (f in exclusion.everywhere) for f in exclusion.findings)
        unless = f", unless {' or '.join(sorted(exclusion.unless))}" if exclusion.unless else ""
        yield f"{' + '.join(findings)}{unless}: {exclusion.rate:.3g}; {exclusion.why}"
    yield "effect <- parents: shows with them, otherwise, ratio, strength"
    for effect, parents, shows, otherwise in links:
        ratio = shows / otherwise if otherwise else float("inf")
        yield f"{effect} <- {' + '.join(parents)}: {shows:.3g}, {otherwise:.3g}, {ratio:.3g} {strength(ratio)}"


def strength(ratio: float) -> str:
    """The letter of a likelihood ratio."""
    return next(letter for least, letter in STRENGTHS if ratio >= least)


def _tree(knowledge: "Knowledge") -> str:
    from stripdown.reasoning.junction import JunctionTree
    from stripdown.reasoning.network import Network, context_of

    network = Network(knowledge, context_of())
    scopes = [scope for scope, _ in network.families.values()]
    scopes += [network.leaf(finding).scope for finding in knowledge.findings]
    tree = JunctionTree(network.cards, scopes, root=(0,))
    return f"junction tree of everything at once: {tree.size} entries, width {tree.width}"


def _caps(knowledge: "Knowledge") -> Iterator[str]:
    """Of each state the mechanism that brings it most often, and the largest ratio its findings can have for that."""
    from stripdown.reasoning.infer import everything
    from stripdown.reasoning.network import Network, context_of

    network = Network(knowledge, context_of(duty="medium"))
    nothing = everything(network, {})
    for state in network.states:
        joint = nothing.marginal(0, network.index[state])[:, 1, 0]
        most = max(network.mechanisms, key=lambda m: _chance(joint, network, m))
        others = float(joint.sum() - joint[network.first_index[most]])
        yield f"{state}: {most}, at most {1 / others:.3g} {strength(1 / others)}"


def _chance(joint: "Vector", network: "Network", mechanism: str) -> float:
    """P(state | first = mechanism); 0 for a mechanism that the machine excludes."""
    place = network.first_index[mechanism]
    share = float(network.prior[place])
    return float(joint[place]) / share if share else 0.0


def _links(knowledge: "Knowledge") -> Iterator[tuple[str, tuple[str, ...], float, float]]:
    """Effect, parents, probability with them and without any, of every link."""
    for state in knowledge.states:
        for link in state.links:
            yield state.id, link.parents, sum(link.shows), state.otherwise
    for finding in knowledge.findings.values():
        for link in finding.links:
            yield finding.id, link.parents, sum(link.shows), sum(finding.otherwise)
