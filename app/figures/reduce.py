"""Fewer points for the same picture: the extremes of every bucket, gaps kept, no stroke across north."""

import base64
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.passage import Floats

BUCKETS = 600
"""Buckets across a strip: about one per pixel of a laptop screen; more only cost drawing time."""
MEANS = 120
"""Means across a strip: few enough that lines drawn over one another can be told apart."""


def packed(values: NDArray[Any]) -> dict[str, str]:
    """Wrap an array of float64 or float32 in the binary form plotly reads."""
    kind = {"float64": "f8", "float32": "f4"}[values.dtype.name]
    return {"dtype": kind, "bdata": base64.b64encode(np.ascontiguousarray(values).tobytes()).decode()}


def extremes(values: Floats, buckets: int = BUCKETS) -> NDArray[np.int64]:
    """Find the indices to draw: lowest and highest of each bucket, and a missing one in every gap.

    ``values`` may hold NaN. All indices come back where there are at most two a bucket; otherwise at most
    four a bucket, in order. Two neighbours never have more than half a bucket missing between them.
    """
    width = -(-len(values) // buckets)
    if width <= 2:
        return np.arange(len(values))
    rows = -(-len(values) // width)
    padded = np.full(rows * width, np.nan)
    padded[: len(values)] = values
    block = padded.reshape(rows, width)
    finite = np.isfinite(block)
    start = np.arange(rows) * width
    seen = finite.any(axis=1)
    low = start + np.where(finite, block, np.inf).argmin(axis=1)
    high = start + np.where(finite, block, -np.inf).argmax(axis=1)
    keep = np.unique(np.concatenate((low[seen], high[seen])))
    missing = np.cumsum(~finite.ravel())
    before = missing[keep[:-1]]
    gaps = 2 * (missing[keep[1:]] - before) > width
    return np.union1d(keep, np.searchsorted(missing, before[gaps] + 1))


def bucket_means(time_ms: Floats, values: Floats, buckets: int = MEANS) -> tuple[Floats, Floats]:
    """Average time and value over even runs of values; NaN where a run is half missing or more."""
    width = -(-len(values) // buckets)
    start = np.arange(0, len(values), width)
    finite = np.isfinite(values)
    seen = np.add.reduceat(finite, start, dtype=np.float64)
    full = np.diff(start, append=len(values))
    with np.errstate(invalid="ignore"):
        mean = np.add.reduceat(np.where(finite, values, 0.0), start) / np.where(2 * seen > full, seen, np.nan)
    return np.add.reduceat(time_ms, start) / full, mean


def bucket_directions(time_ms: Floats, angles_deg: Floats, buckets: int = MEANS) -> tuple[Floats, Floats]:
    """Average time and angle over even runs, as unit vectors; the means are a continuous count of degrees."""
    angle = np.radians(angles_deg)
    times, cosine = bucket_means(time_ms, np.cos(angle), buckets)
    _, sine = bucket_means(time_ms, np.sin(angle), buckets)
    return times, unwrap(np.degrees(np.arctan2(sine, cosine)))


def unwrap(angles_deg: Floats) -> Floats:
    """Turn angles into a continuous count of degrees, each step the shorter way; NaN stays NaN."""
    continuous = angles_deg.copy()
    finite = np.isfinite(angles_deg)
    continuous[finite] = np.unwrap(angles_deg[finite], period=360.0)
    return continuous


def fold(time_ms: Floats, continuous_deg: Floats, seam_deg: float) -> tuple[Floats, Floats]:
    """Fold a continuous angle into [seam, seam + 360), breaking the line where it passes the seam.

    Where neighbours are one turn apart the line runs to the edge and starts again at the other; where they
    are further apart it only breaks.
    """
    turn = np.floor((continuous_deg - seam_deg) / 360.0)
    folded = continuous_deg - 360.0 * turn
    step = np.diff(turn)
    at = np.flatnonzero(np.isfinite(step) & (step != 0))
    if not len(at):
        return time_ms, folded
    edge = seam_deg + 360.0 * np.maximum(turn[at], turn[at + 1])
    rise = continuous_deg[at + 1] - continuous_deg[at]
    when = time_ms[at] + (edge - continuous_deg[at]) / rise * (time_ms[at + 1] - time_ms[at])
    leaving = np.where(step[at] > 0, seam_deg + 360.0, seam_deg)
    arriving = np.where(step[at] > 0, seam_deg, seam_deg + 360.0)
    single = np.abs(step[at]) == 1
    edges = np.stack(
        (np.where(single, leaving, np.nan), np.full(len(at), np.nan), np.where(single, arriving, np.nan))
    )
    places = np.repeat(at + 1, 3)
    return np.insert(time_ms, places, np.repeat(when, 3)), np.insert(folded, places, edges.T.ravel())


def broken_at_jumps(time_ms: Floats, values: Floats, jumps: NDArray[np.int64]) -> tuple[Floats, Floats]:
    """Insert a missing value before every index in ``jumps``, so that no line crosses a hole in the index."""
    return np.insert(time_ms, jumps, time_ms[jumps]), np.insert(values, jumps, np.nan)
