"""Is the program as sure as it is right? On records drawn from its own network, and from networks that are not its own.

    python tests/benchmarks/bench_calibration.py [--records 6000] [--figure docs/figures/calibration.svg]

Prints, for each way of drawing: calibration error over ten equal-count bins, Brier and log score, and the reliability
curve; with --networks the calibration error of single shaken networks, whose faults do not average out. Says nothing
about whether the knowledge is right about the world.
"""

import argparse
import math
import multiprocessing
import multiprocessing.pool
import time
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from simulated import context, draw, without_some_links

from stripdown import knowledge
from stripdown.knowledge import Knowledge
from stripdown.reasoning.infer import Question
from stripdown.reasoning.network import Network

AT_ONCE = 48
BINS = 10
SD = 0.5
DROPPED = 0.1
WAYS = {
    "true": "the program's own network",
    "shaken": f"every strength shifted in log odds, sd {SD}",
    "missing": f"{DROPPED:.0%} of the links struck out",
    "both": "shifted and struck out",
    "silent": "own network, half of what was sound not written down",
}
Vector = NDArray[np.float64]


@cache
def shipped() -> Knowledge:
    return knowledge.load()


def group(job: tuple[str, int, int]) -> tuple[Vector, NDArray[np.int64], Vector, NDArray[np.bool_]]:
    """(P(first), true first, P(at work), truly at work) of the records of one context and one true network."""
    way, seed, part = job
    random = np.random.default_rng(seed)
    now = context(random)
    own = Network(shipped(), now)
    rules = without_some_links(shipped(), DROPPED, random) if way in ("missing", "both") else shipped()
    shake = (SD, 1, seed) if way in ("shaken", "both") else None
    records = draw(Network(rules, now, shake=shake), own, AT_ONCE, seed + 1 + part)
    likelihoods = records.likelihoods()
    if way == "silent":
        for finding, table in likelihoods.items():
            quiet = (records.levels[finding] == 0) & (random.random(AT_ONCE) < 0.5)
            likelihoods[finding] = np.where(quiet[None, :], 1.0, table)
    # A mechanism that shows in nothing once its links were struck out was not drawn.
    following = [m for m in own.mechanisms if m in own.states and own.index[m] in records.values]
    beliefs = Question(own, list(likelihoods), [own.index[m] for m in following]).beliefs(likelihoods)
    at_work = np.stack([beliefs.marginal(0, own.index[m])[:, 1].sum(axis=0) for m in following])
    truly = np.stack([records.values[own.index[m]] == 1 for m in following])
    return beliefs.marginal(0), records.first, at_work, truly


def reliability(said: Vector, right: NDArray[np.bool_]) -> tuple[float, list[tuple[float, float, int]]]:
    """(calibration error, [(mean said, share right, number)]) over bins of equal counts."""
    order = np.argsort(said, kind="stable")
    bins = [(float(said[b].mean()), float(right[b].mean()), len(b)) for b in np.array_split(order, BINS)]
    return sum(n * abs(p - r) for p, r, n in bins) / len(said), bins


def by_chance(said: Vector, times: int = 200) -> float:
    """Calibration error of a program that is exactly as right as it says, on as many records: chance alone."""
    random = np.random.default_rng(5)
    return float(np.mean([reliability(said, random.random(len(said)) < said)[0] for _ in range(times)]))


