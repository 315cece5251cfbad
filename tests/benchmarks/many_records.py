"""Distinct records drawn from the network, as JSON lines: what `bench_judge.py` and the tests of many records feed in.

    python tests/benchmarks/many_records.py 100000 > records.jsonl

Machines, sites and readings are invented. What is there is mostly noted, what is sound only here and there, so that
nearly every record looks at another set of things.
"""

import argparse
import json
import sys
from collections.abc import Iterator
from typing import Any

import numpy as np

if __package__:
    from .simulated import context, draw
else:
    from simulated import context, draw

from stripdown import knowledge, vocabulary
from stripdown.reasoning.infer import FAILED_WHEN
from stripdown.reasoning.network import Network

NOTED_THERE, NOTED_SOUND = 0.85, 0.08
A_CONTEXT = 50
"""Records drawn from one network."""
HOURS = {"unknown": None, "0-500": 300, "500-5000": 2_600, "5000-20000": 12_000, "20000-40000": 31_000}
EXTENTS = ("none", "slight", "heavy")
ALARMS = ("oil", "motor_heat", "discharge_heat", "phase", "locked_rotor")
CYLINDERS = {"suction_reed", "discharge_valve", "connecting_rod", "rod_bearings"}
THREE_PHASES = ("U-V", "V-W", "W-U")
PAIRS = {"single_phase": ("S-R", "C-S", "C-R")}
Generator = np.random.Generator


def records(number: int, seed: int = 1) -> Iterator[dict[str, Any]]:
    """So many records, each with a claim of its own; the same seed gives the same records."""
    rules = knowledge.load()
    for group in range(-(-number // A_CONTEXT)):
        random = np.random.default_rng([seed, group])
        now = context(random)
        network = Network(rules, now)
        drawn = draw(network, network, A_CONTEXT, int(random.integers(2**31)))
        for i in range(min(A_CONTEXT, number - group * A_CONTEXT)):
            levels = {f: int(v[i]) for f, v in drawn.levels.items()}
            noted = {f: NOTED_THERE if level else NOTED_SOUND for f, level in levels.items()}
            levels = {f: level for f, level in levels.items() if drawn.looked[f][i] and random.random() < noted[f]}
            yield _record(f"R-{group:05d}-{i:02d}", now, levels, random)


def _record(claim: str, now: dict[str, str], levels: dict[str, int], random: Generator) -> dict[str, Any]:
    return {
        "format": 1,
        "claim": claim,
        "examined_by": f"bench {random.integers(1, 5)}",
        "unit": _unit(claim, now, random),
        "history": _history(now, levels, random),
        "readings": list(_readings(levels, PAIRS.get(now["motor"], THREE_PHASES), random)),
        "observations": list(_observations(levels, random)),
    }


def _unit(claim: str, now: dict[str, str], random: Generator) -> dict[str, Any]:
    unit: dict[str, Any] = {"serial": f"X{claim[2:]}", "model": "X4-100", "built": "2009-04-11", "cylinders": 4}
    unit |= {key: now[key] for key in ("cooling", "motor", "oil_feed") if now[key] != "unknown"}
    if now["inverter"] != "unknown":
        unit["inverter"] = now["inverter"] == "yes"
    hours = HOURS.get(now["hours"], 52_000)
    return unit if hours is None else unit | {"run_hours": round(hours * float(random.uniform(0.9, 1.1)))}


def _history(now: dict[str, str], levels: dict[str, int], random: Generator) -> dict[str, Any]:
    history: dict[str, Any] = {"installed": "2010-06-03", "failed": "2026-01-14", "site": "north packing shed"}
    history |= {key: now[key] for key in ("duty", "opened_before") if now[key] != "unknown"}
    if now["replaced"] == "yes":
        history["replaces"] = f"Y-{random.integers(10_000)}"
    if FAILED_WHEN in levels:
        words = ("running", "start", "start", "after_defrost", "standing")
        history["failed_when"] = words[levels[FAILED_WHEN]]
        if levels[FAILED_WHEN] == 2:
            history["hours_off"] = 60
    alarms = {a: levels[f"alarms.{a}"] * int(random.integers(1, 9)) for a in ALARMS if f"alarms.{a}" in levels}
    return history | {"alarms": alarms} if alarms else history


def _observations(levels: dict[str, int], random: Generator) -> Iterator[dict[str, Any]]:
    for finding, level in levels.items():
        part, _, condition = finding.partition(".")
        if condition not in vocabulary.parts().get(part, ()):
            continue
        if part in ("crank", "pumping"):
            if level and not (part == "crank" and "crank.will_not_turn" in levels and condition != "will_not_turn"):
                yield {"part": part, "condition": condition}
            continue
        extent = "heavy" if level and vocabulary.presence_only(part, condition) else EXTENTS[min(level, 2)]
        entry: dict[str, Any] = {"part": part, "condition": condition, "extent": extent}
        if part in CYLINDERS and level:
            entry["cylinder"] = int(random.integers(1, 5))
        yield entry


def _readings(levels: dict[str, int], pairs: tuple[str, ...], random: Generator) -> Iterator[dict[str, Any]]:
    for place in ("terminals", "leads"):
        if (bad := levels.get(f"insulation_resistance.{place}")) is not None:
            value = float(np.exp(random.normal(np.log(0.3 if bad else 400.0), 0.8)))
            yield {"quantity": "insulation_resistance", "between": "all-frame", "at": place} | {
                "value": round(value, 3),
                "unit": "Mohm", "temperature": round(float(random.normal(19, 3)), 1), "test_voltage": 500,
            }  # fmt: skip
        if (bad := levels.get(f"winding_resistance.{place}")) is not None:
            shift = (float(random.uniform(0.03, 0.3)) if bad else 0.0, 0.0, 0.0)
            for between, off in zip(pairs, shift, strict=True):
                value = 0.85 * (1.0 - off) * (1.0 + float(random.normal(0.0, 0.004)))
                yield {"quantity": "winding_resistance", "between": between, "at": place, "value": round(value, 4)} | {
                    "unit": "ohm", "temperature": 20,
                }  # fmt: skip
    if (bad := levels.get("net_oil_pressure.low")) is not None:
        sump = float(random.normal(2.0, 0.3))
        net = float(random.uniform(0.2, 1.2) if bad else random.normal(2.4, 0.3))
        for quantity, value in (("oil_pump_pressure", sump + net), ("crankcase_pressure", sump)):
            yield {"quantity": quantity, "value": round(value, 2), "unit": "bar", "site": True}
    if (bad := levels.get("oil_acid_number.high")) is not None:
        value = float(random.uniform(0.2, 0.8) if bad else random.uniform(0.01, 0.06))
        yield {"quantity": "oil_acid_number", "value": round(value, 3), "unit": "mg KOH/g"}
    if (bad := levels.get("main_bearing.worn")) is not None and random.random() < 0.5:
        play = 0.05 + 0.08 * bad + float(random.uniform(0, 0.03))
        yield {"quantity": "main_bearing_play", "value": round(play, 3), "unit": "mm"}


def main() -> None:
    """Write them to standard output."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("records", type=int)
    options.add_argument("--seed", type=int, default=1)
    chosen = options.parse_args()
    for record in records(chosen.records, chosen.seed):
        sys.stdout.write(json.dumps(record) + "\n")


if __name__ == "__main__":
    main()
