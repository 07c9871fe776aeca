"""A passage held against a table of speeds: through time, and cell by cell."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from analysis.estimate import SIGMAS_95
from analysis.lasting import SensorErrors
from analysis.passage import Floats
from analysis.polar_table import PolarTable

from .cells import Cells, Grid
from .minutes import Minutes
from .sensors import moved
from .surface import Surface

LEAST_TABLE_KN = 0.5
Speeds = Callable[[Floats, Floats], Floats]
"""Speed [kn] at TWS [kn] and signed TWA [deg]."""


@dataclass(frozen=True)
class Comparison:
    """One cell against the table: the speeds with their one-sigmas [kn]."""

    tws_kn: float
    twa_deg: float
    table_kn: float
    sailed_kn: float
    sailed_kn_sd: float
    minutes: int


@dataclass(frozen=True)
class Against:
    """The passage in per cent of a table's speed.

    ``percent`` and ``percent_sd`` go with the minutes, NaN where the table has no speed; ``imported`` tells a
    table given from the passage's own surface. ``unreachable`` are the cells in which even the best tenth surely
    stays below the table, ``beaten`` those whose median surely lies above. ``mean_percent`` is of the minutes as
    a whole, None where there are none; its one-sigma is that of the errors that last.
    """

    imported: bool
    percent: Floats
    percent_sd: Floats
    mean_percent: float | None
    mean_percent_sd: float | None
    unreachable: tuple[Comparison, ...]
    beaten: tuple[Comparison, ...]


def compare(
    minutes: Minutes,
    surface: Surface,
    errors: SensorErrors,
    grid: Grid,
    cells: Cells,
    table: PolarTable | None,
) -> Against:
    """Hold the minutes and the cells against a table, or the minutes against the passage's own surface.

    The one-sigma of a minute is that of the errors of the instruments, which turn up in wind, angle and speed.
    """

    def expected(tws: Floats, twa: Floats) -> Floats:
        return surface.speed_kn(tws, twa) if table is None else table.speed_at(tws, twa)

    percent, spread = _percent(minutes, errors, expected)
    known = np.isfinite(percent)
    mean = float(percent[known].mean()) if known.any() else None
    sd = float(np.nanmean(spread[known])) if np.isfinite(spread[known]).any() else None
    unreachable, beaten = ((), ()) if table is None else _judged(grid, cells, table)
    return Against(table is not None, percent, spread, mean, sd, unreachable, beaten)


def _percent(minutes: Minutes, errors: SensorErrors, expected: Speeds) -> tuple[Floats, Floats]:
    table_kn = expected(minutes.tws_kn, minutes.twa_deg)
    fit = np.where(table_kn > LEAST_TABLE_KN, table_kn, np.nan)
    percent = 100 * minutes.speed_kn / fit
    to = moved(errors, minutes.tws_kn, minutes.twa_deg, minutes.speed_kn)
    side = np.where(minutes.twa_deg < 0, -1.0, 1.0)
    squares = np.zeros(len(percent))
    for tws, twa, speed in zip(to.tws_kn, to.twa_deg, to.speed_kn, strict=True):
        there = expected(minutes.tws_kn + tws, minutes.twa_deg + side * twa)
        squares += (100 * (minutes.speed_kn + speed) / np.where(there > 0, there, np.nan) - percent) ** 2
    return percent, np.sqrt(squares)


def _judged(
    grid: Grid, cells: Cells, table: PolarTable
) -> tuple[tuple[Comparison, ...], tuple[Comparison, ...]]:
    tws, twa = np.meshgrid(grid.tws_kn, grid.twa_deg)
    sides = [table.speed_at(tws, side * twa) for side in (1.0, -1.0)]
    slower, faster = np.minimum(*sides), np.maximum(*sides)
    too_fast = cells.upper_kn + SIGMAS_95 * cells.upper_kn_sd < slower
    too_slow = cells.median_kn - SIGMAS_95 * cells.median_kn_sd > faster

    def listed(where: np.ndarray, speed: Floats, sd: Floats, table_kn: Floats) -> tuple[Comparison, ...]:
        return tuple(
            Comparison(
                float(tws[at]),
                float(twa[at]),
                float(table_kn[at]),
                float(speed[at]),
                float(sd[at]),
                int(cells.minutes[at]),
            )
            for at in map(tuple, np.argwhere(where))
        )

    return (
        listed(too_fast, cells.upper_kn, cells.upper_kn_sd, slower),
        listed(too_slow, cells.median_kn, cells.median_kn_sd, faster),
    )
