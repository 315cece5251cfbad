"""The knowledge as frozen values: what the TOML files of this room say, checked and nothing more."""

from collections.abc import Mapping
from dataclasses import dataclass, field

When = Mapping[str, tuple[str, ...]]
"""Context key → the values it must have: cooling, motor, oil_feed, duty, inverter, opened_before, replaced, hours
('unknown' is a value)."""

CONTEXT: Mapping[str, tuple[str, ...]] = {
    "cooling": ("refrigerant", "air", "unknown"),
    "motor": ("star", "delta", "part_winding", "single_phase", "unknown"),
    "oil_feed": ("pump", "splash", "unknown"),
    "duty": ("low", "medium", "high", "unknown"),
    "inverter": ("yes", "no", "unknown"),
    "opened_before": ("never", "site", "workshop", "unknown"),
    "replaced": ("yes", "unknown"),
    "hours": ("0-500", "500-5000", "5000-20000", "20000-40000", "40000-", "unknown"),
}
HOUR_BANDS = ((500.0, "0-500"), (5000.0, "500-5000"), (20000.0, "5000-20000"), (40000.0, "20000-40000"))


@dataclass(frozen=True, slots=True)
class Prior:
    """Share of a mechanism among first ones [percent] for low, medium, high duty, and factors by band of run hours."""

    mechanism: str
    desk: tuple[float, float, float]
    rebuilder: tuple[float, float, float]
    hours: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Adjust:
    """A factor on a share, or on the odds of a cause, where the context fits. `target` is a mechanism, cause or
    liability id."""

    target: str
    when: When
    factor: float
    why: str
    source: str


@dataclass(frozen=True, slots=True)
class Link:
    """`parents` together bring the state or show the finding. `shows` is one probability a level: (present,) or
    (slight, heavy, …).

    A parent that ends in '!' counts only as the first mechanism.
    """

    parents: tuple[str, ...]
    shows: tuple[float, ...]
    when: When
    why: str
    source: str


@dataclass(frozen=True, slots=True)
class State:
    """A mechanism that can follow, or a damage state: there at its own rate in a faulty machine, or because a link
    acted."""

    id: str
    kind: str
    otherwise: float
    links: tuple[Link, ...]


@dataclass(frozen=True, slots=True)
class Cause:
    """What to put right; `feeds`: (mechanism, share, when)."""

    id: str
    liability: str
    correction: str
    feeds: tuple[tuple[str, float, When], ...]


@dataclass(frozen=True, slots=True)
class Finding:
    """Something a record can state. `levels` above 'none': ('present',), ('slight', 'heavy') or reading tiers.

    `otherwise`: probability of each of those levels without any link; `times`: factor on it under that first mechanism;
    `on_site`: a sound compressor shows it as often as a faulty one.
    """

    id: str
    levels: tuple[str, ...]
    otherwise: tuple[float, ...]
    links: tuple[Link, ...]
    times: Mapping[str, float]
    on_site: bool


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the teardown and the findings it gives."""

    id: str
    title: str
    text: str
    minutes: float
    caution: str
    parts: tuple[str, ...]
    readings: tuple[str, ...]
    after: tuple[str, ...]
    until: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Disposition:
    """When an outcome is admitted; patterns are finding ids, `part.*`, a group, or `*`."""

    id: str
    needs: tuple[str, ...]
    sound: tuple[str, ...]
    found: tuple[str, ...]
    """Each of these must have been seen, or the outcome waits for it."""
    bars: tuple[str, ...]
    risk: tuple[str, ...]
    site: bool
    why: str
    spares: tuple[str, ...] = ()
    """Findings that do not bar it although a pattern of `bars` names them."""


@dataclass(frozen=True, slots=True)
class Action:
    """Something to do that belongs to no single cause, once its state is probable enough."""

    state: str
    when_at_least: float
    text: str


@dataclass(frozen=True, slots=True)
class Exclusion:
    """Findings that no machine shows together, each from a least level on (0 = sound); `rate`: how often a record
    states them all the same."""

    findings: Mapping[str, int]
    everywhere: frozenset[str]
    """Those of them that must stand so at every cylinder."""
    unless: frozenset[str]
    """Findings with which a machine can show them all the same."""
    rate: float
    why: str
    source: str


@dataclass(frozen=True, slots=True)
class ReadingMap:
    """Which finding a judged reading speaks of. `levels`: tier names, or figures in the judged unit (rising for
    high, falling for low)."""

    rule: str
    side: str
    levels: tuple[str | float, ...]
    finding: str
    at: str | None
    instead_of: str | None
    """An observation of the same fact, less sure than the reading: it does not count beside it."""


@dataclass(frozen=True, slots=True)
class FailedWhen:
    """Probabilities of running, start, start_long, after_defrost, standing, for any mechanism and for some."""

    any: tuple[float, ...]
    by: Mapping[str, tuple[float, ...]]
    long_stop_hours: float

    STATES = ("running", "start", "start_long", "after_defrost", "standing")


@dataclass(frozen=True, eq=False)
class Knowledge:
    """Everything `reasoning` reasons with. `digest` names this very set of numbers."""

    priors: Mapping[str, Prior]
    prior_adjusts: tuple[Adjust, ...]
    part_winding_share: float
    states: tuple[State, ...]
    causes: Mapping[str, Cause]
    cause_adjusts: tuple[Adjust, ...]
    actions: tuple[Action, ...]
    findings: Mapping[str, Finding]
    failed_when: FailedWhen
    readings: tuple[ReadingMap, ...]
    steps: tuple[Step, ...]
    general_caution: str
    dispositions: Mapping[str, Disposition]
    groups: Mapping[str, tuple[str, ...]]
    sources: Mapping[str, str]
    digest: str
    exclusions: tuple[Exclusion, ...] = ()
    text: Mapping[str, str] = field(repr=False, default_factory=dict)

    @property
    def mechanisms(self) -> tuple[str, ...]:
        """The mechanisms in the order of the shares."""
        return tuple(self.priors)


def fits(when: When, context: Mapping[str, str]) -> bool:
    """Whether a context meets every condition."""
    return all(context.get(key, "unknown") in values for key, values in when.items())
