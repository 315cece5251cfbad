"""What was seen on a part against what was read of it: common practice, no source.

The model K4-150 has a limit of 95 um for the motor-end bearing and four cylinders, head bolts at 60 N·m within 30 %,
nuts at 14 N·m, a heater of 230 V and 100 W (529 ohm). Without a sheet a bearing is worn from 105 um on, 25 um more
than new, and heavily worn 75 um more; a pin passes below 25 um. Instruments: 5 um, pins 10 um.
"""

from pathlib import Path

import pytest

from stripdown.limits import judge_readings, load_sheets
from tests.limits.made import SHEETS, clashes, hard, observation, reading, record, soft

K4 = {"model": "K4-150"}
RODS = tuple(f"rod_bearings.worn_{how}" for how in ("uniform", "random", "progressive"))
JOURNALS = tuple(f"crankshaft.scored_{how}" for how in ("uniform", "random", "progressive"))
SOUND = tuple(f"{x} none" for x in (*RODS, *JOURNALS))


def play(um: float, of: str = "main_bearing", **more: object) -> dict:
    return reading(f"{of}_play", um, "um", **more)


def rods(*um: float, **more: object) -> list[dict]:
    return [reading("rod_play", x, "um", cylinder=n) | more for n, x in enumerate(um, 1)]


def drops(*um: float, **more: object) -> list[dict]:
    return [reading("wrist_pin_drop", x, "um", cylinder=n) | more for n, x in enumerate(um, 1)]


def found(*readings: dict, at: dict[str, int | list[int]], seen: tuple[str, ...] = (), **unit: object):
    """What cannot be true of a record with these entries at cylinders, and others without."""
    raw = [observation(s) | {"cylinder": c} for s, c in at.items()]
    made = record(*readings, seen=seen, observations=raw, **unit)
    return [(c.rule, c.rate is not None) for c in judge_readings(made, SHEETS)[2]]


# Worn, and tight


def test_a_bearing_worn_heavily_has_play():
    (clash,) = clashes(play(50), seen=("main_bearing.worn heavy",), **K4)
    assert (clash.rule, clash.rate) == ("worn_and_tight", 0.003)
    assert clash.labels == ("main_bearing.worn heavy", "main_bearing_play 50 um")
    assert clash.why.endswith("the main bearing is said to be worn heavily, and the play read is 0.050 mm")
    assert "dry of oil" in clash.fix


@pytest.mark.parametrize("part", ["main_bearing", "centre_bearing", "pump_end_bearing"])
def test_every_bearing_is_held_against_its_own_play(part):
    others = {"main_bearing", "centre_bearing", "pump_end_bearing"} - {part}
    assert hard(play(45, part), seen=(f"{part}.worn heavy",)) == ["worn_and_tight"]
    assert not clashes(*(play(45, p) for p in others), seen=(f"{part}.worn heavy",))


@pytest.mark.parametrize(
    "seen",
    [
        ("main_bearing.worn slight",),
        ("main_bearing.worn none",),
        ("main_bearing.worn heavy", "main_bearing.copper_plated slight"),
        ("main_bearing.worn heavy", "crankshaft.copper_plated heavy"),
        ("main_bearing.worn heavy", "main_bearing.seized heavy"),
    ],
)
def test_slight_wear_plated_copper_and_a_seizure_leave_no_play(seen):
    assert not clashes(play(50), seen=seen, **K4)


def test_a_play_near_its_limit_or_beyond_says_nothing():
    """95 um: 92 is open, 8.7 um of three standard uncertainties below 105 and 20 below 95."""
    for um in (92, 96, 160, 440):
        assert not clashes(play(um), seen=("main_bearing.worn heavy",), **K4)
    assert not clashes(play(50, site=True), seen=("main_bearing.worn heavy",), **K4)


def test_by_the_limits_of_the_class_only_what_no_heavy_wear_leaves():
    """Heavy wear adds 75 um to whatever the clearance was: three times 4.3 um below that are 62 um."""
    heavy = ("main_bearing.worn heavy",)
    assert hard(play(60), seen=heavy) == ["worn_and_tight"]
    assert soft(play(70), seen=heavy) == ["worn_and_tight"]
    assert soft(play(85), seen=heavy) == ["worn_and_tight"]
    assert not clashes(play(101), seen=heavy)


