"""A boat at sea for studies: its own physics and noise, sharing nothing with what it puts to the test."""

from .plans import PLANS
from .voyage import Errors, Truth, Voyage, draw_errors, sail

__all__ = ["PLANS", "Errors", "Truth", "Voyage", "draw_errors", "sail"]
