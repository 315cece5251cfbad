"""Any figure as plain JSON: numbers of twelve digits, dates as ISO text, null where there is none."""

import math
from collections.abc import Mapping
from datetime import date
from typing import Any

import numpy as np


def plain(value: Any) -> Any:
    """The value with nothing but dict, list, str, int, float, bool and None inside."""
    if value is None or isinstance(value, str | bool):
        return value
    if isinstance(value, Mapping):
        return {str(k): plain(v) for k, v in value.items()}
    if isinstance(value, list | tuple | np.ndarray):
        return [plain(v) for v in value]
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, int | np.integer):
        return int(value)
    number = float(value)
    return float(f"{number:.12g}") if math.isfinite(number) else None
