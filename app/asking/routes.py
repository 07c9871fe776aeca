"""What to ask for of routes: marks, a route in a file, the latitude to keep below, angles to the wind."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from analysis.routes import Mark, Route, RoutesAsked


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the group of routes."""
    group = parser.add_argument_group("routes and laylines")
    group.add_argument(
        "--mark",
        type=_mark,
        action="append",
        default=[],
        metavar="NAME=LAT,LON",
        help="a mark of the route, as BELL=50.1N,1.25W (repeat it for each, in their order)",
    )
    group.add_argument(
        "--route",
        type=Path,
        action="append",
        default=[],
        metavar="FILE.gpx",
        help="a file with routes or waypoints, GPX (may be repeated)",
    )
    group.add_argument(
        "--latitude-limit",
        type=_Between(1.0, 89.0, "a latitude"),
        metavar="DEG",
        help="the latitude, north or south, beyond which no leg should lead",
    )
    group.add_argument(
        "--upwind-angle",
        type=_Between(20.0, 89.0, "an angle to the wind"),
        metavar="DEG",
        help="angle between course through the water and true wind on the wind, in place of the sailed one",
    )
    group.add_argument(
        "--downwind-angle",
        type=_Between(91.0, 180.0, "an angle to the wind"),
        metavar="DEG",
        help="the same before the wind",
    )


def asked(arguments: argparse.Namespace) -> "RoutesAsked":
    """Put together what the options say. Raises LogError where a file cannot be used."""
    from analysis.routes import RoutesAsked

    return RoutesAsked(
        marks=tuple(arguments.mark),
        routes=tuple(route for path in arguments.route for route in routes_of_file(path)),
        latitude_limit_deg=arguments.latitude_limit,
        upwind_deg=arguments.upwind_angle,
        downwind_deg=arguments.downwind_angle,
    )


def routes_of_file(path: Path) -> "tuple[Route, ...]":
    """Read the routes of a GPX file, points without a name numbered. Raises LogError where it cannot be used."""
    from analysis.reading.gpx import read_gpx
    from analysis.routes import Mark, Route

    return tuple(
        Route(
            one.name or path.name,
            "file",
            tuple(Mark(point.name or str(k), *point[1:]) for k, point in enumerate(one.points, start=1)),
        )
        for one in read_gpx(path)
    )


def _mark(text: str) -> "Mark":
    from analysis.errors import SettingError
    from analysis.positions import parse_position
    from analysis.routes import Mark

    name, named, place = text.partition("=")
    if not (named and name.strip()):
        raise argparse.ArgumentTypeError(f"{text!r}: write it as BELL=50.1N,1.25W")
    try:
        return Mark(name.strip(), *parse_position(place))
    except SettingError as error:
        raise argparse.ArgumentTypeError(str(error).rstrip(".")) from None


class _Between:
    """Read a number within limits."""

    def __init__(self, low: float, high: float, what: str) -> None:
        self._limits, self._what = (low, high), what

    def __call__(self, text: str) -> float:
        low, high = self._limits
        try:
            value = float(text)
        except ValueError:
            value = float("nan")
        if not low <= value <= high:
            raise argparse.ArgumentTypeError(f"{text!r}: give {self._what} from {low:g} to {high:g} degrees")
        return value
