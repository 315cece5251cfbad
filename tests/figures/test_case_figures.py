"""Figures of a case: what they say, where a reading stands, and that equal cases give equal bytes."""

import re
import subprocess
import sys
from dataclasses import replace
from xml.etree import ElementTree

import pytest

from stripdown import resources, vocabulary
from stripdown.case import Case, judge
from stripdown.figures import bars, chain, explored, machine, plot, readings, resistances
from stripdown.figures.figure import Figure, wrap
from stripdown.figures.words import finding_words, percent, strength
from stripdown.limits.model import Corrected
from stripdown.record import Record, parse
from tests.figures.every import EVERY
from tests.pages import cases


def test_no_mark_of_direction_reaches_a_drawing() -> None:
    """U+202E turns the writing of all that follows it."""
    drawn = wrap("<text>a\u202eb</text>", 10, 10, title="t\u2068", alt="x\u202e")
    assert "a\ufffdb" in drawn.svg
    assert not {"\u202e", "\u2068"} & {*drawn.svg, *drawn.alt, *drawn.title}


def words(figure: Figure) -> str:
    """The text drawn in a figure."""
    return " ".join(" ".join(ElementTree.fromstring(figure.svg).itertext()).split())


@pytest.mark.parametrize("draw", EVERY)
def test_well_formed_with_title_and_alt_text(draw, floodback: Case, hostile: Case) -> None:  # type: ignore[no-untyped-def]
    for case in (floodback, hostile):
        figure = draw(case)
        root = ElementTree.fromstring(figure.svg)
        assert root.get("aria-label") == figure.alt
        assert figure.title
        assert len(figure.alt) > 20
        assert not [e for e in root.iter() if e.tag.endswith(("script", "style", "metadata", "foreignObject"))]


@pytest.mark.parametrize("draw", EVERY)
def test_equal_cases_give_equal_bytes(draw) -> None:  # type: ignore[no-untyped-def]
    first = draw(cases.floodback())
    assert first == draw(replace(cases.floodback(), version="another, so that it is drawn anew"))
    assert "<!--" not in first.svg
    assert re.search(r"20\d\d-\d\d-\d\dT", first.svg) is None


def test_nothing_to_draw_is_no_figure(open_case: Case) -> None:
    assert bars.evidence(open_case) is None
    assert readings.against_limits(open_case) is None
    assert resistances.resistances(open_case) is None
    assert chain.chain(open_case) is None


def test_settings_of_the_caller_do_not_show() -> None:
    import matplotlib as mpl

    row = {"name": "K4-150", "value": 2.0, "low": 1.0, "high": 3.0, "said": "2 of 8"}
    told = {"title": "Returns by model", "axis": "returns", "rows": [row, row], "together": 2.0}
    with mpl.rc_context({"font.size": 20.0, "text.color": "red", "svg.fonttype": "path"}):
        inside = explored.bars(told)
    assert inside == explored.bars(told)


