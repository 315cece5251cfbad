"""Faults of observations: what is no part, condition or extent, cylinders, and photos that lead out."""

from pathlib import Path

import pytest

from .made import accepted, faults, with_observations

OIL_LOW = {"part": "oil", "condition": "low", "extent": "heavy"}
REED = {"part": "suction_reed", "condition": "broken", "extent": "heavy"}


@pytest.mark.parametrize(
    ("entries", "entry", "what"),
    [
        ([{"part": "oil", "condition": "low"}], "observations[1].extent", "is missing"),
        ([OIL_LOW | {"extent": "bad"}], "observations[1].extent", "is not known here"),
        ([OIL_LOW | {"part": "main_bearings"}], "observations[1].part", "is not known here"),
        ([OIL_LOW | {"condition": "cracked"}], "observations[1].condition", '"cracked" is no condition of oil'),
        ([OIL_LOW, OIL_LOW | {"extent": "none"}], "observations[2]", "stands already in observations[1]"),
        ([REED | {"cylinder": 2}, REED | {"cylinder": [1, 2]}], "observations[2]", "on cylinder 2 stands already"),
        ([REED | {"cylinder": [3, 3]}], "observations[1]", "on cylinder 3 stands already"),
        ([REED | {"cylinder": 5}], "observations[1].cylinder", "cylinder 5 of a machine with 4"),
        ([REED | {"cylinder": 0}], "observations[1].cylinder", "0 cannot be"),
        ([REED | {"cylinder": "2"}], "observations[1].cylinder", "whole number"),
        ([{"part": "crank", "condition": "turns_freely", "extent": "none"}], "observations[1].extent", "says nothing"),
        ([{"part": "pumping", "condition": "pumps", "extent": "none"}], "observations[1].extent", "says nothing"),
        (
            [{"part": "crank", "condition": "turns_freely"}, {"part": "crank", "condition": "will_not_turn"}],
            "observations[2]",
            "contradicts observations[1]",
        ),
        ([OIL_LOW | {"photo": "../x.jpg"}], "observations[1].photo", "leads out"),
        ([OIL_LOW | {"photo": ["a.jpg", "/x.jpg"]}], "observations[1].photo", "not relative"),
        ([OIL_LOW | {"photo": "a\x00.jpg"}], "observations[1].photo", "invisible"),
    ],
)
def test_an_observation_out_of_order(entries: list[dict[str, object]], entry: str, what: str) -> None:
    ((where, said, _),) = faults(with_observations(*entries))
    assert where == entry
    assert what in said


def test_conditions_that_are_there_or_not_need_no_extent() -> None:
    record = accepted(
        with_observations({"part": "crank", "condition": "turns_freely"}, {"part": "oil", "condition": "missing"})
    )
    assert [o.extent for o in record.observations] == ["heavy", "heavy"]


def test_the_last_cylinder_is_one_of_them() -> None:
    assert accepted(with_observations(REED | {"cylinder": 4})).observations[0].cylinders == (4,)


def test_one_cylinder_each_is_no_doubling() -> None:
    record = accepted(with_observations(REED | {"cylinder": 1}, REED | {"cylinder": [2, 3], "extent": "none"}))
    assert [o.cylinders for o in record.observations] == [(1,), (2, 3)]


def test_a_link_that_leads_out_is_a_fault(tmp_path: Path) -> None:
    home, outside = tmp_path / "home", tmp_path / "outside"
    home.mkdir()
    outside.mkdir()
    (home / "photos").symlink_to(outside)
    (home / "round").symlink_to(home / "round")
    for photo in ("photos/a.jpg", "round/a.jpg", "../home/a.jpg"):
        ((_, what, _),) = faults(with_observations(OIL_LOW | {"photo": photo}), home)
        assert "leads out" in what
