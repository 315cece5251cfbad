"""The explorer as a state machine: answers held against figures from outside or counted by hand, refusals, orders."""

import math
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.stats import ttest_ind
from statsmodels.stats.proportion import confint_proportions_2indep

from stripdown.fleet import opened, report
from stripdown.widgets.explorer import BARS, RECORDS, Explorer
from stripdown.widgets.explorer_choice import ALL
from stripdown.widgets.explorer_compare import REST, Difference, Look, Question, money, settled
from stripdown.widgets.explorer_measure import Measure
from stripdown.widgets.explorer_table import NOT_STATED
from tests.fleet.made import REJECTED, line, population

UNTIL = date(2023, 1, 1)


def sites() -> list[dict[str, Any]]:
    """Four returns from north, six from south, one that names no site."""
    north = [("A1", 1.0), ("A2", 1.0), ("A3", 0.5), ("A4", 0.0)]
    out = [_floodback(claim, p, site="north", contractor="crew 1") for claim, p in north]
    out += [_floodback(f"B{i}", p, site="south", contractor="crew 2") for i, p in enumerate((0.5, 0.5, 0, 0, 0, 0))]
    return [*out, _floodback("C1", 0.0), REJECTED]


def _floodback(claim: str, p: float, **more: Any) -> dict[str, Any]:
    first = {k: v for k, v in {"floodback": p, "wear_out": 1 - p}.items() if v}
    return line(claim, first=first, parts=("stator",) if p == 1 else (), **more)


@pytest.fixture
def explorer() -> Explorer:
    return Explorer(opened(sites(), until=UNTIL))


@pytest.fixture
def known(tmp_path: Path) -> Explorer:
    """The same with their units: north had 4 that all came back, south 14, of which 8 still run; all of one day."""
    rows = [f"S-A{i},K4-150,north,crew 1,,2020-01-01," for i in range(1, 5)]
    rows += [f"S-B{i},K4-150,south,crew 2,,2020-01-01," for i in range(14)]
    return Explorer(opened(sites(), population(tmp_path, rows), until=UNTIL))


def values(explorer: Explorer) -> dict[str, float]:
    return {b.name: b.value for b in explorer.bars}


