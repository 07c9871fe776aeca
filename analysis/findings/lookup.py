"""What several rules look up in a passage."""

import pandas as pd

from analysis.passage import Fact


def moment(time_s: float) -> pd.Timestamp:
    """The time of seconds since 1970-01-01 UTC, to the second."""
    return pd.Timestamp(round(time_s), unit="s", tz="UTC")


def number(fact: Fact, name: str) -> float:
    """A number of a fact; 0 where it has none of that name."""
    value = fact.numbers.get(name, 0.0)
    return float(value) if isinstance(value, int | float) else 0.0
