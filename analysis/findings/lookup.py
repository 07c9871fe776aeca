"""What several rules look up in a passage."""

import numpy as np
import pandas as pd

from analysis.passage import Fact, Floats, Passage


def moment(time_s: float) -> pd.Timestamp:
    """The time of seconds since 1970-01-01 UTC, to the second."""
    return pd.Timestamp(round(time_s), unit="s", tz="UTC")


def readings_of(passage: Passage, channel: str) -> tuple[Floats, Floats]:
    """Times [s since 1970-01-01 UTC] and values of the source chosen for a channel, in order; empty without one."""
    chosen = next((one.key for one in passage.sources if one.chosen and one.key.channel == channel), None)
    one = passage.series.get(chosen) if chosen is not None else None
    if one is None:
        return np.empty(0), np.empty(0)
    time_s, value = one.time_s, one.value
    known = np.isfinite(time_s)
    return (time_s, value) if known.all() else (time_s[known], value[known])


def number(fact: Fact, name: str) -> float:
    """A number of a fact; 0 where it has none of that name."""
    value = fact.numbers.get(name, 0.0)
    return float(value) if isinstance(value, int | float) else 0.0
