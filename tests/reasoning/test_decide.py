"""Outcome, liability and what could have been avoided, against sums done by hand on a small cost table."""

from dataclasses import replace

import numpy as np
import pytest

from stripdown.knowledge.model import Cause, Disposition, Knowledge, State
from stripdown.reasoning import decide
from stripdown.reasoning.costs import Costs
from stripdown.reasoning.decide import Looked
from stripdown.reasoning.infer import Asked, Posterior, everything, posterior_of
from stripdown.reasoning.model import Evidence, Outcome, Share
from stripdown.reasoning.network import Network, context_of
from tests.reasoning.small import finding, link, small

COSTS = Costs(
    currency="EUR",
    amounts={
        "new_unit": 1000, "rebuild": 600, "change_over": 100, "bench_hour": 10, "site_hour": 20,
        "valve_plate_set": 50, "sensor": 30, "inspection": 5,
    },
    hours={"valve_plate": 2, "sensor": 1},
    error={
        "unsound_unit_returned": 2000, "sound_unit_scrapped": 500,
        "field_repair_fails": 800, "first_mechanism_missed": 300,
    },
)  # fmt: skip
NOTHING = Evidence({}, {}, frozenset())


def disposition(
    name: str,
    *,
    needs: tuple[str, ...] = (),
    sound: tuple[str, ...] = (),
    found: tuple[str, ...] = (),
    bars: tuple[str, ...] = (),
    risk: tuple[str, ...] = (),
    site: bool = False,
    spares: tuple[str, ...] = (),
) -> Disposition:
    return Disposition(name, needs, sound, found, bars, risk, site, f"why {name}", spares)


def knowledge(*dispositions: Disposition, **more: object) -> Knowledge:
    """No fault 0.2, m 0.5, n 0.3; m wears something out in 4 of 10, and breaks something in 1 of 10."""
    states = [
        State("worn", "damage", 0.0, (link("m!", shows=0.4),)),
        State("broken", "damage", 0.0, (link("m!", shows=0.1),)),
    ]
    findings = [
        finding("reed.broken", 0.1, link("m!", shows=0.5), on_site=False),
        finding("reed.bent", 0.1, link("m!", shows=0.5), on_site=False),
        finding("pin.drops", 0.1, link("worn", shows=0.9), on_site=False),
        finding("bulb.loose", 0.1, link("n!", shows=0.5)),
    ]
    made = small({"no_fault": 0.2, "m": 0.5, "n": 0.3}, states, findings)
    return replace(made, dispositions={d.id: d for d in dispositions}, **more)


def posterior(known: Knowledge, evidence: Evidence = NOTHING) -> Posterior:
    return everything(Network(known, context_of()), evidence.likelihoods)


def seen(**levels: int) -> Evidence:
    """Findings of one level: reed_broken=1 is there, 0 is sound."""
    likelihoods = {k.replace("_", ".", 1): np.eye(2)[v] for k, v in levels.items()}
    return Evidence(likelihoods, {f: f for f in likelihoods}, frozenset(f for f, v in likelihoods.items() if v[1]))


def choice(
    known: Knowledge, evidence: Evidence = NOTHING, status: str = "likely", inspect_cost: float | None = None
) -> Outcome:
    """What is chosen with nothing known but which outcomes the evidence admits."""
    looked, now = Looked(known, evidence), posterior(known)
    [prices] = decide.prices_of(known, COSTS, now, [looked])
    return decide.choose(known, COSTS, looked, now, status, inspect_cost, prices)


# Costs


@pytest.mark.parametrize(
    ("outcome", "risk", "by_hand"),
    [
        # missed mechanism in each: 300 x (1 - 0.5) = 150
        ("return_to_service", (), 2 * 10 + 2000 * 0.8 + 150),
        ("replace_valve_plate", (), 50 + 2 * 20 + 150),
        ("replace_valve_plate", ("worn",), 50 + 2 * 20 + 800 * (0.5 * 0.4) + 150),
        ("rebuild", ("worn",), 600 + 100 + 800 * 0.2 + 0.4 * 500 * 0.2 + 150),
        ("replace_compressor", (), 1000 + 100 + 500 * 0.2 + 150),
    ],
)
def test_expected_cost_by_hand(outcome: str, risk: tuple[str, ...], by_hand: float) -> None:
    known = knowledge()
    [got] = decide.expected_costs(COSTS, posterior(known), [[disposition(outcome, risk=risk)]])
    assert got[outcome] == pytest.approx(by_hand, abs=1e-9)


