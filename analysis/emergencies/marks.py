"""What an emergency is made of: a mark or call, where it lay, and what the user may mark."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import pandas as pd

from analysis.passage import column, nearest_fixes, seconds_of

Adrift = Literal["person", "craft"]
DAY_S = 86400.0
AT_ONCE_S = 10.0
GNSS_SD_NM = 5 / 1852  # GPS SPS performance standard: 95 % within 9 m, from memory
REACTION_S = 5.0  # judgement: between the fall and the mark


@dataclass(frozen=True)
class Fix:
    """A position at a time [s since 1970-01-01 UTC], with the one-sigma of north and of east [nm].

    It was taken at that time, or, where it is not ``timed``, at one that is not known and no later.
    """

    time_s: float
    lat_deg: float
    lon_deg: float
    sd_nm: float
    timed: bool = True


@dataclass(frozen=True)
class Mark:
    """A mark or call. ``who`` is the identity it came from, "" where it has none; ``what`` says it in words.

    ``alert`` says that somebody is, or may be, in distress; a ``test`` is none. ``adrift`` is what then drifts.
    ``start_s`` and ``end_s`` are the times of the first and the last of ``count`` sentences; ``fixes`` the positions
    given, in order of time. ``category`` and ``nature`` are those of a DSC call; ``position_utc`` (hh:mm) is the time
    of day that it, or a MOB sentence, gives with its position; ``another`` says that it is of another ship.
    """

    kind: str
    who: str
    what: str
    alert: bool
    test: bool
    adrift: Adrift
    start_s: float
    end_s: float
    count: int
    fixes: tuple[Fix, ...]
    category: str | None = None
    nature: str | None = None
    position_utc: str | None = None
    another: bool = False


@dataclass(frozen=True)
class UserMark:
    """A person overboard at ``time_s`` [s since 1970-01-01 UTC; below one day a time of the first day that has it].

    Where the boat then was, unless a position [deg] is given.
    """

    time_s: float
    lat_deg: float | None = None
    lon_deg: float | None = None


@dataclass(frozen=True)
class Overboard:
    """The persons overboard that the user marks."""

    marks: tuple[UserMark, ...] = ()


def user_marks(asked: Overboard, frame: pd.DataFrame) -> list[Mark]:
    """Turn what the user marked into marks, at the boat's position where none was given."""
    return [
        Mark(
            kind="mark set by hand",
            who="",
            what="person overboard",
            alert=True,
            test=False,
            adrift="person",
            start_s=time_s,
            end_s=time_s,
            count=1,
            fixes=_place(one, time_s, frame),
        )
        for one in asked.marks
        for time_s in [_on_the_day(one.time_s, frame)]
    ]


def joined_fixes(fixes: Sequence[Fix], apart_s: float = 60.0) -> tuple[Fix, ...]:
    """Keep the first fix and those ``apart_s`` or more after the one kept before, of closer ones the finest."""
    kept: list[Fix] = []
    for fix in sorted(fixes, key=lambda one: one.time_s):
        if not kept or fix.time_s - kept[-1].time_s >= apart_s:
            kept.append(fix)
        elif fix.sd_nm < kept[-1].sd_nm:
            kept[-1] = fix
    return tuple(kept)


def _on_the_day(given_s: float, frame: pd.DataFrame) -> float:
    if given_s >= DAY_S or frame.empty:
        return given_s
    start_s = float(seconds_of(frame.iloc[:1])[0])
    time_s = start_s - start_s % DAY_S + given_s
    return time_s if time_s >= start_s else time_s + DAY_S


def _place(mark: UserMark, time_s: float, frame: pd.DataFrame) -> tuple[Fix, ...]:
    if mark.lat_deg is not None and mark.lon_deg is not None:
        return (Fix(time_s, mark.lat_deg, mark.lon_deg, GNSS_SD_NM),)
    (row,) = nearest_fixes(frame, np.array([time_s]), AT_ONCE_S).tolist()
    if row < 0:
        return ()
    lat, lon = float(frame["lat_deg"].iloc[row]), float(frame["lon_deg"].iloc[row])
    run_nm = float(np.nan_to_num(column(frame, "sog_kn")[row])) * REACTION_S / 3600
    return (Fix(time_s, lat, lon, float(np.hypot(GNSS_SD_NM, run_nm))),)
