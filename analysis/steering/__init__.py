"""Steering: the rudder sensor and how the boat answers it, how steadily she is steered, what she does in gusts."""

from analysis.steering.gusts import GustResponse, Gusts, watch_gusts
from analysis.steering.response import Response
from analysis.steering.rudder import TOLERANCE_DEG, Rudder, Still, watch_rudder
from analysis.steering.steadiness import ByAngle, Comparison, Steadiness, watch_steadiness

__all__ = [
    "TOLERANCE_DEG",
    "ByAngle",
    "Comparison",
    "GustResponse",
    "Gusts",
    "Response",
    "Rudder",
    "Steadiness",
    "Still",
    "watch_gusts",
    "watch_rudder",
    "watch_steadiness",
]