@pytest.mark.parametrize(
    ("machine", "um", "clash"),
    [
        ('journals = {main_bearing_play = 100}\nbearing_metal = "aluminium"', 150, True),
        ('journals = {main_bearing_play = 100}\nbearing_metal = "aluminium"', 230, False),
        ("journals = {main_bearing_play = 20}", 25, True),
        ("journals = {main_bearing_play = 20}", 50, False),
    ],
)
def test_the_size_of_the_journal_says_what_is_tight(machine: str, um: float, clash: bool, tmp_path: Path):
    """Largest new clearance of 100 mm in aluminium 200 um, of 20 mm in shells 15 um; worn 25 um more."""
    sheet = f'model = "J-1"\nsource = "made for this test"\nissue = "1"\n[machine]\n{machine}\n'
    (tmp_path / "j.toml").write_text(sheet, encoding="utf-8")
    made = record(play(um), seen=("main_bearing.worn heavy",), model="J-1")
    told = judge_readings(made, load_sheets(tmp_path))[2]
    assert [c.rate for c in told] == [0.003] * clash


def test_rods_worn_alike_are_none_of_them_tight():
    """By the class: a play of 55 um is that of no rod worn heavily."""
    heavy = ("rod_bearings.worn_uniform heavy",)
    assert hard(*rods(55, 50, 52, 55), seen=heavy) == ["worn_and_tight"]
    assert hard(*rods(55, 50), seen=heavy) == ["worn_and_tight"]
    assert not clashes(*rods(55, 190), seen=heavy)
    for metal in ("crankshaft.rod_metal_smeared slight", "connecting_rod.seized heavy"):
        assert not clashes(*rods(55, 50), seen=(*heavy, metal))


def test_of_rods_worn_at_random_those_named_are_not_tight():
    assert found(*rods(50, 210, 52), at={"rod_bearings.worn_random heavy": 3}) == [("worn_and_tight", True)]
    assert not found(*rods(50, 210, 52), at={"rod_bearings.worn_random heavy": 2})
    assert not found(*rods(50), at={"rod_bearings.worn_random heavy": [2, 3]})


def test_where_no_cylinder_is_named_all_must_have_been_read():
    heavy = ("rod_bearings.worn_random heavy",)
    assert hard(*rods(50, 52, 51, 50), seen=heavy, cylinders=4) == ["worn_and_tight"]
    assert not clashes(*rods(50, 52, 51), seen=heavy, cylinders=4)
    assert not clashes(*rods(50, 52, 51, 50), seen=heavy)
    assert not clashes(*rods(50, 52, 200, 50), seen=heavy, cylinders=4)


def test_wear_that_grows_towards_the_motor_end_has_reached_its_last_rod():
    """Cylinders are numbered from the pump end."""
    heavy = ("rod_bearings.worn_progressive heavy",)
    assert hard(*rods(330, 210, 115, 55), seen=heavy, cylinders=4) == ["worn_and_tight"]
    assert not clashes(*rods(55, 60, 115, 330), seen=heavy, cylinders=4)
    assert not clashes(*rods(55, 60), seen=heavy, cylinders=4)


@pytest.mark.parametrize("condition", ["drops", "worn"])
def test_a_pin_that_drops_is_felt_at_its_own_cylinder(condition):
    said = {f"wrist_pin.{condition} heavy": 2}
    assert found(*drops(160, 8), at=said) == [("worn_and_tight", True)]
    assert not found(*drops(8, 160), at=said)
    assert not found(*drops(8, 8), at=said, seen=("wrist_pin.seized heavy",))


def test_a_drop_that_is_the_big_end_was_felt_all_the_same():
    """90 um at the crown less 80 um of rod play: the pin passes, and whoever felt it wrote what was felt."""
    assert not found(*drops(90), *rods(80), at={"wrist_pin.drops heavy": 1})


