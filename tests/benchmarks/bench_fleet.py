"""How long a fleet takes: the life of a million units beside two libraries, and the whole report on 100,000 returns.

    python tests/benchmarks/bench_fleet.py

Prints times, ratios and how far the answers differ; judges nothing, since times belong to the machine.
"""

import json
import resource
import tempfile
import time
from collections.abc import Callable, Iterator
from datetime import date, timedelta
from pathlib import Path
from statistics import median
from typing import Any

import numpy as np
import scipy.optimize
import scipy.stats
import surpyval

from stripdown.batch import workbook
from stripdown.fleet import read_population, report, table
from stripdown.fleet.ages import from_months
from stripdown.fleet.columns import CAUSES, MECHANISMS
from stripdown.fleet.life_intervals import intervals
from stripdown.fleet.weibull import fit

UNITS = 1_000_000
RETURNS = 100_000
ROUNDS = 3
Answer = tuple[float, ...]


def seconds(job: Callable[[], Any], rounds: int = ROUNDS) -> tuple[float, Any]:
    """Median of the rounds, and what the job gave."""
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        given = job()
        times.append(time.perf_counter() - start)
    return median(times), given


def months() -> tuple[np.ndarray, np.ndarray]:
    """Whole months in service of a million units, and which of them had failed: shape 1.5, scale 90 months."""
    rng = np.random.default_rng(1)
    life, watched = 90 * rng.weibull(1.5, UNITS), rng.uniform(1, 120, UNITS)
    return np.floor(np.minimum(life, watched)).astype(np.int64), life <= watched


def grouped(age: np.ndarray, failed: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Lower and upper age and count, as libraries take grouped counts; a unit seen for no month says nothing."""
    dead, alive = np.bincount(age[failed]), np.bincount(age[~failed])
    i, k = np.flatnonzero(dead), np.flatnonzero(alive[1:]) + 1
    lower = np.concatenate([i, k]).astype(float)
    upper = np.concatenate([i + 1.0, np.full(len(k), np.inf)])
    return lower, upper, np.concatenate([dead[i], alive[k]]).astype(float)


def ours(age: np.ndarray, failed: np.ndarray) -> Answer:
    """Shape, scale, and the 95 % likelihood-ratio ends of shape, scale, B10; not widened, as the libraries do not."""
    data = from_months(age, failed)
    curve = fit(data)
    found = intervals(data, curve, adjust=False)
    return curve.shape, curve.scale, *(end or np.nan for e in found for end in (e.low, e.high))


def of_surpyval(age: np.ndarray, failed: np.ndarray) -> Answer:
    lower, upper, count = grouped(age, failed)
    model = surpyval.Weibull.fit(xl=lower, xr=upper, n=count)
    ends = [model.param_cb(p, method="lr") for p in ("beta", "alpha")] + [model.quantile_cb(0.1, method="lr")]
    return float(model.beta), float(model.alpha), *np.concatenate([np.ravel(e) for e in ends])


def of_scipy(age: np.ndarray, failed: np.ndarray) -> Answer:
    """scipy takes no counts and gives no likelihood-ratio interval: the fit alone."""
    at = age[failed].astype(float)
    data = scipy.stats.CensoredData(
        interval=np.column_stack([at, at + 1]), right=age[~failed & (age > 0)].astype(float)
    )
    shape, _, scale = scipy.stats.weibull_min.fit(data, floc=0, optimizer=_closely)
    return float(shape), float(scale)


def _closely(function: Any, start: Any, args: Any = (), disp: Any = 0) -> Any:
    """scipy's own search, ended later: its default stops before the fifth digit."""
    return scipy.optimize.fmin(function, start, args=args, disp=disp, xtol=1e-7, ftol=1e-3)


def of_scipy_counts(age: np.ndarray, failed: np.ndarray) -> Answer:
    """scipy's distribution and search on the grouped counts, put together by hand: the fit alone."""
    lower, upper, count = grouped(age, failed)
    dead = np.isfinite(upper)
    weibull = scipy.stats.weibull_min

    def loss(at: np.ndarray) -> float:
        shape, scale = np.exp(at)
        inside = weibull.sf(lower[dead], shape, scale=scale) - weibull.sf(upper[dead], shape, scale=scale)
        running = weibull.logsf(lower[~dead], shape, scale=scale)
        return -float(count[dead] @ np.log(np.maximum(inside, 1e-300)) + count[~dead] @ running) / count.sum()

    best = scipy.optimize.minimize(
        loss, [0.0, np.log(age.mean() + 1)], method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-13}
    )
    return tuple(np.exp(best.x))