class TestBars:
    def test_number_of_returns_by_group_and_what_states_none_last(self, explorer: Explorer) -> None:
        explorer.group("site")
        assert [(b.name, b.value) for b in explorer.bars] == [("south", 6), ("north", 4), (NOT_STATED, 1)]
        assert explorer.choice.together.value == 11

    def test_interval_of_a_count(self, explorer: Explorer) -> None:
        """Exact Poisson interval of 4: 1.090 to 10.242 (Garwood, Biometrika 28 (1936), table)."""
        explorer.group("site")
        north = explorer.bars[1]
        assert (north.low, north.high) == pytest.approx((1.090, 10.242), abs=5e-4)

    def test_share_adds_up_probabilities(self, explorer: Explorer) -> None:
        explorer.group("site")
        explorer.ask("first", "floodback")
        assert values(explorer) == pytest.approx({"south": 1 / 6, "north": 2.5 / 4, NOT_STATED: 0.0})
        assert explorer.choice.together.value == pytest.approx(3.5 / 11)

    def test_share_of_parts_has_wilsons_interval(self) -> None:
        """81 of 263: 0.2553 to 0.3662 (Newcombe, Statistics in Medicine 17 (1998) 857-872, table I, method 3)."""
        lines = [line(f"C{i}", parts=("stator",) if i < 81 else ()) for i in range(263)]
        explorer = Explorer(opened(lines, until=UNTIL))
        explorer.ask("part", "stator")
        (bar,) = explorer.bars
        assert (bar.low, bar.high) == pytest.approx((0.2553, 0.3662), abs=5e-5)

    def test_cost_has_students_interval(self) -> None:
        """Of 1, 2, 3, 4, 5: mean 3, s = sqrt(2.5), t(4, 0.975) = 2.776 (any table): 3 ± 1.963."""
        lines = [
            line(f"C{i}", outcome={"id": "rebuild", "expected_cost": float(i), "currency": "EUR"}) for i in range(1, 6)
        ]
        explorer = Explorer(opened(lines, until=UNTIL))
        explorer.ask("cost")
        (bar,) = explorer.bars
        assert (bar.value, bar.low, bar.high) == pytest.approx((3, 3 - 1.963, 3 + 1.963), abs=1e-3)

    def test_costs_in_another_currency_are_left_out(self) -> None:
        lines = [line("A"), line("B"), line("C", outcome={"id": "rebuild", "expected_cost": 9.0, "currency": "USD"})]
        explorer = Explorer(opened(lines, until=UNTIL))
        explorer.ask("cost")
        assert [(b.value, b.returns) for b in explorer.bars] == [(2000.0, 2)]

    def test_rate_counts_those_still_running(self, known: Explorer) -> None:
        """North: 4 × 400 days; south: 6 × 400 and 8 × 1096 days (2020 was a leap year); 30.4375 days a month."""
        known.group("site")
        known.ask("rate")
        months = {"north": 4 * 400 / 30.4375, "south": (6 * 400 + 8 * 1096) / 30.4375}
        assert values(known)["north"] == pytest.approx(1000 * 4 / months["north"])
        assert values(known)["south"] == pytest.approx(1000 * 6 / months["south"])

    def test_says_what_the_fleet_report_says(self, known: Explorer, tmp_path: Path) -> None:
        rows = [f"S-A{i},K4-150,north,crew 1,,2020-01-01," for i in range(1, 5)]
        told = report(sites(), population(tmp_path, rows), until=UNTIL).as_json()
        known.group("site")
        known.ask("first", "floodback")
        for group in told["by"]["site"]:
            (bar,) = (b for b in known.bars if b.name == group["id"])
            (share,) = (f for f in group["first"] if f["id"] == "floodback")
            assert (bar.value, bar.low, bar.high) == pytest.approx(
                (share["share"], share["low"], share["high"]), rel=1e-9
            )

    @pytest.mark.parametrize(("order", "first"), [("returns", "south"), ("value", "north"), ("name", "north")])
    def test_order(self, explorer: Explorer, order: str, first: str) -> None:
        explorer.group("site")
        explorer.ask("first", "floodback")
        explorer.arrange(order)
        assert explorer.bars[0].name == first
        assert explorer.bars[-1].name == NOT_STATED

    def test_half_years_and_months_of_building(self) -> None:
        lines = [line("A", failed="2021-06-30", age=None), line("B", failed="2021-07-01", age=None, built="2019-11-03")]
        explorer = Explorer(opened(lines, until=UNTIL))
        explorer.arrange("name")
        explorer.group("half_year")
        assert list(values(explorer)) == ["2021 first half", "2021 second half"]
        explorer.group("build_month")
        assert list(values(explorer)) == ["2019-11", NOT_STATED]

    def test_many_groups_are_turned_over(self) -> None:
        explorer = Explorer(opened([line(f"C{i:02d}", site=f"site {i:02d}") for i in range(BARS + 3)], until=UNTIL))
        explorer.group("site")
        assert len(explorer.bars) == BARS
        explorer.turn_bars(1)
        assert [b.name for b in explorer.bars] == [f"site {i:02d}" for i in range(BARS, BARS + 3)]
        explorer.turn_bars(1)
        assert explorer.bar_page == 1
        explorer.turn_bars(-9)
        assert explorer.bar_page == 0


class TestKeeping:
    def test_names_of_one_dimension_add_up_and_dimensions_narrow(self, explorer: Explorer) -> None:
        explorer.keep("site", "north")
        assert explorer.choice.chosen.sum() == 4
        explorer.keep("site", NOT_STATED)
        assert explorer.choice.chosen.sum() == 5
        explorer.keep("first", "wear_out")
        assert explorer.choice.chosen.sum() == 2  # A4 and C1; of A3 neither is more probable, floodback was named first
        explorer.let_go("site", NOT_STATED)
        assert explorer.choice.chosen.sum() == 1
        explorer.let_all_go()
        assert explorer.choice.chosen.sum() == 11

    @pytest.mark.parametrize(
        ("dimension", "name"), [("site", "west"), ("serial", "S-A1"), ("half_year", "1999 first half")]
    )
    def test_what_no_return_has_is_refused(self, explorer: Explorer, dimension: str, name: str) -> None:
        explorer.keep(dimension, name)
        assert explorer.refused
        assert explorer.choice.kept == ()

    def test_a_group_stays_open_while_it_is_there(self, explorer: Explorer) -> None:
        explorer.group("site")
        explorer.open("north")
        explorer.keep("contractor", "crew 1")
        assert explorer.opened == "north"
        explorer.let_all_go()
        explorer.keep("contractor", "crew 2")
        assert explorer.opened is None


