"""The order of the screening: what stands still or jumps is taken out, then whole channels are judged."""

from collections.abc import Iterable

import numpy as np
import pandas as pd

from analysis.screening.gnss import find_doubts, find_jumps
from analysis.screening.heel import find_heel_mistakes
from analysis.screening.results import Mistake, Screened, Unfit
from analysis.screening.stuck import find_stuck
from analysis.screening.units import find_speed_units
from analysis.screening.wind import find_drop_outs, find_wind_mistakes
from analysis.vectors import wrap_signed_deg

# What fails together with a channel, being one reading of one instrument.
_TOGETHER = {
    "heading_true_deg": ("heading_mag_deg",),
    "cog_deg": ("cog_mag_deg",),
    "lat_deg": ("lon_deg",),
}


def screen(frame: pd.DataFrame) -> Screened:
    """Take out of an aligned frame what its sensors cannot have meant, and undo mistakes in whole channels.

    ``frame`` is as shown, with ``heading_true_deg`` settled; columns that are not logged are absent. Nothing is
    declared where the courses do not differ enough to tell.
    """
    if len(frame) < 2:
        return Screened(frame)
    unfit: list[Unfit] = []
    for find in (find_drop_outs, find_stuck, find_jumps):
        found = find(frame)
        frame = _without(frame, found)
        unfit += found
    mistakes: list[Mistake] = []
    for judge in (find_speed_units, find_wind_mistakes, find_heel_mistakes):
        judged = judge(frame)
        frame = _undone(frame, judged)
        mistakes += judged
    return Screened(frame, tuple(unfit), tuple(mistakes), tuple(find_doubts(frame)))


def _without(frame: pd.DataFrame, unfit: Iterable[Unfit]) -> pd.DataFrame:
    taken: dict[str, np.ndarray] = {}
    for one in unfit:
        first, last = frame.index.searchsorted(one.start), frame.index.searchsorted(one.end, side="right")
        for name in (one.channel, *_TOGETHER.get(one.channel, ())):
            if name in frame:
                column = taken.setdefault(name, frame[name].to_numpy(dtype=float, copy=True))
                column[first:last] = np.nan
    return frame.assign(**taken) if taken else frame


def _undone(frame: pd.DataFrame, mistakes: Iterable[Mistake]) -> pd.DataFrame:
    for one in mistakes:
        mended = one.factor * frame[one.channel].to_numpy(dtype=float) + one.offset_deg
        if one.channel == "awa_deg":
            mended = wrap_signed_deg(mended)
        frame = frame.assign(**{one.channel: mended})
    return frame
