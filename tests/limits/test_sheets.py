"""Limit sheets that a workshop writes: what is read, and every fault at once with where and what would be right."""

import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stripdown.limits import load_sheets
from stripdown.limits.load import _SHIPPED
from stripdown.limits.parse import parse_sheet
from stripdown.limits.sheet import RULES
from stripdown.record import RecordError
from tests.limits.made import judged, reading

GOOD = """
model = "Z9-1"
source = "maker's sheet"
issue = "7"
[machine]
motor = "delta"
cylinders = 2
oil_charge = {value = 1, unit = "gal"}
heater = {voltage = 230, power = 50}
journals = {main_bearing_play = 60}
[limits.net_oil_pressure]
unit = "bar"
limit = {low = 1, high = 4}
[limits.winding_value]
unit = "ohm"
nominal = {U-V = 1.0, V-W = 1.1}
tolerance = 5
[limits.head_bolt_torque]
unit = "lbf·ft"
nominal = 50
tolerance = 10
source = "service letter"
issue = "2"
[limits.pull_down]
unit = "inHg"
limit = {low = 25}
[notes]
relief_set = "28 bar"
"""


def folder(tmp_path, **files):
    for name, text in files.items():
        (tmp_path / f"{name}.toml").write_text(text, encoding="utf-8")
    return tmp_path


def faults(tmp_path, text):
    with pytest.raises(RecordError) as caught:
        load_sheets(folder(tmp_path, sheet=text))
    return {f.entry: f for f in caught.value.faults}


def test_a_good_sheet_in_base_units(tmp_path):
    sheets = load_sheets(folder(tmp_path, z=GOOD))
    sheet = sheets.for_model("z9-1")
    assert sheet.known
    assert sheet.name == "limit sheet Z9-1, issue 7"
    assert sheet.machine.oil_charge == pytest.approx(3.785412)
    limit = sheet.limit("net_oil_pressure")
    assert limit is not None
    assert limit.limits == pytest.approx((100.0, 400.0))
    assert limit.source == "limit sheet Z9-1, issue 7: maker's sheet"
    bolt = sheet.limit("head_bolt_torque")
    assert bolt is not None
    assert bolt.limits == pytest.approx((45 * 1.355818, 55 * 1.355818), rel=1e-6)
    assert bolt.source == "limit sheet Z9-1, issue 7: service letter, issue 2"
    vacuum = sheet.limit("pull_down")
    assert vacuum is not None
    assert vacuum.limits == (None, pytest.approx(101.325 - 25 * 3.386389, abs=1e-3))
    assert sheet.own is not None
    assert sheet.own.notes == {"relief_set": "28 bar"}


def test_nominal_values_by_place(tmp_path):
    sheet = load_sheets(folder(tmp_path, z=GOOD)).for_model("Z9-1")
    first, second = sheet.limit("winding_value", "U-V"), sheet.limit("winding_value", "V-W")
    assert first is not None
    assert second is not None
    assert first.limits == pytest.approx((0.95, 1.05))
    assert second.limits == pytest.approx((1.045, 1.155))
    assert sheet.limit("winding_value", "W-U") is None


def test_where_the_sheet_is_silent_the_class_speaks(tmp_path):
    sheet = load_sheets(folder(tmp_path, z=GOOD)).for_model("Z9-1")
    limit = sheet.limit("leak_back")
    assert limit is not None
    assert limit.is_class
    assert limit.source.startswith("class limit")


def test_bearing_play_by_the_journal_of_the_sheet(tmp_path):
    """60 mm in shells: 45 um new, worn at 70."""
    sheets = load_sheets(folder(tmp_path, z=GOOD))
    (found,) = judged(reading("main_bearing_play", 90, "um", accuracy="1"), sheets=sheets, model="Z9-1")
    assert found.limits() == (None, pytest.approx(0.070))
    assert found.verdict == "outside"


def test_own_sheet_stands_before_ours(tmp_path):
    own = load_sheets(folder(tmp_path, own=GOOD.replace("Z9-1", "K4-150"))).for_model("K4-150")
    assert own.name == "limit sheet K4-150, issue 7"
    assert load_sheets().for_model("K4-150").name == "limit sheet K4-150, issue 3"


def test_own_class_sheet_stands_before_ours(tmp_path):
    text = (
        'class = true\nsource = "house rule"\nissue = "1"\n[limits.leak_back]\nunit = "psi/min"\nlimit = {high = 2}\n'
    )
    sheet = load_sheets(folder(tmp_path, house=text)).for_model("anything")
    limit = sheet.limit("leak_back")
    assert limit is not None
    assert limit.source == "class limit: house rule"
    assert sheet.limit("oil_acid") is not None


