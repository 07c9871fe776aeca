"""The deviation card of a passage, as it hangs at the chart table, and the cards that full turns give."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from analysis.calibration import Calibration, Evidence
from analysis.calibration.classical import DeviationCard
from analysis.calibration.water import DEVIATION
from analysis.estimate import SIGMAS_95, Estimate
from analysis.passage import Floats
from analysis.vectors import wrap_direction_deg

_HEADINGS = np.arange(0.0, 360.0, 5.0)
_NONE = (0.0, 0.0, 0.0, 0.0, 0.0)
READABLE_DEG = 3.0  # of the 95 % interval; a wider one helps nobody to steer (judgment)


@dataclass(frozen=True)
class CardRow:
    """One line of the card [deg]: true = magnetic + variation, magnetic = compass + deviation.

    ``within_deg`` is half the 95 % interval; where it is too wide ``readable`` is False. ``true_deg`` is None where
    no variation is known.
    """

    compass_deg: float
    deviation_deg: float
    within_deg: float
    magnetic_deg: float
    true_deg: float | None
    readable: bool


def card_of(calibration: Calibration, estimates: Mapping[str, Estimate]) -> DeviationCard | None:
    """Make the curve of a passage from estimates of A to E; None where the compass could not be judged."""
    values = [one.value for name in DEVIATION if (one := estimates.get(name)) and one.value is not None]
    if calibration.sailed is None or not calibration.sailed.courses_differ or len(values) < len(DEVIATION):
        return None
    a, b, c, d, e = values
    covariance = calibration.sailed.deviation_covariance
    return DeviationCard(
        (a, b, c, d, e), covariance, float("nan"), calibration.used, dict(calibration.rejected)
    )


def before_and_after(
    calibration: Calibration, card: DeviationCard
) -> tuple[pd.Timestamp, DeviationCard, DeviationCard] | None:
    """Tell the moment the compass was disturbed, and its curves before and after; None where it was not."""
    changes = {one.name: one for one in calibration.changes if one.name in DEVIATION and one.at is not None}
    at = next((one.at for one in changes.values()), None)
    if at is None:
        return None
    known = dict(zip(DEVIATION, card.coefficients_deg, strict=True))
    before, after = (
        [getattr(changes[name], side) if name in changes else value for name, value in known.items()]
        for side in ("before", "after")
    )
    return at, _with(card, before), _with(card, after)


def swung(evidence: Iterable[Evidence]) -> tuple[DeviationCard, ...]:
    """Gather the cards of the full turns from their evidence, turn by turn."""
    told = [one for one in evidence if one.name == "full turn" and one.subject in DEVIATION]
    turns = [told[at : at + len(DEVIATION)] for at in range(0, len(told), len(DEVIATION))]
    return tuple(
        _with(
            DeviationCard(_NONE, np.diag([one.sd**2 for one in turn]), float("nan"), turn[0].used, {}),
            [one.value for one in turn],
        )
        for turn in turns
    )


def _with(card: DeviationCard, values: list[float]) -> DeviationCard:
    a, b, c, d, e = values
    return replace(card, coefficients_deg=(a, b, c, d, e))


def card_rows(card: DeviationCard, variation_deg: Floats, step_deg: int) -> list[CardRow]:
    """Write the card every ``step_deg``, with the mean of the variation [deg] met on the passage."""
    known = variation_deg[np.isfinite(variation_deg)]
    variation = float(known.mean()) if len(known) else None
    return [
        CardRow(
            compass,
            deviation,
            SIGMAS_95 * sd,
            float(wrap_direction_deg(compass + deviation)),
            None if variation is None else float(wrap_direction_deg(compass + deviation + variation)),
            SIGMAS_95 * sd <= READABLE_DEG,
        )
        for compass, deviation, sd in card.table(step_deg).to_numpy(dtype=float).tolist()
    ]


def worst(card: DeviationCard) -> tuple[float, float, float]:
    """Find where the curve differs most from its constant: compass heading, difference, one-sigma [deg]."""
    swing = _swing(card)
    off = swing.at(_HEADINGS)
    most = int(np.abs(off).argmax())
    return float(_HEADINGS[most]), float(off[most]), float(swing.sd_at(_HEADINGS)[most])


def most_within(card: DeviationCard) -> float:
    """How far the curve may differ from its constant on any heading, at 95 % [deg]."""
    swing = _swing(card)
    return float((np.abs(swing.at(_HEADINGS)) + SIGMAS_95 * swing.sd_at(_HEADINGS)).max())


def _swing(card: DeviationCard) -> DeviationCard:
    """The curve without its constant."""
    free = np.array([0.0, 1.0, 1.0, 1.0, 1.0])
    swing = replace(card, covariance=card.covariance * free * free[:, None])
    return _with(swing, [0.0, *card.coefficients_deg[1:]])
