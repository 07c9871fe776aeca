"""The barometer: its unit, its offset, and jumps that no weather makes."""

from collections.abc import Iterator

import numpy as np

from analysis.calibration.steps import find_sudden
from analysis.findings.case import Case
from analysis.findings.finding import Finding
from analysis.findings.lookup import moment
from analysis.findings.telling import clock, iso, times, within
from analysis.passage import readings_of
from analysis.reading.pressure import HPA_PER

SUBJECT = "barometer"
# WMO archive of weather extremes: 870 hPa (1979) and, below 750 m, 1083.8 hPa (1968) at sea level.
LOWEST_HPA, HIGHEST_HPA = 870.0, 1085.0
FEWEST = 20
USUAL_HPA = 1013.25  # ICAO standard atmosphere
JUMP_HPA = 2.0  # judgement: squalls change the pressure by this in minutes, not in seconds
LARGE_OFFSET_HPA = 5.0  # judgement: the step between a gale and none on a forecast chart
# WMO-No. 8 annex 1.A, from memory: 0.3 hPa is twice what a good station achieves.
OFFSET_THAT_MATTERS_HPA = 0.3
_SPOKEN = {
    "inhg": "inches of mercury",
    "kpa": "kPa",
    "bar": "bar",
    "pa": "Pa",
    "mmhg": "millimetres of mercury",
    "hpa": "hPa",
}
_COMPARE = (
    "Near a coast station note its sea-level pressure and yours at the same minute, twice, an hour apart."
)


def unit(case: Case) -> Iterator[Finding]:
    """Pressures that no place at sea has, and the unit in which they would be right."""
    counts = case.passage.counts
    kept_out = counts.out_of_range.get("air_pressure_hpa", 0)
    typical = counts.typical_impossible.get("air_pressure_hpa")
    readings = sum(
        len(one.value) for key, one in case.passage.series.items() if key.channel == "air_pressure_hpa"
    )
    if typical is None or kept_out < 5:
        return
    evidence: dict[str, object] = {"kept_out": kept_out, "readings": readings, "typical_hpa": typical}
    if kept_out < 0.2 * (kept_out + readings):
        yield Finding(
            id="barometer-spikes",
            subject=SUBJECT,
            severity="note",
            title=f"The barometer gave an impossible pressure {times(kept_out)}, typically {_plain(typical)} hPa.",
            value=typical,
            sd=None,
            unit="hPa",
            determined=True,
            evidence=evidence,
            action="They are left out; look at the sensor's cable and supply if they go on.",
            verify="Watch the pressure for five minutes.",
            caution="",
        )
        return
    meant = _meant(typical)
    reads = ""
    if meant is not None:
        (told, true), value = meant
        reads = f"; sent as {_SPOKEN[told]} but meant as {_SPOKEN[true]}, it would be {value:.1f} hPa"
        evidence |= {"sent_as": told, "meant_as": true, "then_hpa": value}
    yield Finding(
        id="barometer-unit",
        subject=SUBJECT,
        severity="fault",
        title=f"The barometer's readings of typically {_plain(typical)} hPa are impossible{reads}.",
        value=typical,
        sd=None,
        unit="hPa",
        determined=True,
        evidence=evidence,
        action="Set the sensor's output to the unit its sentence names; until then read its own display.",
        verify="Compare the recorded pressure with a coast station's for one minute.",
        caution="Falling pressure cannot be seen in this recording.",
    )


def _plain(number: float) -> str:
    return f"{number:,.0f}" if abs(number) >= 100 else f"{number:.3g}"


def _meant(typical_hpa: float) -> tuple[tuple[str, str], float] | None:
    """The pair of units (told, true) that brings a pressure nearest to the usual one, and that pressure."""
    candidates = [
        ((told, true), typical_hpa / HPA_PER[told] * HPA_PER[true])
        for told in ("bar", "pa", "hpa", "inhg")
        for true in ("hpa", "inhg", "kpa", "mmhg", "bar", "pa")
        if told != true
    ]
    possible = [one for one in candidates if LOWEST_HPA <= one[1] <= HIGHEST_HPA]
    return min(possible, key=lambda one: abs(np.log(one[1] / USUAL_HPA)), default=None)


