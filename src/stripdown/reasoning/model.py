"""The pieces of an answer: plain frozen values that a Case holds and a page shows."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

ESTABLISHED = 0.90
"""Probability from which the first mechanism is established."""
LIKELY = 0.60


@dataclass(frozen=True)
class Evidence:
    """What is known of one machine: finding id → likelihood of its levels (none first), how the record says it, and
    which findings are there."""

    likelihoods: Mapping[str, NDArray[np.float64]]
    labels: Mapping[str, str]
    stated: frozenset[str]
    also: frozenset[str] = frozenset()
    """What the record states in words that the knowledge has no finding of their own for, as
    `head_gasket.wrong_part`."""
    unreadable: frozenset[str] = frozenset()
    """Findings that were looked for where nothing can be told any more."""
    everywhere: frozenset[str] = frozenset()
    """Findings that are there at every cylinder of the machine, heavy."""
    not_as_found: frozenset[str] = frozenset()
    """Findings that do not speak of the whole machine as it was found: read on the running system before removal, or
    looked at and sound in some of its cylinders only."""
    clash: "Conflict | None" = None
    """What the record itself cannot all be true of, before anything is reasoned: readings against readings, or against
    what it states."""


@dataclass(frozen=True, slots=True)
class Share:
    """A probability of an id; `probability` None only for liability `undetermined`."""

    id: str
    probability: float | None


@dataclass(frozen=True, slots=True)
class Option:
    """One outcome and what it is expected to cost, in the currency of the table."""

    id: str
    expected_cost: float


@dataclass(frozen=True, slots=True)
class Outcome:
    """The outcome of least expected cost and the others that the record allows; `why` says what allowed or barred
    them."""

    id: str
    expected_cost: float
    currency: str
    alternatives: tuple[Option, ...] = ()
    why: tuple[str, ...] = ()
    break_even: float | None = None
    """Probability of hidden damage above which the part-only repair stops being the cheaper one; None where it is no
    choice."""


@dataclass(frozen=True, slots=True)
class Step:
    """One link of the chain from cause to failed part; `seen` = stated by the record."""

    node: str
    text: str
    probability: float
    seen: bool


@dataclass(frozen=True, slots=True)
class Weight:
    """What one finding adds to the log odds of the headline [decibans], and the headline's probability without it."""

    finding: str
    decibans: float
    without: float
    error: float = 0.0
    """Standard error of `decibans` where it was sampled; 0 = enumerated."""


@dataclass(frozen=True, slots=True)
class Rival:
    """The strongest other mechanism and what speaks for and against it beside the headline, in words."""

    id: str
    probability: float
    speaks_for: tuple[str, ...]
    speaks_against: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Flip:
    """One change of the record that would put another mechanism first."""

    change: str
    first: str


@dataclass(frozen=True, slots=True)
class Check:
    """A check not yet made: expected information about `first` [bit], expected saving, minutes, the caution that
    comes first."""

    id: str
    gain_bits: float
    saving: float
    minutes: float
    caution: str
    text: str = ""


@dataclass(frozen=True, slots=True)
class Correction:
    """What to put right; cause None = clean-up or start-up steps that belong to no single cause."""

    cause: str | None
    text: str


@dataclass(frozen=True, slots=True)
class Conflict:
    """How badly the findings go together: `figure` [nat], how often as much comes by chance, and what clashes."""

    figure: float
    tail: float
    findings: tuple[str, ...]
    why: str = ""
    """What no machine shows together, in one sentence; empty where it is the rest of the record that speaks against
    them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """The answer of the reasoning for one record, before it is joined with the readings."""

    status: str
    first: tuple[Share, ...]
    mechanisms: tuple[Share, ...]
    causes: tuple[Share, ...]
    outcome: Outcome
    liability: tuple[Share, ...]
    avoidable_return: float
    avoidable_failure: float
    conflict: Conflict | None = None
    unexplained: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()
    chain: tuple[Step, ...] = ()
    evidence: tuple[Weight, ...] = ()
    rival: Rival | None = None
    flips: tuple[Flip, ...] = ()
    robustness: float | None = None
    next_checks: tuple[Check, ...] = ()
    corrections: tuple[Correction, ...] = ()
    cautions: tuple[str, ...] = field(default=())
