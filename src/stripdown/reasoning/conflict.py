"""Do the findings go together?

Each finding has a probability given all the others. The figure is how far those that the others speak against go
beyond 1 in 20, in nats, added up; its tail is how often a record that looked at the same things, and is otherwise
like this one, would hold as much surprise by chance. Beside it stand findings that no machine can show together,
whatever failed.

The figure follows the pseudo-likelihood of J. Besag, The Statistician 24 (1975) 179-195: every finding in the light
of the rest, so that a rare mechanism told coherently is no conflict.
"""

import itertools
import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from stripdown.knowledge.model import Exclusion, Knowledge, Step
from stripdown.reasoning.infer import Asked, Likelihoods, Posterior, Question, everything, leaf_of, posterior_of
from stripdown.reasoning.leaves import leaves_of
from stripdown.reasoning.model import Check, Conflict, Evidence
from stripdown.reasoning.network import Leaf, Network, Vector
from stripdown.reasoning.rows import expected
from stripdown.reasoning.tables import divided, total
from stripdown.reasoning.whole import whole
from stripdown.vocabulary import presence_only

FLAGGED_BELOW = 0.009
SURPRISING = 3.0
"""Surprise [nat] from which on a finding counts, 1 in 20: every record holds some of less."""
AGAINST = float(np.log(3.0))
"""How much less probable [nat] than before anything was known the rest must make a finding."""
SURE = 0.95
"""Share of its likelihood that must lie at the levels an exclusion names."""
_SURPRISING_MEAN = math.exp(SURPRISING)
STEP = 0.05
"""Step [nat] in which surprises are added up."""
SHOWN = 4
COUNTERPART = 1.0
"""What a finding must add to the surprise of another [nat] to be named beside it."""
AGAIN = "look_again"
"""Id of the check that comes first where findings do not go together."""
_ASKED = "site_history"
"""The step at which what no other step shows is asked for: a reading of the running system, the head of the record."""
_READ_AGAIN = 5.0
"""Minutes to look once more at an entry of what lies open (estimate)."""
Levels = NDArray[np.int64]


def simulate(
    network: Network, findings: Sequence[str], number: int, seed: int, mechanism: str | None = None
) -> tuple[dict[int, Any], dict[str, Any]]:
    """(variable → its value in each record, 0 = the first mechanism; finding → level in each record), drawn from the
    network, or under one mechanism."""
    random = np.random.default_rng(seed)
    if mechanism is None:
        first = random.choice(len(network.mechanisms), size=number, p=network.prior)
    else:
        first = np.full(number, network.first_index[mechanism])
    values: dict[int, Any] = {0: first}
    for node in sorted(network.ancestors([v for f in findings for v in leaf_of(network, f).scope])):
        scope, table = network.family(node)
        yes = table[..., 0][(*(values[v] for v in scope[:-1]), 1)]
        values[node] = (random.random(number) < yes).astype(int)
    levels = {}
    for finding in findings:
        leaf = leaf_of(network, finding)
        p = leaf.table[..., 0][(slice(None), *(values[v] for v in leaf.scope))]
        levels[finding] = (random.random(number)[None, :] > np.cumsum(p, axis=0)[:-1]).sum(axis=0)
    return values, levels


def find(network: Network, evidence: Evidence) -> Conflict | None:
    """The conflict in one record, None where its findings go together."""
    return find_many(everything(network, evidence.likelihoods), [evidence])[0]


def find_many(posterior: Posterior, evidences: Sequence[Evidence]) -> list[Conflict | None]:
    """The conflict of each record of a batch."""
    _learn_before(posterior)
    surprises = _surprises(posterior)
    return [_find(posterior.entry(j), e, surprises[j]) for j, e in enumerate(evidences)]


def _find(posterior: Posterior, evidence: Evidence, surprise: Mapping[str, float]) -> Conflict | None:
    """`surprise`: of the findings beyond `SURPRISING` how far."""
    excluded = _excluded(posterior.network.knowledge, evidence) or evidence.clash
    if excluded is not None:
        return excluded
    surprise = {f: s for f, s in surprise.items() if _spoken_against(posterior, f, s)}
    if not surprise or len(evidence.likelihoods) < 2:
        return None
    at = sum(surprise.values())
    tail = _tail(posterior, list(evidence.likelihoods), at)
    if tail > FLAGGED_BELOW:
        return None
    worst = sorted(surprise, key=lambda f: (-surprise[f], f))[: SHOWN - 1]
    against = _counterparts(posterior.network, evidence.likelihoods, worst[0])
    named = dict.fromkeys([*worst, *against])
    return Conflict(at, tail, tuple(evidence.labels[f] for f in list(named)[:SHOWN]))


