"""The strengths of a knowledge as numbers by themselves: read out, put back, and set out as the inputs of one effect.

A strength is the probability that one link acts, by level of its effect (lowest first); key: (effect, number of the
link or feed in its entry), number -1 = there without any link. Of a cause it is its share under a first mechanism.
"""

import dataclasses
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stripdown.knowledge.model import Finding, Knowledge, Link, State, fits
from stripdown.reasoning.network import SOUND_UNIT, Leaf, Network, Vector

Key = tuple[str, int]
Acts = NDArray[np.float64]
Strengths = Mapping[Key, Acts]
OTHERWISE = -1


def read(knowledge: Knowledge) -> dict[Key, Acts]:
    """Every strength of a knowledge."""
    out: dict[Key, Acts] = {}
    for state in knowledge.states:
        out[state.id, OTHERWISE] = np.array([state.otherwise])
        out |= {(state.id, i): np.array(link.shows) for i, link in enumerate(state.links)}
    for cause in knowledge.causes.values():
        out |= {(cause.id, i): np.array([share]) for i, (_, share, _) in enumerate(cause.feeds)}
    for finding in knowledge.findings.values():
        own = np.array(finding.otherwise)
        out[finding.id, OTHERWISE] = own
        out |= {(finding.id, i): _acts(np.array(link.shows), own) for i, link in enumerate(finding.links)}
    return out


def _acts(shows: Vector, otherwise: Vector) -> Acts:
    """What the link does beyond what is there anyway: probability of each level by the link alone."""
    at_least = 1.0 - (1.0 - _from(shows)) / (1.0 - _from(otherwise))
    return np.asarray(np.maximum(at_least - np.append(at_least[1:], 0.0), 0.0))


def shows(acts: Acts, otherwise: Acts) -> Vector:
    """Probability of each level with this link and what is there anyway."""
    own = _from(otherwise)
    at_least = own + _from(acts) * (1.0 - own)
    return np.asarray(at_least - np.append(at_least[1:], 0.0))


def _from(levels: Vector) -> Vector:
    """Probability of each level or a higher one."""
    return np.cumsum(levels[::-1])[::-1]


def put(knowledge: Knowledge, strengths: Strengths) -> Knowledge:
    """The same knowledge with these strengths; its digest still names the old one."""

    def numbers(acts: Vector) -> tuple[float, ...]:
        return tuple(float(x) for x in acts)

    def states() -> Iterator[State]:
        for s in knowledge.states:
            links = [dataclasses.replace(x, shows=numbers(strengths[s.id, i])) for i, x in enumerate(s.links)]
            own = float(strengths[s.id, OTHERWISE][0])
            yield dataclasses.replace(s, otherwise=own, links=tuple(links))

    def finding(f: Finding) -> Finding:
        own = strengths[f.id, OTHERWISE]
        links: list[Link] = [
            dataclasses.replace(x, shows=numbers(shows(strengths[f.id, i], own))) for i, x in enumerate(f.links)
        ]
        return dataclasses.replace(f, otherwise=numbers(own), links=tuple(links))

    return dataclasses.replace(
        knowledge,
        states=tuple(states()),
        findings={i: finding(f) for i, f in knowledge.findings.items()},
        causes={
            i: dataclasses.replace(
                c, feeds=tuple((m, float(strengths[i, j][0]), when) for j, (m, _, when) in enumerate(c.feeds))
            )
            for i, c in knowledge.causes.items()
        },
    )


@dataclass(frozen=True)
class Input:
    """One way an effect comes about, over the configurations of its parents.

    factor: what the strength is multiplied by in each configuration; 0 where the link cannot act.
    """

    key: Key
    acts: Acts
    factor: Vector

    def at_most(self) -> Vector:
        """P(level by this way alone at most …); shape (levels, configurations)."""
        return np.asarray(1.0 - np.append(_from(self.acts), 0.0)[:, None] * self.factor[None, :])

    def levels(self) -> Vector:
        """P(level by this way alone), none first; shape (levels, configurations)."""
        above = self.acts[:, None] * self.factor[None, :]
        return np.concatenate([1.0 - above.sum(axis=0, keepdims=True), above])


def inputs_of_state(network: Network, state: State, now: Strengths) -> tuple[list[Input], NDArray[np.bool_]]:
    """(the ways a state comes about, configurations in which they decide it: not where it is first, nor in a sound
    unit)."""
    scope = network.families[network.index[state.id]][0][:-1]
    shape = tuple(network.cards[v] for v in scope)
    decided = np.ones(shape, dtype=bool)
    decided[network.first_index["no_fault"]] = False
    if state.id in network.first_index:
        decided[network.first_index[state.id]] = False
    own = Input((state.id, OTHERWISE), now[state.id, OTHERWISE], np.ones(decided.size))
    return [own, *_links(network, state.id, state.links, scope, now)], decided.ravel()


def inputs_of_finding(network: Network, leaf: Leaf, now: Strengths) -> list[Input]:
    """The ways a finding comes about."""
    finding = leaf.finding
    shape = tuple(network.cards[v] for v in leaf.scope)
    times = np.array([finding.times.get(m, 1.0) for m in network.mechanisms])
    if not finding.on_site:
        times[network.first_index["no_fault"]] *= SOUND_UNIT
    factor = np.broadcast_to(times.reshape([-1] + [1] * (len(shape) - 1)), shape).ravel()
    own = Input((finding.id, OTHERWISE), now[finding.id, OTHERWISE], factor)
    return [own, *_links(network, finding.id, finding.links, leaf.scope, now)]


def _links(
    network: Network, effect: str, links: tuple[Link, ...], scope: tuple[int, ...], now: Strengths
) -> Iterator[Input]:
    shape = tuple(network.cards[v] for v in scope)
    for i, link in enumerate(links):
        if fits(link.when, network.context):
            active = np.broadcast_to(network.active(link, scope)[..., 0], shape)
            yield Input((effect, i), now[effect, i], active.ravel().astype(float))


def feeds_of(network: Network) -> Iterator[tuple[Key, int, float]]:
    """(key, row of the first mechanism, factor on the odds in this context) of every share of a cause that counts."""
    knowledge = network.knowledge
    for cause in knowledge.causes.values():
        rows = {m: i for i, (m, _, when) in enumerate(cause.feeds) if fits(when, network.context)}
        for mechanism, i in rows.items():
            factor = 1.0
            for adjust in knowledge.cause_adjusts:
                here = {**network.context, "mechanism": mechanism}
                if adjust.target in (cause.id, cause.liability) and fits(adjust.when, here):
                    factor *= adjust.factor
            yield (cause.id, i), network.first_index[mechanism], factor
