"""The lines of a leg: geodesic, rhumb line, and the composite of both that keeps below a latitude. All on WGS84."""

from dataclasses import dataclass

import numpy as np
from geographiclib.geodesic import Geodesic

from analysis.earth import (
    ECCENTRICITY_SQUARED,
    FLATTENING,
    M_PER_NM,
    SEMI_MAJOR_AXIS_NM,
    Line,
    Position,
    geodesic,
    geodesic_end,
    rhumb,
    rhumb_end,
)
from analysis.passage import Floats
from analysis.routes.marks import Mark
from analysis.vectors import wrap_signed_deg

POINTS = 60


@dataclass(frozen=True)
class Composite:
    """The shortest line that stays below a latitude: a geodesic up to it, along it, a geodesic away from it.

    ``joins`` are where it meets and leaves the parallel.
    """

    distance_nm: float
    bearing_deg: float
    joins: tuple[Position, Position]


@dataclass(frozen=True)
class RouteLeg:
    """A leg from mark to mark. ``apart_nm`` is how far its two lines lie apart half-way.

    ``highest`` is where the geodesic comes nearest to a pole. ``composite`` is None where no latitude was given,
    where the geodesic keeps below it, and where an end lies beyond it; ``beyond`` says the latter.
    """

    origin: Mark
    mark: Mark
    geodesic: Line
    rhumb: Line
    apart_nm: float
    highest: Position
    composite: Composite | None = None
    beyond: bool = False

    @property
    def saved_nm(self) -> float:
        """How much shorter the geodesic is than the rhumb line."""
        return self.rhumb.distance_nm - self.geodesic.distance_nm


def leg_between(origin: Mark, mark: Mark, latitude_limit_deg: float | None = None) -> RouteLeg:
    """Work out a leg. A leg of no length has NaN for the courses."""
    ends = (origin.lat_deg, origin.lon_deg, mark.lat_deg, mark.lon_deg)
    great, constant = geodesic(*ends), rhumb(*ends)
    if great.distance_nm < 1e-9:
        nowhere = Line(0.0, np.nan, np.nan)
        return RouteLeg(origin, mark, nowhere, nowhere, 0.0, Position(*ends[:2]))
    middle = geodesic_end(*ends[:2], great.bearing_deg, great.distance_nm / 2)
    half_way = rhumb_end(*ends[:2], constant.bearing_deg, constant.distance_nm / 2)
    highest = highest_point(origin, mark)
    limit = latitude_limit_deg
    beyond = limit is not None and max(abs(origin.lat_deg), abs(mark.lat_deg)) > limit
    composite = None
    if limit is not None and abs(highest.lat_deg) > limit and not beyond:
        composite = _composite(origin, mark, float(np.copysign(limit, highest.lat_deg)))
    return RouteLeg(
        origin, mark, great, constant, geodesic(*middle, *half_way).distance_nm, highest, composite, beyond
    )


def highest_point(origin: Mark, mark: Mark) -> Position:
    """Find where the geodesic between two marks comes nearest to a pole: its vertex, or one of its ends.

    On the auxiliary sphere the vertex lies 90 deg of arc from the equator crossing (Karney 2013, section 2).
    """
    line = Geodesic.WGS84.Inverse(origin.lat_deg, origin.lon_deg, mark.lat_deg, mark.lon_deg)
    from_node = _arc_from_node(origin.lat_deg, line["azi1"])
    best = max((origin, mark), key=lambda one: abs(one.lat_deg))
    for vertex in (90.0, -90.0):
        arc = (vertex - from_node) % 360.0
        if 0.0 < arc < line["a12"]:
            top = Geodesic.WGS84.ArcDirect(origin.lat_deg, origin.lon_deg, line["azi1"], arc)
            if abs(top["lat2"]) > abs(best.lat_deg):
                return Position(top["lat2"], top["lon2"])
    return Position(best.lat_deg, best.lon_deg)


