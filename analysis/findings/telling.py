"""How numbers are said: with their ±, corrections as what to enter."""

from collections.abc import Sequence

import pandas as pd

from analysis.estimate import SIGMAS_95


def within(sd: float | None, unit: str, least: float = 0.1) -> str:
    """The ± of a number, 1.96 one-sigmas, never finer than ``least``: "± 0.4°"."""
    return f"± {max(SIGMAS_95 * (sd or 0.0), least):.1f}{unit}"


def clock(time: pd.Timestamp) -> str:
    """A time of day as a log book has it: "10:15 UTC"."""
    return f"{time:%H:%M} UTC"


def iso(time: pd.Timestamp) -> str:
    """A time for a machine."""
    return time.isoformat().replace("+00:00", "Z")


def listed(names: Sequence[str], last: str = "and") -> str:
    """Join words: "a, b and c"."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} {last} {names[-1]}"


def times(count: int) -> str:
    """How often: once, or so many times."""
    return "once" if count == 1 else f"{count:,} times"
