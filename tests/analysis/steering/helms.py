"""A boat whose heading is turned by her rudder, second by second, for tests of the steering."""

import numpy as np
import pandas as pd

from analysis.passage import Counts, Passage

START = pd.Timestamp("2026-06-01T08:00:00Z")


def beat(
    tacks: int = 8,
    leg_s: int = 600,
    gain: float = 0.5,
    delay_s: int = 2,
    offset_deg: float = 0.0,
    weather_helm: float = 0.2,
    first_side: int = 1,
    one_tack: bool = False,
) -> pd.DataFrame:
    """Legs close-hauled with a tack after each: the bow turns ``gain`` x the rudder of ``delay_s`` before.

    Wind from north; heading 315 on starboard tack and 45 on port. The sensor shows true - offset.
    """
    rng = np.random.default_rng(1)
    n = tacks * leg_s
    turning = np.zeros(n)
    side = np.empty(n)
    for leg in range(tacks):
        now = first_side if one_tack else first_side * (-1) ** leg
        side[leg * leg_s : (leg + 1) * leg_s] = now
        if leg and not one_tack:
            # 90 deg of turn: a hump of rudder over 20 s, to starboard from starboard tack to port tack.
            hump = np.hanning(22)[1:-1]
            turning[leg * leg_s : leg * leg_s + 20] = -now * 90 / gain * hump / hump.sum()
    effective = turning + rng.normal(0, 0.2, n)
    rate = gain * np.concatenate((np.zeros(delay_s), effective[: n - delay_s]))
    heading = -45.0 * first_side + np.cumsum(rate - gain * (effective - turning).mean())
    smooth_side = np.convolve(np.pad(side, 10, mode="edge"), np.ones(21) / 21, mode="valid")
    heel = -15 * smooth_side
    true = effective + weather_helm * heel
    return pd.DataFrame(
        {
            "heading_true_deg": heading % 360,
            "stw_kn": np.full(n, 6.0),
            "sog_kn": np.full(n, 6.0),
            "awa_deg": 35 * smooth_side,
            "aws_kn": np.full(n, 15.0),
            "heel_deg": heel,
            "rudder_deg": true - offset_deg,
        },
        index=pd.date_range(START, periods=n, freq="s", name="time_utc"),
    )


def bare(frame: pd.DataFrame) -> Passage:
    """A passage of nothing but its frame."""
    counts = Counts(0, 0, 0, 0, {}, {}, {}, {}, {})
    return Passage((), counts, (), {}, (), "", (), frame, frame, frame, frame)
