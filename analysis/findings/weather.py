"""A forecast that was off by more than the passage's own uncertainty: to know, not about the boat."""

from collections.abc import Iterator
from typing import NamedTuple

from analysis.findings.case import Case
from analysis.findings.finding import Finding
from analysis.weather import PRESSURE, TWD, TWS
from analysis.weather.words import bias_text, shift_text

SUBJECT = "forecast"
SIGMAS = 3.0
LATE_H = 1.0  # judgement: the step of the finest forecasts at sea


class _Judged(NamedTuple):
    id: str
    matters: float
    said: str


# Judgement: 3 kn is half of the step from one force to the next about force 5, 1 hPa the step of charts read aboard;
# 10 deg are twice what WMO-No. 8 annex 1.A asks of a measured direction, from memory.
_JUDGED = {
    TWS: _Judged("forecast-wind-speed", 3.0, "The forecast wind was"),
    TWD: _Judged("forecast-wind-direction", 10.0, "The forecast wind direction lay"),
    PRESSURE: _Judged("forecast-pressure", 1.0, "The forecast pressure was"),
}
_VERIFY = "Hold the next forecast of the same source against the recording of the next passage."
_CAUTION = "The boat's own instruments are taken as corrected here; one passage is one sample of the weather."


def errors(case: Case) -> Iterator[Finding]:
    """Mean errors of the forecast's wind and pressure."""
    check = case.weather.forecast if case.asked.weather.forecast is not None else None
    for score in check.scores if check is not None else ():
        judged, one = _JUDGED[score.channel], score.bias
        if not one.determined or one.value is None or one.sd is None:
            continue
        if abs(one.value) < max(SIGMAS * one.sd, judged.matters):
            continue
        yield Finding(
            id=judged.id,
            subject=SUBJECT,
            severity="note",
            title=f"{judged.said} {bias_text(score)} on the mean of {score.hours:.0f} h.",
            value=one.value,
            sd=one.sd,
            unit=one.unit,
            determined=True,
            evidence={"rms": score.rms, "rms_without_bias": score.rms_about, "hours": score.hours},
            action="Allow for it in the next forecast of the same source and area.",
            verify=_VERIFY,
            caution=_CAUTION,
        )


def timing(case: Case) -> Iterator[Finding]:
    """Weather that came earlier or later than forecast."""
    check = case.weather.forecast if case.asked.weather.forecast is not None else None
    one = None if check is None or check.shift is None else check.shift.lag
    if check is None or one is None or not one.determined or one.value is None or one.sd is None:
        return
    if abs(one.value) < max(SIGMAS * one.sd, LATE_H):
        return
    yield Finding(
        id="forecast-timing",
        subject=SUBJECT,
        severity="note",
        title=f"The weather came {shift_text(check.shift)}.",
        value=one.value,
        sd=one.sd,
        unit="h",
        determined=True,
        evidence={"lag_h": one.value, "sd_h": one.sd},
        action="Shift the rest of this forecast by as much, until the next one is there.",
        verify=_VERIFY,
        caution=_CAUTION,
    )


RULES = (errors, timing)
