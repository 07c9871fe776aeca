"""Sources of one quantity against each other, which to trust, and what stands in for a dead log."""

from analysis.agreement.compare import compare_sources
from analysis.agreement.headings import HeadingCheck, check_headings
from analysis.agreement.in_use import in_use
from analysis.agreement.results import Agreement, StandIn
from analysis.agreement.standin import stand_in
from analysis.agreement.weigh import weigh

__all__ = [
    "Agreement",
    "HeadingCheck",
    "StandIn",
    "check_headings",
    "compare_sources",
    "in_use",
    "stand_in",
    "weigh",
]
