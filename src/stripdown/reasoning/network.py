"""Knowledge in one context → the tables of a Bayesian network.

Variable 0 is `first`; then the states in the order of the knowledge, then the causes; all but `first` are yes/no.
Findings are leaves: they never become variables, their evidence is a table over the variables they hang on.
"""

import itertools
import zlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from stripdown.knowledge.model import CONTEXT, Finding, Knowledge, Link, State, fits
from stripdown.reasoning.tables import Table

Context = Mapping[str, str]
Vector = NDArray[np.float64]
Family = tuple[tuple[int, ...], Table]
Made = TypeVar("Made")
SOUND_UNIT = 0.1
"""How often a sound compressor shows something wrong inside, against a faulty one that shows it without reason."""


@dataclass(frozen=True)
class Leaf:
    """A finding in a context: the variables it hangs on and the probability of each level (none first) for their
    values."""

    finding: Finding
    scope: tuple[int, ...]
    table: Table
    """Axes: level, then the variables of `scope`, then batch."""


def context_of(**given: str) -> dict[str, str]:
    """A full context, 'unknown' where nothing is given; raises ValueError for a key or value that does not exist."""
    context = dict.fromkeys(CONTEXT, "unknown")
    for key, value in given.items():
        if value not in CONTEXT.get(key, ()):
            raise ValueError(f"{key} = {value}")
        context[key] = value
    return context


