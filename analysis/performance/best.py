"""The angles of the best speed to windward and to leeward, as far as the passage brackets them."""

from dataclasses import dataclass

import numpy as np

from analysis.lasting import SensorErrors
from analysis.passage import Floats

from .cells import lasting_errors
from .minutes import Minutes, sailed
from .sensors import moved
from .surface import Surface

STEP_DEG = 0.5
DRAWS = 300
BRACKETED = 0.95
_UPWIND, _DOWNWIND = (25.0, 90.0), (90.0, 180.0)


@dataclass(frozen=True)
class BestAngle:
    """The |TWA| of the best VMG at one TWS, up or down wind; VMG is counted + to where it is best.

    All None where the angles sailed do not bracket it: ``why`` says so.
    """

    tws_kn: float
    upwind: bool
    twa_deg: float | None
    twa_deg_sd: float | None
    vmg_kn: float | None
    vmg_kn_sd: float | None
    why: str


def best_angles(
    minutes: Minutes, surface: Surface, errors: SensorErrors, tws_kn: Floats
) -> tuple[BestAngle, ...]:
    """Find the best angles at each wind speed.

    Surfaces drawn from the fit's own uncertainty each have their best angle; it is determined where nineteen in
    twenty of these lie between angles that were sailed.
    """
    rng = np.random.default_rng(0)
    root = np.linalg.cholesky(surface.covariance + 1e-12 * np.eye(len(surface.covariance)))
    drawn = surface.coefficients[:, None] + root @ rng.standard_normal((len(root), DRAWS))
    drawn[:, 0] = surface.coefficients
    starboard = float(np.mean(minutes.twa_deg > 0))
    return tuple(
        _best(minutes, surface, errors, drawn, starboard, float(tws), upwind)
        for tws in tws_kn
        for upwind in (True, False)
    )


def _best(
    minutes: Minutes,
    surface: Surface,
    errors: SensorErrors,
    drawn: Floats,
    starboard: float,
    tws_kn: float,
    upwind: bool,
) -> BestAngle:
    low, high = _UPWIND if upwind else _DOWNWIND
    angles = np.arange(low, high + STEP_DEG / 2, STEP_DEG)
    angles = angles[sailed(minutes, np.full(len(angles), tws_kn), angles)]
    holes = np.flatnonzero(np.diff(angles) > 1.5 * STEP_DEG) + 1
    angles = max(np.split(angles, holes), key=len)
    way = "to windward" if upwind else "to leeward"
    if len(angles) < 3:
        return BestAngle(tws_kn, upwind, None, None, None, None, f"too little sailed {way} in this wind")
    toward = np.cos(np.radians(angles)) * (1 if upwind else -1)
    basis = surface.basis(np.full(len(angles), tws_kn), angles)
    made_good = (basis @ drawn) * toward[:, None]
    place = made_good.argmax(axis=0)
    inside = (place > 0) & (place < len(angles) - 1)
    if not inside[0] or inside.mean() < BRACKETED:
        far = bool(np.median(place) > (len(angles) - 1) / 2)
        side = ("further off" if far else "closer") if upwind else ("deeper" if far else "higher")
        return BestAngle(
            tws_kn,
            upwind,
            None,
            None,
            None,
            None,
            f"not sailed past the best angle: sail {side} in this wind as well",
        )
    best, speed = angles[[place[0]]], float(basis[place[0]] @ surface.coefficients)
    by_tack = [
        moved(errors, np.array([tws_kn]), side * best, np.array([speed])).twa_deg for side in (1.0, -1.0)
    ]
    lasting = float(np.sqrt(((starboard * by_tack[0] + (1 - starboard) * by_tack[1]) ** 2).sum()))
    spread = float(np.std(angles[place]))
    off = lasting_errors(errors, surface, np.array([tws_kn]), best).speed_kn(starboard)[0]
    return BestAngle(
        tws_kn,
        upwind,
        float(best[0]),
        float(np.hypot(max(spread, STEP_DEG), lasting)),
        float(made_good[place[0], 0]),
        float(np.hypot(np.std(made_good.max(axis=0)), off * toward[place[0]])),
        "",
    )
