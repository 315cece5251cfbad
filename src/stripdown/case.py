"""`judge(record) -> Case`: the whole job in one pure call, and the frozen `Case` that everything else shows."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from stripdown import evidence, limits, vocabulary
from stripdown import knowledge as knowledge_room
from stripdown.knowledge import Knowledge
from stripdown.limits import Sheets
from stripdown.limits.model import Judged
from stripdown.reasoning.costs import Costs, default_costs
from stripdown.reasoning.model import Evidence, Finding, Share
from stripdown.reasoning.reason import Reasoner
from stripdown.record.fault import Fault
from stripdown.record.model import Observation, Record, stated
from stripdown.version import __version__


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One record and all that follows from it."""

    record: Record
    finding: Finding
    readings: tuple[Judged, ...]
    notices: tuple[Fault, ...]
    knowledge: str
    version: str
    costs: str = ""
    """Name and hash of the user's own cost table; '' = the shipped one."""

    def as_json(self, *, brief: bool = False) -> dict[str, Any]:
        """The object of `judge --json`; `brief` leaves out the explanation keys."""
        f = self.finding
        out: dict[str, Any] = {
            "claim": self.record.claim,
            "file": self.record.file,
            "status": f.status,
            "unit": self.record.unit_json(),
            "history": self.record.history_json(),
            "first": _shares(f.first),
            "mechanisms": _shares(f.mechanisms),
            "causes": _shares(f.causes),
            "outcome": {
                "id": f.outcome.id,
                "expected_cost": f.outcome.expected_cost,
                "currency": f.outcome.currency,
                "alternatives": [stated(o) for o in f.outcome.alternatives],
                "why": list(f.outcome.why),
                "break_even": f.outcome.break_even,
            },
            "liability": _shares(f.liability),
            "avoidable": {"return": f.avoidable_return, "failure": f.avoidable_failure},
            "readings": [r.as_json() for r in self.readings],
            "notices": [n.as_json() for n in self.notices],
            "conflict": None
            if f.conflict is None
            else {
                "figure": f.conflict.figure,
                "tail": f.conflict.tail,
                "findings": list(f.conflict.findings),
                "why": f.conflict.why or None,
            },
            "unexplained": list(f.unexplained),
            "examined": _examined(self.record),
            "confirmed": [stated(c) | {"causes": list(c.causes)} for c in self.record.confirmed],
            "parts": list(f.parts),
            "knowledge": self.knowledge,
            "version": self.version,
        }
        if brief:
            return out
        return out | {
            "chain": [stated(s) for s in f.chain],
            "evidence": [stated(w) for w in f.evidence],
            "rival": None
            if f.rival is None
            else {
                "id": f.rival.id,
                "probability": f.rival.probability,
                "for": list(f.rival.speaks_for),
                "against": list(f.rival.speaks_against),
            },
            "flips": [stated(x) for x in f.flips],
            "robustness": f.robustness,
            "next_checks": [stated(c) for c in f.next_checks],
            "corrections": [{"cause": c.cause, "text": c.text} for c in f.corrections],
            "cautions": [*(f"Authorised workshop only: {why}." for why in workshop_only(self.record)), *f.cautions],
        }


_WORKSHOP_REFRIGERANTS = {
    *("R744", "CO2", "R717", "NH3", "AMMONIA"),  # high pressure; toxic
    *("R290", "PROPANE", "R600", "R600A", "ISOBUTANE", "BUTANE", "R1270", "PROPYLENE", "R170", "ETHANE"),  # class A3
}


def workshop_only(record: Record) -> list[str]:
    """What keeps every repair to an authorised workshop, whatever the outcome: the refrigerant, a cracked body."""
    refrigerant = record.unit.refrigerant or ""
    reasons = []
    if re.sub(r"[^A-Z0-9]", "", refrigerant.upper()) in _WORKSHOP_REFRIGERANTS:
        reasons.append(f"the refrigerant is {refrigerant}")
    if any(o.finding == "body.cracked" and o.extent in ("slight", "heavy") for o in record.observations):
        reasons.append("the body is cracked")
    return reasons


def _shares(shares: Sequence[Share]) -> list[dict[str, Any]]:
    return [{"id": s.id, "probability": s.probability} for s in shares]


