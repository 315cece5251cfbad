"""Many result lines → tallies, life, comparison, agreement, forecast.

`report(lines, population)` does it all; `table(lines)` and `read_population(path)` are its two inputs as tables.
"""

from stripdown.fleet.columns import COLUMNS, table
from stripdown.fleet.opened import Opened, opened
from stripdown.fleet.population import Population, read_population
from stripdown.fleet.reporting import FleetReport, report
from stripdown.fleet.reprice import repriced
from stripdown.fleet.selection import first_day, named

__all__ = [
    "COLUMNS",
    "FleetReport",
    "Opened",
    "Population",
    "first_day",
    "named",
    "opened",
    "read_population",
    "report",
    "repriced",
    "table",
]
