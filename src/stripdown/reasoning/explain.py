"""What the headline rests on: decibans that add up, the rival, what would flip it, how it holds when the strengths
are shaken."""

import itertools
import math

import numpy as np
from numpy.typing import NDArray

from stripdown.knowledge.model import FailedWhen
from stripdown.reasoning.infer import FAILED_WHEN, Question
from stripdown.reasoning.model import Evidence, Flip, Rival, Weight
from stripdown.reasoning.network import Network, Vector

ENUMERATED = 10
PERMUTATIONS = 16
"""Random orders of the findings, each with its reverse, where there are too many to enumerate."""
SEED = 20_000
SHAKEN = 200
SHAKE_SD = 0.5
DECIBANS = 10.0 / math.log(10.0)


class Headline:
    """Log odds of one mechanism under any subset of the findings."""

    def __init__(self, network: Network, evidence: Evidence, mechanism: str) -> None:
        self.network = network
        self.findings = tuple(evidence.likelihoods)
        self._likelihoods = evidence.likelihoods
        self._question = Question(network, self.findings)
        self._row = network.first_index[mechanism]

    def posterior(self, subsets: NDArray[np.bool_]) -> Vector:
        """P(first) for each row of a yes/no table (subsets, findings); shape (mechanisms, subsets)."""
        likelihoods = {
            f: np.where(subsets[:, i][None, :], self._likelihoods[f][:, None], 1.0) for i, f in enumerate(self.findings)
        }
        return self._question.first(likelihoods)[0]

    def decibans(self, subsets: NDArray[np.bool_]) -> Vector:
        """Log odds of the headline [decibans] for each subset."""
        p = self.posterior(subsets)[self._row]
        return np.asarray(DECIBANS * (np.log(p) - np.log1p(-p)))


def contributions(headline: Headline) -> tuple[Vector, Vector]:
    """(Shapley value of each finding [decibans], its standard error): exact up to ten findings, sampled with a fixed
    seed beyond; they add up."""
    n = len(headline.findings)
    if n == 0:
        return np.zeros(0), np.zeros(0)
    if n <= ENUMERATED:
        return _enumerate(headline, n), np.zeros(n)
    return _sample(headline, n)


def _enumerate(headline: Headline, n: int) -> Vector:
    codes = np.arange(2**n)
    subsets = (codes[:, None] >> np.arange(n)) & 1 == 1
    value = headline.decibans(subsets)
    size = subsets.sum(axis=1)
    weight = np.array(
        [math.factorial(s) * math.factorial(n - s - 1) / math.factorial(n) if s < n else 0.0 for s in range(n + 1)]
    )
    out = np.zeros(n)
    for i in range(n):
        without = ~subsets[:, i]
        out[i] = (weight[size[without]] * (value[codes[without] | (1 << i)] - value[codes[without]])).sum()
    return out


def _sample(headline: Headline, n: int) -> tuple[Vector, Vector]:
    random = np.random.default_rng(SEED)
    orders = [random.permutation(n) for _ in range(PERMUTATIONS)]
    rows = []
    for order in itertools.chain.from_iterable((o, o[::-1]) for o in orders):
        included = np.zeros((n + 1, n), dtype=bool)
        for k, i in enumerate(order):
            included[k + 1 :, i] = True
        rows.append((order, included))
    unique, inverse = np.unique(np.concatenate([r for _, r in rows]), axis=0, return_inverse=True)
    value = headline.decibans(unique)[np.asarray(inverse).reshape(-1)].reshape(len(rows), n + 1)
    gains = np.zeros((len(rows), n))
    for r, (order, _) in enumerate(rows):
        gains[r, order] = np.diff(value[r])
    pairs = gains.reshape(PERMUTATIONS, 2, n).mean(axis=1)
    return pairs.mean(axis=0), pairs.std(axis=0, ddof=1) / math.sqrt(PERMUTATIONS)


def weights(headline: Headline, evidence: Evidence) -> tuple[tuple[Weight, ...], Vector]:
    """(what each finding adds, heaviest first; P(first) without each finding in the order of the findings)."""
    value, error = contributions(headline)
    n = len(headline.findings)
    without = headline.posterior(~np.eye(n, dtype=bool)) if n else np.zeros((len(headline.network.mechanisms), 0))
    out = [
        Weight(evidence.labels[f], float(value[i]), float(without[headline._row, i]), float(error[i]))
        for i, f in enumerate(headline.findings)
    ]
    return tuple(sorted(out, key=lambda w: (-abs(w.decibans), w.finding))), without


def rival(headline: Headline, evidence: Evidence, first: Vector, without: Vector) -> Rival | None:
    """The strongest other mechanism; a finding speaks for it where taking the finding away raises the headline's
    odds against it."""
    order = np.argsort(-first, kind="stable")
    lead, other = int(order[0]), int(order[1])
    if first[other] <= 0.0:
        return None
    odds = math.log(first[lead]) - math.log(first[other])
    with np.errstate(divide="ignore"):
        change = odds - (np.log(without[lead]) - np.log(without[other]))
    ranked = sorted(range(len(change)), key=lambda i: -abs(change[i]))
    speaks_for = tuple(evidence.labels[headline.findings[i]] for i in ranked if change[i] < -0.2)[:4]
    against = tuple(evidence.labels[headline.findings[i]] for i in ranked if change[i] > 0.2)[:4]
    return Rival(headline.network.mechanisms[other], float(first[other]), speaks_for, against)


def flips(headline: Headline, evidence: Evidence) -> tuple[Flip, ...]:
    """Single changes of what the record states that would put another mechanism first, the surest first."""
    network = headline.network
    variants: list[tuple[str, str, int]] = []
    for finding, likelihood in evidence.likelihoods.items():
        states = _state_names(network, finding)
        now = int(np.argmax(likelihood))
        variants += [(finding, f"{_plain(finding)}: {states[now]} → {s}", k) for k, s in enumerate(states) if k != now]
    if not variants:
        return ()
    likelihoods = {f: np.repeat(v[:, None], len(variants), axis=1) for f, v in evidence.likelihoods.items()}
    for j, (finding, _, level) in enumerate(variants):
        likelihoods[finding][:, j] = 0.0
        likelihoods[finding][level, j] = 1.0
    posterior = headline._question.first(likelihoods)[0]
    best = posterior.argmax(axis=0)
    found = [
        (float(posterior[best[j], j]), Flip(change, network.mechanisms[best[j]]))
        for j, (_, change, _) in enumerate(variants)
        if best[j] != headline._row
    ]
    return tuple(flip for _, flip in sorted(found, key=lambda x: (-x[0], x[1].change)))


def _plain(finding: str) -> str:
    return "failed when" if finding == FAILED_WHEN else finding


def _state_names(network: Network, finding: str) -> tuple[str, ...]:
    if finding == FAILED_WHEN:
        return FailedWhen.STATES
    return ("none", *network.knowledge.findings[finding].levels)


def shaken(network: Network) -> Network:
    """200 networks of the same context in one, every link strength shifted in log odds by a normal draw of sd 0.5."""
    return Network(network.knowledge, network.context, rebuilder=network.rebuilder, shake=(SHAKE_SD, SHAKEN, SEED))


def robustness(many: Network, evidence: Evidence, mechanism: str) -> float:
    """Share of the shaken networks that keep the headline."""
    posterior, _ = Question(many, list(evidence.likelihoods)).first(evidence.likelihoods)
    return float((posterior.argmax(axis=0) == many.first_index[mechanism]).mean())
