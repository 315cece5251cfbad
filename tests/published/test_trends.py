"""Trends against published worked examples and against a general statistics library."""

import numpy as np
import pytest
from statsmodels.duration.hazard_regression import PHReg
from statsmodels.stats.contingency_tables import StratifiedTable

from stripdown.fleet.alike import Within
from stripdown.fleet.rising import rise


def _records(present: list[int], absent: list[int], scores: list[float]) -> tuple[np.ndarray, np.ndarray]:
    """Scores and outcomes one by one, of counts by score."""
    x = np.repeat([*scores, *scores], [*present, *absent])
    return x, np.repeat([1.0, 0.0], [sum(present), sum(absent)])


def test_linear_trend_in_one_stratum() -> None:
    """Malformation by mother's drinks a day, scores 0, 0.5, 1.5, 4, 7: M² = 6.57, P = 0.010 (A. Agresti, Categorical
    Data Analysis, 2nd ed. 2002, sec. 3.4.5; figures from memory; Mantel's statistic (n - 1) r²)."""
    present, absent = [48, 38, 5, 1, 1], [17066, 14464, 788, 126, 37]
    x, y = _records(present, absent, [0.0, 0.5, 1.5, 4.0, 7.0])
    found = Within(np.zeros(len(x), dtype=int), x).drift(y)
    assert found is not None
    assert found.z**2 == pytest.approx(6.57, abs=5e-3)
    assert (found.returns, found.expected) == (32574, 93)


_BERKELEY = [  # admitted and rejected men, admitted and rejected women, six departments
    (512, 313, 89, 19), (353, 207, 17, 8), (120, 205, 202, 391), (138, 279, 131, 244), (53, 138, 94, 299),
    (22, 351, 24, 317),
]  # fmt: skip


def test_association_within_strata() -> None:
    """Admissions by sex within six departments (P. J. Bickel and others, Science 187 (1975) 398-404): Mantel-Haenszel
    1.5246 without correction, p 0.2169 (as a general statistics program prints it, from memory)."""
    parts = []
    for k, (man_in, man_out, woman_in, woman_out) in enumerate(_BERKELEY):
        x, y = _records([man_in, woman_in], [man_out, woman_out], [0.0, 1.0])
        parts.append((np.full(len(x), k), x, y))
    kind, x, y = (np.concatenate(column) for column in zip(*parts, strict=True))
    found = Within(kind, x).drift(y)
    assert found is not None
    assert found.z**2 == pytest.approx(1.5246, abs=5e-5)
    tables = [np.array([[a, b], [c, d]]) for a, b, c, d in _BERKELEY]
    assert found.z**2 == pytest.approx(StratifiedTable(tables).test_null_odds(correction=False).statistic, rel=1e-10)


_TREATED = [(6, 1), (6, 1), (6, 1), (7, 1), (10, 1), (13, 1), (16, 1), (22, 1), (23, 1), (6, 0), (9, 0), (10, 0),
            (11, 0), (17, 0), (19, 0), (20, 0), (25, 0), (32, 0), (32, 0), (34, 0), (35, 0)]  # fmt: skip
_PLACEBO = [1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23]


def _weeks() -> tuple[np.ndarray, np.ndarray]:
    """At risk and relapsed by group (treated, placebo) and week."""
    ended, failed = np.zeros((2, 36)), np.zeros((2, 36))
    for group, rows in enumerate((_TREATED, [(t, 1) for t in _PLACEBO])):
        for week, relapsed in rows:
            ended[group, week] += 1
            failed[group, week] += relapsed
    return ended[:, ::-1].cumsum(axis=1)[:, ::-1], failed


def test_hazard_of_two_groups() -> None:
    """Weeks of remission of 42 children (E. J. Freireich and others, Blood 21 (1963) 699-716; D. R. Cox's own example):
    log hazard ratio 1.509, score 15.93 with Breslow's ties (Kalbfleisch and Prentice 1980; figures from memory)."""
    found = rise(np.array([0.0, 1.0]), *_weeks())
    assert found is not None
    assert np.log(found.factor or 0.0) == pytest.approx(1.509, abs=5e-4)
    assert found.z**2 == pytest.approx(15.93, abs=5e-3)


def test_hazard_against_a_library() -> None:
    """Three steps of x, 300 units, many of one age; statsmodels' proportional hazards with Breslow's ties."""
    rng = np.random.default_rng(5)
    x = rng.integers(0, 3, 300)
    age = rng.integers(1, 15, 300)
    dead = rng.random(300) < 0.4
    ended, failed = np.zeros((3, 15)), np.zeros((3, 15))
    np.add.at(ended, (x, age), 1)
    np.add.at(failed, (x, age), dead)
    found = rise(np.array([0.0, 1.0, 2.0]), ended[:, ::-1].cumsum(axis=1)[:, ::-1], failed)
    fit = PHReg(age, x[:, None].astype(float), status=dead.astype(int), ties="breslow").fit()
    assert found is not None
    assert np.log(found.factor or 0.0) == pytest.approx(float(fit.params[0]), abs=1e-6)
