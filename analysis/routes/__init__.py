"""Marks, legs and laylines."""

from .laylines import Layline, Laylines
from .lines import RouteLeg, leg_between
from .marks import Mark, Route, RoutesAsked
from .working import RoutedLegs, Routes, tack_times, work_out_routes

__all__ = [
    "Layline",
    "Laylines",
    "Mark",
    "Route",
    "RouteLeg",
    "RoutedLegs",
    "Routes",
    "RoutesAsked",
    "leg_between",
    "tack_times",
    "work_out_routes",
]