class TestRecords:
    def test_those_that_tell_most_come_first(self, explorer: Explorer) -> None:
        explorer.group("site")
        explorer.ask("first", "floodback")
        explorer.open("north")
        claims = explorer.choice.table.returns["claim"]
        assert [claims[i] for i in explorer.records] == ["A1", "A2", "A3", "A4"]
        explorer.close()
        assert [claims[i] for i in explorer.records] == ["A1", "A2", "A3", "B0", "B1", "A4", "B2", "B3"]
        explorer.turn_records(1)
        assert [claims[i] for i in explorer.records] == ["B4", "B5", "C1"]

    def test_only_a_record_on_show_is_opened(self, explorer: Explorer) -> None:
        explorer.open_record(explorer.records[0])
        assert explorer.record == explorer.records[0]
        explorer.close_record()
        explorer.turn_records(1)
        explorer.open_record(999)
        assert (explorer.record, explorer.refused) == (None, "that record is not on show")
        assert len(explorer.records) == 11 - RECORDS


def two_shares(a: tuple[int, int], b: tuple[int, int]) -> Difference:
    lines = [line(f"A{i}", site="a", first={"floodback" if i < a[0] else "wear_out": 1.0}) for i in range(a[1])]
    lines += [line(f"B{i}", site="b", first={"floodback" if i < b[0] else "wear_out": 1.0}) for i in range(b[1])]
    explorer = Explorer(opened(lines, until=UNTIL))
    explorer.group("site")
    explorer.ask("first", "floodback")
    explorer.open("a")
    explorer.compare()
    (look,) = explorer.looks
    return look.difference


class TestComparing:
    @pytest.mark.parametrize(("a", "b"), [((10, 20), (4, 20)), ((1, 7), (90, 120)), ((30, 30), (2, 9))])
    def test_certain_records_have_agresti_and_caffos_interval(self, a: tuple[int, int], b: tuple[int, int]) -> None:
        """Agresti and Caffo, American Statistician 54 (2000) 280-288, as statsmodels has it."""
        d = two_shares(a, b)
        low, high = confint_proportions_2indep(*a, *b, method="agresti-caffo")
        assert d.change == pytest.approx(a[0] / a[1] - b[0] / b[1])
        assert (d.low, d.high) == pytest.approx((min(low, d.change), max(min(high, 1.0), d.change)), abs=1e-9)

    def test_p_of_certain_records_is_the_n_minus_1_chi_square(self) -> None:
        """10 of 20 against 4 of 20: (N − 1)(ad − bc)² / (product of margins), E. Pearson, Biometrika 34 (1947)."""
        chi = 39 * (10 * 16 - 10 * 4) ** 2 / (20 * 20 * 14 * 26)
        assert two_shares((10, 20), (4, 20)).p == pytest.approx(math.erfc(math.sqrt(chi / 2)), rel=1e-9)

    def test_few_cases_are_named(self) -> None:
        assert two_shares((1, 7), (90, 120)).few  # of 7, 5.0 were due and 2.0 not
        assert not two_shares((10, 20), (10, 20)).few

    def test_costs_are_compared_by_welchs_t(self) -> None:
        """As scipy has it."""
        a, b = [1.0, 2.5, 4.0, 9.0, 3.0], [20.0, 5.0, 40.0]
        made = money(np.array(a), np.array(b))
        told = ttest_ind(a, b, equal_var=False)
        ends = told.confidence_interval(0.95)
        assert (made.low, made.high, made.p) == pytest.approx((ends.low, ends.high, told.pvalue), rel=1e-9)
        assert made.change == pytest.approx(3.9 - 65 / 3)

    def test_rates_are_compared_at_equal_age(self, known: Explorer) -> None:
        """Of 18 at risk at 400 days 10 failed, so each was due 10 / 18 failures (C1 has no site and no unit row).

        With it 19 and 11: north 4 × 11 / 19, all others 15 × 11 / 19; 4 of 11 failures at odds of 4 to 15.
        """
        known.group("site")
        known.ask("rate")
        known.open("north")
        known.compare()
        (look,) = known.looks
        assert look.difference.a == pytest.approx(19 / 11)
        assert look.difference.change == pytest.approx((4 / 4) / (7 / 15))
        upper = sum(math.comb(11, k) * (4 / 19) ** k * (15 / 19) ** (11 - k) for k in range(4, 12))
        assert look.difference.p == pytest.approx(2 * upper)

    def test_the_same_question_counts_once_whoever_is_named_first(self, explorer: Explorer) -> None:
        explorer.group("site")
        explorer.ask("first", "floodback")
        explorer.open("north")
        explorer.against("south")
        explorer.compare()
        explorer.open("south")
        explorer.against("north")
        explorer.compare()
        assert [(k.question.a, k.question.b) for k in explorer.looks] == [("south", "north")]
        explorer.against(REST)
        explorer.compare()
        assert len(explorer.looks) == 2

    def test_every_look_of_the_session_is_corrected_for(self) -> None:
        """Benjamini and Hochberg by hand: 0.01 × 3 / 1, 0.02 × 3 / 2, 0.03 × 3 / 3, none above a larger one's."""

        def look(name: str, p: float) -> Look:
            return Look(Question((), Measure("no_fault"), "site", name, REST), Difference(0, 0, 0, 0, 0, p))

        assert settled([look("a", 0.03), look("b", 0.01), look("c", 0.02)]) == pytest.approx([0.03, 0.03, 0.03])
        assert settled([look("a", 0.9), look("b", 0.01)]) == pytest.approx([0.9, 0.02])
        assert settled([]) == []

    def test_what_cannot_be_compared_is_refused_and_counts_as_no_look(self, explorer: Explorer) -> None:
        for act, why in (
            (explorer.compare, "open a bar first"),
            (lambda: (explorer.group("site"), explorer.open("north"), explorer.compare()), "counts say nothing"),
            (lambda: (explorer.ask("rate"), explorer.compare()), "give a units table"),
            (lambda: (explorer.ask("no_fault"), explorer.open(NOT_STATED), explorer.compare()), "too few returns"),
            (lambda: (explorer.ask("cost"), explorer.open("north"), explorer.compare()), "costs the same"),
            (lambda: explorer.against("north"), "another one"),
        ):
            act()
            assert why in (explorer.refused or "")
        assert explorer.looks == []


