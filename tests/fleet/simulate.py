"""Coverage of the intervals, measured; `python -m tests.fleet.simulate` prints that of docs/fleet-methods.md."""

from collections.abc import Callable, Iterator
from datetime import date, timedelta
from typing import Any

import numpy as np
import pandas as pd

from stripdown.fleet.ages import Ages, ages
from stripdown.fleet.agreement import kappa, kappa_interval
from stripdown.fleet.alerts import alerts
from stripdown.fleet.columns import MECHANISMS, table
from stripdown.fleet.compare import ALARM, comparisons, settle
from stripdown.fleet.equal_age import equal_age
from stripdown.fleet.forecast import Forecast, curves, expected_failures, limits
from stripdown.fleet.life_intervals import intervals, weibayes
from stripdown.fleet.lives import Lives
from stripdown.fleet.money import coming
from stripdown.fleet.nonparametric import incidence, life_table, log_log
from stripdown.fleet.proportions import poisson_limits, resampled, two_counts, wilson
from stripdown.fleet.trend import trends
from stripdown.fleet.weibull import LEAST_FAILURES, NoFitError, Weibull, fit
from stripdown.knowledge import load
from stripdown.knowledge.model import CONTEXT, HOUR_BANDS
from stripdown.reasoning.network import context_of, prior

KNOWLEDGE = load()
Hits = Iterator[bool]
AS_FAILED = ((1.0, "complete"), (0.3, "30 % failed"), (0.02, "2 % failed"))
IN_MONTHS = "30 % failed, ages in months"


def share(hits: Hits) -> float:
    """Of all intervals the share that held the truth."""
    held = list(hits)
    return sum(held) / len(held)


def sample(rng: np.random.Generator, failures: float, failed: float, shape: float, months: bool = False) -> Ages:
    """Units of scale 1000 day watched until a share `failed` is to be expected; about `failures` of them fail."""
    units = round(failures / failed)
    end = np.inf if failed >= 1 else float(1000 * (-np.log1p(-failed)) ** (1 / shape))
    age = 1000 * rng.weibull(shape, units)
    dead = age[age <= end]
    if months:
        m = np.floor(dead / 30)
        return ages(
            between=np.column_stack([m, m + 1]) * 30, running=[min(end, 1e9)], running_count=[units - len(dead)]
        )
    return ages(dead, [min(end, 1e9)], running_count=[units - len(dead)])


def weibull(failures: float, failed: float, shape: float, runs: int, months: bool = False) -> Iterator[list[bool]]:
    """Whether shape, scale and B10 lie in their intervals; samples with fewer than four failures are not fitted."""
    truth = (shape, 1000.0, 1000 * (-np.log(0.9)) ** (1 / shape))
    rng = np.random.default_rng([1, int(failures), int(100 * failed)])
    for _ in range(runs):
        data = sample(rng, failures, failed, shape, months)
        if data.failures < LEAST_FAILURES:
            continue
        try:
            found = intervals(data, fit(data))
        except NoFitError:
            continue
        yield [(e.low or 0.0) <= t <= (e.high or np.inf) for e, t in zip(found, truth, strict=True)]


def weibayes_scale(failures: float, runs: int) -> Hits:
    """Shape known; watching ends at a fixed date."""
    rng = np.random.default_rng([2, int(failures)])
    for _ in range(runs):
        found, _ = weibayes(sample(rng, failures, 0.02, 2.0), 2.0)
        yield (found.low or 0.0) <= 1000 <= (found.high or np.inf)


def expected_share(truth: float, records: int, sure: float, runs: int) -> Hits:
    """Records whose probability is beta distributed about its truth; `sure` = 0 all alike, 1 all certain."""
    rng = np.random.default_rng([3, records, int(1000 * truth)])
    weight = 1 / sure - 1
    for _ in range(runs):
        p = rng.beta(truth * weight + 1e-9, (1 - truth) * weight + 1e-9, records)
        low, high = resampled(p[:, None])
        yield bool(low[0] <= truth <= high[0])


