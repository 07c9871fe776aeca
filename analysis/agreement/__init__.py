"""Sources of one quantity against each other, which to trust, and what stands in for a dead log."""

from analysis.agreement.compare import compare_sources
from analysis.agreement.in_use import in_use
from analysis.agreement.results import Agreement, StandIn
from analysis.agreement.standin import stand_in

__all__ = ["Agreement", "StandIn", "compare_sources", "in_use", "stand_in"]
