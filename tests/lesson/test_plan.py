"""The plan of a lesson: nothing is told before its station, the odds add up, the heads stay on."""

import math
from dataclasses import replace

import pytest

from stripdown import knowledge
from stripdown.batch import lessons
from stripdown.case import judge
from stripdown.knowledge import KnowledgeError
from stripdown.knowledge.lesson import check, teaching
from stripdown.lesson import NOT_DECIDED, Lesson, candidates, plan, points
from stripdown.lesson.model import Move
from stripdown.limits import load_sheets
from stripdown.record import Record, read_all
from stripdown.record.schema import QUANTITIES
from stripdown.resources import demo

SHEETS = load_sheets(demo() / "limits")
RECORDS = {r.claim: r for r in read_all([demo() / "returns"]) if isinstance(r, Record)}
OPENED = ("heads", "pump_end", "motor_end", "layout")


@pytest.fixture(scope="module")
def floodback() -> Lesson:
    """A rich record whose complaint is that the motor burnt."""
    return plan(RECORDS["TW-2025-016"], sheets=SHEETS)


def _upto(record: Record, lesson: Lesson, station: int) -> Record:
    """The record as it stood after a station: what later ones found is taken out."""
    observations = {o for r in lesson.reveals[:station] for o in r.observations}
    entries = {x.entry for r in lesson.reveals[:station] for x in r.readings}
    return replace(
        record,
        observations=tuple(o for o in record.observations if o in observations),
        readings=tuple(x for x in record.readings if x.entry in entries),
    )


def _said(move: Move) -> tuple[object, ...]:
    """What a move tells, its numbers to a thousandth of a deciban."""
    shifts = [(s.mechanism, round(s.decibans, 3), s.why) for s in (move.helped, move.hurt) if s]
    return (move.finding, move.there, *shifts)


class TestStations:
    def test_stand_in_the_order_of_the_bench(self, floodback: Lesson) -> None:
        assert [r.station.id for r in floodback.reveals] == [
            *("complaint", "before_opening", "electrical", "oil", "heads", "pump_end", "motor_end", "layout", "site")
        ]

    def test_show_every_observation_and_reading_once(self, floodback: Lesson) -> None:
        record = RECORDS["TW-2025-016"]
        seen = [o.entry for r in floodback.reveals for o in r.observations]
        assert sorted(seen) == sorted(o.entry for o in record.observations)
        read = [x.entry for r in floodback.reveals for x in r.readings]
        assert set(read) == {x.entry for x in record.readings}

    def test_take_every_quantity_of_the_record_format(self) -> None:
        placed = [q for s in teaching().stations for q in s.quantities]
        assert sorted(placed) == sorted(QUANTITIES)

    @pytest.mark.parametrize("station", [1, 4, 6])
    def test_know_nothing_of_later_ones(self, floodback: Lesson, station: int) -> None:
        early = plan(_upto(RECORDS["TW-2025-016"], floodback, station), sheets=SHEETS)
        for ours, theirs in zip(floodback.reveals[:station], early.reveals, strict=False):
            assert [_said(m) for m in ours.moves] == [_said(m) for m in theirs.moves]
            assert [s.id for s in ours.after[:5]] == [s.id for s in theirs.after[:5]]
            for a, b in zip(ours.after, theirs.after, strict=True):
                assert a.probability == pytest.approx(b.probability, abs=1e-9)

    def test_a_station_tempts_only_by_what_is_on_the_table(self, floodback: Lesson) -> None:
        for r in floodback.reveals:
            told = {m.finding for x in floodback.reveals[: r.number] for m in x.moves}
            told |= {x.quantity for y in floodback.reveals[: r.number] for x in y.readings}
            for t in r.tempts:
                assert {by for by in t.by if not by.startswith("only ")} <= told
            for t in r.refutes:
                assert t.refuted_by in told

    def test_minutes_run_on(self, floodback: Lesson) -> None:
        clock = 0
        for r in floodback.reveals:
            assert r.starts == clock
            clock += r.minutes
        # 90 minutes at the bench for laying out, 0.15 of it in the class room, by hand
        assert next(r.minutes for r in floodback.reveals if r.station.id == "layout") == 14


class TestOdds:
    def test_end_where_the_case_ends(self, floodback: Lesson) -> None:
        judged = {s.id: s.probability for s in floodback.case.finding.first}
        for share in floodback.reveals[-1].after:
            assert share.probability == pytest.approx(judged[share.id], abs=1e-9)

    def test_every_station_begins_where_the_last_ended(self, floodback: Lesson) -> None:
        for earlier, later in zip(floodback.reveals, floodback.reveals[1:], strict=False):
            assert earlier.after == later.before

    def test_shifts_add_up(self) -> None:
        # one finding at a station: its shift of a mechanism is the change of that mechanism's log odds there
        record = replace(
            RECORDS["TW-2025-016"],
            readings=(),
            observations=tuple(o for o in RECORDS["TW-2025-016"].observations if o.finding == "oil.thin_diluted"),
        )
        oil = next(r for r in plan(record, sheets=SHEETS).reveals if r.station.id == "oil")
        (move,) = oil.moves
        assert move.helped is not None
        before, after = (
            next(s.probability or 0.0 for s in side if s.id == move.helped.mechanism)
            for side in (oil.before, oil.after)
        )
        by_hand = 10 * math.log10(after / (1 - after)) - 10 * math.log10(before / (1 - before))
        assert move.helped.decibans == pytest.approx(by_hand, abs=1e-9)

    def test_diluted_oil_speaks_for_floodback_and_says_why(self, floodback: Lesson) -> None:
        oil = next(r for r in floodback.reveals if r.station.id == "oil")
        helped = next(m.helped for m in oil.moves if m.finding == "oil.thin_diluted heavy")
        assert helped is not None
        assert helped.mechanism == "floodback"
        links = knowledge.load().findings["oil.thin_diluted"].links
        why = next(link.why for link in links if "floodback" in link.parents[0])
        assert why.lower() in helped.why.lower()