def plain_share(truth: float, records: int, runs: int) -> Hits:
    rng = np.random.default_rng([4, records])
    for x in rng.binomial(records, truth, runs):
        low, high = wilson(x, records)
        yield bool(low <= truth <= high)


def poisson(mean: float, runs: int) -> Hits:
    for x in np.random.default_rng([5, int(mean)]).poisson(mean, runs):
        low, high = poisson_limits(x)
        yield bool(low <= mean <= high)


def ratio(mean: float, rest: float, times: float, runs: int) -> Hits:
    """A group with `mean` failures, a rest with `rest` and the rate of the group `times` the rest's."""
    rng = np.random.default_rng([6, int(mean)])
    for x, y in zip(rng.poisson(mean, runs), rng.poisson(rest, runs), strict=True):
        if x + y:
            _, low, high, _ = two_counts(x, mean / times, y, rest)
            yield bool(low <= times <= high)


def survival(failures: float, runs: int) -> Hits:
    """Kaplan-Meier at the age by which half of those that will fail have failed."""
    rng = np.random.default_rng([7, int(failures)])
    at = 1000 * (-np.log1p(-0.15)) ** 0.5
    for _ in range(runs):
        table = life_table(sample(rng, failures, 0.3, 2.0))
        i = int(np.searchsorted(table.age, at, side="right")) - 1
        if i < 0:
            continue
        low, high = log_log(1 - table.survival[i], table.error[i], table.at_risk[i])
        yield bool(low <= 0.15 <= high)


def cumulative_incidence(failures: float, runs: int) -> Hits:
    """One of two causes, of constant hazards 1 and 2 per 3000 day, by day 500, the ends of watching spread evenly."""
    rng = np.random.default_rng([8, int(failures)])
    units = round(failures / 0.12)
    truth = (1 - np.exp(-0.5)) / 3
    for _ in range(runs):
        age, end = rng.exponential(1000, units), rng.uniform(300, 1500, units)
        cause, dead = rng.random(units) < 1 / 3, age <= end
        table = incidence(np.minimum(age, end), np.ones(units), np.column_stack([dead & cause, dead & ~cause]))
        value, error = table.at([500])
        low, high = log_log(value[0, 0], error[0, 0], units)
        yield bool(low <= truth <= high)


def agreed(records: int, accuracy: float, runs: int) -> Hits:
    """Two people who each see the truth with `accuracy` and guess by its shares otherwise; eight mechanisms."""
    rng = np.random.default_rng([9, records, int(100 * accuracy)])
    base = np.array([0.27, 0.2, 0.15, 0.12, 0.1, 0.07, 0.05, 0.04])
    see = accuracy * np.eye(8) + (1 - accuracy) * base
    truth = kappa((see.T * base) @ see)
    assert truth is not None
    for _ in range(runs):
        true = rng.choice(8, records, p=base)
        a, b = (np.where(rng.random(records) < accuracy, true, rng.choice(8, records, p=base)) for _ in range(2))
        table = np.zeros((8, 8))
        np.add.at(table, (a, b), 1)
        ends = kappa_interval(table)
        if ends is not None:
            yield ends[0] <= truth.value <= ends[1]


def prediction(failures: float, runs: int) -> Hits:
    """Failures of the next 90 days of units installed evenly over four years, shape 2."""
    rng = np.random.default_rng([10, int(failures)])
    start = np.arange(0, 1440, 30.0)
    watched = 1440 - start
    share_failed = float((1 - np.exp(-((watched / 4000) ** 2))).mean())
    each = max(round(failures / share_failed / len(start)), 1)
    for _ in range(runs):
        age = 4000 * rng.weibull(2, (len(start), each))
        dead = age <= watched[:, None]
        data = ages(age[dead], watched, running_count=(~dead).sum(axis=1))
        coming = int(((age > watched[:, None]) & (age <= watched[:, None] + 90)).sum())
        stated = data.failures < LEAST_FAILURES
        total = float((data.count * data.failed_at**2).sum())
        curve = Weibull(2.0, (total / max(data.failures, 1)) ** 0.5, np.nan, data.failures) if stated else fit(data)
        shape, scale = curves(data, curve, stated)
        means = expected_failures(shape, scale, watched, (~dead).sum(axis=1).astype(float), np.array([90.0]))
        low, high = limits(means[:, 0])
        yield low <= coming <= high


