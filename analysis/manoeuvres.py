"""Manoeuvres read from the heading and the apparent wind: turns of every kind, legs, runs, stops.

Times are pandas UTC timestamps of the frame's index; a span holds both its ends. Headings are smoothed as
unit vectors over a quarter of a minute, so yaw and noise of a few degrees neither make nor hide a turn.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from analysis.passage import Bools, Floats, column, mean_known, spans
from analysis.vectors import wrap_signed_deg

TurnKind = Literal["tack", "gybe", "full turn", "turn"]

SMOOTHING_S = 15
QUICK_S, QUICK_DEG_PER_S = 20, 1.1
SLOW_S, SLOW_DEG_PER_S = 60, 0.42
BRIDGE_S = 12
LEAST_TURN_DEG = 25.0
FULL_TURN_DEG = 330.0
TRIM_DEG = 6.0
BRIDGED_GAP_S = 300
CONTEXT_S = 45
RECIPROCAL_DEG = 20.0
STOPPED_KN = 0.7
NM_PER_DEG = 60.0


@dataclass(frozen=True)
class Turn:
    """One change of heading. ``change_deg`` is + to starboard and counts every degree of a full turn.

    ``turns`` is the number of whole turns (0 for a tack, a gybe or an ordinary turn); ``awa_before_deg``
    and ``awa_after_deg`` are NaN where no apparent wind is logged.
    """

    kind: TurnKind
    start: pd.Timestamp
    end: pd.Timestamp
    change_deg: float
    turns: int
    heading_before_deg: float
    heading_after_deg: float
    awa_before_deg: float
    awa_after_deg: float


@dataclass(frozen=True)
class Leg:
    """A stretch on one heading. Means; ``heading_sd_deg`` is the yaw about the mean. NaN where not logged."""

    start: pd.Timestamp
    end: pd.Timestamp
    duration_s: float
    heading_deg: float
    heading_sd_deg: float
    stw_kn: float
    sog_kn: float
    awa_deg: float


@dataclass(frozen=True)
class Runs:
    """Two to six successive legs to and fro, fit for a mean of means."""

    legs: tuple[Leg, ...]
    heading_deg: float


@dataclass(frozen=True)
class Stop:
    """A stretch at rest over the ground."""

    start: pd.Timestamp
    end: pd.Timestamp
    duration_s: float


@dataclass(frozen=True)
class MarkRun:
    """A run past two positions: the times abeam of each, and +1 from first to second or -1 back."""

    start: pd.Timestamp
    end: pd.Timestamp
    direction: int
    distance_nm: float
    cross_track_nm: float


@dataclass(frozen=True)
class Manoeuvres:
    """Everything the boat did that an estimate can lean on, in time order.

    ``turning`` tells for every row of the frame whether the boat was turning; None where nobody looked.
    """

    turns: tuple[Turn, ...]
    legs: tuple[Leg, ...]
    runs: tuple[Runs, ...]
    stops: tuple[Stop, ...]
    turning: Bools | None = None

    def of_kind(self, kind: TurnKind) -> tuple[Turn, ...]:
        """Return the turns of one kind."""
        return tuple(turn for turn in self.turns if turn.kind == kind)


def find_manoeuvres(frame: pd.DataFrame) -> Manoeuvres:
    """Find turns, legs, reciprocal runs and stops in an aligned frame at 1 s.

    Needs ``heading_true_deg``; uses ``awa_deg``, ``stw_kn`` and ``sog_kn`` where present. A frame without
    heading yields stops only.
    """
    stops = find_stops(frame)
    if "heading_true_deg" not in frame or len(frame) < 2 * QUICK_S:
        return Manoeuvres((), (), (), stops, np.zeros(len(frame), dtype=bool))
    heading = _smooth_heading(column(frame, "heading_true_deg"))
    sense = _turn_rate(heading)
    turns = _turns(frame, heading, sense)
    legs = find_legs(frame, turns, stops)
    return Manoeuvres(turns, legs, find_runs(legs), stops, sense != 0)


def turning(frame: pd.DataFrame) -> Bools:
    """Tell for every row whether the boat is turning; False where the heading is missing."""
    return np.asarray(_turn_rate(_smooth_heading(column(frame, "heading_true_deg"))) != 0)


def _turns(frame: pd.DataFrame, heading: Floats, sense: NDArray[np.int8]) -> tuple[Turn, ...]:
    """Find every turn of more than 25 degrees, and tell tacks, gybes and full turns apart.

    A tack or gybe puts the apparent wind on the other side; which of the two follows from the side of
    the bow the wind passed. A full turn is one unbroken turn of at least 330 degrees either way.
    """
    awa = column(frame, "awa_deg")
    found = []
    for first, last in _turn_spans(sense):
        earlier, later = _steady_rows(sense, first, -1), _steady_rows(sense, last, 1)
        before, after = _mean_direction(heading[earlier]), _mean_direction(heading[later])
        inside = np.unwrap(heading[first : last + 1], period=360)
        swept = inside[-1] - inside[0]
        # The ends are read on the legs, the whole turns from the sweep between them.
        change = (after - before) + 360 * np.round((swept - (after - before)) / 360)
        if not np.isfinite(change) or abs(change) < LEAST_TURN_DEG:
            continue
        done = np.flatnonzero(np.abs(inside - inside[0]) > TRIM_DEG)
        left = np.flatnonzero(np.abs(inside - inside[-1]) > TRIM_DEG)
        if not (done.size and left.size):
            continue
        awa_before, awa_after = _mean_direction(awa[earlier]), _mean_direction(awa[later])
        kind, turns = _kind(change, awa_before, awa_after)
        found.append(
            Turn(
                kind,
                frame.index[first + int(done[0])],
                frame.index[first + int(left[-1])],
                float(change),
                turns,
                float(before % 360),
                float(after % 360),
                float(awa_before),
                float(awa_after),
            )
        )
    return tuple(found)


def find_legs(
    frame: pd.DataFrame, turns: tuple[Turn, ...], stops: tuple[Stop, ...] = (), least_s: float = 120.0
) -> tuple[Leg, ...]:
    """Find the stretches of at least ``least_s`` between turns and stops, ends of 20 s left out."""
    busy = np.isnan(column(frame, "heading_true_deg"))
    busy = pd.Series(busy).rolling(31, center=True, min_periods=1).mean().to_numpy() == 1
    times = [(turn.start, turn.end) for turn in turns] + [(stop.start, stop.end) for stop in stops]
    for start, end in times:
        busy[slice(*_rows(frame, start, end, QUICK_S))] = True
    heading, stw = column(frame, "heading_true_deg"), column(frame, "stw_kn")
    sog, awa = column(frame, "sog_kn"), column(frame, "awa_deg")
    legs = []
    for first, last in spans(~busy):
        if last - first + 1 < least_s:
            continue
        rows = slice(first, last + 1)
        mean = _mean_direction(heading[rows])
        legs.append(
            Leg(
                frame.index[first],
                frame.index[last],
                float(last - first + 1),
                float(mean % 360),
                mean_known(wrap_signed_deg(heading[rows] - mean) ** 2) ** 0.5,
                mean_known(stw[rows]),
                mean_known(sog[rows]),
                _mean_direction(awa[rows]),
            )
        )
    return tuple(legs)


def find_runs(legs: tuple[Leg, ...], most_gap_s: float = 900.0) -> tuple[Runs, ...]:
    """Find series of 2 to 6 successive legs on alternating reciprocal headings, at like speed.

    Neighbours must lie within 20 degrees of reciprocal, differ by less than a factor 1.6 in length and
    1.25 in speed through the water, and follow within ``most_gap_s``.
    """
    series: list[list[Leg]] = []
    for leg in legs:
        if series and len(series[-1]) < 6 and _answers(series[-1], leg, most_gap_s):
            series[-1].append(leg)
        else:
            series.append([leg])
    return tuple(Runs(tuple(group), group[0].heading_deg) for group in series if len(group) > 1)


def find_stops(frame: pd.DataFrame, least_s: float = 120.0) -> tuple[Stop, ...]:
    """Find the stretches of at least ``least_s`` with a median speed over ground below 0.7 kn."""
    sog = pd.Series(column(frame, "sog_kn"))
    median = sog.rolling(61, center=True, min_periods=5).median().to_numpy()
    return tuple(
        Stop(frame.index[first], frame.index[last], float(last - first + 1))
        for first, last in spans(median < STOPPED_KN)
        if last - first + 1 >= least_s
    )


def find_mark_runs(
    frame: pd.DataFrame, first: tuple[float, float], second: tuple[float, float], most_off_nm: float = 0.3
) -> tuple[MarkRun, ...]:
    """Find the runs between two positions (latitude, longitude in degrees), both ways.

    A run starts where the track passes abeam of one mark and ends abeam of the other, never farther than
    ``most_off_nm`` from the line between them. Plane geometry, good for marks a few miles apart.
    """
    shrink = np.cos(np.radians((first[0] + second[0]) / 2))
    line = NM_PER_DEG * ((second[0] - first[0]) + 1j * shrink * wrap_signed_deg(second[1] - first[1]))
    lat, lon = column(frame, "lat_deg"), column(frame, "lon_deg")
    place = NM_PER_DEG * ((lat - first[0]) + 1j * shrink * wrap_signed_deg(lon - first[1])) / line
    along, off = place.real, np.abs(place.imag) * abs(line)
    known = np.flatnonzero(np.isfinite(along))
    between = (along[known] >= 0) & (along[known] <= 1)
    runs = []
    for start, end in spans(between):
        if start == 0 or end == len(known) - 1:
            continue
        entered, left = along[known[start - 1]], along[known[end + 1]]
        offset = float(off[known[start : end + 1]].max())
        if (entered < 0) == (left < 0) or offset > most_off_nm:
            continue
        way = 1 if entered < 0 else -1
        moments = [_crossing(frame.index, along, known[i - 1], known[i]) for i in (start, end + 1)]
        runs.append(MarkRun(moments[0], moments[1], way, float(abs(line)), offset))
    return tuple(runs)


def _crossing(index: pd.Index, along: Floats, before: int, after: int) -> pd.Timestamp:
    level = 0.0 if (along[before] < 0) != (along[after] < 0) else 1.0
    share = (level - along[before]) / (along[after] - along[before])
    moment: pd.Timestamp = index[before] + (index[after] - index[before]) * float(share)
    return moment


def _answers(group: list[Leg], leg: Leg, most_gap_s: float) -> bool:
    last, first = group[-1], group[0]
    slow, fast = sorted((last.stw_kn, leg.stw_kn))
    short, long = sorted((last.duration_s, leg.duration_s))
    opposite = abs(wrap_signed_deg(leg.heading_deg - (last.heading_deg + 180))) < RECIPROCAL_DEG
    aligned = (
        len(group) < 2 or abs(wrap_signed_deg(leg.heading_deg - (group[-2].heading_deg))) < RECIPROCAL_DEG
    )
    return bool(
        opposite
        and aligned
        and (leg.start - last.end).total_seconds() <= most_gap_s
        and long <= 1.6 * short
        and not fast > 1.25 * slow
        and abs(first.duration_s - leg.duration_s) <= 0.6 * max(first.duration_s, leg.duration_s)
    )


def _kind(change: float, awa_before: float, awa_after: float) -> tuple[TurnKind, int]:
    if abs(change) >= FULL_TURN_DEG:
        return "full turn", int(np.round(abs(change) / 360)) * (1 if change > 0 else -1)
    if np.isfinite(awa_before + awa_after) and awa_before * awa_after < 0:
        # Turning to starboard, the wind passes the bow when it stood to starboard.
        return ("tack" if (awa_before > 0) == (change > 0) else "gybe"), 0
    return "turn", 0


def _turn_spans(sense: NDArray[np.int8]) -> list[tuple[int, int]]:
    return sorted(span for way in (-1, 1) for span in spans(_bridge(sense == way, BRIDGE_S)))


def _steady_rows(sense: NDArray[np.int8], edge: int, way: int) -> slice:
    """Rows from a turn's edge outward, until the next turn or for the length that gives a heading."""
    far = max(edge - CONTEXT_S, 0) if way < 0 else min(edge + CONTEXT_S, len(sense) - 1)
    busy = np.flatnonzero(sense[edge + way : far + way : way])
    reach = edge + way * (int(busy[0]) if busy.size else abs(far - edge))
    return slice(min(edge, reach), max(edge, reach) + 1)


