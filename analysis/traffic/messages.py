"""Assembled AIS messages -> position reports and what stations say of themselves, read as columns.

Layouts and the codes for "not available" are those of ITU-R M.1371-5, Annex 8. A message of a number without a
position or a name is still counted for its station.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd

from analysis.passage import Bools
from analysis.reading.ais_reports import COARSE, LAYOUTS, read_reports
from analysis.reading.six_bit import Payloads

from .tracks import visits_of

# How late a message may come against the second it names, and how late in the median, or else the log's clock is
# not that of the fixes: judgment.
_LATE_S = (-3.0, 15.0)
_USUALLY_LATE_S = (-1.5, 8.0)

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

    @cached_property
    def visits(self) -> pd.DataFrame:
        """The placed reports of others by station and time, each with the number of its ``visit``."""
        return visits_of(self.reports)


def hear(messages: pd.DataFrame) -> Heard:
    """Decode all assembled messages (``Passage.ais``)."""
    if messages.empty:
        empty = pd.DataFrame(columns=["arrived_s", *_REPORT_COLUMNS])
        statics, counted = pd.DataFrame(columns=_STATIC_COLUMNS), pd.DataFrame(columns=["number", "count"])
        return Heard(empty, statics, pd.DataFrame(columns=["mmsi", "messages", "own"]), counted, 0)
    payloads, sound = Payloads.of(messages["payload"].tolist(), messages["fill_bits"].to_numpy(np.int64))
    number = payloads.unsigned(0, 6)
    needed = np.full(64, 38)
    for one, layout in LAYOUTS.items():
        needed[one] = layout.bits
    needed[[COARSE, 5, 24]] = 94, 270, 160
    sound &= (payloads.bits >= needed[number]) & (number >= 1) & (number <= COARSE)
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
        if one in LAYOUTS or one == COARSE:
            reports.append(said.assign(**read_reports(some, one)))
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