def fleet(rng: np.random.Generator, units: int, bad_site: float = 1.0, bad_batch: float = 1.0) -> Lives:
    """Two models, 40 sites, 8 crews, 36 months of building; one site and one batch may fail faster by a factor."""
    start = rng.integers(0, 1095, units)
    model, site, crew = rng.integers(0, 2, units), rng.integers(0, 40, units), rng.integers(0, 8, units)
    month = start // 30.5
    times = np.where(site == 7, bad_site, 1.0) * np.where((model == 1) & (month == 12), bad_batch, 1.0)
    life = 5000 * (rng.exponential(size=units) / times) ** (1 / 1.5)
    watched = 1460 - start
    dead = life <= watched
    frame = pd.DataFrame(
        {
            "model": pd.Categorical(np.array(["K4-150", "K6-220"])[model]),
            "site": pd.Categorical([f"site {s}" for s in site]),
            "contractor": pd.Categorical([f"crew {c}" for c in crew]),
            "replaces": pd.Categorical([""] * units),
            "build_month": pd.Categorical([str(np.datetime64("2020-01") + int(m)) for m in month]),
            "start": start,
            "age_day": np.floor(np.minimum(life, watched)),
            "count": 1,
            "failed": dead.astype(float),
            "row": -1,
        }
    )
    return Lives(frame, date(1970, 1, 1) + timedelta(days=1460), 0.0, 0.0, 0, ())


MIX = {"floodback": 0.3, "liquid_slug": 0.2, "no_fault": 0.2, "overheating": 0.15, "wear_out": 0.05,
       "assembly_fault": 0.05, "part_defect": 0.05}  # fmt: skip
"""What the invented returns of `mix` died of, at any age: nothing like the shares that the reasoning starts from."""


def mix(rng: np.random.Generator, returns: int, rise: float = 0.0) -> pd.DataFrame:
    """Returns of eight years of a fleet that grows older by 4000 h a year; findings that tell a little.

    Each return's probabilities start from the shipped shares of its run hours and duty. `rise`: what a year adds to the
    share of wear out, taken from floodback.
    """
    year = rng.uniform(0, 8, returns)
    hours = np.maximum(4000 * year + rng.normal(4000, 6000, returns), 0.0)
    duty = rng.choice(["low", "medium"], returns)
    share = np.repeat(np.array([MIX.get(m, 0.0) for m in MECHANISMS])[None, :], returns, axis=0)
    for m, way in (("wear_out", 1), ("floodback", -1)):
        share[:, MECHANISMS.index(m)] += way * rise * year
    true = (share.cumsum(axis=1) < rng.random((returns, 1))).sum(axis=1)
    found = rng.normal(size=(returns, len(MECHANISMS)))
    found[np.arange(returns), true] += rng.choice([1.0, 3.0, 5.0], returns)
    bands = np.digitize(hours, [limit for limit, _ in HOUR_BANDS])
    starts = {
        (d, b): prior(KNOWLEDGE, context_of(duty=d, hours=CONTEXT["hours"][b])) for d in set(duty) for b in range(5)
    }
    order = [KNOWLEDGE.mechanisms.index(m) for m in MECHANISMS]
    p = np.array([starts[d, b][order] for d, b in zip(duty, bands, strict=True)]) * np.exp(2 * found)
    p /= p.sum(axis=1, keepdims=True)
    words = dict.fromkeys(
        ("model", "cooling", "motor", "oil_feed", "inverter", "opened_before", "knowledge", "replaces"), ""
    )
    day = np.datetime64("2018-01-01") + (365.25 * year).astype("timedelta64[D]")
    known = pd.DataFrame({"failed": day, "returned": day, "run_hours_h": hours, "duty": duty} | words)
    return pd.concat([known, pd.DataFrame(p, columns=[f"first.{m}" for m in MECHANISMS])], axis=1)


