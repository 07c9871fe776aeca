"""What no sensor can mean: stuck and dropped-out stretches, and mistakes that hold for the whole passage."""

from analysis.screening.results import Doubt, Mistake, Screened, Unfit
from analysis.screening.screen import screen

__all__ = ["Doubt", "Mistake", "Screened", "Unfit", "screen"]
