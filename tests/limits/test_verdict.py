"""The words that a probability gets, and the tier that a value passes."""

import pytest

from stripdown.limits.model import Tier
from stripdown.limits.sheet import Limit
from stripdown.limits.verdict import probability_of, tier_of, verdict_of

LIMIT = Limit(
    rule="net_oil_pressure",
    tiers=(Tier("notice", 140, 345), Tier("limit", 80, 410), Tier("danger", 60, None)),
    source="made for this test",
)


@pytest.mark.parametrize(
    ("probability", "word"),
    [(1.0, "within"), (0.95, "within"), (0.9499, "open"), (0.0501, "open"), (0.05, "outside"), (0.0, "outside")],
)
def test_words_of_the_contract(probability, word):
    """`within` from 0.95, `outside` to 0.05, `open` between."""
    assert verdict_of(probability) == word


@pytest.mark.parametrize(
    ("value", "tier"),
    [(200, None), (140, None), (139, "notice"), (400, "notice"), (79, "limit"), (411, "limit"), (59, "danger")],
)
def test_the_highest_tier_passed(value, tier):
    assert tier_of(value, LIMIT) == tier


def test_jcgm_106_two_sided():
    """JCGM 106:2012, clause 7: 0.662630."""
    limit = Limit(rule="winding_balance", tiers=(Tier("limit", 12.5, 16.3),), source="JCGM 106")
    assert probability_of(13.6, 1.8, limit) == pytest.approx(0.662630, abs=1e-6)


def test_a_doubtful_band_counts_half_by_each_end():
    """Surely between the two ends: one half; surely beyond both: 0 and 1."""
    limit = Limit(rule="insulation_minimum", tiers=(Tier("limit", 5, None),), doubtful=(1, None), source="test")
    assert [probability_of(v, 1e-9, limit) for v in (0.5, 3.0, 7.0)] == [0.0, 0.5, 1.0]
