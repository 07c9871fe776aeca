"""The parts of a review beside the instruments, as the check tells them: one module each, listed in registry.py."""

from .registry import SECTIONS
from .section import Section

__all__ = ["SECTIONS", "Section"]
