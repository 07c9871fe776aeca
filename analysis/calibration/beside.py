"""The methods crews trust, run where the passage has what they take, beside the joint estimate."""

from collections.abc import Iterable, Iterator
from dataclasses import replace

import numpy as np
import pandas as pd

from analysis.calibration.blocks import RAD, Blocks
from analysis.calibration.classical import (
    RunsResult,
    log_factor_from_company,
    log_factor_from_marks,
    log_factor_from_runs,
    swing,
)
from analysis.calibration.results import Calibration, Evidence
from analysis.calibration.water import BELIEFS, DEVIATION, WaterFit
from analysis.errors import SettingError
from analysis.estimate import Estimate
from analysis.manoeuvres import Manoeuvres, Runs, find_mark_runs

Position = tuple[float, float]

LEAST_RUNS = 4  # fewer do not free the speed of a current that changes
RUN_CURRENT_KN_H = 0.2  # what is left of a turning tide over four runs of unlike length (judgment)
UPRIGHT_DEG = 8.0  # heeled more, leeway turns with the wind and is read as deviation
LEEWAY_SD_DEG = 1.0
LAG_S = 1.5  # of the compass behind the GNSS, or the other way: shows as a constant while turning


def methods_beside(frame: pd.DataFrame, manoeuvres: Manoeuvres, water: WaterFit) -> tuple[Evidence, ...]:
    """Evidence on log factor and compass from runs, from full turns and from the speed over the ground."""
    return (*_from_runs(frame, manoeuvres), *_from_swings(frame, manoeuvres), _from_ground(water))


def from_marks(frame: pd.DataFrame, marks: tuple[Position, Position]) -> Evidence:
    """Log factor from the runs between two positions (latitude and longitude in degrees).

    Raises SettingError where the track holds no runs both ways between them.
    """
    found = log_factor_from_marks(frame, find_mark_runs(frame, *marks))
    return Evidence("measured distance", "log_factor", found.value, found.sd, found.used)


def from_company(frame: pd.DataFrame, company: pd.DataFrame) -> Evidence:
    """Log factor against a vessel in company; see ``log_factor_from_company``, also for what it raises."""
    found = log_factor_from_company(frame, company)
    return Evidence("vessel in company", "log_factor", found.value, found.sd, found.used)


def joined(calibration: Calibration, evidence: Iterable[Evidence]) -> Calibration:
    """Add evidence; it decides where the joint estimate does not determine the quantity and it does."""
    estimates, given = dict(calibration.estimates), tuple(evidence)
    for one in sorted(given, key=lambda one: -one.sd):
        belief = BELIEFS[one.subject]
        if not calibration.estimates[one.subject].determined and one.sd < belief.useful_sd:
            estimates[one.subject] = Estimate(one.value, one.sd, belief.unit, True)
    return replace(calibration, estimates=estimates, evidence=(*calibration.evidence, *given))


def judged_runs(frame: pd.DataFrame, runs: Runs) -> RunsResult | None:
    """Find the mean of means of runs, its one-sigma with what a turning tide leaves; None where they do not serve."""
    speeds = np.array([leg.stw_kn for leg in runs.legs])
    if len(speeds) < LEAST_RUNS or not np.isfinite(speeds).all() or not speeds.min() > 1:
        return None
    try:
        found = log_factor_from_runs(frame, runs)
    except SettingError:
        return None
    hours = (runs.legs[-1].end - runs.legs[0].start).total_seconds() / 3600
    return replace(found, sd=float(np.hypot(found.sd, RUN_CURRENT_KN_H * hours / 4 / speeds.mean())))


def _from_runs(frame: pd.DataFrame, manoeuvres: Manoeuvres) -> Iterator[Evidence]:
    for runs in manoeuvres.runs:
        found = judged_runs(frame, runs)
        if found is not None:
            yield Evidence("runs to and fro", "log_factor", found.value, found.sd, found.used)


def _from_swings(frame: pd.DataFrame, manoeuvres: Manoeuvres) -> Iterator[Evidence]:
    for turn in manoeuvres.of_kind("full turn"):
        rows = frame.loc[turn.start : turn.end]
        heel = rows["heel_deg"].abs().median() if "heel_deg" in rows else np.nan
        if heel > UPRIGHT_DEG or not {"sog_kn", "cog_deg"} <= set(rows):
            continue
        try:
            card = swing(frame, turn)
        except SettingError:
            continue
        lag_deg = LAG_S * abs(turn.change_deg) / max((turn.end - turn.start).total_seconds(), 1.0)
        sd = np.sqrt(np.diag(card.covariance) + np.square([lag_deg, LEEWAY_SD_DEG, LEEWAY_SD_DEG, 0.0, 0.0]))
        for name, value, spread in zip(DEVIATION, card.coefficients_deg, sd.tolist(), strict=True):
            yield Evidence("full turn", name, value, spread, card.used)


def _from_ground(water: WaterFit) -> Evidence:
    """Log factor against SOG along the heading, its one-sigma the bias that the current there may bring."""
    blocks: Blocks = water.blocks
    along = np.real(blocks.ground * np.exp(-1j * RAD * blocks.heading_deg))
    current = water.knots.weights(blocks.time_s) @ water.current_at_knots
    stw = float(blocks.stw_kn.mean())
    drift = float(np.sqrt(np.mean(np.abs(current) ** 2)))
    return Evidence(
        "speed over the ground", "log_factor", float(along.mean()) / stw, drift / stw, len(blocks)
    )
