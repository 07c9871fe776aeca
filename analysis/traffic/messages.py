"""Assembled AIS messages -> position reports and what stations say of themselves, read as columns.

Layouts and the codes for "not available" are those of ITU-R M.1371-5, Annex 8. A message of a number without a
position or a name is still counted for its station.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import pandas as pd

from analysis.passage import Bools, Floats
from analysis.reading.six_bit import Payloads

_MINUTES = 600_000.0  # positions are in 1/10 000 of a minute
# How late a message may come against the second it names, and how late in the median, or else the log's clock is
# not that of the fixes: judgment.
_LATE_S = (-3.0, 15.0)
_USUALLY_LATE_S = (-1.5, 8.0)
CLASS_A, CLASS_B, AID, BASE, AIRCRAFT = "A", "B", "aid", "base", "aircraft"


class _Layout(NamedTuple):
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


_A = _Layout(CLASS_A, 143, 61, 89, 60, 137, 50, 116, 128, 38)
_B = _Layout(CLASS_B, 139, 57, 85, 56, 133, 46, 112, 124)
_LAYOUTS = {
    **dict.fromkeys((1, 2, 3), _A),
    **dict.fromkeys((4, 11), _Layout(BASE, 134, 79, 107, 78)),
    9: _Layout(AIRCRAFT, 134, 61, 89, 60, 128, 50, 116),
    18: _B,
    19: _B._replace(bits=301),
    21: _Layout(AID, 259, 164, 192, 163, 253),
}
_COARSE = 27  # long-range report: fields of its own size
_DIMENSIONS = {5: 240, 19: 271, 21: 219, 24: 132}
_NAMES = {5: 112, 19: 143, 21: 43, 24: 40}
_TYPES = {5: (232, 8), 19: (263, 8), 21: (38, 5), 24: (40, 8)}
_CALL_SIGNS = {5: 70, 24: 90}
_REPORT_COLUMNS = [
    *("time_s", "own", "sent", "mmsi", "number", "kind", "repeated", "virtual", "lat_deg", "lon_deg"),
    *("accurate", "sog_kn", "cog_deg", "heading_deg", "second", "status", "carrier_sense"),
]
_STATIC_COLUMNS = [
    *("time_s", "own", "mmsi", "number", "name", "call_sign", "type", "imo"),
    *("bow_m", "stern_m", "port_m", "starboard_m"),
]


@dataclass(frozen=True)
class Heard:
    """What was heard. ``reports`` are position reports in the order of time, ``statics`` names and sizes,
    ``numbers`` how many messages there are of each number, ``unreadable`` those that are no valid message.

    ``reports``: ``time_s`` is that of the fix where the report names a second that fits, ``arrived_s`` that of
    the log; ``sent`` says that the log names the radio channel. NaN, -1 or "" where a message does not say.
    """

    reports: pd.DataFrame
    statics: pd.DataFrame
    stations: pd.DataFrame
    numbers: pd.DataFrame
    unreadable: int


def hear(messages: pd.DataFrame) -> Heard:
    """Decode all assembled messages (``Passage.ais``)."""
    if messages.empty:
        empty = pd.DataFrame(columns=["arrived_s", *_REPORT_COLUMNS])
        statics, counted = pd.DataFrame(columns=_STATIC_COLUMNS), pd.DataFrame(columns=["number", "count"])
        return Heard(empty, statics, pd.DataFrame(columns=["mmsi", "messages", "own"]), counted, 0)
    payloads, sound = Payloads.of(messages["payload"].tolist(), messages["fill_bits"].to_numpy(np.int64))
    number = payloads.unsigned(0, 6)
    needed = np.full(64, 38)
    for one, layout in _LAYOUTS.items():
        needed[one] = layout.bits
    needed[[_COARSE, 5, 24]] = 94, 270, 160
    sound &= (payloads.bits >= needed[number]) & (number >= 1) & (number <= _COARSE)
    base = pd.DataFrame(
        {
            "arrived_s": messages["time_s"].to_numpy(np.float64),
            "own": messages["own"].to_numpy(bool),
            "sent": messages["channel"].isin(["A", "B", "1", "2"]).to_numpy(),
            "mmsi": payloads.unsigned(8, 30),
            "number": number,
            "repeated": payloads.unsigned(6, 2) > 0,
        }
    )
    reports: list[pd.DataFrame] = []
    names: list[pd.DataFrame] = []
    for one in np.unique(number[sound]).tolist():
        rows = np.flatnonzero(sound & (number == one))
        some, said = payloads.where(rows), base.iloc[rows].reset_index(drop=True)
        if one in _LAYOUTS:
            reports.append(_positions(some, said, one, _LAYOUTS[one]))
        elif one == _COARSE:
            reports.append(_coarse(some, said))
        if one in _NAMES:
            names.append(_statics(some, said, one))
    heard = base[sound]
    numbers = heard.groupby("number").size().reset_index(name="count")
    stations = heard.groupby("mmsi").agg(messages=("number", "size"), own=("own", "max")).reset_index()
    return Heard(
        _dated(reports),
        _in_time(names, _STATIC_COLUMNS),
        stations,
        numbers,
        int((~sound).sum()),
    )


def _in_time(tables: list[pd.DataFrame], columns: list[str]) -> pd.DataFrame:
    if not tables:
        return pd.DataFrame(columns=columns)
    return pd.concat(tables)[columns].sort_values("time_s", kind="stable").reset_index(drop=True)


def _dated(reports: list[pd.DataFrame]) -> pd.DataFrame:
    """Give reports the time of their fix: the second it names, where the log's clock agrees with these."""
    if not reports:
        return pd.DataFrame(columns=["arrived_s", *_REPORT_COLUMNS])
    joined = pd.concat(reports)
    arrived, second = joined["arrived_s"].to_numpy(), joined["second"].to_numpy()
    late = np.mod(arrived - second + 30.0, 60.0) - 30.0
    named = (second < 60) & np.isfinite(late)
    usual = float(np.median(late[named])) if named.any() else np.nan
    near = named & (late >= _LATE_S[0]) & (late <= _LATE_S[1])
    near &= _USUALLY_LATE_S[0] <= usual <= _USUALLY_LATE_S[1]
    joined["second"] = np.where(near, second, -1)
    joined["time_s"] = np.where(near, arrived - late, arrived)
    return _in_time([joined], ["arrived_s", *_REPORT_COLUMNS])


