"""Are contradictions named, and coherent records left alone?

    python tests/benchmarks/bench_conflict.py [--teardowns 12] [--records 40]

For each of some contexts one teardown is drawn, which looked at a part of machine and site, and records in which
just that was looked at:

as they come    drawn from the network
each mechanism  as many under each first mechanism, so that rare ones count
turned 1 … 6    contradictions, planted into records that had established a mechanism (0.90 or more): of all findings,
                the one (two, three, four, six) that the rest of the record leaves the least chance of being
                otherwise is put down as just that: a bearing that must be worn as sound, a sound reed as broken

A record is flagged as `reasoning.conflict.find` does it; the records it is held against are drawn once for all records
of a teardown with the same leading mechanism. The first record of each group is given to `find` itself as a check.
"""

import argparse
import multiprocessing
import time
from functools import cache

import numpy as np
from numpy.typing import NDArray
from simulated import context, teardown

from stripdown import knowledge
from stripdown.knowledge import Knowledge
from stripdown.reasoning import conflict
from stripdown.reasoning.infer import FAILED_WHEN, Question, leaf_of
from stripdown.reasoning.model import ESTABLISHED, Evidence
from stripdown.reasoning.network import Network

TURNED = (1, 2, 3, 4, 6)
PLANTED = 8
"""Records a teardown into which contradictions are planted."""
WAYS = ("as they come", "each mechanism", *(f"turned {k}" for k in TURNED))
Levels = dict[str, NDArray[np.int64]]


@cache
def shipped() -> Knowledge:
    return knowledge.load()


def tables(network: Network, levels: Levels) -> dict[str, NDArray[np.float64]]:
    """Levels of many records as likelihoods."""
    return {f: np.eye(len(leaf_of(network, f).table))[:, v] for f, v in levels.items()}


def flagged(network: Network, looked: list[str], levels: Levels) -> tuple[NDArray[np.bool_], NDArray[np.int64]]:
    """(flagged as a conflict, row of the leading mechanism) for many records of one teardown."""
    first, _ = Question(network, looked).first(tables(network, levels))
    lead = first.argmax(axis=0)
    out = np.zeros(len(lead), dtype=bool)
    for row in np.unique(lead):
        here = np.flatnonzero(lead == row)
        sound = network.mechanisms[row] == "no_fault"
        names = [f for f in looked if not (sound and leaf_of(network, f).finding.on_site)]
        if len(names) < 2:
            continue
        seen = tables(network, {f: levels[f][here] for f in names})
        posterior, log_evidence = Question(network, names).first(seen)
        leads = posterior.argmax(axis=0)
        at_lead = posterior[leads, np.arange(len(here))]
        together = np.log(at_lead) + log_evidence - np.log(network.prior[leads])
        at = conflict._alone(network, seen) - together
        for again in np.unique(leads[at > conflict.HARMLESS]):
            drawn = conflict._Drawn(network, int(again))
            null = conflict._figure(network, int(again), tables(network, {f: drawn.levels(f) for f in names}))
            some = (leads == again) & (at > conflict.HARMLESS)
            for i, value in zip(here[some], at[some], strict=True):
                tail = (1 + (null >= value).sum()) / (conflict.SIMULATED + 1)
                out[i] = tail <= conflict.FLAGGED_BELOW
    return out, lead


def by_itself(network: Network, levels: Levels, record: int) -> bool:
    """What `find` says of one record."""
    seen = {f: t[:, record] for f, t in tables(network, levels).items()}
    stated = frozenset(f for f in seen if levels[f][record])
    return conflict.find(network, Evidence(seen, {f: f for f in seen}, stated))[0] is not None


def turned(network: Network, looked: list[str], levels: Levels) -> dict[int, Levels]:
    """How many findings were turned round → the records with that many turned."""
    question = Question(network, looked)
    first, _ = question.first(tables(network, levels))
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
            if int(p.argmin()) != levels[finding][i]:
                chances.append((float(p.min()), finding, int(p.argmin())))
        chances.sort()
        for k in TURNED:
            change = {f: level for _, f, level in chances[:k]}
            for f in looked:
                out[k][f].append(change.get(f, int(levels[f][i])))
    return {k: {f: np.array(v, dtype=int) for f, v in found.items()} for k, found in out.items()}


def job(task: tuple[int, int]) -> dict[str, tuple[int, int, int, int]]:
    """Way → (records, flagged, checked against `find`, differing from it) for one teardown."""
    seed, number = task
    random = np.random.default_rng(seed)
    network = Network(shipped(), context(random))
    looked = [f for f, seen in teardown(shipped(), 1, random).items() if seen[0]]
    sets = {"as they come": conflict.simulate(network, looked, number, seed + 1)[1]}
    possible = [m for i, m in enumerate(network.mechanisms) if network.prior[i] > 0.0]
    each = [conflict.simulate(network, looked, max(1, number // len(possible)), seed + 2, m)[1] for m in possible]
    sets["each mechanism"] = {f: np.concatenate([x[f] for x in each]) for f in looked}
    sets |= {f"turned {k}": v for k, v in turned(network, looked, sets["as they come"]).items()}
    out = {}
    for way, levels in sets.items():
        size = len(levels[looked[0]])
        if size == 0:
            out[way] = (0, 0, 0, 0)
            continue
        found, _ = flagged(network, looked, levels)
        differs = by_itself(network, levels, 0) != bool(found[0])
        out[way] = (size, int(found.sum()), 1, int(differs))
    return out


def main() -> None:
    """Coherent records and contradictions."""
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--teardowns", type=int, default=12)
    options.add_argument("--records", type=int, default=40)
    options.add_argument("--processes", type=int, default=2)
    chosen = options.parse_args()
    start = time.perf_counter()
    total = {way: np.zeros(4, dtype=int) for way in WAYS}
    with multiprocessing.Pool(chosen.processes) as pool:
        tasks = [(50_000 + 10 * i, chosen.records) for i in range(chosen.teardowns)]
        for done, got in enumerate(pool.imap_unordered(job, tasks), 1):
            for way, figures in got.items():
                total[way] += figures
            print(f"after {done} of {chosen.teardowns} teardowns, {time.perf_counter() - start:.0f} s")
            for way, (records, hits, checked, differ) in total.items():
                share = hits / max(records, 1)
                error = np.sqrt(share * (1 - share) / max(records, 1))
                print(
                    f"  {way:15s} {records:5d} records, flagged {share:.4f} (s.e. {error:.4f}); "
                    f"{differ} of {checked} differ from find",
                    flush=True,
                )


if __name__ == "__main__":
    main()
