"""Marks, legs and laylines."""

from .laylines import Layline, Laylines
from .lines import RouteLeg, leg_between
from .marks import Mark, Route, RoutesAsked
from .own import own_angles
from .sailed import OwnAngle, Sailing
from .working import RoutedLegs, Routes, tack_times, work_out_routes

__all__ = [
    "Layline",
    "Laylines",
    "Mark",
    "OwnAngle",
    "Route",
    "RouteLeg",
    "RoutedLegs",
    "Routes",
    "RoutesAsked",
    "Sailing",
    "leg_between",
    "own_angles",
    "tack_times",
    "work_out_routes",
]
