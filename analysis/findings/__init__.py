"""Findings: rules that turn what was measured into what a crew should know and do."""

from analysis.findings.case import Case
from analysis.findings.finding import SEVERITIES, Finding
from analysis.findings.registry import RULES, find

__all__ = ["RULES", "SEVERITIES", "Case", "Finding", "find"]
