"""The object of `judge --json` as shapes: each key with what its value may be."""

import math
from collections.abc import Callable, Iterator
from typing import Any

from stripdown import vocabulary

Shape = Any
"""A type, a tuple of types, a predicate, {key: shape} (further keys may be there), or [shape of each entry]."""


def probability(value: object) -> bool:
    return isinstance(value, float) and 0.0 <= value <= 1.0


def amount(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and 0.0 <= value < math.inf


def number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def either(*shapes: Shape) -> Callable[[object], bool]:
    return lambda value: any(not list(misfits(value, s)) for s in shapes)


def one_of(*words: str | None) -> Callable[[object], bool]:
    return lambda value: value in words


TEXT = lambda v: isinstance(v, str) and v != ""  # noqa: E731 - a shape, beside the others
NONE = one_of(None)
VERDICT = one_of("within", "outside", "open", "no_limit")
TIER = one_of("notice", "limit", "danger", None)
STATUS = one_of("established", "likely", "open", "conflicting")
MECHANISM = one_of(*vocabulary.mechanisms())
CAUSE = one_of(*vocabulary.causes())
OUTCOME = one_of(*vocabulary.outcomes())
NOTICE = {"file": TEXT, "entry": str, "what": TEXT, "fix": TEXT}
READING = {
    "quantity": TEXT,
    "between": either(TEXT, NONE),
    "at": either(TEXT, NONE),
    "value": either(number, one_of("open", "short")),
    "unit": TEXT,
    "corrected": either(NONE, {"value": number, "unit": TEXT, "uncertainty": amount, "corrections": [TEXT]}),
    "rule": either(TEXT, NONE),
    "judged": either(number, NONE),
    "judged_unit": either(str, NONE),
    "limit_low": either(number, NONE),
    "limit_high": either(number, NONE),
    "tier": TIER,
    "probability_within": either(probability, NONE),
    "verdict": VERDICT,
    "source": TEXT,
}
CONTRACT = {
    "claim": TEXT,
    "file": TEXT,
    "status": STATUS,
    "unit": {"serial": TEXT, "model": TEXT},
    "history": dict,
    "first": [{"id": MECHANISM, "probability": probability}],
    "mechanisms": [{"id": MECHANISM, "probability": probability}],
    "causes": [{"id": CAUSE, "probability": probability}],
    "outcome": {
        "id": OUTCOME,
        "expected_cost": amount,
        "currency": TEXT,
        "alternatives": [{"id": OUTCOME, "expected_cost": amount}],
    },
    "liability": [{"id": one_of(*vocabulary.liabilities()), "probability": either(probability, NONE)}],
    "avoidable": {"return": probability, "failure": probability},
    "readings": [READING],
    "notices": [NOTICE],
    "conflict": either(NONE, {"figure": amount, "tail": probability, "findings": [TEXT]}),
    "unexplained": [TEXT],
    "confirmed": [dict],
    "parts": [one_of(*vocabulary.parts())],
    "knowledge": lambda v: isinstance(v, str) and v.startswith("sha256:") and len(v) == 71,
    "version": TEXT,
}
EXPLAINED = {
    "chain": [{"node": TEXT, "text": TEXT, "probability": probability, "seen": bool}],
    "evidence": [{"finding": TEXT, "decibans": number}],
    "rival": either(NONE, {"id": MECHANISM, "for": [TEXT], "against": [TEXT]}),
    "flips": [{"change": TEXT, "first": MECHANISM}],
    "robustness": probability,
    "next_checks": [{"id": TEXT, "gain_bits": amount, "saving": amount, "minutes": amount, "caution": TEXT}],
    "corrections": [{"cause": either(CAUSE, NONE), "text": TEXT}],
    "cautions": [TEXT],
}


def misfits(value: object, shape: Shape, path: str = "") -> Iterator[str]:
    """Every place where a value does not have its shape."""
    if isinstance(shape, dict):
        if not isinstance(value, dict):
            yield f"{path}: {value!r}"
            return
        for key, inner in shape.items():
            if key not in value:
                yield f"{path}.{key} is missing"
            else:
                yield from misfits(value[key], inner, f"{path}.{key}")
    elif isinstance(shape, list):
        if not isinstance(value, list):
            yield f"{path}: {value!r}"
            return
        for i, entry in enumerate(value):
            yield from misfits(entry, shape[0], f"{path}[{i}]")
    elif not (isinstance(value, shape) if isinstance(shape, type) else shape(value)):
        yield f"{path}: {value!r}"
