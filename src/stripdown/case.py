"""`judge(record) -> Case`: the whole job in one pure call, and the frozen `Case` that everything else shows."""

from dataclasses import dataclass
from typing import Any

from stripdown.limits.model import Judged
from stripdown.reasoning.model import Finding
from stripdown.record.fault import Fault
from stripdown.record.model import Record, stated


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One record and all that follows from it."""

    record: Record
    finding: Finding
    readings: tuple[Judged, ...]
    notices: tuple[Fault, ...]
    knowledge: str
    version: str

    def as_json(self, *, brief: bool = False) -> dict[str, Any]:
        """The object of `judge --json`; `brief` leaves out the explanation keys."""
        f = self.finding
        out: dict[str, Any] = {
            "claim": self.record.claim,
            "file": self.record.file,
            "status": f.status,
            "unit": self.record.unit_json(),
            "history": self.record.history_json(),
            "first": [stated(s) for s in f.first],
            "mechanisms": [stated(s) for s in f.mechanisms],
            "causes": [stated(s) for s in f.causes],
            "outcome": {
                "id": f.outcome.id,
                "expected_cost": f.outcome.expected_cost,
                "currency": f.outcome.currency,
                "alternatives": [stated(o) for o in f.outcome.alternatives],
                "why": list(f.outcome.why),
                "break_even": f.outcome.break_even,
            },
            "liability": [{"id": s.id, "probability": s.probability} for s in f.liability],
            "avoidable": {"return": f.avoidable_return, "failure": f.avoidable_failure},
            "readings": [r.as_json() for r in self.readings],
            "notices": [n.as_json() for n in self.notices],
            "conflict": None
            if f.conflict is None
            else {"figure": f.conflict.figure, "tail": f.conflict.tail, "findings": list(f.conflict.findings)},
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
            "cautions": list(f.cautions),
        }


def _examined(record: Record) -> dict[str, object]:
    """Who looked, when, with what, and at which parts: what the fleet needs to judge the records themselves."""
    return {
        "by": record.examined_by,
        "on": None if record.examined_on is None else record.examined_on.isoformat(),
        "instruments": list(record.instruments),
        "parts": sorted({o.part for o in record.observations if o.extent != "unreadable"}),
    }
