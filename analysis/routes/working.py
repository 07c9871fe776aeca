"""The routes of a passage, and its laylines at any moment."""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from analysis.calibration import CurrentSeries
from analysis.earth import Position
from analysis.manoeuvres import Manoeuvres, Turn
from analysis.passage import Bools, Floats, column, mean_known, seconds_of
from analysis.routes.ahead import STEP_S, History, in_steps
from analysis.routes.evened import evened_wind
from analysis.routes.laylines import Conditions, Laylines, laylines_to
from analysis.routes.lines import RouteLeg, leg_between
from analysis.routes.marks import (
    START,
    Destinations,
    Mark,
    Route,
    RoutesAsked,
    destinations_of,
    next_mark,
    routes_of,
    same,
)
from analysis.routes.sailed import (
    RANGES_DEG,
    Complexes,
    OwnAngle,
    Point,
    SailedLegs,
    Tack,
    sailed_legs,
    tells,
)

WINDOW_S = 300.0  # the wind that stands for now (judgment: past the gusts, short of the shifts)
TACK_S = 60.0
STALE_S = 30.0
WIND_RATE_DEG, CURRENT_RATE_KN = 8.0, 0.2  # wander per square root of an hour, before any is seen (judgment)
NEEDED = {
    ("lat_deg", "lon_deg"): "position",
    ("sog_kn", "cog_deg"): "speed and course over the ground",
    ("heading_true_deg",): "heading",
    ("stw_kn",): "speed through the water",
    ("twd_water_deg",): "true wind over the water",
}


@dataclass(frozen=True)
class RoutedLegs:
    """A route with its legs worked out."""

    route: Route
    legs: tuple[RouteLeg, ...]


@dataclass(frozen=True)
class Background:
    """What laylines come from: steady legs, wind and current through the passage, angles given and of the polar.

    ``jump_sd_deg`` is how unsure the wind is from tack to tack. ``current_sd_kn`` holds times [s since 1970 UTC] and
    the current's own one-sigma at them.
    """

    legs: SailedLegs
    wind: History
    current: History
    current_sd_kn: tuple[Floats, Floats]
    given_deg: dict[Point, float]
    jump_sd_deg: dict[Point, float]
    own: tuple[OwnAngle, ...] = ()


@dataclass(frozen=True)
class Routes:
    """Everything about marks: routes with their legs, and what laylines take.

    ``missing`` names what the log lacks for laylines; ``current_estimated`` says that the current is told apart from
    errors of log and compass.
    """

    routes: tuple[RoutedLegs, ...]
    destinations: Destinations
    missing: tuple[str, ...]
    current_estimated: bool
    latitude_limit_deg: float | None = None
    frame: pd.DataFrame = field(default_factory=pd.DataFrame, repr=False)
    background: Background | None = field(default=None, repr=False)

    @property
    def marks(self) -> tuple[Mark, ...]:
        """All marks of all routes, each place once; the start of the passage is none."""
        found: list[Mark] = []
        for routed in self.routes:
            for mark in routed.route.marks:
                if mark.name != START and not any(same(mark, other) for other in found):
                    found.append(mark)
        return tuple(found)

    def mark_at(self, time_s: float) -> Mark | None:
        """Return the mark that counts at a time: the log's destination, else the next of the first route."""
        if self.routes and self.routes[0].route.source in GIVEN:
            marks = [mark for mark in self.routes[0].route.marks if mark.name != START]
            return next_mark(self.frame, marks, time_s)
        active = self.destinations.at(time_s)
        if active is not None or not self.routes:
            return active
        return next_mark(self.frame, self.routes[0].route.marks, time_s)

    def laylines(self, mark: Mark, time_s: float) -> Laylines | None:
        """Work out the laylines to a mark at a moment; None where there is no position at it."""
        frame, known = self.frame, self.background
        seconds = seconds_of(frame)
        row = int(np.searchsorted(seconds, time_s, side="right")) - 1
        boat = self._boat(row, time_s)
        if boat is None:
            return None
        if known is None:
            return self._without(mark, time_s, boat, f"the recording has no {', no '.join(self.missing)}")
        wind, flow = known.wind.now(time_s), known.current.now(time_s)
        if wind is None:
            return self._without(mark, time_s, boat, "the wind over the water is not known in these minutes")
        if flow is None:
            return self._without(mark, time_s, boat, "the current is not known in these minutes")
        last = slice(max(row + 1 - int(WINDOW_S), 0), row + 1)
        twa = column(frame, "twa_water_deg")[max(row + 1 - int(TACK_S), 0) : row + 1]
        now = Conditions(
            time_s,
            boat,
            float(np.degrees(np.angle(wind)) % 360.0),
            mean_known(column(frame, "tws_water_kn")[last]),
            mean_known(column(frame, "twd_water_deg_sd")[last]),
            float(np.degrees(np.angle(flow)) % 360.0),
            abs(flow),
            float(np.interp(time_s, *known.current_sd_kn)),
            mean_known(column(frame, "stw_kn")[last]),
            _tack(twa),
        )
        return laylines_to(
            mark, now, known.legs, known.wind, known.current, known.given_deg, known.jump_sd_deg, known.own
        )

    def _boat(self, row: int, time_s: float) -> Position | None:
        if row < 0:
            return None
        rows = slice(max(row - int(STALE_S), 0), row + 1)
        seconds = seconds_of(self.frame.iloc[rows])
        lat, lon = (column(self.frame, name)[rows] for name in ("lat_deg", "lon_deg"))
        placed = np.flatnonzero(np.isfinite(lat + lon) & (time_s - seconds <= STALE_S))
        return Position(float(lat[placed[-1]]), float(lon[placed[-1]])) if placed.size else None

    @staticmethod
    def _without(mark: Mark, time_s: float, boat: Position, reason: str) -> Laylines:
        leg = leg_between(Mark("", *boat), mark).geodesic
        return Laylines(time_s, mark, boat, leg.distance_nm, leg.bearing_deg, "not determined", reason=reason)


