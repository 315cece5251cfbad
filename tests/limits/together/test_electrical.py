"""Resistances, insulation, currents and voltages that cannot all be true of one motor.

Expected from the triangle inequality of resistances between three terminals and of three phasors that sum to zero
(Kirchhoff), worked by hand; the tolerances are estimates of this project.
"""

import pytest

from tests.limits.made import clashes, hard, insulation, reading, soft, winding

PAIRS = ("U-V", "V-W", "W-U")


def three(*ohms: object, at: str = "terminals", pairs: tuple[str, ...] = PAIRS, **more: object) -> list[dict]:
    return [winding(p, o, at=at, **more) for p, o in zip(pairs, ohms, strict=True)]


def frames(*megohms: object, at: str = "terminals", **more: object) -> list[dict]:
    places = ("U-frame", "V-frame", "W-frame")
    return [insulation(m, p, at=at, **more) for p, m in zip(places, megohms, strict=True)]


def lines(*amperes: float, **more: object) -> list[dict]:
    return [reading("running_current", a, "A", between=f"L{n}", site=True, **more) for n, a in enumerate(amperes, 1)]


# Three pairs of a winding


def test_one_open_pair_of_three_closed_by_the_other_two():
    """U and V are joined through W: 0.82 + 0.83 ohm."""
    (found,) = clashes(*three("open", 0.82, 0.83), motor="star")
    assert (found.rule, found.entries) == ("three_pairs", ("readings[1]", "readings[2]", "readings[3]"))
    assert found.rate == 0.003
    assert found.labels[0] == "winding_resistance U-V at terminals open"
    assert "U-V is open although V-W and W-U are closed" in found.why


@pytest.mark.parametrize("ohms", [("open", "open", 0.82), ("open", "open", "open"), (0.8, 0.8, "short")])
def test_a_parted_phase_leaves_two_pairs_open(ohms):
    assert not clashes(*three(*ohms), motor="star")


def test_none_is_more_than_the_other_two():
    """1.9 > 0.8 + 0.8; a star of phases of 0.1, 0.1 and 0.8 ohm reads 0.2, 0.9, 0.9 and can be."""
    assert hard(*three(1.9, 0.8, 0.8), motor="star") == ["three_pairs"]
    assert not clashes(*three(0.2, 0.9, 0.9), motor="star")


def test_an_open_coil_of_a_delta_reads_the_other_two_in_series():
    """Coils of 1.2 ohm, one open: 2.4 across it, 1.2 across each other."""
    assert not clashes(*three(2.4, 1.2, 1.2), motor="delta")


def test_what_probes_and_drift_explain_is_no_clash():
    """1.75 against 1.60 ohm: 0.05 of contact, 0.08 of drift, the rest of a meter of 0.5 % + 0.02 ohm."""
    assert not clashes(*three(1.75, 0.8, 0.8), motor="star")
    assert hard(*three(1.85, 0.8, 0.8), motor="star")


def test_pairs_read_cold_and_warm_are_brought_to_one_temperature():
    """Copper of 1.00 ohm at 20 degC has 1.31 at 100 degC (234.5 + 100 over 234.5 + 20)."""
    cold, warm = {"temperature": 20}, {"temperature": 100}
    mixed = [winding("U-V", 2.60) | warm, winding("V-W", 1.0) | cold, winding("W-U", 1.0) | cold]
    assert not clashes(*mixed, motor="star")


def test_a_winding_that_opens_when_warm_is_two_states():
    cold = three(0.8, 0.8, 0.8, temperature=20)
    warm = three("open", "open", 1.0, temperature=90)
    assert not clashes(*cold, *warm, motor="star")
    assert hard(*cold, *three("open", 1.0, 1.0, temperature=90), motor="star") == ["three_pairs"]


def test_other_place_and_other_moment_are_not_held_together():
    """An open pair at the plate is no clash with two closed ones behind it."""
    apart = [*three("open", "open", 0.8), *three(0.8, 0.8, 0.8, at="leads")]
    assert not clashes(*apart, motor="star")
    times = [f"2026-02-03T{h}:00:00" for h in ("08", "12", "16")]
    assert not clashes(*(r | {"time": t} for r, t in zip(three("open", 0.8, 0.8), times, strict=True)), motor="star")


def test_coils_of_a_delta_read_by_themselves_are_only_told():
    """With its links out each of six leads ends a coil of its own: one may be open."""
    assert soft(*three("open", 1.6, 1.6, at="leads"), motor="delta") == ["three_pairs"]
    assert hard(*three("open", 1.6, 1.6, at="terminals"), motor="delta") == ["three_pairs"]
    assert soft(*three("open", 1.6, 1.6, at="leads")) == ["three_pairs"]


def test_each_half_of_a_part_winding_is_by_itself():
    first, second = ("1U-1V", "1V-1W", "1W-1U"), ("2U-2V", "2V-2W", "2W-2U")
    good = three(0.6, 0.6, 0.6, pairs=second)
    assert hard(*three("open", 0.6, 0.6, pairs=first), *good, motor="part_winding") == ["three_pairs"]
    assert not clashes(*three("open", "open", "open", pairs=first), *good, motor="part_winding")


SINGLE = ("S-R", "C-S", "C-R")


def test_start_and_run_in_series():
    """3.5 = 2.6 + 0.9 ohm. 6 is more than both together; 2.6 with C-S and C-R of 3.5 and 0.9 is a swapped label."""
    assert not clashes(*three(3.5, 2.6, 0.9, pairs=SINGLE), motor="single_phase")
    assert hard(*three(6.0, 2.6, 0.9, pairs=SINGLE), motor="single_phase") == ["three_pairs"]
    assert soft(*three(2.6, 3.5, 0.9, pairs=SINGLE), motor="single_phase") == ["three_pairs"]
    assert hard(*three("open", 2.6, 0.9, pairs=SINGLE), motor="single_phase") == ["three_pairs"]
    assert not clashes(*three("open", "open", 0.9, pairs=SINGLE), motor="single_phase")  # the start winding is open


