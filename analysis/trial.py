"""What corrections set by hand would do: true wind, current and findings, without the rest of the road."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from analysis import vectors
from analysis.contrasts import across_turns
from analysis.correction import corrected_sensors, leeway_of
from analysis.derive import Leeway, course_over_ground
from analysis.findings import Case, Finding, find
from analysis.passage import Floats, column, mean_known
from analysis.signature import left_over

MOST_STEADY = ("tack", "gybe")


@dataclass(frozen=True)
class Outcome:
    """Mean true wind and current of a passage, and how steady both are; NaN where they cannot be told.

    ``wind`` is over the water or, without a log, over the ground. ``twd_change_deg`` is the rms change of TWD across
    ``turns`` tacks and gybes; ``along_kn`` and ``across_kn`` are the mean parts of the current, beyond the estimated
    one, that turn with the boat (ahead and to starboard +). ``air_pressure_hpa`` is the mean.
    """

    over: str
    twd_deg: float
    tws_kn: float
    twd_change_deg: float
    turns: int
    set_deg: float
    drift_kn: float
    along_kn: float
    across_kn: float
    air_pressure_hpa: float


@dataclass(frozen=True)
class Trial:
    """A passage as corrected by hand: ``frame`` with true wind and current, what they come to, and the findings."""

    frame: pd.DataFrame
    outcome: Outcome
    findings: tuple[Finding, ...]


def tried(case: Case, set_by_hand: Mapping[str, float], entered: Mapping[str, float] | None = None) -> Trial:
    """Correct a passage by hand and derive what the corrections bear on, without one-sigmas.

    Findings judge what is left once ``entered``, or else ``set_by_hand``, is entered in the instruments.
    Raises SettingError for a correction that cannot be set.
    """
    sensors, estimates = corrected_sensors(case.passage.frame, case.screened, case.calibration, set_by_hand)
    frame = _derived(sensors, leeway_of(estimates))
    return Trial(frame, outcome_of(frame, case), find(case, set_by_hand if entered is None else entered))


def outcome_of(frame: pd.DataFrame, case: Case) -> Outcome:
    """Sum up true wind and current of a derived frame of the case, as shown or corrected."""
    over = "water" if column_known(frame, "twd_water_deg") else "ground"
    twd_deg, tws_kn = (
        _mean_vector(frame, f"twd_{over}_deg", f"tws_{over}_kn")[0],
        _mean(frame, f"tws_{over}_kn"),
    )
    changes = [one.twd_deg for one in across_turns(frame, case.manoeuvres, over) if one.kind in MOST_STEADY]
    set_deg, drift_kn = _mean_vector(frame, "set_deg", "drift_kn")
    along_kn = across_kn = math.nan
    current = case.calibration.current
    if current is not None and current.determined and "drift_kn" in frame:
        left = left_over(frame, current, case.manoeuvres.turning)
        along_kn, across_kn = mean_known(left.along_kn), mean_known(left.across_kn)
    return Outcome(
        over=over,
        twd_deg=twd_deg,
        tws_kn=tws_kn,
        twd_change_deg=float(np.sqrt(np.mean(np.square(changes)))) if changes else math.nan,
        turns=len(changes),
        set_deg=set_deg,
        drift_kn=drift_kn,
        along_kn=along_kn,
        across_kn=across_kn,
        air_pressure_hpa=_mean(frame, "air_pressure_hpa"),
    )


def column_known(frame: pd.DataFrame, name: str) -> bool:
    """Tell whether a frame has a column with any value."""
    return name in frame and bool(np.isfinite(column(frame, name)).any())


def _derived(sensors: pd.DataFrame, leeway: Leeway | None) -> pd.DataFrame:
    have = set(sensors)
    value = {str(name): sensors[name].to_numpy() for name in sensors}
    slip: Floats | float = 0.0
    if leeway is not None and {"heel_deg", "stw_kn"} <= have:
        slip = np.nan_to_num(vectors.leeway_deg(value["heel_deg"], value["stw_kn"], leeway.coefficient))
    derived: dict[str, Floats] = {}
    if {"awa_deg", "aws_kn", "stw_kn", "heading_true_deg"} <= have:
        wind = vectors.true_wind_water(
            value["awa_deg"], value["aws_kn"], value["stw_kn"], value["heading_true_deg"], slip
        )
        derived |= wind._asdict()
    elif {"awa_deg", "aws_kn", "sog_kn", "heading_true_deg"} <= have:
        cog, _ = course_over_ground(value)
        derived |= vectors.true_wind_ground(
            value["awa_deg"], value["aws_kn"], value["heading_true_deg"], value["sog_kn"], cog
        )._asdict()
    if {"stw_kn", "heading_true_deg", "sog_kn"} <= have:
        cog, _ = course_over_ground(value)
        derived |= vectors.current(
            value["stw_kn"], value["heading_true_deg"], slip, value["sog_kn"], cog
        )._asdict()
    kept = [name for name in ("heading_true_deg", "awa_deg", "air_pressure_hpa") if name in have]
    return pd.DataFrame({name: value[name] for name in kept} | derived, index=sensors.index)


def _mean_vector(frame: pd.DataFrame, direction: str, speed: str) -> tuple[float, float]:
    if not column_known(frame, speed):
        return math.nan, math.nan
    east, north = vectors.east_north_kn(column(frame, direction), column(frame, speed))
    mean = vectors.polar_from_east_north(mean_known(east), mean_known(north))
    return float(mean.direction_deg), float(mean.speed_kn)


def _mean(frame: pd.DataFrame, name: str) -> float:
    return mean_known(column(frame, name))
