"""Marks and routes: those the user gives, and those a log speaks of."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import pandas as pd

from analysis.earth import east_north_nm
from analysis.passage import Floats, column, seconds_of

SAME_NM = 0.01  # sentences give a thousandth of a minute, some only a hundredth
ROUNDED_NM = 0.5  # a mark passed nearer than this was rounded (judgment)
START = "Start"  # what a route begins with where it begins at no mark
_ACTIVE = ("RMB", "BWC", "BWR")


@dataclass(frozen=True)
class Mark:
    """A named position, north and east positive."""

    name: str
    lat_deg: float
    lon_deg: float


@dataclass(frozen=True)
class Route:
    """Marks in the order in which they are to be reached; ``source`` says who named them."""

    name: str
    source: str
    marks: tuple[Mark, ...]


@dataclass(frozen=True)
class RoutesAsked:
    """What the user says of routes. ``marks`` are to be reached in that order, ``routes`` come from files.

    ``latitude_limit_deg`` is the latitude beyond which no leg should lead, north or south. The angles are those
    between the course through the water and the true wind; None takes those the boat sailed.
    """

    marks: tuple[Mark, ...] = ()
    routes: tuple[Route, ...] = ()
    latitude_limit_deg: float | None = None
    upwind_deg: float | None = None
    downwind_deg: float | None = None


@dataclass(frozen=True)
class Destinations:
    """The active destination through the log: from each time [s since 1970 UTC] on the mark of that number."""

    time_s: Floats
    marks: tuple[Mark, ...]

    def at(self, time_s: float) -> Mark | None:
        """Return the destination at a time; None before the first one."""
        before = int(np.searchsorted(self.time_s, time_s, side="right")) - 1
        return self.marks[before] if before >= 0 else None


class _Said(NamedTuple):
    """A row of ``Passage.waypoints``."""

    time_s: float
    formatter: str
    name: str
    origin: str
    lat_deg: float
    lon_deg: float
    names: str
    part: int

    @property
    def mark(self) -> Mark:
        return Mark(self.name or "waypoint", self.lat_deg, self.lon_deg)


def routes_of(frame: pd.DataFrame, waypoints: pd.DataFrame, asked: RoutesAsked) -> tuple[Route, ...]:
    """List the routes: typed, from files, and of the log, the user's first.

    A single mark is reached from where the passage starts.
    """
    start = _start(frame)
    given = [Route("Marks given", "given", asked.marks)] if asked.marks else []
    said = _said(waypoints)
    listed = [*given, *asked.routes, *_planned(said), *_steered(said, frame)]
    whole = (
        Route(one.name, one.source, (start, *one.marks)) if len(one.marks) == 1 and start else one
        for one in listed
    )
    return tuple(one for one in whole if one.marks)


def destinations_of(waypoints: pd.DataFrame) -> Destinations:
    """Read the active destinations from the log's sentences."""
    active = [one for one in _active(_said(waypoints)) if np.isfinite(one.time_s)]
    return Destinations(np.array([one.time_s for one in active]), tuple(one.mark for one in active))


def next_mark(frame: pd.DataFrame, marks: Sequence[Mark], time_s: float) -> Mark | None:
    """Return the first mark of a route that the track has not rounded by a time; the last where all were."""
    rows = int(np.searchsorted(seconds_of(frame), time_s, side="right"))
    lat, lon = column(frame, "lat_deg")[:rows:5], column(frame, "lon_deg")[:rows:5]
    begin = 0
    for mark in marks:
        off = np.hypot(*east_north_nm(lat[begin:], lon[begin:], mark.lat_deg, mark.lon_deg))
        if not np.isfinite(off).any() or np.nanmin(off) > ROUNDED_NM:
            return mark
        begin += int(np.nanargmin(off))
    return marks[-1] if marks else None


def _start(frame: pd.DataFrame, time_s: float = -np.inf) -> Mark | None:
    """Where the boat first was, from a time on."""
    lat, lon = column(frame, "lat_deg"), column(frame, "lon_deg")
    placed = np.flatnonzero(np.isfinite(lat + lon) & (seconds_of(frame) >= time_s))
    return Mark(START, float(lat[placed[0]]), float(lon[placed[0]])) if placed.size else None


def _said(waypoints: pd.DataFrame) -> list[_Said]:
    if waypoints.empty:
        return []
    time_s = np.where(waypoints["time_utc"].isna(), np.nan, waypoints["time_utc"].astype("int64") / 1e9)
    others = (waypoints[name].tolist() for name in _Said._fields[1:])
    return [_Said(*row) for row in zip(time_s.tolist(), *others, strict=True)]


def _planned(said: Sequence[_Said]) -> Iterator[Route]:
    """Yield the routes that RTE lists and whose marks WPL places."""
    places = {one.name: one.mark for one in said if one.formatter == "WPL" and one.name}
    listed: dict[str, dict[int, str]] = {}
    for one in said:
        if one.formatter == "RTE":
            listed.setdefault(one.name, {})[one.part] = one.names
    for name, parts in listed.items():
        names = ",".join(parts[part] for part in sorted(parts)).split(",")
        marks = tuple(places[mark] for mark in names if mark in places)
        if marks and len(marks) == len(names):
            yield Route(f"Route {name}".strip(), "the recording's route", marks)


def _steered(said: Sequence[_Said], frame: pd.DataFrame) -> Iterator[Route]:
    """Yield what the log steered for, one destination after the other.

    They begin at the first one's origin where its place is known, else where the boat then was.
    """
    active = _active(said)
    marks: list[Mark] = []
    for one in active:
        if not marks or not same(marks[-1], one.mark):
            marks.append(one.mark)
    if marks:
        places = {one.name: one.mark for one in said if one.formatter == "WPL"}
        origin = places.get(active[0].origin) or _start(frame, active[0].time_s)
        if origin is not None and not same(origin, marks[0]):
            marks.insert(0, origin)
        yield Route("Destinations", "the recording's destinations", tuple(marks))


def _active(said: Sequence[_Said]) -> list[_Said]:
    """Destinations with a position, of the one kind of sentence that names them best."""
    placed = [one for one in said if np.isfinite(one.lat_deg + one.lon_deg)]
    for formatter in _ACTIVE:
        if rows := [one for one in placed if one.formatter == formatter]:
            return rows
    return []


def same(one: Mark, other: Mark) -> bool:
    """Tell whether two marks are one place."""
    east, north = east_north_nm(one.lat_deg, one.lon_deg, other.lat_deg, other.lon_deg)
    return bool(np.hypot(east, north) < SAME_NM)
