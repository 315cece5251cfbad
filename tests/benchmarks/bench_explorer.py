"""How long 100,000 returns of 300,000 units take to answer each question of the explorer, from click to screen.

Run by hand: python -m tests.benchmarks.bench_explorer. Each question is asked three times, of a workbook that has
forgotten every answer; a view without a browser is filled as on the screen. Medians of the wall clock until the numbers
stand there, and until the drawing does too, where there is one; and of this process's own time until then, which does
not count what else the machine does.
"""

import statistics
import time
from collections.abc import Callable

from stripdown.fleet import Opened
from stripdown.fleet.lives import join, last_day
from stripdown.widgets.explorer_view import View, workbook
from tests.widgets.fleets import many

RETURNS, UNITS, LIMIT_MS = 100_000, 300_000, 300.0
RATED = frozenset({"model", "site", "contractor", "build_month"})
Act = Callable[[View], object]


def choose(name: str, value: str) -> Act:
    return lambda view: setattr(getattr(view, name), "value", value)


def press(name: str) -> Act:
    return lambda view: getattr(view, name).click()


def turn(panel: str) -> Act:
    return lambda view: view.tabs[panel].click()


def forget_looks(view: View) -> None:
    view.explorer.forget_looks()


ANEW = (
    forget_looks,
    turn("records"),
    press("all_again"),
    choose("by", "model"),
    choose("kind", "returns"),
    choose("inside", ""),
)
FLOODBACK = (choose("kind", "first"), choose("of", "floodback"))
ONE_MODEL = choose("inside", "M-3")
QUESTIONS: dict[str, tuple[tuple[Act, ...], Act]] = {
    "number of returns by site": ((), choose("by", "site")),
    "a mechanism by site": ((choose("kind", "first"), choose("by", "site")), choose("of", "floodback")),
    "a mechanism by month of building": (FLOODBACK, choose("by", "build_month")),
    "a cause by model": ((choose("kind", "cause"),), choose("of", "low_load")),
    "a part, highest first": ((choose("kind", "part"), choose("order", "returns")), choose("order", "value")),
    "rate by site": ((choose("by", "site"),), choose("kind", "rate")),
    "cost by contractor": ((choose("kind", "cost"),), choose("by", "contractor")),
    "keep a model": ((*FLOODBACK, choose("kept_by", "model"), choose("name", "M-3")), press("keep")),
    "open a bar": (FLOODBACK, ONE_MODEL),
    "compare shares": ((*FLOODBACK, ONE_MODEL, turn("compare")), press("compare")),
    "compare rates": ((choose("kind", "rate"), ONE_MODEL, turn("compare")), press("compare")),
    "compare costs": ((choose("kind", "cost"), ONE_MODEL, turn("compare")), press("compare")),
    "share of each of 200 sites, compared": ((*FLOODBACK, choose("by", "site"), turn("compare")), press("each")),
    "rate of each of 200 sites, compared": (
        (choose("by", "site"), choose("kind", "rate"), turn("compare")),
        press("each"),
    ),
    "cost of each of 200 sites, compared": (
        (choose("by", "site"), choose("kind", "cost"), turn("compare")),
        press("each"),
    ),
    "life of all units": ((), turn("life")),
    "incidence of all units": ((), turn("incidence")),
    "life, a model and the rest": ((ONE_MODEL,), turn("life")),
    "incidence, a model and the rest": ((ONE_MODEL,), turn("incidence")),
}


def main() -> None:
    returns, population = many(RETURNS, UNITS)
    end = last_day(returns, population)
    assert end is not None
    started = time.perf_counter()
    view = workbook(Opened(returns, join(returns, population, end), RATED, end, 0, ()))
    print(f"{RETURNS} returns of {UNITS} units: ready in {time.perf_counter() - started:.1f} s")
    numbers: list[float] = []
    view.curves.observe(lambda _: numbers.append(time.perf_counter()), "value")
    slowest = 0.0
    for name, (before, question) in QUESTIONS.items():
        answered, wall, own = [], [], []
        for _ in range(3):
            for act in (*ANEW, *before):
                act(view)
            numbers.clear()
            clock, cpu = time.perf_counter(), time.process_time()
            question(view)
            answered.append(1000 * ((numbers or [time.perf_counter()])[0] - clock))
            wall.append(1000 * (time.perf_counter() - clock))
            own.append(1000 * (time.process_time() - cpu))
        slowest = max(slowest, statistics.median(answered))
        drawn, process = statistics.median(wall), statistics.median(own)
        print(f"{name:34} {statistics.median(answered):7.1f} ms, drawn {drawn:7.1f} ms, own {process:7.1f} ms")
    print(f"slowest {slowest:.0f} ms, {slowest / LIMIT_MS:.2f} of the {LIMIT_MS:.0f} ms asked for")


if __name__ == "__main__":
    main()