def gross(case: Case) -> Iterator[Finding]:
    """A pressure beyond every record at sea level needs no reference."""
    _, value = readings_of(case.passage, "air_pressure_hpa")
    known = case.calibration.estimates.get("barometer_offset_hpa")
    if len(value) < FEWEST or (known is not None and known.determined):
        return
    shown = float(np.median(value))
    if LOWEST_HPA <= shown <= HIGHEST_HPA:
        return
    side, record = (
        ("below the lowest", LOWEST_HPA) if shown < LOWEST_HPA else ("above the highest", HIGHEST_HPA)
    )
    yield Finding(
        id="barometer-offset",
        subject=SUBJECT,
        severity="fault",
        title=f"The barometer shows {shown:.1f} hPa, {side} pressure ever recorded at sea level.",
        value=record - shown,
        sd=None,
        unit="hPa",
        determined=False,
        evidence={"median_hpa": shown, "lowest_hpa": LOWEST_HPA, "highest_hpa": HIGHEST_HPA},
        action="Give a coast station's sea-level pressure with --pressure to learn what to enter as offset.",
        verify=_COMPARE,
        caution="The change of pressure may still be right; its level is not.",
    )


def offset(case: Case) -> Iterator[Finding]:
    """What to add to the barometer, by the reference that was given."""
    one = case.calibration.estimates.get("barometer_offset_hpa")
    if one is None or not one.determined or one.value is None or one.sd is None:
        return
    if abs(one.value) < max(3 * one.sd, OFFSET_THAT_MATTERS_HPA):
        return
    way = "low" if one.value > 0 else "high"
    check = case.barometer
    evidence: dict[str, object] = {"offset_hpa": one.value, "sd_hpa": one.sd}
    if check is not None:
        evidence |= {
            "shown_mean_hpa": check.shown_hpa,
            "expected_mean_hpa": check.expected_hpa,
            "sensor_height_m": check.height_m,
            "hours_compared": check.hours,
        }
    yield Finding(
        id="barometer-offset",
        subject=SUBJECT,
        severity="fault" if abs(one.value) >= LARGE_OFFSET_HPA else "advice",
        title=f"The barometer reads {abs(one.value):.1f} {within(one.sd, ' hPa')} too {way} against the reference.",
        value=one.value,
        sd=one.sd,
        unit="hPa",
        determined=True,
        evidence=evidence,
        action=f"Enter a barometer offset of {one.value:+.1f} hPa: true = shown + offset.",
        verify=_COMPARE,
        caution="The reference is trusted here; one from more than 50 nm away or another time misleads.",
    )


def scale(case: Case) -> Iterator[Finding]:
    """A barometer that shows more or less change than the reference."""
    check = case.barometer
    if check is None or check.scale is None or check.scale_sd is None:
        return
    off = check.scale - 1
    if abs(off) < max(3 * check.scale_sd, 0.1):  # judgement: a tenth of the change is beyond what charts err
        return
    yield Finding(
        id="barometer-scale",
        subject=SUBJECT,
        severity="advice",
        title=f"The barometer shows {100 * check.scale:.0f} ± {196 * check.scale_sd:.0f} % of the change there was.",
        value=check.scale,
        sd=check.scale_sd,
        unit="1",
        determined=True,
        evidence={"scale": check.scale, "sd": check.scale_sd, "hours_compared": check.hours},
        action="Have the sensor tested; an offset alone does not mend it.",
        verify="Compare with a coast station at two times between which the pressure changed by 10 hPa.",
        caution="A falling glass is told too late or too early.",
    )


def jumps(case: Case) -> Iterator[Finding]:
    """Steps of the shown pressure that no weather makes."""
    sudden = find_sudden(*readings_of(case.passage, "air_pressure_hpa"), JUMP_HPA)
    if not sudden.steps:
        return
    largest = max(sudden.steps, key=lambda step: abs(step.size))
    yield Finding(
        id="barometer-jump",
        subject=SUBJECT,
        severity="advice",
        title=f"The barometer jumps by {largest.size:+.1f} {within(largest.sd, ' hPa')} within seconds at "
        f"{clock(moment(largest.time_s))}.",
        value=largest.size,
        sd=largest.sd,
        unit="hPa",
        determined=True,
        evidence={
            "jumps": [{"time_utc": iso(moment(step.time_s)), "hpa": step.size} for step in sudden.steps],
            "spikes": sudden.spikes,
        },
        action="Find out what was changed then (offset, height, supply); do not read a trend across it.",
        verify=_COMPARE,
        caution="A trend across the jump foretells weather that is not there.",
    )


RULES = (unit, gross, offset, scale, jumps)
