"""How long readings take: one record, ten thousand as arrays, and refrigerant tables beside CoolProp's own call.

    python tests/benchmarks/bench_readings.py

Prints times and ratios; judges nothing, since times belong to the machine they were taken on.
"""

import statistics
import time
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from stripdown.bench import electrical, lubrication, refrigerant
from stripdown.bench.fluid import fluid_of
from stripdown.bench.measurement import conformity
from stripdown.limits import effective_unit, judge_readings, load_sheets
from stripdown.limits.context import Context
from stripdown.limits.together import clashes
from stripdown.record import Record, parse
from stripdown.record.schema import QUANTITIES

RECORDS = 10_000


def seconds(job: Callable[[], object], times: int) -> float:
    """Per call: the median of three turns, each the best of sixty short rounds; what else runs counts little."""
    job()
    return statistics.median(min(_round(job, times) for _ in range(60)) for _ in range(3))


def _round(job: Callable[[], object], times: int) -> float:
    start = time.perf_counter()
    for _ in range(times):
        job()
    return (time.perf_counter() - start) / times


def full_record() -> Record:
    """A record with every quantity of the format, at the points where a careful bench and site take it."""
    frame = {"quantity": "insulation_resistance", "unit": "Mohm", "temperature": 20, "test_voltage": 500}
    readings = [
        *(
            {"quantity": "winding_resistance", "between": b, "at": "terminals", "value": v, "unit": "ohm"}
            | {"temperature": 22, "accuracy": "0.5% + 0.02"}
            for b, v in (("U-V", 0.86), ("V-W", 0.84), ("W-U", 0.85))
        ),
        *(frame | {"between": f"{p}-frame", "value": 300} for p in "UVW"),
        *(
            {"quantity": "supply_voltage", "between": b, "value": v, "unit": "V", "site": True}
            for b, v in (("L1-L2", 398), ("L2-L3", 401), ("L3-L1", 396))
        ),
        *(
            {"quantity": "running_current", "between": b, "value": v, "unit": "A", "site": True}
            for b, v in (("L1", 21.0), ("L2", 22.0), ("L3", 20.5))
        ),
        *(
            {"quantity": "sensor_resistance", "between": f"common-{n}", "value": 100 + n, "unit": "ohm"}
            for n in (1, 2, 3)
        ),
        *(
            {"quantity": q, "value": v, "unit": "psi", "site": True}
            for q, v in (
                ("oil_pump_pressure", 65),
                ("crankcase_pressure", 32),
                ("suction_pressure", 33),
                ("discharge_pressure", 235),
            )
        ),
        *(
            {"quantity": q, "value": v, "unit": "degC", "site": True}
            for q, v in (
                ("suction_gas_temperature", 6),
                ("discharge_line_temperature", 92),
                ("oil_sump_temperature", 48),
            )
        ),
        {"quantity": "oil_acid_number", "value": 0.03, "unit": "mg KOH/g"},
        {"quantity": "oil_moisture", "value": 32, "unit": "ppm"},
        {"quantity": "main_bearing_play", "value": 60, "unit": "um"},
        {"quantity": "wrist_pin_drop", "value": 10, "unit": "um", "cylinder": 1},
        {"quantity": "leak_back_rate", "value": 1, "unit": "psi/min"},
        {"quantity": "head_bolt_torque", "value": 58, "unit": "N·m"},
        {"quantity": "terminal_nut_torque", "value": 14, "unit": "N·m"},
        {"quantity": "backer_bolt_torque", "value": 9, "unit": "N·m"},
        {"quantity": "centre_bearing_play", "value": 55, "unit": "um"},
        {"quantity": "pump_end_bearing_play", "value": 50, "unit": "um"},
        {"quantity": "rod_play", "value": 60, "unit": "um", "cylinder": 1},
        {"quantity": "crankshaft_end_float", "value": 0.3, "unit": "mm"},
        {"quantity": "vacuum_pull_down", "value": 26, "unit": "inHg"},
        {"quantity": "evacuation_vacuum", "value": 400, "unit": "micron"},
        {"quantity": "heater_resistance", "value": 531, "unit": "ohm"},
        {"quantity": "oil_drained", "value": 3.8, "unit": "l"},
        {"quantity": "starts_per_hour", "value": 4, "unit": "1/h"},
        {"quantity": "ambient_temperature", "value": 21, "unit": "degC", "site": True},
        {"quantity": "evaporator_outlet_temperature", "value": -4, "unit": "degC", "site": True},
        {"quantity": "superheat", "value": 14, "unit": "K", "site": True},
        {"quantity": "subcooling", "value": 6, "unit": "K", "site": True},
        {"quantity": "net_oil_pressure", "value": 33, "unit": "psi", "site": True},
        *(
            {"quantity": "contact_voltage_drop", "between": b, "value": v, "unit": "mV", "site": True}
            for b, v in (("L1", 22), ("L2", 25), ("L3", 31))
        ),
        *(
            {"quantity": "rotor_air_gap", "between": b, "value": v, "unit": "mm"}
            for b, v in (("top", 0.4), ("bottom", 0.35), ("left", 0.38), ("right", 0.37))
        ),
    ]
    raw = {
        "format": 1,
        "claim": "B-1",
        "unit": {"serial": "1", "model": "K4-150", "refrigerant": "R449A", "oil": "POE 32"},
        "history": {"altitude": 240},
        "readings": readings,
    }
    record = parse(raw, file="bench.json", folder=".")
    if not isinstance(record, Record):
        raise SystemExit(str(record))
    missing = set(QUANTITIES) - {r.quantity for r in record.readings}
    if missing:
        raise SystemExit(f"not measured here: {', '.join(sorted(missing))}")
    return record