class TestAnswer:
    def test_is_the_headline_or_that_nothing_decides(self, floodback: Lesson) -> None:
        assert floodback.answer == "floodback"
        assert plan(RECORDS["TW-2024-027"], sheets=SHEETS).answer == NOT_DECIDED
        assert plan(RECORDS["TW-2025-024"], sheets=SHEETS).answer == NOT_DECIDED  # findings in conflict

    def test_heads_on_is_the_record_without_what_the_opened_machine_showed(self, floodback: Lesson) -> None:
        record = RECORDS["TW-2025-016"]
        inside = {o for r in floodback.reveals if r.station.id in OPENED for o in r.observations}
        entries = {x.entry for r in floodback.reveals if r.station.id in OPENED for x in r.readings}
        shut = replace(
            record,
            observations=tuple(o for o in record.observations if o not in inside),
            readings=tuple(x for x in record.readings if x.entry not in entries),
        )
        alone = judge(shut, sheets=SHEETS, brief=True).finding
        told = floodback.heads_on.with_site
        assert told.status == alone.status
        assert told.outcome == alone.outcome
        assert [(s.id, pytest.approx(s.probability, abs=1e-9)) for s in told.first] == [
            (s.id, s.probability) for s in alone.first
        ]
        # the table that is shipped: a new unit 2000 and its change-over 500
        assert floodback.heads_on.next_unit == 2500

    def test_wrong_conclusions_are_named_with_the_finding_that_refutes_them(self, floodback: Lesson) -> None:
        told = {t.wrong.says: t.refuted_by for t in floodback.tempted}
        assert told["Motor burnt, so electrical."] == "stator.rubbed heavy"
        assert told["Dark plate, so overheated."] == "valve_plate.dark_film_wipes_off slight"
        assert told["Bearing worn at the motor end, so a bad bearing."] == "crankshaft.scored_progressive heavy"
        assert "Valve broken, so slug." not in told  # no valve is broken

    def test_what_is_right_is_not_called_wrong(self) -> None:
        # the plant lost a phase: there "motor burnt, so electrical" is no mistake
        assert "Motor burnt, so electrical." not in {
            t.wrong.says for t in plan(RECORDS["TW-2023-017"], sheets=SHEETS).tempted
        }


class TestScore:
    def test_by_hand(self) -> None:
        assert len(candidates()) == 22  # 21 mechanisms and "not decided"
        assert points(0.5, right=True) == pytest.approx(math.log2(11))
        assert points(0.79, right=False) == pytest.approx(math.log2(22 * 0.01))  # 0.21 spread over 21 others

    def test_is_proper(self) -> None:
        # who believes 70 % earns most by saying 70
        def expected(said: float) -> float:
            return 0.7 * points(said, right=True) + 0.3 * points(said, right=False)

        assert max((s / 100 for s in range(5, 100)), key=expected) == 0.7

    @pytest.mark.parametrize("sure", [0.0, 0.04, 1.0, math.nan])
    def test_nobody_may_be_certain(self, sure: float) -> None:
        with pytest.raises(ValueError, match="confidence"):
            points(sure, right=True)


class TestKnowledge:
    def test_what_is_shipped_fits(self) -> None:
        check(teaching(), knowledge.load())

    def test_all_that_is_wrong_is_named(self) -> None:
        shipped = teaching()
        first = replace(shipped.stations[1], steps=("heads", "no_such_step"))
        wrong = replace(shipped.wrongs[0], right_for=("nonsense",), source="hearsay")
        broken = replace(
            shipped, stations=(shipped.stations[0], first, *shipped.stations[2:]), wrongs=(wrong, *shipped.wrongs[1:])
        )
        with pytest.raises(KnowledgeError) as told:
            check(broken, knowledge.load())
        text = str(told.value)
        for part in ("terminal_box stands at 0", "heads stands at 2", "no_such_step", "nonsense", "hearsay"):
            assert part in text


def test_the_deck_goes_from_decided_to_not_decided() -> None:
    answers = [plan(RECORDS[card.claim], sheets=SHEETS).answer for card in lessons.deck()]
    assert answers[-1] == NOT_DECIDED
    assert NOT_DECIDED not in answers[:-1]
    assert len(set(answers)) >= 7
