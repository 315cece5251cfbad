"""How often each mechanism is the first one, from confirmed records, the written shares as a Dirichlet prior.

Where all records are of the plain context the result is the mean of the Dirichlet-multinomial posterior: (weight times
written share + confirmed) / (weight + records). Other contexts keep their factors (duty, hours, motor …): a share there
is the written one of that context times a ratio of the mechanism, and the ratios are those at which expected and
confirmed counts agree, prior included.
Sources: A. Gelman et al., Bayesian Data Analysis (2013), sec. 3.4 (Dirichlet, from memory); J. N. Darroch and
D. Ratcliff, Ann. Math. Statist. 43 (1972) 1470-1480 (iterative scaling).
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from stripdown.knowledge import Knowledge
from stripdown.reasoning.learning import Example
from stripdown.reasoning.network import Context, context_of, prior

STEPS = 10_000
_SETTLED = 1e-12

Vector = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Share:
    """The share of a mechanism in the plain context before and after, with its 95 % interval.

    `records`: confirmed with it as the first; `ratio`: what its written share is multiplied by in every context.
    """

    mechanism: str
    before: float
    after: float
    low: float
    high: float
    records: int
    ratio: float


def learn_shares(knowledge: Knowledge, examples: Sequence[Example], prior_records: float) -> tuple[Share, ...]:
    """One share a mechanism that has a written one, most frequent first; none without examples.

    `prior_records`: how many records of the plain context the written shares count as. What a context adds, such as a
    winding half lost, has no share of its own in the table and is not learned.
    """
    own = np.array([sum(p.desk) > 0.0 for p in knowledge.priors.values()])
    place = {m: i for i, m in enumerate(knowledge.mechanisms)}
    used = [e for e in examples if own[place[e.first]]]
    if not used:
        return ()
    contexts = Counter(tuple(sorted(e.context.items())) for e in used)
    rows = np.array([_row(knowledge, context_of(), own), *(_row(knowledge, dict(c), own) for c in contexts)])
    weights = np.array([prior_records, *contexts.values()], dtype=float)
    confirmed = np.bincount([place[e.first] for e in used], minlength=len(place))
    ratio = _ratios(rows, weights, prior_records * rows[0] + confirmed)
    now = _shares(rows, ratio)
    ratio /= rows[0] @ ratio
    information = weights @ (now * (1.0 - now))
    found = []
    for mechanism, i in place.items():
        if own[i]:
            before, after = float(rows[0, i]), float(now[0, i])
            low, high = _ends(after, float(information[i]))
            found.append(Share(mechanism, before, after, low, high, int(confirmed[i]), float(ratio[i])))
    return tuple(sorted(found, key=lambda s: (-s.after, s.mechanism)))


def with_shares(knowledge: Knowledge, shares: Sequence[Share]) -> Knowledge:
    """The same knowledge with these shares; its digest still names the old one."""
    priors = dict(knowledge.priors)
    for share in shares:
        low, medium, high = (x * share.ratio for x in priors[share.mechanism].desk)
        priors[share.mechanism] = replace(priors[share.mechanism], desk=(low, medium, high))
    return replace(knowledge, priors=priors)


def _row(knowledge: Knowledge, context: Context, own: NDArray[np.bool_]) -> Vector:
    """Written shares of a context among the mechanisms that have one."""
    shares = prior(knowledge, context) * own
    return np.asarray(shares / shares.sum())


def _shares(rows: Vector, ratio: Vector) -> Vector:
    shares = rows * ratio
    return np.asarray(shares / shares.sum(axis=1, keepdims=True))


def _ratios(rows: Vector, weights: Vector, counts: Vector) -> Vector:
    """What makes the expected counts of all contexts together, each with its weight, those given."""
    ratio = np.ones(rows.shape[1])
    for _ in range(STEPS):
        expected = weights @ _shares(rows, ratio)
        change = np.divide(counts, expected, out=np.ones_like(counts), where=expected > 0.0)
        ratio *= change
        if np.abs(change - 1.0).max() < _SETTLED:
            break
    return ratio


def _ends(share: float, information: float) -> tuple[float, float]:
    """The 95 % ends of the Beta distribution that the Dirichlet posterior has of one share."""
    if not 0.0 < share < 1.0:
        return share, share
    worth = information / (share * (1.0 - share))
    low, high = (float(stats.beta.ppf(p, worth * share, worth * (1.0 - share))) for p in (0.025, 0.975))
    return low, high
