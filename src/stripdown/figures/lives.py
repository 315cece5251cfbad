"""Figures of a fleet over time: life per model, incidence, rates of groups, forecast; from `fleet --json`."""

from collections.abc import Mapping, Sequence
from math import exp, nan
from typing import TYPE_CHECKING, Any

from stripdown.figures.figure import BAD, FLEET_WIDTH, GOOD, INK, PLAIN, WARN, Figure, canvas, column, drawn, finish
from stripdown.figures.words import folded
from stripdown.numbers import count, fixed, number
from stripdown.vocabulary import label

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_YEAR = 365.25
MOST_MODELS = 6
_LEAST_DRAWN = 2
_MOST_GROUPS = 12
_MOST_MECHANISMS = 4
_POINTS = 60
_LINES = ((GOOD, "-", "o"), (BAD, "--", "s"), (WARN, "-.", "D"), (PLAIN, ":", "^"))


@drawn
def life(report: Mapping[str, Any]) -> Figure | None:
    """Share failed by age and model: steps without assumption, their band, and the fitted line."""
    steps = {k["model"]: k for k in report.get("kaplan_meier") or [] if len(k["days"]) > 1}
    models = [m for m in report["life"] if m["model"] in steps and m["failures"] >= _LEAST_DRAWN][:MOST_MODELS]
    if not models:
        return None
    columns = min(2, len(models))
    rows = -(-len(models) // columns)
    drawing, axes = canvas(FLEET_WIDTH, 0.35 + 1.85 * rows, rows, columns)
    for ax, m in zip(axes, models, strict=False):
        _life(ax, m, steps[m["model"]])
    for ax in axes[len(models) :]:
        ax.set_visible(False)
    said = "; ".join(f"{m['model']}: {_life_words(m)}" for m in models)
    return finish(drawing, title="How long they live", alt=f"Share failed by age. {said}.")


def _life(ax: "Axes", m: Mapping[str, Any], km: Mapping[str, Any]) -> None:
    years = [d / _YEAR for d in [*km["days"], max(km["watched_days"], km["days"][-1])]]
    failed, low, high = ([_percent_failed(s) for s in (*km[k], km[k][-1])] for k in ("survival", "high", "low"))
    ax.fill_between(years, low, high, step="post", color=GOOD, alpha=0.2, linewidth=0)
    ax.step(years, failed, where="post", color=GOOD, linewidth=1.5)
    shape, scale = m["shape"]["value"], m["scale"]["value"]
    if shape and scale:
        last = max(years[-1], 0.1)
        at = [last * i / _POINTS for i in range(_POINTS + 1)]
        ax.plot(at, [100 * (1 - exp(-((t * _YEAR / scale) ** shape))) for t in at], "--", color=BAD, linewidth=1.2)
    named = m["model"] + (f", shape {number(shape, 2)}" if shape else "")
    ax.set_title(f"{folded(named, 34, most=1)}\n{_units(m)}", fontsize=8, loc="left")
    ax.set_xlabel("years", fontsize=8)
    ax.set_ylabel("failed [%]", fontsize=8)
    ax.set_ylim(0, None)
    ax.set_xlim(0, None)


def _percent_failed(survival: float | None) -> float:
    """nan where there is none: the interval ends where the last unit has failed."""
    return nan if survival is None else 100 * (1 - survival)


def _life_words(m: Mapping[str, Any]) -> str:
    shape = m["shape"]["value"]
    return _units(m) + (f", shape {number(shape, 2)}" if shape else "")


def _units(m: Mapping[str, Any]) -> str:
    return f"{count(m['failures'])} failed, {count(m['running'])} running"


@drawn
def incidence(report: Mapping[str, Any]) -> Figure | None:
    """Share failed by each of the most frequent mechanisms, the others competing; one panel a model."""
    models = list(dict.fromkeys(r["model"] for r in report.get("incidence") or []))[:MOST_MODELS]
    if not models:
        return None
    columns = min(2, len(models))
    rows = -(-len(models) // columns)
    drawing, axes = canvas(FLEET_WIDTH, 0.35 + 2.0 * rows, rows, columns)
    said = []
    for ax, model in zip(axes, models, strict=False):
        curves = [r for r in report["incidence"] if r["model"] == model][:_MOST_MECHANISMS]
        for (colour, line, marker), r in zip(_LINES, curves, strict=False):
            years = [0.0, *(d / _YEAR for d in r["at_days"])]
            values = [0.0, *(100 * v for v in r["value"])]
            ax.plot(years, values, line, marker=marker, color=colour, markersize=4, label=label(r["mechanism"]))
            said.append(f"{model} {label(r['mechanism'])} {values[-1]:.1f} % by {years[-1]:.0f} years")
        ax.legend(frameon=False, fontsize=7, ncols=2, loc="lower left", bbox_to_anchor=(-0.05, 0.98), columnspacing=1)
        ax.set_xlabel("years", fontsize=8)
        ax.set_ylabel(f"{model}: failed [%]", fontsize=8)
        ax.set_xlim(0, None)
        ax.set_ylim(0, None)
    for ax in axes[len(models) :]:
        ax.set_visible(False)
    return finish(drawing, title="What fails how soon", alt="; ".join(said) + ".")


def rates(report: Mapping[str, Any], dimension: str) -> Figure | None:
    """Returns per 1000 unit-months of the groups of a dimension: as counted with interval, and drawn to the fleet."""
    rows = [r for r in report["by"].get(dimension) or [] if r.get("rate_per_1000_unit_months") is not None]
    return _rates({"dimension": dimension, "rows": rows[:_MOST_GROUPS]}) if len(rows) > 1 else None


@drawn
def _rates(told: Mapping[str, Any]) -> Figure:
    rows: Sequence[Mapping[str, Any]] = told["rows"]
    what = label(told["dimension"])
    names = [folded(str(r["id"]), 26, most=2) for r in rows]
    drawing, (ax,) = canvas(FLEET_WIDTH, 0.62 + (0.31 if any("\n" in n for n in names) else 0.215) * len(rows))
    places = list(range(len(rows), 0, -1))
    for at, r in zip(places, rows, strict=True):
        rate = r["rate_per_1000_unit_months"]
        ax.plot([r.get("rate_low", rate), r.get("rate_high", rate)], [at, at], color=INK, linewidth=1.2)
        ax.plot([rate], [at], "o", color=GOOD, markersize=6)
        if r.get("rate_shrunk") is not None:
            ax.plot([r["rate_shrunk"]], [at], "D", color=WARN, mfc="none", markersize=6)
    ax.set_yticks(places, names, linespacing=0.95)
    ax.set_ylim(0.4, len(rows) + 0.6)
    ax.set_xlim(0, None)
    ax.tick_params(axis="y", length=0)
    ax.set_xlabel("returns per 1000 unit-months, 95 % interval; ◇ drawn towards the fleet", fontsize=8)
    column(ax, places, [f"{count(r['returns'])} return{'' if r['returns'] == 1 else 's'}" for r in rows])
    said = "; ".join(f"{r['id']} {number(r['rate_per_1000_unit_months'], 2)}" for r in rows)
    return finish(drawing, title=f"Rate of returns by {what}", alt=f"Returns per 1000 unit-months by {what}: {said}.")


@drawn
def forecast(report: Mapping[str, Any]) -> Figure | None:
    """Returns expected in the coming months with prediction limits."""
    rows = report.get("forecast") or []
    if not rows:
        return None
    drawing, (ax,) = canvas(FLEET_WIDTH, 1.9)
    at = range(len(rows))
    returns = [r["returns"] for r in rows]
    ax.bar(at, returns, width=0.6, color=GOOD, alpha=0.75)
    reach = [[max(r["returns"] - r["low"], 0) for r in rows], [max(r["high"] - r["returns"], 0) for r in rows]]
    ax.errorbar(at, returns, yerr=reach, fmt="none", ecolor=INK, capsize=3)
    ax.plot(at, [r["failures"] for r in rows], "D", color=WARN, mfc="none")
    turned = 45 if len(rows) > 6 else 0
    ax.set_xticks(list(at), [r["month"] for r in rows], fontsize=8, rotation=turned, ha="right" if turned else "center")
    ax.set_ylabel("returns; ◇ failures", fontsize=8)
    said = "; ".join(f"{r['month']} {fixed(r['returns'], 1)} ({count(r['low'])} to {count(r['high'])})" for r in rows)
    return finish(drawing, title="Returns to expect", alt=f"Returns by month with prediction limits: {said}.")
