"""A fleet report put together by hand in the shape of `fleet --json`; the values are invented."""

from typing import Any

from stripdown import vocabulary

FIRST = [("floodback", 41, 43.2), ("no_fault", 50, 51.1), ("oil_starvation", 22, 24.8), ("single_phasing", 9, 9.9)]


def _share(count: int, expected: float, n: int = 212) -> dict[str, Any]:
    share = expected / n
    return {"count": count, "expected": expected, "share": share, "low": 0.75 * share, "high": 1.3 * share}


def _ends(share: float) -> dict[str, float]:
    return {"share": share, "low": 0.75 * share, "high": 1.3 * share + 0.01}


def _group(name: str, returns: int, rate: float | None) -> dict[str, Any]:
    row: dict[str, Any] = {"id": name, "returns": returns, "rate_per_1000_unit_months": rate}
    if rate is not None:
        row |= {"unit_months": 1000.0, "rate_low": 0.8 * rate, "rate_high": 1.3 * rate, "rate_shrunk": 0.95 * rate}
    row["first"] = [
        {"id": "floodback", "shrunk": 0.22} | _share(9, 10.0),
        {"id": "no_fault", "shrunk": 0.2} | _share(8, 9.0),
    ]
    return row


def _curve(model: str, shape: float, scale: float) -> dict[str, Any]:
    from math import exp

    days = [float(d) for d in range(0, 2200, 60)]
    good = [exp(-((d / scale) ** shape)) for d in days]
    return {
        "model": model,
        "days": days,
        "survival": good,
        "low": [max(s - 0.03, 0.0) for s in good],
        "high": [min(s + 0.03, 1.0) for s in good],
        "at_risk": [1000.0] * len(days),
        "watched_days": 2200.0,
    }


def _life(model: str, failures: int, shape: float, scale: float) -> dict[str, Any]:
    def around(v: float) -> dict[str, float]:
        return {"value": v, "low": 0.85 * v, "high": 1.2 * v}

    return {
        "model": model,
        "failures": failures,
        "running": 1410,
        "removed_good": 3.0,
        "shape": around(shape),
        "scale": around(scale),
        "b10": around(1100.0),
        "unit": "day",
        "method": "Weibull, likelihood ratio, 95 %",
    }


