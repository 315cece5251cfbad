"""Records drawn from a network, and the teardown that saw a part of each: shared by the benchmarks here.

Nothing here is a test, and nothing here knows more of the world than the knowledge does.
"""

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stripdown.knowledge.model import HOUR_BANDS, Knowledge, Link, Step
from stripdown.reasoning import conflict
from stripdown.reasoning.infer import FAILED_WHEN, leaf_of
from stripdown.reasoning.network import Network, context_of

Generator = np.random.Generator

CONTEXT_SHARES: Mapping[str, Mapping[str, float]] = {
    "cooling": {"refrigerant": 0.7, "air": 0.2, "unknown": 0.1},
    "motor": {"star": 0.4, "delta": 0.15, "part_winding": 0.3, "single_phase": 0.03, "unknown": 0.12},
    "oil_feed": {"pump": 0.75, "splash": 0.15, "unknown": 0.1},
    "duty": {"low": 0.3, "medium": 0.4, "high": 0.15, "unknown": 0.15},
    "inverter": {"yes": 0.1, "no": 0.6, "unknown": 0.3},
    "opened_before": {"never": 0.5, "site": 0.05, "workshop": 0.15, "unknown": 0.3},
    "replaced": {"yes": 0.2, "unknown": 0.8},
    "hours": dict.fromkeys((*(band for _, band in HOUR_BANDS), "40000-"), 0.16) | {"unknown": 0.2},
}
"""What machines come back: invented for the simulation."""

DONE = {
    "site_history": 0.85,
    "terminal_box": 0.85,
    "winding_resistance": 0.9,
    "insulation": 0.95,
    "sensors": 0.6,
    "leads": 0.4,
    "pump_test": 0.35,
    "oil_drain": 0.8,
    "strainer": 0.6,
    "heads": 0.8,
    "valve_plate": 0.95,
    "pump_end": 0.65,
    "turn_crank": 0.7,
    "cylinders": 0.85,
    "bottom": 0.65,
    "motor_end": 0.7,
    "layout": 0.6,
}
"""How often a step of the teardown is done once the steps before it are: invented for the simulation."""
NOTED = 0.6
"""Share of what a step shows that the person writes down, sound or not."""
NOTED_AT_SITE = 0.3


@dataclass(frozen=True)
class Records:
    """Drawn records of one context: values of the variables, levels of all findings, and which were looked at."""

    network: Network
    """The network the program judges with; the records may have been drawn from another one."""
    values: Mapping[int, NDArray[np.int64]]
    levels: Mapping[str, NDArray[np.int64]]
    looked: Mapping[str, NDArray[np.bool_]]

    @property
    def first(self) -> NDArray[np.int64]:
        """Row of the true first mechanism."""
        return self.values[0]

    def likelihoods(self) -> dict[str, NDArray[np.float64]]:
        """Findings as the reasoning takes them in; ones where nothing was looked at."""
        out = {}
        for finding, levels in self.levels.items():
            table = np.eye(len(leaf_of(self.network, finding).table))[:, levels]
            out[finding] = np.where(self.looked[finding][None, :], table, 1.0)
        return out


def context(random: Generator) -> dict[str, str]:
    """One context as machines come back."""
    return context_of(**{k: str(random.choice(list(p), p=list(p.values()))) for k, p in CONTEXT_SHARES.items()})


def findings_of(knowledge: Knowledge, step: Step) -> list[str]:
    """What a step of the teardown shows."""
    return [f for f in knowledge.findings if f.split(".")[0] in step.parts or f in step.readings]


def teardown(knowledge: Knowledge, number: int, random: Generator) -> dict[str, NDArray[np.bool_]]:
    """Finding → whether each record looked at it: steps done in order, and in each a part of what it shows is noted."""
    done: dict[str, NDArray[np.bool_]] = {}
    looked = {FAILED_WHEN: random.random(number) < 0.7}
    for step in knowledge.steps:
        done[step.id] = random.random(number) < DONE[step.id]
        for before in step.after:
            done[step.id] &= done[before]
        noted = NOTED_AT_SITE if step.id == "site_history" else NOTED
        for finding in findings_of(knowledge, step):
            looked[finding] = done[step.id] & (random.random(number) < noted)
    return looked


def draw(true: Network, judged_by: Network, number: int, seed: int) -> Records:
    """So many records of the true network, torn down as people do."""
    random = np.random.default_rng(seed)
    knowledge = judged_by.knowledge
    looked = teardown(knowledge, number, random)
    values, levels = conflict.simulate(true, list(looked), number, seed)
    return Records(judged_by, values, levels, looked)


def impossible(knowledge: Knowledge, levels: Mapping[str, NDArray[np.int64]]) -> NDArray[np.bool_]:
    """Which of many records state what no machine shows together: the small rates of a network meet there now and
    then."""
    stated = np.zeros(len(next(iter(levels.values()))), dtype=bool)
    for exclusion in knowledge.exclusions:
        if set(exclusion.findings) <= set(levels) and not exclusion.everywhere:
            parts = [levels[f] >= least if least else levels[f] == 0 for f, least in exclusion.findings.items()]
            parts += [levels[f] == 0 for f in exclusion.unless & set(levels)]
            stated |= np.logical_and.reduce(parts)
    return stated


def without_some_links(knowledge: Knowledge, share: float, random: Generator) -> Knowledge:
    """The same knowledge with that share of its links struck out."""

    def kept(links: tuple[Link, ...]) -> tuple[Link, ...]:
        return tuple(link for link in links if random.random() >= share)

    return dataclasses.replace(
        knowledge,
        states=tuple(dataclasses.replace(s, links=kept(s.links)) for s in knowledge.states),
        findings={i: dataclasses.replace(f, links=kept(f.links)) for i, f in knowledge.findings.items()},
    )
