"""All that a log tells of traffic, put together."""

from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from analysis.errors import SettingError
from analysis.passage import Passage

from .encounters import Alarms, Encounter, Track, encounters, track_of, visits_of
from .messages import hear
from .own import own_ship
from .radar import RadarWatch, WatchCheck, check_watch, radar_targets
from .reception import Reception, reception
from .stations import stations_of
from .transmission import Transmission, own_transmission

STILL_KN = 0.5  # two that lie still by each other do not meet: judgment
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
    """What was heard and seen of others; tables as their makers say.

    ``visits`` are the position reports of others with the number of their ``visit``. ``messages`` counts what was
    decoded, ``unreadable`` what was not.
    """

    asked: AskedTraffic
    messages: int
    unreadable: int
    stations: pd.DataFrame
    visits: pd.DataFrame
    encounters: pd.DataFrame
    transmission: Transmission
    reception: Reception
    radar: pd.DataFrame
    watch: WatchCheck | None
    notices: pd.DataFrame
    heading_of: str

    @property
    def heard(self) -> bool:
        """Whether the log has AIS at all."""
        return self.messages + self.unreadable > 0

    @property
    def name_of(self) -> dict[int, str]:
        """Names by MMSI."""
        return dict(zip(self.stations["mmsi"].tolist(), self.stations["name"].tolist(), strict=True))

    @property
    def met(self) -> pd.DataFrame:
        """The encounters with a known closest point at which one of both moved past the other."""
        table = self.encounters
        return table[table["range_nm"].notna() & ~(table["relative_kn"] < STILL_KN)]

    def closest(self, count: int) -> list[Encounter]:
        """The closest of ``met``."""
        return [Encounter._make(row) for row in self.met.head(count).itertuples(index=False, name=None)]

    def track(self, visit: int) -> Track:
        """The reports of one visit."""
        return track_of(self.visits[self.visits["visit"] == visit])


def watch_traffic(
    passage: Passage, shown: pd.DataFrame, corrected: pd.DataFrame, asked: AskedTraffic
) -> Traffic:
    """Decode all AIS, follow every target, and judge transponder and reception.

    ``shown`` is the screened frame, whose positions count, ``corrected`` the one whose heading does.
    """
    heard = hear(passage.ais)
    own = own_ship(shown, corrected)
    visits, number = visits_of(heard.reports)
    met = encounters(visits, number, own, asked.alarms)
    events = passage.events
    noticed = events[events["kind"].isin(NOTICES)] if "kind" in events else events
    return Traffic(
        asked=asked,
        messages=int(heard.numbers["count"].sum()),
        unreadable=heard.unreadable,
        stations=stations_of(heard.stations, heard.statics, visits, met),
        visits=visits.assign(visit=number),
        encounters=met,
        transmission=own_transmission(heard.reports, heard.statics, heard.stations, own),
        reception=reception(visits, number, own, asked.aerial_height_m),
        radar=radar_targets(passage.series, own, visits, number),
        watch=None
        if asked.watch is None
        else check_watch(asked.watch, met["closing_kn"].to_numpy(np.float64)),
        notices=noticed.reset_index(drop=True),
        heading_of=own.heading_of,
    )