def mix_trends(runs: int, returns: int, rise: float = 0.0) -> list[dict[str, dict[str, Any]]]:
    """The looks at the mix in so many invented fleets, by what they look at."""
    rng = np.random.default_rng([12, returns, int(1000 * rise)])
    out = []
    for _ in range(runs):
        looks = trends(mix(rng, returns, rise), None)
        settle(looks)
        out.append({look["what"].split()[0]: look for look in looks})
    return out


def rate_trends(runs: int, yearly: float = 1.0) -> list[dict[str, Any]]:
    """The look at the failures by half-year of fleets installed over three years and watched for four; `yearly`: by
    what each calendar year multiplies the hazard."""
    rng = np.random.default_rng([13, int(1000 * yearly)])
    out = []
    for _ in range(runs):
        start = rng.integers(0, 1095, 4000)
        # hazard of shape 1.5 by age, times yearly ** calendar year: its sum over days is drawn from directly
        days = np.arange(1, 1461)
        risk = (days / 5000) ** 1.5 - ((days - 1) / 5000) ** 1.5
        called = start[:, None] + days[None, :]
        hazard = risk[None, :] * yearly ** (called / 365.25 - 2) * (called <= 1460)
        sums = hazard.cumsum(axis=1)
        end = rng.exponential(size=(4000, 1))
        age = np.where(sums[:, -1:] >= end, (sums < end).sum(axis=1, keepdims=True) + 1, 1460 - start[:, None])[:, 0]
        dead = (sums[:, -1:] >= end)[:, 0]
        none = pd.Categorical([""] * 4000)
        frame = pd.DataFrame(
            {"model": pd.Categorical(["K4-150"] * 4000), "site": none, "contractor": none, "replaces": none,
             "build_month": none, "start": start + 17532, "age_day": age.astype(float), "count": 1,
             "failed": dead.astype(float), "row": -1}
        )  # fmt: skip
        lives = Lives(frame, date(2018, 1, 1) + timedelta(days=1460), 0.0, 0.0, 0, ())
        out += trends(table([]), equal_age(lives))
    return out


def alarms(runs: int, units: int = 4000, **planted: float) -> list[set[tuple[str, str]]]:
    """What was called an alert in each of so many fleets."""
    rng = np.random.default_rng([11, runs])
    out = []
    for _ in range(runs):
        lives = fleet(rng, units, **planted)
        looks = comparisons(lives, equal_age(lives), frozenset({"site", "contractor", "build_month"}), None)
        settle(looks)
        out.append({(a["kind"], a["id"]) for a in alerts(looks, [], lives.frame, equal_age(lives), table([]))})
    return out


def cost_ahead(returns: int, runs: int) -> Hits:
    """Cost of the returns of the next year where so many were expected in the last one too; each log-normal about 2000,
    standard deviation of the log 0.6."""
    rng = np.random.default_rng([14, returns])
    for _ in range(runs):
        cost = 2000 * rng.lognormal(0.0, 0.6, max(rng.poisson(returns), 1))
        rate = np.r_[len(cost), rng.gamma(len(cost) + 0.5, size=500)]
        told = coming(Forecast([{}], rate), pd.Series(cost))
        assert told is not None
        total = 2000 * rng.lognormal(0.0, 0.6, rng.poisson(returns)).sum()
        yield told["total_low"] <= total <= told["total_high"]


