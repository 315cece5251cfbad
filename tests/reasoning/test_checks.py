"""The next check: what it is expected to tell, when it is possible, and when no check is worth its time."""

import itertools
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stripdown.knowledge.model import Disposition, Knowledge, State, Step
from stripdown.reasoning import checks
from stripdown.reasoning.costs import Costs, default_costs
from stripdown.reasoning.infer import everything
from stripdown.reasoning.model import Evidence
from stripdown.reasoning.network import Network, context_of
from stripdown.reasoning.reason import Reasoner
from tests.reasoning.small import SHIPPED, finding, link, small
from tests.reasoning.test_explain import evidence_of

CONTEXT = context_of(cooling="refrigerant", motor="star", oil_feed="pump", duty="medium")
MINUTES = {s.id: s.minutes for s in SHIPPED.steps}
NOTHING = Evidence({}, {}, frozenset())


def step(name: str, *parts: str, minutes: float = 10.0) -> Step:
    return Step(name, name, "look", minutes, f"caution of {name}", parts, (), (), ())


# Information


@st.composite
def networks(draw: st.DrawFn) -> tuple[Knowledge, dict[str, int]]:
    """Three mechanisms, two states in a row, three findings; and levels of one finding that was looked at."""
    p = st.floats(0.01, 0.99)
    shares = {m: draw(st.floats(0.05, 1.0)) for m in ("m", "n", "o")}
    upper = State("upper", "damage", draw(p), (link("m!", shows=draw(p)), link("n!", shows=draw(p))))
    lower = State("lower", "damage", draw(p), (link("upper", shows=draw(p)), link("o!", shows=draw(p))))
    rate = st.floats(0.01, 0.3)
    more = st.floats(0.35, 0.95)
    findings = [
        finding("a.seen", draw(rate), link("lower", shows=draw(more))),
        finding("b.seen", draw(rate), link("upper", shows=draw(more)), link("n!", shows=draw(more))),
        finding("c.seen", draw(rate), link("o!", shows=draw(more))),
    ]
    looked_at = draw(st.dictionaries(st.sampled_from(["a.seen", "b.seen"]), st.integers(0, 1), max_size=1))
    return small(shares, (upper, lower), findings), looked_at


def _joint(network: Network, levels: dict[str, int]) -> np.ndarray:
    """P(first, findings at these levels), every state summed out by enumeration."""
    total = np.zeros(len(network.mechanisms))
    nodes = sorted(network.families)
    for values in itertools.product(range(len(network.mechanisms)), *[(0, 1)] * len(nodes)):
        at = dict(zip((0, *nodes), values, strict=True))
        p = network.prior[at[0]]
        for node in nodes:
            scope, table = network.families[node]
            p *= table[(*(at[v] for v in scope), 0)]
        for name, level in levels.items():
            leaf = network.leaf(name)
            p *= leaf.table[(level, *(at[v] for v in leaf.scope), 0)]
        total[at[0]] += p
    return total


def _bits(weights: np.ndarray) -> float:
    p = weights[weights > 0.0] / weights.sum()
    return float(-(p * np.log2(p)).sum())


@settings(max_examples=40, deadline=None)
@given(networks())
def test_gain_is_the_expected_drop_of_entropy_by_enumeration(case: tuple[Knowledge, dict[str, int]]) -> None:
    known, looked_at = case
    network = Network(known, context_of())
    open_ones = {f: (step("look"), 10.0) for f in known.findings if f not in looked_at}
    posterior = everything(network, {f: np.eye(2)[level] for f, level in looked_at.items()})
    before = _joint(network, looked_at)
    for candidate in checks.gains(posterior, open_ones):
        after = 0.0
        for level in (0, 1):
            joint = _joint(network, {**looked_at, candidate.finding: level})
            after += joint.sum() / before.sum() * _bits(joint)
        assert candidate.gain == pytest.approx(max(0.0, _bits(before) - after), abs=1e-10)


def test_gain_of_a_perfect_and_of_a_useless_check_by_hand() -> None:
    """Two mechanisms at one half are one bit. A check that shows 9 in 10 under one and 1 in 10 under the other leaves
    the entropy of 0.9 and 0.1, 0.4690 bit."""
    findings = [finding("a.seen", 0.1, link("m!", shows=0.9)), finding("b.seen", 0.3)]
    network = Network(small({"m": 1, "n": 1}, findings=findings), context_of())
    open_ones = {f: (step("look"), 10.0) for f in ("a.seen", "b.seen")}
    got = {c.finding: c.gain for c in checks.gains(everything(network, {}), open_ones)}
    assert got["a.seen"] == pytest.approx(1.0 - 0.4689955935892812, abs=1e-12)
    assert got["b.seen"] == pytest.approx(0.0, abs=1e-12)


