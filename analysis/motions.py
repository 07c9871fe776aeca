"""The boat's motions and the air's on one plane, so that the wind and water triangles can be drawn to scale."""

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from analysis.passage import Floats
from analysis.vectors import east_north_kn, water_track


class Motion(NamedTuple):
    """A velocity by its components [kn], toward; arrays of one length, NaN where it is not known."""

    east_kn: Floats
    north_kn: Floats


class Motions(NamedTuple):
    """Through the water, over the ground, and of the air relative to the boat.

    The other three sides of the triangles follow: the current is ground less water, the true wind over the water
    water plus air, that over the ground ground plus air.
    """

    water: Motion
    ground: Motion
    air: Motion


def motions(columns: Mapping[str, Floats], count: int) -> Motions:
    """Resolve the motions from the columns of a derived frame, each ``count`` long; a missing column is NaN.

    Leeway counts as 0 where it is not known.
    """
    unknown = np.full(count, np.nan)
    heading, stw, sog, cog, awa, aws = (
        columns.get(name, unknown)
        for name in ("heading_true_deg", "stw_kn", "sog_kn", "cog_deg", "awa_deg", "aws_kn")
    )
    leeway = np.nan_to_num(columns.get("leeway_deg", unknown))
    return Motions(
        water=Motion(*east_north_kn(*water_track(stw, heading, leeway))),
        ground=Motion(*east_north_kn(cog, sog)),
        air=Motion(*east_north_kn(heading + awa + 180.0, aws)),
    )


def mean_motions(direction_deg: Floats, speed_kn: Floats, firsts: np.ndarray, lasts: np.ndarray) -> Motion:
    """Average velocities over stretches of rows (first and last of each); NaN where a stretch holds none."""
    east, north = east_north_kn(direction_deg, speed_kn)
    known = np.isfinite(east)
    sums = [
        np.concatenate(([0.0], np.cumsum(np.where(known, part, 0.0)))) for part in (east, north, known * 1.0)
    ]
    east_sum, north_sum, rows = (total[lasts + 1] - total[firsts] for total in sums)
    with np.errstate(invalid="ignore"):
        return Motion(
            np.where(rows > 0, east_sum / np.maximum(rows, 1), np.nan),
            np.where(rows > 0, north_sum / np.maximum(rows, 1), np.nan),
        )
