"""The keys of the contract, and what its figures owe each other, on every open case."""

import json
import math
from typing import Any

import pytest

from stripdown import knowledge, vocabulary
from stripdown.case import gather, judge
from tests.contract import CONTRACT, EXPLAINED, misfits
from tests.open_cases import EXPECTED, Raw, answer, changed, judged, raw, record, share


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
        assert cautions[0] == knowledge.load().general_caution
        assert {c["caution"] for c in answer(name)["next_checks"]} <= set(cautions)


def judged_evidence(name: str) -> Any:
    return gather(judged(name).record).evidence


def _nothing_known(given: Raw) -> None:
    given.pop("observations", None)
    given.pop("readings", None)
    for key in ("alarms", "failed_when", "earlier_burn"):
        given["history"].pop(key, None)
