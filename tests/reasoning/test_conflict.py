"""Contradictions are named, rare but coherent records are not."""

from dataclasses import replace

import numpy as np
import pytest

from stripdown.knowledge.model import Exclusion, Finding, State
from stripdown.reasoning import conflict
from stripdown.reasoning.costs import default_costs
from stripdown.reasoning.infer import everything
from stripdown.reasoning.model import Conflict, Evidence
from stripdown.reasoning.network import Network, context_of
from stripdown.reasoning.reason import Reasoner
from tests.reasoning.small import SHIPPED, finding, link, small
from tests.reasoning.test_explain import NETWORK, evidence_of


def test_simulated_levels_come_as_often_as_the_network_says():
    """Against the marginals of an independent way: sums over the states, by the tree, of one finding at a time."""
    findings = ["main_bearing.worn", "oil.low", "crank.will_not_turn"]
    _, levels = conflict.simulate(NETWORK, findings, 20_000, 1)
    for name in findings:
        sizes = len(SHIPPED.findings[name].levels) + 1
        p = np.array([np.exp(everything(NETWORK, {name: np.eye(sizes)[k]}).log_evidence[0]) for k in range(sizes)])
        seen = np.bincount(levels[name], minlength=sizes) / 20_000
        assert np.all(np.abs(seen - p) < 4.0 * np.sqrt(p * (1 - p) / 20_000) + 1e-9), name


def surprising(*findings: Finding) -> Network:
    """A mechanism m that nearly always brings the state s and shows each finding."""
    states = [State("s", "damage", 0.001, (link("m!", shows=0.999),))]
    return Network(small({"m": 0.5, "n": 0.5}, states, findings), context_of())


def test_a_finding_that_the_rest_makes_improbable_is_a_conflict_by_hand():
    """a is there, b is not, and both hang on s alone: the sums over s and not s are written out below."""
    network = surprising(
        finding("a.there", 0.0001, link("s", shows=0.9), on_site=True),
        finding("b.there", 0.0001, link("s", shows=0.9999), on_site=True),
    )
    there = Evidence({"a.there": np.eye(2)[1], "b.there": np.eye(2)[0]}, {"a.there": "a", "b.there": "b"}, frozenset())
    s = 0.5 * (1 - 0.999 * 0.001) + 0.5 * 0.001
    both = s * 0.9 * 0.0001 + (1 - s) * 0.0001 * 0.9999
    of_a = both / (s * 0.0001 + (1 - s) * 0.9999)
    of_b = both / (s * 0.9 + (1 - s) * 0.0001)
    clash = conflict.find(network, there)
    assert clash is not None
    assert clash.figure == pytest.approx(-np.log(of_a) - np.log(of_b) - 2 * conflict.SURPRISING, rel=1e-6)
    assert set(clash.findings) == {"a", "b"}


def test_a_finding_that_is_rare_whatever_else_was_seen_is_none():
    """c is seen on one machine in 10,000; a says nothing of it."""
    network = surprising(
        finding("a.there", 0.1, link("s", shows=0.9)), finding("c.there", 0.0001, link("m!", shows=0.0001))
    )
    seen = {f: np.eye(2)[1] for f in ("a.there", "c.there")}
    assert conflict.find(network, Evidence(seen, {f: f for f in seen}, frozenset(seen))) is None


def test_findings_that_go_together_are_none():
    network = surprising(
        finding("a.there", 0.0001, link("s", shows=0.9)), finding("b.there", 0.0001, link("s", shows=0.9))
    )
    there = {f: np.eye(2)[1] for f in ("a.there", "b.there")}
    assert conflict.find(network, Evidence(there, {f: f for f in there}, frozenset(there))) is None


def stating(exclusion: Exclusion, *, but: str | None = None) -> Evidence:
    """A record that states all of an exclusion, or all but one finding."""
    seen = evidence_of({f: level for f, level in exclusion.findings.items() if f != but})
    return replace(seen, everywhere=exclusion.everywhere - {but})


@pytest.mark.parametrize("exclusion", SHIPPED.exclusions, ids=lambda e: " + ".join(e.findings))
def test_what_no_machine_shows_together_is_a_conflict_only_when_all_of_it_is_stated(exclusion: Exclusion):
    seen = stating(exclusion)
    clash = conflict._excluded(SHIPPED, seen)
    assert clash is not None
    assert set(clash.findings) == {seen.labels[f] for f in exclusion.findings}
    assert (clash.tail, clash.why) == (exclusion.rate, exclusion.why)
    for left_out in exclusion.findings:
        assert conflict._excluded(SHIPPED, stating(exclusion, but=left_out)) is None


