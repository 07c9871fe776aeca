"""Routes of a log and of the user."""

import numpy as np
import pandas as pd
import pytest

from analysis.routes import Mark, Route, RoutesAsked, work_out_routes
from analysis.routes.marks import destinations_of, next_mark, routes_of

BELL, HOME = Mark("BELL", 50.1, -1.25), Mark("HOME", 50.2, -1.30)
COLUMNS = ["time_utc", "formatter", "name", "origin", "lat_deg", "lon_deg", "names", "part"]
START = pd.Timestamp("2026-06-03T12:00Z")


def table(*rows):
    return pd.DataFrame(
        [(START + pd.Timedelta(seconds=second), *row) for second, row in rows], columns=COLUMNS
    ).assign(time_utc=lambda t: pd.to_datetime(t["time_utc"], utc=True).astype("datetime64[ns, UTC]"))


def track(north_deg_s=1e-5, count=7200):
    index = pd.date_range(START, periods=count, freq="s")
    return pd.DataFrame({"lat_deg": 50.0 + north_deg_s * np.arange(count), "lon_deg": -1.25}, index=index)


def steered(second, mark, origin=""):
    return second, ("RMB", mark.name, origin, mark.lat_deg, mark.lon_deg, "", 0)


def placed(mark):
    return 0, ("WPL", mark.name, "", mark.lat_deg, mark.lon_deg, "", 0)


def test_destinations_follow_each_other_from_where_the_boat_was():
    (route,) = routes_of(
        track(), table(steered(60, BELL), steered(600, BELL), steered(900, HOME)), RoutesAsked()
    )
    assert [mark.name for mark in route.marks] == ["Start", "BELL", "HOME"]
    assert route.marks[0].lat_deg == pytest.approx(50.0006)  # 60 s at 1e-5 deg/s


def test_a_known_origin_begins_the_route():
    (route,) = routes_of(track(), table(placed(HOME), steered(60, BELL, "HOME")), RoutesAsked())
    assert route.marks == (HOME, BELL)


def test_the_route_of_the_log_needs_the_places_of_all_its_marks():
    rte = (5, ("RTE", "R1", "", np.nan, np.nan, "BELL,HOME", 1))
    (route,) = routes_of(track(), table(placed(BELL), placed(HOME), rte), RoutesAsked())
    assert route.marks == (BELL, HOME) and route.name == "Route R1"
    assert routes_of(track(), table(placed(BELL), rte), RoutesAsked()) == ()


def test_given_marks_come_first_and_a_single_one_from_the_start():
    asked = RoutesAsked(marks=(BELL,), routes=(Route("file", "file", (HOME, BELL)),))
    given, file = routes_of(track(), pd.DataFrame(), asked)
    assert [mark.name for mark in given.marks] == ["Start", "BELL"] and file.marks == (HOME, BELL)
    (alone,) = routes_of(pd.DataFrame(), pd.DataFrame(), RoutesAsked(marks=(BELL,)))
    assert alone.marks == (BELL,)


def test_the_destination_of_a_moment():
    found = destinations_of(table(steered(60, BELL), steered(900, HOME)))
    seconds = START.timestamp()
    assert [found.at(seconds + after) for after in (0, 60, 899, 900, 9999)] == [None, BELL, BELL, HOME, HOME]


def test_the_next_mark_is_the_first_not_rounded():
    ahead, beyond = Mark("ahead", 50.03, -1.25), Mark("beyond", 50.06, -1.25)
    marks, seconds = (ahead, beyond), START.timestamp()
    assert next_mark(track(), marks, seconds) == ahead
    assert next_mark(track(), marks, seconds + 4000) == beyond  # 50.04 by then
    assert next_mark(track(), marks, seconds + 7199) == beyond


def test_a_log_without_anything_lacks_everything():
    routes = work_out_routes(pd.DataFrame(), pd.DataFrame(), None, None, RoutesAsked())
    assert routes.routes == () and "true wind over the water" in routes.missing