def as_arrays() -> None:
    """The same quantities of all records at once, to probabilities of conformity."""
    rng = np.random.default_rng(1)
    fluid = fluid_of("R449A")
    pairs = list(rng.normal(0.85, 0.01, (3, RECORDS)))
    volts = list(rng.normal(400, 3, (3, RECORDS)))
    amperes = list(rng.normal(22, 0.5, (3, RECORDS)))
    for group, limit in ((pairs, 5.0), (volts, 2.0), (amperes, 10.0)):
        for deviation in electrical.deviations(group):
            conformity(deviation, 1.1, -limit, limit)
    for _ in range(3):
        conformity(electrical.insulation_at_40(rng.uniform(1, 500, RECORDS), 20.0), 10.0, 5.0)
    conformity(lubrication.net_oil_pressure(rng.normal(450, 30, RECORDS), rng.normal(220, 10, RECORDS)), 8.0, 83, 414)
    low, high = rng.uniform(200, 400, RECORDS), rng.uniform(1300, 1900, RECORDS)
    gas = refrigerant.dew_temperature(fluid, low) + rng.uniform(5, 25, RECORDS)
    conformity(refrigerant.superheat(fluid, low, gas), 1.5, 11.0)
    conformity(refrigerant.compression_ratio(high, low), 0.2, None, 10.0)
    for efficiency in refrigerant.EFFICIENCY:
        refrigerant.discharge_temperature(fluid, low, gas, high, efficiency)
    for limit in (107.0, 0.1, 50.0, 0.095, 0.05, 20.7, 60.0):
        conformity(rng.normal(limit, limit / 10, RECORDS), limit / 50, None, limit)


def main() -> None:
    """Print the figures."""
    record, sheets = full_record(), load_sheets()
    one = seconds(lambda: judge_readings(record, sheets), 1)
    print(f"one record, {len(record.readings)} readings: {1e3 * one:.2f} ms (to reach: 2 ms)")
    for what, its in (("all these readings", record.readings), ("none", ())):
        held = replace(record, readings=its)
        ctx = Context(held, sheets.for_model(held.unit.model), effective_unit(held, sheets))
        laws = seconds(lambda ctx=ctx: clashes(ctx), 10)
        print(f"the laws they keep together, {what}: {1e6 * laws:.0f} us, {laws / one:.1%} of judging them all")
    print(f"{RECORDS} records as arrays: {seconds(as_arrays, 1):.2f} s (to reach: 2 s)")

    from CoolProp.CoolProp import PropsSI

    fluid = fluid_of("R134a")
    compare(
        "saturation",
        seconds(lambda: refrigerant.dew_temperature(fluid, 200.6), 50),
        seconds(lambda: PropsSI("T", "P", 200.6e3, "Q", 1, "R134a"), 5),
    )
    pressures = np.linspace(60.0, 1500.0, RECORDS)
    compare(
        f"saturation of {RECORDS} pressures at once",
        seconds(lambda: refrigerant.dew_temperature(fluid, pressures), 1),
        seconds(lambda: PropsSI("T", "P", pressures * 1e3, "Q", 1, "R134a"), 1),
    )
    compare(
        "discharge temperature",
        seconds(lambda: refrigerant.discharge_temperature(fluid, 200.6, 0.0, 1016.59, 0.7), 10),
        seconds(lambda: discharge_by_coolprop(PropsSI), 2),
    )


def discharge_by_coolprop(props: Callable[..., float]) -> float:
    """h2 = h1 + (h2s - h1) / 0.7 by four calls."""
    h1, s1 = (props(what, "P", 200.6e3, "T", 273.15, "R134a") for what in ("H", "S"))
    h2s = props("H", "P", 1016.59e3, "S", s1, "R134a")
    return props("T", "P", 1016.59e3, "H", h1 + (h2s - h1) / 0.7, "R134a")


def compare(what: str, ours: float, theirs: float) -> None:
    """One line: the table's time, the library's, how many times faster."""
    print(f"{what}: table {1e6 * ours:.1f} us, CoolProp's call {1e6 * theirs:.0f} us, ratio {theirs / ours:.0f}")


if __name__ == "__main__":
    main()
