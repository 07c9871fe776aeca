"""Position reports of AIS, read as columns; layouts and codes are those of ITU-R M.1371-5, Annex 8."""

from typing import Any, NamedTuple

import numpy as np

from analysis.passage import Floats
from analysis.reading.six_bit import Payloads

CLASS_A, CLASS_B, AID, BASE, AIRCRAFT = "A", "B", "aid", "base", "aircraft"
COARSE = 27  # long-range report: fields of its own size
NO_STATUS, NO_SECOND = -1, 60
_MINUTES = 600_000.0  # positions are in 1/10 000 of a minute


class Layout(NamedTuple):
    """Where a position report holds what: first bit of each field, None where it has none."""

    kind: str
    bits: int
    lon: int
    lat: int
    accurate: int
    second: int | None = None
    speed: int | None = None
    course: int | None = None
    heading: int | None = None
    status: int | None = None


_A = Layout(CLASS_A, 143, 61, 89, 60, 137, 50, 116, 128, 38)
_B = Layout(CLASS_B, 139, 57, 85, 56, 133, 46, 112, 124)
LAYOUTS = {
    **dict.fromkeys((1, 2, 3), _A),
    **dict.fromkeys((4, 11), Layout(BASE, 134, 79, 107, 78)),
    9: Layout(AIRCRAFT, 134, 61, 89, 60, 128, 50, 116),
    18: _B,
    19: _B._replace(bits=301),
    21: Layout(AID, 259, 164, 192, 163, 253),
}


def read_reports(some: Payloads, number: int) -> dict[str, Any]:
    """Read position reports of one message number: a column or, where all say the same, a value for each field.

    ``kind, virtual, lat_deg, lon_deg, accurate, sog_kn, cog_deg, heading_deg, second, status, carrier_sense``; NaN,
    NO_SECOND or NO_STATUS where a report does not say.
    """
    if number == COARSE:
        return _coarse(some)
    layout = LAYOUTS[number]
    to_knot = 1 if layout.kind == AIRCRAFT else 10
    return {
        "kind": layout.kind,
        "virtual": some.unsigned(269, 1) == 1 if layout.kind == AID else False,
        "lat_deg": _within(some.signed(layout.lat, 27) / _MINUTES, 90.0),
        "lon_deg": _within(some.signed(layout.lon, 28) / _MINUTES, 180.0),
        "accurate": some.unsigned(layout.accurate, 1) == 1,
        "sog_kn": _field(some, layout.speed, 10, 1022, to_knot),
        "cog_deg": _field(some, layout.course, 12, 3599, 10),
        "heading_deg": _field(some, layout.heading, 9, 359),
        "second": NO_SECOND if layout.second is None else some.unsigned(layout.second, 6),
        "status": NO_STATUS if layout.status is None else some.unsigned(layout.status, 4),
        "carrier_sense": some.unsigned(141, 1) == 1 if number == 18 else True,
    }


def _coarse(some: Payloads) -> dict[str, Any]:
    return {
        "kind": CLASS_A,
        "virtual": False,
        "lat_deg": _within(some.signed(62, 17) / 600.0, 90.0),
        "lon_deg": _within(some.signed(44, 18) / 600.0, 180.0),
        "accurate": False,
        "sog_kn": _field(some, 79, 6, 62),
        "cog_deg": _field(some, 85, 9, 359),
        "heading_deg": np.nan,
        "second": NO_SECOND,
        "status": some.unsigned(40, 4),
        "carrier_sense": True,
    }


def _field(some: Payloads, start: int | None, width: int, most: int, to_unit: int = 1) -> Floats | float:
    if start is None:
        return np.nan
    value = some.unsigned(start, width)
    return np.where(value <= most, value / to_unit, np.nan)


def _within(value: Floats, most: float) -> Floats:
    return np.where(np.abs(value) <= most, value, np.nan)