def rows(runs: int) -> Iterator[tuple[str, str, float]]:
    """Interval, situation, measured coverage."""
    situations = [(n, *how) for n in (5, 8, 12, 20, 50) for how in AS_FAILED] + [(20, 0.3, IN_MONTHS)]
    for failures, failed, words in situations:
        held = np.mean(list(weibull(failures, failed, 1.8, runs, months=words == IN_MONTHS)), axis=0)
        for name, covered in zip(("shape", "scale", "B10"), held, strict=True):
            yield f"Weibull {name}", f"{failures} failures, {words}", float(covered)
    for mean in (1, 2, 3):
        yield "Weibayes scale", f"{mean} failures expected, shape known", share(weibayes_scale(mean, runs))
    for truth, n, sure in (
        (0.2, 20, 0.9),
        (0.2, 50, 0.5),
        (0.2, 200, 0.5),
        (0.05, 50, 0.7),
        (0.02, 200, 0.8),
        (0.02, 1000, 0.8),
    ):
        yield (
            "expected share",
            f"{n} records, truth {truth}, sureness {sure}",
            share(expected_share(truth, n, sure, runs)),
        )
    for truth, n in ((0.2, 20), (0.2, 200), (0.05, 100), (0.02, 1000)):
        yield "plain share", f"{n} records, truth {truth}", share(plain_share(truth, n, runs))
    for mean in (5, 10, 20, 50):
        yield "rate of a group", f"{mean} returns expected", share(poisson(mean, runs))
        yield (
            "rate ratio",
            f"{mean} failures against {10 * mean}, twice as many as due",
            share(ratio(mean, 10 * mean, 2.0, runs)),
        )
    for failures in (10, 20, 50):
        yield "Kaplan-Meier", f"{failures} failures", share(survival(failures, runs))
        yield "cumulative incidence", f"{failures} failures of the cause", share(cumulative_incidence(failures, runs))
    for n in (20, 40, 100):
        for accuracy in (0.7, 0.9, 0.98):
            yield "kappa", f"{n} records, each right {accuracy:.0%}", share(agreed(n, accuracy, runs))
    for returns in (5, 20, 100):
        yield "cost of the forecast", f"{returns} returns a year", share(cost_ahead(returns, runs))
    for failures in (2, 5, 10, 20, 50):
        yield "forecast, next 90 days", f"{failures} failures so far", share(prediction(failures, runs))


def main(show: Callable[[str], None] = print) -> None:
    show("| interval | situation | coverage |\n|---|---|---|")
    for name, situation, covered in rows(1000):
        show(f"| {name} | {situation} | {covered:.3f} |")
    quiet, loud = alarms(200), alarms(100, bad_site=4.0, bad_batch=5.0)
    show(f"\nFleets without a fault that raised an alert: {sum(map(bool, quiet))} of {len(quiet)}.")
    for planted in (("site", "site 7"), ("build_month", "2021-01")):
        show(f"Planted {planted[0]} found: {sum(planted in a for a in loud)} of {len(loud)}.")
    false = [a - {("site", "site 7"), ("build_month", "2021-01")} for a in loud]
    show(f"Other alerts in these {len(loud)} fleets: {sum(map(len, false))} beside {sum(map(len, loud))} in all.\n")
    for returns, fleets in ((150, 1000), (600, 1000), (6000, 200)):
        still = mix_trends(fleets, returns)
        low = np.array([look["p"] for f in still for look in f.values()])
        any_of = np.mean([any(look["p_adjusted"] <= ALARM for look in f.values()) for f in still])
        told = (
            f"p below 0.05: {np.mean(low < 0.05):.1%}, below 0.01: {np.mean(low < 0.01):.1%}; any alarm: {any_of:.1%}"
        )
        show(f"Mix of {returns} returns, {len(low)} looks, nothing changed: {told}")
    for returns, rise in ((600, 0.03), (2500, 0.03), (10000, 0.01)):
        moved = mix_trends(100, returns, rise)
        worn = [f["wear_out"] for f in moved]
        mean = float(np.mean([w["change"] for w in worn]))
        held = share(w["low"] <= mean <= w["high"] for w in worn)
        others = share(
            any(w["p_adjusted"] <= ALARM for m, w in f.items() if m not in ("wear_out", "floodback")) for f in moved
        )
        told = f"found {share(w['p_adjusted'] <= ALARM for w in worn):.0%}, {mean:+.4f} a year, held {held:.0%}"
        show(f"Wear out {rise:+.2f} a year, {returns} returns: {told}; another alarm {others:.0%}")
    for yearly, fleets in ((1.0, 1000), (1.2, 300)):
        years = rate_trends(fleets, yearly)
        mean = float(np.mean([y["change"] for y in years]))
        told = f"held {share(y['low'] <= yearly <= y['high'] for y in years):.1%}, mean {mean:.3f}"
        show(f"Hazard times {yearly} a year: p below 0.05 {share(y['p'] < 0.05 for y in years):.1%}, {told}")


if __name__ == "__main__":
    main()