def named(*findings: str) -> Exclusion:
    return next(e for e in SHIPPED.exclusions if set(e.findings) == set(findings))


def test_an_exclusion_is_a_conflict_however_well_the_rest_fits():
    """Common practice, no source: a machine that is burnt and otherwise of one piece, but measures whole."""
    findings = {"stator.burnt_all_phases": 2, "motor_chamber.soot": 2, "oil.dark_burnt": 2, "rotor.blued": 2}
    whole = {"winding_resistance.leads": 0, "insulation_resistance.leads": 0}
    clash = conflict.find(NETWORK, evidence_of(findings | whole))
    assert clash is not None
    assert clash.why == "A winding burnt through is not both balanced and insulated"
    assert conflict.find(NETWORK, evidence_of(findings)) is None


def test_what_explains_two_findings_takes_their_exclusion_away():
    """Common practice, no source: a seized rod that broke no longer holds the shaft."""
    held = {"connecting_rod.seized": 2, "crank.will_not_turn": 0}
    assert conflict._excluded(SHIPPED, evidence_of(held)) is not None
    for level in (1, 2):
        assert conflict._excluded(SHIPPED, evidence_of(held | {"connecting_rod.broken": level})) is None
    assert conflict._excluded(SHIPPED, evidence_of(held | {"connecting_rod.broken": 0})) is not None
    burnt_away = replace(evidence_of(held), unreadable=frozenset({"connecting_rod.broken"}))
    assert conflict._excluded(SHIPPED, burnt_away) is None


def test_some_cylinders_broken_is_no_exclusion_where_it_needs_all_of_them():
    """Common practice, no source: a machine with one rod broken still pumps with the others."""
    rods = named("connecting_rod.broken", "pumping.does_not_pump")
    assert rods.everywhere == {"connecting_rod.broken"}
    assert conflict._excluded(SHIPPED, evidence_of(dict(rods.findings))) is None
    assert conflict._excluded(SHIPPED, stating(rods)) is not None


def test_what_was_read_before_the_machine_came_out_excludes_nothing():
    """Common practice, no source: what pulled down in May may be locked in June."""
    locked = stating(named("crank.will_not_turn", "vacuum_pull_down.poor"))
    earlier = replace(locked, not_as_found=frozenset({"vacuum_pull_down.poor"}))
    assert conflict._excluded(SHIPPED, locked) is not None
    assert conflict._excluded(SHIPPED, earlier) is None


def test_a_doubtful_reading_excludes_nothing():
    """Common practice, no source: only what is surely so counts."""
    locked = stating(named("crank.will_not_turn", "vacuum_pull_down.poor"))
    doubtful = {**locked.likelihoods, "vacuum_pull_down.poor": np.array([0.9, 0.1])}
    assert conflict._excluded(SHIPPED, replace(locked, likelihoods=doubtful)) is None


@pytest.mark.parametrize(
    "machine",
    [
        {"crank.will_not_turn": 1, "pumping.does_not_pump": 1, "main_bearing.seized": 2, "connecting_rod.seized": 2},
        {"suction_reed.broken": 2, "discharge_valve.broken": 0, "vacuum_pull_down.poor": 0, "leak_back_rate.high": 0},
        {"discharge_valve.broken": 2, "vacuum_pull_down.poor": 0, "leak_back_rate.high": 1},
        {"crankshaft.scored_progressive": 2, "rod_bearings.worn_random": 2, "crankshaft.scored_random": 1},
        {"backer_bolts.backed_out": 2, "backer_bolts.stretched": 2, "valve_backer.loose": 2},
        {"winding_resistance.terminals": 2, "winding_resistance.leads": 0, "insulation_resistance.leads": 0},
        {"stator.burnt_spot": 2, "winding_resistance.leads": 0, "insulation_resistance.leads": 1},
        {"stator.burnt_one_phase": 2, "stator.burnt_all_phases": 1, "insulation_resistance.leads": 1},
        {"rotor.rubbed": 2, "stator.rubbed": 2, "air_gap.unequal": 0, "main_bearing.worn": 0, "rotor.loose": 2},
        {"oil.low": 2, "oil.overfull": 0, "motor_chamber.oil_logged": 2},
        {"main_bearing.worn": 2, "pump_end_bearing.worn": 0, "crankshaft.scored_progressive": 2},
        {"relief_valve.leaking": 2, "leak_back_rate.high": 1, "vacuum_pull_down.poor": 0},
        {"head_bolts.loose": 2, "head_bolts.overtightened": 2, "valve_plate.discoloured_fixed": 2},
        {"crankshaft.broken": 2, "net_oil_pressure.low": 0, "pumping.does_not_pump": 1, "vacuum_pull_down.poor": 1},
        {"crankshaft.broken": 2, "net_oil_pressure.low": 1, "vacuum_pull_down.poor": 0},
    ],
    ids=lambda m: " + ".join(m),
)
def test_what_a_machine_can_show_meets_no_exclusion(machine: dict[str, int]):
    """Damage that goes together on the bench: common practice, no source."""
    assert conflict._excluded(SHIPPED, evidence_of(machine)) is None


