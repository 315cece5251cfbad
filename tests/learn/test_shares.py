"""How often each mechanism is the first one: the Dirichlet posterior by hand, an optimiser where contexts differ."""

import dataclasses
import re
import tomllib

import numpy as np
import pytest
from scipy import optimize, stats

from stripdown import knowledge
from stripdown.knowledge.model import Prior
from stripdown.learn import own_file, report
from stripdown.learn.shares import learn_shares, with_shares
from stripdown.reasoning.learning import Example
from stripdown.reasoning.network import context_of, prior
from tests.learn.test_own import CASES, confirmed, learned
from tests.reasoning.small import SHIPPED, small

THREE = small({"floodback": 50.0, "surge": 30.0, "overheating": 20.0})
PLAIN = context_of()


def records(context=PLAIN, **counts: int) -> list[Example]:
    return [Example(context, {}, first) for first, n in counts.items() for _ in range(n)]


def test_one_context_is_the_dirichlet_multinomial_by_hand():
    """Prior Dirichlet(10, 6, 4), worth 20 records; 4, 12 and 4 of 20 confirmed: means 14/40, 18/40, 8/40; of one share
    the posterior is Beta(14, 26), Beta(18, 22), Beta(8, 32)."""
    shares = {s.mechanism: s for s in learn_shares(THREE, records(floodback=4, surge=12, overheating=4), 20.0)}
    assert {m: (s.before, s.records) for m, s in shares.items()} == {
        "floodback": (0.5, 4),
        "surge": (0.3, 12),
        "overheating": (0.2, 4),
    }
    for mechanism, a in (("floodback", 14.0), ("surge", 18.0), ("overheating", 8.0)):
        found, beta = shares[mechanism], stats.beta(a, 40.0 - a)
        assert found.after == pytest.approx(a / 40.0, abs=1e-10)
        assert (found.low, found.high) == pytest.approx(tuple(beta.ppf([0.025, 0.975])), abs=1e-8)


def test_a_weight_of_many_records_moves_little_and_of_few_nearly_to_what_was_counted():
    (most, *_) = learn_shares(THREE, records(surge=10), 1e6)
    assert (most.mechanism, most.after) == ("floodback", pytest.approx(0.5, abs=1e-4))
    (most, *_) = learn_shares(THREE, records(surge=10), 1e-3)
    assert (most.mechanism, most.after) == ("surge", pytest.approx(1.0, abs=1e-3))


def by_hours() -> tuple[knowledge.Knowledge, list[Example]]:
    """Surge ten times as frequent below 500 h; half of the records are of such machines."""
    priors = {**THREE.priors, "surge": Prior("surge", (30.0,) * 3, (30.0,) * 3, (10.0, 1.0, 1.0, 1.0, 1.0))}
    young = records(context_of(hours="0-500"), floodback=3, surge=25, overheating=2)
    return dataclasses.replace(THREE, priors=priors), young + records(floodback=12, surge=11, overheating=7)


def test_contexts_keep_their_factors_and_the_end_is_where_an_optimiser_ends():
    """The posterior written out: weight times the written shares' log, and each record's log share in its context."""
    known, some = by_hours()
    names, weight = ["floodback", "surge", "overheating"], 15.0
    rows = [np.array([0.5, 0.3, 0.2]), np.array([0.5, 3.0, 0.2]) / 3.7]
    counts = [np.array([12, 11, 7]) + weight * rows[0], np.array([3, 25, 2])]

    def worse(x: np.ndarray) -> float:
        ratio = np.exp(np.append(x, 0.0))
        return -float(sum(n @ np.log(row * ratio / (row @ ratio)) for n, row in zip(counts, rows, strict=True)))

    best = np.exp(np.append(optimize.minimize(worse, np.zeros(2), tol=1e-14).x, 0.0))
    shares = {s.mechanism: s.after for s in learn_shares(known, some, weight)}
    assert [shares[m] for m in names] == pytest.approx(rows[0] * best / (rows[0] @ best), abs=1e-6)


def test_records_of_another_context_alone_move_the_shares_as_their_factors_say():
    """Young machines fail of surge ten times as often as others; as many surges among them as that leads to expect
    are no news: 3.0 / 3.7 of 37 is 30."""
    known, _ = by_hours()
    shares = learn_shares(known, records(context_of(hours="0-500"), floodback=5, surge=30, overheating=2), 20.0)
    assert [s.after for s in shares] == pytest.approx([0.5, 0.3, 0.2], abs=1e-9)


def test_the_mean_over_many_fleets_is_nearer_the_truth_than_what_was_written():
    """Fleets of 200 confirmed records with true shares 20, 50, 30: the 95 % intervals hold them in 300 fleets by and
    large; the prior, worth 5 records, pulls them off by 2 points at most."""
    random, true, held = np.random.default_rng(5), {"floodback": 0.2, "surge": 0.5, "overheating": 0.3}, 0
    for _ in range(300):
        counts = dict(zip(true, random.multinomial(200, list(true.values())).tolist(), strict=True))
        held += sum(s.low <= true[s.mechanism] <= s.high for s in learn_shares(THREE, records(**counts), 5.0))
    assert 0.92 < held / 900 < 0.98


def test_what_a_context_adds_is_not_learned_and_no_record_moves_nothing():
    part_winding = context_of(motor="part_winding")
    assert learn_shares(SHIPPED, records(part_winding, half_winding=9), 50.0) == ()
    assert learn_shares(SHIPPED, [], 50.0) == ()
    moved = learn_shares(SHIPPED, records(part_winding, half_winding=9, floodback=1), 50.0)
    assert "half_winding" not in {s.mechanism for s in moved}
    now = prior(with_shares(SHIPPED, moved), part_winding)
    place = SHIPPED.mechanisms.index("half_winding")
    assert now[place] == pytest.approx(prior(SHIPPED, part_winding)[place], abs=1e-12)


def test_the_file_gives_the_learned_shares_in_every_context(tmp_path):
    got = learned(confirmed(*CASES))
    path = tmp_path / "own.toml"
    path.write_text(own_file(got), encoding="utf-8")
    now, meant = knowledge.load(path), with_shares(SHIPPED, got.shares)
    for context in (PLAIN, context_of(duty="low", hours="0-500"), context_of(motor="part_winding", oil_feed="splash")):
        assert prior(now, context) == pytest.approx(prior(meant, context), abs=1e-10)
    assert prior(now, PLAIN)[now.mechanisms.index("surge")] > prior(SHIPPED, PLAIN)[now.mechanisms.index("surge")]
    table = tomllib.loads(path.read_text(encoding="utf-8"))["mechanisms"]["surge"]
    assert (table["source"], table["counts"]) == ("learned", 1)
    assert table["rebuilder"] == list(SHIPPED.priors["surge"].rebuilder)


def test_the_report_says_what_moved_and_whose_shares_they_are():
    said = "\n".join(report(learned(confirmed(*CASES))))
    assert "the written ones counting as 50 records" in said
    assert "surge: 0.0133 -> " in said
    assert "fair sample" in said
    assert not re.search(r"\de[-+]\d", said)  # 8.7e-06 is no number for a bench


def test_shares_that_are_to_be_kept_are_kept():
    kept = learned(confirmed(*CASES), keep_shares=True)
    assert kept.shares == ()
    assert "mechanisms" not in tomllib.loads(own_file(kept))
    assert "shares of first mechanisms: as they were" in list(report(kept))
