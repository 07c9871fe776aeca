"""All that a log tells of traffic, put together."""

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import pandas as pd

from analysis.errors import SettingError
from analysis.passage import Passage

from .encounters import Encounter, encounters
from .forecast import Alarms
from .messages import Heard
from .own import OwnShip, own_ship
from .radar import RADAR_NM, RadarWatch, WatchCheck, check_watch, radar_targets
from .reception import Reception, reception
from .stations import stations_of
from .tracks import WAY_KN, Tracks, tracks_of
from .transmission import Transmission, own_transmission

NOTICES = ("transponder alarm", "transponder text")


@dataclass(frozen=True)
class AskedTraffic:
    """What the user may say: alarms, the height of the own AIS aerial above the water, a radar watch."""

    alarms: Alarms = field(default_factory=Alarms)
    aerial_height_m: float | None = None
    watch: RadarWatch | None = None

    def __post_init__(self) -> None:
        if self.aerial_height_m is not None and not 0 < self.aerial_height_m <= 100:
            raise SettingError(
                f"An aerial {self.aerial_height_m:g} m above the water cannot be; say metres from 0 to 100."
            )
        if not (0 < self.alarms.cpa_nm <= 50 and 0 < self.alarms.tcpa_min <= 240):
            raise SettingError(
                f"Alarms at {self.alarms.cpa_nm:g} nm and {self.alarms.tcpa_min:g} min mean nothing; say up to "
                "50 nm and 240 min."
            )


@dataclass(frozen=True)
class Traffic:
    """What was heard and seen of others, each part worked out when it is first looked at; tables as their makers say.

    ``messages`` counts what was decoded, ``unreadable`` what was not.
    """

    asked: AskedTraffic
    ais: Heard
    own: OwnShip
    passage: Passage

    @property
    def heard(self) -> bool:
        """Whether the recording has AIS at all."""
        return self.messages + self.unreadable > 0

    @property
    def messages(self) -> int:
        """How many messages were decoded."""
        return int(self.ais.numbers["count"].sum())

    @property
    def unreadable(self) -> int:
        """How many were no valid message."""
        return self.ais.unreadable

    @property
    def heading_of(self) -> str:
        """Whether bearings off the bow are from the heading, or from the course."""
        return self.own.heading_of

    @cached_property
    def encounters(self) -> pd.DataFrame:
        """Every visit and its closest point."""
        watch = self.asked.watch
        detected_nm = RADAR_NM if watch is None else max(watch.range_nm, RADAR_NM)
        return encounters(self.ais.visits, self.own, self.asked.alarms, detected_nm)

    @cached_property
    def stations(self) -> pd.DataFrame:
        """Everyone heard."""
        return stations_of(self.ais.stations, self.ais.statics, self.ais.visits, self.encounters)

    @cached_property
    def transmission(self) -> Transmission:
        """How the own transponder sent."""
        return own_transmission(self.ais.reports, self.ais.statics, self.ais.stations, self.own)

    @cached_property
    def reception(self) -> Reception:
        """How far others were heard."""
        return reception(self.ais.visits, self.own, self.asked.aerial_height_m)

    @cached_property
    def radar(self) -> pd.DataFrame:
        """What radar saw."""
        return radar_targets(self.passage.series, self.own, self.ais.visits)

    @cached_property
    def watch(self) -> WatchCheck | None:
        """What the radar watch asked for would miss."""
        if self.asked.watch is None:
            return None
        return check_watch(self.asked.watch, self.encounters["closing_kn"].to_numpy(np.float64))

    @property
    def notices(self) -> pd.DataFrame:
        """What the own transponder said of itself."""
        events = self.passage.events
        noticed = events[events["kind"].isin(NOTICES)] if "kind" in events else events
        return noticed.reset_index(drop=True)

    @cached_property
    def name_of(self) -> dict[int, str]:
        """Names by MMSI."""
        return dict(zip(self.stations["mmsi"].tolist(), self.stations["name"].tolist(), strict=True))

    @property
    def met(self) -> pd.DataFrame:
        """The encounters with a known closest point, but for two that lay still by each other there."""
        table = self.encounters
        still = (table["own_sog_kn"] < WAY_KN) & (table["target_sog_kn"] < WAY_KN)
        return table[table["range_nm"].notna() & ~still]

    def closest(self, count: int) -> list[Encounter]:
        """The closest of ``met``."""
        return [Encounter._make(row) for row in self.met.head(count).itertuples(index=False, name=None)]

    def track(self, visit: int) -> Tracks:
        """The reports of one visit."""
        return tracks_of(self.ais.visits[self.ais.visits["visit"] == visit])


def watch_traffic(
    passage: Passage, ais: Heard, shown: pd.DataFrame, corrected: pd.DataFrame, asked: AskedTraffic
) -> Traffic:
    """Follow every target of a passage, and judge transponder and reception.

    ``ais`` is what was heard by AIS, ``shown`` the screened frame, whose positions count, ``corrected`` the one
    whose heading does.
    """
    return Traffic(asked, ais, own_ship(shown, corrected), passage)
