"""How long until the finding is both established and right: in the order the program proposes, in the fixed order of
the teardown, and in a random one.

    python tests/benchmarks/bench_next_check.py [--records 400]

Failed compressors are drawn from the network, those left out that show what no machine shows (an exclusion), and torn
down step by step. A step shows all it can show (of what the
site is asked it can answer a part, the same in every order), takes the minutes of the knowledge, and comes after the
steps it needs. After each step the program judges what is known so far. A record that never gets to a finding that is
both established (0.90 or more, no conflict) and right counts with the minutes of the whole teardown; so does one where
the program proposes no further check before it is there.
"""

import argparse
import multiprocessing
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cache

import numpy as np
from numpy.typing import NDArray
from simulated import context, findings_of, impossible

from stripdown import knowledge
from stripdown.knowledge import Knowledge
from stripdown.knowledge.model import Step
from stripdown.reasoning import checks, conflict
from stripdown.reasoning.costs import Costs, default_costs
from stripdown.reasoning.infer import FAILED_WHEN, Question, everything, leaf_of
from stripdown.reasoning.model import ESTABLISHED, Evidence
from stripdown.reasoning.network import Network

ANSWERED = 0.5
"""Share of what the site is asked that it can answer."""
MEASURED = 0.3
"""How often a reading of the running system came with the claim; afterwards it cannot be taken any more."""
MISSING_PART = "assembly.part_missing_or_wrong"
OPENED = ("terminal_box", "heads", "valve_plate", "pump_end", "bottom", "motor_end", "layout")
"""A part that is missing or wrong is seen in one of these, each as often."""


@cache
def shipped() -> tuple[Knowledge, Costs]:
    return knowledge.load(), default_costs()