def _turn_rate(heading: Floats) -> NDArray[np.int8]:
    """-1, 0 or +1 for turning to port, steady, turning to starboard."""
    known = np.isfinite(heading)
    unrolled = np.full_like(heading, np.nan)
    unrolled[known] = np.unwrap(heading[known], period=360)
    quick = _rate(unrolled, QUICK_S)
    slow = _rate(unrolled, SLOW_S)
    slow = np.where(np.abs(slow) > SLOW_DEG_PER_S, slow, 0.0)
    rate = np.where(np.abs(quick) > QUICK_DEG_PER_S, quick, slow)
    sense: NDArray[np.int8] = np.sign(np.nan_to_num(rate)).astype(np.int8)
    return sense


def _rate(unrolled: Floats, over_s: int) -> Floats:
    """Turn rate from the change across ``over_s``, nearer to the ends across what there is."""
    half = over_s // 2
    if len(unrolled) <= 2 * half:
        return np.zeros_like(unrolled)
    padded = np.pad(unrolled, half, mode="edge")
    return np.asarray((padded[2 * half :] - padded[: -2 * half]) / (2 * half))


def _smooth_heading(heading: Floats) -> Floats:
    """Direction of the mean unit vector over a quarter of a minute; short gaps along the shorter arc."""
    unit = pd.DataFrame({"n": np.cos(np.radians(heading)), "e": np.sin(np.radians(heading))})
    unit = unit.interpolate(limit=BRIDGED_GAP_S, limit_area="inside")
    mean = unit.rolling(SMOOTHING_S, center=True, min_periods=3).mean().to_numpy()
    return np.asarray(np.degrees(np.arctan2(mean[:, 1], mean[:, 0])) % 360)


def _bridge(mask: Bools, most: int) -> Bools:
    """Fill the holes of at most ``most`` rows between True rows."""
    filled = mask.copy()
    ends = spans(mask)
    for (_, last), (first, _) in pairwise(ends):
        if first - last - 1 <= most:
            filled[last:first] = True
    return filled


def rest_rows(frame: pd.DataFrame, stops: Sequence[Stop]) -> Bools:
    """Tell for every row of the frame whether it lies in one of the stops."""
    rest = np.zeros(len(frame), dtype=bool)
    for stop in stops:
        rest[slice(*_rows(frame, stop.start, stop.end, 0))] = True
    return rest


def _rows(frame: pd.DataFrame, start: pd.Timestamp, end: pd.Timestamp, margin: int) -> tuple[int, int]:
    return (
        max(int(frame.index.searchsorted(start)) - margin, 0),
        int(frame.index.searchsorted(end, side="right")) + margin,
    )


def _mean_direction(angle: Floats) -> float:
    """Direction of the mean unit vector, -180..180 deg; NaN where nothing is known."""
    known = np.radians(angle[np.isfinite(angle)])
    if not known.size:
        return float("nan")
    return float(np.degrees(np.arctan2(np.sin(known).mean(), np.cos(known).mean())))
