"""Whether the boat sails alike on both tacks: evidence, not a verdict."""

from dataclasses import dataclass

import numpy as np

from analysis.lasting import SensorErrors
from analysis.passage import Bools, Floats

from .cells import lasting_errors
from .memory import memory_of, worth
from .minutes import Minutes
from .surface import Surface

ON_THE_WIND = "to windward"
POINTS = {ON_THE_WIND: (0.0, 65.0), "reaching": (65.0, 130.0), "running": (130.0, 181.0)}
LEAST_MINUTES = 10  # on each tack


@dataclass(frozen=True)
class Tacks:
    """Starboard tack less port on one point of sail: speed [kn and % of it] in like wind, and the |TWA| sailed [deg].

    The one-sigmas hold what sampling leaves; that of the speed also what the instruments may be off by. The angle
    is the helmsman's choice as much as the vane's.
    """

    point: str
    minutes_starboard: int
    minutes_port: int
    speed_kn: float
    speed_kn_sd: float
    speed_percent: float
    speed_percent_sd: float
    twa_deg: float
    twa_deg_sd: float


def tacks_of(minutes: Minutes, surface: Surface, errors: SensorErrors) -> tuple[Tacks, ...]:
    """Hold one tack against the other on each point of sail, each minute against the surface common to both.

    Only points of sail that were sailed for ten minutes or more on each tack.
    """
    angle = np.abs(minutes.twa_deg)
    found = []
    for point, (low, high) in POINTS.items():
        here = (angle >= low) & (angle < high)
        starboard, port = here & (minutes.twa_deg > 0), here & (minutes.twa_deg < 0)
        if min(starboard.sum(), port.sum()) >= LEAST_MINUTES:
            found.append(_tacks(point, minutes, surface, errors, starboard, port))
    return tuple(found)


def _tacks(
    point: str, minutes: Minutes, surface: Surface, errors: SensorErrors, starboard: Bools, port: Bools
) -> Tacks:
    angle, both = np.abs(minutes.twa_deg), starboard | port
    expected = surface.speed_kn(minutes.tws_kn, angle)
    speed, speed_sd = _gap(minutes, minutes.speed_kn - expected, surface.memory, starboard, port)
    memory = memory_of(minutes.number[both], _levelled(angle, starboard, port)[both])
    turned, turned_sd = _gap(minutes, angle, memory, starboard, port)
    middle = np.array([minutes.tws_kn[both].mean()]), np.array([angle[both].mean()])
    lasting = float(lasting_errors(errors, surface, *middle).gap_kn[0])
    spread, mean = float(np.hypot(speed_sd, lasting)), float(minutes.speed_kn[both].mean())
    return Tacks(
        point,
        int(starboard.sum()),
        int(port.sum()),
        speed,
        spread,
        100 * speed / mean,
        100 * spread / mean,
        turned,
        turned_sd,
    )


def _gap(
    minutes: Minutes, value: Floats, memory: Floats, starboard: Bools, port: Bools
) -> tuple[float, float]:
    """Mean on starboard tack less mean on port, and its one-sigma."""
    means = [float(value[tack].mean()) for tack in (starboard, port)]
    variances = [
        float(value[tack].var(ddof=1)) / worth(minutes.number[tack], memory) for tack in (starboard, port)
    ]
    return means[0] - means[1], float(np.sqrt(sum(variances)))


def _levelled(value: Floats, starboard: Bools, port: Bools) -> Floats:
    """The value about the mean of its tack."""
    level = np.where(starboard, value[starboard].mean(), value[port].mean())
    return np.asarray(value - level)
