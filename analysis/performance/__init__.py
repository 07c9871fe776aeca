"""What the boat makes of the wind: her polar from steady sailing, and how she sails against a table of it."""

from analysis.lasting import SensorErrors, sensor_errors
from analysis.polar_table import PolarTable

from .against import Against, Comparison, compare
from .asked import PolarAsked
from .asymmetry import Tacks
from .best import BestAngle
from .cells import TACKS, Cells, Grid
from .minutes import Minutes, find_minutes
from .polar import Polar, Sailed, Smooth, sailed_polar
from .surface import Surface, fit_surface

__all__ = [
    "TACKS",
    "Against",
    "BestAngle",
    "Cells",
    "Comparison",
    "Grid",
    "Minutes",
    "Polar",
    "PolarAsked",
    "PolarTable",
    "Sailed",
    "SensorErrors",
    "Smooth",
    "Surface",
    "Tacks",
    "compare",
    "find_minutes",
    "fit_surface",
    "sailed_polar",
    "sensor_errors",
]
