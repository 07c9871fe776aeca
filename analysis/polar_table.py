"""A table of speeds through the water by true wind angle and true wind speed."""

from dataclasses import dataclass

import numpy as np

from analysis.passage import Floats


@dataclass(frozen=True)
class PolarTable:
    """Speeds [kn] by |TWA| [deg, rising, 0 to 180] and TWS [kn, rising]; NaN where the table has none.

    ``port_kn`` holds those with the wind from port where the table tells the sides apart, else None.
    """

    twa_deg: Floats
    tws_kn: Floats
    speed_kn: Floats
    port_kn: Floats | None = None

    def speed_at(self, tws_kn: Floats, twa_deg: Floats) -> Floats:
        """Interpolate the table [kn], linearly both ways, at any TWS and signed TWA; NaN beyond it or beside a gap.

        Below the first wind speed it is led to no speed in no wind.
        """
        starboard = self._between(self.speed_kn, tws_kn, np.abs(twa_deg))
        if self.port_kn is None:
            return starboard
        port = self._between(self.port_kn, tws_kn, np.abs(twa_deg))
        return np.where(np.asarray(twa_deg) < 0, port, starboard)

    def _between(self, speed_kn: Floats, tws_kn: Floats, angle_deg: Floats) -> Floats:
        winds, speeds = self.tws_kn, speed_kn
        if winds[0] > 0:
            winds = np.concatenate(([0.0], winds))
            speeds = np.concatenate((np.zeros((len(speeds), 1)), speeds), axis=1)
        row, along = _place(self.twa_deg, angle_deg)
        col, across = _place(winds, tws_kn)
        found = np.zeros(np.broadcast(row, col).shape)
        for rows, share in ((row, 1 - along), (row + 1, along)):
            for cols, part in ((col, 1 - across), (col + 1, across)):
                weight = share * part
                corner = speeds[np.minimum(rows, len(speeds) - 1), np.minimum(cols, len(winds) - 1)]
                found = found + np.where(weight == 0, 0.0, weight * corner)
        return np.asarray(found)


def _place(steps: Floats, value: Floats) -> tuple[np.ndarray, Floats]:
    """The step below each value, and the share of the way to the next; NaN beyond the ends."""
    value = np.asarray(value, dtype=float)
    low = np.clip(np.searchsorted(steps, value, side="right") - 1, 0, len(steps) - 1)
    high = np.minimum(low + 1, len(steps) - 1)
    width = steps[high] - steps[low]
    share = np.where(width > 0, (value - steps[low]) / np.where(width > 0, width, 1.0), 0.0)
    return low, np.where((value >= steps[0]) & (value <= steps[-1]), share, np.nan)