class TestCurves:
    def test_the_opened_group_beside_the_others(self, known: Explorer) -> None:
        known.group("site")
        told = known.curves("life")
        assert isinstance(told, dict)
        assert [(m["model"], m["failures"], m["running"]) for m in told["life"]] == [(ALL, 11, 8)]
        known.open("north")
        told = known.curves("life")
        assert isinstance(told, dict)
        assert {m["model"]: (m["failures"], m["running"]) for m in told["life"]} == {
            "north": (4, 0),
            "all others": (7, 8),
        }
        known.against("south")
        told = known.curves("life")
        assert isinstance(told, dict)
        assert {m["model"] for m in told["life"]} == {"north", "south"}

    def test_incidence_by_hand(self, known: Explorer) -> None:
        """Of 19 units none had left before 400 days, when 11 failed, 3.5 of them by floodback; told at full years."""
        told = known.curves("incidence")
        assert isinstance(told, dict)
        (floodback,) = (r for r in told["incidence"] if r["mechanism"] == "floodback")
        assert floodback["at_days"] == [365, 730, 1095]
        assert floodback["value"] == pytest.approx([0, 3.5 / 19, 3.5 / 19])

    def test_what_is_not_known_of_the_units_is_said(self, known: Explorer, explorer: Explorer) -> None:
        assert "give a units table" in str(explorer.curves("life"))
        known.keep("first", "wear_out")
        assert "first mechanism by headline" in str(known.curves("life"))
        known.let_all_go()
        known.group("outcome")
        assert isinstance(known.curves("life"), dict)
        known.open("replace_compressor")
        assert "outcome" in str(known.curves("life"))
        known.ask("rate")
        assert known.choice.silent


@pytest.mark.parametrize(
    ("act", "arguments"),
    [
        ("ask", ("first", "gremlins")),
        ("ask", ("weight",)),
        ("ask", ("part", "")),
        ("ask", ("no_fault", "surge")),
        ("group", ("serial",)),
        ("arrange", ("random",)),
        ("show", ("map",)),
        ("open", ("nowhere",)),
        ("let_go", ("site", "north")),
    ],
)
def test_what_there_is_not_is_refused(explorer: Explorer, act: str, arguments: tuple[str, ...]) -> None:
    before = explorer.choice
    getattr(explorer, act)(*arguments)
    assert explorer.refused
    assert explorer.choice is before


@pytest.mark.parametrize("lines", [[], [REJECTED], [line("A", age=None, installed=None)]])
def test_hardly_anything_to_explore(lines: list[Mapping[str, Any]]) -> None:
    explorer = Explorer(opened(lines))
    explorer.group("half_year")
    explorer.ask("first", "floodback")
    explorer.keep("model", "K4-150")
    assert sum(b.returns for b in explorer.bars) == explorer.choice.together.returns
    assert isinstance(explorer.curves("life"), str)
    explorer.compare()
    assert explorer.refused
