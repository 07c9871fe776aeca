"""The clock: what is wrong with the time a log tells."""

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from analysis.findings import telling
from analysis.findings.case import Case
from analysis.findings.finding import Finding
from analysis.findings.lookup import moment, number
from analysis.passage import Fact, Passage, seconds_of
from analysis.vectors import wrap_signed_deg

BACKWARD_FOR_A_MOMENT = 30
TWO_CLOCKS_S = 3.0  # a time passed on by another instrument comes a second or two late
UNDER_WAY_KN, SAME_WAY_DEG = 2.0, 60.0


class _Clock(NamedTuple):
    severity: str
    action: str
    caution: str = ""


_CLOCK = {
    "clock-stepped-back": _Clock(
        "fault",
        "Find out what set the clock back (power, a second receiver), and which part of the recording is right.",
        "Where two parts tell the same times, track and sums mix them.",
    ),
    "week-rollover": _Clock(
        "fault",
        "Update or replace the GNSS receiver: it tells a date 1024 weeks early; dates here are put right.",
        "Instruments that reckon tide or variation by that date are wrong.",
    ),
    "clock-never-set": _Clock("note", "Record only once the GNSS receiver has a fix, or give --date."),
    "no-date": _Clock("note", "Give the date with --date, and let the receiver send RMC or ZDA."),
    "no-time": _Clock("note", "Let the receiver send RMC or ZDA, or the recorder stamp each line."),
    "stamps-wander": _Clock("note", "Let the recorder stamp each line as it arrives."),
    "stamps-local": _Clock("note", "Set the recorder's clock to UTC."),
    "stamps-off": _Clock("note", "Set the recorder's clock by GNSS time."),
    "stamps-drift": _Clock("note", "Let the recorder keep its clock by GNSS time."),
    "stamps-unzoned": _Clock("note", "Set the recorder's clock to UTC and let it write the zone."),
}
_VERIFY_CLOCK = "Compare the recorded time with a radio or telephone time for one minute."


def clock(case: Case) -> Iterator[Finding]:
    """What is wrong with the time the log tells."""
    for fact in case.passage.facts:
        if fact.id in _CLOCK:
            yield _clock_finding(fact, _CLOCK[fact.id])
        elif fact.id == "clock-backward":
            yield _clock_finding(*_set_back(fact))
        elif fact.id == "two-clocks":
            apart = abs(number(fact, "lag_s")) >= TWO_CLOCKS_S
            yield _clock_finding(
                fact,
                _Clock(
                    "advice" if apart else "note",
                    "Let one receiver give the time to all instruments; update the one that is off.",
                ),
            )
    yield from _leap(case.passage)


def _clock_finding(fact: Fact, how: _Clock) -> Finding:
    return Finding(
        id="clock",
        subject="clock",
        severity=how.severity,
        title=fact.text,
        value=None,
        sd=None,
        unit="",
        determined=True,
        evidence={"fact": fact.id, **fact.numbers},
        action=how.action,
        verify=_VERIFY_CLOCK,
        caution=how.caution,
    )


def was_set_back(passage: Passage) -> bool:
    """Tell whether the clock tells a stretch of times twice, so that two parts of the log lie over one another."""
    return any(
        fact.id == "clock-stepped-back"
        or (fact.id == "clock-backward" and number(fact, "sentences") > BACKWARD_FOR_A_MOMENT)
        for fact in passage.facts
    )


def _set_back(fact: Fact) -> tuple[Fact, _Clock]:
    sentences = int(number(fact, "sentences"))
    if sentences <= BACKWARD_FOR_A_MOMENT:
        return fact, _Clock("note", "Nothing to do.")
    told = Fact(
        fact.id,
        f"The GNSS clock was set back: {sentences:,} sentences tell a time that had been told before.",
        fact.numbers,
    )
    action = "Find out what set the clock back; check the receiver's supply."
    return told, _Clock("fault", action, "Times beside the step may be off by its size.")


def _leap(passage: Passage) -> Iterator[Finding]:
    """A clock that leaps forward: the log is silent for long, but the boat goes on from where she was."""
    names = ["lat_deg", "lon_deg", "sog_kn", "cog_deg"]
    if not passage.gaps or not set(names) <= set(passage.frame):
        return
    known = passage.frame[names].dropna()
    time_s = seconds_of(known)
    lat, lon, sog, cog = known.to_numpy().T
    for gap in passage.gaps:
        after = int(np.searchsorted(time_s, gap.end_s - 1))
        before = int(np.searchsorted(time_s, gap.start_s + 1)) - 1
        if before < 0 or after >= len(time_s) or after <= before:
            continue
        sog_kn = min(
            float(np.median(sog[max(before - 30, 0) : before + 1])), float(np.median(sog[after : after + 30]))
        )
        silent_s = gap.end_s - gap.start_s
        north, east = lat[after] - lat[before], (lon[after] - lon[before]) * np.cos(np.radians(lat[before]))
        moved_nm = 60 * float(np.hypot(north, east))
        turned_deg = abs(float(wrap_signed_deg(cog[after] - cog[before])))
        at_once_nm = 0.02 + sog_kn * min(20.0, 0.1 * silent_s) / 3600
        if sog_kn < UNDER_WAY_KN or turned_deg > SAME_WAY_DEG or moved_nm > at_once_nm:
            continue
        at = moment(gap.start_s)
        leapt = Fact(
            "clock-leapt",
            f"The clock leaps forward by {silent_s / 60:.1f} min at {telling.clock(at)}: the boat, under way at "
            f"{sog_kn:.1f} kn, had not moved.",
            {"leap_s": silent_s, "time_utc": telling.iso(at), "moved_nm": moved_nm, "sog_kn": sog_kn},
        )
        action = "Find out what set the clock; do not use speeds and current beside the leap."
        yield _clock_finding(leapt, _Clock("fault", action))


RULES = (clock,)
