"""What the user may say of the polar."""

from dataclasses import dataclass

from analysis.polar_table import PolarTable


@dataclass(frozen=True)
class PolarAsked:
    """``table`` is the polar to hold the passage against, None for the passage's own."""

    table: PolarTable | None = None
