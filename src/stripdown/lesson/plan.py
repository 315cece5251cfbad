"""Record → lesson: its findings put to their stations, the odds after each finding, and what the case would have
been with the heads on. Pure: no files, no clock."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from stripdown.case import Case, Known, gather, judge, reasoner
from stripdown.knowledge.lesson import Station, Teaching, check, teaching
from stripdown.knowledge.model import Knowledge
from stripdown.lesson.model import NOT_DECIDED, Complaint, HeadsOn, Lesson, Move, NextLook, Reveal, Shift, Tempted
from stripdown.lesson.why import why
from stripdown.lesson.wrong import tempted
from stripdown.limits import Sheets
from stripdown.reasoning.checks import gains, open_checks
from stripdown.reasoning.costs import Costs
from stripdown.reasoning.decide import direct_cost
from stripdown.reasoning.explain import DECIBANS, Headline
from stripdown.reasoning.infer import everything
from stripdown.reasoning.model import Evidence, Finding, Share
from stripdown.reasoning.network import Network, Vector
from stripdown.reasoning.reason import Reasoner
from stripdown.record.model import Record

ALIVE = 0.02
"""A mechanism counts in a shift where it has at least this before or after it."""
WORTH_SAYING = 1.0
"""Shifts below this [deciban] are left out: a factor of 1.26 on the odds."""
_SOUND = 0.95
"""Share of a likelihood that a finding must have on "not there" to count as looked at and sound."""
_HEADS, _SITE = "heads", "site"


def plan(
    record: Record, *, knowledge: Knowledge | None = None, sheets: Sheets | None = None, costs: Costs | None = None
) -> Lesson:
    """The lesson of one record; knowledge, sheets, costs: None = those shipped with the program."""
    case = judge(record, knowledge=knowledge, sheets=sheets, costs=costs)
    known = gather(record, knowledge=knowledge, sheets=sheets)
    return _Planner(case, known, reasoner(knowledge, costs), teaching()).lesson()


@dataclass(frozen=True, slots=True)
class _Places:
    """Part, reading and step → number of the station it stands at."""

    parts: Mapping[str, int]
    quantities: Mapping[str, int]

    @classmethod
    def of(cls, stations: Sequence[Station], knowledge: Knowledge) -> "_Places":
        steps = {s.id: s for s in knowledge.steps}
        parts = {p: i for i, s in enumerate(stations, 1) for step in s.steps for p in steps[step].parts}
        parts |= {p: i for i, s in enumerate(stations, 1) for p in s.parts}
        return cls(parts, {q: i for i, s in enumerate(stations, 1) for q in s.quantities})

    def finding(self, finding: str, told: str) -> int:
        """By what the record says (a part or a quantity), else by the finding's own part."""
        names = (told.split(" ")[0].split(".")[0], finding.split(".")[0])
        return next((table[n] for n in names for table in (self.parts, self.quantities) if n in table), 1)


