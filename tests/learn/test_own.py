"""What was learned stands in a file that loads, laid over the shipped knowledge or over the own file it began from."""

import dataclasses
import tomllib
from pathlib import Path

import numpy as np
import pytest

from stripdown import knowledge, limits
from stripdown.learn import own_file, report, study
from stripdown.reasoning import strengths
from stripdown.reasoning.costs import default_costs
from stripdown.record import read_all
from stripdown.record.model import Confirmed, Record

ROOT = Path(__file__).parents[2]
SHEETS = limits.load_sheets(None)
CASES = [
    (ROOT / "tests/cases/C01.toml", "floodback"),
    (ROOT / "tests/cases/C02.toml", "liquid_slug"),
    (ROOT / "tests/cases/C03.toml", "surge"),
]


def record(path: Path) -> Record:
    (item,) = read_all([str(path)])
    assert isinstance(item, Record)
    return item


def confirmed(*said: tuple[Path, str], causes: tuple[str, ...] = ()) -> list[Record]:
    return [
        dataclasses.replace(record(path), confirmed=(Confirmed(by="analyst 1", first=first, causes=causes),))
        for path, first in said
    ]


def learned(items, base=None, **more):
    return study(items, knowledge=knowledge.load(base), sheets=SHEETS, costs=default_costs(), **more)


@pytest.fixture(scope="module")
def three():
    return learned(confirmed(*CASES))


def test_the_file_loads_to_the_learned_strengths(three, tmp_path):
    path = tmp_path / "own.toml"
    path.write_text(own_file(three), encoding="utf-8")
    now, meant = strengths.read(knowledge.load(path)), strengths.read(three.learnt.knowledge)
    before = strengths.read(knowledge.load())
    moved = [k for k in meant if np.abs(meant[k] - before[k]).max() > 0.003]
    assert moved
    for key in moved:
        assert now[key] == pytest.approx(meant[key], abs=1e-8), key


def test_what_did_not_move_is_not_in_the_file(three):
    tables = tomllib.loads(own_file(three))
    held = {entry["id"] for kind in ("state", "cause", "finding") for entry in tables.get(kind, [])}
    assert 0 < len(held) < len(knowledge.load().findings)
    assert held <= {m.key[0] for m in three.learnt.moved}
    learnt = [x for kind in ("state", "finding") for e in tables[kind] for x in e["links"] if x["source"] == "learned"]
    assert learnt
    assert all(x["counts"] >= 0 for x in learnt)


def test_an_own_file_that_it_began_from_is_kept(tmp_path):
    base = tmp_path / "base.toml"
    base.write_text(
        "[mechanisms.surge]\ndesk = [2, 2, 2]\nrebuilder = [2, 2, 2]\nhours = [1, 1, 1, 1, 1]\n"
        'source = "estimate"\nwhy = "ours"\n\n'
        '[[finding]]\nid = "compressor_location.colder_than_evaporator"\notherwise = 0.07\n'
        "graded = false\non_site = true\n"
        'links = [{from = "cold_location", shows = 0.8, why = "ours", source = "practice"}]\n',
        encoding="utf-8",
    )
    tables = tomllib.loads(own_file(learned(confirmed(CASES[0]), base, keep_shares=True), base))
    assert tables["mechanisms"]["surge"]["desk"] == [2, 2, 2]
    moved = tomllib.loads(own_file(learned(confirmed(CASES[0]), base), base))["mechanisms"]["surge"]
    assert moved["desk"][0] == pytest.approx(2, abs=0.1)
    assert moved["why"] == "ours"
    ours = next(e for e in tables["finding"] if e["id"] == "compressor_location.colder_than_evaporator")
    assert ours["links"][0]["why"] == "ours"


def test_without_a_confirmed_record_the_file_changes_nothing(tmp_path):
    nothing = learned([record(CASES[0][0])])
    assert (nothing.used, nothing.unconfirmed) == (0, 1)
    path = tmp_path / "own.toml"
    path.write_text(own_file(nothing), encoding="utf-8")
    assert knowledge.load(path).digest == knowledge.load().digest
    lines = list(report(nothing))
    assert "what moved: nothing that would show" in lines
    assert "agreement of person and program: no confirmed record" in lines


def test_the_last_who_confirmed_counts_and_disagreement_is_named():
    one = dataclasses.replace(
        record(CASES[0][0]), confirmed=(Confirmed(first="floodback"), Confirmed(first="oil_starvation"))
    )
    got = learned([one])
    assert got.pairs[0].people == ("floodback", "oil_starvation")
    assert "disagree: floodback, oil_starvation" in got.notices[0].what


def test_a_cause_the_knowledge_cannot_place_is_told_and_the_rest_is_learned_from():
    got = learned(confirmed(CASES[0], causes=("supply_fault",)))
    assert got.used == 1
    assert "supply_fault named under floodback" in got.notices[0].what


def test_agreement_by_mechanism_by_hand(three):
    """Three records; the program agrees where its headline is what the person said. With counts a (both), b, c (one
    only), d (neither): kappa = 2 (a d - b c) / ((a + b)(b + d) + (a + c)(c + d))."""
    lines = {line.split(":")[0].strip(): line for line in report(three)}
    for mechanism in {p.program for p in three.pairs} | {p.people[-1] for p in three.pairs}:
        person = [p.people[-1] == mechanism for p in three.pairs]
        program = [p.program == mechanism for p in three.pairs]
        a = sum(x and y for x, y in zip(person, program, strict=True))
        b, c = sum(person) - a, sum(program) - a
        d = 3 - a - b - c
        kappa = 2 * (a * d - b * c) / ((a + b) * (b + d) + (a + c) * (c + d))
        assert f"both {a}, kappa {kappa:.2f} " in lines[mechanism]
