"""What the screening hands on: the frame without what no sensor can mean, and the account of it."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import pandas as pd


@dataclass(frozen=True)
class Unfit:
    """A stretch of one channel that is taken out, ends included, and why.

    ``reason`` is "stuck", "drop-out" or "jump"; ``value`` is what the channel stood at, for a jump how far it
    went [m].
    """

    channel: str
    start: pd.Timestamp
    end: pd.Timestamp
    reason: str
    value: float = float("nan")


@dataclass(frozen=True)
class Mistake:
    """A mistake in a whole channel, undone in the screened frame: ``true = factor x shown + offset_deg``.

    ``kind`` is "mirrored", "reversed", "unit", "sign" or "zero".
    """

    channel: str
    kind: str
    factor: float = 1.0
    offset_deg: float = 0.0
    sd: float | None = None
    evidence: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Doubt:
    """What stays in the frame but is weak: ``kind`` "noise" or "poor fix", its size, and for how long."""

    channel: str
    kind: str
    value: float
    duration_s: float
    evidence: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Screened:
    """The frame as shown without what is unfit, mistakes undone, and the account of both."""

    frame: pd.DataFrame
    unfit: tuple[Unfit, ...] = ()
    mistakes: tuple[Mistake, ...] = ()
    doubts: tuple[Doubt, ...] = ()
