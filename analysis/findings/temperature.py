"""The water temperature: what no sea has, a unit taken for another, a reading of nothing, jumps."""

from collections.abc import Iterator

import numpy as np

from analysis.calibration.steps import find_sudden
from analysis.findings.case import Case
from analysis.findings.finding import Finding
from analysis.findings.lookup import moment
from analysis.findings.telling import clock, iso, times, within
from analysis.passage import readings_of

SUBJECT = "water temperature"
FEWEST = 20
# Sea water freezes at -1.9 degC (UNESCO 1983, 35 psu), and enclosed warm seas reach 36 degC; broad limits of
# sea and lake by latitude between (judgement on published climatologies, wide on purpose).
COLDEST_C, WARMEST_C = -2.0, 36.0
_LATITUDES_DEG = (0.0, 30.0, 40.0, 50.0, 60.0, 70.0, 90.0)
_WARMEST_C = (36.0, 36.0, 33.0, 29.0, 26.0, 20.0, 10.0)
_COLDEST_C = (10.0, 5.0, -2.0, -2.0, -2.0, -2.0, -2.0)
JUMP_C = 3.0  # judgement: the sharpest fronts take a boat a minute to cross
NOTHING_SHARE = 0.2
_VERIFY = "Hang a thermometer in a bucket of sea water, freshly drawn, for two minutes."
_CAUTION = "Set the sensor right before using it to find a current's edge."


def unit(case: Case) -> Iterator[Finding]:
    """Temperatures that do not exist: a wrong unit, or a number that stands for nothing."""
    counts = case.passage.counts
    kept_out = counts.out_of_range.get("water_temp_c", 0)
    typical = counts.typical_impossible.get("water_temp_c")
    if typical is None or kept_out < 5:
        return
    readings = sum(
        len(one.value) for key, one in case.passage.series.items() if key.channel == "water_temp_c"
    )
    evidence: dict[str, object] = {"kept_out": kept_out, "readings": readings, "typical_c": typical}
    if kept_out < 0.2 * (kept_out + readings):
        yield _finding(
            "note",
            f"The water temperature was impossible {times(kept_out)}, typically {typical:.4g} °C.",
            typical,
            evidence,
            "They are left out; such numbers often stand for no reading.",
            "",
        )
        return
    meant = _meant(typical, _latitude_deg(case))
    words = f"; as {meant[0]} it would be {meant[1]:.1f} °C" if meant else ""
    yield _finding(
        "advice",
        f"The water temperature of typically {typical:.4g} °C is impossible{words}.",
        typical,
        evidence | ({"meant_as": meant[0], "then_c": meant[1]} if meant else {}),
        "Set the sensor's output to °C." if meant else "Have the sensor and its cable tested.",
        _CAUTION,
    )


def implausible(case: Case) -> Iterator[Finding]:
    """Temperatures that the sensor can show but no sea at this latitude has, and zeros for nothing."""
    _, value = readings_of(case.passage, "water_temp_c")
    if len(value) < FEWEST:
        return
    latitude_deg = _latitude_deg(case)
    low, high = _limits_c(latitude_deg)
    middle = float(np.median(value))
    zeros = float(np.mean(value == 0))
    evidence: dict[str, object] = {
        "median_c": middle,
        "lowest_c": float(value.min()),
        "highest_c": float(value.max()),
        "share_of_zeros": zeros,
        "latitude_deg": None if np.isnan(latitude_deg) else latitude_deg,
    }
    if zeros == 1.0 or (zeros > NOTHING_SHARE and float(np.median(value[value != 0])) > JUMP_C):
        how = "throughout" if zeros == 1.0 else f"in {100 * zeros:.0f} % of its readings"
        yield _finding(
            "advice",
            f"The water temperature reads exactly 0 °C {how}, which a sensor without a signal does.",
            0.0,
            evidence,
            "Check the sensor's cable, and that a temperature sensor is fitted at all.",
            _CAUTION,
        )
    elif not low <= middle <= high:
        meant = _meant(middle, latitude_deg)
        words = f"; as {meant[0]} it would be {meant[1]:.1f} °C" if meant else ""
        where = "at this latitude" if COLDEST_C <= middle <= WARMEST_C else "anywhere"
        yield _finding(
            "advice",
            f"The water temperature of {middle:.1f} °C is found in no sea {where}{words}.",
            middle,
            evidence | ({"meant_as": meant[0], "then_c": meant[1]} if meant else {}),
            "Set the sensor's output to °C."
            if meant
            else "Have the sensor tested; it may lie dry or be warmed.",
            _CAUTION,
        )


def jumps(case: Case) -> Iterator[Finding]:
    """Steps that no front at sea makes within seconds."""
    time_s, value = readings_of(case.passage, "water_temp_c")
    sudden = find_sudden(time_s[value != 0], value[value != 0], JUMP_C)
    if not sudden.steps:
        return
    largest = max(sudden.steps, key=lambda step: abs(step.size))
    yield _finding(
        "advice",
        f"The water temperature jumps by {largest.size:+.1f} {within(largest.sd, ' °C')} within seconds at "
        f"{clock(moment(largest.time_s))}.",
        largest.size,
        {
            "jumps": [{"time_utc": iso(moment(step.time_s)), "c": step.size} for step in sudden.steps],
            "spikes": sudden.spikes,
        },
        "Check the sensor's cable and what was switched at that time.",
        _CAUTION,
        largest.sd,
    )


def _finding(
    severity: str,
    title: str,
    value: float,
    evidence: dict[str, object],
    action: str,
    caution: str,
    sd: float | None = None,
) -> Finding:
    return Finding(
        id="water-temperature",
        subject=SUBJECT,
        severity=severity,
        title=title,
        value=value,
        sd=sd,
        unit="degC",
        determined=True,
        evidence=evidence,
        action=action,
        verify=_VERIFY,
        caution=caution,
    )


def _latitude_deg(case: Case) -> float:
    frame = case.passage.frame
    return float(frame["lat_deg"].median()) if "lat_deg" in frame else float("nan")


def _limits_c(latitude_deg: float) -> tuple[float, float]:
    if np.isnan(latitude_deg):
        return COLDEST_C, WARMEST_C
    at = abs(latitude_deg)
    return float(np.interp(at, _LATITUDES_DEG, _COLDEST_C)), float(np.interp(at, _LATITUDES_DEG, _WARMEST_C))


def _meant(shown_c: float, latitude_deg: float) -> tuple[str, float] | None:
    """The unit in which a number sent as degC would be a sea's temperature, and that temperature in degC."""
    low, high = _limits_c(latitude_deg)
    for name, value in (("°F", (shown_c - 32) / 1.8), ("kelvin", shown_c - 273.15)):
        if low <= value <= high:
            return name, value
    return None


RULES = (unit, implausible, jumps)
