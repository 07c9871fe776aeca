"""Read routes and waypoints from a GPX file (schema http://www.topografix.com/GPX/1/1); tracks are passed over."""

from pathlib import Path
from typing import NamedTuple
from xml.parsers import expat

from analysis.errors import LogError

MOST_BYTES = 20_000_000
MOST_POINTS = 5_000
_LONGEST_NAME = 40
_DEEPEST = 60


class GpxPoint(NamedTuple):
    """A point with its name, "" where it has none; degrees, north and east positive."""

    name: str
    lat_deg: float
    lon_deg: float


class GpxRoute(NamedTuple):
    """A route: its points in order."""

    name: str
    points: tuple[GpxPoint, ...]


def read_gpx(path: Path) -> tuple[GpxRoute, ...]:
    """Read a file's routes; where it has none, its waypoints in their order as one.

    Document types and entities are refused, so that nothing can be expanded or fetched. Raises LogError where the
    file cannot be read, is no GPX, is too large or holds neither route nor waypoint.
    """
    try:
        if path.stat().st_size > MOST_BYTES:
            raise LogError(
                f"{path}: is larger than {MOST_BYTES // 1_000_000} MB; give a file with the route alone."
            )
        data = path.read_bytes()
    except OSError as error:
        raise LogError(f"{path}: cannot be read ({error.strerror}); give a GPX file with a route.") from error
    content = _Content(path)
    content.parse(data)
    routes = tuple(GpxRoute(name, tuple(points)) for name, points in content.routes if points)
    if not routes and content.waypoints:
        routes = (GpxRoute("", tuple(content.waypoints)),)
    if not routes:
        raise LogError(f"{path}: holds no route (rte) and no waypoint (wpt); give a GPX file that has one.")
    return routes


class _Content:
    """Collects points while the file is parsed."""

    def __init__(self, path: Path) -> None:
        self.routes: list[tuple[str, list[GpxPoint]]] = []
        self.waypoints: list[GpxPoint] = []
        self._path = path
        self._open: list[str] = []
        self._place: tuple[float, float] | None = None
        self._point_name = ""
        self._route_name = ""
        self._text: list[str] = []

    def parse(self, data: bytes) -> None:
        parser = expat.ParserCreate(namespace_separator=" ")
        parser.StartElementHandler = self._start
        parser.EndElementHandler = self._end
        parser.CharacterDataHandler = self._text.append
        parser.StartDoctypeDeclHandler = self._refuse
        parser.EntityDeclHandler = self._refuse
        try:
            parser.Parse(data, True)
        except expat.ExpatError as error:
            raise LogError(f"{self._path}: is no GPX file ({error}); give one with a route.") from error

    def _refuse(self, *_: object) -> None:
        raise LogError(f"{self._path}: declares a document type, which a GPX file has no need of; remove it.")

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        kind = name.rpartition(" ")[2]
        if not self._open and kind != "gpx":
            raise LogError(
                f"{self._path}: is no GPX file (it begins with {kind[:20]}); give one with a route."
            )
        self._open.append(kind)
        if len(self._open) > _DEEPEST:
            raise LogError(f"{self._path}: is nested too deep for a GPX file; give one with a route.")
        self._text.clear()
        if kind == "rte":
            self.routes.append(("", []))
        elif kind in ("rtept", "wpt"):
            self._place, self._point_name = self._position(attributes), ""

    def _end(self, _: str) -> None:
        kind = self._open.pop()
        parent = self._open[-1] if self._open else ""
        if kind == "name":
            text = "".join(letter for letter in "".join(self._text).strip() if letter.isprintable())
            if parent in ("rtept", "wpt"):
                self._point_name = text[:_LONGEST_NAME]
            elif parent == "rte":
                self.routes[-1] = (text[:_LONGEST_NAME], self.routes[-1][1])
        elif kind in ("rtept", "wpt") and self._place is not None:
            into = self.routes[-1][1] if kind == "rtept" and self.routes else self.waypoints
            into.append(GpxPoint(self._point_name, *self._place))
            if sum(len(points) for _, points in self.routes) + len(self.waypoints) > MOST_POINTS:
                raise LogError(f"{self._path}: holds more than {MOST_POINTS} points; give the route alone.")
        self._text.clear()

    def _position(self, attributes: dict[str, str]) -> tuple[float, float]:
        try:
            lat, lon = float(attributes["lat"]), float(attributes["lon"])
        except (KeyError, ValueError) as error:
            raise LogError(f"{self._path}: a point has no latitude and longitude in degrees.") from error
        if not (abs(lat) <= 90 and abs(lon) <= 180):
            raise LogError(f"{self._path}: the point {lat:g}, {lon:g} lies off the globe.")
        return lat, lon
