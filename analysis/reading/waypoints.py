"""Where a log says it is going: destinations, waypoints and routes, each kept when it changes.

Layouts: IEC 61162-1 (RMB, BWC, BWR, BOD, WPL, RTE). In RMB the origin stands before the destination, in BOD behind.
"""

from typing import NamedTuple

import numpy as np

from analysis.passage import Ints
from analysis.reading.decoding import Columns, degrees
from analysis.reading.framing import Frames

_LONGEST_NAME = 24
_MOST_NAMES = 60


class Waypoint(NamedTuple):
    """What one sentence says: its row and formatter, the mark's name and position, and where the leg began.

    For RTE ``names`` lists the marks of the route ``name``, ``part`` is the sentence's number in it.
    """

    row: int
    formatter: str
    name: str
    origin: str
    lat_deg: float
    lon_deg: float
    names: str
    part: int


class _Layout(NamedTuple):
    """Fields: position (the first of four), name, origin, status (void where not A)."""

    position: int | None
    name: int
    origin: int | None = None
    status: int | None = None


_LAYOUTS = {
    "RMB": _Layout(6, 5, 4, 1),
    "BWC": _Layout(2, 12),
    "BWR": _Layout(2, 12),
    "BOD": _Layout(None, 5, 6),
    "WPL": _Layout(1, 5),
    "RTE": _Layout(None, 4),
}
_CYCLED = ("WPL", "RTE")  # sent one after the other, over and over
FORMATTERS = frozenset(_LAYOUTS)


def decode_waypoints(frames: Frames, rows: Ints, formatter: str) -> list[Waypoint]:
    """Read sentences of one formatter; of those in a row that say the same only the first is kept."""
    layout = _LAYOUTS[formatter]
    if layout.status is not None:
        rows = rows[Columns(frames, rows).letter(layout.status) == ord("A")]
    if not rows.size:
        return []
    columns = Columns(frames, rows)
    last = int(frames.commas[rows].max()) if formatter == "RTE" else 0
    position = range(layout.position, layout.position + 4) if layout.position else range(0)
    watched = (*position, layout.name, *((layout.origin,) if layout.origin else ()))
    if formatter == "RTE":
        watched = (1, 2, *range(4, last + 1))
    kept = _news(columns, watched, formatter in _CYCLED)
    lat = lon = np.full(len(rows), np.nan)
    if layout.position is not None:
        start = layout.position
        lat = degrees(columns.lenient(start), columns.letter(start + 1), "S")
        lon = degrees(columns.lenient(start + 2), columns.letter(start + 3), "W")
    found = []
    for at in kept.tolist():
        name = _name(columns, layout.name, at)
        origin = _name(columns, layout.origin, at) if layout.origin else ""
        listed = [_name(columns, k, at) for k in range(5, min(last, _MOST_NAMES) + 1)]
        placed = bool(
            np.isfinite(lat[at]) and np.isfinite(lon[at]) and abs(lat[at]) <= 90 and abs(lon[at]) <= 180
        )
        if not (placed or any(listed) or (layout.position is None and name)):
            continue
        part = columns.lenient(2)[at] if formatter == "RTE" else 0.0
        found.append(
            Waypoint(
                int(rows[at]),
                formatter,
                name,
                origin,
                float(lat[at]) if placed else np.nan,
                float(lon[at]) if placed else np.nan,
                ",".join(one for one in listed if one),
                int(part) if np.isfinite(part) else 0,
            )
        )
    return found


def _news(columns: Columns, fields: tuple[int, ...], cycled: bool) -> Ints:
    """Rows whose fields differ from those of the row before, or where ``cycled`` from those of every row before."""
    mixed: np.ndarray | None = None
    for k in fields:
        begin, end = columns.bounds(k)
        longest = min(int((end - begin).max(initial=0)), _LONGEST_NAME)
        for offset in range(0, max(longest, 1), 8):
            word = columns.word(k, offset)
            mixed = word.copy() if mixed is None else (mixed ^ word) * np.uint64(0x9E3779B97F4A7C15)
            mixed ^= mixed >> np.uint64(29)
    assert mixed is not None
    if cycled:
        return np.sort(np.unique(mixed, return_index=True)[1])
    return np.flatnonzero(np.append(True, mixed[1:] != mixed[:-1]))


def _name(columns: Columns, k: int, row: int) -> str:
    text = columns.text(k, row)[:_LONGEST_NAME]
    return "".join(letter if letter.isprintable() else "?" for letter in text)
