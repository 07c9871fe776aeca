"""Whether an engine turns, from what engines and shafts say of their speed."""

import numpy as np

from analysis.passage import Bools, Floats, Passage, Series

# How long a reading counts: engine monitors speak every few seconds to half a minute (judgment).
COUNTS_S = 60.0


def engine_running(passage: Passage, time_s: Floats) -> Bools | None:
    """Tell for times [s since 1970 UTC] whether any engine turned; None where none speaks.

    All sources count, of two engines either, each by its last reading within a minute. Shafts count, ahead or
    astern, only where no engine speaks: a propeller may turn them under sail.
    """
    known = _speaking(passage, "engine_rpm") or _speaking(passage, "shaft_rpm")
    if not known:
        return None
    running = np.zeros(len(time_s), dtype=bool)
    for one in known:
        last = np.searchsorted(one.time_s, time_s, side="right") - 1
        fresh = (last >= 0) & (time_s - one.time_s[last] <= COUNTS_S)
        running |= fresh & (np.abs(one.value[last]) > 0)
    return running


def told_by_shaft(passage: Passage) -> bool:
    """Whether a shaft alone tells of the engine."""
    return bool(_speaking(passage, "shaft_rpm")) and not _speaking(passage, "engine_rpm")


def _speaking(passage: Passage, channel: str) -> list[Series]:
    return [one for key, one in passage.series.items() if key.channel == channel and len(one.value)]
