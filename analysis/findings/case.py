"""What every rule may look at."""

from dataclasses import dataclass

import pandas as pd

from analysis.agreement import Agreement
from analysis.calibration import Calibration
from analysis.calibration.barometer import BarometerCheck
from analysis.logged_wind import LoggedWind
from analysis.manoeuvres import Manoeuvres
from analysis.passage import Passage
from analysis.screening import Screened


@dataclass(frozen=True)
class Case:
    """A passage with all that was worked out about it, before judgment.

    ``passage.frame`` is as shown, ``screened.frame`` the same without what no sensor can mean, ``frame`` the
    corrected and derived one with the ``_shown`` columns. ``barometer`` is the check against a reference, None
    where none was given.
    """

    passage: Passage
    screened: Screened
    manoeuvres: Manoeuvres
    calibration: Calibration
    agreement: tuple[Agreement, ...]
    logged_wind: LoggedWind | None
    frame: pd.DataFrame
    barometer: BarometerCheck | None = None