class Network:
    """The network of one context. With `shake` (standard deviation of the shifts in log odds, number of networks,
    seed) every table holds that many networks along its batch axis, each with its own link strengths."""

    def __init__(
        self,
        knowledge: Knowledge,
        context: Context,
        *,
        rebuilder: bool = False,
        shake: tuple[float, int, int] | None = None,
    ) -> None:
        self.knowledge = knowledge
        self.context = dict(context)
        self.rebuilder = rebuilder
        self.mechanisms = knowledge.mechanisms
        self.states = tuple(s.id for s in knowledge.states)
        self.causes = tuple(knowledge.causes)
        self.names = ("first", *self.states, *self.causes)
        self.index = {name: i for i, name in enumerate(self.names)}
        self.cards = (len(self.mechanisms), *([2] * (len(self.names) - 1)))
        self.prior = prior(knowledge, context, rebuilder=rebuilder)
        self._shake = shake
        self._shared = _shared(knowledge, shake)
        self._families: dict[int, Family] = {}
        self._leaves: dict[str, Leaf] = {}
        self.memo: dict[str, Any] = {}
        """Room for what other modules work out once a network."""

    @property
    def families(self) -> Mapping[int, Family]:
        """Variable → (its scope, itself last; P(it | the rest of the scope)), of all but `first`."""
        return {v: self.family(v) for v in range(1, len(self.names))}

    def family(self, variable: int) -> Family:
        """The scope of a state or cause, itself last, and P(it | the rest of the scope)."""
        if variable not in self._families:
            name = self.names[variable]
            if variable <= len(self.states):
                state = self.knowledge.states[variable - 1]
                self._families[variable] = self._shared.of(name, self.context, self._state_family, state)
            else:
                yes = self._noise(name)(self._cause_shares[name][:, None])
                self._families[variable] = (0, variable), _laid(np.stack([1.0 - yes, yes], axis=1), 0)
        return self._families[variable]

    @cached_property
    def _cause_shares(self) -> dict[str, Vector]:
        return cause_shares(self.knowledge, self.context)

    def shared(self, key: tuple[Any, ...], make: Callable[[], Made]) -> Made:
        """Something worked out from the states alone: once for all contexts in which they are linked alike."""
        return self._shared.once((*key, *self._shared.alike(self.context)), make)

    def get_ready(self) -> None:
        """Make the tables of every context now, so that a process that is forked from this one need not."""
        for context in self._shared.contexts:
            other = Network(self.knowledge, context, shake=self._shake)
            for finding in self.knowledge.findings:
                other.leaf(finding)
            for variable in range(1, len(self.states) + 1):
                other.family(variable)

    def _noise(self, name: str) -> "_Noise":
        """Shifts of one effect: the same whatever was asked of the network before."""
        return _Noise(self._shake, name)

    @cached_property
    def first_index(self) -> dict[str, int]:
        """Mechanism id → its value of `first`."""
        return {m: i for i, m in enumerate(self.mechanisms)}

    def leaf(self, finding: str) -> Leaf:
        """The leaf of a finding; raises KeyError for a finding that the knowledge does not hold."""
        if finding not in self._leaves:
            wanted = self.knowledge.findings[finding]
            self._leaves[finding] = self._shared.of(finding, self.context, self._make_leaf, wanted)
        return self._leaves[finding]

    def ancestors(self, variables: Sequence[int]) -> set[int]:
        """`variables` and all that stand above them, `first` aside."""
        found: set[int] = set()
        todo = [v for v in variables if v]
        while todo:
            v = todo.pop()
            if v not in found:
                found.add(v)
                todo.extend(u for u in self.family(v)[0] if u and u != v)
        return found

    def _parents(self, links: Sequence[Link]) -> tuple[int, ...]:
        return tuple(sorted({self.index[p] for link in links for p in link.parents if not p.endswith("!")}))

    def active(self, link: Link, scope: tuple[int, ...]) -> NDArray[np.bool_]:
        """Where all parents of a link are there, over the axes of `scope` (batch axis added)."""
        shape = tuple(self.cards[v] for v in scope)
        active = np.ones((*([1] * len(shape)), 1), dtype=bool)
        for parent in link.parents:
            axis, on = self._indicator(parent)
            where = scope.index(axis)
            active = active & on.reshape([-1 if i == where else 1 for i in range(len(shape))] + [1])
        return active

    def _indicator(self, parent: str) -> tuple[int, NDArray[np.bool_]]:
        if parent.endswith("!"):
            on = np.zeros(len(self.mechanisms), dtype=bool)
            on[self.first_index[parent.removesuffix("!")]] = True
            return 0, on
        return self.index[parent], np.array([False, True])

    def _state_family(self, state: State) -> Family:
        links = [link for link in state.links if fits(link.when, self.context)]
        node = self.index[state.id]
        scope = (0, *self._parents(links))
        noise = self._noise(state.id)
        absent = np.broadcast_to(1.0 - noise(state.otherwise), (*(self.cards[v] for v in scope), noise.size)).copy()
        for link in links:
            absent = absent * np.where(self.active(link, scope), 1.0 - noise(link.shows[0]), 1.0)
        absent[self.first_index["no_fault"]] = 1.0
        if state.id in self.first_index:
            absent[self.first_index[state.id]] = 0.0
        return (*scope, node), _laid(np.stack([absent, 1.0 - absent], axis=len(scope)), 0)

    def _make_leaf(self, finding: Finding) -> Leaf:
        links = [link for link in finding.links if fits(link.when, self.context)]
        scope = (0, *self._parents(links))
        shape = tuple(self.cards[v] for v in scope)
        times = np.array([finding.times.get(m, 1.0) for m in self.mechanisms])
        if not finding.on_site:
            times[self.first_index["no_fault"]] *= SOUND_UNIT
        noise = self._noise(finding.id)
        own = noise.draw()
        shifts = [noise.draw() for _ in links]
        at_most = []
        for level in range(len(finding.levels)):
            above = sum(finding.otherwise[level:])
            leak = noise.shift(above, own) * times.reshape([-1] + [1] * len(shape))
            cumulative = np.broadcast_to(1.0 - np.minimum(leak, 1.0), (*shape, noise.size)).copy()
            for link, shift in zip(links, shifts, strict=True):
                acts = 1.0 - (1.0 - sum(link.shows[level:])) / (1.0 - above)
                cumulative = cumulative * np.where(self.active(link, scope), 1.0 - noise.shift(acts, shift), 1.0)
            at_most.append(cumulative)
        at_most.append(np.ones_like(at_most[0]))
        # A shift in log odds can bring a grade below the one above it: no grade then comes out less often than never.
        at_most = [*itertools.accumulate(reversed(at_most), np.minimum)][::-1]
        table = np.stack([at_most[0], *(b - a for a, b in itertools.pairwise(at_most))])
        return Leaf(finding, scope, _laid(table, 1))


def _laid(table: Table, skipped: int) -> Table:
    """The same table, in memory as the junction tree takes it: axes from `skipped` on descending, batch last."""
    turn = (*range(skipped), *reversed(range(skipped, table.ndim - 1)), table.ndim - 1)
    return np.ascontiguousarray(table.transpose(turn)).transpose(turn)