# Insulation


def test_one_phase_earthed_and_its_neighbour_clear_through_a_closed_pair():
    found = clashes(*frames("short", 640, 590), *three(0.74, 0.75, 0.74), motor="star")
    assert [c.rule for c in found] == ["joined_insulation"]
    assert found[0].entries == ("readings[1]", "readings[2]", "readings[4]")


def test_a_phase_that_has_parted_may_lie_on_the_frame_alone():
    assert not clashes(*frames("short", 710, 680), *three("open", 0.88, "open"), motor="star")


def test_two_closed_pairs_join_the_ends_of_the_third():
    pairs = [winding("V-W", 0.8), winding("W-U", 0.8)]
    assert hard(*frames("short", 640, 590)[:2], *pairs, motor="star") == ["joined_insulation"]


def test_links_taken_out_of_a_delta_part_its_phases():
    assert soft(*frames("short", 640, 590), *three(1.6, 1.6, 1.6), motor="delta") == ["joined_insulation"]
    assert not clashes(*frames("short", 640, 590), motor="star")  # no pair was read: it may have parted


def test_closed_pairs_at_another_place_say_nothing():
    assert not clashes(*frames("short", 640, 590, at="leads"), *three(0.74, 0.75, 0.74), motor="star")


def test_all_together_is_no_better_than_each_alone():
    found = clashes(*frames(0.03, 0.03, 0.03), insulation(910), motor="delta")
    assert [(c.rule, c.rate) for c in found] == [("joined_insulation", 0.003)]
    assert "all-frame is clear although U-frame, V-frame, W-frame alone is not" in found[0].why
    assert hard(insulation("open"), insulation("short", "1-frame"), motor="part_winding") == ["joined_insulation"]


def test_all_together_is_no_worse_than_a_third_of_the_worst():
    assert hard(*frames(300, 320, 310), insulation("short"), motor="star") == ["joined_insulation"]
    assert not clashes(*frames(300, 320, 310), insulation(100), motor="star")
    assert not clashes(*frames(300, 320, 310)[:2], insulation("short"), motor="star")  # W was not read


def test_without_a_place_the_plate_may_have_been_between():
    """First at the terminals, 0.02 Mohm; then with the plate out: nobody wrote down which."""
    nowhere = [r | {"at": None} for r in (*frames(300, 320, 310), insulation("short"))]
    nowhere = [{k: v for k, v in r.items() if v is not None} for r in nowhere]
    assert soft(*nowhere, motor="star") == ["joined_insulation"]


def test_a_poor_phase_is_only_told():
    """0.4 Mohm is damp or dirt, which may go between two tests."""
    assert soft(*frames(0.4, 60, 60), insulation(60), motor="delta") == ["joined_insulation"]
    assert not clashes(*frames(2, 60, 60), insulation(60), motor="delta")


def test_states_of_one_insulation_are_no_clash():
    """Clear at 50 V and broken down at 1000 V; damp when cold and clear once warmed; in gas and in air."""
    every = insulation(900)
    assert not clashes(insulation(0.02, "U-frame", test_voltage=1000), every | {"test_voltage": 50})
    assert hard(insulation(0.02, "U-frame", test_voltage=50), every | {"test_voltage": 1000})
    assert not clashes(insulation(0.02, "U-frame", temperature=10), every | {"temperature": 60})
    assert not clashes(insulation(0.02, "U-frame", gas="refrigerant"), every | {"gas": "nitrogen"})
    assert not clashes(insulation(0.02, "U-frame", at="leads"), every)
    dried = [insulation(0.02, "all-frame", temperature=10), insulation(0.02, "U-frame", temperature=10)]
    assert not clashes(*dried, every | {"temperature": 12})


# Lines


def test_no_line_carries_more_than_the_other_two():
    """41 against 6 + 5 A; with a clear winding nothing goes to earth."""
    assert hard(*lines(41, 6, 5), insulation(620), motor="delta") == ["line_currents"]
    assert soft(*lines(41, 6, 5), motor="delta") == ["line_currents"]
    assert not clashes(*lines(41, 6, 5), insulation("short"), motor="delta")
    assert not clashes(*lines(41, 6, 5)[:2], insulation(620), motor="delta")
    assert soft(*lines(41, 6, 5), insulation(620), motor="delta", inverter=True) == ["line_currents"]
    assert soft(*lines(41, 6, 5), insulation(620), motor="part_winding") == ["line_currents"]


@pytest.mark.parametrize("amperes", [(38, 36, 0), (45, 36, 0), (24, 14, 12), (22, 22, 22), (0, 0, 0)])
def test_single_phasing_and_unbalance_are_no_clash(amperes):
    assert not clashes(*lines(*amperes), insulation(620), motor="star")


def test_lines_of_three_moments_are_not_one():
    times = [f"2026-02-03T{h}:00:00" for h in ("08", "12", "16")]
    apart = [r | {"time": t} for r, t in zip(lines(41, 6, 5), times, strict=True)]
    assert not clashes(*apart, insulation(620), motor="star")


def volts(*values: float) -> list[dict]:
    places = ("L1-L2", "L2-L3", "L3-L1")
    return [reading("supply_voltage", v, "V", between=p, site=True) for p, v in zip(places, values, strict=True)]


def test_voltages_are_only_told_because_a_dead_line_floats():
    assert soft(*volts(400, 120, 90)) == ["line_voltages"]
    assert not clashes(*volts(400, 200, 200))  # a dead line in the middle of two
    assert not clashes(*volts(402, 380, 396))
