"""Plays, gaps, torques, pumping, counts. Expected values by hand."""

import pytest

from tests.limits.made import by_rule, judged, one, reading

FINE = {"accuracy": "1"}


@pytest.mark.parametrize("quantity", ["main_bearing_play", "centre_bearing_play", "pump_end_bearing_play", "rod_play"])
@pytest.mark.parametrize(
    ("um", "verdict", "tier"),
    [(60, "within", None), (90, "within", "notice"), (130, "outside", "limit"), (300, "outside", "danger")],
)
def test_play_of_the_class(quantity, um, verdict, tier):
    """New up to 80 um, worn 25 more, heavily worn 75 more (estimate)."""
    found = one(quantity, reading(quantity, um, "um", **FINE))
    assert (found.verdict, found.tier) == (verdict, tier)
    assert found.judged == pytest.approx(um / 1000)


def test_play_of_a_sheet():
    """Sheet of this model: limit 95 um."""
    assert one("main_bearing_play", reading("main_bearing_play", 99, "um", **FINE), model="K4-150").verdict == "outside"
    assert one("main_bearing_play", reading("main_bearing_play", 99, "um", **FINE)).verdict == "within"


@pytest.mark.parametrize(("um", "verdict"), [(10, "within"), (35, "open"), (90, "outside")])
def test_wrist_pin_drop(um, verdict):
    """Below 25 um passes, above 50 um fails, open between (estimate)."""
    assert one("wrist_pin_drop", reading("wrist_pin_drop", um, "um", cylinder=2, **FINE)).verdict == verdict


def test_rod_play_of_the_same_cylinder_is_taken_off():
    drop = reading("wrist_pin_drop", 90, "um", cylinder=2, **FINE)
    same = one("wrist_pin_drop", drop, reading("rod_play", 80, "um", cylinder=2, **FINE))
    other = one("wrist_pin_drop", drop, reading("rod_play", 80, "um", cylinder=3, **FINE))
    assert same.judged == pytest.approx(0.010)
    assert (same.verdict, other.verdict) == ("within", "outside")
    assert same.corrected is not None
    assert same.corrected.corrections == ("less rod play",)
    assert "not read" in (other.remark or "")


def gaps(*mm: float) -> list[dict[str, object]]:
    sides = ("top", "bottom", "left", "right")
    return [reading("rotor_air_gap", v, "mm", between=s) for s, v in zip(sides, mm, strict=False)]


def test_air_gap_is_a_share_of_the_mean():
    """0.45, 0.15, 0.30, 0.30: mean 0.30, the smallest is half of it."""
    found = by_rule("air_gap", *gaps(0.45, 0.15, 0.30, 0.30))
    assert [j.judged for j in found] == pytest.approx([1.5, 0.5, 1.0, 1.0])
    assert [j.tier for j in found] == [None, "limit", None, None]


def test_one_air_gap_alone_says_nothing():
    assert judged(*gaps(0.2))[0].verdict == "no_limit"


def test_torque_of_the_sheet_and_without():
    """Sheet of this model: 40 N·m, 70 to 130 %."""
    bolt = reading("head_bolt_torque", 14, "N·m")
    found = one("head_bolt_torque", bolt, model="T3-075")
    assert found.limits() == pytest.approx((28.0, 52.0))
    assert found.verdict == "outside"
    pair = judged(bolt, reading("head_bolt_torque", 42, "N·m"))
    assert [j.verdict for j in pair] == ["no_limit", "no_limit"]
    assert "-50 % from the mean of 2 bolts" in (pair[0].remark or "")


@pytest.mark.parametrize(("inches", "verdict"), [(26, "within"), (22, "open"), (15, "outside")])
def test_pull_down(inches, verdict):
    """US Army TM 55-1930-209-14P-15: 24 inHg is good; below 20 bad (estimate)."""
    found = one("pull_down", reading("vacuum_pull_down", inches, "inHg"), history={"altitude": 0})
    assert found.verdict == verdict
    assert found.judged == pytest.approx(101.325 - inches * 3.386389, abs=1e-3)


@pytest.mark.parametrize("inches", [24.5, 25, 26, 28])
def test_a_good_vacuum_is_no_less_sure_without_an_altitude(inches):
    """Height only lowers the air that the gauge counts down from, so the true pressure can only be better."""
    vacuum = reading("vacuum_pull_down", inches, "inHg")
    unknown, at_sea_level = one("pull_down", vacuum), one("pull_down", vacuum, history={"altitude": 0})
    assert unknown.probability_within == at_sea_level.probability_within
    assert unknown.judged_uncertainty == at_sea_level.judged_uncertainty
    assert "where it is worst" in (unknown.remark or "")


@pytest.mark.parametrize("inches", [23, 20, 19, 18])
def test_a_poor_vacuum_is_less_sure_without_an_altitude(inches):
    """On a mountain the same inches would be good: 20 inHg at 1500 m are, see below."""
    vacuum = reading("vacuum_pull_down", inches, "inHg")
    unknown, at_sea_level = one("pull_down", vacuum), one("pull_down", vacuum, history={"altitude": 0})
    assert unknown.probability_within > at_sea_level.probability_within


def test_a_good_vacuum_passes_without_an_altitude():
    assert one("pull_down", reading("vacuum_pull_down", 26, "inHg")).verdict == "within"


def test_inches_fall_with_altitude():
    """ISO 2533: 84.56 kPa at 1500 m; 20 inHg there is 84.56 - 67.73 = 16.83 kPa absolute, better than 24 at sea
    level."""
    found = one("pull_down", reading("vacuum_pull_down", 20, "inHg"), history={"altitude": 1500})
    assert found.judged == pytest.approx(16.83, abs=0.02)
    assert found.verdict == "within"


@pytest.mark.parametrize(("rate", "verdict"), [(1, "within"), (3, "open"), (6, "outside")])
def test_leak_back(rate, verdict):
    assert one("leak_back", reading("leak_back_rate", rate, "psi/min")).verdict == verdict


@pytest.mark.parametrize(("micron", "verdict"), [(300, "within"), (500, "open"), (1000, "outside")])
def test_evacuation(micron, verdict):
    """67 Pa, about 500 micron."""
    assert one("evacuation", reading("evacuation_vacuum", micron, "micron")).verdict == verdict


@pytest.mark.parametrize(("starts", "verdict"), [(3, "within"), (8, "within"), (9, "outside")])
def test_starts_are_counted_exactly(starts, verdict):
    assert one("starts_per_hour", reading("starts_per_hour", starts, "1/h")).verdict == verdict


@pytest.mark.parametrize(("mm", "tier"), [(0.4, None), (1.4, "notice"), (0.05, "notice")])
def test_end_float_is_normal(mm, tier):
    (found,) = judged(reading("crankshaft_end_float", mm, "mm"))
    assert (found.rule, found.verdict, found.tier) == (None, "no_limit", tier)
