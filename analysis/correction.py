"""The determined corrections, applied: ``true = factor x shown`` for speeds, ``true = shown + offset`` else."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np
import pandas as pd

from analysis import vectors
from analysis.calibration import Calibration
from analysis.calibration.changes import level_frame
from analysis.calibration.water import DEVIATION, deviation_curve_deg
from analysis.calibration.wind import upwash_shape
from analysis.derive import VANE_SD_DEG, Accuracy, Leeway
from analysis.errors import SettingError
from analysis.estimate import Estimate
from analysis.passage import Floats
from analysis.robust import robust_sd
from analysis.screening import Mistake, Screened

CORRECTED = ("stw_kn", "heading_true_deg", "awa_deg", "aws_kn", "air_pressure_hpa")
# What the user may set, and within which limits.
SETTABLE = {
    "log_factor": (0.3, 3.0),
    "log_zero_offset_kn": (-3.0, 3.0),
    "compass_constant_deg": (-180.0, 180.0),
    **dict.fromkeys(DEVIATION[1:], (-45.0, 45.0)),
    "vane_offset_deg": (-180.0, 180.0),
    "wind_speed_factor": (0.3, 3.0),
    "upwash_deg": (-15.0, 15.0),
    "leeway_coefficient": (0.0, 60.0),
    "barometer_offset_hpa": (-100.0, 100.0),
}
HEADING_SCATTER_DEG, LOG_SCATTER_KN = 0.7, 0.12  # second to second, of yachts' sensors in a seaway (judgment)
SCATTER_S = 15


def overruled(estimates: Mapping[str, Estimate], set_by_hand: Mapping[str, float]) -> dict[str, Estimate]:
    """Return the estimates with what the user set in their place, taken as exact.

    Raises SettingError for a name that cannot be set and a value out of its range.
    """
    given = dict(estimates)
    for name, value in set_by_hand.items():
        if name not in SETTABLE:
            raise SettingError(f"{name} cannot be set; give one of {', '.join(SETTABLE)}.")
        low, high = SETTABLE[name]
        if not low <= value <= high:
            raise SettingError(f"{name} = {value:g}: give a value from {low:g} to {high:g}.")
        unit = given[name].unit if name in given else "kn"
        given[name] = Estimate(value, 0.0, unit, True)
    return given


def remaining(estimates: Mapping[str, Estimate], set_by_hand: Mapping[str, float]) -> dict[str, Estimate]:
    """Return what is still to be corrected once what the user set is entered in the instruments."""
    left = dict(estimates)
    for name, value in set_by_hand.items():
        one = left.get(name)
        if one is None or one.value is None or one.sd is None:
            continue
        if one.unit == "1":
            left[name] = replace(one, value=one.value / value, sd=one.sd / value)
        else:
            left[name] = replace(one, value=one.value - value)
    return left


def neutral(name: str) -> float:
    """Return the value of a correction that changes nothing."""
    return 1.0 if name.endswith("_factor") else 0.0


def corrected_sensors(
    shown: pd.DataFrame, screened: Screened, calibration: Calibration, set_by_hand: Mapping[str, float]
) -> tuple[pd.DataFrame, dict[str, Estimate]]:
    """Return the screened frame as corrected, and the estimates it was corrected by.

    What changed on the way is levelled first. Raises SettingError for a correction that cannot be set.
    """
    overruled({}, set_by_hand)
    means = {name: one.value for name, one in calibration.estimates.items() if one.value is not None}
    level = level_frame(screened.frame, calibration.changes, means)
    estimates = overruled(calibration.estimates, beyond(screened.mistakes, set_by_hand))
    return correct(shown, level, estimates), estimates


def stated(estimates: Mapping[str, Estimate], mistakes: Sequence[Mistake]) -> dict[str, Estimate]:
    """Return the estimates as corrections of what the sensors show, the mistakes already undone put back in."""
    whole = dict(estimates)
    for name, mistake in _undone(mistakes):
        one = whole.get(name)
        if one is None or one.value is None or one.sd is None:
            continue
        if one.unit == "1":
            whole[name] = replace(one, value=one.value * mistake.factor, sd=one.sd * mistake.factor)
        else:
            whole[name] = replace(one, value=_turned_deg(one.value, mistake.offset_deg))
    return whole


def beyond(mistakes: Sequence[Mistake], set_by_hand: Mapping[str, float]) -> dict[str, float]:
    """Return corrections of what the sensors show as corrections of the screened frame, the mistakes undone."""
    rest = dict(set_by_hand)
    for name, mistake in _undone(mistakes):
        if name in rest and name.endswith("_factor"):
            rest[name] /= mistake.factor
        elif name in rest:
            rest[name] = _turned_deg(rest[name], -mistake.offset_deg)
    return rest


def _undone(mistakes: Sequence[Mistake]) -> Iterator[tuple[str, Mistake]]:
    """Mistakes that were a factor or an offset, by the name of the correction they are part of."""
    names = {"stw_kn": "log_factor", "aws_kn": "wind_speed_factor", "awa_deg": "vane_offset_deg"}
    return ((names[one.channel], one) for one in mistakes if one.channel in names and one.factor > 0)


def _turned_deg(value: float, by_deg: float) -> float:
    return float(vectors.wrap_signed_deg(np.array(value + by_deg)))


def correct(shown: pd.DataFrame, screened: pd.DataFrame, estimates: Mapping[str, Estimate]) -> pd.DataFrame:
    """Return the screened frame with every determined correction applied.

    ``estimates`` are corrections of the screened frame. A channel that differs from what the sensor showed has
    that beside it, as ``<channel>_shown``.
    """
    frame = screened.copy(deep=False)
    known = _determined(estimates)
    if "stw_kn" in frame and known.keys() & {"log_factor", "log_zero_offset_kn"}:
        speed = known.get("log_factor", 1.0) * frame["stw_kn"] + known.get("log_zero_offset_kn", 0.0)
        frame["stw_kn"] = speed.where(frame["stw_kn"] > 0, frame["stw_kn"]).clip(lower=0)
    if "heading_true_deg" in frame and known.keys() & set(DEVIATION):
        frame["heading_true_deg"] = _heading_deg(frame, known)
    if "awa_deg" in frame and known.keys() & {"vane_offset_deg", "upwash_deg"}:
        frame["awa_deg"] = _awa_deg(frame["awa_deg"].to_numpy(), known)
    if "aws_kn" in frame and "wind_speed_factor" in known:
        frame["aws_kn"] = known["wind_speed_factor"] * frame["aws_kn"]
    if "air_pressure_hpa" in frame and "barometer_offset_hpa" in known:
        frame["air_pressure_hpa"] = frame["air_pressure_hpa"] + known["barometer_offset_hpa"]
    for name in CORRECTED:
        if name in frame and not np.array_equal(frame[name], shown[name], equal_nan=True):
            frame[f"{name}_shown"] = shown[name]
    return frame


def leeway_of(estimates: Mapping[str, Estimate]) -> Leeway | None:
    """Return the leeway coefficient where it is determined, or was estimated along with what is.

    Log, compass and leeway are estimated together, so corrections of the former hold with the latter only.
    """
    one = estimates.get("leeway_coefficient")
    if one is None or one.value is None or one.sd is None:
        return None
    together = one.determined or _determined(estimates).keys() & {"log_factor", "compass_constant_deg"}
    return Leeway(one.value, one.sd) if together else None


def accuracy_of(estimates: Mapping[str, Estimate], frame: pd.DataFrame) -> Accuracy:
    """Return the one-sigmas of the sensors of a corrected frame.

    A determined correction leaves its own one-sigma. One that is not determined leaves all it may amount to, no
    less than the standard's. To either comes the scatter from second to second, of the wind as measured.
    """
    standard = Accuracy()

    def left(name: str, least: float) -> float:
        return sd_left(estimates.get(name), least)

    bend: Floats | float = 0.0
    if "awa_deg" in frame:
        bend = left("upwash_deg", 0.0) * np.nan_to_num(upwash_shape(frame["awa_deg"].to_numpy()))
    vane = np.sqrt(left("vane_offset_deg", VANE_SD_DEG) ** 2 + bend**2 + _scatter(frame, "awa_deg") ** 2)
    return Accuracy(
        heading_deg=float(np.hypot(compass_left_deg(estimates), HEADING_SCATTER_DEG)),
        log_share=left("log_factor", standard.log_share),
        log_kn=LOG_SCATTER_KN,
        vane_deg=vane,
        wind_share=left("wind_speed_factor", standard.wind_share),
        wind_kn=max(_scatter(frame, "aws_kn"), standard.wind_kn),
        yaw_deg=_scatter(frame, "heading_true_deg"),
    )


def sd_left(one: Estimate | None, least: float) -> float:
    """Return the one-sigma that a correction leaves: its own where determined, else all it may amount to.

    That is no less than ``least``, which counts too where nothing is estimated.
    """
    if one is None or one.value is None or one.sd is None:
        return least
    neutral = 1.0 if one.unit == "1" else 0.0
    return one.sd if one.determined else max(least, float(np.hypot(one.value - neutral, one.sd)))


def compass_left_deg(estimates: Mapping[str, Estimate]) -> float:
    """Return the one-sigma of the heading [deg] that the compass's corrections leave, typical of all headings."""
    constant = sd_left(estimates.get("compass_constant_deg"), Accuracy().heading_deg)
    curve = sum(sd_left(estimates.get(name), 0.0) ** 2 / 2 for name in DEVIATION[1:])
    return float(np.sqrt(constant**2 + curve))


