"""How the boat went back after a person overboard: turn, way back, closest return."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from analysis import earth
from analysis.emergencies.drift import FAR_NM, Datum
from analysis.emergencies.marks import Mark
from analysis.passage import Bools, Floats, column, seconds_of
from analysis.vectors import mean_direction_deg, wrap_signed_deg

WITHIN_S = 3600.0
BEFORE_S = 20.0
HELD_S = 5
TURNED_DEG = 30.0
BACK_DEG = 150.0
SAME_NM = 5 / 1852  # of what a receiver tells apart


@dataclass(frozen=True)
class Closest:
    """The least distance to a place after the turn [nm], and the seconds after the mark when it was reached."""

    distance_nm: float
    after_s: float


@dataclass(frozen=True)
class Drill:
    """Seconds after the mark; None where it did not happen, or is not known, within the ``watched_s`` of track.

    ``turned_s`` is when the heading was off by 30 deg, ``on_way_back_s`` within 30 deg of the opposite one. ``mark``
    and ``datum`` are the closest returns after the turn, to where the mark was set and to what had drifted.
    ``farthest_nm`` is how far off the mark the boat was before that.
    """

    by_course: bool
    watched_s: float
    turned_s: float | None
    on_way_back_s: float | None
    farthest_nm: float
    mark: Closest | None
    datum: Closest | None

    @property
    def back_s(self) -> float | None:
        """Seconds after the mark of the closest return; None where it was not half as near as she had gone.

        What drifts toward a boat that only goes on is no return of hers.
        """
        closest = self.datum or self.mark
        if self.mark is None or closest is None or 2 * closest.distance_nm > self.farthest_nm:
            return None
        return closest.after_s


def review_drill(mark: Mark, datum: Datum | None, frame: pd.DataFrame) -> Drill | None:
    """Review what the boat did in the hour after a mark.

    None where no track follows it, where she was more than 10 nm off, or where neither her heading nor her course is
    known before it.
    """
    if not mark.fixes:
        return None
    time_s = seconds_of(frame)
    first, last = np.searchsorted(time_s, [mark.start_s, mark.start_s + WITHIN_S]).tolist()
    lat, lon = column(frame, "lat_deg")[first:last], column(frame, "lon_deg")[first:last]
    after_s = time_s[first:last] - mark.start_s
    off_nm = earth.hop(lat, lon, mark.fixes[0].lat_deg, mark.fixes[0].lon_deg).distance_nm
    placed = np.flatnonzero(np.isfinite(off_nm))
    before = slice(int(np.searchsorted(time_s, mark.start_s - BEFORE_S)), first + 1)
    steered = _steered(frame, before, slice(first, last))
    if len(placed) < 2 or off_nm[placed[0]] > FAR_NM or steered is None:
        return None
    by_course, off_deg = steered
    watched_s = float(after_s[placed[-1]])
    turned = _first(off_deg > TURNED_DEG)
    if turned is None:
        return Drill(by_course, watched_s, None, None, float(np.nanmax(off_nm)), None, None)
    way_back = _first(off_deg > BACK_DEG)
    to_mark = _closest(off_nm, after_s, turned)
    to_datum = None
    if datum is not None:
        there_lat = np.interp(time_s[first:last], datum.time_s, datum.lat_deg)
        turn = np.interp(time_s[first:last], datum.time_s, np.unwrap(datum.lon_deg, period=360))
        to_datum = _closest(earth.hop(lat, lon, there_lat, turn).distance_nm, after_s, turned)
    until = len(off_nm) if to_mark is None else int(np.searchsorted(after_s, to_mark.after_s)) + 1
    return Drill(
        by_course,
        watched_s,
        float(after_s[turned]),
        None if way_back is None else float(after_s[way_back]),
        float(np.nanmax(off_nm[:until])),
        to_mark,
        to_datum,
    )


def _steered(frame: pd.DataFrame, before: slice, after: slice) -> tuple[bool, Floats] | None:
    """How far the boat is off her bow's mean before the mark [deg], or her course's where the bow is less known.

    The least of five seconds; and whether it is by course. None where neither is known before the mark.
    """
    bows = [column(frame, name) for name in ("heading_true_deg", "cog_deg")]
    known = [int(np.isfinite(bow[before]).any()) * int(np.isfinite(bow[after]).sum()) for bow in bows]
    if not any(known):
        return None
    by_course = 2 * known[0] < known[1]
    bow = bows[by_course]
    earlier = bow[before][np.isfinite(bow[before])]
    off = np.abs(wrap_signed_deg(bow[after] - mean_direction_deg(earlier)))
    least = pd.Series(off[::-1]).rolling(HELD_S, min_periods=HELD_S).min().to_numpy()[::-1]
    return by_course, np.asarray(np.nan_to_num(least))


def _first(where: Bools) -> int | None:
    rows = np.flatnonzero(where)
    return int(rows[0]) if rows.size else None


def _closest(distance_nm: Floats, after_s: Floats, turned: int) -> Closest | None:
    """The least distance after the turn, when first reached; None where the boat only went farther away."""
    later = distance_nm[turned:]
    if not np.isfinite(later).any():
        return None
    least = float(np.nanmin(later))
    row = turned + int(np.flatnonzero(later <= least + SAME_NM)[0])
    if row == turned:
        return None
    return Closest(least, float(after_s[row]))
