"""What the user may say for the parts of a review that stand beside the instruments."""

from dataclasses import dataclass, field

from analysis.emergencies import Overboard
from analysis.performance import PolarAsked
from analysis.routes import RoutesAsked
from analysis.traffic import AskedTraffic
from analysis.weather import WeatherAsked


@dataclass(frozen=True)
class Asked:
    """One field per part, each a frozen dataclass of that part's own, whose defaults ask for nothing."""

    overboard: Overboard = field(default_factory=Overboard)
    traffic: AskedTraffic = field(default_factory=AskedTraffic)
    routes: RoutesAsked = field(default_factory=RoutesAsked)
    polar: PolarAsked = field(default_factory=PolarAsked)
    weather: WeatherAsked = field(default_factory=WeatherAsked)
