"""The coastline: a small decoder of TopoJSON and a cut to the passage's region.

The data is Natural Earth's 1:10m land (public domain) in the TopoJSON form of the world-atlas package.
Format: TopoJSON specification 1, sections 2.1.4 (arcs), 2.1.2 (transform) and 2.2 (geometries).
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
import orjson

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


def decode(topojson: bytes, name: str = "land") -> list[Ring]:
    """Decode the outer rings of all polygons of one object of a quantised TopoJSON topology."""
    topology = orjson.loads(topojson)
    scale, translate = topology["transform"]["scale"], topology["transform"]["translate"]
    arcs = [
        np.cumsum(np.array(arc, dtype=np.float64), axis=0) * scale + translate for arc in topology["arcs"]
    ]

    def ring(references: list[int]) -> Ring:
        parts = [arcs[at] if at >= 0 else arcs[~at][::-1] for at in references]
        return np.concatenate([parts[0], *(part[1:] for part in parts[1:])])

    def rings(geometry: dict[str, Any]) -> list[Ring]:
        if geometry["type"] == "GeometryCollection":
            return [found for inner in geometry["geometries"] for found in rings(inner)]
        polygons = geometry["arcs"] if geometry["type"] == "MultiPolygon" else [geometry["arcs"]]
        return [ring(polygon[0]) for polygon in polygons]

    return rings(topology["objects"][name])


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
