"""One record in, one answer out: what must follow when a record changes, and what must not.

Directions of change are trade knowledge: common practice, no source.
"""

import json
import math
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stripdown import knowledge, vocabulary
from stripdown.case import Known, gather, judge, reasoner
from stripdown.knowledge.model import fits
from stripdown.reasoning.infer import everything
from tests.contract import CONTRACT, EXPLAINED, misfits
from tests.open_cases import EXPECTED, Raw, answer, changed, raw, record, share

KNOWLEDGE = knowledge.load()


def test_the_same_record_gives_the_same_bytes() -> None:
    again = judge(record(raw("C07"))).as_json()
    assert json.dumps(again) == json.dumps(answer("C07"))


@settings(max_examples=10, deadline=None)
@given(st.sampled_from(["C01", "C10", "C14"]), st.randoms(use_true_random=False))
def test_order_of_entries_does_not_matter(name: str, random: Any) -> None:
    def shuffle(given: Raw) -> None:
        random.shuffle(given["readings"])
        random.shuffle(given["observations"])

    got = changed(name, shuffle)
    for key in ("first", "causes"):
        told = {x["id"]: x["probability"] for x in answer(name)[key]}
        assert {x["id"]: x["probability"] for x in got[key]} == pytest.approx(told, abs=1e-9)
    assert got["outcome"]["id"] == answer(name)["outcome"]["id"]
    assert got["status"] == answer(name)["status"]
    assert set(got["parts"]) == set(answer(name)["parts"])


def observe(given: Raw, finding: str, extent: str = "heavy", **more: object) -> None:
    part, condition = finding.split(".")
    given.setdefault("observations", []).append({"part": part, "condition": condition, "extent": extent} | more)


def take_out(finding: str) -> Callable[[Raw], None]:
    """Take an observation of a finding out; it must be there."""

    def change(given: Raw) -> None:
        kept = [o for o in given["observations"] if f"{o['part']}.{o['condition']}" != finding]
        assert len(kept) < len(given["observations"])
        given["observations"] = kept

    return change


def empty(**more: object) -> Raw:
    return {
        "format": 1,
        "claim": "E-1",
        "unit": {"serial": "1", "model": "none of ours", "motor": "star"},
        "history": {"duty": "medium"},
    } | more


def test_an_empty_record_gives_the_base_rates_and_stays_open() -> None:
    """The written shares of the warranty desk, medium duty, percent; trade notes, section 8."""
    got = judge(record(empty())).as_json()
    written = tomllib.loads((Path(knowledge.__file__).parent / "mechanisms.toml").read_text(encoding="utf-8"))
    for mechanism in vocabulary.mechanisms():
        assert share(got, "first", mechanism) == pytest.approx(written[mechanism]["desk"][1] / 100, abs=1e-12)
    assert got["status"] == "open"
    assert got["outcome"]["id"] == "inspect_further"
    assert got["liability"][0] == {"id": "undetermined", "probability": None}
    assert got["evidence"] == []
    assert got["unexplained"] == []
    assert got["parts"] == []
    assert got["next_checks"]
    assert list(misfits(got, CONTRACT | EXPLAINED)) == []


def test_not_looked_at_and_unreadable_say_nothing_and_none_does() -> None:
    given = empty()
    observe(given, "crank.will_not_turn")
    nothing = judge(record(given), brief=True).as_json(brief=True)
    observe(given, "oil.low", "unreadable")
    unreadable = judge(record(given), brief=True).as_json(brief=True)
    given["observations"][-1]["extent"] = "none"
    sound = judge(record(given), brief=True).as_json(brief=True)
    assert unreadable["first"] == nothing["first"]
    assert share(sound, "first", "oil_starvation") < 0.5 * share(nothing, "first", "oil_starvation")
    assert share(sound, "first", "floodback") > share(nothing, "first", "floodback")