def _excluded(knowledge: Knowledge, evidence: Evidence) -> Conflict | None:
    """The first of the knowledge's exclusions that the record states in full."""
    for exclusion in knowledge.exclusions:
        if _stated(exclusion, evidence):
            labels = tuple(evidence.labels[f] for f in exclusion.findings)
            return Conflict(-float(np.log(exclusion.rate)), exclusion.rate, labels, exclusion.why)
    return None


def _stated(exclusion: Exclusion, evidence: Evidence) -> bool:
    """Whether all of it is stated of the machine as found, and nothing with which it can be."""
    return (
        exclusion.findings.keys() <= evidence.likelihoods.keys()
        and exclusion.everywhere <= evidence.everywhere
        and all(_surely(evidence, f, least) for f, least in exclusion.findings.items())
        and evidence.not_as_found.isdisjoint(exclusion.findings)
        and not any(f in evidence.unreadable or _surely(evidence, f, 1) for f in exclusion.unless)
    )


def _surely(evidence: Evidence, finding: str, least: int) -> bool:
    """Whether a finding is there from this level on, or sound for level 0."""
    if finding not in evidence.likelihoods:
        return False
    likelihood = evidence.likelihoods[finding]
    such = likelihood[least:] if least else likelihood[:1]
    return float(such.sum()) >= SURE * float(likelihood.sum())


def look_again(knowledge: Knowledge, conflict: Conflict) -> Check:
    """The check of what does not go together, with the cautions of the steps at which it is looked at."""
    found = conflict.findings
    asked = next((step for step in knowledge.steps if step.id == _ASKED), None)
    steps = [step for label in found if (step := _step_of(knowledge, label) or asked) is not None]
    caution = " ".join(dict.fromkeys(step.caution for step in steps)) or knowledge.general_caution
    more = (f"and {len(found) - SHOWN} more",) if len(found) > SHOWN else ()
    what = "; ".join((*map(_in_words, found[:SHOWN]), *more))
    return Check(AGAIN, 0.0, 0.0, _READ_AGAIN * len(found), caution, f"Look again at what does not go together: {what}")


def _step_of(knowledge: Knowledge, label: str) -> Step | None:
    """The step at which `oil.low heavy` is looked at, or `winding_resistance U-V at leads open` measured; None where
    the teardown has none."""
    what, *more = label.split(" ")
    finding = next((m.finding for m in knowledge.readings if m.rule == what), what)
    at = more[more.index("at") + 1] if "at" in more else ""
    near = [s for s in knowledge.steps if any(r.startswith(f"{what}.") for r in s.readings)]
    near += [s for s in knowledge.steps if finding in s.readings or finding.partition(".")[0] in s.parts]
    return next((s for s in near if f"{what}.{at}" in s.readings), near[0] if near else None)


def _in_words(label: str) -> str:
    """'main_bearing.worn none' → 'main bearing worn, sound'; what is there or not has no extent, a reading keeps its
    value."""
    what, *more = label.split(" ")
    part, of_part, condition = what.partition(".")
    words = what.replace("_", " ").replace(".", " ")
    if not of_part or not more:
        return " ".join((words, *more))
    if more == ["heavy"] and presence_only(part, condition):
        return words
    return f"{words}, {' '.join(more).replace('none', 'sound')}"


def _surprises(posterior: Posterior) -> list[dict[str, float]]:
    """For each record how far [nat] each finding is beyond `SURPRISING`, given the rest of its record; those that are.

    P(finding | rest) is one over the mean of 1 / P(finding | what it hangs on) under the posterior.
    """
    findings = sorted(posterior.seen)
    lengths = (len(leaf_of(posterior.network, f).table) for f in findings)
    starts = list(itertools.accumulate(lengths, initial=0))
    of_level = expected(posterior, findings, starts, _inverse)
    out: list[dict[str, float]] = [{} for _ in posterior.asked]
    for i, finding in enumerate(findings):
        those = [j for j, a in enumerate(posterior.asked) if finding in a.likelihoods]
        told = np.stack([posterior.asked[j].likelihoods[finding] for j in those], axis=1)
        mean = np.where(told > 0.0, of_level[starts[i] : starts[i + 1], those], 0.0).sum(axis=0)
        doubtful = np.count_nonzero(told, axis=0) != 1
        if doubtful.any():
            rest = total(_rest(posterior, finding))[those] * told.max(axis=0)
            mean = np.where(doubtful, rest, mean)
        for j, value in zip(those, mean.tolist(), strict=True):
            if value > _SURPRISING_MEAN:
                out[j][finding] = math.log(value) - SURPRISING
    return out


