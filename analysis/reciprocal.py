"""Runs to and fro, told run by run, with their mean of means."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from analysis.calibration.beside import judged_runs
from analysis.calibration.classical import log_factor_from_runs, mean_of_means_weights
from analysis.errors import SettingError
from analysis.manoeuvres import Manoeuvres, Runs
from analysis.passage import column


@dataclass(frozen=True)
class Run:
    """One run: speed over the ground along its heading, the log's mean, the current along the first run [kn]."""

    start: pd.Timestamp
    end: pd.Timestamp
    heading_deg: float
    ground_kn: float
    shown_kn: float
    current_kn: float
    weight: float


@dataclass(frozen=True)
class RunsTold:
    """A set of runs: both means of means [kn] and the log factor; ``sd`` is None where the runs are too few."""

    runs: tuple[Run, ...]
    ground_kn: float
    shown_kn: float
    factor: float
    sd: float | None


def runs_told(frame: pd.DataFrame, manoeuvres: Manoeuvres) -> tuple[RunsTold, ...]:
    """Tell every set of reciprocal runs as the instruments showed them; sets without the log are left out."""
    return tuple(told for runs in manoeuvres.runs if (told := _told(frame, runs)) is not None)


def _told(frame: pd.DataFrame, runs: Runs) -> RunsTold | None:
    try:
        found = log_factor_from_runs(frame, runs)
    except SettingError:
        return None
    judged = judged_runs(frame, runs)
    weights = mean_of_means_weights(len(runs.legs))
    shown = np.array([np.nanmean(column(frame.loc[leg.start : leg.end], "stw_kn")) for leg in runs.legs])
    sense = (-1.0) ** np.arange(len(shown))
    ground = found.value * shown + sense * found.current_kn
    told = zip(
        runs.legs, ground.tolist(), shown.tolist(), found.current_kn.tolist(), weights.tolist(), strict=True
    )
    return RunsTold(
        tuple(Run(leg.start, leg.end, leg.heading_deg, *numbers) for leg, *numbers in told),
        found.speed_kn,
        float(weights @ shown),
        found.value,
        None if judged is None else judged.sd,
    )