# In pieces, and tight


@pytest.mark.parametrize("finding", ["connecting_rod.broken", "piston.broken"])
def test_no_pin_is_tested_on_a_rod_or_piston_in_pieces(finding):
    assert found(*drops(5, 160, 8), at={f"{finding} heavy": [1, 3]}) == [("broken_and_tight", True)]
    assert not found(*drops(5, 160, 8), at={f"{finding} heavy": 2})
    assert not found(*drops(5, 160, 8), at={f"{finding} slight": 1})
    assert not found(*drops(5), at={f"{finding} heavy": 3})


def test_a_broken_rod_has_no_play_of_a_new_one():
    assert found(*rods(50, 52), at={"connecting_rod.broken heavy": 2}) == [("broken_and_tight", True)]
    assert not found(*rods(50, 400), at={"connecting_rod.broken heavy": 2})
    assert not found(*rods(50, 52), at={"piston.broken heavy": 2})
    seized = ("connecting_rod.seized heavy",)  # its metal takes up the play of what is left on the journal
    assert not found(*rods(50, 52), at={"connecting_rod.broken heavy": 2}, seen=seized)


# Failed, and whole


def test_a_heater_that_is_open_has_no_resistance():
    """230 V, 100 W: 529 ohm, 10 % either way."""
    said = ("crankcase_heater.open_circuit heavy",)
    assert hard(reading("heater_resistance", 530, "ohm"), seen=said, **K4) == ["failed_and_whole"]
    assert hard(reading("heater_resistance", 800, "ohm"), seen=said) == ["failed_and_whole"]
    for read in ("open", 40_000):
        assert not clashes(reading("heater_resistance", read, "ohm"), seen=said)
    assert not clashes(reading("heater_resistance", 300, "ohm"), seen=said, **K4)
    assert not clashes(reading("heater_resistance", 530, "ohm"), seen=("crankcase_heater.not_powered heavy",), **K4)
    assert not clashes(reading("heater_resistance", 530, "ohm", site=True), seen=said, **K4)


def sensors(*ohms: object) -> list[dict]:
    return [reading("sensor_resistance", o, "ohm", between=f"common-{n}") for n, o in enumerate(ohms, 1)]


def test_a_damaged_sensor_does_not_read_like_a_cold_sound_one():
    """Up to 250 ohm: DIN 44081 (from memory)."""
    said = ("motor_sensor.damaged heavy",)
    assert hard(*sensors(95, 97, 96), seen=said, **K4) == ["failed_and_whole"]
    assert hard(*sensors(95, 97, 96), seen=said) == ["failed_and_whole"]
    for read in ((95, "open", 96), (95, 97), (95, 97, 4), (95, 97, 900)):
        assert not clashes(*sensors(*read), seen=said)
    assert not clashes(*sensors(95, 97, 96), seen=("motor_sensor.damaged slight",), **K4)


def test_a_lead_that_broke_after_the_reading_is_only_told():
    assert soft(*sensors(95, 97, 96), seen=("motor_sensor.lead_broken heavy",), **K4) == ["torn_sensors"]


# Loose, and tight


def torques(quantity: str, *newton_metres: float, numbered: bool = True) -> list[dict]:
    return [reading(quantity, x, "N·m") | ({"cylinder": n} if numbered else {}) for n, x in enumerate(newton_metres, 1)]


def test_head_bolts_loose_everywhere_hold_no_torque():
    """60 N·m within 30 %: 42 to 78."""
    said = ("head_bolts.loose heavy",)
    assert hard(*torques("head_bolt_torque", 58, 60, 61, 59), seen=said, **K4) == ["loose_and_tight"]
    assert not clashes(*torques("head_bolt_torque", 58, 60, 61, 21), seen=said, **K4)
    assert not clashes(*torques("head_bolt_torque", 58, 60, 61), seen=said, **K4)
    assert not clashes(*torques("head_bolt_torque", 58, 60, 61, 59, numbered=False), seen=said, **K4)
    assert not clashes(*torques("head_bolt_torque", 58, 60, 61, 59), seen=said)  # no torque of this model is known
    of_one = {"head_bolts.loose heavy": 2}
    assert not found(*torques("head_bolt_torque", 58, 60, 61, 59), at=of_one, **K4)


