"""The joint calibration of a passage: steady means, water block, wind block, and what they leave open."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pandas as pd

from analysis.calibration.barometer import REFERENCE
from analysis.calibration.beside import methods_beside
from analysis.calibration.blocks import steady_blocks
from analysis.calibration.changes import find_changes, level, level_frame
from analysis.calibration.full_turns import full_turn_evidence
from analysis.calibration.needs import PLANS, WATER_TAKES, WIND_TAKES, determined, needs, with_sensors
from analysis.calibration.results import Calibration, CurrentSeries, Evidence, Excluded, Sailed
from analysis.calibration.water import (
    BELIEFS,
    DEVIATION,
    LEEWAY,
    Belief,
    WaterFit,
    deviation_at,
    fit_water,
    misfit_spans,
)
from analysis.calibration.wind import WIND_BELIEFS, WindFit, fit_wind
from analysis.estimate import Estimate, Need
from analysis.manoeuvres import Manoeuvres, find_manoeuvres

KNOWN_CURRENT_KN = 0.15
SECTOR_BLOCKS = 9  # three minutes
HEEL = Need("Record the heel, from an attitude sensor")
NUISANCES = ("log_zero_offset_kn", *LEEWAY[1:])  # told only where the model took them in


def calibrate(
    frame: pd.DataFrame, manoeuvres: Manoeuvres | None = None, given: Mapping[str, float] | None = None
) -> Calibration:
    """Estimate every correction a passage speaks of, each with its one-sigma, and the current.

    ``frame`` is the screened frame: UTC index at about 1 s, channels of the conventions, NaN where
    missing, columns absent where not logged. ``manoeuvres`` saves finding them again. ``given`` are corrections
    known from elsewhere, by the contract's names: they hold, and the others are estimated with them. A passage too
    short, at rest or without the instruments yields estimates that are not determined, never an error.
    """
    given = given or {}
    water_beliefs, wind_beliefs = _held(BELIEFS, given), _held(WIND_BELIEFS, given)
    manoeuvres = manoeuvres or find_manoeuvres(frame)
    steady = steady_blocks(frame, manoeuvres.turning)
    water, changes = find_changes(steady.blocks, fit_water(steady.blocks, water_beliefs), water_beliefs)
    means = {} if water is None else {name: water.value(name) for name in BELIEFS}
    dry, freed = level(steady.dry, changes, means), level_frame(frame, changes, means)
    wind = fit_wind(dry, water, _turned(freed, manoeuvres, water), wind_beliefs)
    rejected = dict(steady.rejected)
    misfits: tuple[Excluded, ...] = ()
    if water is not None and water.excluded.any():
        rejected["does not fit the rest"] = int(water.excluded.sum())
        misfits = misfit_spans(steady.blocks, water.excluded)
    return Calibration(
        estimates=_estimates(frame, water, wind, water_beliefs, wind_beliefs),
        current=_current(water) if water is not None else None,
        excluded=tuple(sorted((*steady.excluded, *misfits), key=lambda span: span.start)),
        evidence=(
            *_evidence(water, wind),
            *(methods_beside(freed, manoeuvres, water) if water is not None else ()),
        ),
        used=len(water.blocks) if water is not None else 0,
        rejected=rejected,
        converged=water.converged if water is not None else True,
        changes=changes,
        sailed=_sailed(water) if water is not None else None,
    )


def _held(beliefs: Mapping[str, Belief], given: Mapping[str, float]) -> dict[str, Belief]:
    """Beliefs with those held that are known from elsewhere."""
    return {name: one.at(given[name]) if name in given else one for name, one in beliefs.items()}


def _turned(frame: pd.DataFrame, manoeuvres: Manoeuvres, water: WaterFit | None) -> tuple[Evidence, ...]:
    """Evidence of the full turns, with the compass corrected as far as it is known."""
    turns = manoeuvres.of_kind("full turn")
    if not turns or "heading_true_deg" not in frame:
        return ()
    heading = frame["heading_true_deg"].to_numpy(dtype=float)
    compass = heading - frame.get("variation_deg", pd.Series(0.0, frame.index)).fillna(0.0).to_numpy(
        dtype=float
    )
    return full_turn_evidence(frame.assign(heading_true_deg=heading + deviation_at(compass, water)), turns)


def _estimates(
    frame: pd.DataFrame,
    water: WaterFit | None,
    wind: WindFit | None,
    water_beliefs: Mapping[str, Belief],
    wind_beliefs: Mapping[str, Belief],
) -> dict[str, Estimate]:
    fits: list[tuple[Mapping[str, Belief], WaterFit | WindFit | None]] = [
        (water_beliefs, water),
        (wind_beliefs, wind),
    ]
    estimates, open_names = {}, []
    sound = water is not None and water.courses_differ and water.converged
    for beliefs, fit in fits:
        for name, belief in beliefs.items():
            if belief.given:
                estimates[name] = Estimate(belief.mean, 0.0, belief.unit, True)
            elif fit is None or name not in fit.names:
                if name in NUISANCES:
                    continue
                estimates[name] = Estimate(None, None, belief.unit, False)
            else:
                sd = fit.sd(name)
                known = determined(sd, belief) and (fit is not water or sound)
                estimates[name] = Estimate(fit.value(name), sd, belief.unit, known)
            if not estimates[name].determined and name in PLANS:
                open_names.append(name)
    wanted = {
        name: with_sensors(need, frame, WIND_TAKES if name in WIND_BELIEFS else WATER_TAKES)
        for name, need in needs(open_names, water, wind).items()
    }
    if water is not None and not water.heel_known:
        for name in LEEWAY[1:]:
            estimates.pop(name, None)
        if not water_beliefs["leeway_coefficient"].given:
            estimates["leeway_coefficient"] = Estimate(None, None, BELIEFS["leeway_coefficient"].unit, False)
            wanted["leeway_coefficient"] = HEEL
    estimates["barometer_offset_hpa"] = Estimate(None, None, "hPa", False)
    wanted["barometer_offset_hpa"] = REFERENCE
    return {name: replace(one, need=wanted.get(name)) for name, one in estimates.items()}


def _sailed(water: WaterFit) -> Sailed:
    sector = np.floor((water.blocks.compass_deg + 22.5) / 45).astype(int) % 8
    often = np.flatnonzero(np.bincount(sector, minlength=8) >= SECTOR_BLOCKS)
    places = [water.names.index(name) for name in DEVIATION]
    return Sailed(
        float(water.blocks.stw_kn.mean()),
        tuple((45.0 * often).tolist()),
        water.courses_differ,
        water.covariance[np.ix_(places, places)],
    )


def _evidence(water: WaterFit | None, wind: WindFit | None) -> tuple[Evidence, ...]:
    joint: tuple[Evidence, ...] = ()
    if water is not None:
        joint = tuple(
            Evidence("joint estimate", name, water.value(name), water.sd(name), len(water.blocks))
            for name in water.names
            if not water.beliefs[name].given and (name not in LEEWAY or water.heel_known)
        )
    return (*joint, *(wind.evidence if wind is not None else ()))


def _current(water: WaterFit) -> CurrentSeries:
    """Spell the current at its knots, polar and in components."""
    level = water.current_at_knots
    covariance = water.current_covariance
    north, east = np.arange(len(level)) * 4, np.arange(len(level)) * 4 + 2
    nn, ee, ne = covariance[north, north], covariance[east, east], covariance[north, east]
    drift = np.maximum(np.abs(level), 1e-9)
    n, e = level.real / drift, level.imag / drift
    along = np.sqrt(np.maximum(n**2 * nn + 2 * n * e * ne + e**2 * ee, 0))
    across = np.sqrt(np.maximum(e**2 * nn - 2 * n * e * ne + n**2 * ee, 0))
    component = np.sqrt((nn + ee) / 2)
    time = pd.to_datetime(water.knots.time_s, unit="s", utc=True)
    return CurrentSeries(
        pd.DatetimeIndex(time),
        np.angle(level, deg=True) % 360,
        np.abs(level),
        np.minimum(np.degrees(across / drift), 180 / np.sqrt(3)),
        along,
        level.real,
        level.imag,
        component,
        bool(np.median(component) < KNOWN_CURRENT_KN and (water.courses_differ or _both_given(water))),
    )


def _both_given(water: WaterFit) -> bool:
    return all(water.beliefs[name].given for name in ("log_factor", DEVIATION[0]))
