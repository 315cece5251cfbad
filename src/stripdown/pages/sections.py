"""The sections of a root-cause page in their order: each a function of a Case that gives an HTML fragment."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Generic, Literal, TypeVar

from stripdown.case import Case
from stripdown.pages import answer, bench, html, site
from stripdown.pages.blocks import Block, cleaned
from stripdown.pages.show import Paper, Purpose, Show

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Section(Generic[T]):
    """Called with its subject (a Case, a fleet report): its HTML fragment. `content`: the same as plain data."""

    key: str
    title: str
    build: Callable[[T, Show], list[Block]]
    only: Purpose | None = None

    def content(self, subject: T, show: Show) -> dict[str, Any]:
        """Key, title and blocks of this section."""
        return {"key": self.key, "title": self.title, "blocks": cleaned(self.build(subject, show))}

    def __call__(
        self,
        subject: T,
        *,
        purpose: Purpose = "warranty",
        system: Literal["si", "us"] = "si",
        paper: Paper = "a4",
        parts_kept: int | None = None,
    ) -> str:
        """The section as an HTML fragment; `html.style()` once beside it gives it its looks."""
        show = Show(purpose=purpose, system=system, paper=paper, parts_kept=parts_kept)
        return html.section(self.content(subject, show))


finding = Section("finding", "Finding and what to do now", answer.finding)
certainty = Section("certainty", "How sure, and what speaks against it", answer.certainty)
chain = Section("chain", "Chain of events", answer.chain)
readings = Section("readings", "Readings against limits", bench.measured)
found = Section("found", "What was found, part by part", bench.found)
not_looked_at = Section("not_looked_at", "What was not looked at, and what would decide", bench.not_looked_at)
corrections = Section("corrections", "Corrections on the site and start-up", site.corrections)
statements = Section("statements", "What the parties say", site.statements)
liability = Section("liability", "Proposal on liability", answer.liability, only="warranty")
signoff = Section("signoff", "Sign-off", site.signoff)
method = Section("method", "Cautions and limits of the method", site.method)

_ALL = (
    finding,
    certainty,
    chain,
    readings,
    found,
    not_looked_at,
    corrections,
    statements,
    liability,
    signoff,
    method,
)
SECTIONS: tuple[tuple[str, str, Section[Case]], ...] = tuple((s.key, s.title, s) for s in _ALL)
"""Key, title and function of every section, in the order of the page."""


def of_purpose(purpose: Purpose) -> tuple[Section[Case], ...]:
    """The sections that a page for this purpose has."""
    return tuple(s for s in _ALL if s.only in (None, purpose))
