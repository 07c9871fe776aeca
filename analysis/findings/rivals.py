"""Which sources disagree so that it must be said, and where that accuses the one in use."""

import numpy as np

from analysis.agreement import Agreement, in_use
from analysis.findings.case import Case
from analysis.findings.clock import was_set_back
from analysis.passage import Passage
from analysis.vectors import wrap_signed_deg

# Agreement is measured in tolerances: what the published accuracy of two instruments of the kind allows, see
# KINDS in analysis.agreement.compare. Much more than that is no matter of accuracy.
WORTH_ADVICE, FAULT = 1.0, 2.5
NAMED_ELSEWHERE_DEG = 1.0  # how near a difference of headings must be to the variation to be that
LEAST_VARIATION_DEG = 1.5


def worst_pair(case: Case, channel: str) -> Agreement | None:
    """Return the pair of sources that disagree most on a quantity, the one to trust, else the one in use, first."""
    told = [one for one in case.agreement if one.channel == channel and _is_told(case.passage, one)]
    if not told:
        return None
    one = max(told, key=lambda one: _weight(case.passage, one))
    first = one.trusted == one.first or (one.trusted is None and one.second not in in_use(case.passage))
    return one if first else one.turned()


def is_outdone(case: Case, channel: str) -> bool:
    """Tell whether the source in use is the wrong one of two and by how much: then that says it all."""
    one = worst_pair(case, channel)
    return one is not None and one.needs_second is not None and one.untrusted in in_use(case.passage)


def _is_told(passage: Passage, one: Agreement) -> bool:
    return (
        one.disagrees
        and not (one.repeat and one.size < FAULT)
        and not _named_elsewhere(passage, one)
        and not _of_two_parts(passage, one)
    )


def _of_two_parts(passage: Passage, one: Agreement) -> bool:
    """Whether the two may be one instrument, heard in two parts of the log whose times lie over one another."""
    return bool(one.first.instance and one.second.instance) and was_set_back(passage)


def _weight(passage: Passage, one: Agreement) -> tuple[bool, bool, float]:
    return not one.repeat, bool({one.first, one.second} & in_use(passage)), one.size


def _named_elsewhere(passage: Passage, one: Agreement) -> bool:
    """Whether one compass's headings differ by the variation, once or twice: the rules on the heading say so."""
    if not one.repeat or one.channel != "heading_true_deg" or "variation_deg" not in passage.frame:
        return False
    variation = float(np.nanmedian(passage.frame["variation_deg"].to_numpy(dtype=float)))
    multiples = [abs(wrap_signed_deg(abs(one.bias) - k * abs(variation))) for k in (1, 2)]
    return bool(abs(variation) > LEAST_VARIATION_DEG and min(multiples) < NAMED_ELSEWHERE_DEG)