# Saving

COSTS = Costs(
    "EUR",
    {"new_unit": 1000, "change_over": 100, "rebuild": 5000, "bench_hour": 60, "inspection": 5},
    {},
    {"unsound_unit_returned": 0, "sound_unit_scrapped": 0, "field_repair_fails": 0, "first_mechanism_missed": 500},
)


def _two_ways(minutes: float) -> tuple[Network, Knowledge]:
    """m and n at one half; a check tells them apart 9 times in 10; only replacement is left."""
    known = replace(
        small({"m": 1, "n": 1}, findings=[finding("a.seen", 0.1, link("m!", shows=0.9), on_site=False)]),
        steps=(step("look", "a", minutes=minutes),),
        dispositions={"replace_compressor": Disposition("replace_compressor", (), (), (), (), (), False, "why")},
    )
    return Network(known, context_of()), known


def test_saving_by_hand() -> None:
    """The missed mechanism costs 500 x 0.5 now and 500 x 0.1 after the check: it saves 200. Ten minutes cost 10, and
    taking the job up again 5: 1100 + 250 - 200 + 10 + 5 when the check is made first."""
    network, known = _two_ways(10)
    posterior = everything(network, {})
    (check,), inspect_cost = checks.next_checks(known, COSTS, NOTHING, posterior)
    assert (check.id, check.minutes, check.caution) == ("a.seen", 10, "caution of look")
    assert check.saving == pytest.approx(200.0)
    assert inspect_cost == pytest.approx(1165.0)


@pytest.mark.parametrize(("minutes", "worth"), [(199, True), (201, False)])
def test_a_check_that_costs_more_than_it_saves_is_not_proposed(minutes: float, worth: bool) -> None:
    """A minute costs 1; the check saves 200."""
    network, known = _two_ways(minutes)
    proposed, _ = checks.next_checks(known, COSTS, NOTHING, everything(network, {}))
    assert bool(proposed) == worth


def test_a_check_that_turns_no_decision_but_makes_it_surer_is_worth_that() -> None:
    """m at .6 leads whatever the finding (6 in 10 under m, 5 in 10 under n) says, so by itself it saves nothing. The
    chance to be wrong when naming by the odds, 1 - sum of p squared, falls from .48 to 1 - .56 (.36^2 + .20^2)/.56^2
    - .44 (.24^2 + .20^2)/.44^2 = .47532, at 500 worth 2.34: two minutes at 1 pay, three do not."""
    findings = [finding("a.seen", 0.5, link("m!", shows=0.6))]
    for minutes, worth in ((2, True), (3, False)):
        known = replace(
            small({"m": 6, "n": 4}, findings=findings),
            steps=(step("look", "a", minutes=minutes),),
            dispositions={"replace_compressor": Disposition("replace_compressor", (), (), (), (), (), False, "why")},
        )
        network = Network(known, context_of())
        proposed, _ = checks.next_checks(known, COSTS, NOTHING, everything(network, {}))
        assert [c.saving for c in proposed] == ([pytest.approx(0.0, abs=1e-9)] if worth else [])


def test_a_step_is_weighed_by_all_that_it_shows() -> None:
    """Each of two findings tells less than the one of the other step, both together more; the minutes are the same."""
    findings = [
        finding("a.seen", 0.2, link("m!", shows=0.75)),
        finding("a.heard", 0.2, link("m!", shows=0.74)),
        finding("b.seen", 0.2, link("m!", shows=0.8)),
    ]
    known = replace(
        small({"m": 1, "n": 1}, findings=findings),
        steps=(step("b", "b"), step("a", "a")),
        dispositions={"replace_compressor": Disposition("replace_compressor", (), (), (), (), (), False, "why")},
    )
    network = Network(known, context_of())
    got, _ = checks.next_checks(known, COSTS, NOTHING, everything(network, {}))
    assert [c.id for c in got] == ["a.seen", "a.heard", "b.seen"]
    assert got[0].gain_bits < got[2].gain_bits


# What is possible at this stage