@pytest.mark.parametrize(
    ("looked_at", "cleared", "rival"),
    [
        ("oil.low", "oil_starvation", "floodback"),
        ("oil_pump.drive_broken", "oil_feed_fault", "oil_starvation"),
        ("main_bearing.worn", "floodback", "liquid_slug"),
        ("valve_plate.discoloured_fixed", "overheating", "liquid_slug"),
        ("rod_bearings.worn_random", "flooded_start", "floodback"),
        ("suction_reed.broken", "liquid_slug", "flooded_start"),
    ],
)
def test_a_part_found_sound_clears_what_would_have_damaged_it(looked_at: str, cleared: str, rival: str) -> None:
    """Of a machine that will not turn and of which nothing else is known."""
    before = answer("C15")
    after = changed("C15", lambda given: observe(given, looked_at, "none"))
    assert share(after, "first", cleared) < share(before, "first", cleared)
    odds = [share(x, "first", cleared) / share(x, "first", rival) for x in (before, after)]
    assert odds[1] < odds[0]


def test_a_contradictory_record_says_so_and_decides_nothing() -> None:
    """Each pattern of wear tells another story, and none of them a sump that is full and a crank without colour."""
    given = empty()
    for finding in ("crankshaft.scored_progressive", "crankshaft.scored_random", "crankshaft.scored_uniform"):
        observe(given, finding)
    for finding in ("main_bearing.worn", "oil.low", "crankshaft.heat_tinted", "rod_bearings.worn_random"):
        observe(given, finding, "none")
    got = judge(record(given)).as_json()
    assert got["status"] == "conflicting"
    assert got["conflict"]["figure"] > 0
    assert got["conflict"]["tail"] <= 0.02
    assert got["conflict"]["findings"]
    assert (got["outcome"]["id"], got["outcome"]["alternatives"]) == ("inspect_further", [])
    assert got["liability"][0] == {"id": "undetermined", "probability": None}
    assert list(misfits(got, CONTRACT | EXPLAINED)) == []


@pytest.mark.parametrize(
    ("case", "finding", "extent", "sign"),
    [
        ("C01", "oil.thin_diluted", "heavy", +1),
        ("C02", "rod_bearings.worn_random", "heavy", +1),
        ("C03", "suction_reed.broken", "heavy", +1),
        ("C04", "suction_line.uninsulated", "heavy", +1),
        ("C05", "oil.low", "heavy", +1),
        ("C06", "oil_pump.drive_broken", "heavy", +1),
        ("C07", "filter_drier.not_renewed", "heavy", +1),
        ("C08", "stator.burnt_two_phases", "heavy", +1),
        ("C09", "stator.burnt_one_winding", "heavy", +1),
        ("C10", "stator.burnt_all_phases", "heavy", +1),
        ("C11", "terminal_nuts.loose", "heavy", +1),
        ("C12", "motor_sensor.lead_broken", "heavy", +1),
        ("C13", "piston_rings.worn", "slight", +1),
        ("C14", "main_bearing.worn", "none", +1),
        ("C16", "head_gasket.blown", "heavy", +1),
        ("C01", "stator.rubbed", "none", -1),
        ("C06", "oil_screen.blocked", "none", -1),
        ("C08", "contactor.one_pole_burnt", "none", -1),
        ("C16", "valve_plate.discoloured_fixed", "none", -1),
    ],
)
def test_a_finding_taken_out_moves_the_headline_as_its_links_say(
    case: str, finding: str, extent: str, sign: int
) -> None:
    """Of a finding that is there and whose links name the headline, and of a part that the headline would have
    damaged and that was found sound."""
    held = [o["extent"] for o in raw(case)["observations"] if f"{o['part']}.{o['condition']}" == finding]
    assert held == [extent]
    headline = answer(case)["first"][0]["id"]
    with_it = share(answer(case), "first", headline)
    without = share(changed(case, take_out(finding)), "first", headline)
    change = math.log(with_it / (1.0 - with_it)) - math.log(without / (1.0 - without))
    assert sign * change > 0.0