GIVEN = ("given", "file")


def work_out_routes(
    frame: pd.DataFrame,
    waypoints: pd.DataFrame,
    manoeuvres: Manoeuvres,
    current: CurrentSeries | None,
    asked: RoutesAsked,
    own: Callable[[], tuple[OwnAngle, ...]] = tuple,
) -> Routes:
    """Find the routes of a passage and work out their legs; make ready for laylines.

    ``frame`` is the corrected and derived one, ``current`` the calibration's, which counts even where it is not told
    apart from errors of log and compass: laylines rest on what it changed by since the boat sailed on that tack.
    ``own`` works out the angles of the polar; it is called where neither legs nor the user tell.
    """
    limit = asked.latitude_limit_deg
    routes = tuple(
        RoutedLegs(
            route,
            tuple(leg_between(*ends, limit) for ends in zip(route.marks[:-1], route.marks[1:], strict=True)),
        )
        for route in routes_of(frame, waypoints, asked)
    )
    destinations = destinations_of(waypoints)
    missing = tuple(
        text
        for names, text in NEEDED.items()
        if not all(np.isfinite(column(frame, one)).any() for one in names)
    )
    if missing or current is None:
        lacking = missing or ("current: she was under way too short a time to tell it",)
        return Routes(routes, destinations, lacking, False, limit, frame)
    if not routes:
        return Routes(routes, destinations, (), current.determined, limit, frame)
    time_s = seconds_of(frame)
    steady = ~manoeuvres.turning if manoeuvres.turning is not None else np.ones(len(frame), dtype=bool)
    evened = evened_wind(frame, manoeuvres, steady)
    history, current_sd, flow = _current(current, time_s)
    legs, given = sailed_legs(frame, manoeuvres.legs, evened.twd_deg, flow), _given(asked)
    told = all(point in given or tells(legs, point) for point in RANGES_DEG)
    background = Background(
        legs,
        _wind(evened.twd_deg, time_s, steady),
        history,
        current_sd,
        given,
        evened.jump_sd_deg,
        () if told else own(),
    )
    return Routes(routes, destinations, (), current.determined, limit, frame, background)


def tack_times(manoeuvres: Manoeuvres) -> tuple[Turn, ...]:
    """Tacks and gybes: where a layline is met or missed."""
    return tuple(turn for turn in manoeuvres.turns if turn.kind in ("tack", "gybe"))


def _given(asked: RoutesAsked) -> dict[Point, float]:
    given: dict[Point, float] = {}
    if asked.upwind_deg is not None:
        given["upwind"] = asked.upwind_deg
    if asked.downwind_deg is not None:
        given["downwind"] = asked.downwind_deg
    return given


def _wind(twd_deg: Floats, time_s: Floats, steady: Bools) -> History:
    twd = np.where(steady, twd_deg, np.nan)
    start, values = in_steps(time_s, np.exp(1j * np.radians(twd)))
    return History(start, values, WINDOW_S, True, float(np.radians(WIND_RATE_DEG)))


def _current(current: CurrentSeries, time_s: Floats) -> tuple[History, tuple[Floats, Floats], Complexes]:
    """The current through time, its own one-sigma at some times, and itself at every row."""
    knots = current.time_utc.as_unit("ns").asi8 / 1e9
    steps = np.arange(time_s[0], time_s[-1] + STEP_S, STEP_S)
    values, rows = (
        np.interp(at, knots, current.north_kn) + 1j * np.interp(at, knots, current.east_kn)
        for at in (steps, time_s)
    )
    history = History(float(time_s[0]), values, STEP_S, False, CURRENT_RATE_KN)
    return history, (knots, current.component_kn_sd), rows


def _tack(twa_deg: Floats) -> Tack | None:
    side = mean_known(np.sin(np.radians(twa_deg)))
    if not np.isfinite(side) or side == 0.0:
        return None
    return "starboard" if side > 0 else "port"