def test_hidden_risks_that_go_together_are_not_counted_twice() -> None:
    """Both come under m alone (0.5), worn in 4 of 10 and broken in 1 of 10: any of them 0.5 x (1 - 0.6 x 0.9) = 0.23,
    where independence would make it 1 - 0.8 x 0.95 = 0.24."""
    rule = disposition("replace_valve_plate", risk=("worn", "broken"))
    [got] = decide.expected_costs(COSTS, posterior(knowledge()), [[rule]])
    assert got["replace_valve_plate"] == pytest.approx(90 + 800 * 0.23 + 150, abs=1e-9)


def test_a_mechanism_that_is_no_state_can_make_an_outcome_fail() -> None:
    """n is first in 3 of 10 and has no state of its own; with worn, which is m's alone: 0.3 + 0.5 x 0.4 = 0.5."""
    [got] = decide.expected_costs(COSTS, posterior(knowledge()), [[disposition("rebuild", risk=("n", "worn"))]])
    assert got["rebuild"] == pytest.approx(700 + 800 * 0.5 + 0.4 * 500 * 0.2 + 150, abs=1e-9)


def test_each_record_of_a_batch_has_the_costs_of_its_own_outcomes() -> None:
    """Two records ask for other outcomes than the third: each comes out as by hand above."""
    rules = [disposition("replace_valve_plate", risk=("worn",)), disposition("replace_compressor")]
    network = Network(knowledge(), context_of())
    batch = posterior_of([Asked(network, {})] * 3)
    got = decide.expected_costs(COSTS, batch, [rules[:1], rules[:1], rules[1:]])
    assert got == [
        {"replace_valve_plate": pytest.approx(400)},
        {"replace_valve_plate": pytest.approx(400)},
        {"replace_compressor": pytest.approx(1350)},
    ]


def test_the_least_cost_is_chosen_and_the_others_follow_by_cost() -> None:
    known = knowledge(
        disposition("return_to_service"),
        disposition("replace_valve_plate", risk=("worn",)),
        disposition("rebuild"),
        disposition("replace_compressor"),
    )
    got = choice(known)
    assert (got.id, got.currency) == ("replace_valve_plate", "EUR")
    assert got.expected_cost == pytest.approx(400)
    assert [(o.id, o.expected_cost) for o in got.alternatives] == [
        ("rebuild", pytest.approx(890)),
        ("replace_compressor", pytest.approx(1350)),
        ("return_to_service", pytest.approx(1770)),
    ]
    assert got.why == ("why replace_valve_plate",)


def test_break_even_is_where_part_and_whole_cost_the_same() -> None:
    """Valve plate 90 on the spot, rebuild 700, a failed repair 800: 90 + 800 p = 700 at p = 0.7625."""
    known = knowledge(disposition("replace_valve_plate"), disposition("rebuild"), disposition("replace_compressor"))
    assert choice(known).break_even == pytest.approx(0.7625)
    whole = knowledge(disposition("rebuild"), disposition("replace_compressor"))
    assert choice(whole).break_even is None


@pytest.mark.parametrize(
    ("status", "pending", "inspect_cost", "chosen"),
    [
        ("open", False, 300.0, "inspect_further"),
        ("likely", True, 300.0, "inspect_further"),
        ("likely", False, 300.0, "replace_compressor"),  # nothing is waiting and the mechanism is known well enough
        ("open", True, 1400.0, "replace_compressor"),  # looking further would cost more than it saves
        ("open", True, None, "replace_compressor"),  # nothing is left to look at
    ],
)
def test_inspect_further_where_a_check_pays(
    status: str, pending: bool, inspect_cost: float | None, chosen: str
) -> None:
    waits = [disposition("replace_valve_plate", needs=("reed.*",), sound=("pin.drops",))] if pending else []
    known = knowledge(*waits, disposition("replace_compressor"))
    evidence = seen(reed_broken=1)
    got = choice(known, evidence, status, inspect_cost)
    assert got.id == chosen
    assert ("replace valve plate only once looked at and found sound: pin.drops" in got.why) == pending


def test_findings_that_do_not_go_together_decide_nothing() -> None:
    known = knowledge(disposition("replace_compressor"))
    got = choice(known, NOTHING, "conflicting", 1.0)
    assert (got.id, got.alternatives) == ("inspect_further", ())
    assert got.expected_cost == pytest.approx(5 + 150)


# Which outcomes a record admits