def accuracy_as_shown(screened: Screened, estimates: Mapping[str, Estimate], shown: pd.DataFrame) -> Accuracy:
    """Return the one-sigmas of the sensors as shown: all that the estimates say is to be corrected is an error.

    ``estimates`` are corrections of the screened frame.
    """
    return accuracy_of(uncorrected(estimates, screened.mistakes), shown)


def uncorrected(estimates: Mapping[str, Estimate], mistakes: Sequence[Mistake]) -> dict[str, Estimate]:
    """Return the estimates as what is open in the sensors as shown: none counts as determined."""
    return {name: replace(one, determined=False) for name, one in stated(estimates, mistakes).items()}


def _scatter(frame: pd.DataFrame, name: str) -> float:
    """Robust spread of a sensor about its own mean over a quarter of a minute: what waves and gusts do."""
    if name not in frame or frame[name].notna().sum() < SCATTER_S:
        return 0.0
    shown = frame[name].interpolate().bfill()
    if name.endswith("_deg"):
        shown = pd.Series(np.unwrap(shown, period=360))
    about = shown - shown.rolling(SCATTER_S, center=True, min_periods=SCATTER_S // 2).mean()
    return robust_sd(about)


def _determined(estimates: Mapping[str, Estimate]) -> dict[str, float]:
    return {name: one.value for name, one in estimates.items() if one.determined and one.value is not None}


def _heading_deg(frame: pd.DataFrame, known: Mapping[str, float]) -> Floats:
    heading = frame["heading_true_deg"].to_numpy()
    variation = frame["variation_deg"].to_numpy() if "variation_deg" in frame else np.zeros(len(frame))
    compass = heading - np.nan_to_num(variation)
    deviation = deviation_curve_deg(compass, [known.get(name, 0.0) for name in DEVIATION])
    return vectors.wrap_direction_deg(heading + deviation)


def _awa_deg(shown_deg: Floats, known: Mapping[str, float]) -> Floats:
    offset = shown_deg + known.get("vane_offset_deg", 0.0)
    return vectors.wrap_signed_deg(offset + known.get("upwash_deg", 0.0) * upwash_shape(offset))
