"""The table of rules, root causes before their consequences: the only place that lists them."""

from collections.abc import Callable, Iterable

from analysis.findings import barometer, compass, current, depth, log, reading, temperature
from analysis.findings.case import Case
from analysis.findings.finding import SEVERITIES, Finding

Rule = Callable[[Case], Iterable[Finding]]

RULES: tuple[Rule, ...] = (
    *reading.RULES,
    log.log_fouling,
    log.log_zero,
    log.log_factor,
    compass.compass,
    current.turns_with_boat,
    *barometer.RULES,
    *depth.RULES,
    *temperature.RULES,
)


def find(case: Case) -> tuple[Finding, ...]:
    """Run every rule; the gravest findings come first, in the order of the table among equals."""
    found = [finding for rule in RULES for finding in rule(case)]
    return tuple(sorted(found, key=lambda finding: SEVERITIES.index(finding.severity)))