def _examined(record: Record) -> dict[str, object]:
    """Who looked, when, with what, and at which parts: what the fleet needs to judge the records themselves."""
    return {
        "by": record.examined_by,
        "on": None if record.examined_on is None else record.examined_on.isoformat(),
        "instruments": list(record.instruments),
        "parts": sorted({o.part for o in record.observations if o.extent != "unreadable"}),
    }


@lru_cache(maxsize=8)
def _reasoner(knowledge: Knowledge, costs: Costs) -> Reasoner:
    return Reasoner(knowledge, costs)


@lru_cache(maxsize=1)
def _shipped() -> tuple[Knowledge, Sheets, Costs]:
    return knowledge_room.load(), limits.load_sheets(), default_costs()


def judge(
    record: Record,
    *,
    knowledge: Knowledge | None = None,
    sheets: Sheets | None = None,
    costs: Costs | None = None,
    brief: bool = False,
) -> Case:
    """Readings against limits, findings back to the first mechanism and its cause, what to do, and why.

    knowledge, sheets, costs: None = those shipped with the program. brief: without the explanation.
    The same record, knowledge and costs give the same Case. Raises nothing for a `Record` that `read` returned.
    """
    knowledge = knowledge or _shipped()[0]
    known = gather(record, knowledge=knowledge, sheets=sheets)
    finding = reasoner(knowledge, costs).judge(known.context, known.evidence, _damaged(record, knowledge), brief=brief)
    return _case(record, finding, known, knowledge, costs)


def judge_many(
    records: Sequence[Record],
    *,
    knowledge: Knowledge | None = None,
    sheets: Sheets | None = None,
    costs: Costs | None = None,
) -> list[Case]:
    """The brief case of each record, the same to the last bit as `judge(record, brief=True)`, for less work.

    All records are held at once: give some hundreds at a time.
    """
    knowledge = knowledge or _shipped()[0]
    known = [gather(record, knowledge=knowledge, sheets=sheets) for record in records]
    asked = [(k.context, k.evidence, _damaged(r, knowledge)) for k, r in zip(known, records, strict=True)]
    findings = reasoner(knowledge, costs).judge_many(asked)
    return [_case(*parts, knowledge, costs) for parts in zip(records, findings, known, strict=True)]


def _case(record: Record, finding: Finding, known: "Known", knowledge: Knowledge, costs: Costs | None) -> Case:
    return Case(
        record=record,
        finding=finding,
        readings=known.readings,
        notices=(*record.notices, *known.notices),
        knowledge=knowledge.digest,
        version=__version__,
        costs="" if costs is None else costs.own,
    )


@dataclass(frozen=True, slots=True)
class Known:
    """What the reasoning takes in from one record, and the readings it rests on."""

    context: dict[str, str]
    evidence: Evidence
    readings: tuple[Judged, ...]
    notices: tuple[Fault, ...]


def gather(record: Record, *, knowledge: Knowledge | None = None, sheets: Sheets | None = None) -> Known:
    """The context and the findings of a record, its readings judged; None = those shipped with the program."""
    knowledge = knowledge or _shipped()[0]
    sheets = sheets or _shipped()[1]
    readings, about_readings, clashes = limits.judge_readings(record, sheets)
    unit = limits.effective_unit(record, sheets)
    context = evidence.context(record, cooling=unit.cooling, motor=unit.motor, oil_feed=unit.oil_feed)
    known, about_findings = evidence.gather(record, readings, knowledge, unit.cylinders, clashes)
    return Known(context, known, readings, (*about_readings, *about_findings))


def reasoner(knowledge: Knowledge | None = None, costs: Costs | None = None) -> Reasoner:
    """The reasoner of a knowledge and a cost table, with the networks it has built so far; None = those shipped."""
    return _reasoner(knowledge or _shipped()[0], costs or _shipped()[2])


_NOT_PARTS = ("oil", "crank", "pumping", "cylinders")


def _damaged(record: Record, knowledge: Knowledge) -> tuple[str, ...]:
    """The machine's own parts found damaged: heavy, or there at all where a condition has no extent; site findings
    are not among them."""
    beside = {part for step in knowledge.steps if step.id == "site_history" for part in step.parts}
    found = [o.part for o in record.observations if _heavy(o) and o.part not in beside and o.part not in _NOT_PARTS]
    return tuple(dict.fromkeys(found))


def _heavy(observation: Observation) -> bool:
    there_at_all = vocabulary.presence_only(observation.part, observation.condition)
    return observation.extent == "heavy" or (observation.extent == "slight" and there_at_all)
