"""What a log would have to hold: the manoeuvre that tells a parameter, its length, the deviation after it.

The deviation expected is computed, not looked up: the manoeuvre's Jacobian is laid into the same regression
with the noise found in this log, on top of what the log already told.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from analysis.calibration import drift
from analysis.calibration.blocks import BLOCK_S, RAD, Blocks
from analysis.calibration.results import Floats
from analysis.calibration.water import (
    BELIEFS,
    FIRST_NOISE,
    KNOT_S,
    LEEWAY,
    TIDE,
    Belief,
    WaterFit,
    water_velocity,
)
from analysis.calibration.wind import BREEZE, WIND_BELIEFS, WindFit, upwash_shape
from analysis.calibration.wind import FIRST_NOISE as FIRST_GUSTS
from analysis.calibration.wind import KNOT_S as WIND_KNOT_S
from analysis.calibration.wind import NAMES as WIND_NAMES
from analysis.estimate import Need
from analysis.passage import column

SPEED_KN = 5.5
TURN_BLOCKS = 6
CLOSE_HAULED_DEG = 43.0
HEEL_DEG = 15.0
WIND_KN = 12.0
TURNS_TAKE = {"heading_true_deg": "heading", "sog_kn": "GNSS"}
WATER_TAKES = {"stw_kn": "the log", **TURNS_TAKE}
WIND_TAKES = {"awa_deg": "wind", **TURNS_TAKE}
USABLE = 0.5  # a parameter counts as told when its deviation fell to half of what was believed


@dataclass(frozen=True)
class Plan:
    """Legs of equal length: headings (under engine) or true wind angles (under sail), and the order to sail them."""

    order: str
    courses_deg: tuple[float, ...]
    heel_deg: tuple[float, ...]
    minutes: tuple[float, ...]

    def told(self, minutes: float) -> str:
        """Say the order with legs of so many minutes, and how long it takes in all."""
        order = self.order.format(each=f"{minutes:g} min each")
        return f"{order} ({minutes * len(self.courses_deg):g} min in all)"


RUNS = Plan(
    "Motor to and fro at one steady speed, 4 runs of {each}", (0, 180, 0, 180), (0,) * 4, (3, 5, 8, 12, 20)
)
SQUARE = Plan("Motor round a square, 4 legs of {each}", (0, 90, 180, 270), (0,) * 4, (3, 5, 8, 12, 20))
OCTAGON = Plan(
    "Motor 8 legs of {each}, turning 45° between them", tuple(range(0, 360, 45)), (0,) * 8, (3, 5, 8, 12, 20)
)
UPRIGHT_AND_HEELED = Plan(
    "Sail close-hauled on both tacks, motor the same two headings upright, and once more: 8 legs of {each}",
    (45, 315, 45, 315) * 2,
    (HEEL_DEG, -HEEL_DEG, 0, 0) * 2,
    (5, 8, 12, 20, 30),
)
TWO_SPEEDS = Plan(
    "Motor to and fro, 4 runs at cruising and 4 at half speed, {each}", (0, 180) * 4, (0,) * 8, (4, 8, 12, 20)
)
TACKS = Plan(
    "Beat to windward, 10 legs of {each}, tacking between them",
    (CLOSE_HAULED_DEG, -CLOSE_HAULED_DEG) * 5,
    (),
    (4, 6, 8, 12),
)
ALL_POINTS = Plan(
    "Sail from close-hauled to running and back, each on both tacks: 12 legs of {each}",
    (43, -43, 80, -80, 120, -120, 150, -150, 43, -43, 100, -100),
    (),
    (4, 6, 8, 12, 20),
)
PLANS = {
    "log_factor": RUNS,
    "log_zero_offset_kn": TWO_SPEEDS,
    "compass_constant_deg": SQUARE,
    "deviation_B_deg": OCTAGON,
    "deviation_C_deg": OCTAGON,
    "deviation_D_deg": OCTAGON,
    "deviation_E_deg": OCTAGON,
    "leeway_coefficient": UPRIGHT_AND_HEELED,
    "vane_offset_deg": TACKS,
    "wind_speed_factor": ALL_POINTS,
    "upwash_deg": ALL_POINTS,
}


def determined(sd: float, belief: Belief) -> bool:
    """Tell whether the log determined a parameter: clearly better than belief, and good enough to use."""
    return sd < min(belief.useful_sd, USABLE * belief.sd)


def needs(names: Sequence[str], water: WaterFit | None, wind: WindFit | None) -> dict[str, Need]:
    """Find for each name the manoeuvre that would determine it, how long it takes, and what sd to expect.

    Names told by the same manoeuvre share its length, the shortest that determines them all.
    """
    return {
        name: need
        for plan in dict.fromkeys(PLANS[name] for name in names)
        for name, need in _needs_of(
            plan, [name for name in names if PLANS[name] is plan], water, wind
        ).items()
    }


def with_sensors(need: Need, frame: pd.DataFrame, channels: Mapping[str, str]) -> Need:
    """Ask for a manoeuvre together with the sensors it takes that a frame lacks; ``channels`` name each."""
    lacking = [name for channel, name in channels.items() if not np.isfinite(column(frame, channel)).any()]
    if not lacking:
        return need
    manoeuvre = f"{need.manoeuvre[0].lower()}{need.manoeuvre[1:]}"
    return replace(need, manoeuvre=f"With {' and '.join(lacking)} recorded too, {manoeuvre}")


def _needs_of(
    plan: Plan, names: Sequence[str], water: WaterFit | None, wind: WindFit | None
) -> dict[str, Need]:
    for minutes in plan.minutes:
        sd: dict[str, float] = {}
        for name in names:
            if name not in sd:
                windy = name in WIND_BELIEFS
                sd |= _wind_sds(plan, minutes, wind) if windy else _water_sds(name, plan, minutes, water)
        enough = {name: determined(sd[name], BELIEFS.get(name) or WIND_BELIEFS[name]) for name in names}
        if all(enough.values()):
            break
    whole = minutes * len(plan.courses_deg)
    return {name: Need(plan.told(minutes), whole, sd[name], enough[name]) for name in names}


def _legs(plan: Plan, minutes: float) -> tuple[Floats, Floats, Floats]:
    """Block number, course and heel of every 20 s mean of a plan, turns left out between legs."""
    blocks = int(minutes * 60 / BLOCK_S)
    count = len(plan.courses_deg)
    starts = np.arange(count) * (blocks + TURN_BLOCKS)
    number = (starts[:, None] + np.arange(blocks)).ravel().astype(float)
    heel = plan.heel_deg or (0.0,) * count
    return number, np.repeat(plan.courses_deg, blocks).astype(float), np.repeat(heel, blocks).astype(float)


def _water_sds(name: str, plan: Plan, minutes: float, fit: WaterFit | None) -> dict[str, float]:
    number, heading, heel = _legs(plan, minutes)
    names = fit.names if fit is not None else tuple(BELIEFS)[:7]
    theta = fit.theta if fit is not None else np.array([BELIEFS[n].mean for n in names])
    prior: Floats = np.diag([BELIEFS[n].sd ** -2.0 for n in names])
    if fit is not None:
        prior = np.asarray(np.linalg.inv(fit.covariance))
    if name not in names:
        names, theta = (*names, name), np.append(theta, BELIEFS[name].mean)
        wider = np.zeros((len(names), len(names)))
        wider[:-1, :-1], wider[-1, -1] = prior, BELIEFS[name].sd ** -2.0
        prior = wider
    noise = fit.noise if fit is not None else (FIRST_NOISE, FIRST_NOISE)
    level, slope = (fit.level, fit.slope) if fit is not None else (TIDE.level, TIDE.slope)
    speed = np.full(len(number), SPEED_KN)
    if plan is TWO_SPEEDS:
        speed[len(speed) // 2 :] = SPEED_KN / 2
    bow = np.exp(1j * RAD * heading)
    driver = np.column_stack((heel, heel * 0, heel * 0))[:, : sum(n in names for n in LEEWAY)]
    unknown = np.full(len(number), np.nan)
    blocks = Blocks(
        number * BLOCK_S,
        number,
        speed * bow,
        speed * bow,
        speed,
        heading,
        heading,
        heel,
        unknown + 0j,
        unknown + 0j,
        0 * number,
    )
    _, jacobian = water_velocity(blocks, driver, speed, theta, names)
    return _expected(names, bow, number, noise, jacobian, prior, KNOT_S, (level, slope), TIDE)


def _wind_sds(plan: Plan, minutes: float, fit: WindFit | None) -> dict[str, float]:
    number, angle, _ = _legs(plan, minutes)
    motion = SPEED_KN * np.exp(-1j * RAD * angle)  # the wind blows from north
    felt = WIND_KN + motion
    shape = upwash_shape(np.angle(felt / np.exp(-1j * RAD * angle), deg=True))
    jacobian = -np.column_stack((1j * RAD * felt, felt, 1j * RAD * shape * felt))
    prior: Floats = np.diag([b.sd**-2.0 for b in WIND_BELIEFS.values()])
    if fit is not None:
        prior = np.asarray(np.linalg.inv(fit.covariance))
    noise = fit.noise if fit is not None else (FIRST_GUSTS, FIRST_GUSTS)
    along = np.ones(len(number), dtype=complex)
    background = (BREEZE.level, BREEZE.slope)
    return _expected(WIND_NAMES, along, number, noise, jacobian, prior, WIND_KNOT_S, background, BREEZE)


def _expected(
    names: tuple[str, ...],
    turn: np.ndarray,
    number: Floats,
    noise: tuple[drift.Memory, drift.Memory],
    jacobian: np.ndarray,
    prior: Floats,
    knot_s: float,
    background: tuple[float, float],
    wander: drift.Wander,
) -> dict[str, float]:
    knots = drift.Knots.over(number * BLOCK_S, knot_s)
    basis = knots.weights(number * BLOCK_S)
    rows = drift.whitened(turn, number, noise, np.ones((len(number), 2)), basis, jacobian, 0 * turn)
    solution = drift.Normal(*rows, prior, np.zeros(len(names)), knots).solve(*background, wander)
    sd = np.sqrt(np.diag(solution.theta_covariance))
    return dict(zip(names, sd.tolist(), strict=True))