def test_shipped_sheets_state_source_and_issue():
    sheets = load_sheets()
    assert {"k4-150", "k6-220", "t3-075", "m8-400"} <= set(sheets.models)
    for file in (*sheets.models.values(), *sheets.class_files):
        assert file.source
        assert file.issue
        for limits in file.limits.values():
            assert all(limit.source for limit in limits)
    assert len(list(_SHIPPED.glob("*.toml"))) == len(sheets.models) + 1


@pytest.mark.parametrize(
    ("old", "new", "entry", "fix"),
    [
        ('model = "Z9-1"', "", "model", "write either model"),
        ('model = "Z9-1"', 'model = "Z9-1"\nclass = true', "model", "write either model"),
        ('source = "maker\'s sheet"', "", "source", "write source"),
        ('issue = "7"', "", "issue", "write issue"),
        ('issue = "7"', "issue = 7", "issue", "write text"),
        ("[limits.net_oil_pressure]", "[limits.net_oil_presure]", "limits.net_oil_presure", "write net_oil_pressure"),
        ('unit = "bar"', 'unit = "ohm"', "limits.net_oil_pressure.unit", "psi"),
        ('unit = "bar"', "", "limits.net_oil_pressure.unit", 'unit = "kPa"'),
        ("{low = 1, high = 4}", "{low = 4, high = 1}", "limits.net_oil_pressure.limit", "change the two"),
        ("{low = 1, high = 4}", "{lo = 1}", "limits.net_oil_pressure.limit.lo", "low"),
        ("{low = 1, high = 4}", "{}", "limits.net_oil_pressure.limit", "low"),
        ("{low = 1, high = 4}", "3", "limits.net_oil_pressure.limit", "write a table"),
        ("{low = 1, high = 4}", "{low = nan}", "limits.net_oil_pressure.limit.low", "write a number"),
        ("limit = {low = 1, high = 4}", "", "limits.net_oil_pressure", "write notice"),
        ("tolerance = 5", "", "limits.winding_value.tolerance", "write a number"),
        ("tolerance = 5", "tolerance = 5\nlimit = {low = 1}", "limits.winding_value.limit", "keep one"),
        ('motor = "delta"', 'motor = "triangle"', "machine.motor", "star"),
        ("cylinders = 2", "cylinders = -2", "machine.cylinders", "whole number"),
        ("cylinders = 2", "cylinders = 2.5", "machine.cylinders", "whole number"),
        ('issue = "7"', 'issue = "7"\nclass = false', "class", "class = true"),
        (
            "[notes]",
            '[instruments]\nsuperheat = {absolute = -1, unit = "K"}\n[notes]',
            "instruments.superheat.absolute",
            "0",
        ),
        (
            "[notes]",
            '[instruments]\nsuperheat = {absolute = 1, unit = "V"}\n[notes]',
            "instruments.superheat.unit",
            "K",
        ),
        ('unit = "gal"', 'unit = "psi"', "machine.oil_charge.unit", "quart"),
        ("power = 50", "watts = 50", "machine.heater.watts", "voltage or power"),
        ('relief_set = "28 bar"', "relief_set = 28", "notes.relief_set", "write text"),
        ("{low = 1, high = 4}", "{low = 1}\nnotice = {low = 0.5}", "limits.net_oil_pressure", "notice inside limit"),
        ("{low = 1, high = 4}", "{high = 4}\ndanger = {high = 3}", "limits.net_oil_pressure", "limit inside danger"),
        ("{low = 1, high = 4}", "{low = 1}\ndoubtful = {high = 9}", "limits.net_oil_pressure", "limit = {high"),
        ("{low = 1, high = 4}", "{high = 1e300}", "limits.net_oil_pressure.limit.high", "write a number"),
        ("{low = 1, high = 4}", "{high = " + "9" * 400 + "}", "limits.net_oil_pressure.limit.high", "write a number"),
        ('unit = "bar"', 'unit = "psia"', "limits.net_oil_pressure.unit", "it is a difference"),
        ("tolerance = 5", "tolerance = 150", "limits.winding_value.tolerance", "below 100"),
        ("tolerance = 5", 'tolerance = 5\nbetween = ["A-B"]', "limits.winding_value.between", "U-V"),
        ("[notes]", "[limits.rod_play]\nunit = 'mm'\nlimit = {high = -1}\n[notes]", "limits.rod_play", "0 or more"),
        (
            "[notes]",
            "[limits.rod_play]\nunit='mm'\nbetween=['U-V']\nlimit={high=1}\n[notes]",
            "limits.rod_play.between",
            "out",
        ),
        ("[notes]", "[limits]\nrod_play = []\n[notes]", "limits.rod_play", "take it out"),
        (
            "[notes]",
            "[limits.evacuation]\nunit='psig'\nlimit={high=1}\n[notes]",
            "limits.evacuation.unit",
            "counts from zero",
        ),
        (
            "[notes]",
            "[instruments]\nrod_play = {relative = 5, unit = 'um'}\n[notes]",
            "instruments.rod_play.relative",
            "0.05 for 5 %",
        ),
        ('model = "Z9-1"', "class = true", "machine", "sheet of its model"),
    ],
)
def test_faults_name_entry_and_what_would_be_right(tmp_path, old, new, entry, fix):
    assert old in GOOD
    found = faults(tmp_path, GOOD.replace(old, new, 1))
    assert entry in found, found
    assert fix in found[entry].fix
    assert found[entry].file.endswith("sheet.toml")


