"""Sentences as they are said: where each stands in a text, when it was said, and when it is due again."""

import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from analysis.errors import LogError, SettingError
from analysis.passage import Floats, Ints

DAY_S = 86400.0
LAP_PAUSE_S = 1.0  # between the last sentence and the first of the next lap
_CHUNK = 65536
_LINE_END = (13, 10)
Bytes = NDArray[np.uint8]


class Part(NamedTuple):
    """Some sentences: bytes ``start`` to ``end`` of ``text`` each, without a line end.

    ``time_s`` is seconds since 1970-01-01 UTC, NaN where not known.
    """

    text: Bytes
    start: Ints
    end: Ints
    time_s: Floats


@dataclass(frozen=True)
class Spoken:
    """All sentences of a log in the order of time; ``text``, ``start``, ``end`` and ``time_s`` as of a Part.

    ``untimed`` counts sentences left out because the time of others is known and theirs is not. Where no time
    is known at all, they stand in the order of the log.
    """

    text: Bytes
    start: Ints
    end: Ints
    time_s: Floats
    untimed: int = 0

    def __len__(self) -> int:
        return len(self.start)

    @property
    def timed(self) -> bool:
        """Whether the sentences have times."""
        return len(self) > 0 and bool(np.isfinite(self.time_s[0]))

    def lines(self, first: int, last: int) -> bytes:
        """Return the sentences ``first`` to ``last`` (not included), each ended by CR and LF."""
        length = self.end[first:last] - self.start[first:last] + len(_LINE_END)
        stop = np.cumsum(length)
        at = np.repeat(self.start[first:last] - (stop - length), length) + np.arange(length.sum())
        text = np.asarray(self.text[np.minimum(at, len(self.text) - 1)])
        text[stop - 2], text[stop - 1] = _LINE_END
        return text.tobytes()

    def chunks(self) -> Iterator[bytes]:
        """Yield all lines, some thousands at a time."""
        for first in range(0, len(self), _CHUNK):
            yield self.lines(first, min(first + _CHUNK, len(self)))

    def between(self, start_s: float | None, end_s: float | None) -> "Spoken":
        """Return the sentences from ``start_s`` to ``end_s``, both included.

        Seconds below one day are a time of day: of the first day on which that moment lies within the log.
        Raises SettingError where the log has no times, or nothing lies between.
        """
        if start_s is None and end_s is None:
            return self
        if not self.timed:
            raise SettingError(
                "The recording has no time, so no part of it can be named; leave --start and --end out."
            )
        first_s, last_s = self.time_s[[0, -1]].tolist()
        low_s = first_s if start_s is None else _moment(start_s, first_s, last_s)
        high_s = last_s if end_s is None else _moment(end_s, max(low_s, first_s), last_s)
        first, last = np.searchsorted(self.time_s, low_s), np.searchsorted(self.time_s, high_s, side="right")
        if first >= last:
            span = " to ".join(np.datetime_as_string((self.time_s[[0, -1]]).astype("datetime64[s]")))
            raise SettingError(
                f"No sentence lies between --start and --end; the recording runs from {span} UTC."
            )
        kept = slice(first, last)
        return replace(self, start=self.start[kept], end=self.end[kept], time_s=self.time_s[kept])


def _moment(given_s: float, first_s: float, last_s: float) -> float:
    if given_s >= DAY_S:
        return given_s
    day_s = first_s - first_s % DAY_S
    moments = np.arange(day_s, last_s + 1, DAY_S) + given_s
    within = moments[(moments >= first_s) & (moments <= last_s)]
    return float(within[0]) if len(within) else day_s + given_s


@dataclass(frozen=True)
class Pacing:
    """When sentences said at ``time_s`` (rising) are due again, ``pace`` times as fast; 0 is all at once.

    With ``loop`` they begin anew a second after the last one, for ever; sentences are then numbered on.
    """

    time_s: Floats
    pace: float
    loop: bool

    def __post_init__(self) -> None:
        if len(self.time_s) == 0:
            raise LogError("Not one sentence of the recording is fit to be sent again; choose another.")
        if not self.pace >= 0 or not np.isfinite(self.pace):
            raise SettingError(
                f"pace {self.pace:g}: give 1 for as it was, 2 for twice as fast, 0 for all at once."
            )
        if self.pace > 0 and not np.isfinite(self.time_s).all():
            raise SettingError("The recording has no time to keep; send it as fast as it goes with --pace 0.")

    @property
    def total(self) -> int:
        """How many sentences there are to send; no end where they loop."""
        return sys.maxsize if self.loop else len(self.time_s)

    def due(self, elapsed_s: float) -> int:
        """Return how many sentences are due so long after the beginning."""
        if self.pace == 0:
            return self.total
        lap, into_s = (
            divmod(elapsed_s * self.pace, self._lap_s) if self.loop else (0.0, elapsed_s * self.pace)
        )
        within = int(np.searchsorted(self.time_s, self.time_s[0] + into_s, side="right"))
        return int(lap) * len(self.time_s) + within

    def wait_s(self, number: int, elapsed_s: float) -> float:
        """Return how long it is until sentence ``number`` (from 0) is due, 0 where it is already."""
        if self.pace == 0:
            return 0.0
        lap, within = divmod(number, len(self.time_s))
        at_s = lap * self._lap_s + float(self.time_s[within] - self.time_s[0])
        return max(0.0, at_s / self.pace - elapsed_s)

    @property
    def _lap_s(self) -> float:
        return float(self.time_s[-1] - self.time_s[0]) + LAP_PAUSE_S
