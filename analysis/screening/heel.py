"""The heel sensor and the logged leeway, by the side the wind comes from."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from analysis.passage import Bools, Floats, Ints, column
from analysis.screening.results import Mistake
from analysis.screening.series import ahead, block_means
from analysis.screening.wind import steadiness

LEAST_AWS_KN = 5.0
AWA_FROM_DEG, AWA_TO_DEG = 20.0, 150.0
AWA_BIN_DEG, AWS_BIN_KN = 10.0, 3.0
LEAST_BLOCKS = 20  # minutes on each side at like winds
MEMORY_BLOCKS = 5.0  # minutes that are worth one of their own
LIKENESS_SD_DEG = 0.7  # a vane off by 3 deg makes tacks that look alike heel so much differently (judgment)
LEAST_OPPOSITE = {
    "heel_deg": 2.5,
    "leeway_deg": 0.7,
    "stw_across_kn": 0.07,
}  # heel beyond the sea's, leeway a reading's
ZERO_DEG = 2.5  # moves leeway by half a degree at 6 kn, half of what MSC.116(73) leaves a heading device
SIGMAS = 3.0
SURELY_NOT_MIRRORED = 2.5


@dataclass(frozen=True)
class Sides:
    """A signed quantity on both tacks at like winds: their mean, half their difference, one-sigma of both."""

    mean: float
    half_difference: float
    sd: float
    minutes: float


def find_heel_mistakes(frame: pd.DataFrame) -> list[Mistake]:
    """Find a heel sensor or a logged leeway of the wrong sign, and a heel sensor whose zero is off.

    Wind from starboard heels to port (heel < 0) and sets to port of the heading (leeway < 0). A sign is judged
    only where the steadiness of the wind shows that it is not the vane that is mirrored.
    """
    tacks = {name: sides for name in LEAST_OPPOSITE if (sides := on_both_sides(frame, name)) is not None}
    opposite = [
        name
        for name, sides in tacks.items()
        if sides.half_difference > max(LEAST_OPPOSITE[name], SIGMAS * sides.sd)
    ]
    if opposite and not _vane_is_right(frame):
        return []
    found = [
        _mistake(name, "sign", tacks[name], tacks[name].half_difference, factor=-1.0) for name in opposite
    ]
    if "heel_deg" in tacks:
        heel = tacks["heel_deg"]
        zero = -heel.mean if "heel_deg" in opposite else heel.mean
        sd = float(np.hypot(heel.sd, LIKENESS_SD_DEG))
        if abs(zero) > max(ZERO_DEG, SIGMAS * sd):
            found.append(_mistake("heel_deg", "zero", heel, heel.mean, offset_deg=-zero, sd=sd))
    return found


def _mistake(
    channel: str,
    kind: str,
    sides: Sides,
    measured: float,
    factor: float = 1.0,
    offset_deg: float = 0.0,
    sd: float | None = None,
) -> Mistake:
    evidence = {
        "starboard_tack": sides.mean + sides.half_difference,
        "port_tack": sides.mean - sides.half_difference,
        "measured": measured,
        "minutes": sides.minutes,
    }
    return Mistake(channel, kind, factor, offset_deg, sides.sd if sd is None else sd, evidence)


def _vane_is_right(frame: pd.DataFrame) -> bool:
    steady = steadiness(frame)
    return steady is not None and steady.mirrored > SURELY_NOT_MIRRORED * steady.shown


def on_both_sides(frame: pd.DataFrame, name: str) -> Sides | None:
    """Compare minute means of a channel on both tacks in bins of like AWA and AWS; None where one is missing."""
    if not {name, "awa_deg", "aws_kn"} <= set(frame):
        return None
    air = block_means(column(frame, "aws_kn") * ahead(column(frame, "awa_deg")))
    value = block_means(column(frame, name))
    awa, aws = np.degrees(np.angle(air)), np.abs(air)
    sailing = (
        (np.abs(awa) > AWA_FROM_DEG) & (np.abs(awa) < AWA_TO_DEG) & (aws > LEAST_AWS_KN) & np.isfinite(value)
    )
    if not sailing.any():
        return None
    awa, aws, value = awa[sailing], aws[sailing], value[sailing]
    place = (np.abs(awa) // AWA_BIN_DEG).astype(int) * 100 + np.minimum(aws // AWS_BIN_KN, 99).astype(int)
    port = awa < 0
    here, there = _counted(place, value, ~port), _counted(place, value, port)
    both = (here[0] > 0) & (there[0] > 0)
    if not both.any():
        return None
    (ns, ms, vs), (np_, mp, vp) = (tuple(x[both] for x in side) for side in (here, there))
    weight = ns * np_ / (ns + np_)
    if min(ns.sum(), np_.sum()) < LEAST_BLOCKS:
        return None
    share = weight / weight.sum()
    scatter = float((vs + vp).sum() / max(ns.sum() + np_.sum() - 2 * len(ns), 1))
    sd = np.sqrt(np.sum(share**2 * MEMORY_BLOCKS * scatter * (1 / ns + 1 / np_)) / 4)
    return Sides(
        float(share @ (ms + mp) / 2), float(share @ (ms - mp) / 2), float(sd), float(ns.sum() + np_.sum())
    )


def _counted(place: Ints, value: Floats, where: Bools) -> tuple[Floats, Floats, Floats]:
    """Number, mean and sum of squares about the mean of the values in every bin."""
    size = int(place.max()) + 1
    number: Floats = np.bincount(place[where], minlength=size).astype(float)
    mean = np.asarray(np.bincount(place[where], value[where], size) / np.maximum(number, 1), dtype=float)
    off = value[where] - mean[place[where]]
    square = np.asarray(np.bincount(place[where], off**2, size), dtype=float)
    return number, mean, square
