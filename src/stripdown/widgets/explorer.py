"""A fleet explored as a state machine: keep some, group, measure, compare, open a bar. It knows no widget.

Nothing raises whatever is asked in whatever order: what cannot be done is refused, and `refused` says why.
"""

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from typing import Any

import numpy as np

from stripdown.fleet import Opened
from stripdown.widgets.explorer_choice import ALL, ORDERS, Choice
from stripdown.widgets.explorer_compare import REST, Look, NoComparisonError, Question, difference, settled, units_of
from stripdown.widgets.explorer_life import CURVES, Units
from stripdown.widgets.explorer_measure import Bar, Measure
from stripdown.widgets.explorer_table import DIMENSIONS, NOT_STATED, Table

PANELS = ("records", "compare", *CURVES)
REST_WORDS = "all others"
BARS, RECORDS = 12, 8
"""How many are shown at once."""


class Explorer:
    """One engineer at one fleet. `looks`: every comparison asked for, the latest last."""

    def __init__(self, fleet: Opened) -> None:
        self.fleet = fleet
        units = Units(fleet.lives, fleet.rated, fleet.returns) if fleet.lives is not None else None
        self.choice = Choice(Table(fleet.returns), units)
        self.opened: str | None = None
        """The group that is looked into; None = all that are chosen."""
        self.rest = REST
        """What the opened group is compared with: another group, or REST."""
        self.record: int | None = None
        """The row whose page is open."""
        self.panel = PANELS[0]
        self.looks: list[Look] = []
        self.latest: tuple[Look, ...] = ()
        """Those that were asked for last."""
        self.passed_over = 0
        """Groups that could not be compared when each was."""
        self.refused: str | None = None
        self.bar_page = self.record_page = 0
        self._worked_out: dict[tuple[str, ...], Any] = {}

    def _refuse(self, why: str | None) -> bool:
        self.refused = why
        return why is not None

    def _choose(self, **changes: Any) -> None:
        """Another question; a group stays open as long as it is there."""
        self.choice = replace(self.choice, **changes)
        there = self.choice.groups
        self.opened = self.opened if self.opened in there else None
        self.rest = self.rest if self.rest in there and self.opened is not None else REST
        self.record, self.bar_page, self.record_page = None, 0, 0
        self._worked_out = {}

    # the question

    def keep(self, dimension: str, name: str) -> None:
        """Only returns of this name; several names of one dimension: of any of them."""
        if not self._refuse(self._strange(dimension, name)):
            kept = dict(self.choice.kept)
            self._keep(kept | {dimension: tuple(sorted({*kept.get(dimension, ()), name}))})

    def let_go(self, dimension: str, name: str) -> None:
        """No longer ask for this name."""
        kept = dict(self.choice.kept)
        if not self._refuse(None if name in kept.get(dimension, ()) else "it is not among what is kept"):
            self._keep(kept | {dimension: tuple(n for n in kept[dimension] if n != name)})

    def let_all_go(self) -> None:
        """All returns again."""
        self._refuse(None)
        self._keep({})

    def _keep(self, kept: dict[str, tuple[str, ...]]) -> None:
        self._choose(kept=tuple((d, kept[d]) for d in DIMENSIONS if kept.get(d)))

    def _strange(self, dimension: str, name: str) -> str | None:
        if dimension not in DIMENSIONS:
            return f"nothing is kept by {dimension}"
        known = self.choice.table.dimensions[dimension].code(name) is not None
        return None if known else f"no return has the {DIMENSIONS[dimension]} {name}"

    def ask(self, kind: str, of: str = "") -> None:
        """Measure something else."""
        measure = Measure(kind, of)
        if not self._refuse(measure.fault(self.choice.table)):
            self._choose(measure=measure)

    def group(self, dimension: str) -> None:
        """By another dimension."""
        if not self._refuse(None if dimension in DIMENSIONS else f"returns cannot be grouped by {dimension}"):
            self.opened = None
            self._choose(by=dimension)

    def arrange(self, order: str) -> None:
        """Bring the groups into another order."""
        if not self._refuse(None if order in ORDERS else f"there is no order {order}"):
            self._choose(order=order)

    def show(self, panel: str) -> None:
        """Turn to records, comparison, life or incidence."""
        if not self._refuse(None if panel in PANELS else f"there is no panel {panel}"):
            self.panel = panel

    # the bars

    @property
    def bars(self) -> list[Bar]:
        """The groups on show."""
        key = ("bars", str(self.bar_page))
        if key not in self._worked_out:
            start = BARS * self.bar_page
            self._worked_out[key] = self.choice.measured(self.choice.groups[start : start + BARS])
        bars: list[Bar] = self._worked_out[key]
        return bars

    def turn_bars(self, pages: int) -> None:
        """The groups after or before those on show."""
        self._refuse(None)
        self.bar_page = _page(self.bar_page + pages, len(self.choice.groups), BARS)

    def open(self, name: str) -> None:
        """Go down from a bar to what stands behind it."""
        if not self._refuse(None if name in self.choice.groups else f"no bar is called {name}"):
            self._open(name)

    def close(self) -> None:
        """All that are chosen again."""
        self._refuse(None)
        self._open(None)

    def _open(self, name: str | None) -> None:
        self.opened, self.record, self.record_page = name, None, 0
        self.rest = REST if self.rest == name or name is None else self.rest

    # the records behind a bar

    @property
    def rows(self) -> "np.ndarray[Any, np.dtype[np.intp]]":
        """Rows of the returns behind the opened bar, those that tell most of the measure first, then by claim."""
        key = ("rows", self.opened or "")
        if key not in self._worked_out:
            rows = np.flatnonzero(self.choice.group(self.opened))
            weight = np.nan_to_num(self.choice.numbers[rows], nan=-1.0)
            self._worked_out[key] = rows[np.lexsort((self.choice.table.place[rows], -weight))]
        return np.asarray(self._worked_out[key])

    @property
    def records(self) -> list[int]:
        """The rows on show."""
        start = RECORDS * self.record_page
        return [int(i) for i in self.rows[start : start + RECORDS]]

    def turn_records(self, pages: int) -> None:
        """The records after or before those on show."""
        self._refuse(None)
        self.record_page = _page(self.record_page + pages, len(self.rows), RECORDS)

    def open_record(self, row: int) -> None:
        """Open the page of one of them."""
        if not self._refuse(None if row in self.records else "that record is not on show"):
            self.record = row

    def close_record(self) -> None:
        """Back to the list."""
        self._refuse(None)
        self.record = None

    # the opened bar against the other side

    def against(self, name: str) -> None:
        """Choose what the opened group is compared with."""
        right = name == REST or (self.opened is not None and name in self.choice.groups and name != self.opened)
        if not self._refuse(None if right else "open a bar, then choose another one to compare it with"):
            self.rest = name

    def compare(self) -> None:
        """Look at the opened group against the other side, and note that it was looked at."""
        if self.opened is None:
            self.refused = "open a bar first: it is compared with the others"
            return
        self._look([(self.opened, self.rest)])

    def compare_each(self) -> None:
        """Look at every group against all others, and note every one of them."""
        self._look([(name, REST) for name in self.choice.groups if name != NOT_STATED])

    def _look(self, pairs: Sequence[tuple[str, str]]) -> None:
        """Compare pairs of groups as far as they can be; refused where none of them can."""
        choice, looks, why = self.choice, [], "there is no group to compare"
        for a, b in pairs:
            try:
                made = difference(choice, a, b)
            except NoComparisonError as wrong:
                why = str(wrong)
            else:
                looks.append(Look(Question(choice.kept, choice.measure, choice.by, a, b), made))
        if not self._refuse(None if looks else why):
            self._note(looks)
            self.latest, self.passed_over = tuple(looks), len(pairs) - len(looks)

    def _note(self, looks: Sequence[Look]) -> None:
        asked = {look.question.same for look in looks}
        self.looks = [*(k for k in self.looks if k.question.same not in asked), *looks]

    def look_again(self, questions: Sequence[Question]) -> None:
        """Looks taken before, answered by the returns as they are now; what these no longer have is left out."""
        for q in questions:
            strange = any(self._strange(d, name) for d, names in q.kept for name in names)
            if strange or q.by not in DIMENSIONS or q.measure.fault(self.choice.table):
                continue
            choice = replace(self.choice, kept=q.kept, measure=q.measure, by=q.by)
            if q.a in choice.groups and (q.b == REST or q.b in choice.groups):
                with suppress(NoComparisonError):
                    self._note([Look(q, difference(choice, q.a, q.b))])

    def forget_looks(self) -> None:
        """Begin a new list of looks."""
        self._refuse(None)
        self.looks, self.latest, self.passed_over = [], (), 0

    @property
    def corrected(self) -> list[float]:
        """The p of each look, corrected for all of them."""
        return settled(self.looks)

    def curves(self, what: str) -> dict[str, Any] | str:
        """Life or incidence of the opened group beside the other side, else of all chosen; or why there is none."""
        choice = self.choice
        why = choice.unknown(grouped=self.opened is not None)
        if why is not None or choice.units is None:
            return str(why)
        key = (what, self.opened or "", self.rest)
        if key not in self._worked_out:
            subjects = {ALL: choice.units_chosen}
            if self.opened is not None:
                one, other = units_of(choice, self.opened, self.rest)
                subjects = {self.opened: one, self.rest or REST_WORDS: other}
            parts = [choice.units.curves(rows, name, what) for name, rows in subjects.items() if rows.any()]
            self._worked_out[key] = {k: [row for part in parts for row in part[k]] for k in parts[0]} if parts else {}
        told: dict[str, Any] = self._worked_out[key]
        return told or "no unit is left: keep more of them"


def _page(wanted: int, number: int, size: int) -> int:
    return min(max(wanted, 0), max(0, (number - 1) // size))