def test_wear_patterns_that_exclude_one_another_are_a_conflict():
    clash = conflict.find(
        NETWORK,
        evidence_of(
            {
                "crankshaft.scored_progressive": 2,
                "crankshaft.scored_random": 2,
                "crankshaft.scored_uniform": 2,
                "crankshaft.heat_tinted": 0,
                "oil.low": 0,
            }
        ),
    )
    assert clash is not None
    assert clash.tail <= conflict.FLAGGED_BELOW
    assert any("scored" in f for f in clash.findings)


def test_a_rare_but_coherent_record_is_none():
    network = Network(SHIPPED, context_of(motor="part_winding"))
    clash = conflict.find(
        network, evidence_of({"stator.burnt_one_winding": 2, "start_timer.faulty": 1, "rotor.rubbed": 0})
    )
    assert clash is None


def test_the_first_check_is_to_look_again_with_the_cautions_of_its_steps():
    """Common practice, no source: bearings are seen once the shaft is out, and measured there; the winding at the
    leads is not the winding at the terminals."""
    steps = {s.id: s for s in SHIPPED.steps}
    shaft = next(s for s in SHIPPED.steps if "main_bearing" in s.parts)
    leads, terminals = steps["leads"], steps["winding_resistance"]
    found = ("main_bearing.worn heavy", "main_bearing_play 48 um", "winding_resistance U-V at leads open")
    check = conflict.look_again(SHIPPED, Conflict(5.8, 0.003, found))
    assert (check.id, check.gain_bits, check.saving) == ("look_again", 0.0, 0.0)
    assert check.minutes > 0
    assert check.caution == f"{shaft.caution} {leads.caution}"
    assert terminals.caution not in check.caution
    assert check.text == (
        "Look again at what does not go together: main bearing worn, heavy; main bearing play 48 um; "
        "winding resistance U-V at leads open"
    )


def test_what_no_step_gives_is_asked_for_and_nobody_reads_it_again_live_for_the_answer():
    check = conflict.look_again(SHIPPED, Conflict(5.8, 0.003, ("90 run hours", *["suction_pressure 5 bar"] * 5)))
    assert check.caution == next(s for s in SHIPPED.steps if s.id == "site_history").caution
    assert "live work" in check.caution
    assert check.text.endswith("90 run hours; " + "suction pressure 5 bar; " * 3 + "and 2 more")


def test_what_is_there_or_not_has_no_extent_to_look_at_again():
    check = conflict.look_again(SHIPPED, Conflict(5.8, 0.003, ("crank.will_not_turn heavy", "oil.low none")))
    assert check.text.endswith(": crank will not turn; oil low, sound")


def test_a_record_in_conflict_is_looked_at_again_before_anything_else_is():
    reasoner = Reasoner(SHIPPED, default_costs())
    clashing = {"crank.will_not_turn": 1, "vacuum_pull_down.poor": 0}
    found = reasoner.judge(context_of(), evidence_of(clashing), ())
    first, *others = found.next_checks
    assert first.id == conflict.AGAIN
    assert first.caution in found.cautions
    assert conflict.AGAIN not in {c.id for c in others}
    alone = reasoner.judge(context_of(), evidence_of({"crank.will_not_turn": 1}), ())
    assert conflict.AGAIN not in {c.id for c in alone.next_checks}