@dataclass
class Bench:
    """One simulated compressor on the bench: what there is to see, what has been seen, and the minutes it took."""

    network: Network
    truth: int
    levels: dict[str, int]
    hidden: frozenset[str]
    at_hand: frozenset[str]
    """What came with the claim."""
    missing_seen_at: str
    done: list[str] = field(default_factory=list)
    minutes: float = 0.0
    seen: dict[str, NDArray[np.float64]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for finding in self.at_hand:
            self._see(finding)

    def _see(self, finding: str) -> None:
        self.seen[finding] = np.eye(len(leaf_of(self.network, finding).table))[self.levels[finding]]

    def do(self, step: Step) -> None:
        """Make a step and those it needs."""
        for before in step.after:
            if before not in self.done:
                self.do(steps()[before])
        self.done.append(step.id)
        self.minutes += step.minutes
        for finding in findings_of(self.network.knowledge, step):
            if finding not in self.hidden:
                self._see(finding)
        if step.id == self.missing_seen_at:
            self._see(MISSING_PART)

    def possible(self) -> list[Step]:
        """Steps that can still be made."""
        return [s for s in steps().values() if s.id not in self.done and not set(s.until) & set(self.done)]

    @property
    def evidence(self) -> Evidence:
        """What is known so far."""
        stated = frozenset(f for f, v in self.seen.items() if not v[0] and f != FAILED_WHEN)
        return Evidence(self.seen, {f: f for f in self.seen}, stated)

    def there(self) -> bool:
        """Whether the finding is established and right."""
        first = Question(self.network, list(self.seen)).first(self.seen)[0][:, 0]
        sure = first[self.truth] >= ESTABLISHED
        return bool(sure) and conflict.find(self.network, self.evidence) is None


@cache
def steps() -> dict[str, Step]:
    return {s.id: s for s in shipped()[0].steps}


def whole() -> float:
    """Minutes of the whole teardown."""
    return sum(s.minutes for s in steps().values())


Choice = Callable[[Bench, np.random.Generator], Step | None]


def fixed(bench: Bench, random: np.random.Generator) -> Step | None:
    """The next step of the teardown as it stands in the knowledge."""
    return next(iter(bench.possible()), None)


def shuffled(bench: Bench, random: np.random.Generator) -> Step | None:
    """Any step that can still be made."""
    left = bench.possible()
    return left[random.integers(len(left))] if left else None


def proposed(bench: Bench, random: np.random.Generator) -> Step | None:
    """The first check the program proposes that can be had; what the site could not answer is not asked again."""
    rules, costs = shipped()
    evidence = bench.evidence
    posterior = everything(bench.network, bench.seen)
    listed, _ = checks.next_checks(rules, costs, evidence, posterior)
    step_of = {f: s for s in steps().values() for f in findings_of(rules, s)}
    return next((step_of[c.id] for c in listed if step_of[c.id].id not in bench.done), None)


ORDERS: dict[str, Choice] = {"proposed": proposed, "fixed": fixed, "random": shuffled}


def run(job: tuple[int, Sequence[str]]) -> dict[str, tuple[float, bool, int, str]]:
    """Order → (minutes counted, whether it got there, steps made, true mechanism) for one compressor."""
    seed, orders = job
    random = np.random.default_rng(seed)
    rules, _ = shipped()
    network = Network(rules, context(random))
    names = [FAILED_WHEN, *rules.findings]
    while True:
        values, levels = conflict.simulate(network, names, 1, int(random.integers(2**31)))
        truth = int(values[0][0])
        if network.mechanisms[truth] != "no_fault" and not impossible(rules, levels)[0]:
            break
    site = findings_of(rules, steps()["site_history"])
    hidden = frozenset(f for f in site if random.random() >= ANSWERED)
    of_steps = {f for s in steps().values() for f in findings_of(rules, s)} | {MISSING_PART}
    running = [f for f in rules.findings if f not in of_steps and random.random() < MEASURED]
    at_hand = frozenset({FAILED_WHEN, *running})
    place = str(random.choice(OPENED))
    out = {}
    for order in orders:
        choose = ORDERS[order]
        bench = Bench(network, truth, {f: int(v[0]) for f, v in levels.items()}, hidden, at_hand, place)
        reached = bench.there()
        while not reached and (step := choose(bench, random)) is not None:
            bench.do(step)
            reached = bench.there()
        out[order] = (bench.minutes if reached else whole(), reached, len(bench.done), network.mechanisms[truth])
    return out


def main() -> None:
    """All orders on the same compressors."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--records", type=int, default=400)
    options.add_argument("--processes", type=int, default=2)
    options.add_argument("--every", type=int, default=50, help="print after so many")
    chosen = options.parse_args()
    start = time.perf_counter()
    rows: list[dict[str, tuple[float, bool, int, str]]] = []
    with multiprocessing.Pool(chosen.processes) as pool:
        jobs = [(seed, tuple(ORDERS)) for seed in range(chosen.records)]
        for row in pool.imap(run, jobs):
            rows.append(row)
            if len(rows) % chosen.every == 0 or len(rows) == chosen.records:
                report(rows, time.perf_counter() - start)


def report(rows: list[dict[str, tuple[float, bool, int, str]]], seconds: float) -> None:
    """Print what is known so far."""
    print(f"\n{len(rows)} failed compressors, whole teardown {whole():.0f} min, {seconds:.0f} s")
    minutes = {o: np.array([r[o][0] for r in rows]) for o in ORDERS}
    for order in ORDERS:
        m, got = minutes[order], np.array([r[order][1] for r in rows])
        made = np.array([r[order][2] for r in rows])
        ratio = m.mean() / minutes["fixed"].mean()
        spread = np.std([s.mean() / f.mean() for s, f in resampled(m, minutes["fixed"])])
        print(
            f"{order:9s} mean {m.mean():5.0f} min, median {np.median(m):4.0f}, got there {got.mean():.3f}"
            f" in {m[got].mean():4.0f} min, steps {made.mean():4.1f}; "
            f"{ratio:.3f} of the fixed order (s.e. {spread:.3f})"
        )
    both = np.array([r["fixed"][1] for r in rows])
    share = minutes["proposed"][both].mean() / minutes["fixed"][both].mean()
    print(f"where the fixed order gets there at all ({both.mean():.2f}): proposed takes {share:.3f} of its minutes")
    print("mechanism            records  fixed  proposed  got there: fixed  proposed")
    for mechanism in sorted({r["fixed"][3] for r in rows}):
        some = [r for r in rows if r["fixed"][3] == mechanism]
        figures = [np.mean([r[o][i] for r in some]) for i in (0, 1) for o in ("fixed", "proposed")]
        print(
            f"{mechanism:20s} {len(some):7d}  {figures[0]:5.0f}  {figures[1]:8.0f}  {figures[2]:16.2f}  "
            f"{figures[3]:8.2f}",
            flush=True,
        )


def resampled(a: NDArray[np.float64], b: NDArray[np.float64]) -> list[tuple[NDArray[np.float64], NDArray[np.float64]]]:
    """Pairs drawn again with replacement."""
    random = np.random.default_rng(1)
    picks = [random.integers(len(a), size=len(a)) for _ in range(300)]
    return [(a[p], b[p]) for p in picks]


if __name__ == "__main__":
    main()