def _inverse(network: Network, leaf: Leaf) -> Vector:
    """1 / P(level | what the finding hangs on); 0 where it cannot be."""
    return np.divide(1.0, leaf.table, out=np.zeros_like(leaf.table), where=leaf.table > 0.0)


def _spoken_against(posterior: Posterior, finding: str, surprise: float) -> bool:
    """Whether the rest of the record makes a finding less probable than it is before anything is known: one that is
    merely rare is none."""
    likelihood = posterior.asked[0].likelihoods[finding]
    before = float((likelihood * _before(posterior.network, finding)).sum() / likelihood.max())
    return float(np.log(before)) + SURPRISING + surprise >= AGAINST


def _learn_before(posterior: Posterior) -> None:
    """Ask the networks of a batch that are new what they know before anything is known, all at once."""
    new = [network for network, _ in posterior.groups if "nothing known" not in network.memo]
    if new:
        nothing = posterior_of([Asked(network, {}) for network in new])
        for j, network in enumerate(new):
            network.memo["nothing known"] = nothing.entry(j)


def _before(network: Network, finding: str) -> Vector:
    """P(level) before anything is known."""

    def of_all(batch: Posterior) -> Vector:
        out = np.empty((len(leaf_of(network, finding).table), len(batch.asked)))
        for _, leaf, columns in leaves_of(batch.groups, finding):
            joint = batch.marginal(*leaf.scope)[..., columns]
            out[:, columns] = np.stack([total(level[..., None] * joint) for level in leaf.table[..., 0]])
        return out

    nothing: Posterior = network.memo["nothing known"]
    return np.asarray(nothing.once(("levels", finding), of_all)[:, 0])


def _rest(batch: Posterior, finding: str) -> Vector:
    """Weight of what a finding hangs on, given the rest of each record; batch last."""
    seen = batch.seen[finding]
    joint = batch.marginal(*whole(batch.network.knowledge).scopes[finding])
    return divided(joint, np.broadcast_to(seen, joint.shape))


def _given_rest(posterior: Posterior, finding: str) -> Vector:
    """P(level | the rest of the record) for one record."""
    leaf = leaf_of(posterior.network, finding)
    rest = np.ascontiguousarray(posterior.once(("rest", finding), lambda batch: _rest(batch, finding)))
    axes = tuple(i for i, v in enumerate(whole(posterior.network.knowledge).scopes[finding]) if v not in leaf.scope)
    levels = (leaf.table * rest.sum(axis=axes)).reshape(len(leaf.table), -1).sum(axis=1)
    return np.asarray(levels / levels.sum())


def _tail(posterior: Posterior, findings: Sequence[str], at: float) -> float:
    """How often as much surprise comes by chance: each finding by itself takes any level that the rest allows it."""
    size = round(at / STEP)
    less = np.zeros(size)
    less[:1] = 1.0
    for finding in findings:
        p = _given_rest(posterior, finding)
        with np.errstate(divide="ignore", invalid="ignore"):
            against = np.log(_before(posterior.network, finding)) - np.log(p) >= AGAINST
            steps = np.where(against, np.maximum(-np.log(p) - SURPRISING, 0.0) / STEP, 0.0)
        after = np.zeros(size)
        for share, k in zip(p, np.minimum(np.round(steps), size).astype(int), strict=True):
            after[k:] += share * less[: size - k]
        less = after
    return max(0.0, 1.0 - float(less.sum()))


def _counterparts(network: Network, likelihoods: Likelihoods, finding: str) -> list[str]:
    """The findings that make this one surprising: without them it would be less so; the strongest first."""
    others = [f for f in likelihoods if f != finding]
    size = len(others) + 1  # with all others, then without each of them; and all that once more without the finding
    variants: Mapping[str, Vector] = {f: np.repeat(v[:, None], 2 * size, axis=1) for f, v in likelihoods.items()}
    for j, f in enumerate(others, 1):
        variants[f][:, [j, j + size]] = 1.0
    variants[finding][:, size:] = 1.0
    _, log_evidence = Question(network, list(likelihoods)).first(variants)
    surprise = log_evidence[size:] - log_evidence[:size]
    added = surprise[0] - surprise[1:]
    return [others[i] for i in np.argsort(-added, kind="stable")[: SHOWN - 1] if added[i] >= COUNTERPART]
