"""The polar of a passage, put together."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd

from analysis.estimate import SIGMAS_95, Estimate
from analysis.lasting import SensorErrors, sensor_errors
from analysis.manoeuvres import Manoeuvres
from analysis.passage import NO_ROWS, Bools, Floats
from analysis.polar_table import PolarTable

from .against import Against, compare
from .asked import PolarAsked
from .asymmetry import Tacks, tacks_of
from .best import BestAngle, best_angles
from .cells import TACKS, Cells, Grid, cells_of, grid_of, lasting_errors
from .minutes import NEEDED, Minutes, find_minutes, sailed
from .surface import LEAST_MINUTES, Surface, fit_surface

FINE_DEG = 5.0
SURE_SHARE, SURE_KN = 0.1, 0.3
"""The smooth speed is told where its 95 % lies within a tenth of it, or within this (judgment)."""
_SHOWN = {"stw_kn": "speed through the water", "awa_deg": "apparent wind", "heading_true_deg": "heading"}


@dataclass(frozen=True)
class Sailed:
    """What steady minutes make, each part worked out when it is first looked at; ``imported`` is a table given."""

    minutes: Minutes
    errors: SensorErrors
    surface: Surface
    imported: PolarTable | None = None

    @cached_property
    def grid(self) -> Grid:
        """The middles of the cells."""
        return grid_of(self.minutes)

    @cached_property
    def cells(self) -> Mapping[str, Cells]:
        """Cells of the grid by tack, the keys of ``TACKS``."""
        minutes = self.minutes
        tacks = {
            "both": np.ones(len(minutes.time_s), dtype=bool),
            "starboard": minutes.twa_deg > 0,
            "port": minutes.twa_deg < 0,
        }
        lasting = lasting_errors(self.errors, self.surface, *self.grid.points)
        return {tack: cells_of(minutes, self.surface, lasting, self.grid, tacks[tack]) for tack in TACKS}

    @cached_property
    def smooth(self) -> "Smooth":
        """The smooth speed every 5 deg."""
        return self.smooth_every(FINE_DEG)

    def smooth_every(self, step_deg: float) -> "Smooth":
        """The surface at angles so far apart, told where it is sure and minutes lie about."""
        angles = self.grid.twa_deg
        first, last = angles[0] - FINE_DEG, min(angles[-1] + FINE_DEG, 180.0)
        grid = Grid(self.grid.tws_kn, np.arange(first, last + step_deg / 2, step_deg))
        tws, twa = grid.points
        speed, sampling = self.surface.speed_kn(tws, twa), self.surface.sd_kn(tws, twa)
        starboard = float(np.mean(self.minutes.twa_deg > 0))
        lasting = lasting_errors(self.errors, self.surface, tws, twa).speed_kn(starboard)
        sure = SIGMAS_95 * sampling <= np.maximum(SURE_KN, SURE_SHARE * speed)
        told = sure & sailed(self.minutes, tws, twa)
        return Smooth(
            grid,
            np.where(told, speed, np.nan).reshape(grid.shape),
            np.where(told, np.hypot(sampling, lasting), np.nan).reshape(grid.shape),
        )

    @cached_property
    def best(self) -> tuple[BestAngle, ...]:
        """The best angles up and down wind at each wind speed of the grid."""
        return best_angles(self.minutes, self.surface, self.errors, self.grid.tws_kn)

    @cached_property
    def tacks(self) -> tuple[Tacks, ...]:
        """One tack against the other on each point of sail that both were sailed on."""
        return tacks_of(self.minutes, self.surface, self.errors)

    @cached_property
    def against(self) -> Against:
        """The passage against the table given, or against its own surface."""
        return compare(self.minutes, self.surface, self.errors, self.grid, self.cells["both"], self.imported)


@dataclass(frozen=True)
class Smooth:
    """Smooth speed [kn] by angle and wind with its one-sigma; NaN where it is not sure enough to be told."""

    grid: Grid
    speed_kn: Floats
    speed_kn_sd: Floats

    @property
    def table(self) -> PolarTable:
        """The same as a table, from the first to the last angle and wind of which something is told."""
        known = np.isfinite(self.speed_kn)
        if not known.any():
            return PolarTable(np.empty(0), np.empty(0), np.empty((0, 0)))
        rows, cols = (
            slice(told[0], told[-1] + 1) for told in (np.flatnonzero(known.any(axis=axis)) for axis in (1, 0))
        )
        return PolarTable(self.grid.twa_deg[rows], self.grid.tws_kn[cols], self.speed_kn[rows, cols])


@dataclass(frozen=True)
class Polar:
    """The polar of a passage; ``sailed`` is None where the log does not show one, and ``why`` says why not."""

    minutes: Minutes
    errors: SensorErrors
    sailed: Sailed | None
    why: str


def sailed_polar(
    frame: pd.DataFrame,
    manoeuvres: Manoeuvres,
    estimates: Mapping[str, Estimate],
    asked: PolarAsked | None = None,
    running: Bools | None = None,
) -> Polar:
    """Work out the polar from a corrected and derived frame; ``estimates`` say how well it is corrected.

    ``running`` tells of its rows whether an engine turned.
    """
    minutes = find_minutes(frame, manoeuvres, running)
    errors = sensor_errors(estimates, "leeway_deg" in frame)
    surface = fit_surface(minutes)
    if surface is None:
        few = f"{len(minutes.time_s)} minutes of steady sailing are recorded; a polar takes {LEAST_MINUTES} at least"
        return Polar(minutes, errors, None, _lacking(frame) or few)
    return Polar(minutes, errors, Sailed(minutes, errors, surface, asked.table if asked else None), "")


def _lacking(frame: pd.DataFrame) -> str:
    """Name what the log would need to have for a polar; empty where it has it."""
    if set(NEEDED) <= set(frame):
        return ""
    if not len(frame):
        return NO_ROWS
    missing = [name for channel, name in _SHOWN.items() if channel not in frame]
    return f"the recording has no {', no '.join(missing)}" if missing else "the recording has no true wind"