def test_every_fault_of_every_sheet_at_once(tmp_path):
    text = GOOD.replace('unit = "bar"', 'unit = "ohm"').replace('motor = "delta"', 'motor = "x"')
    with pytest.raises(RecordError) as caught:
        load_sheets(folder(tmp_path, a=text, b=text.replace("Z9-1", "Z9-2"), c="model = "))
    assert [f.file[-6:] for f in caught.value.faults] == ["a.toml", "a.toml", "b.toml", "b.toml", "c.toml"]


def test_a_wrong_unit_hides_nothing_else(tmp_path):
    text = GOOD.replace('unit = "bar"', 'unit = "ohm"').replace("{low = 1, high = 4}", "{low = 4, high = 1}")
    assert set(faults(tmp_path, text)) == {"limits.net_oil_pressure.unit", "limits.net_oil_pressure.limit"}


def test_two_sheets_for_one_model(tmp_path):
    with pytest.raises(RecordError, match=r"second sheet for z9-1"):
        load_sheets(folder(tmp_path, a=GOOD, b=GOOD.replace("Z9-1", "z9-1")))


@pytest.mark.parametrize("data", [b"\xff\xfe\x00", b"[" * 5000, b"a = 1\n" * 200_000, b"limits = 3", b"\x00"])
def test_files_that_are_no_sheet(tmp_path, data):
    (tmp_path / "bad.toml").write_bytes(data)
    with pytest.raises(RecordError) as caught:
        load_sheets(tmp_path)
    assert all(f.file.endswith("bad.toml") and f.fix for f in caught.value.faults)


def test_a_number_of_thousands_of_digits_is_a_fault(tmp_path):
    found = faults(tmp_path, GOOD.replace("cylinders = 2", "cylinders = " + "9" * 6000, 1))
    assert "thousands of digits" in found[""].what


def test_a_limit_for_one_place_counts_before_one_for_all(tmp_path):
    """Whatever their order in the file."""
    general, own = (
        "unit = 'ohm'\nlimit = {low = 20}\n",
        "unit = 'ohm'\nbetween = ['discharge-1']\nlimit = {low = 900}\n",
    )
    text = GOOD.replace("[notes]", f"[[limits.sensor_value]]\n{general}[[limits.sensor_value]]\n{own}[notes]", 1)
    sheet = load_sheets(folder(tmp_path, sheet=text)).for_model("Z9-1")
    assert [sheet.limit("sensor_value", b).limits[0] for b in ("common-1", "discharge-1")] == [20, 900]


def test_a_sheet_is_found_whatever_the_case_of_its_ending(tmp_path):
    (tmp_path / "A.TOML").write_text(GOOD, encoding="utf-8")
    assert load_sheets(tmp_path).for_model("Z9-1").known


def test_folders_that_hold_no_sheet(tmp_path):
    with pytest.raises(RecordError, match="holds no limit sheet"):
        load_sheets(tmp_path)
    with pytest.raises(RecordError, match="is not a folder"):
        load_sheets(tmp_path / "nowhere")


def test_the_example_of_the_guide_is_a_good_sheet(tmp_path):
    guide = (Path(__file__).parents[2] / "docs" / "limit-sheets.md").read_text(encoding="utf-8")
    example = guide.split("```toml\n")[1].split("```")[0]
    sheet = load_sheets(folder(tmp_path, example=example)).for_model("Z9-1")
    sensor = sheet.limit("sensor_value", "discharge-1")
    assert sensor is not None
    assert sensor.limits == pytest.approx((60e3, 120e3))
    assert sheet.instrument("main_bearing_play").absolute == pytest.approx(0.003)
    assert all(f"`{rule}`" in guide for rule in RULES)


ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=5,
)


def _places(raw, path=()):
    yield path
    for key, value in raw.items() if isinstance(raw, dict) else ():
        yield from _places(value, (*path, key))


PLACES = [p for p in _places(tomllib.loads(GOOD)) if p]


@settings(max_examples=300, deadline=None)
@given(st.sampled_from(PLACES), ANYTHING)
def test_whatever_a_sheet_holds_is_a_sheet_or_its_faults(place, value):
    """Any value at any place: never anything but faults, each with a fix and safe to print."""
    raw = tomllib.loads(GOOD)
    table = raw
    for key in place[:-1]:
        table = table[key]
    table[place[-1]] = value
    found = []
    parse_sheet(raw, Path("made.toml"), found)
    assert all(f.what and f.fix and f.entry.isprintable() and str(f).isprintable() for f in found)
