"""The trip: how far and how fast, day by day, what was the most, and how the hours went."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pandas as pd

from analysis.engine import engine_running, told_by_shaft
from analysis.manoeuvres import Stop, rest_rows
from analysis.passage import (
    NO_ROWS,
    Bools,
    Floats,
    Ints,
    Passage,
    column,
    mean_known,
    nearest_fixes,
    readings_of,
    seconds_of,
)
from analysis.summary import hops_over_ground_nm, hops_through_water_nm
from analysis.vectors import true_wind_ground, true_wind_water, wrap_signed_deg
from analysis.weather import PressureRecord

DAY_S = 86400.0
STEP_S = 60.0  # a longer silence counts for no hours
PLACE_S = 60.0
GUST_S, MEAN_S = (
    3.0,
    600.0,
)  # WMO-No. 8, part I, chapter 5: a gust is a mean over 3 s, the mean wind one over 10 min
FALL = "fall of pressure in 3 h"
SETTLED = 0.8  # of a mean's span must be known
# Limits of TWA on either side: common practice, no source.
POINTS_OF_SAIL = (
    ("head to wind", 0.0, 30.0),
    ("close-hauled", 30.0, 55.0),
    ("close reach", 55.0, 80.0),
    ("beam reach", 80.0, 100.0),
    ("broad reach", 100.0, 155.0),
    ("running", 155.0, 180.0),
)


@dataclass(frozen=True)
class Stretch:
    """The whole trip or one day of it; None for what the log cannot give.

    Distances [nm]; hours in all, at rest over the ground, and under engine; averages [kn], ``under_way_kn`` of the
    distance over ground in the hours not at rest, silences left out.
    """

    start: pd.Timestamp
    end: pd.Timestamp
    hours: float
    over_ground_nm: float | None
    through_water_nm: float | None
    under_way_kn: float | None
    stw_kn: float | None
    tws_kn: float | None
    at_rest_h: float | None
    under_engine_h: float | None


@dataclass(frozen=True)
class Day:
    """One calendar day by the clock that was asked for."""

    day: date
    stretch: Stretch


@dataclass(frozen=True)
class Most:
    """The greatest value of something, its unit, and when and where it was; NaN where the place is not known."""

    name: str
    value: float
    unit: str
    at: pd.Timestamp
    lat_deg: float
    lon_deg: float


@dataclass(frozen=True)
class Point:
    """Hours on a point of sail, from one TWA [deg] to another, wind from port and from starboard."""

    name: str
    from_deg: float
    to_deg: float
    port_h: float
    starboard_h: float


@dataclass(frozen=True)
class Trip:
    """The record of a passage. ``engine_hours`` is what their counter gained, ``lacking`` what is missing and why."""

    whole: Stretch | None
    days: tuple[Day, ...]
    most: tuple[Most, ...]
    points: tuple[Point, ...]
    engine_hours: float | None
    lacking: tuple[str, ...]


def record_trip(
    passage: Passage,
    frame: pd.DataFrame,
    stops: Sequence[Stop],
    pressure: PressureRecord | None,
    offset_min: int = 0,
) -> Trip:
    """Record the trip from the corrected and derived frame and what the pressure did.

    Days begin at midnight of UTC + ``offset_min``.
    """
    if frame.empty:
        return Trip(None, (), (), (), None, (NO_ROWS,))
    hours = Hours(passage, frame, stops)
    whole = _stretch(frame, hours, 0, len(frame))
    most, lacking = _most(passage, frame, pressure)
    points = _points(frame, hours)
    if not points:
        lacking.append("hours by point of sail: no true wind")
    if hours.engine is None:
        sailed = ", so they count as sailed" if points else ""
        lacking.append(f"hours under engine: no engine speed (RPM){sailed}")
    elif told_by_shaft(passage):
        lacking.append(
            "whether the engine ran: the shaft's hours stand for it, and a propeller turns it under sail too"
        )
    return Trip(
        whole, tuple(_days(frame, hours, offset_min)), most, points, _counter(passage), tuple(lacking)
    )


class Hours:
    """What every row of a frame counts for: its share of an hour, its way, whether at rest or under engine.

    ``counted`` is the way over the ground in the hours that count: a silence has way, but no hours.
    """

    def __init__(self, passage: Passage, frame: pd.DataFrame, stops: Sequence[Stop]) -> None:
        self.time_s = seconds_of(frame)
        step = np.diff(self.time_s, append=self.time_s[-1])
        self.each = np.where(step < STEP_S, step, 0.0) / 3600
        self.over_ground, self.through_water = hops_over_ground_nm(frame), hops_through_water_nm(frame)
        rows, hops = self.over_ground
        counted_h, whole_h = (np.add.reduceat(one, rows) for one in (self.each, step / 3600))
        self.counted = rows, hops * counted_h / whole_h
        self.rest = self._at_rest(frame, stops)
        self.engine = engine_running(passage, self.time_s)

    def _at_rest(self, frame: pd.DataFrame, stops: Sequence[Stop]) -> Bools | None:
        if not np.isfinite(column(frame, "sog_kn")).any():
            return None
        return rest_rows(frame, stops)


def _stretch(frame: pd.DataFrame, hours: Hours, first: int, last: int) -> Stretch:
    """Sum up a stretch of rows; what lies between it and the row after it belongs to it."""
    rows = slice(first, last)
    time = frame.index[[first, min(last, len(frame) - 1)]]
    over_ground, through_water, counted = (
        _way(way, first, last) for way in (hours.over_ground, hours.through_water, hours.counted)
    )
    rest = None if hours.rest is None else _sum(hours.each[rows], hours.rest[rows])
    under_way = None if rest is None else float(hours.each[rows].sum()) - rest
    return Stretch(
        start=time[0],
        end=time[1],
        hours=(time[1] - time[0]).total_seconds() / 3600,
        over_ground_nm=over_ground,
        through_water_nm=through_water,
        under_way_kn=counted / under_way if counted is not None and under_way else None,
        stw_kn=_mean(column(frame, "stw_kn")[rows]),
        tws_kn=_mean(column(frame, _wind(frame))[rows]),
        at_rest_h=rest,
        under_engine_h=None if hours.engine is None else _sum(hours.each[rows], hours.engine[rows]),
    )


def _way(way: tuple[Ints, Floats], first: int, last: int) -> float | None:
    rows, hops = way
    if not rows.size:
        return None
    return float(hops[(rows >= first) & (rows < last)].sum())


def _days(frame: pd.DataFrame, hours: Hours, offset_min: int) -> Iterator[Day]:
    local_s = hours.time_s + 60.0 * offset_min
    number = np.floor(local_s / DAY_S).astype(np.int64)
    firsts: Ints = np.flatnonzero(np.diff(number, prepend=number[0] - 1))
    for first, last in zip(firsts.tolist(), [*firsts[1:].tolist(), len(frame)], strict=True):
        day = (datetime.fromtimestamp(0, UTC) + timedelta(days=int(number[first]))).date()
        yield Day(day, _stretch(frame, hours, first, last))


def _points(frame: pd.DataFrame, hours: Hours) -> tuple[Point, ...]:
    """Hours under sail by point of sail: not at rest, no engine running."""
    twa = column(frame, "twa_water_deg" if "twa_water_deg" in frame else "twa_ground_deg")
    known = np.isfinite(twa)
    if not known.any():
        return ()
    sailing = known & ~(_or_not(hours.rest, len(frame)) | _or_not(hours.engine, len(frame)))
    angle = np.abs(twa)
    return tuple(
        Point(
            name,
            low,
            high,
            port_h=_sum(hours.each, sailing & within & (twa < 0)),
            starboard_h=_sum(hours.each, sailing & within & (twa >= 0)),
        )
        for name, low, high in POINTS_OF_SAIL
        for within in [(angle >= low) & ((angle < high) | (high >= 180))]
    )


def _most(
    passage: Passage, frame: pd.DataFrame, pressure: PressureRecord | None
) -> tuple[tuple[Most, ...], list[str]]:
    found: list[Most] = []
    lacking: list[str] = []

    def add(name: str, values: pd.Series, unit: str, missing: str) -> None:
        known = values.dropna()
        if known.empty:
            lacking.append(f"{name}: {missing}")
            return
        at = known.index[int(known.to_numpy().argmax())]
        found.append(Most(name, float(known.max()), unit, at, *_place(frame, at)))

    add("speed over ground", _series(frame, "sog_kn"), "kn", "no SOG")
    add("speed through the water", _series(frame, "stw_kn"), "kn", "no log")
    gusts, missing = _gusts(passage, frame)
    over = "ground" if _wind(frame) == "tws_ground_kn" else "water"
    add(f"gust over the {over}, mean of 3 s", gusts, "kn", missing)
    wind = _series(frame, _wind(frame))
    brief = "no true wind for so long" if wind.notna().any() else "no true wind"
    add(f"wind over the {over}, mean of 10 min", _rolling(wind, MEAN_S), "kn", brief)
    add("heel, mean of 3 s", _rolling(_series(frame, "heel_deg"), GUST_S).abs(), "deg", "no heel sensor")
    fall = None if pressure is None else pressure.fastest_fall
    if fall is not None:
        at = pd.Timestamp(fall.time_s, unit="s", tz="UTC")
        found.append(Most(FALL, -fall.amount_hpa, "hPa", at, *_place(frame, at)))
    elif pressure is not None and np.isfinite(pressure.amount_hpa).any():
        lacking.append(f"{FALL}: it did not fall")
    else:
        lacking.append(f"{FALL}: {'no barometer' if pressure is None else 'no pressure for so long'}")
    return tuple(found), lacking


def _gusts(passage: Passage, frame: pd.DataFrame) -> tuple[pd.Series, str]:
    """Means of 3 s of the true wind speed, from every reading where these come faster than the rows; or why none."""
    wind = _series(frame, _wind(frame))
    rate = next((one.rate_hz for one in passage.sources if one.chosen and one.key.channel == "aws_kn"), None)
    if rate is not None and rate < 1 / GUST_S:
        return wind.iloc[:0], f"the wind sensor speaks only every {1 / rate:.0f} s"
    if rate is not None and rate > 1.5:
        wind = _from_readings(passage, frame, wind)
        return wind, "no true wind"
    return _rolling(wind, GUST_S), "no true wind"


def _from_readings(passage: Passage, frame: pd.DataFrame, wind: pd.Series) -> pd.Series:
    """True wind from the vector mean of all readings of the apparent wind within 1.5 s, corrected as the frame is."""
    at_s, speed = readings_of(passage, "aws_kn")
    angle_s, angle = readings_of(passage, "awa_deg")
    if len(at_s) != len(angle_s) or not np.array_equal(at_s, angle_s) or wind.dropna().empty:
        return _rolling(wind, GUST_S)
    time_s = seconds_of(frame)
    felt = np.concatenate(([0], np.nancumsum(speed * np.exp(1j * np.radians(angle)))))
    first, last = (np.searchsorted(at_s, time_s + side * GUST_S / 2) for side in (-1, 1))
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = (felt[last] - felt[first]) / np.where(last - first >= 3, last - first, np.nan)
        aws = np.abs(mean) * (column(frame, "aws_kn") / _shown(frame, "aws_kn"))
    turned = wrap_signed_deg(column(frame, "awa_deg") - _shown(frame, "awa_deg"))
    awa = wrap_signed_deg(np.degrees(np.angle(mean)) + turned)
    heading = column(frame, "heading_true_deg")
    if wind.name == "tws_water_kn":
        leeway = np.nan_to_num(column(frame, "leeway_deg"))
        true = true_wind_water(awa, aws, column(frame, "stw_kn"), heading, leeway).tws_water_kn
    else:
        true = true_wind_ground(
            awa, aws, heading, column(frame, "sog_kn"), column(frame, "cog_deg")
        ).tws_ground_kn
    return pd.Series(true, index=frame.index, name=wind.name)


def _counter(passage: Passage) -> float | None:
    _, hours = readings_of(passage, "engine_hours_h")
    return float(hours[-1] - hours[0]) if len(hours) > 1 and hours[-1] >= hours[0] else None


def _wind(frame: pd.DataFrame) -> str:
    return "tws_ground_kn" if "tws_water_kn" not in frame and "tws_ground_kn" in frame else "tws_water_kn"


def _rolling(values: pd.Series, span_s: float) -> pd.Series:
    if values.dropna().empty:
        return values
    step_s = float(np.median(np.diff(seconds_of(values.to_frame())))) if len(values) > 1 else 1.0
    least = max(1, round(SETTLED * span_s / step_s))
    return values.rolling(pd.Timedelta(seconds=span_s), center=True, min_periods=least).mean()


def _series(frame: pd.DataFrame, name: str) -> pd.Series:
    return pd.Series(column(frame, name), index=frame.index, name=name)


def _shown(frame: pd.DataFrame, name: str) -> Floats:
    return column(frame, f"{name}_shown" if f"{name}_shown" in frame else name)


def _place(frame: pd.DataFrame, at: pd.Timestamp) -> tuple[float, float]:
    """Position nearest in time, within a minute."""
    (row,) = nearest_fixes(frame, np.array([at.timestamp()]), PLACE_S).tolist()
    if row < 0:
        return float("nan"), float("nan")
    return float(frame["lat_deg"].iloc[row]), float(frame["lon_deg"].iloc[row])


def _or_not(where: Bools | None, count: int) -> Bools:
    return np.zeros(count, dtype=bool) if where is None else where


def _sum(each: Floats, where: Bools) -> float:
    return float(each[where].sum())


def _mean(values: Floats) -> float | None:
    mean = mean_known(values)
    return None if np.isnan(mean) else mean