def _positions(some: Payloads, said: pd.DataFrame, number: int, layout: _Layout) -> pd.DataFrame:
    second = np.full(len(said), 60) if layout.second is None else some.unsigned(layout.second, 6)
    step = 1.0 if layout.kind == AIRCRAFT else 0.1
    return said.assign(
        kind=layout.kind,
        virtual=some.unsigned(269, 1) == 1 if layout.kind == AID else False,
        lat_deg=_within(some.signed(layout.lat, 27) / _MINUTES, 90.0),
        lon_deg=_within(some.signed(layout.lon, 28) / _MINUTES, 180.0),
        accurate=some.unsigned(layout.accurate, 1) == 1,
        sog_kn=_field(some, layout.speed, 10, 1022, step),
        cog_deg=_field(some, layout.course, 12, 3599, 0.1),
        heading_deg=_field(some, layout.heading, 9, 359, 1.0),
        second=second,
        status=-1 if layout.status is None else some.unsigned(layout.status, 4),
        carrier_sense=some.unsigned(141, 1) == 1 if number == 18 else True,
    )


def _coarse(some: Payloads, said: pd.DataFrame) -> pd.DataFrame:
    return said.assign(
        kind=CLASS_A,
        virtual=False,
        lat_deg=_within(some.signed(62, 17) / 600.0, 90.0),
        lon_deg=_within(some.signed(44, 18) / 600.0, 180.0),
        accurate=False,
        sog_kn=_field(some, 79, 6, 62, 1.0),
        cog_deg=_field(some, 85, 9, 359, 1.0),
        heading_deg=np.nan,
        second=60,
        status=some.unsigned(40, 4),
        carrier_sense=True,
    )


def _statics(some: Payloads, said: pd.DataFrame, number: int) -> pd.DataFrame:
    """Names and sizes; message 24 says the name in its part A, the rest in part B."""
    part = some.unsigned(38, 2) if number == 24 else np.zeros(len(said), np.int64)
    named = part == 0
    rest = ~named if number == 24 else named
    tender = (said["mmsi"].to_numpy() // 10_000_000 == 98) & (number == 24)
    first = _DIMENSIONS[number]
    sizes = {
        name: np.where(rest & ~tender, some.unsigned(first + at, width), 0)
        for name, at, width in (
            ("bow_m", 0, 9),
            ("stern_m", 9, 9),
            ("port_m", 18, 6),
            ("starboard_m", 24, 6),
        )
    }
    call_sign = _CALL_SIGNS.get(number)
    return said.assign(
        time_s=said["arrived_s"],
        name=_chosen(some.text(_NAMES[number], 20), named),
        call_sign="" if call_sign is None else _chosen(some.text(call_sign, 7), rest),
        type=np.where(rest, some.unsigned(*_TYPES[number]), 0),
        imo=some.unsigned(40, 30) if number == 5 else 0,
        **sizes,
    )


def _chosen(words: list[str], rows: Bools) -> list[str]:
    return [word if row else "" for word, row in zip(words, rows.tolist(), strict=True)]


def _field(some: Payloads, start: int | None, width: int, most: int, step: float) -> Floats:
    if start is None:
        return np.full(len(some.bits), np.nan)
    value = some.unsigned(start, width)
    return np.where(value <= most, value * step, np.nan)


def _within(value: Floats, most: float) -> Floats:
    return np.where(np.abs(value) <= most, value, np.nan)
