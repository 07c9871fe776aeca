"""Traffic: everybody heard by AIS or seen by radar, how close they came, and how well one's own AIS works."""

from .approach import closest_approach
from .encounters import Encounter
from .forecast import Alarms, Forecast
from .messages import Heard, hear
from .own import own_ship
from .radar import RadarWatch, WatchCheck, check_watch
from .reception import Reception, radio_horizon_nm
from .stations import kind_text
from .transmission import Transmission
from .watch import AskedTraffic, Traffic, watch_traffic

__all__ = [
    "Alarms",
    "AskedTraffic",
    "Encounter",
    "Forecast",
    "Heard",
    "RadarWatch",
    "Reception",
    "Traffic",
    "Transmission",
    "WatchCheck",
    "check_watch",
    "closest_approach",
    "hear",
    "kind_text",
    "own_ship",
    "radio_horizon_nm",
    "watch_traffic",
]