def _acid_without_a_new_drier_or_after_a_burn() -> tuple[Raw, Raw]:
    """Acid: the drier left in after a repair, or nothing cleaned up after an earlier burn."""
    drier, burn = raw("C07"), raw("C07")
    take_out("filter_drier.not_renewed")(burn)
    observe(burn, "cleanup.not_done_after_burnout")
    burn["history"]["earlier_burn"] = True
    return drier, burn


def _slack_head_of_a_machine_opened_on_the_site_or_never() -> tuple[Raw, Raw]:
    site, never = raw("C16"), raw("C16")
    site["history"]["opened_before"] = "site"
    never["history"]["opened_before"] = "never"
    return site, never


@pytest.mark.parametrize(
    ("pair", "liable"),
    [
        (_acid_without_a_new_drier_or_after_a_burn, ("installation", "system")),
        (_slack_head_of_a_machine_opened_on_the_site_or_never, ("installation", "works")),
    ],
)
def test_one_mechanism_with_other_findings_on_the_site_has_another_cause(
    pair: Callable[[], tuple[Raw, Raw]], liable: tuple[str, str]
) -> None:
    """Who is liable for which cause: trade notes, section 6."""
    one, other = (judge(record(given)).as_json() for given in pair())
    assert one["first"][0]["id"] == other["first"][0]["id"]
    assert one["causes"][0]["id"] != other["causes"][0]["id"]
    assert one["corrections"][0]["text"] != other["corrections"][0]["text"]
    decided = [next(x["id"] for x in got["liability"] if x["id"] != "undetermined") for got in (one, other)]
    assert decided == list(liable)
    assert one["avoidable"]["failure"] != pytest.approx(other["avoidable"]["failure"], abs=1e-3)


def test_findings_that_name_only_first_mechanisms_weigh_exactly_what_is_written() -> None:
    """By hand: where every link of a finding starts at `first`, the odds of a linked mechanism against one that the
    finding does not name change by P(what was seen | linked) / P(what was seen | otherwise), both as written."""
    compared = set()
    for name in EXPECTED:
        given = raw(name)
        for sound in ("head_gasket.carbon_track", "relief_valve.leaking"):
            observe(given, sound, "none")
        known = gather(record(given))
        network = reasoner().network(known.context)

        def odds(of: str, against: str, *, without: str | None = None, known: Known = known) -> float:
            seen = {f: v for f, v in known.evidence.likelihoods.items() if f != without}
            first = everything(reasoner().network(known.context), seen).first[:, 0]
            rows = reasoner().network(known.context).first_index
            return float(first[rows[of]] / first[rows[against]])

        for finding, seen in known.evidence.likelihoods.items():
            if finding not in KNOWLEDGE.findings:
                continue
            written = KNOWLEDGE.findings[finding]
            links = [x for x in written.links if fits(x.when, known.context)]
            linked = [p.removesuffix("!") for x in links for p in x.parents]
            if (
                written.times
                or len(set(linked)) < len(links)
                or not all(p.endswith("!") for x in links for p in x.parents)
            ):
                continue
            other = next(m for m in ("wear_out", "surge", "floodback", "overheating") if m not in linked)
            for mechanism, link in zip(linked, links, strict=True):
                if network.prior[network.first_index[mechanism]] == 0.0:
                    continue
                by_hand = _seen_as(seen, link.shows) / _seen_as(seen, written.otherwise)
                rise = odds(mechanism, other) / odds(mechanism, other, without=finding)
                assert rise == pytest.approx(by_hand, rel=1e-9), (name, finding)
                compared.add(finding)
    assert len(compared) >= 3


def _seen_as(likelihood: Any, levels: tuple[float, ...]) -> float:
    """Probability of what was seen, where the levels above none have these probabilities."""
    return math.fsum(a * b for a, b in zip(likelihood, (1.0 - math.fsum(levels), *levels), strict=True))
