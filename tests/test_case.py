"""One record in, one answer out: the open cases, the contract's keys, and what must follow when a record changes.

Expected answers of the cases: `cases/expected.toml`, each with its reason and source. Directions of change are trade
knowledge: common practice, no source.
"""

import json
import math
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stripdown import knowledge, vocabulary
from stripdown.case import Known, gather, judge, reasoner
from stripdown.knowledge.model import fits
from stripdown.reasoning.infer import everything
from tests.open_cases import EXPECTED, answer, changed, judged, raw, record, share

KNOWLEDGE = knowledge.load()
Raw = dict[str, Any]


# The open cases


@pytest.mark.parametrize("name", EXPECTED)
class TestOpenCase:
    def test_first_mechanism_is_an_accepted_one(self, name: str) -> None:
        assert answer(name)["first"][0]["id"] in EXPECTED[name]["first"]

    def test_no_forbidden_mechanism_leads_or_keeps_a_tenth(self, name: str) -> None:
        left = {bad: share(answer(name), "first", bad) for bad in EXPECTED[name]["forbidden"]}
        assert not {bad: p for bad, p in left.items() if p >= 0.10}

    def test_an_accepted_cause_is_among_the_three_likeliest(self, name: str) -> None:
        wanted = EXPECTED[name]["causes_any"]
        named = [c["id"] for c in answer(name)["causes"][:3]]
        assert not wanted or set(wanted) & set(named)

    def test_outcome_and_liability(self, name: str) -> None:
        assert answer(name)["outcome"]["id"] in EXPECTED[name]["outcome"]
        assert answer(name)["liability"][0]["id"] in EXPECTED[name]["liability"]

    def test_status(self, name: str) -> None:
        """Where two names fit one start, their shares are pooled."""
        accepted = EXPECTED[name]["first"]
        pooled = math.fsum(share(answer(name), "first", m) for m in accepted)
        split = answer(name)["status"] == "open" and len(accepted) > 1 and pooled >= 0.60
        assert answer(name)["status"] in EXPECTED[name]["status"] or split

    def test_verdicts(self, name: str) -> None:
        for wanted in EXPECTED[name]["verdicts"]:
            same = {k: v for k, v in wanted.items() if k != "verdict"}
            found = {r["verdict"] for r in answer(name)["readings"] if same.items() <= r.items()}
            assert found & set(wanted["verdict"]), wanted


# The keys of the contract

Shape = Any
"""A type, a tuple of types, a predicate, {key: shape} (further keys may be there), or [shape of each entry]."""


def probability(value: object) -> bool:
    return isinstance(value, float) and 0.0 <= value <= 1.0


