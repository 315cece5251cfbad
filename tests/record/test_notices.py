"""What a person should know of a record that is judged all the same."""

from pathlib import Path

import pytest

from stripdown.record import Record

from .made import accepted, good, with_observations, with_reading

OIL_LOW = {"part": "oil", "condition": "low", "extent": "heavy"}


def entries(record: Record) -> list[str]:
    return [n.entry for n in record.notices]


@pytest.mark.parametrize(
    ("hours", "noticed"),
    # 2020-02-03 to 2026-01-14 are 2172 days, both ends counted 2173: 52152 h
    [(52_152, False), (52_153, True), (0, False)],
)
def test_more_hours_than_the_calendar_has(hours: float, noticed: bool) -> None:
    raw = good()
    raw["unit"]["run_hours"] = hours
    record = accepted(raw)
    assert entries(record) == (["unit.run_hours"] if noticed else [])


def test_photos_missing_or_no_image(tmp_path: Path) -> None:
    (tmp_path / "real.jpg").write_bytes(b"\xff\xd8\xff\xe0 and so on")
    (tmp_path / "text.png").write_text("not a picture")
    (tmp_path / "folder.jpg").mkdir()
    raw = with_observations(OIL_LOW | {"photo": ["real.jpg", "text.png", "none.jpg", "folder.jpg"]})
    record = accepted(raw, tmp_path)
    assert [n.what for n in record.notices] == [
        '"text.png" is not an image',
        '"none.jpg" is not there',
        '"folder.jpg" is not there',
    ]
    assert record.observations[0].photos == ("real.jpg", "text.png", "none.jpg", "folder.jpg")


@pytest.mark.parametrize(("there", "what"), [(True, "kept but not yet used"), (False, "is not there")])
def test_the_site_log(tmp_path: Path, there: bool, what: str) -> None:
    if there:
        (tmp_path / "log.csv").write_text("time,running\n")
    raw = good()
    raw["history"]["log"] = "log.csv"
    ((notice,),) = [accepted(raw, tmp_path).notices]
    assert notice.entry == "history.log"
    assert what in notice.what


def test_free_text_is_kept_without_what_cannot_be_shown() -> None:
    raw = good()
    raw["history"]["reported"] = "  line 1\r\nline 2\ttab \x07\x1b[31m{{ 7*7 }} <b>=1+1</b> \u202eabc\ud800 "
    record = accepted(raw)
    assert record.history.reported == "line 1\nline 2\ttab [31m{{ 7*7 }} <b>=1+1</b> \u202eabc"
    assert entries(record) == ["history.reported"]


def test_plain_line_ends_are_no_notice() -> None:
    raw = good()
    raw["history"]["reported"] = "line 1\r\nline 2"
    assert entries(accepted(raw)) == []


def test_inches_of_mercury_above_the_atmosphere_are_asked_about() -> None:
    assert entries(accepted(with_reading(quantity="suction_pressure", value=10, unit="inHg"))) == ["readings[1].value"]
    assert entries(accepted(with_reading(quantity="suction_pressure", value=-10, unit="inHg"))) == []