def test_backer_bolts_backed_out_everywhere_hold_no_torque():
    """9 N·m within 30 %."""
    backers = torques("backer_bolt_torque", 9, 8.5, 9, 9.4)
    assert found(*backers, at={"backer_bolts.backed_out heavy": [1, 2, 3, 4]}, **K4) == [("loose_and_tight", True)]


def test_every_stud_must_hold():
    said = ("terminal_nuts.loose heavy",)
    nuts = torques("terminal_nut_torque", 14, 13.5, 14.5, numbered=False)
    assert hard(*nuts, seen=said, **K4) == ["loose_and_tight"]
    assert not clashes(*nuts[:2], seen=said, **K4)
    assert not clashes(*nuts, seen=said, motor="delta", **K4)
    assert not clashes(*nuts[:2], *torques("terminal_nut_torque", 4, numbered=False), seen=said, **K4)


# Smeared, and sound


def test_rod_metal_on_a_journal_is_from_a_rod():
    said = {"crankshaft.rod_metal_smeared heavy": 2}
    sound = SOUND
    assert found(*rods(50, 55), at=said, seen=sound) == [("smeared_and_sound", True)]
    assert not found(*rods(50, 210), at=said, seen=sound)
    assert not found(*rods(50), at=said, seen=sound)
    for few in (sound[:1] + sound[3:], sound[:3], sound[3:]):
        assert not found(*rods(50, 55), at=said, seen=few)
    assert found(*rods(50, 55), at=said, seen=sound[1:4]) == [("smeared_and_sound", True)]
    for left in (*RODS, *JOURNALS):
        worn = (*(s for s in sound if left not in s), f"{left} slight")
        assert not found(*rods(50, 55), at=said, seen=worn)
    for there in ("connecting_rod.seized slight", "connecting_rod.broken heavy"):
        assert not found(*rods(50, 55), at=said, seen=(*sound, there))
    assert not found(*rods(50, 55), at={"crankshaft.rod_metal_smeared slight": 2}, seen=sound)


def test_rods_that_are_sound_elsewhere_say_nothing_of_this_one():
    elsewhere = {f"{s.split()[0]} none": 1 for s in SOUND}
    here = dict.fromkeys(elsewhere, 2)
    said = {"crankshaft.rod_metal_smeared heavy": 2}
    assert not found(*rods(50, 55), at=said | elsewhere)
    assert found(*rods(50, 55), at=said | here) == [("smeared_and_sound", True)]


# Rubbed, and even

SPOT = ("rotor.rubbed heavy", "stator.rubbed heavy", "stator.burnt_spot heavy")


def gaps(*mm: float) -> list[dict]:
    return [
        reading("rotor_air_gap", g, "mm", between=s)
        for g, s in zip(mm, ("top", "bottom", "left", "right"), strict=True)
    ]


def test_a_rub_in_an_even_gap_asks_what_rubbed():
    even = gaps(0.36, 0.35, 0.355, 0.355)
    assert soft(*even, play(55), seen=SPOT) == ["rubbed_and_even"]
    assert soft(*even, play(55), seen=("stator.rubbed heavy", "motor_chamber.metal_debris slight")) == [
        "rubbed_and_even"
    ]
    assert not clashes(*even, play(55), seen=SPOT[:2])  # an exclusion, which the reasoning tells
    assert not clashes(*even, play(430), seen=SPOT)
    assert not clashes(*even, seen=SPOT)
    assert not clashes(*gaps(0.63, 0.16, 0.4, 0.39), play(55), seen=SPOT)
    assert not clashes(*even[:3], play(55), seen=SPOT)
    for why in (
        "rotor.loose slight",
        "crankshaft.broken heavy",
        "main_bearing.worn slight",
        "main_bearing.seized heavy",
    ):
        assert not clashes(*even, play(55), seen=(*SPOT, why))
