"""Why the true wind in the log differs from the one worked out from its sensors."""

from dataclasses import dataclass

import pandas as pd

from analysis.calibration import Calibration


@dataclass(frozen=True)
class Hypothesis:
    """One way the boat's display may have worked out the true wind, and the share of the difference it explains."""

    id: str
    explained: float


@dataclass(frozen=True)
class LoggedWind:
    """The logged true wind against the recomputed one, hypotheses ranked best first."""

    hypotheses: tuple[Hypothesis, ...]


def explain_logged_wind(frame: pd.DataFrame, calibration: Calibration) -> LoggedWind | None:
    """Rank the hypotheses; None where no true wind is logged."""
    return None
