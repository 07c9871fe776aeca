"""The current: one that turns with the boat is no current but an error of log or compass."""

from collections.abc import Iterator

from analysis.calibration.water import DEVIATION
from analysis.estimate import SIGMAS_95
from analysis.findings.case import Case
from analysis.findings.compass import constant_beyond_standard
from analysis.findings.finding import Finding
from analysis.findings.log import beyond_standard

RAD = 0.017453292519943295


def turns_with_boat(case: Case) -> Iterator[Finding]:
    """The part of the current as shown that turns with the boat, and the instrument it accuses."""
    estimates, sailed = case.calibration.estimates, case.calibration.sailed
    log, compass = estimates["log_factor"], estimates["compass_constant_deg"]
    if sailed is None or any(one.name in DEVIATION for one in case.calibration.changes):
        return
    accused = [
        name
        for name, guilty in (("log", beyond_standard(log)), ("compass", constant_beyond_standard(case)))
        if guilty
    ]
    if not accused or log.value is None or compass.value is None or log.sd is None or compass.sd is None:
        return
    along, along_sd = sailed.stw_kn * (log.value - 1), sailed.stw_kn * log.sd
    across, across_sd = (
        sailed.stw_kn * log.value * RAD * compass.value,
        sailed.stw_kn * log.value * RAD * compass.sd,
    )
    value, sd = (along, along_sd) if abs(along) > abs(across) else (across, across_sd)
    yield Finding(
        id="current-turns-with-boat",
        subject="current",
        severity="note",
        title=f"Without correction {abs(value):.2f} kn (± {SIGMAS_95 * sd:.2f} kn) of the current turns with the "
        f"boat: that is the {' and the '.join(accused)}, not the sea.",
        value=value,
        sd=sd,
        unit="kn",
        determined=True,
        evidence={
            "along_heading_kn": along,
            "along_heading_kn_sd": along_sd,
            "to_starboard_kn": across,
            "to_starboard_kn_sd": across_sd,
            "accused": accused,
        },
        action="Trust set and drift only with the correction entered; here they are shown with it.",
        verify="Turn through a full circle under engine in five minutes: a real current keeps its direction.",
        caution="",
    )
