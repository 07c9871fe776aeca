"""What the pressure did: its change over three hours with the WMO characteristic, and the fastest fall."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from analysis.passage import Floats
from analysis.robust import robust_sd
from analysis.weather.series import BLOCK_S, TenMinutes

TENDENCY_S = 10800.0
STEPS = round(TENDENCY_S / BLOCK_S)
LEAST_SHARE = 0.8
SAME_HPA = 0.05  # half of the tenth in which WMO code FM 12 reports the amount
TURN_HPA = 0.2  # judgement: two tenths are more than the scatter of ten-minute means on a boat
UNEVEN = 1 / 3  # judgement: one half of the time holds over twice the change of the other
FINEST_SD_HPA = 0.03  # of a mean of readings logged to a tenth: 0.1 / sqrt(12)
# WMO code table 0200.
CHARACTERISTICS = (
    "rose, then fell; the same or higher",
    "rose, then steady or rising more slowly",
    "rose",
    "fell or steady, then rose; or rose more and more quickly",
    "steady",
    "fell, then rose; the same or lower",
    "fell, then steady or falling more slowly",
    "fell",
    "steady or rose, then fell; or fell more and more quickly",
)
# Change over three hours as shipping forecasts of the United Kingdom word it [hPa], upper bounds.
_PACES = ((1.55, "slowly"), (3.55, ""), (6.05, "quickly"))


class Tendency(NamedTuple):
    """The change of pressure over the three hours that end at ``time_s``: amount and one-sigma [hPa], code 0200."""

    time_s: float
    amount_hpa: float
    sd_hpa: float
    characteristic: int


@dataclass(frozen=True)
class PressureRecord:
    """The pressure at sea level through the passage, a row per ten minutes; ``time_s`` is their middle.

    ``amount_hpa`` is the change over the three hours before each time, with one common one-sigma ``sd_hpa``;
    ``hourly`` the tendencies at full hours UTC. ``checked`` tells whether the barometer was held against a
    reference; if not, changes are right and the level may be off by the barometer's own offset.
    """

    time_s: Floats
    sea_level_hpa: Floats
    amount_hpa: Floats
    sd_hpa: float
    hourly: tuple[Tendency, ...]
    fastest_fall: Tendency | None
    fastest_rise: Tendency | None
    height_m: float
    checked: bool


def pressure_record(means: TenMinutes, height_m: float, checked: bool) -> PressureRecord | None:
    """Work out the tendencies; None where no pressure was logged."""
    hpa = means.pressure_hpa
    if not np.isfinite(hpa).any():
        return None
    amount = np.full(len(hpa), np.nan)
    amount[STEPS:] = hpa[STEPS:] - hpa[:-STEPS] if len(hpa) > STEPS else amount[STEPS:]
    known = np.concatenate(([0], np.cumsum(np.isfinite(hpa))))
    filled = known[STEPS + 1 :] - known[: -STEPS - 1] if len(hpa) > STEPS else np.empty(0)
    amount[STEPS:][filled < LEAST_SHARE * (STEPS + 1)] = np.nan
    sd = _sd(hpa)

    ends = means.time_s + BLOCK_S / 2

    def at(place: int) -> Tendency:
        code = characteristic(hpa[place - STEPS : place + 1])
        return Tendency(float(ends[place]), float(amount[place]), sd, code)

    told = np.flatnonzero(np.isfinite(amount))
    hourly = tuple(at(place) for place in told.tolist() if ends[place] % 3600 == 0)
    lowest = int(told[amount[told].argmin()]) if len(told) else None
    highest = int(told[amount[told].argmax()]) if len(told) else None
    fall = at(lowest) if lowest is not None and amount[lowest] < -SAME_HPA else None
    rise = at(highest) if highest is not None and amount[highest] > SAME_HPA else None
    return PressureRecord(means.time_s, hpa, amount, sd, hourly, fall, rise, height_m, checked)


def characteristic(hpa: Floats) -> int:
    """Classify the course of a pressure [hPa] over three hours, even steps, after WMO code table 0200."""
    known = hpa[np.isfinite(hpa)]
    first, last, middle = float(known[0]), float(known[-1]), float(known[len(known) // 2])
    change = last - first
    crest = min(known.max() - first, known.max() - last)
    trough = min(first - known.min(), last - known.min())
    turn = max(TURN_HPA, 0.1 * abs(change))
    if max(crest, trough) >= turn:
        if crest > trough:
            return 0 if change > -SAME_HPA else 8
        return 5 if change < SAME_HPA else 3
    if abs(change) <= SAME_HPA:
        return 4
    more = (last - middle) - (middle - first)
    uneven = abs(more) > max(TURN_HPA, UNEVEN * abs(change))
    if change > 0:
        return (3 if more > 0 else 1) if uneven else 2
    return (8 if more < 0 else 6) if uneven else 7


def change_text(amount_hpa: float) -> str:
    """Word a change over three hours [hPa] as shipping forecasts do: "falling slowly"."""
    size = abs(amount_hpa)
    if size < 0.1 - 1e-9:
        return "steady"
    way = "rising" if amount_hpa > 0 else "falling"
    pace = next((word for bound, word in _PACES if size < bound), "very rapidly")
    return f"{way} {pace}".strip()


def _sd(hpa: Floats) -> float:
    """One-sigma of a difference of two means, by how far means lie off the line between their neighbours."""
    bend = hpa[1:-1] - (hpa[:-2] + hpa[2:]) / 2
    bend = bend[np.isfinite(bend)]
    one = robust_sd(bend) / np.sqrt(1.5) if len(bend) else 0.0
    return float(np.sqrt(2) * max(one, FINEST_SD_HPA))
