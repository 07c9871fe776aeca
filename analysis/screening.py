"""What no sensor can mean: stuck and dropped-out stretches, and mistakes that hold for the whole passage."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import pandas as pd


@dataclass(frozen=True)
class Unfit:
    """A stretch of one channel that is taken out, ends included, and why."""

    channel: str
    start: pd.Timestamp
    end: pd.Timestamp
    reason: str


@dataclass(frozen=True)
class Mistake:
    """A mistake in a whole channel, undone in the screened frame: ``true = factor x shown + offset_deg``."""

    channel: str
    kind: str
    factor: float = 1.0
    offset_deg: float = 0.0
    evidence: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Screened:
    """The frame as shown without what is unfit, mistakes undone, and the account of both."""

    frame: pd.DataFrame
    unfit: tuple[Unfit, ...] = ()
    mistakes: tuple[Mistake, ...] = ()


def screen(frame: pd.DataFrame) -> Screened:
    """Take out of an aligned frame what its sensors cannot have meant."""
    return Screened(frame)
