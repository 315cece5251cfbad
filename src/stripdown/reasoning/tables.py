"""Tables of numbers, batch axis last, and sums and quotients that come out the same whatever stands in the batch."""

import numpy as np
from numpy.typing import NDArray

Table = NDArray[np.float64]
_LEAST = 5e-324


def divided(weight: Table, by: Table) -> Table:
    """weight / by of numbers that are not negative; zero where both are zero."""
    return np.asarray(weight / np.maximum(by, _LEAST))


def total(table: Table) -> Table:
    """Sum over all axes but the last, in one order whatever the length of that."""
    rows = np.ascontiguousarray(table).reshape(-1, table.shape[-1])
    # Of a single column numpy would add pairs of neighbours, of several row after row.
    return np.asarray(rows.sum(axis=0) if rows.shape[1] > 1 else np.repeat(rows, 2, axis=1).sum(axis=0)[:1])