def minutes(levels: dict[str, int], check: str) -> float | None:
    """Minutes of a check once these findings are known; None = not possible, or known already."""
    return dict.get({f: m for f, (_, m) in checks.open_checks(SHIPPED, evidence_of(levels)).items()}, check)


@pytest.mark.parametrize(
    ("done", "check", "steps"),
    [
        ({}, "valve_plate.coked", ["heads", "valve_plate"]),
        ({"head_gasket.blown": 0}, "valve_plate.coked", ["valve_plate"]),
        ({}, "main_bearing.worn", ["heads", "pump_end", "bottom", "motor_end", "layout"]),
        ({"oil_pump.worn": 0, "rotor.rubbed": 0}, "main_bearing.worn", ["heads", "bottom", "layout"]),
        ({}, "terminal_nuts.loose", ["terminal_box"]),
    ],
)
def test_what_must_be_opened_first_is_counted(done: dict[str, int], check: str, steps: list[str]) -> None:
    """A check of the valve plate needs the head off; the bearings need all covers off; trade notes, section 2."""
    assert minutes(done, check) == sum(MINUTES[s] for s in steps)


@pytest.mark.parametrize(
    "opened", ["head_bolts.loose", "oil_pump.worn", "rotor.rubbed", "oil_screen.blocked", "oil.low"]
)
def test_an_opened_machine_is_not_run_any_more(opened: str) -> None:
    assert minutes({}, "leak_back_rate.high") is not None
    assert minutes({opened: 0}, "leak_back_rate.high") is None
    assert minutes({opened: 0}, "pumping.does_not_pump") is None


def test_a_shaft_that_lies_on_the_bench_is_not_turned_any_more() -> None:
    assert minutes({"main_bearing.worn": 0}, "crank.will_not_turn") is None


def test_what_was_looked_at_is_not_proposed_again() -> None:
    assert minutes({"oil.low": 0}, "oil.low") is None
    assert minutes({"oil.low": 0}, "oil.thin_diluted") == MINUTES["oil_drain"]


# The list of a real machine


def proposed(levels: dict[str, int], costs: Costs | None = None) -> list[checks.Check]:
    found = Reasoner(SHIPPED, costs or default_costs()).judge(CONTEXT, evidence_of(levels), (), brief=False)
    return list(found.next_checks)


def test_proposals_stand_step_by_step_and_each_has_its_caution() -> None:
    """The findings of a step stand together, the one that tells most first; no step fills the list."""
    got = proposed({"crank.will_not_turn": 1})
    step_of = {
        f: s.id for s in SHIPPED.steps for f in SHIPPED.findings if f.split(".")[0] in s.parts or f in s.readings
    }
    groups = [(name, list(some)) for name, some in itertools.groupby(got, key=lambda c: step_of[c.id])]
    assert len(groups) > 1
    assert len({name for name, _ in groups}) == len(groups)
    for _, some in groups:
        assert len(some) <= 3
        assert [c.gain_bits for c in some] == sorted((c.gain_bits for c in some), reverse=True)
    cautions = {s.caution for s in SHIPPED.steps}
    assert all(c.caution in cautions for c in got)


def test_an_earth_at_the_terminals_asks_for_the_repeat_at_the_leads() -> None:
    """Whether a part or the whole machine is needed is told there, plate out: common practice, no source."""
    got = proposed({"insulation_resistance.terminals": 1})
    leads = [c for c in got if c.id.endswith(".leads")]
    assert [c.id for c in leads] == ["insulation_resistance.leads", "winding_resistance.leads"]
    assert leads[0].saving == leads[1].saving > leads[0].minutes / 60 * default_costs().amounts["bench_hour"]
    assert not [c for c in proposed({"insulation_resistance.terminals": 0}) if c.id.endswith(".leads")]


def test_the_order_changes_after_each_answer() -> None:
    """The first check is gone from the list, and what follows depends on what it showed."""
    levels = {"crank.will_not_turn": 1}
    asked = proposed(levels)[0].id
    lists = [[c.id for c in proposed({**levels, asked: level})] for level in (0, len(SHIPPED.findings[asked].levels))]
    assert asked not in (*lists[0], *lists[1])
    assert lists[0] != lists[1]


def test_no_check_is_proposed_where_an_hour_costs_more_than_any_could_save() -> None:
    costs = default_costs()
    dear = replace(costs, amounts={**costs.amounts, "bench_hour": 1e9})
    assert proposed({"crank.will_not_turn": 1}, dear) == []
