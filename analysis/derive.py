"""From aligned sensors to what the crew wants: true heading, leeway, true wind, current."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import pandas as pd

from analysis import earth, vectors
from analysis.passage import Fact, Floats, seconds_of

PLAUSIBLE_VARIATION_DEG = 5.0
NOTED_VARIATION_DEG = 1.0
MODELLED_POSITIONS = 20_000

SOG_SD_KN = 0.1  # IEC 61108-1: 2 % or 0.2 kn, from memory
GNSS_VELOCITY_SD_KN = 0.05 * 3600 / 1852  # COG error = 0.05 m/s over speed, Langley 2004
VANE_SD_DEG = 2.5  # half of the 5 deg of WMO-No. 8 annex 1.A, from memory
LEEWAY_UNKNOWN_SD_DEG = 3.0  # spread of published leeway for yachts on the wind, 2 to 12 deg
LEEWAY_MODEL_SD_DEG = 0.5  # of k * heel / STW**2 even where k is known (judgment)


@dataclass(frozen=True)
class Leeway:
    """The coefficient k in leeway = k * heel / STW**2 [deg kn2 / deg], and its one-sigma."""

    coefficient: float
    sd: float


@dataclass(frozen=True)
class Accuracy:
    """One-sigmas of the sensors of a passage: angles in deg, speeds as a share or in kn, whichever is greater.

    By default those of sensors that meet the published accuracy standards; half of the 95 % figures where
    those are stated.
    """

    heading_deg: float = 1.0  # MSC.116(73) 4.3.2: static error of a heading device below 1 deg
    log_share: float = 0.01  # IMO A.824(19): 2 % of speed or 0.2 kn, from memory
    log_kn: float = 0.1
    vane_deg: Floats | float = VANE_SD_DEG
    wind_share: float = 0.05  # WMO-No. 8 annex 1.A: 10 % or 0.5 m/s, from memory
    wind_kn: float = 0.5
    yaw_deg: float = (
        0.0  # of the bow about the path: the leeway of the moment, not the course through the water
    )


def true_heading(frame: pd.DataFrame, as_logged: bool = False) -> tuple[pd.DataFrame, list[Fact]]:
    """Settle variation and true heading of an aligned frame.

    Variation is the log's own where it lies within 5 deg of the World Magnetic Model of the log's date, else the
    model's; a difference above 1 deg is a fact. A magnetic heading becomes true by it wherever it is the fuller
    column; a heading logged as true is taken as it is. ``as_logged`` takes that one whichever is fuller.
    """
    frame = frame.copy(deep=False)
    facts: list[Fact] = []
    variation = _variation(frame, facts)
    if variation is not None:
        frame["variation_deg"] = variation
    if "heading_mag_deg" in frame and variation is not None:
        from_magnetic = vectors.wrap_direction_deg(frame["heading_mag_deg"].to_numpy() + variation)
        logged = frame["heading_true_deg"].notna().sum() if "heading_true_deg" in frame else 0
        if np.isfinite(from_magnetic).sum() > 0.9 * logged and not (as_logged and logged):
            frame["heading_true_deg"] = from_magnetic
    return frame, facts


def _variation(frame: pd.DataFrame, facts: list[Fact]) -> Floats | None:
    logged = _carried(frame["variation_deg"].to_numpy()) if "variation_deg" in frame else None
    model = _modelled(frame) if {"lat_deg", "lon_deg"} <= set(frame) else None
    if model is None or np.isnan(model).all():
        return logged
    if logged is None or np.isnan(logged).all():
        return model
    difference = float(np.nanmedian(vectors.wrap_signed_deg(logged - model)))
    if abs(difference) > NOTED_VARIATION_DEG:
        used = "log's" if abs(difference) <= PLAUSIBLE_VARIATION_DEG else "model's"
        facts.append(
            Fact(
                "variation-differs",
                f"Variation in the recording ({np.nanmedian(logged):+.1f} deg) differs by {difference:+.1f} deg from "
                f"the World Magnetic Model ({np.nanmedian(model):+.1f} deg); the {used} is used.",
                {"logged_deg": float(np.nanmedian(logged)), "model_deg": float(np.nanmedian(model))},
            )
        )
    return logged if abs(difference) <= PLAUSIBLE_VARIATION_DEG else model


def _modelled(frame: pd.DataFrame) -> Floats | None:
    """Variation of the model along the track, taken at no more than some 20,000 positions."""
    fixes = np.flatnonzero(frame["lat_deg"].notna() & frame["lon_deg"].notna())
    if fixes.size == 0:
        return None
    fixes = fixes[:: 1 + len(fixes) // MODELLED_POSITIONS]
    track = frame[["lat_deg", "lon_deg"]].iloc[fixes]
    variation = np.full(len(frame), np.nan)
    variation[fixes] = earth.variation_along(
        track["lat_deg"].to_numpy(), track["lon_deg"].to_numpy(), seconds_of(track)
    )
    return _carried(variation)


def _carried(value: Floats) -> Floats:
    """Fill a slowly changing quantity between and beyond its known values."""
    known = np.flatnonzero(~np.isnan(value))
    if known.size == 0:
        return value
    turned = np.unwrap(value[known], period=360)
    return vectors.wrap_signed_deg(np.interp(np.arange(len(value)), known, turned))


def derive(
    frame: pd.DataFrame, leeway: Leeway | None = None, accuracy: Accuracy | None = None
) -> pd.DataFrame:
    """Add leeway, both true winds, VMG and current with their one-sigmas to a frame of sensors.

    Columns that cannot be derived are left out. Where the leeway coefficient or heel is not known leeway counts
    as 0 with a one-sigma of 3 deg; without the coefficient no leeway column is made. ``accuracy`` is that of the
    sensors.
    """
    frame = frame.copy(deep=False)
    have = set(frame)
    sensor: dict[str, Floats] = {str(name): frame[name].to_numpy() for name in frame}
    accuracy = accuracy or Accuracy()
    slip = _Slip(0.0, LEEWAY_UNKNOWN_SD_DEG)
    if leeway is not None and {"heel_deg", "stw_kn"} <= have:
        known = _slip(sensor["heel_deg"], sensor["stw_kn"], leeway)
        frame["leeway_deg"] = known.deg
        frame["leeway_deg_sd"] = np.hypot(known.sd_deg, accuracy.yaw_deg)
        sd = np.nan_to_num(known.sd_deg, nan=LEEWAY_UNKNOWN_SD_DEG)
        slip = _Slip(np.nan_to_num(known.deg), sd)
    if {"awa_deg", "aws_kn", "stw_kn", "heading_true_deg"} <= have:
        _add_water_wind(frame, sensor, slip, accuracy)
    if {"awa_deg", "aws_kn", "sog_kn", "heading_true_deg"} <= have:
        _add_ground_wind(frame, sensor, accuracy)
    if {"stw_kn", "heading_true_deg", "sog_kn"} <= have:
        _add_current(frame, sensor, slip, accuracy)
    return frame


class _Slip(NamedTuple):
    """Leeway and its one-sigma [deg]."""

    deg: Floats | float
    sd_deg: Floats | float


def _slip(heel_deg: Floats, stw_kn: Floats, leeway: Leeway) -> _Slip:
    deg = vectors.leeway_deg(heel_deg, stw_kn, leeway.coefficient)
    by_coefficient = vectors.leeway_deg(heel_deg, stw_kn, leeway.sd)
    return _Slip(deg, np.hypot(by_coefficient, LEEWAY_MODEL_SD_DEG))


def _share(value: Floats, share: float, floor: float) -> Floats:
    return np.maximum(share * np.abs(value), floor)


def course_over_ground(sensor: Mapping[str, Floats]) -> tuple[Floats, Floats]:
    """COG and its one-sigma; a boat at rest has none, which matters little to a vector of length zero."""
    sog = sensor["sog_kn"]
    cog = sensor.get("cog_deg", np.full(len(sog), np.nan))
    at_rest = np.isnan(cog) & (sog < SOG_SD_KN)
    spread = np.degrees(GNSS_VELOCITY_SD_KN / np.maximum(sog, GNSS_VELOCITY_SD_KN))
    return np.where(at_rest, 0.0, cog), spread


def _add_water_wind(frame: pd.DataFrame, sensor: dict[str, Floats], slip: _Slip, accuracy: Accuracy) -> None:
    awa, aws, stw, heading = (sensor[n] for n in ("awa_deg", "aws_kn", "stw_kn", "heading_true_deg"))
    wind = vectors.true_wind_water(awa, aws, stw, heading, slip.deg)
    spread = vectors.true_wind_water_sd(
        awa,
        aws,
        stw,
        heading,
        slip.deg,
        awa_sd_deg=accuracy.vane_deg,
        aws_sd_kn=_share(aws, accuracy.wind_share, accuracy.wind_kn),
        stw_sd_kn=_share(stw, accuracy.log_share, accuracy.log_kn),
        heading_sd_deg=accuracy.heading_deg,
        leeway_sd_deg=slip.sd_deg,
    )
    _add(frame, wind._asdict(), spread._asdict())
    track = vectors.water_track(stw, heading, slip.deg)
    frame["vmg_kn"] = vectors.made_good_kn(track.direction_deg, track.speed_kn, wind.twd_water_deg)


def _add_ground_wind(frame: pd.DataFrame, sensor: dict[str, Floats], accuracy: Accuracy) -> None:
    cog, cog_sd = course_over_ground(sensor)
    awa, aws, heading, sog = (sensor[n] for n in ("awa_deg", "aws_kn", "heading_true_deg", "sog_kn"))
    wind = vectors.true_wind_ground(awa, aws, heading, sog, cog)
    spread = vectors.true_wind_ground_sd(
        awa,
        aws,
        heading,
        sog,
        cog,
        awa_sd_deg=accuracy.vane_deg,
        aws_sd_kn=_share(aws, accuracy.wind_share, accuracy.wind_kn),
        heading_sd_deg=accuracy.heading_deg,
        sog_sd_kn=SOG_SD_KN,
        cog_sd_deg=cog_sd,
    )
    _add(frame, wind._asdict(), spread._asdict())


def _add_current(frame: pd.DataFrame, sensor: dict[str, Floats], slip: _Slip, accuracy: Accuracy) -> None:
    cog, cog_sd = course_over_ground(sensor)
    stw, heading, sog = (sensor[n] for n in ("stw_kn", "heading_true_deg", "sog_kn"))
    flow = vectors.current(stw, heading, slip.deg, sog, cog)
    spread = vectors.current_sd(
        stw,
        heading,
        slip.deg,
        sog,
        cog,
        stw_sd_kn=_share(stw, accuracy.log_share, accuracy.log_kn),
        heading_sd_deg=accuracy.heading_deg,
        leeway_sd_deg=slip.sd_deg,
        sog_sd_kn=SOG_SD_KN,
        cog_sd_deg=cog_sd,
    )
    _add(frame, flow._asdict(), spread._asdict())


def _add(frame: pd.DataFrame, values: dict[str, Floats], spreads: dict[str, Floats]) -> None:
    for name, value in values.items():
        frame[name] = value
        frame[f"{name}_sd"] = spreads[name]


def mean_current(frame: pd.DataFrame) -> tuple[float, float, float]:
    """Vector mean of the derived current: set [deg], drift [kn], and one-sigma of the drift [kn].

    Sensor errors last, so the one-sigma is the typical one of a single second, not divided by their number.
    """
    east, north = vectors.east_north_kn(frame["set_deg"].to_numpy(), frame["drift_kn"].to_numpy())
    mean = vectors.polar_from_east_north(np.nanmean(east), np.nanmean(north))
    return float(mean.direction_deg), float(mean.speed_kn), float(np.nanmedian(frame["drift_kn_sd"]))