@pytest.mark.parametrize(
    ("rule", "evidence", "admitted", "waits_for"),
    [
        (disposition("rebuild"), seen(), True, None),
        (disposition("rebuild", needs=("reed.*",)), seen(), False, None),
        (disposition("rebuild", needs=("reed.*",)), seen(reed_broken=0), False, None),
        (disposition("rebuild", needs=("reed.*",)), seen(reed_broken=1), True, None),
        (disposition("rebuild", needs=("valves",)), seen(reed_bent=1), True, None),
        (disposition("rebuild", bars=("pin.drops",)), seen(pin_drops=1), False, None),
        (disposition("rebuild", bars=("pin.drops",)), seen(pin_drops=0), True, None),
        (disposition("rebuild", bars=("*",)), seen(reed_bent=1), False, None),
        (disposition("rebuild", bars=("*",)), seen(bulb_loose=1), True, None),  # the site's, not the machine's
        (disposition("rebuild", bars=("*",), spares=("reed.bent",)), seen(reed_bent=1), True, None),
        (disposition("rebuild", bars=("*",), spares=("reed.bent",)), seen(reed_bent=1, reed_broken=1), False, None),
        (disposition("rebuild", sound=("valves",)), seen(), False, ["valves"]),
        (disposition("rebuild", sound=("valves",)), seen(reed_bent=0), True, None),
        (disposition("rebuild", sound=("valves",)), seen(reed_bent=0, reed_broken=1), False, None),
        (disposition("rebuild", found=("bulb.loose",)), seen(), False, ["bulb.loose"]),
        (disposition("rebuild", found=("bulb.loose",)), seen(bulb_loose=1), True, None),
    ],
)
def test_admitted_pending_or_neither(
    rule: Disposition, evidence: Evidence, admitted: bool, waits_for: list[str] | None
) -> None:
    known = knowledge(rule, groups={"valves": ("reed.*",)})
    now, pending = Looked(known, evidence).admitted()
    assert ("rebuild" in now) == admitted
    assert pending.get("rebuild") == waits_for
    assert "replace_compressor" in now


def test_a_reading_that_says_half_is_neither_there_nor_sound() -> None:
    doubtful = Evidence({"reed.bent": np.array([0.5, 0.5])}, {"reed.bent": "reed"}, frozenset())
    known = knowledge(disposition("rebuild", sound=("reed.*",)))
    assert Looked(known, doubtful).admitted() == (["replace_compressor"], {"rebuild": ["reed.*"]})


# Liability and what could have been avoided


def causes(*given: tuple[str, str, str, float]) -> dict[str, Cause]:
    """(cause, liability, mechanism, share)"""
    return {c: Cause(c, who, "put it right", ((m, share, {}),)) for c, who, m, share in given}


def test_the_cause_that_decides_is_weighed_by_its_odds() -> None:
    """m is certain: shares 0.5 and 0.8 have odds 1 and 4, so 1/5 and 4/5."""
    known = replace(small({"m": 1.0}), causes=causes(("a", "works", "m", 0.5), ("b", "system", "m", 0.8)))
    assert decide.liability(known, posterior(known), "likely") == (
        Share("system", pytest.approx(0.8)),
        Share("works", pytest.approx(0.2)),
    )


def test_liability_follows_the_first_mechanism() -> None:
    """m 0.7 is the system's alone, n 0.3 the works' alone."""
    known = replace(small({"m": 0.7, "n": 0.3}), causes=causes(("a", "system", "m", 0.5), ("b", "works", "n", 0.5)))
    got = decide.liability(known, posterior(known), "likely")
    assert got == (Share("system", pytest.approx(0.7)), Share("works", pytest.approx(0.3)))
    assert decide.liability(known, posterior(known), "conflicting") == (Share("undetermined", None), *got)


def test_below_six_tenths_it_is_undetermined() -> None:
    known = replace(small({"m": 1.0}), causes=causes(("a", "works", "m", 0.5), ("b", "system", "m", 0.5)))
    got = decide.liability(known, posterior(known), "established")
    assert got[0] == Share("undetermined", None)
    assert [s.probability for s in got[1:]] == pytest.approx([0.5, 0.5])


def test_avoidable_failure_is_any_cause_that_somebody_could_have_corrected() -> None:
    """System 0.5 and installation 0.4 are correctable, works is not: 1 - 0.5 x 0.6 = 0.7."""
    known = replace(
        small({"m": 1.0}),
        causes=causes(("a", "system", "m", 0.5), ("b", "installation", "m", 0.4), ("c", "works", "m", 0.9)),
    )
    assert decide.avoidable_failure(posterior(known)) == pytest.approx(0.7)


@pytest.mark.parametrize(("outcome", "site", "expected"), [("rebuild", False, 0.2), ("replace_valve_plate", True, 1.0)])
def test_avoidable_return_is_a_sound_unit_or_a_repair_on_the_site(outcome: str, site: bool, expected: float) -> None:
    known = knowledge(disposition(outcome, site=site), disposition("replace_compressor"))
    got = choice(known)
    assert got.id == outcome
    assert decide.avoidable_return(known, posterior(known), got) == pytest.approx(expected)
