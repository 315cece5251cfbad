"""The plan of the bench: only what a machine has, every part and quantity of the record format once."""

from dataclasses import dataclass

from stripdown import vocabulary
from stripdown.knowledge import load
from stripdown.pages import bench_plan
from stripdown.record.schema import QUANTITIES


@dataclass(frozen=True)
class Machine:
    cooling: str | None = None
    motor: str | None = None
    oil_feed: str | None = None
    cylinders: int | None = None


def _asked(machine: Machine) -> set[str]:
    return {f"{p}.{c}" for p in vocabulary.parts() for c in bench_plan.conditions(p, machine)}


def _measured(machine: Machine) -> list[tuple[str, str | None]]:
    return [(m.quantity, m.between) for s in load().steps for m in bench_plan.measures(s.id, machine)]


def test_a_splash_machine_is_not_asked_for_pump_pick_up_or_gallery() -> None:
    left_out = _asked(Machine(oil_feed="pump")) - _asked(Machine(oil_feed="splash"))
    assert {f.split(".")[0] for f in left_out} == {
        "oil_pump", "oil_pickup", "oil_screen", "oil_gallery", "crankshaft", "rod_bearings",
    }  # fmt: skip
    assert "crankshaft.scored_random" in _asked(Machine(oil_feed="splash"))
    assert not {"oil_pump_pressure", "net_oil_pressure"} & {q for q, _ in _measured(Machine(oil_feed="splash"))}


def test_a_single_phase_motor_has_its_own_windings_and_no_third_line() -> None:
    points = _measured(Machine(motor="single_phase"))
    assert [b for q, b in points if q == "winding_resistance"] == ["C-S", "C-R", "S-R"] * 2
    assert not [b for _, b in points if b and "L3" in b]
    assert not {"start_timer.faulty", "supply.phase_lost", "stator.burnt_one_phase"} & _asked(
        Machine(motor="single_phase")
    )


def test_nothing_is_left_out_where_the_machine_is_not_known() -> None:
    every = {f"{p}.{c}" for p, cs in vocabulary.parts().items() for c in cs if c not in ("missing", "wrong_part")}
    assert _asked(Machine()) == every
    assert {q for q, _ in _measured(Machine())} == set(QUANTITIES)


def test_a_reading_finds_its_step_by_where_the_meter_sat() -> None:
    assert bench_plan.step_of("winding_resistance", None) == "winding_resistance"
    assert bench_plan.step_of("insulation_resistance", "terminals") == "insulation"
    assert bench_plan.step_of("insulation_resistance", "leads") == "leads"
    assert bench_plan.step_of("rod_play", None) == "bottom"
