"""The table of rules, root causes before their consequences: the only place that lists them."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace

from analysis.correction import beyond, remaining
from analysis.findings import (
    barometer,
    clock,
    compass,
    current,
    depth,
    emergencies,
    gnss,
    heel,
    log,
    methods,
    polar,
    reading,
    rudder,
    sources,
    stuck,
    temperature,
    traffic,
    true_wind,
    vane_gross,
    weather,
    wind,
)
from analysis.findings.case import Case
from analysis.findings.finding import SEVERITIES, Finding

Rule = Callable[[Case], Iterable[Finding]]

RULES: tuple[Rule, ...] = (
    *clock.RULES,
    *reading.RULES,
    stuck.stuck,
    gnss.jumps,
    gnss.poor_fix,
    gnss.cog_noise,
    vane_gross.speed_units,
    vane_gross.mirrored,
    vane_gross.reversed_vane,
    vane_gross.wind_unit,
    vane_gross.drop_outs,
    sources.receivers_disagree,
    heel.signs,
    log.log_fouling,
    compass.causes,
    sources.sources_disagree,
    log.log_zero,
    log.log_factor,
    compass.curve,
    *wind.RULES,
    current.turns_with_boat,
    heel.zero,
    true_wind.true_wind,
    *barometer.RULES,
    *depth.RULES,
    *temperature.RULES,
    *emergencies.RULES,
    *traffic.RULES,
    *rudder.RULES,
    sources.sensor_lag,
    sources.gnss_for_log,
    polar.tacks_differ,
    *weather.RULES,
    methods.disagree,
    methods.left_open,
)


def find(case: Case, set_by_hand: Mapping[str, float] | None = None) -> tuple[Finding, ...]:
    """Run every rule; the gravest findings come first, in the order of the table among equals.

    Corrections set by hand count as entered in the instruments: the rules judge what remains.
    """
    if set_by_hand:
        left = remaining(case.calibration.estimates, beyond(case.screened.mistakes, set_by_hand))
        case = replace(case, calibration=replace(case.calibration, estimates=left))
    found = [finding for rule in RULES for finding in rule(case)]
    return tuple(sorted(found, key=lambda finding: SEVERITIES.index(finding.severity)))