def test_figures_of_a_case_need_no_plotting_library() -> None:
    """Its import alone takes as long as a whole page."""
    code = (
        "import sys; from tests.pages import cases; from stripdown.pages import case_html, case_pdf; "
        "c = cases.floodback(); case_html(c); case_pdf(c); sys.exit('matplotlib' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code]).returncode == 0


def test_words_are_as_wide_as_the_font_sets_them() -> None:
    """Against the text layout of matplotlib, which hints and kerns a little."""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import text_to_path

    font = FontProperties(fname=str(resources.fonts() / "DejaVuSans.ttf"), size=9)
    for said in ("insulation resistance", "−2.9 hardly any", "■ outside"):
        across, _, _ = text_to_path.get_text_width_height_descent(said, font, ismath=False)
        assert plot.width(said, 9) == pytest.approx(across, rel=0.03)
    assert plot.width("a\nwide", 9) == plot.width("wide", 9)


@pytest.mark.parametrize(
    ("low", "high", "most", "written"),
    [
        (-3.5, 10.9, 4, ["0", "5", "10"]),
        (0.74, 0.97, 5, ["0.75", "0.80", "0.85", "0.90", "0.95"]),
        (-0.3, 0.4, 3, ["−0.25", "0.00", "0.25"]),
        (0, 90, 4, ["0", "25", "50", "75"]),
    ],
)
def test_axes_have_round_numbers(low: float, high: float, most: int, written: list[str]) -> None:
    """By hand: the least of 1, 2, 2.5, 5 times a power of ten that makes no more steps than wanted."""
    numbers, told = plot.steps(low, high, most)
    assert told == written
    assert numbers == pytest.approx([float(t.replace("−", "-")) for t in written])


def test_ink_follows_the_page(floodback: Case) -> None:
    for draw in EVERY:
        assert "currentColor" in draw(floodback).svg
        assert "#000000" not in draw(floodback).svg


def test_bars_name_the_rest_together(floodback: Case) -> None:
    said = bars.first_mechanisms(floodback).alt
    assert "floodback 94 %" in said
    assert "the other 1 under 1 %" in said


def test_evidence_says_for_and_against(floodback: Case) -> None:
    figure = bars.evidence(floodback)
    assert figure is not None
    assert "+13.1 moderate" in words(figure)
    assert "−1.9 hardly any" in words(figure)


def test_chart_says_every_verdict(floodback: Case) -> None:
    figure = readings.against_limits(floodback)
    assert figure is not None
    said = words(figure)
    assert said.count("■ outside") == 4
    assert said.count("◆ undecided") == 3
    assert said.count("● within") == 6
    assert "read “short”" in said


@pytest.mark.parametrize(
    ("value", "low", "high", "x"),
    [
        (2.0, 2.0, 4.0, 0.3),
        (4.0, 2.0, 4.0, 0.7),
        (3.0, 2.0, 4.0, 0.5),
        (107.0, None, 107.0, 0.7),
        (0.0, None, 107.0, 0.0),
        (11.0, 11.0, None, 0.3),
        (22.0, 11.0, None, 0.6),
    ],
)
def test_limits_stand_at_one_place_on_every_row(value: float, low: float, high: float, x: float) -> None:
    assert readings.place(value, low, high) == pytest.approx(x, abs=1e-12)


def test_insulation_stands_by_decades() -> None:
    assert readings.place(50e6, 5e6, None, logarithmic=True) == pytest.approx(0.5, abs=1e-12)


def _judged(*entries: dict) -> Case:  # type: ignore[type-arg]
    unit = {"serial": "1", "model": "K4-150", "refrigerant": "R449A"}
    record = parse({"format": 1, "claim": "A", "unit": unit, "readings": list(entries)}, file="r", folder=".")
    assert isinstance(record, Record), record
    return judge(record)


def _pair(between: str, value: float | str, at: str = "terminals") -> dict[str, object]:
    return {"quantity": "winding_resistance", "between": between, "at": at, "value": value, "unit": "ohm"}


def test_panels_say_value_place_and_verdict_of_each_reading_once() -> None:
    """0.86 ohm pairs of a star (limit sheet K4-150: 2 % from the mean, 10 % from 0.86 at 20 degC), one open at the
    leads, one far off."""
    case = _judged(
        *(_pair(b, v) | {"temperature": 20} for b, v in (("U-V", 0.86), ("V-W", 0.5), ("W-U", 0.86))),
        _pair("V-W", "open", "leads"),
    )
    figure = resistances.resistances(case)
    assert figure is not None
    assert figure.alt == (
        "Winding resistance: U-V at the terminals 0.877 ohm, outside; V-W at the terminals 0.51 ohm, outside; "
        "W-U at the terminals 0.877 ohm, outside; V-W at the leads read “open”, outside."
    )
    squares = re.findall(r'd="M-3 -3H3V3H-3z" fill="(.*?)"', figure.svg)
    assert [fill == "none" for fill in squares] == [False, False, False, True]  # the one at the leads is hollow
    assert "filled: terminals, hollow: leads ■ outside · ╌ limit" in words(figure)
    assert "“open”" in words(figure)


def test_a_reading_under_several_limits_says_which() -> None:
    case = _judged(
        {"quantity": "suction_pressure", "value": 2.0, "unit": "bar", "site": True},
        {"quantity": "suction_gas_temperature", "value": 10, "unit": "degC", "site": True},
    )
    figure = readings.against_limits(case)
    assert figure is not None
    assert "suction gas temperature, site: superheat" in figure.alt
    assert "suction gas temperature, site: return gas" in figure.alt


def test_figures_of_readings_fit_a_phone(floodback: Case) -> None:
    """360 px less the margins of the page, at 0.85 px a point as the page allows: nothing has to be pushed aside."""
    for figure in (readings.against_limits(floodback), resistances.resistances(floodback)):
        assert figure is not None
        assert figure.size[0] * 0.85 <= 332


def test_insulation_of_zero_is_drawn_without_a_warning(floodback: Case) -> None:
    dead = [
        replace(r, corrected=Corrected(0.0, "Mohm", 0.0))
        for r in floodback.readings
        if r.quantity == "insulation_resistance"
    ]
    figure = resistances.resistances(replace(floodback, readings=tuple(dead)))
    assert figure is not None
    assert "V-frame 0 Mohm" in figure.alt


def test_chain_tells_seen_from_inferred(floodback: Case) -> None:
    figure = chain.chain(floodback)
    assert figure is not None
    assert words(figure).count("● seen") == 2
    assert words(figure).count("○ inferred") == 4
    assert figure.svg.count('stroke-width="1.2" stroke-dasharray="4 3"') == 4
    assert words(figure).index("CAUSE") < words(figure).index("MECHANISM") < words(figure).index("PART")


def test_every_part_of_the_vocabulary_has_its_place() -> None:
    site = {p for parts in machine.SITE.values() for p in parts}
    assert site.isdisjoint(machine.PLACES)
    assert site | set(machine.PLACES) == set(vocabulary.parts())


def test_markers_do_not_lie_on_each_other() -> None:
    spots = list(machine.PLACES.values())
    close = [(a, b) for i, a in enumerate(spots) for b in spots[:i] if abs(a[0] - b[0]) < 15 and abs(a[1] - b[1]) < 15]
    assert close == []


def test_drawing_lists_what_is_damaged_and_counts_what_is_sound(floodback: Case) -> None:
    said = words(machine.machine(floodback))
    assert "main bearing: worn (heavy)" in said
    assert "piston: worn (unreadable)" in said
    assert "looked at and sound: 6 parts" in said


def test_words() -> None:
    assert finding_words("main_bearing.worn heavy") == "main bearing worn: heavy"
    assert finding_words("oil.low none") == "oil low: sound"
    assert finding_words("start_timer.faulty heavy") == "start timer faulty"  # there or not: it has no extent
    assert finding_words("pumping.pumps heavy") == "it pumps"
    assert finding_words("superheat outside") == "superheat: outside"
    assert finding_words("alarms motor_heat 1") == "alarm memory, motor heat: 1"
    assert finding_words("superheat not low") == "superheat: not low"
    assert finding_words("stator.rubbed") == "stator rubbed"
    assert finding_words("insulation_resistance V-frame at leads outside") == (
        "insulation resistance V-frame at leads: outside"
    )
    assert finding_words("running_current L1 41 A") == "running current L1 41 A"
    assert finding_words("sensor_resistance common-1 short") == "sensor resistance common-1 short"
    assert finding_words("failed after defrost") == "failed after defrost"
    assert finding_words("2 of 6 cylinders damaged") == "2 of 6 cylinders damaged"
    assert finding_words("oil level right. See sheet_2.") == "oil level right. See sheet_2."
    assert [percent(p) for p in (0.0, 0.0001, 0.5, 0.9951, 1.0)] == ["0 %", "under 1 %", "50 %", "over 99 %", "100 %"]
    # ratios of 30, 5 and 2 part strong, moderate and weak: 10 log10 of them is 14.8, 7.0, 3.0
    assert [strength(x) for x in (14.9, -14.7, 7.1, 3.1, 2.9)] == [
        "strong",
        "moderate",
        "moderate",
        "weak",
        "hardly any",
    ]
