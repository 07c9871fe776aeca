"""What a calibration says: estimates, the current, what was left out and why, and the evidence."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from analysis.estimate import Estimate

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class Excluded:
    """A stretch kept out of an estimate, and the reason."""

    start: pd.Timestamp
    end: pd.Timestamp
    reason: str


@dataclass(frozen=True)
class Evidence:
    """One independent line of evidence on one quantity."""

    name: str
    subject: str
    value: float
    sd: float
    used: int


@dataclass(frozen=True)
class CurrentSeries:
    """The current at a series of times: set toward, drift, and one-sigma of each; components toward N and E.

    ``determined`` is False where the current is not told apart from errors of log and compass.
    """

    time_utc: pd.DatetimeIndex
    set_deg: Floats
    drift_kn: Floats
    set_deg_sd: Floats
    drift_kn_sd: Floats
    north_kn: Floats
    east_kn: Floats
    component_kn_sd: Floats
    determined: bool

    def mean(self) -> tuple[float, float, float]:
        """Vector mean over the passage: set [deg], drift [kn] and its one-sigma [kn], errors taken as lasting."""
        north, east = float(self.north_kn.mean()), float(self.east_kn.mean())
        drift = float(np.hypot(north, east))
        return float(np.degrees(np.arctan2(east, north)) % 360), drift, float(np.median(self.component_kn_sd))


@dataclass(frozen=True)
class Change:
    """A parameter that did not stay the same, from ``start`` to ``end`` of what was judged.

    A ``drift`` runs evenly from ``before`` at the start to ``after`` at the end, a ``step`` happens ``at`` its time;
    ``sd`` is that of the difference. The parameter's estimate is its mean over the passage.
    """

    name: str
    kind: Literal["drift", "step"]
    at: pd.Timestamp | None
    before: float
    after: float
    sd: float
    unit: str
    start: pd.Timestamp
    end: pd.Timestamp


@dataclass(frozen=True)
class Sailed:
    """How the boat went while she was judged, and how surely her compass was.

    ``stw_kn`` is the mean speed as shown; ``compass_deg`` the middles of those sectors of 45 deg by the compass that
    she sailed in for a few minutes; ``deviation_covariance`` [deg^2] is that of A to E.
    """

    stw_kn: float
    compass_deg: tuple[float, ...]
    courses_differ: bool
    deviation_covariance: Floats


@dataclass(frozen=True)
class Calibration:
    """Everything learnt about the instruments from one passage.

    ``estimates`` maps the contract's names to estimates; ``current`` is None where nothing moved. ``used``
    and ``rejected`` count the 20 s means by what became of them. ``sailed`` is None where log or compass could not
    be judged.
    """

    estimates: Mapping[str, Estimate]
    current: CurrentSeries | None
    excluded: tuple[Excluded, ...]
    evidence: tuple[Evidence, ...]
    used: int
    rejected: Mapping[str, int] = field(default_factory=dict)
    converged: bool = True
    changes: tuple[Change, ...] = ()
    sailed: Sailed | None = None
