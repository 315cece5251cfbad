"""Are contradictions named, and coherent records left alone?

    python tests/benchmarks/bench_conflict.py [--teardowns 60] [--records 60]

For each of some contexts one teardown is drawn, which looked at a part of machine and site, and records in which
just that was looked at:

as they come    drawn from the network
each mechanism  as many under each first mechanism, so that rare ones count; of both, records in which the small rates
                of the network met in what no machine shows (an exclusion) are left out and counted
turned 1 … 6    contradictions, planted into records that had established a mechanism (0.90 or more): of all findings,
                the one (two, three, four, six) that the rest of the record leaves the least chance of being
                otherwise is put down as just that: a bearing that must be worn as sound, a sound reed as broken

A record is flagged as `reasoning.conflict` does it.
"""

import argparse
import multiprocessing
import time
from functools import cache

import numpy as np
from numpy.typing import NDArray
from simulated import context, impossible, teardown

from stripdown import knowledge
from stripdown.knowledge import Knowledge
from stripdown.reasoning import conflict
from stripdown.reasoning.infer import FAILED_WHEN, Asked, Question, leaf_of, posterior_of
from stripdown.reasoning.model import ESTABLISHED, Evidence
from stripdown.reasoning.network import Network

TURNED = (1, 2, 3, 4, 6)
AT_ONCE = 24
PLANTED = 8
"""Records a teardown into which contradictions are planted."""
WAYS = ("left out", "as they come", "each mechanism", *(f"turned {k}" for k in TURNED))
Levels = dict[str, NDArray[np.int64]]


@cache
def shipped() -> Knowledge:
    return knowledge.load()


def tables(network: Network, levels: Levels) -> dict[str, NDArray[np.float64]]:
    """Levels of many records as likelihoods."""
    return {f: np.eye(len(leaf_of(network, f).table))[:, v] for f, v in levels.items()}


def flagged(network: Network, looked: list[str], levels: Levels) -> NDArray[np.bool_]:
    """Which of many records of one teardown are flagged as a conflict."""
    seen = tables(network, levels)
    out = []
    for start in range(0, len(levels[looked[0]]), AT_ONCE):
        some = range(start, min(start + AT_ONCE, len(levels[looked[0]])))
        records = [{f: t[:, i] for f, t in seen.items()} for i in some]
        posterior = posterior_of([Asked(network, likelihoods) for likelihoods in records])
        evidences = [Evidence(likelihoods, {f: f for f in looked}, frozenset()) for likelihoods in records]
        out += [clash is not None for clash in conflict.find_many(posterior, evidences)]
    return np.array(out)


def turned(network: Network, looked: list[str], levels: Levels) -> dict[int, Levels]:
    """How many findings were turned round → the records with that many turned."""
    question = Question(network, looked)
    first, _ = question.first(tables(network, levels))
    before = {f: np.exp(Question(network, [f]).first({f: np.eye(len(leaf_of(network, f).table))})[1]) for f in looked}
    sound = network.first_index["no_fault"]
    chosen = [i for i in range(first.shape[1]) if first[:, i].max() >= ESTABLISHED and first[:, i].argmax() != sound]
    out: dict[int, dict[str, list[int]]] = {k: {f: [] for f in looked} for k in TURNED}
    for i in chosen[:PLANTED]:
        variants = [(f, level) for f in looked if f != FAILED_WHEN for level in range(len(leaf_of(network, f).table))]
        columns = {f: np.full(len(variants), v[i]) for f, v in levels.items()}
        for j, (finding, level) in enumerate(variants):
            columns[finding][j] = level
        log_evidence = question.first(tables(network, columns))[1]
        chances = []
        for finding in {f for f, _ in variants}:
            at = [j for j, (f, _) in enumerate(variants) if f == finding]
            p = np.exp(log_evidence[at] - log_evidence[at].max())
            p /= p.sum()
            against = p <= before[finding] / 3.0
            least = int(np.where(against, p, np.inf).argmin())
            if against[least] and least != levels[finding][i]:
                chances.append((float(p[least]), finding, least))
        chances.sort()
        for k in TURNED:
            change = {f: level for _, f, level in chances[:k]}
            for f in looked:
                out[k][f].append(change.get(f, int(levels[f][i])))
    return {k: {f: np.array(v, dtype=int) for f, v in found.items()} for k, found in out.items()}


def job(task: tuple[int, int]) -> dict[str, tuple[int, int]]:
    """Way → (records, flagged) for one teardown."""
    seed, number = task
    random = np.random.default_rng(seed)
    network = Network(shipped(), context(random))
    looked = [f for f, seen in teardown(shipped(), 1, random).items() if seen[0]]
    sets = {"as they come": conflict.simulate(network, looked, number, seed + 1)[1]}
    possible = [m for i, m in enumerate(network.mechanisms) if network.prior[i] > 0.0]
    each = [conflict.simulate(network, looked, max(1, number // len(possible)), seed + 2, m)[1] for m in possible]
    sets["each mechanism"] = {f: np.concatenate([x[f] for x in each]) for f in looked}
    drawn = sum(len(levels[looked[0]]) for levels in sets.values())
    sets = {way: possible_ones(levels) for way, levels in sets.items()}
    left_out = drawn - sum(len(levels[looked[0]]) for levels in sets.values())
    sets |= {f"turned {k}": v for k, v in turned(network, looked, sets["as they come"]).items()}
    found = {way: flagged(network, looked, levels) for way, levels in sets.items()}
    return {way: (len(hits), int(hits.sum())) for way, hits in found.items()} | {"left out": (drawn, left_out)}


def possible_ones(levels: Levels) -> Levels:
    """Those of many records that state nothing that no machine shows together."""
    stated = impossible(shipped(), levels)
    return {f: v[~stated] for f, v in levels.items()}


def main() -> None:
    """Coherent records and contradictions."""
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--teardowns", type=int, default=60)
    options.add_argument("--records", type=int, default=60)
    options.add_argument("--processes", type=int, default=2)
    chosen = options.parse_args()
    start = time.perf_counter()
    total = {way: np.zeros(2, dtype=int) for way in WAYS}
    with multiprocessing.Pool(chosen.processes) as pool:
        tasks = [(50_000 + 10 * i, chosen.records) for i in range(chosen.teardowns)]
        for done, got in enumerate(pool.imap_unordered(job, tasks), 1):
            for way, figures in got.items():
                total[way] += figures
            print(f"after {done} of {chosen.teardowns} teardowns, {time.perf_counter() - start:.0f} s")
            for way, (records, hits) in total.items():
                share = hits / max(records, 1)
                error = np.sqrt(share * (1 - share) / max(records, 1))
                print(f"  {way:15s} {records:5d} records, flagged {share:.4f} (s.e. {error:.4f})", flush=True)


if __name__ == "__main__":
    main()