def life() -> None:
    age, failed = months()
    print(f"Weibull life of {UNITS:,} units in whole months, {failed.sum():,} failed; median of {ROUNDS}")
    own, answer = seconds(lambda: ours(age, failed))
    print(f"  ours, grouped, fit and likelihood-ratio intervals      {own:8.3f} s")
    for name, job, rounds in (
        ("surpyval, grouped, fit and likelihood-ratio intervals  ", of_surpyval, ROUNDS),
        ("scipy on grouped counts by hand, fit without intervals ", of_scipy_counts, ROUNDS),
        ("scipy on a million rows, fit without intervals         ", of_scipy, 1),
    ):
        theirs, other = seconds(lambda job=job: job(age, failed), rounds)  # type: ignore[misc]
        apart = max(abs(a / b - 1) for a, b in zip(answer, other, strict=False))
        print(f"  {name}{theirs:8.3f} s  {theirs / own:6.1f} times ours, answers within {apart:.0e}")


def lines(number: int) -> Iterator[dict[str, Any]]:
    """Result lines of a fleet of ten models, 200 sites, 60 crews; every fifth is open, every tenth confirmed."""
    rng, day = np.random.default_rng(2), timedelta(days=1)
    for i in range(number):
        p = rng.dirichlet(np.full(4, 0.3 if i % 5 else 2.0))
        which = rng.choice(len(MECHANISMS), 4, replace=False)
        first = sorted(({"id": MECHANISMS[k], "probability": float(x)} for k, x in zip(which, p, strict=True)),
                       key=lambda s: -s["probability"])  # fmt: skip
        top = first[0]["probability"]
        installed = date(2016, 1, 1) + timedelta(days=int(rng.integers(0, 3000)))
        failed = installed + timedelta(days=int(rng.integers(1, 700)))
        yield {
            "claim": f"C{i}", "file": "returns.jsonl",
            "status": "established" if top >= 0.9 else "likely" if top >= 0.6 else "open",
            "unit": {"serial": f"S{i}", "model": f"M{i % 10}", "built": str(installed - timedelta(days=40))},
            "history": {"installed": str(installed), "failed": str(failed), "returned": str(failed + 20 * day),
                        "site": f"site {i % 200}", "contractor": f"crew {i % 60}", "duty": ("low", "medium")[i % 2]},
            "first": first, "mechanisms": first,
            "causes": [{"id": CAUSES[int(rng.integers(0, len(CAUSES)))], "probability": 0.8}],
            "outcome": {"id": ("replace_compressor", "rebuild")[i % 2], "expected_cost": 2000.0, "currency": "EUR"},
            "liability": [{"id": "system", "probability": 0.9}], "avoidable": {"return": 0.2, "failure": 0.5},
            "readings": [{"quantity": "winding_resistance", "verdict": "within"}] * 3,
            "examined": {"by": "bench 1", "on": None, "instruments": ["meter"], "parts": ["oil", "stator"]},
            "confirmed": [{"by": "a", "first": first[0]["id"], "causes": []}] if i % 10 == 0 else [],
            "parts": ["main_bearing", "stator"][: 1 + i % 2], "knowledge": "sha256:1", "version": "1",
        }  # fmt: skip


def units(made: list[dict[str, Any]], path: Path) -> None:
    """The units table: every unit that came back, and three that run for each."""
    rows = ["serial,model,site,contractor,built,installed,removed"]
    for i, line in enumerate(made):
        u, h = line["unit"], line["history"]
        for k in ("", "a", "b", "c"):
            rows.append(f"S{i}{k},{u['model']},{h['site']},{h['contractor']},{u['built']},{h['installed']},")
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")


def whole_report() -> None:
    print(f"\nThe report on judged returns with four units for each; median of {ROUNDS}")
    every = list(lines(RETURNS))
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for number in (RETURNS // 4, RETURNS // 2, RETURNS):
            made = every[:number]
            units(made, folder / "units.csv")
            results = folder / "results.jsonl"
            results.write_text("".join(json.dumps(line) + "\n" for line in made), encoding="utf-8")
            figures, _ = seconds(lambda: report(made, read_population(folder / "units.csv")))  # noqa: B023
            start, busy = time.perf_counter(), time.process_time()
            workbook.write_fleet(workbook.open_fleet(str(results), str(folder / "units.csv"), ""), folder)
            whole, busy = time.perf_counter() - start, time.process_time() - busy
            print(f"  {number:7,} returns: figures {figures:6.2f} s, {1e6 * figures / number:5.0f} us each; "
                  f"from files to page, PDF and CSV {whole:6.2f} s, of them {busy:6.2f} s busy")  # fmt: skip


def rows_in_memory() -> None:
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    start = time.perf_counter()
    rows = table(lines(UNITS))
    mb = rows.memory_usage(deep=True).sum() / 1e6
    peak = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1e3
    took = time.perf_counter() - start
    print(f"\nA table of {len(rows):,} lines: {took:.0f} s with making them, {mb:,.0f} MB, {peak:,.0f} MB at the peak")


if __name__ == "__main__":
    life()
    whole_report()
    rows_in_memory()
