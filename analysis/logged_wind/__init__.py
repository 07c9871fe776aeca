"""Why the true wind in the log differs from the one worked out from its sensors."""

from analysis.logged_wind.explain import Hypothesis, LoggedWind, explain_logged_wind

__all__ = ["Hypothesis", "LoggedWind", "explain_logged_wind"]
