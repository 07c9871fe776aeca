"""A boat at sea for studies: its own physics and noise, sharing nothing with what it puts to the test."""

from .cases import CLEAN, case, write_cases
from .faults import FAULTS
from .instruments import Errors
from .plans import PLANS
from .recorder import Fit, record
from .voyage import Truth, Voyage, draw_errors, sail

__all__ = [
    "CLEAN", "FAULTS", "PLANS", "Errors", "Fit", "Truth", "Voyage", "case", "draw_errors", "record", "sail",
    "write_cases",
]  # fmt: skip
