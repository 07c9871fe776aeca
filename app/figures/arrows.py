"""Arrows along the track: true wind and current in the mean of stretches, as far apart as the view asks."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.motions import mean_motions
from analysis.passage import Floats
from analysis.vectors import polar_from_east_north

from .scene import Scene
from .track import Box

ACROSS = 9
"""Arrows across the longer side of a view."""
WINDS = (("twd_ground_deg", "tws_ground_kn"), ("twd_water_deg", "tws_water_kn"))
CURRENT = ("set_deg", "drift_kn")


@dataclass(frozen=True)
class Arrows:
    """Places on the plane [nm] in the middle of stretches; directions [deg] and speeds [kn], NaN where not known."""

    east_nm: Floats
    north_nm: Floats
    wind_deg: Floats
    wind_kn: Floats
    current_deg: Floats
    current_kn: Floats


def wind_of(scene: Scene) -> tuple[str, str] | None:
    """Name the columns of the wind that is drawn: over the ground, else over the water."""
    return next((pair for pair in WINDS if set(pair) <= set(scene.columns)), None)


def arrows_of(scene: Scene, view: Box) -> Arrows:
    """Choose one stretch of the track for each square of a view, the longest, and average over it."""
    assert scene.east_nm is not None and scene.north_nm is not None
    west, south, east, north = view
    side = max(east - west, north - south) / ACROSS
    inside = (scene.east_nm >= west) & (scene.east_nm <= east)
    rows = np.flatnonzero(inside & (scene.north_nm >= south) & (scene.north_nm <= north))
    firsts, lasts = _stretches(
        rows, np.floor(scene.east_nm[rows] / side), np.floor(scene.north_nm[rows] / side)
    )
    middle = rows[np.searchsorted(rows, (firsts + lasts) // 2)] if len(firsts) else firsts
    wind = _means(scene, wind_of(scene), firsts, lasts)
    current = _means(scene, CURRENT if set(CURRENT) <= set(scene.columns) else None, firsts, lasts)
    return Arrows(scene.east_nm[middle], scene.north_nm[middle], *wind, *current)


def _stretches(
    rows: NDArray[np.int64], across: Floats, up: Floats
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Find the first and last row of the longest stay in each square."""
    if not len(rows):
        return rows, rows
    starts = np.flatnonzero(np.r_[True, (np.diff(across) != 0) | (np.diff(up) != 0)])
    ends = np.r_[starts[1:] - 1, len(rows) - 1]
    firsts, lasts = rows[starts], rows[ends]
    order = np.lexsort((firsts - lasts, up[starts], across[starts]))
    squares = np.column_stack((across[starts], up[starts]))[order]
    best = order[np.r_[True, (np.diff(squares, axis=0) != 0).any(axis=1)]]
    return firsts[best], lasts[best]


def _means(
    scene: Scene, pair: tuple[str, str] | None, firsts: NDArray[np.int64], lasts: NDArray[np.int64]
) -> tuple[Floats, Floats]:
    if pair is None:
        return np.full(len(firsts), np.nan), np.full(len(firsts), np.nan)
    direction, speed = (scene.columns[name] for name in pair)
    mean = mean_motions(direction, speed, firsts, lasts)
    return polar_from_east_north(mean.east_kn, mean.north_kn)