def report(way: str, records: int, pool: multiprocessing.pool.Pool) -> list[tuple[float, float, int]]:
    """Print one way of drawing; the bins of its leading mechanism."""
    start = time.perf_counter()
    groups = math.ceil(records / AT_ONCE)
    parts = pool.map(group, [(way, 1000 * i, 0) for i in range(1, groups + 1)], chunksize=1)
    p = np.concatenate([x[0] for x in parts], axis=1)
    truth = np.concatenate([x[1] for x in parts])
    work, truly = (np.concatenate([x[i].ravel() for x in parts]) for i in (2, 3))
    lead = p.argmax(axis=0)
    said, right = p.max(axis=0), lead == truth
    at_truth = p[truth, np.arange(len(truth))]
    own = np.zeros_like(p)
    own[truth, np.arange(len(truth))] = 1.0
    error, bins = reliability(said, right)
    print(f"\n{way}: {WAYS[way]}; {len(truth)} records, {groups} contexts, {time.perf_counter() - start:.0f} s")
    print(
        f"  leading mechanism: right {right.mean():.3f}, said {said.mean():.3f}, calibration error {error:.4f}", end=""
    )
    print(f" (chance alone {by_chance(said):.4f}), Brier {np.mean((said - right) ** 2):.4f}", end="")
    print(f", log score {-np.mean(np.log(np.where(right, said, np.maximum(1 - said, 1e-12)))):.4f} nat")
    print(f"  all mechanisms:    calibration error {reliability(p.ravel(), own.ravel() > 0)[0]:.4f}", end="")
    print(f", Brier {((p - own) ** 2).sum(axis=0).mean():.4f}, log score {-np.log(at_truth).mean():.4f} nat")
    print(f"  at work at all:    calibration error {reliability(work, truly)[0]:.4f}", end="")
    print(f", Brier {np.mean((work - truly) ** 2):.4f}")
    sure = said >= 0.9
    print(
        f"  of those at 0.90 or more ({sure.mean():.0%}): right {right[sure].mean():.3f}, said {said[sure].mean():.3f}"
    )
    print("  bins: " + "  ".join(f"{s:.3f}/{r:.3f}" for s, r, _ in bins), flush=True)
    return bins


def single(networks: int, records: int, pool: multiprocessing.pool.Pool) -> None:
    """Print the calibration error of the leading mechanism for single shaken networks, one context each."""
    groups = math.ceil(records / AT_ONCE)
    print(f"\none shaken network at a time, {groups * AT_ONCE} records of one context each:")
    for network in range(networks):
        jobs = [("shaken", 7_000_000 + 1000 * network, part) for part in range(groups)]
        parts = pool.map(group, jobs, chunksize=1)
        p, truth = np.concatenate([x[0] for x in parts], axis=1), np.concatenate([x[1] for x in parts])
        said, right = p.max(axis=0), p.argmax(axis=0) == truth
        error = reliability(said, right)[0]
        print(
            f"  network {network + 1}: right {right.mean():.3f}, said {said.mean():.3f}, calibration error {error:.4f}"
            f" (chance alone {by_chance(said):.4f})",
            flush=True,
        )


def main() -> None:
    """Every way of drawing, side by side."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--records", type=int, default=6000)
    options.add_argument("--processes", type=int, default=2)
    options.add_argument("--figure", type=Path)
    options.add_argument("--networks", type=int, default=0, help="measure so many single shaken networks instead")
    chosen = options.parse_args()
    with multiprocessing.Pool(chosen.processes) as pool:
        if chosen.networks:
            single(chosen.networks, chosen.records, pool)
            return
        curves = {way: report(way, chosen.records, pool) for way in WAYS}
    if chosen.figure:
        draw_curves(curves, chosen.figure)


def draw_curves(curves: dict[str, list[tuple[float, float, int]]], path: Path) -> None:
    """The reliability curves as one small figure."""
    import matplotlib

    matplotlib.use("svg")
    matplotlib.rcParams["svg.hashsalt"] = "calibration"
    matplotlib.rcParams["svg.fonttype"] = "none"
    from matplotlib import pyplot

    figure, axes = pyplot.subplots(figsize=(5.6, 5.2))
    axes.plot([0, 1], [0, 1], color="0.6", linewidth=1, label="as sure as right")
    styles = (("o", "-"), ("s", "--"), ("^", "-."), ("D", ":"), ("x", (0, (1, 1))))
    for (way, bins), (marker, line) in zip(curves.items(), styles, strict=True):
        said, right, _ = zip(*bins, strict=True)
        axes.plot(said, right, marker=marker, linestyle=line, markersize=5, linewidth=1.2, label=WAYS[way])
    axes.set(xlim=(0, 1.02), ylim=(0, 1.02), xlabel="probability the program gives its leading mechanism")
    axes.set_ylabel("share of records in which it is the true one")
    axes.legend(fontsize=8, loc="lower right", frameon=False)
    axes.grid(color="0.9")
    figure.tight_layout()
    path.parent.mkdir(parents=True, exist_ok=True)
    figure.savefig(path, metadata={"Date": None})


if __name__ == "__main__":
    main()
