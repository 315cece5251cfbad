"""How long judging takes: one record in full and in brief, all posteriors beside an independent library, many records.

    python tests/benchmarks/bench_judge.py [--records 2000]

The library is pyAgrum, given the same network and the same evidence; both sides are warm (network built, order of
elimination known). Medians of three rounds, wall time; the many records are all distinct, drawn from the network, and
go through the command line as JSON lines. With --records 100000 that takes minutes.
"""

import argparse
import json
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median

import numpy as np
from many_records import records

from stripdown import judge
from stripdown.case import gather, judge_many, reasoner
from stripdown.reasoning.infer import everything
from stripdown.reasoning.leaves import leaf_of
from stripdown.reasoning.network import Network
from stripdown.record import Record, read_all

DEMO = Path(__file__).resolve().parents[2] / "data/demo/returns"
ROUNDS = 3


def seconds(job: Callable[[], object]) -> float:
    """Processor time, median of three rounds, after one that warms up."""
    job()
    rounds = []
    for _ in range(ROUNDS):
        start = time.process_time()
        job()
        rounds.append(time.process_time() - start)
    return median(rounds)


def spread(label: str, times: list[float]) -> None:
    print(f"{label:44s} median {1e3 * median(times):8.1f} ms   slowest {1e3 * max(times):8.1f} ms")


class Library:
    """The same network and evidence in pyAgrum: findings as nodes, likelihoods as evidence."""

    def __init__(self, network: Network, likelihoods: dict[str, np.ndarray]) -> None:
        import pyagrum

        pyagrum.setNumberOfThreads(1)
        net = pyagrum.BayesNet()
        for v, card in enumerate(network.cards):
            net.add(pyagrum.RangeVariable(f"v{v}", "", 0, card - 1))
        net.cpt("v0")[:] = network.prior
        for v in range(1, len(network.cards)):
            scope, table = network.family(v)
            self._fill(net, f"v{v}", scope[:-1], table[..., 0])
        for i, (finding, likelihood) in enumerate(likelihoods.items()):
            leaf = leaf_of(network, finding)
            net.add(pyagrum.RangeVariable(f"f{i}", "", 0, len(likelihood) - 1))
            self._fill(net, f"f{i}", leaf.scope, np.moveaxis(leaf.table[..., 0], 0, -1))
        self._engine = pyagrum.LazyPropagation(net)
        self._evidence = {f"f{i}": list(map(float, v)) for i, v in enumerate(likelihoods.values())}
        self._names = [f"v{v}" for v in range(len(network.cards))]

    @staticmethod
    def _fill(net: "object", name: str, parents: tuple[int, ...], table: np.ndarray) -> None:
        for parent in parents:
            net.addArc(f"v{parent}", name)  # type: ignore[attr-defined]
        for values in np.ndindex(table.shape[:-1]):
            where = {f"v{p}": int(x) for p, x in zip(parents, values, strict=True)}
            net.cpt(name)[where] = list(map(float, table[values]))  # type: ignore[attr-defined]

    def posteriors(self) -> np.ndarray:
        """P(first) after all posteriors were asked for."""
        self._engine.setEvidence(self._evidence)
        self._engine.makeInference()
        return next(iter([np.array(self._engine.posterior(n).tolist()) for n in self._names]))


def one(some: list[Record]) -> None:
    spread("full judge of one record", [seconds(lambda r=r: judge(r)) for r in some])
    spread("brief judge of one record", [seconds(lambda r=r: judge(r, brief=True)) for r in some])
    ours, theirs = [], []
    for r in some:
        known = gather(r)
        network, seen = reasoner().network(known.context), dict(known.evidence.likelihoods)
        library = Library(network, seen)
        assert np.allclose(library.posteriors(), everything(network, seen).first[:, 0], atol=1e-9)

        def mine(network: Network = network, seen: dict[str, np.ndarray] = seen) -> None:
            posterior = everything(network, seen)
            _ = posterior.states, posterior.causes

        ours.append(seconds(mine))
        theirs.append(seconds(library.posteriors))
    spread("all posteriors of one record", ours)
    spread("the same by the library", theirs)
    print(f"{'ratio, library to ours':44s} median {median(t / o for t, o in zip(theirs, ours, strict=True)):8.2f}")


def run(*arguments: str) -> tuple[float, float, float]:
    """(wall time, processor time, largest process so far [MB]) of the command."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    begun = time.perf_counter()
    command = [sys.executable, "-m", "stripdown.cli", "judge", *arguments]
    subprocess.run(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    wall = time.perf_counter() - begun
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    used = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return wall, used, after.ru_maxrss / 1024


def start() -> None:
    run(str(DEMO / "tw-2024-012.toml"))
    rounds = [run(str(DEMO / "tw-2024-012.toml")) for _ in range(ROUNDS)]
    wall, used = (median(r[i] for r in rounds) for i in (0, 1))
    print(f"{'first answer of the command, all in':44s} wall {wall:.2f} s, processor {used:.2f} s")


def many(number: int) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "records.jsonl"
        with path.open("w") as file:
            file.writelines(json.dumps(r) + "\n" for r in records(number))
        held = [r for r in read_all([path]) if isinstance(r, Record)][:96]
        lot = seconds(lambda: judge_many(held)) / len(held)
        single = seconds(lambda: [judge(r, brief=True) for r in held]) / len(held)
        print(f"{'brief, 96 records, one at a time':44s} {1e3 * single:8.2f} ms a record")
        print(f"{'brief, 96 records, together':44s} {1e3 * lot:8.2f} ms a record   {single / lot:.2f} times less")
        wall, used, largest = run("--json", "--brief", str(path))
        print(f"judge --json --brief, {number} records: wall {wall:.1f} s, processor {used:.1f} s, ", end="")
        print(f"{1e3 * used / number:.2f} ms a record; largest process {largest:.0f} MB")


def main() -> None:
    """Everything, one after the other."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--records", type=int, default=2000)
    chosen = options.parse_args()
    one([r for r in read_all([DEMO]) if isinstance(r, Record)][:16])
    start()
    many(chosen.records)


if __name__ == "__main__":
    main()