def amount(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and 0.0 <= value < math.inf


def number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def either(*shapes: Shape) -> Callable[[object], bool]:
    return lambda value: any(not list(misfits(value, s)) for s in shapes)


def one_of(*words: str | None) -> Callable[[object], bool]:
    return lambda value: value in words


TEXT = lambda v: isinstance(v, str) and v != ""  # noqa: E731 - a shape, beside the others
NONE = one_of(None)
VERDICT = one_of("within", "outside", "open", "no_limit")
TIER = one_of("notice", "limit", "danger", None)
STATUS = one_of("established", "likely", "open", "conflicting")
MECHANISM = one_of(*vocabulary.mechanisms())
CAUSE = one_of(*vocabulary.causes())
OUTCOME = one_of(*vocabulary.outcomes())
NOTICE = {"file": TEXT, "entry": str, "what": TEXT, "fix": TEXT}
READING = {
    "quantity": TEXT,
    "between": either(TEXT, NONE),
    "at": either(TEXT, NONE),
    "value": either(number, one_of("open", "short")),
    "unit": TEXT,
    "corrected": either(NONE, {"value": number, "unit": TEXT, "uncertainty": amount, "corrections": [TEXT]}),
    "rule": either(TEXT, NONE),
    "judged": either(number, NONE),
    "judged_unit": either(str, NONE),
    "limit_low": either(number, NONE),
    "limit_high": either(number, NONE),
    "tier": TIER,
    "probability_within": either(probability, NONE),
    "verdict": VERDICT,
    "source": TEXT,
}
CONTRACT = {
    "claim": TEXT,
    "file": TEXT,
    "status": STATUS,
    "unit": {"serial": TEXT, "model": TEXT},
    "history": dict,
    "first": [{"id": MECHANISM, "probability": probability}],
    "mechanisms": [{"id": MECHANISM, "probability": probability}],
    "causes": [{"id": CAUSE, "probability": probability}],
    "outcome": {
        "id": OUTCOME,
        "expected_cost": amount,
        "currency": TEXT,
        "alternatives": [{"id": OUTCOME, "expected_cost": amount}],
    },
    "liability": [{"id": one_of(*vocabulary.liabilities()), "probability": either(probability, NONE)}],
    "avoidable": {"return": probability, "failure": probability},
    "readings": [READING],
    "notices": [NOTICE],
    "conflict": either(NONE, {"figure": amount, "tail": probability, "findings": [TEXT]}),
    "unexplained": [TEXT],
    "confirmed": [dict],
    "parts": [one_of(*vocabulary.parts())],
    "knowledge": lambda v: isinstance(v, str) and v.startswith("sha256:") and len(v) == 71,
    "version": TEXT,
}
EXPLAINED = {
    "chain": [{"node": TEXT, "text": TEXT, "probability": probability, "seen": bool}],
    "evidence": [{"finding": TEXT, "decibans": number}],
    "rival": either(NONE, {"id": MECHANISM, "for": [TEXT], "against": [TEXT]}),
    "flips": [{"change": TEXT, "first": MECHANISM}],
    "robustness": probability,
    "next_checks": [{"id": TEXT, "gain_bits": amount, "saving": amount, "minutes": amount, "caution": TEXT}],
    "corrections": [{"cause": either(CAUSE, NONE), "text": TEXT}],
    "cautions": [TEXT],
}


def misfits(value: object, shape: Shape, path: str = "") -> Iterator[str]:
    """Every place where a value does not have its shape."""
    if isinstance(shape, dict):
        if not isinstance(value, dict):
            yield f"{path}: {value!r}"
            return
        for key, inner in shape.items():
            if key not in value:
                yield f"{path}.{key} is missing"
            else:
                yield from misfits(value[key], inner, f"{path}.{key}")
    elif isinstance(shape, list):
        if not isinstance(value, list):
            yield f"{path}: {value!r}"
            return
        for i, entry in enumerate(value):
            yield from misfits(entry, shape[0], f"{path}[{i}]")
    elif not (isinstance(value, shape) if isinstance(shape, type) else shape(value)):
        yield f"{path}: {value!r}"


def test_a_wrong_answer_does_not_fit_the_contract() -> None:
    wrong = answer("C01") | {"status": "sure", "first": [{"id": "floodback", "probability": 1.5}], "parts": None}
    del wrong["unit"]
    assert [w.split(":")[0] for w in misfits(wrong, CONTRACT)] == [
        ".status",
        ".unit is missing",
        ".first[0].probability",
        ".parts",
    ]


@pytest.mark.parametrize("name", EXPECTED)
class TestContract:
    def test_every_key_is_there_with_its_type(self, name: str) -> None:
        assert list(misfits(json.loads(json.dumps(answer(name))), CONTRACT | EXPLAINED)) == []

    def test_brief_leaves_the_explanation_out_and_changes_nothing(self, name: str) -> None:
        brief = judge(record(raw(name)), brief=True).as_json(brief=True)
        assert list(misfits(brief, CONTRACT)) == []
        assert not EXPLAINED.keys() & brief.keys()
        for key in ("status", "parts", "unexplained", "conflict", "readings"):
            assert brief[key] == answer(name)[key], key
        for key in ("first", "mechanisms", "causes"):
            told = {x["id"]: x["probability"] for x in answer(name)[key]}
            assert {x["id"]: x["probability"] for x in brief[key]} == pytest.approx(told, abs=1e-12), key
        assert brief["outcome"]["id"] == answer(name)["outcome"]["id"]

    def test_lists_stand_most_probable_first_and_sums_are_right(self, name: str) -> None:
        got = answer(name)
        for key in ("first", "mechanisms", "causes"):
            told = [x["probability"] for x in got[key]]
            assert told == sorted(told, reverse=True), key
        assert math.fsum(x["probability"] for x in got["first"]) == pytest.approx(1.0, abs=1e-9)
        assert {x["id"] for x in got["first"]} == set(vocabulary.mechanisms())
        assert {x["id"] for x in got["causes"]} == set(vocabulary.causes())
        for mechanism in got["mechanisms"]:
            assert mechanism["probability"] >= share(got, "first", mechanism["id"]) - 1e-12
        decided = [x["probability"] for x in got["liability"] if x["id"] != "undetermined"]
        assert decided == sorted(decided, reverse=True)
        assert math.fsum(decided) <= 1.0 + 1e-9
        costs = [got["outcome"]["expected_cost"], *(o["expected_cost"] for o in got["outcome"]["alternatives"])]
        assert costs == sorted(costs)

    def test_status_says_what_its_figures_say(self, name: str) -> None:
        got = answer(name)
        top = got["first"][0]["probability"]
        if got["conflict"] is not None:
            wanted = "conflicting"
        else:
            wanted = "established" if top >= 0.90 else "likely" if top >= 0.60 else "open"
        assert got["status"] == wanted
        undetermined = [x for x in got["liability"] if x["id"] == "undetermined"]
        if max(x["probability"] or 0.0 for x in got["liability"]) < 0.60:
            assert got["liability"][0] == {"id": "undetermined", "probability": None}
        elif got["status"] != "conflicting":
            assert undetermined == []

    def test_decibans_sum_to_the_change_of_the_log_odds(self, name: str) -> None:
        """The prior is the answer to the same machine and history with nothing found and nothing reported."""
        got = answer(name)
        top = got["first"][0]
        before = share(changed(name, _nothing_known), "first", top["id"])
        change = 10.0 * math.log10(top["probability"] / before * (1.0 - before) / (1.0 - top["probability"]))
        assert math.fsum(w["decibans"] for w in got["evidence"]) == pytest.approx(change, abs=1e-6)

    def test_the_chain_goes_from_cause_over_the_headline_to_what_is_seen(self, name: str) -> None:
        nodes = [s["node"] for s in answer(name)["chain"]]
        at = nodes.index(answer(name)["first"][0]["id"])
        assert all(n in vocabulary.causes() for n in nodes[:at])
        stated = judged_evidence(name).stated
        assert {s["node"] for s in answer(name)["chain"] if s["seen"]} <= stated

    def test_the_general_caution_stands_first_and_each_check_has_its_own(self, name: str) -> None:
        cautions = answer(name)["cautions"]
        assert cautions[0] == KNOWLEDGE.general_caution
        assert {c["caution"] for c in answer(name)["next_checks"]} <= set(cautions)


def judged_evidence(name: str) -> Any:
    return gather(judged(name).record).evidence


def _nothing_known(given: Raw) -> None:
    given.pop("observations", None)
    given.pop("readings", None)
    for key in ("alarms", "failed_when", "earlier_burn"):
        given["history"].pop(key, None)


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


# A record changes


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


def _loose_nut_of_a_box_opened_on_the_site_or_never() -> tuple[Raw, Raw]:
    site, never = raw("C11"), raw("C11")
    site["history"]["opened_before"] = "site"
    never["history"]["opened_before"] = "never"
    return site, never


@pytest.mark.parametrize(
    ("pair", "liable"),
    [
        (_acid_without_a_new_drier_or_after_a_burn, ("installation", "system")),
        (_loose_nut_of_a_box_opened_on_the_site_or_never, ("installation", "works")),
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
        known = gather(judged(name).record)
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
