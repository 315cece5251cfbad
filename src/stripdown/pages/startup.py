"""The start-up list (`startup.toml`), its figures those of the class's limit sheet."""

import tomllib
from functools import cache
from pathlib import Path
from typing import Any

from stripdown.limits import load_sheets

_MICRON = 0.1333224
"""Pa of a micron of mercury (conventional millimetre of mercury: 133.3224 Pa, ISO 80000-4)."""


@cache
def startup() -> dict[str, Any]:
    """`caution`, and of each `step` text, source and, where it has one, its caution."""
    raw = tomllib.loads(Path(__file__).with_suffix(".toml").read_text(encoding="utf-8"))
    words = _figures()
    return raw | {"step": [step | {"text": step["text"].format_map(words)} for step in raw["step"]]}


def _figures() -> dict[str, str]:
    """Name in the list → the limit in words, both systems of units."""
    superheat, sump, gas = _limit("suction_superheat"), _limit("sump_margin"), _limit("discharge_temperature", "high")
    vacuum = 1000 * _limit("evacuation", "high")  # kPa → Pa
    return {
        "evacuation": f"{round(vacuum / _MICRON, -1):.0f} micron ({vacuum:g} Pa)",
        "supply_voltage": f"{_limit('supply_voltage'):g}–{_limit('supply_voltage', 'high'):g} %",
        "supply_unbalance": f"{_limit('supply_unbalance', 'high', 'notice'):g} %",
        "supply_unbalance_never": f"{_limit('supply_unbalance', 'high', 'danger'):g} %",
        "current_unbalance": f"{_limit('current_unbalance', 'high'):g} %",
        "sump_margin": f"{sump:g} K ({1.8 * sump:.0f} °F)",
        "suction_superheat": f"{superheat:g} K ({1.8 * superheat:.0f} °F)",
        "discharge_temperature": f"{gas:g} °C ({1.8 * gas + 32:.0f} °F)",
        "oil_acid": f"{_limit('oil_acid', 'high', 'notice'):g} mg KOH/g",
    }


def _limit(rule: str, side: str = "low", tier: str = "limit") -> float:
    """A number of the class's sheet, in the base unit of its rule."""
    limit = load_sheets().for_model("").limit(rule)
    assert limit is not None
    return float(next(getattr(t, side) for t in limit.tiers if t.name == tier))
