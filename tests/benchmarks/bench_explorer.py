"""How long 100,000 returns of 300,000 units take to answer each question of the explorer.

Run by hand: python -m tests.benchmarks.bench_explorer. Each question is asked anew three times, of a fresh choice; the
median of the wall clock stands beside that of this process's own time, which does not count what else the machine does.
"""

import statistics
import time
from collections.abc import Callable

from stripdown.fleet import Opened
from stripdown.fleet.lives import join, last_day
from stripdown.widgets.explorer import Explorer
from tests.widgets.fleets import many

RETURNS, UNITS, LIMIT_MS = 100_000, 300_000, 300.0
RATED = frozenset({"model", "site", "contractor", "build_month"})


ANEW = (lambda e: e.let_all_go(), lambda e: e.close(), lambda e: e.ask("returns"), lambda e: e.group("model"),
        lambda e: e.arrange("returns"))  # fmt: skip


def asked(explorer: Explorer, *actions: Callable[[Explorer], object]) -> None:
    for act in actions:
        act(explorer)
    explorer.bars, explorer.choice.together, explorer.records  # noqa: B018  # what the screen shows each time
    assert explorer.refused is None, explorer.refused


QUESTIONS: dict[str, tuple[tuple[Callable[[Explorer], object], ...], Callable[[Explorer], object]]] = {
    "all returns by model": ((lambda e: e.group("site"),), lambda e: e.group("model")),
    "a mechanism by site": ((lambda e: e.group("site"),), lambda e: e.ask("first", "floodback")),
    "a cause by contractor": ((lambda e: e.ask("cause", "low_load"),), lambda e: e.group("contractor")),
    "a part, highest first": ((lambda e: e.ask("part", "stator"),), lambda e: e.arrange("value")),
    "rate by site": ((lambda e: e.group("site"),), lambda e: e.ask("rate")),
    "cost by month of building": ((lambda e: e.ask("cost"),), lambda e: e.group("build_month")),
    "keep a model": ((lambda e: e.ask("first", "floodback"),), lambda e: e.keep("model", "M-3")),
    "keep a site as well": ((lambda e: e.keep("model", "M-3"),), lambda e: e.keep("site", "site 007")),
    "open a bar": ((lambda e: e.ask("first", "floodback"),), lambda e: e.open("M-3")),
    "compare shares": ((lambda e: e.ask("first", "floodback"), lambda e: e.open("M-3")), lambda e: e.compare()),
    "compare rates": ((lambda e: e.ask("rate"), lambda e: e.open("M-3")), lambda e: e.compare()),
    "compare costs": ((lambda e: e.ask("cost"), lambda e: e.open("M-3")), lambda e: e.compare()),
    "life of all units": ((), lambda e: e.curves("life")),
    "incidence of all units": ((), lambda e: e.curves("incidence")),
    "life, a model and the rest": ((lambda e: e.open("M-3"),), lambda e: e.curves("life")),
    "incidence, a model and the rest": ((lambda e: e.open("M-3"),), lambda e: e.curves("incidence")),
}


def main() -> None:
    returns, population = many(RETURNS, UNITS)
    end = last_day(returns, population)
    assert end is not None
    started = time.perf_counter()
    lives = join(returns, population, end)
    explorer = Explorer(Opened(returns, lives, RATED, end, 0, ()))
    print(f"{RETURNS} returns of {UNITS} units: ready in {time.perf_counter() - started:.1f} s")
    worst = 0.0
    for name, (before, question) in QUESTIONS.items():
        wall, own = [], []
        for _ in range(3):
            asked(explorer, *ANEW, *before)
            clock, cpu = time.perf_counter(), time.process_time()
            asked(explorer, question)
            wall.append(1000 * (time.perf_counter() - clock))
            own.append(1000 * (time.process_time() - cpu))
        worst = max(worst, statistics.median(wall))
        print(f"{name:34} {statistics.median(wall):7.1f} ms   own {statistics.median(own):7.1f} ms")
    print(f"slowest {worst:.0f} ms, {worst / LIMIT_MS:.2f} of the {LIMIT_MS:.0f} ms asked for")


if __name__ == "__main__":
    main()
