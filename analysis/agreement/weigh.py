"""What the calibration of the passage says of two sources that disagree: the correction that each of them needs."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace

from analysis.agreement.in_use import in_use
from analysis.agreement.results import Agreement
from analysis.estimate import Estimate
from analysis.passage import Passage, SourceKey

SIGMAS = 3.0
# What the calibration corrects of the source in use.
_CORRECTIONS = {
    "stw_kn": "log_factor",
    "heading_true_deg": "compass_constant_deg",
    "awa_deg": "vane_offset_deg",
    "aws_kn": "wind_speed_factor",
}
_ZERO = "log_zero_offset_kn"


def weigh(
    agreement: Iterable[Agreement], passage: Passage, estimates: Mapping[str, Estimate]
) -> tuple[Agreement, ...]:
    """Add to sources that disagree what each needs by the calibration, and trust the one that needs surely less.

    ``estimates`` are the calibration's, of the sources in use.
    """
    using = in_use(passage)
    return tuple(_weighed(one, using, estimates) for one in agreement)


def _weighed(one: Agreement, using: set[SourceKey], estimates: Mapping[str, Estimate]) -> Agreement:
    estimate = estimates.get(_CORRECTIONS.get(one.channel, ""))
    used = using & {one.first, one.second}
    if not one.disagrees or one.repeat or len(used) != 1 or estimate is None or not estimate.determined:
        return one
    if estimate.value is None or estimate.sd is None or (one.channel == "stw_kn" and _ZERO in estimates):
        return one
    other = one.turned() if one.second in used else one
    if other.scale is not None and other.scale_sd is not None:
        needed = estimate.value / other.scale
        share = math.hypot(estimate.sd / estimate.value, other.scale_sd / other.scale)
        second = replace(estimate, value=needed, sd=needed * share)
        off, off_sd = (abs(math.log(estimate.value)), abs(math.log(needed))), share
        words = "by the calibration of this passage it needs {:.0%} of correction, the other {:.0%}"
    else:
        needed = estimate.value - other.bias
        second = replace(estimate, value=needed, sd=math.hypot(estimate.sd, other.bias_sd))
        off, off_sd = (abs(estimate.value), abs(needed)), math.hypot(estimate.sd, other.bias_sd)
        words = "by the calibration of this passage it needs {:.0f}° of correction, the other {:.0f}°"
    told = replace(other, needs_first=estimate, needs_second=second)
    if abs(off[0] - off[1]) > SIGMAS * off_sd:
        told = replace(
            told, trusted=told.first if off[0] < off[1] else told.second, why=words.format(min(off), max(off))
        )
    return told.turned() if one.second in used else told
