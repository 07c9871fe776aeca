"""What every rule may look at."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

import pandas as pd

from analysis.agreement import Agreement, HeadingCheck, StandIn
from analysis.asked import Asked
from analysis.calibration import Calibration
from analysis.calibration.barometer import BarometerCheck
from analysis.emergencies import Emergencies, Mark, find_emergencies
from analysis.engine import engine_running
from analysis.estimate import Estimate
from analysis.lasting import sensor_errors
from analysis.logged_wind import LoggedWind
from analysis.manoeuvres import Manoeuvres
from analysis.passage import Passage, seconds_of
from analysis.performance import Polar, sailed_polar
from analysis.routes import Routes, own_angles, work_out_routes
from analysis.screening import Screened
from analysis.steering import Gusts, Rudder, Steadiness, watch_gusts, watch_rudder, watch_steadiness
from analysis.traffic import Heard, Traffic, hear, watch_traffic
from analysis.trip import Trip, record_trip
from analysis.weather import Weather, watch_weather


@dataclass(frozen=True)
class Case:
    """A passage with all that was worked out about it, before judgment.

    ``passage.frame`` is as shown, ``screened.frame`` the same without what no sensor can mean, ``frame`` the
    corrected and derived one with the ``_shown`` columns, ``standing`` the estimates it rests on: those determined
    are applied, the others say what is open. ``headings`` says what the sources of heading make of variation and
    deviation, ``stand_in`` what SOG costs in place of a silent log, None where the log speaks.
    ``barometer`` is the check against a reference, None where none was given. ``asked`` is what the user said for
    the parts beside the instruments, each worked out when it is first looked at, from what was heard: ``ais`` the
    messages decoded, ``heard`` the marks and calls.
    """

    passage: Passage
    screened: Screened
    manoeuvres: Manoeuvres
    calibration: Calibration
    agreement: tuple[Agreement, ...]
    logged_wind: LoggedWind | None
    frame: pd.DataFrame
    standing: Mapping[str, Estimate] = field(default_factory=dict)
    headings: HeadingCheck = field(default_factory=HeadingCheck)
    stand_in: StandIn | None = None
    barometer: BarometerCheck | None = None
    asked: Asked = field(default_factory=Asked)
    ais: Heard = field(default_factory=lambda: hear(pd.DataFrame()))
    heard: tuple[Mark, ...] = ()

    @cached_property
    def emergencies(self) -> Emergencies:
        """Person-overboard marks, beacons and calls, with what drifted from them."""
        return find_emergencies(self.heard, self.frame, self.calibration.current, self.asked.overboard)

    @cached_property
    def polar(self) -> Polar:
        """What the boat makes of the wind, from steady sailing."""
        running = engine_running(self.passage, seconds_of(self.frame))
        return sailed_polar(self.frame, self.manoeuvres, self.standing, self.asked.polar, running)

    @cached_property
    def routes(self) -> Routes:
        """The marks and legs of the passage, and its laylines."""
        current = self.calibration.current
        return work_out_routes(
            self.frame,
            self.passage.waypoints,
            self.manoeuvres,
            current,
            self.asked.routes,
            lambda: own_angles(self.polar, self.frame),
        )

    @cached_property
    def rudder(self) -> Rudder | None:
        """The rudder sensor and how the boat answers it; None where the log has none."""
        return watch_rudder(self.passage, self.screened.frame, self.manoeuvres)

    @cached_property
    def steadiness(self) -> Steadiness:
        """How steadily she is steered, and by which wind angle she would be."""
        rudder = "" if self.rudder is None else self.rudder.channel
        return watch_steadiness(self.passage, self.frame, self.manoeuvres, rudder)

    @cached_property
    def gusts(self) -> Gusts:
        """The gusts, and what the boat does in them."""
        return watch_gusts(self.frame, self.manoeuvres)

    @cached_property
    def traffic(self) -> Traffic:
        """Who came how close, the own transponder, how far was heard."""
        return watch_traffic(self.passage, self.ais, self.screened.frame, self.frame, self.asked.traffic)

    @cached_property
    def trip(self) -> Trip:
        """The record of the trip, by days of UTC."""
        return record_trip(self.passage, self.frame, self.manoeuvres.stops, self.weather.pressure)

    @cached_property
    def weather(self) -> Weather:
        """What pressure and wind did, and how a forecast of them did."""
        offset = self.calibration.estimates.get("barometer_offset_hpa")
        errors = sensor_errors(self.standing, "leeway_deg" in self.frame)
        return watch_weather(self.frame, self.asked.weather, self.barometer, offset, errors)