def report() -> dict[str, Any]:
    """A report with every section filled."""
    first = sorted(({"id": i} | _share(c, e) for i, c, e in FIRST), key=lambda r: -r["expected"])
    dims = ("duty", "refrigerant", "opened_before", "build_month")
    return {
        "returns": 212,
        "rejected": 1,
        "undecided": 14,
        "period": ["2019-03-02", "2026-01-29"],
        "until": "2026-01-29",
        "first": first,
        "causes": [{"id": "low_load"} | _share(30, 27.9), {"id": "liquid_overfeed"} | _share(21, 22.2)],
        "parts": [{"id": "main_bearing", "count": 38, "share": 0.18, "low": 0.13, "high": 0.24}],
        "no_fault": {"share": 0.24, "low": 0.18, "high": 0.31},
        "avoidable": {
            "return": {"share": 0.36, "low": 0.30, "high": 0.43},
            "failure": {"share": 0.5, "low": 0.4, "high": 0.6},
        },
        "by": {
            "model": [_group("K4-150", 120, 1.4), _group("K6-220", 92, 2.3)],
            "site": [_group("north packing shed", 30, 3.1), _group("<b>pier 4</b>", 4, 0.7)],
            "contractor": [_group("crew 7", 25, None)],
            **{d: [] for d in dims},
        },
        "life": [_life("K4-150", 88, 2.1, 3210.0), _life("K6-220", 61, 0.7, 5100.0)],
        "kaplan_meier": [_curve("K4-150", 2.1, 3210.0), _curve("K6-220", 0.7, 5100.0)],
        "incidence": [
            {"model": m, "mechanism": i, "at_days": [365, 730, 1095], "value": v, "low": v, "high": v}
            for m in ("K4-150", "K6-220")
            for i, v in (("floodback", [0.01, 0.025, 0.05]), ("oil_starvation", [0.02, 0.022, 0.023]))
        ],
        "trend": [
            {"what": "floodback share by half-year", "direction": "rising", "p": 0.004, "p_adjusted": 0.03}
            | {"change": 0.021, "low": 0.007, "high": 0.035, "unit": "share a year", "returns": 1204},
            {"what": "failures at equal age by the year", "direction": "falling", "p": 0.31, "p_adjusted": 0.62}
            | {"change": 0.934, "low": 0.82, "high": None, "unit": "times a year", "returns": 149.4},
        ],
        "alike": 1204,
        "comparisons": [
            {
                "what": "contractor crew 7 against the rest",
                "ratio": 2.4,
                "low": 1.3,
                "high": 4.1,
                "p": 0.002,
                "p_adjusted": 0.02,
                "dimension": "contractor",
                "observed": 12.0,
                "expected": 5.0,
            },
            {
                "what": "replacements against first units",
                "ratio": 1.9,
                "low": 1.1,
                "high": 3.0,
                "p": 0.01,
                "p_adjusted": 0.06,
                "dimension": "kind",
                "observed": 9.0,
                "expected": 4.7,
            },
            {
                "what": "after 2024-06-01 against before",
                "ratio": 0.6,
                "low": 0.4,
                "high": 0.9,
                "p": 0.01,
                "p_adjusted": 0.06,
                "dimension": "date",
                "observed": 20.0,
                "expected": 33.0,
            },
            {
                "what": "site pier 4 against the rest",
                "ratio": 0.0,
                "low": 0.0,
                "high": 60.0,
                "p": 1.0,
                "p_adjusted": None,
                "dimension": "site",
                "observed": 0.0,
                "expected": 0.1,
            },
            {
                "what": "site quiet against the rest",
                "ratio": None,
                "low": None,
                "high": None,
                "p": 1.0,
                "p_adjusted": None,
                "dimension": "site",
                "observed": 0.0,
                "expected": None,
            },
        ],
        "alerts": [
            {
                "kind": "build_month",
                "model": "K6-220",
                "id": "2021-06",
                "text": "Units of K6-220 built in 2021-06 came back more often than others of their age.",
                "observed": 31,
                "expected": 6.2,
                "p": 1e-10,
                "p_adjusted": 1e-8,
                "shared": 4.0,
                "also_in": ["site north packing shed"],
                "others_observed": 27.0,
                "others_expected": 5.9,
            }
        ],
        "forecast": [
            {
                "month": f"2026-{m:02d}",
                "failures": 5.4 + m / 10,
                "returns": 7.1 + m / 10,
                "low": 3,
                "high": 12,
                "failures_low": 2,
                "failures_high": 10,
            }
            for m in range(2, 8)
        ],
        "agreement": {
            "records": 40,
            "first": {"kappa": 0.81, "low": 0.66, "high": 0.93},
            "analysts": {"records": 12, "kappa": 0.7, "low": 0.4, "high": 0.95},
            "disagree": [{"person": "floodback", "program": "oil_starvation", "records": 3}],
            "calibration": [
                {"from": 0.9, "to": 0.95, "records": 20, "said": 0.93, "right": 0.9, "low": 0.7, "high": 0.97}
            ],
        },
        "costs": {
            "total": 412000.0,
            "avoidable": 151000.0,
            "avoidable_failure": 203000.0,
            "priced": 200,
            "avoidable_share": {"share": 0.37, "low": 0.31, "high": 0.43},
            "avoidable_failure_share": {"share": 0.49, "low": 0.42, "high": 0.56},
            "currency": "EUR",
            "coming": {
                "months": 6,
                "returns": 66.6,
                "returns_low": 48,
                "returns_high": 87,
                "total": 137196.0,
                "total_low": 96110.0,
                "total_high": 181200.0,
                "each": 2060.0,
            },
            "by_outcome": [{"id": "replace_compressor", "returns": 80, "total": 300000.0}],
        },
        "flow": [
            {"first": "floodback", "last": "winding", "expected": 18.2},
            {"first": "floodback", "last": "running gear", "expected": 22.1},
            {"first": "no_fault", "last": "nothing damaged", "expected": 50.0},
            {"first": "oil_starvation", "last": "running gear", "expected": 20.4},
            {"first": "single_phasing", "last": "winding", "expected": 9.0},
        ],
        "quality": {
            "records": 212,
            "with_parts_looked_at": 200,
            "with_readings": 180,
            "readings": 1400,
            "readings_open": 90,
            "with_instruments": 110,
            "with_examiner": 205,
            "looked_at": [
                {"group": "oil", "title": "oil", "side": "machine", "records": 40} | _ends(40 / 212),
                {"group": "terminals", "title": "terminal box and plate", "side": "machine", "records": 0} | _ends(0.0),
            ],
            "years": [{"year": 2025, "records": 90, "with_instruments": 60, "readings_each": 6.5, "groups_each": 4.2}],
        },
        "next_checks": {
            "records": 14,
            "checks": [
                {"id": "oil_screen.blocked", "missing": 9, "gain_bits": 0.21, "minutes": 10, "bits_per_minute": 0.021}
            ],
        },
        "electrical": {"records": 27, "first": [{"id": "floodback"} | _share(15, 18.2, 27)]},
        "chosen": {"model": ["K4-150", "K6-220"], "change": "2024-06-01"},
        "looks": 230,
        "looks_too_small": 12,
        "months": [
            {
                "month": f"2025-{m:02d}",
                "failures": f,
                "expected": 3.0,
                "low": 0.0,
                "high": 8.2,
                "outside": f > 8.2,
                "unit_months": 1500.0,
                "rate_per_1000_unit_months": f / 1.5,
            }
            for m, f in ((10, 2.0), (11, 4.0), (12, 9.0))
        ],
        "repeats": [
            {
                "id": "north packing shed",
                "model": "K4-150",
                "serials": ["S-1", "S-2", "S-3"],
                "observed": 2.0,
                "expected": 0.08,
                "p": 0.04,
                "p_adjusted": 0.21,
                "first": ["floodback", "floodback"],
                "text": "…",
            }
        ],
        "notices": [
            {"file": "units.csv", "entry": "", "what": "units removed without a record: 12", "fix": "count as good"}
        ],
        "methods": {"share": "Wilson, 95 %", "expected": "records resampled, 95 %"},
        "knowledge": "sha256:" + "4f" * 32,
        "version": "0.1.0",
    }


