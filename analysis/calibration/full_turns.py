"""Vane offset and wind-speed factor from a full turn over the ground.

Through a full turn at speed V the estimated wind keeps a part that turns with the heading, V(k cos e - 1)
along the bow and V k sin e to starboard. Solving for the complex gain g = k exp(i e) that leaves a wind
changing linearly in time, with the boat's velocity as instrument, finds both.
"""

import numpy as np
import pandas as pd

from analysis.calibration.blocks import RAD
from analysis.calibration.results import Evidence
from analysis.calibration.small_samples import widening
from analysis.manoeuvres import Turn

LEAST_ROWS = 60
LAG_S = 1.5  # heading or vane lagging by a second or two shows as an offset of rate x lag
MEAN_ROWS = 20
LEAST_SD = 0.001  # of the gain, so that turns in a calm count alike
SLOWER = 1.5  # what the wind does over more minutes than a turn lasts does not show in it
GUST_MEMORY, GUST_PIECES = 0.65, 8  # gusts last most of a minute: believed as if seen in so many means


def full_turn_evidence(frame: pd.DataFrame, turns: tuple[Turn, ...]) -> tuple[Evidence, ...]:
    """Read vane offset [deg] and wind-speed factor from full turns; empty where there are none.

    Needs ``heading_true_deg``, ``sog_kn``, ``cog_deg``, ``awa_deg``, ``aws_kn``, the heading corrected.
    Turns both ways cancel the sensors' lag, turns one way carry it in their deviation.
    """
    needed = ["heading_true_deg", "sog_kn", "cog_deg", "awa_deg", "aws_kn"]
    if not set(needed) <= set(frame.columns):
        return ()
    gains, spreads, rates, used = [], [], [], 0
    for turn in turns:
        if turn.kind != "full turn":
            continue
        rows = frame.loc[turn.start : turn.end, needed].dropna()
        if len(rows) < LEAST_ROWS:
            continue
        gain, sd = _gain(rows)
        gains.append(gain)
        spreads.append(sd)
        rates.append(turn.change_deg / max((turn.end - turn.start).total_seconds(), 1.0))
        used += len(rows)
    if not gains:
        return ()
    weight = np.asarray(spreads) ** -2.0
    gain = np.sum(weight * gains) / weight.sum()
    sd = float(weight.sum() ** -0.5)
    lag_deg = LAG_S * abs(float(np.sum(weight * rates) / weight.sum()))
    offset_sd = float(np.hypot(sd / abs(gain) / RAD, lag_deg))
    return (
        Evidence("full turn", "vane_offset_deg", float(np.angle(gain, deg=True)), offset_sd, used),
        Evidence("full turn", "wind_speed_factor", float(abs(gain)), sd, used),
    )


def _gain(rows: pd.DataFrame) -> tuple[complex, float]:
    heading, cog = RAD * rows["heading_true_deg"].to_numpy(), RAD * rows["cog_deg"].to_numpy()
    felt = rows["aws_kn"].to_numpy() * np.exp(1j * (RAD * rows["awa_deg"].to_numpy() + heading))
    motion = rows["sog_kn"].to_numpy() * np.exp(1j * cog)
    time = np.linspace(-1, 1, len(rows))
    design = np.column_stack((felt, -np.ones_like(time), -time))
    instrument = np.column_stack((motion, np.ones_like(time), time))
    answer = np.linalg.solve(instrument.conj().T @ design, instrument.conj().T @ motion)
    residual = design @ answer - motion
    net = motion - instrument[:, 1:] @ np.linalg.lstsq(instrument[:, 1:], motion, rcond=None)[0]
    # Long-run variance from means of 20 s as a first-order autoregression, the bias of its coefficient in a
    # short series made good (F. H. C. Marriott and J. A. Pope, Biometrika 41, 1954: (1 + 3 r) / n).
    pieces = len(rows) // MEAN_ROWS
    means = residual[: pieces * MEAN_ROWS].reshape(pieces, MEAN_ROWS).mean(axis=1)
    power = float(np.sum(np.abs(means) ** 2)) / max(pieces - 3, 1)
    memory = float(np.real(np.vdot(means[:-1], means[1:]))) / max(float(np.sum(np.abs(means) ** 2)), 1e-12)
    memory = memory + (1 + 3 * memory) / pieces
    memory = float(np.clip((pieces * memory + GUST_PIECES * GUST_MEMORY) / (pieces + GUST_PIECES), 0.0, 0.9))
    spread = MEAN_ROWS * power * (1 + memory) / (1 - memory)
    few = widening(max(pieces * (1 - memory) / (1 + memory), 2.0))
    information = np.sum(np.abs(net) ** 2)
    sd = np.hypot(SLOWER * few * np.sqrt(spread / 2 / information), LEAST_SD)
    return complex(answer[0]), float(sd)
