"""The log: what it reads too much or too little, at every speed, at low speed, or more and more."""

from collections.abc import Iterator

from analysis.calibration.results import Change
from analysis.estimate import SIGMAS_95, Estimate
from analysis.findings.case import Case
from analysis.findings.finding import Finding
from analysis.findings.rivals import is_outdone
from analysis.findings.telling import clock, iso, within

# IMO A.824(19), from memory: a log is right within 2 % of the speed or 0.2 kn, whichever is greater.
STANDARD_SHARE, STANDARD_KN = 0.02, 0.2
GROSS_SHARE = 0.10  # five times the standard: half a knot at a yacht's speed, more than most tides matter
GROSS_CHANGE = 0.10
SIGMAS = 3.0
RUNS = (
    "Under engine at one steady speed, run 5 min on a course and 5 min back, twice; the mean of the log over the "
    "four runs should equal the mean of the speed over the ground."
)


def log_factor(case: Case) -> Iterator[Finding]:
    """A log that reads too much or too little all along."""
    one = case.calibration.estimates["log_factor"]
    if log_change(case) is not None or not beyond_standard(one) or is_outdone(case, "stw_kn"):
        return
    factor, sd = float(one.value or 1.0), float(one.sd or 0.0)
    off, off_sd = 100 * (1 / factor - 1), 100 * sd / factor**2
    low = off < 0
    yield Finding(
        id="log-under-reading" if low else "log-over-reading",
        subject="log",
        severity="fault" if abs(off) > 100 * GROSS_SHARE else "advice",
        title=f"The log reads {abs(off):.1f} % too {'low' if low else 'high'} ({within(off_sd, ' %')}).",
        value=factor,
        sd=sd,
        unit="1",
        determined=True,
        evidence=_evidence(case) | {"off_percent": off, "off_percent_sd": off_sd, "standard_percent": 2.0},
        action=f"Multiply the log's calibration factor by {factor:.3f}: true speed = {factor:.3f} × shown "
        f"({100 * (factor - 1):+.1f} %).",
        verify=RUNS,
        caution="Clean the paddle wheel first: a factor entered over a fouled wheel is wrong once it is clean."
        if low
        else "",
    )


def log_zero(case: Case) -> Iterator[Finding]:
    """A log that is off by the same amount at every speed."""
    one = case.calibration.estimates.get("log_zero_offset_kn")
    if one is None or one.value is None or one.sd is None or log_change(case) is not None:
        return
    if abs(one.value) < max(SIGMAS * one.sd, STANDARD_KN) or not case.calibration.converged:
        return
    yield Finding(
        id="log-zero-offset",
        subject="log",
        severity="advice",
        title=f"The log shows {abs(one.value):.2f} kn too {'little' if one.value > 0 else 'much'} at every speed "
        f"(± {SIGMAS_95 * one.sd:.2f} kn).",
        value=one.value,
        sd=one.sd,
        unit="kn",
        determined=True,
        evidence=_evidence(case) | {"standard_kn": STANDARD_KN},
        action=f"Enter {one.value:+.2f} kn as the log's zero offset (true = factor × shown {one.value:+.2f} kn), or "
        "set its zero with the boat at rest.",
        verify="Lie stopped in still water for 5 min: the log must show nothing; then run to and fro at half speed.",
        caution="",
    )


def log_fouling(case: Case) -> Iterator[Finding]:
    """A log whose factor drifts or steps during the passage."""
    change = log_change(case)
    if change is None:
        return
    share = 100 * (change.before / change.after - 1)
    sd = 100 * change.sd * change.before / change.after**2
    hours = (change.end - change.start).total_seconds() / 3600
    lost = "lost" if share < 0 else "gained"
    if change.kind == "drift":
        title = (
            f"The log {lost} {abs(share):.1f} % ({within(sd, ' %')}) from {clock(change.start)} to "
            f"{clock(change.end)}, {abs(share) / hours:.1f} % per hour."
        )
    else:
        moment = clock(change.at) if change.at is not None else ""
        less = "less" if share < 0 else "more"
        title = f"The log reads {abs(share):.1f} % {less} from {moment} on ({within(sd, ' %')})."
    yield Finding(
        id="log-fouling",
        subject="log",
        severity="fault" if abs(share) > 100 * GROSS_CHANGE else "advice",
        title=title,
        value=share,
        sd=sd,
        unit="%",
        determined=True,
        evidence={
            "kind": change.kind,
            "at_utc": iso(change.at) if change.at is not None else None,
            "start_utc": iso(change.start),
            "end_utc": iso(change.end),
            "factor_before": change.before,
            "factor_after": change.after,
            "factor_sd": change.sd,
            "percent_per_hour": share / hours if change.kind == "drift" else None,
            "mean_factor": case.calibration.estimates["log_factor"].value,
        },
        action="Pull the paddle wheel and clean it of weed and growth; do not enter a factor before."
        if share < 0
        else "Look at the paddle wheel: something that braked it came off on the way.",
        verify="After cleaning, " + RUNS[0].lower() + RUNS[1:],
        caution=f"Speed and distance by log were {_misread(change.before)} at first and {_misread(change.after)} at "
        "the end, and so is what was reckoned from them.",
    )


def _misread(factor: float) -> str:
    """What a log with this factor shows, in words: "3 % too high"."""
    off = 100 * (1 / factor - 1)
    return f"{abs(off):.0f} % too {'high' if off > 0 else 'low'}"


def log_change(case: Case) -> Change | None:
    """The change of the log's factor, if any."""
    return next((one for one in case.calibration.changes if one.name == "log_factor"), None)


def beyond_standard(one: Estimate) -> bool:
    """Tell whether a determined log factor is surely outside the standard."""
    if not one.determined or one.value is None or one.sd is None:
        return False
    off = abs(one.value - 1)
    return off > SIGMAS * one.sd and off > STANDARD_SHARE + SIGMAS_95 * one.sd


def _evidence(case: Case) -> dict[str, object]:
    sailed = case.calibration.sailed
    return {
        "means_used": case.calibration.used,
        "mean_speed_kn": sailed.stw_kn if sailed is not None else None,
        "methods": [
            {"name": one.name, "value": one.value, "sd": one.sd}
            for one in case.calibration.evidence
            if one.subject == "log_factor"
        ],
    }