class _Planner:
    def __init__(self, case: Case, known: Known, reasoner: Reasoner, teaching: Teaching) -> None:
        self.case, self.known, self.reasoner, self.teaching = case, known, reasoner, teaching
        self.knowledge = reasoner.knowledge
        check(teaching, self.knowledge)
        self.network: Network = reasoner.network(known.context)
        self.places = _Places.of(teaching.stations, self.knowledge)
        evidence = known.evidence
        self.station = {f: self.places.finding(f, told) for f, told in evidence.labels.items()}
        self.order = self._bench_order()
        trail = np.tril(np.ones((len(self.order) + 1, len(self.order)), dtype=bool), -1)
        ordered = _part_of(evidence, self.order)
        self.trail: Vector = Headline(self.network, ordered, "no_fault").posterior(trail).T
        """P(first) after each finding, the prior in the first row."""

    def lesson(self) -> Lesson:
        decided = self.case.finding.status in ("established", "likely")
        answer = self.case.finding.first[0].id if decided else None
        tempting = self._tempted(answer)
        return Lesson(
            case=self.case,
            complaint=Complaint.of(self.case.record),
            reveals=tuple(self._reveals(tempting)),
            answer=answer or NOT_DECIDED,
            separated=self._separated(),
            tempted=tempting,
            heads_on=self._heads_on(),
            caution=self.knowledge.general_caution,
        )

    def _bench_order(self) -> list[str]:
        """The findings as the bench meets them: by station, there in the order of the record, readings last."""
        first_said: dict[str, int] = {}
        for i, o in enumerate(self.case.record.observations):
            first_said.setdefault(f"{o.finding} {o.extent}", i)
        labels = self.known.evidence.labels
        late = len(first_said)
        return sorted(labels, key=lambda f: (self.station[f], first_said.get(labels[f], late), f))

    def _reveals(self, tempting: tuple[Tempted, ...]) -> list[Reveal]:
        out: list[Reveal] = []
        clock = 0
        for number, station in enumerate(self.teaching.stations, 1):
            steps = tuple(s for s in self.knowledge.steps if s.id in station.steps)
            minutes = self._minutes(number, sum(s.minutes for s in steps))
            upto = sum(self.station[f] <= number for f in self.order)
            since = sum(self.station[f] < number for f in self.order)
            best, dearest = self._next(self.order[:upto])
            out.append(
                Reveal(
                    number=number,
                    station=station,
                    steps=steps,
                    starts=clock,
                    minutes=minutes,
                    observations=tuple(
                        o for o in self.case.record.observations if self.places.parts.get(o.part) == number
                    ),
                    readings=tuple(r for r in self.case.readings if self.places.quantities.get(r.quantity) == number),
                    moves=tuple(self._move(i) for i in range(since, upto)),
                    before=self._shares(since),
                    after=self._shares(upto),
                    best=best,
                    dearest=dearest,
                    tempts=tuple(t for t in tempting if t.at == number),
                    refutes=tuple(t for t in tempting if t.refuted_at == number),
                )
            )
            clock += minutes
        return out

    def _minutes(self, number: int, bench: float) -> int:
        looked = number == 1 or number in self.station.values()
        share = round(bench * self.teaching.class_share) if looked else 0
        return max(self.teaching.least_minutes, share) if looked else 1

    def _shares(self, row: int) -> tuple[Share, ...]:
        shares = zip(self.network.mechanisms, self.trail[row], strict=True)
        return tuple(Share(m, float(p)) for m, p in sorted(shares, key=lambda mp: (-round(mp[1], 12), mp[0])))

    def _move(self, i: int) -> Move:
        """What the i-th finding did to the mechanisms that are alive."""
        finding = self.order[i]
        before, after = self.trail[i], self.trail[i + 1]
        alive = np.flatnonzero((np.maximum(before, after) >= ALIVE) & (before > 0.0))
        shift = {int(m): _log_odds(after, int(m)) - _log_odds(before, int(m)) for m in alive}
        there = self._looked.is_there(finding)
        up = max(shift, key=lambda m: shift[m], default=None)
        down = min(shift, key=lambda m: shift[m], default=None)
        return Move(
            self.known.evidence.labels[finding],
            there,
            self._shift(up, shift, finding, there, helped=True),
            self._shift(down, shift, finding, there, helped=False),
        )

    def _shift(
        self, m: int | None, shift: Mapping[int, float], finding: str, there: bool, *, helped: bool
    ) -> Shift | None:
        if m is None or (shift[m] if helped else -shift[m]) < WORTH_SAYING:
            return None
        mechanism = self.network.mechanisms[m]
        return Shift(mechanism, shift[m], why(self.network, mechanism, finding, there=there, helped=helped))

    @property
    def _looked(self) -> "_Seen":
        return _Seen(self.known.evidence)

    def _next(self, so_far: Sequence[str]) -> tuple[NextLook | None, NextLook | None]:
        """(most information a minute, most minutes) among the looks that are still possible."""
        evidence = _part_of(self.known.evidence, so_far)
        possible = open_checks(self.knowledge, evidence)
        posterior = everything(self.network, evidence.likelihoods)
        looks = [NextLook(g.finding, g.step.title, g.minutes, g.gain) for g in gains(posterior, possible)]
        best = max(looks, key=lambda x: (x.gain_bits / x.minutes, x.finding), default=None)
        dearest = max(looks, key=lambda x: (x.minutes, x.gain_bits, x.finding), default=None)
        return best, dearest

    def _tempted(self, answer: str | None) -> tuple[Tempted, ...]:
        seen = self._looked
        there = {f: self.station[f] for f in self.order if seen.is_there(f)}
        sound = {f: self.station[f] for f in self.order if seen.is_sound(f)}
        measured = {r.quantity: self.places.quantities[r.quantity] for r in self.case.readings}
        labels = self.known.evidence.labels
        return tempted(self.teaching, self.case.record, answer, there, sound, measured, labels)

    def _separated(self) -> Shift | None:
        """The finding that changed the odds of the headline against its strongest rival most."""
        f = self.case.finding
        if f.rival is None or not self.order:
            return None
        lead, other = (self.network.first_index[m] for m in (f.first[0].id, f.rival.id))
        if self.trail[:, [lead, other]].min() <= 0.0:
            return None
        ratio = DECIBANS * np.diff(np.log(self.trail[:, lead]) - np.log(self.trail[:, other]))
        at = int(np.argmax(ratio))
        return Shift(f.rival.id, float(ratio[at]), self.known.evidence.labels[self.order[at]])

    def _heads_on(self) -> HeadsOn:
        numbers = {s.id: i for i, s in enumerate(self.teaching.stations, 1)}
        shut = [f for f in self.order if self.station[f] < numbers[_HEADS]]
        site = [f for f in self.order if self.station[f] == numbers[_SITE]]
        costs = self.reasoner.costs
        return HeadsOn(
            before_heads=self._judged(shut),
            with_site=self._judged(shut + site),
            kept_back=len(self.order) - len(shut) - len(site),
            next_unit=direct_cost("replace_compressor", costs),
            missed=costs.error["first_mechanism_missed"],
        )

    def _judged(self, findings: Sequence[str]) -> Finding:
        return self.reasoner.judge(self.known.context, _part_of(self.known.evidence, findings), (), brief=True)


class _Seen:
    """Which findings are there and which were looked at and are sound, as the outcome rules see them."""

    def __init__(self, evidence: Evidence) -> None:
        self._evidence = evidence

    def is_there(self, finding: str) -> bool:
        return finding in self._evidence.stated

    def is_sound(self, finding: str) -> bool:
        told = self._evidence.likelihoods.get(finding)
        return told is not None and not self.is_there(finding) and float(told[0]) >= _SOUND * float(told.sum())


def _part_of(evidence: Evidence, findings: Sequence[str]) -> Evidence:
    """The evidence with only these findings, in this order."""
    return Evidence(
        likelihoods={f: evidence.likelihoods[f] for f in findings},
        labels={f: evidence.labels[f] for f in findings},
        stated=evidence.stated & frozenset(findings),
        everywhere=evidence.everywhere & frozenset(findings),
        not_as_found=evidence.not_as_found & frozenset(findings),
    )


def _log_odds(shares: Vector, m: int) -> float:
    """Log odds of one mechanism [deciban], exact near certainty too."""
    others = float(np.delete(shares, m).sum())
    share = float(shares[m])
    if share <= 0.0 or others <= 0.0:
        return -math.inf if share <= 0.0 else math.inf
    return DECIBANS * (math.log(share) - math.log(others))