def large() -> dict[str, Any]:
    """A report with as many rows in each figure and table as they take."""
    mechanisms = list(vocabulary.mechanisms())[:14]
    models = [f"K4-{i}" for i in range(100, 106)]
    first = [{"id": m} | _share(14 - i, 20.0 - i) for i, m in enumerate(mechanisms)]
    months = [f"2021-{m:02d}" for m in range(1, 13)]
    return report() | {
        "first": first,
        "causes": [{"id": c} | _share(14 - i, 20.0 - i) for i, c in enumerate(list(vocabulary.causes())[:14])],
        "parts": [
            {"id": p, "count": 38, "share": 0.18, "low": 0.13, "high": 0.24} for p in list(vocabulary.parts())[:12]
        ],
        "electrical": {"records": 27, "first": first},
        "flow": [{"first": m, "last": "winding", "expected": 18.2} for m in mechanisms],
        "life": [_life(m, f, 2.1, 3210.0) | {"failures": f} for m, f in zip(models, _FAILURES, strict=True)],
        "kaplan_meier": [_curve(m, 2.1, 3210.0) for m in models],
        "incidence": [
            {"model": m, "mechanism": i, "at_days": [365, 730, 1095], "value": v, "low": v, "high": v}
            for m in models
            for i in mechanisms[:4]
            for v in ([0.01, 0.025, 0.05],)
        ],
        "by": {d: [_group(n, 30, 3.1) for n in names] for d, names in (("model", models), ("build_month", months))},
    }


_FAILURES = (88, 6, 5.35, 4.08, 0.629, 0.278)


def empty() -> dict[str, Any]:
    """A report on no return at all."""
    full = report()
    lists = (
        "period",
        "first",
        "causes",
        "parts",
        "life",
        "kaplan_meier",
        "incidence",
        "trend",
        "comparisons",
        "alerts",
    )
    return (
        full
        | {k: [] for k in (*lists, "forecast", "flow", "notices", "months", "repeats")}
        | {"chosen": {}, "electrical": {"records": 0, "first": []}, "next_checks": {"records": 0, "checks": []}}
        | {"looks": 0, "looks_too_small": 0, "alike": 0}
        | {"returns": 0, "undecided": 0, "rejected": 0, "until": None, "no_fault": None, "quality": {}, "agreement": {}}
        | {"avoidable": {"return": None, "failure": None}, "by": {k: [] for k in full["by"]}, "knowledge": None}
        | {"costs": {"total": 0.0, "avoidable": 0.0, "currency": None}}
    )
