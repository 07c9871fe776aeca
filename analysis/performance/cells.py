"""The polar by cells of wind speed and angle: median, upper tenth, how sure, and from how many minutes."""

from dataclasses import dataclass

import numpy as np

from analysis.lasting import SensorErrors
from analysis.passage import Bools, Floats, Ints
from analysis.robust import robust_sd

from .memory import worth
from .minutes import Minutes
from .sensors import moved
from .surface import Surface

TWA_STEP_DEG, TWS_STEP_KN = 10.0, 2.0
FIRST_TWA_DEG = 30.0
UPPER = 0.9
LEAST_MINUTES = 5
TACKS = ("both", "starboard", "port")
# One-sigma of a quantile of normal values over that of their mean: sqrt(q (1 - q)) / density at it.
_MEDIAN, _UPPER = 1.2533, 1.7094
_SHARED_MINUTES = 10  # how much the scatter of the whole passage counts beside a cell's own


@dataclass(frozen=True)
class Cells:
    """Arrays TWA by TWS; NaN where a cell has fewer than five minutes.

    ``median_kn`` and ``upper_kn`` (nine minutes in ten are slower) hold at the middle of the cell, each minute
    carried there along the surface. The one-sigmas are those of sampling, of the carrying and of what the
    instruments may be off by.
    """

    minutes: Ints
    median_kn: Floats
    median_kn_sd: Floats
    upper_kn: Floats
    upper_kn_sd: Floats


@dataclass(frozen=True)
class Grid:
    """The middles of the cells, along both axes."""

    tws_kn: Floats
    twa_deg: Floats

    @property
    def shape(self) -> tuple[int, int]:
        """Angles by winds."""
        return len(self.twa_deg), len(self.tws_kn)

    @property
    def points(self) -> tuple[Floats, Floats]:
        """TWS and TWA of every cell, in the order of the raveled arrays."""
        tws, twa = np.meshgrid(self.tws_kn, self.twa_deg)
        return tws.ravel(), twa.ravel()


def grid_of(minutes: Minutes) -> Grid:
    """Lay cells of 2 kn and 10 deg over all minutes; none is nearer the wind than 30 deg."""
    if not len(minutes.time_s):
        return Grid(np.empty(0), np.empty(0))
    winds = np.round(minutes.tws_kn / TWS_STEP_KN) * TWS_STEP_KN
    tws = np.arange(winds.min(), winds.max() + 1, TWS_STEP_KN)
    angles = np.round(np.abs(minutes.twa_deg) / TWA_STEP_DEG) * TWA_STEP_DEG
    first, last = np.clip((angles.min(), angles.max()), FIRST_TWA_DEG, 180.0)
    return Grid(tws, np.arange(first, last + 1, TWA_STEP_DEG))


def cells_of(minutes: Minutes, surface: Surface, lasting: "Lasting", grid: Grid, tack: Bools) -> Cells:
    """Gather the minutes of one tack, or of both, in cells; ``lasting`` is of the points of the grid."""
    tws, twa = grid.points
    count = np.zeros(len(tws), dtype=np.int64)
    median, median_sd, upper, upper_sd = (np.full(len(tws), np.nan) for _ in range(4))
    angle, number = np.abs(minutes.twa_deg), minutes.number
    basis, middles = surface.basis(minutes.tws_kn, angle), surface.basis(tws, twa)
    row = np.round((angle - grid.twa_deg[0]) / TWA_STEP_DEG).astype(int)
    col = np.round((minutes.tws_kn - grid.tws_kn[0]) / TWS_STEP_KN).astype(int)
    place = np.where(tack & (row >= 0) & (row < grid.shape[0]), row * grid.shape[1] + col, -1)
    for at in np.unique(place[place >= 0]):
        inside = place == at
        count[at] = inside.sum()
        if count[at] < LEAST_MINUTES:
            continue
        carried = minutes.speed_kn[inside] + (middles[at] - basis[inside]) @ surface.coefficients
        median[at], upper[at] = np.quantile(carried, (0.5, UPPER))
        about = robust_sd(carried - median[at])
        share = count[at] / (count[at] + _SHARED_MINUTES)
        scatter = np.sqrt(share * about**2 + (1 - share) * surface.scatter_kn(twa[[at]])[0] ** 2)
        alone = scatter / np.sqrt(worth(number[inside], surface.memory))
        carrying = surface.spread((middles[at] - basis[inside].mean(axis=0))[None])[0]
        beside = np.hypot(carrying, lasting.speed_kn(float(np.mean(minutes.twa_deg[inside] > 0)))[at])
        median_sd[at] = np.hypot(_MEDIAN * alone, beside)
        upper_sd[at] = np.hypot(_UPPER * alone, beside)
    return Cells(
        count.reshape(grid.shape), *(one.reshape(grid.shape) for one in (median, median_sd, upper, upper_sd))
    )


@dataclass(frozen=True)
class Lasting:
    """What errors that last do to points of the polar on either tack: kn, a row for each error."""

    starboard_kn: Floats
    port_kn: Floats

    def speed_kn(self, starboard: float) -> Floats:
        """One-sigma of the speed where that share of the minutes was sailed on starboard tack.

        A turned vane sets the tacks apart and cancels where both are sailed alike.
        """
        together = starboard * self.starboard_kn + (1 - starboard) * self.port_kn
        return np.asarray(np.sqrt((together**2).sum(axis=0)))

    @property
    def gap_kn(self) -> Floats:
        """One-sigma of the speed on starboard tack less that on port."""
        return np.asarray(np.sqrt(((self.starboard_kn - self.port_kn) ** 2).sum(axis=0)))


def lasting_errors(errors: SensorErrors, surface: Surface, tws_kn: Floats, twa_deg: Floats) -> Lasting:
    """How much faster than the surface a boat that sails on it would seem; ``twa_deg`` unsigned."""
    speed = surface.speed_kn(tws_kn, twa_deg)
    by_wind, by_angle = surface.slopes(tws_kn, twa_deg)
    seen = (moved(errors, tws_kn, side * twa_deg, speed) for side in (1.0, -1.0))
    return Lasting(*(to.speed_kn - by_wind * to.tws_kn - by_angle * to.twa_deg for to in seen))
