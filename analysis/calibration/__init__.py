"""Calibration: what each instrument of a passage was off by, how sure that is, and what would tell more."""

from analysis.calibration.calibrate import calibrate
from analysis.calibration.results import Calibration, CurrentSeries, Evidence, Excluded
from analysis.estimate import Estimate

__all__ = ["Calibration", "CurrentSeries", "Estimate", "Evidence", "Excluded", "calibrate"]
