"""The pieces of a lesson: plain frozen values that a page shows and a notebook reveals."""

from dataclasses import dataclass

from stripdown.case import Case
from stripdown.knowledge.lesson import Station, Wrong
from stripdown.knowledge.model import Step
from stripdown.limits.model import Judged
from stripdown.reasoning.model import Finding, Share
from stripdown.record.model import History, Observation, Record, Unit

NOT_DECIDED = "not_decided"
"""The right answer where the record does not say what came first."""


@dataclass(frozen=True, slots=True)
class Complaint:
    """All that a class is given: the claim, the machine and its life; nothing that anybody found at the bench."""

    claim: str
    unit: Unit
    history: History

    @classmethod
    def of(cls, record: Record) -> "Complaint":
        """The complaint of a record."""
        return cls(record.claim, record.unit, record.history)


@dataclass(frozen=True, slots=True)
class Shift:
    """What one finding did to the log odds of one mechanism [deciban], and why, from the mechanism to the finding."""

    mechanism: str
    decibans: float
    why: str


@dataclass(frozen=True, slots=True)
class Move:
    """One finding, given all that came before it: whom it helped most and whom it hurt most, where that is worth
    saying."""

    finding: str
    there: bool
    helped: Shift | None
    hurt: Shift | None

    @property
    def size(self) -> float:
        """The larger of the two shifts [deciban]."""
        return max((abs(s.decibans) for s in (self.helped, self.hurt) if s), default=0.0)


@dataclass(frozen=True, slots=True)
class NextLook:
    """A look still possible: a finding and its step, minutes with what must be opened first, expected information
    [bit]."""

    finding: str
    step: str
    minutes: float
    gain_bits: float


@dataclass(frozen=True, slots=True)
class Tempted:
    """A wrong conclusion that this record leads to: by what, from which station on, what takes it back and where.

    `refuted_by` None = nothing in this record does.
    """

    wrong: Wrong
    by: tuple[str, ...]
    at: int
    refuted_by: str | None
    refuted_at: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reveal:
    """One station: what was found there and what that changed. Minutes are those of the class room."""

    number: int
    station: Station
    steps: tuple[Step, ...]
    starts: int
    minutes: int
    observations: tuple[Observation, ...]
    readings: tuple[Judged, ...]
    moves: tuple[Move, ...]
    before: tuple[Share, ...]
    after: tuple[Share, ...]
    best: NextLook | None
    dearest: NextLook | None
    tempts: tuple[Tempted, ...]
    refutes: tuple[Tempted, ...]

    @property
    def looked(self) -> bool:
        """Whether the record says anything of this station; the complaint always does."""
        return bool(self.number == 1 or self.observations or self.readings or self.moves)


@dataclass(frozen=True, slots=True, kw_only=True)
class HeadsOn:
    """What would have been concluded had the heads stayed on: after oil, and with the site asked too."""

    before_heads: Finding
    with_site: Finding
    kept_back: int
    """Findings that only an opened machine shows."""
    next_unit: float
    """What one more new compressor costs, changed over, in the currency of the cost table."""
    missed: float
    """What the cost table reckons for a first mechanism missed: the next unit, times how often it is lost."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lesson:
    """A case and the plan to reveal it. `answer`: the first mechanism, or `not_decided`."""

    case: Case
    complaint: Complaint
    reveals: tuple[Reveal, ...]
    answer: str
    separated: Shift | None
    """The finding that told headline and strongest rival apart: `mechanism` is the rival, `why` the finding."""
    tempted: tuple[Tempted, ...]
    heads_on: HeadsOn
    caution: str
    """Stands before any step."""