class _Shared:
    """Tables of one knowledge that are the same in many contexts: each is made once for the words its links ask for."""

    def __init__(self, knowledge: Knowledge) -> None:
        linked = [(s.id, s.links) for s in knowledge.states] + [(f.id, f.links) for f in knowledge.findings.values()]
        self._asks = {name: tuple(sorted({key for x in links for key in x.when})) for name, links in linked}
        self._states = tuple(sorted({key for s in knowledge.states for key in self._asks[s.id]}))
        self._made: dict[tuple[Any, ...], Any] = {}

    @property
    def contexts(self) -> list[dict[str, str]]:
        """Contexts in which all its tables are met."""
        return [
            context_of(**dict(zip(keys, words, strict=True)))
            for keys in sorted(set(self._asks.values()))
            for words in itertools.product(*(CONTEXT[key] for key in keys))
        ]

    def alike(self, context: Context) -> tuple[str, ...]:
        """The words that the links of the states ask for."""
        return tuple(context[k] for k in self._states)

    def of(self, name: str, context: Context, make: Callable[[Any], Made], of: Any) -> Made:
        """What `make` makes of a state or finding in this context."""
        return self.once((name, *(context[k] for k in self._asks[name])), lambda: make(of))

    def once(self, key: tuple[Any, ...], make: Callable[[], Made]) -> Made:
        """What `make` makes, made once for this key."""
        if key not in self._made:
            self._made[key] = make()
        made: Made = self._made[key]
        return made


@lru_cache(maxsize=8)
def _shared(knowledge: Knowledge, shake: tuple[float, int, int] | None) -> _Shared:
    return _Shared(knowledge)


def widest_scopes(knowledge: Knowledge) -> tuple[tuple[int, ...], dict[int | str, tuple[int, ...]]]:
    """(number of values of each variable, state or cause or finding → its scope) whatever the context: every link
    counted."""
    names = [s.id for s in knowledge.states] + list(knowledge.causes)
    index = {name: i for i, name in enumerate(names, 1)}

    def parents(links: Sequence[Link]) -> set[int]:
        return {index[p] for link in links for p in link.parents if not p.endswith("!")}

    scopes: dict[int | str, tuple[int, ...]] = {i: (0, i) for i in range(1, len(names) + 1)}
    scopes |= {index[s.id]: (0, *sorted(parents(s.links)), index[s.id]) for s in knowledge.states}
    scopes |= {f.id: (0, *sorted(parents(f.links))) for f in knowledge.findings.values()}
    return (len(knowledge.mechanisms), *[2] * len(names)), scopes


class _Noise:
    """Shifts in log odds, one a link and network; none without `shake`."""

    def __init__(self, shake: tuple[float, int, int] | None, name: str) -> None:
        self.size = 1 if shake is None else shake[1]
        self._sd = 0.0 if shake is None else shake[0]
        self._random = None if shake is None else np.random.default_rng([shake[2], zlib.crc32(name.encode())])

    def draw(self) -> Vector:
        if self._random is None:
            return np.zeros(1)
        return self._random.normal(0.0, self._sd, self.size)

    def shift(self, probability: float | Vector, by: Vector) -> Vector:
        p = np.asarray(probability, dtype=float)
        if self._random is None:
            return p * np.ones(1)
        odds = p * np.exp(by)
        return np.asarray(odds / (odds + 1.0 - p))

    def __call__(self, probability: float | Vector) -> Vector:
        return self.shift(probability, self.draw())


def prior(knowledge: Knowledge, context: Context, *, rebuilder: bool = False) -> Vector:
    """Share of each mechanism as the first one in this context; sums to 1."""
    columns = {"low": (0,), "medium": (1,), "high": (2,)}.get(context["duty"], (0, 1, 2))
    table = [p.rebuilder if rebuilder else p.desk for p in knowledge.priors.values()]
    shares = np.array([np.mean([row[c] for c in columns]) for row in table])
    shares /= shares.sum()
    names = knowledge.mechanisms
    if context["motor"] == "part_winding":
        share = knowledge.part_winding_share / 100.0
        shares *= 1.0 - share
        shares[names.index("half_winding")] = share
    for adjust in knowledge.prior_adjusts:
        if fits(adjust.when, context):
            shares[names.index(adjust.target)] *= adjust.factor
    shares /= shares.sum()
    bands = CONTEXT["hours"]
    if context["hours"] != "unknown":
        shares *= np.array([p.hours[bands.index(context["hours"])] for p in knowledge.priors.values()])
    return np.asarray(shares / shares.sum())


def cause_shares(knowledge: Knowledge, context: Context) -> dict[str, Vector]:
    """Cause id → probability of being at work under each first mechanism, in this context."""
    names = knowledge.mechanisms
    out = {}
    for cause in knowledge.causes.values():
        shares = np.zeros(len(names))
        for mechanism, share, when in cause.feeds:
            if fits(when, context):
                shares[names.index(mechanism)] = share
        for adjust in knowledge.cause_adjusts:
            if adjust.target not in (cause.id, cause.liability):
                continue
            for i, mechanism in enumerate(names):
                if fits(adjust.when, {**context, "mechanism": mechanism}):
                    shares[i] = shares[i] * adjust.factor / (shares[i] * adjust.factor + 1.0 - shares[i])
        out[cause.id] = shares
    return out
