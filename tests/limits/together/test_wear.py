"""Gaps and plays of one rotor in one bore: worked by hand, tolerances are estimates of this project."""

from tests.limits.made import clashes, hard, reading

SOUND = ("rotor.rubbed none", "stator.rubbed none")


def gaps(top: float, bottom: float, left: float, right: float, **more: object) -> list[dict]:
    sides = {"top": top, "bottom": bottom, "left": left, "right": right}
    return [reading("rotor_air_gap", mm, "mm", between=side) | more for side, mm in sides.items()]


def play(mm: float) -> dict:
    return reading("main_bearing_play", mm, "mm")


def test_a_round_rotor_has_the_same_room_upright_as_across():
    """0.18 against 1.22 mm."""
    found = clashes(*gaps(0.08, 0.10, 0.62, 0.60))
    assert [(c.rule, c.rate, len(c.entries)) for c in found] == [("round_gap", 0.003, 4)]
    assert "0.18 mm, left and right to 1.22 mm" in found[0].why


def test_a_rotor_that_has_sunk_keeps_the_sum():
    assert not clashes(*gaps(0.60, 0.10, 0.35, 0.35))
    assert not clashes(*gaps(0.05, 0.65, 0.40, 0.30))


def test_what_varnish_and_play_explain_is_no_clash():
    """0.25 mm apart: 0.07 of feelers, 0.1 out of round, 0.1 of a sound bearing; 0.35 with 0.2 mm of play."""
    assert not clashes(*gaps(0.25, 0.25, 0.375, 0.375))
    assert hard(*gaps(0.25, 0.25, 0.40, 0.40)) == ["round_gap"]
    assert not clashes(*gaps(0.25, 0.25, 0.42, 0.42), play(0.2))


def test_a_worn_bearing_or_a_rubbed_rotor_is_not_round_in_its_bore():
    for seen in ("main_bearing.worn heavy", "rotor.rubbed slight", "stator.rubbed heavy", "rotor.loose heavy"):
        assert not clashes(*gaps(0.08, 0.10, 0.62, 0.60), seen=(seen,))


def test_four_sides_are_needed_and_read_again_after_half_a_turn():
    assert not clashes(*gaps(0.08, 0.10, 0.62, 0.60)[:3])
    assert hard(*gaps(0.1, 0.1, 0.6, 0.6), *gaps(0.08, 0.12, 0.62, 0.58)) == ["round_gap"]
    assert not clashes(*gaps(0.1, 0.1, 0.6, 0.6), *gaps(0.08, 0.12, 0.62, 0.58)[:1])


def test_more_play_than_room_has_rubbed():
    """0.94 mm of play, 0.69 mm of room."""
    found = clashes(*gaps(0.35, 0.34, 0.35, 0.35), play(0.94), seen=SOUND)
    assert [(c.rule, c.rate) for c in found] == [("play_in_gap", 0.003)]
    assert found[0].labels[-2:] == SOUND
    rubbed = ("rotor.rubbed slight", "stator.rubbed none")
    assert not clashes(*gaps(0.35, 0.34, 0.35, 0.35), play(0.94), seen=rubbed)


def test_less_play_than_room_or_no_look_for_a_rub_is_no_clash():
    assert not clashes(*gaps(0.35, 0.34, 0.35, 0.35), play(0.70), seen=SOUND)
    assert not clashes(*gaps(0.35, 0.34, 0.35, 0.35), play(0.94))
    assert not clashes(*gaps(0.35, 0.34, 0.35, 0.35), play(0.94), seen=("rotor.rubbed unreadable",))
