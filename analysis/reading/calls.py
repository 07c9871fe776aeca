"""Distress: DSC and DSE calls and person-overboard sentences, each an event with its position.

Layouts: IEC 61162-1 (DSC, DSE, MOB) and ITU-R M.493 for the position digits of a call, from memory.
"""

from typing import NamedTuple

import numpy as np

from analysis.passage import Ints
from analysis.reading.decoding import Columns, Decoded, degrees
from analysis.reading.framing import Frames

COUNTS = {"DSC": range(9, 12), "DSE": range(6, 40), "MOB": range(13, 15)}
_KINDS = {"DSC": "DSC call", "DSE": "DSC expansion", "MOB": "person overboard"}


class Event(NamedTuple):
    """A mark or call: the sentence's row, what it is, its fields as text, and its position (NaN if none)."""

    row: int
    kind: str
    text: str
    lat_deg: float
    lon_deg: float


def decode_calls(frames: Frames, rows: Ints, formatter: str) -> tuple[Decoded, list[Event]]:
    """Decode distress sentences of one formatter: readings of their position, and the events."""
    decoded = Decoded()
    fits = np.isin(frames.commas[rows], COUNTS[formatter])
    if not fits.all():
        decoded.malformed.append(rows[~fits])
    rows = rows[fits]
    columns = Columns(frames, rows)
    if formatter == "MOB":
        lat = degrees(columns.lenient(7), columns.letter(8), "S")
        lon = degrees(columns.lenient(9), columns.letter(10), "W")
    elif formatter == "DSC":
        places = [_call_position(columns.text(6, row)) for row in range(len(rows))]
        lat, lon = (np.array([place[k] for place in places], dtype=np.float64) for k in (0, 1))
    else:
        lat = lon = np.full(len(rows), np.nan)
    decoded.add(("distress_lat_deg", "deg", ""), rows, lat)
    decoded.add(("distress_lon_deg", "deg", ""), rows, lon)
    events = [
        Event(
            int(row), _KINDS[formatter], frames.span(int(row)).decode("ascii"), float(lat[k]), float(lon[k])
        )
        for k, row in enumerate(rows)
    ]
    return decoded, events


def _call_position(digits: str) -> tuple[float, float]:
    """Position of a call: quadrant (0 NE, 1 NW, 2 SE, 3 SW), ddmm, dddmm; all nines mean unknown."""
    if len(digits) != 10 or not digits.isdigit() or digits == "9" * 10 or digits[0] > "3":
        return np.nan, np.nan
    lat = int(digits[1:3]) + int(digits[3:5]) / 60
    lon = int(digits[5:8]) + int(digits[8:10]) / 60
    return (-lat if digits[0] in "23" else lat), (-lon if digits[0] in "13" else lon)