def geodesic_points(leg: RouteLeg) -> Floats:
    """Points of the geodesic, shape (POINTS, 2): latitude, longitude [deg]."""
    return _along(leg.origin, leg.geodesic)


def rhumb_points(leg: RouteLeg) -> Floats:
    """Points of the rhumb line, shape (POINTS, 2): latitude, longitude [deg]."""
    steps = np.linspace(0.0, leg.rhumb.distance_nm, POINTS)
    ends = [rhumb_end(leg.origin.lat_deg, leg.origin.lon_deg, leg.rhumb.bearing_deg, step) for step in steps]
    return np.array(ends)


def composite_points(leg: RouteLeg) -> Floats:
    """Points of the composite line, shape (3 * POINTS, 2): latitude, longitude [deg]."""
    assert leg.composite is not None
    first, second = leg.composite.joins
    up = _along(leg.origin, geodesic(leg.origin.lat_deg, leg.origin.lon_deg, *first))
    down = _along(Mark("", *second), geodesic(*second, leg.mark.lat_deg, leg.mark.lon_deg))
    turn = float(wrap_signed_deg(second.lon_deg - first.lon_deg))
    lon = first.lon_deg + np.linspace(0.0, turn, POINTS)
    return np.vstack((up, np.column_stack((np.full(POINTS, first.lat_deg), lon)), down))


def _along(start: Mark, line: Line) -> Floats:
    steps = np.linspace(0.0, line.distance_nm, POINTS)
    return np.array([geodesic_end(start.lat_deg, start.lon_deg, line.bearing_deg, step) for step in steps])


def _composite(origin: Mark, mark: Mark, limit_deg: float) -> Composite:
    """Join the geodesics that touch the parallel: there the reduced latitude is that of their vertex (Clairaut)."""
    side = float(np.sign(limit_deg))
    way = float(
        np.sign(
            wrap_signed_deg(geodesic(origin.lat_deg, origin.lon_deg, mark.lat_deg, mark.lon_deg).bearing_deg)
        )
    )
    first = _touching(origin, limit_deg, side, way)
    second = _touching(mark, limit_deg, side, -way)
    parallel = abs(float(wrap_signed_deg(second["lon2"] - first["lon2"])))
    sine = np.sin(np.radians(limit_deg))
    radius = SEMI_MAJOR_AXIS_NM * np.cos(np.radians(limit_deg)) / np.sqrt(1 - ECCENTRICITY_SQUARED * sine**2)
    distance = (first["s12"] + second["s12"]) / M_PER_NM + radius * np.radians(parallel)
    joins = (Position(limit_deg, first["lon2"]), Position(limit_deg, second["lon2"]))
    return Composite(float(distance), first["azi1"] % 360.0, joins)


def _touching(start: Mark, limit_deg: float, side: float, way: float) -> dict[str, float]:
    """Follow the geodesic from a mark that touches a parallel, eastward or westward by ``way``, up to there."""
    share = np.cos(_reduced(limit_deg)) / np.cos(_reduced(start.lat_deg))
    from_pole = float(np.degrees(np.arcsin(min(share, 1.0))))
    bearing = way * (from_pole if side > 0 else 180.0 - from_pole)
    arc = (side * 90.0 - _arc_from_node(start.lat_deg, bearing)) % 360.0
    end: dict[str, float] = Geodesic.WGS84.ArcDirect(start.lat_deg, start.lon_deg, bearing, arc)
    return end


def _arc_from_node(lat_deg: float, bearing_deg: float) -> float:
    """Arc [deg] on the auxiliary sphere since a geodesic last crossed the equator northward."""
    reduced, bearing = _reduced(lat_deg), np.radians(bearing_deg)
    return float(np.degrees(np.arctan2(np.sin(reduced), np.cos(bearing) * np.cos(reduced))))


def _reduced(lat_deg: float) -> float:
    return float(np.arctan((1 - FLATTENING) * np.tan(np.radians(lat_deg))))
