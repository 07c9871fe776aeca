"""The coastline: Natural Earth's 1:10m land (public domain), and a cut to the passage's region."""

from dataclasses import dataclass
from io import BytesIO

import numpy as np

from analysis.passage import Floats


@dataclass(frozen=True)
class Region:
    """A rectangle in degrees; ``west`` < ``east``, both may lie beyond 180."""

    west: float
    south: float
    east: float
    north: float


Ring = Floats
"""A closed line, shape (n, 2): longitude, latitude in degrees."""


def unpack(packed: bytes) -> list[Ring]:
    """Read the rings of a packed coastline.

    An npz archive: ``steps`` (2, n) from point to point through all rings, in units of ``scale`` [deg] from
    ``origin`` [deg]; ``lengths``, the number of points of each ring.
    """
    with np.load(BytesIO(packed)) as archive:
        scale, origin = archive["scale"], archive["origin"]
        points = np.cumsum(archive["steps"], axis=1).T * scale + origin
        return np.split(points, np.cumsum(archive["lengths"])[:-1])


def cut(rings: list[Ring], region: Region) -> list[Ring]:
    """Cut rings to a region, trying each also one turn to the west and east.

    Sutherland and Hodgman, "Reentrant polygon clipping", CACM 17(1), 1974: rings may come back with edges
    along the region's border.
    """
    found = []
    for ring in rings:
        low, high = ring.min(axis=0), ring.max(axis=0)
        if high[1] < region.south or low[1] > region.north:
            continue
        for turn in (-360.0, 0.0, 360.0):
            if high[0] + turn < region.west or low[0] + turn > region.east:
                continue
            piece = ring + np.array([turn, 0.0])
            for axis, bound, sign in (
                (0, region.west, 1.0),
                (0, region.east, -1.0),
                (1, region.south, 1.0),
                (1, region.north, -1.0),
            ):
                piece = _clip(piece, axis, bound, sign)
            if len(piece) >= 3:
                found.append(np.concatenate((piece, piece[:1])))
    return found


def _clip(ring: Ring, axis: int, bound: float, sign: float) -> Ring:
    """Keep the part of a ring on one side of a line: ``sign * (coordinate - bound) >= 0``."""
    depth = sign * (ring[:, axis] - bound)
    after, depth_after = np.roll(ring, -1, axis=0), np.roll(depth, -1)
    inside = depth >= 0
    crossing = inside != (depth_after >= 0)
    span = np.where(crossing, depth - depth_after, 1.0)
    meeting = ring + (depth / span)[:, None] * (after - ring)
    both = np.stack((ring, meeting), axis=1).reshape(-1, 2)
    kept: Ring = both[np.stack((inside, crossing), axis=1).ravel()]
    return kept
