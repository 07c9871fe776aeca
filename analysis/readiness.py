"""Every instrument of the boat before the next passage: verified, off, not known, or not recorded.

Verified means: the passage determines what it is off by, that lies with its ± inside the published accuracy of its
kind, and no fault or advice speaks against it.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np
import pandas as pd

from analysis.calibration.water import DEVIATION
from analysis.correction import neutral
from analysis.deviation_card import card_of, most_within
from analysis.estimate import SIGMAS_95, Estimate
from analysis.findings import Case, Finding
from analysis.passage import NO_ROWS
from analysis.screening.heel import LIKENESS_SD_DEG, ZERO_DEG, on_both_sides
from analysis.steering import TOLERANCE_DEG
from analysis.traffic import Traffic
from analysis.traffic.transmission import TOO_RARE
from analysis.verdicts import ALARMS, SPOKEN

State = Literal["verified", "off", "not known", "no sensor"]
MOST_DEVIATION_DEG = 5.0  # residual deviation after adjustment: RMI MN 2-011-32
NEAR_GNSS_M = 35.0  # two receivers of the older standard, MSC.74(69)


class _Instrument(NamedTuple):
    """What an instrument is called, its channels, the correction that judges it, and how near it must come.

    ``limit`` is the published accuracy in the unit of the correction, as ``limit_of`` says; ``do`` is what would
    tell where the log does not, ``again`` the next check of one that is verified.
    """

    name: str
    channels: tuple[str, ...]
    correction: str
    limit: float
    limit_of: str
    do: str
    again: str


_TURNS = (
    "Tack and gybe eight times, five minutes of steady sailing between, or make a full turn under engine."
)
INSTRUMENTS = (
    _Instrument(
        "log", ("stw_kn",), "log_factor", 0.02, "IMO A.824(19): 2 %",
        "Run to and fro between two marks, or sail on all headings in open water.",
        "After the next scrub or a week afloat at rest.",
    ),
    _Instrument(
        "compass", ("heading_true_deg", "heading_mag_deg"), "compass_constant_deg", 1.0, "MSC.116(73): 1°",
        "Swing her: a full turn under engine in five minutes, each way, in open water.",
        "After anything of iron or a speaker was moved near it.",
    ),
    _Instrument(
        "wind vane", ("awa_deg",), "vane_offset_deg", 5.0, "WMO-No. 8: 5°",
        _TURNS,
        "After any work at the masthead.",
    ),
    _Instrument(
        "anemometer", ("aws_kn",), "wind_speed_factor", 0.10, "WMO-No. 8: 10 %",
        _TURNS,
        "After any work at the masthead.",
    ),
    _Instrument(
        "heel sensor", ("heel_deg",), "", ZERO_DEG, "half a degree of leeway at 6 kn: 2.5°",
        "Read it at a berth in a calm, crew amidships: 0°. Or sail twenty minutes on each tack.",
        "After it was taken out, or the boat laden otherwise.",
    ),
    _Instrument(
        "barometer", ("air_pressure_hpa",), "barometer_offset_hpa", 1.0, "the step of most displays: 1 hPa",
        "Compare with a coast station within 50 nm and give its pressure with --pressure.",
        "Before each ocean leg.",
    ),
    _Instrument(
        "echo sounder", ("depth_m", "depth_surface_m", "depth_keel_m"), "", 0.0, "",
        "At the berth compare with a lead line, and note from where the sounder counts.",
        "After the offset was changed, or on a new bottom paint.",
    ),
    _Instrument(
        "water temperature", ("water_temp_c",), "", 0.0, "",
        "Hold a thermometer in a bucket of sea water for three minutes.",
        "Once a season.",
    ),
    _Instrument(
        "GNSS receiver", ("lat_deg", "sog_kn", "cog_deg"), "", 26.0, "two receivers, MSC.112(73): 13 m each",
        "At a charted berth compare the position; record a second receiver beside it.",
        "At each berth whose position is charted.",
    ),
    _Instrument(
        "rudder sensor", ("rudder_deg", "rudder_port_deg"), "", TOLERANCE_DEG, "ISO 20673: 1° amidships",
        "Put the rudder amidships by its stock and read 0°; sail close-hauled on both tacks, four tacks in all.",
        "After work on rudder, quadrant or sensor.",
    ),
)  # fmt: skip
_TRANSPONDER = "own AIS"
_AIS_DO = "Ask a vessel in sight whether she sees you, and let the transponder print its own messages (VDO)."
_AIS_AGAIN = "Ask a vessel in sight whether she sees you, before leaving."
_CLOCK_DO = "Compare the recorded time with a radio or telephone time for one minute."


@dataclass(frozen=True)
class Line:
    """One instrument. ``within`` is how far off it may be at 95 %, ``limit`` what its kind may be, in ``unit``.

    ``said`` is the finding's or a plain sentence, ``enter`` what to enter or do about it, ``correction`` the name
    of the correction behind it with its ``value`` and ``sd``, "" and None where there is none. ``evidence`` says
    by what, ``next`` the next check.
    """

    instrument: str
    state: State
    said: str = ""
    enter: str = ""
    correction: str = ""
    value: float | None = None
    sd: float | None = None
    within: float | None = None
    limit: float | None = None
    unit: str = ""
    evidence: str = ""
    next: str = ""


@dataclass(frozen=True)
class Readiness:
    """The sheet: a line for every instrument, and the moment of the last reading, None where it has no date."""

    lines: tuple[Line, ...]
    on: pd.Timestamp | None

    def of(self, state: State) -> tuple[str, ...]:
        """The instruments in a state."""
        return tuple(one.instrument for one in self.lines if one.state == state)


def readiness(case: Case, findings: Sequence[Finding], estimates: Mapping[str, Estimate]) -> Readiness:
    """Judge every instrument by findings and by ``estimates``, which are what remains to be corrected."""
    alarms: dict[str, list[Finding]] = {}
    for one in findings:
        if one.severity in ALARMS:
            alarms.setdefault(SPOKEN.get(one.subject, one.subject), []).append(one)
    logged = {one.key.channel for one in case.passage.sources}
    lines = [
        _judged(instrument, alarms.get(instrument.name, []), case, estimates, logged)
        for instrument in INSTRUMENTS
    ]
    lines += [_transponder(case.traffic, alarms.get("AIS", [])), _clock(case, alarms.get("clock", []))]
    index = case.passage.frame.index
    undated = {"no-date", "no-time"} & {fact.id for fact in case.passage.facts}
    return Readiness(tuple(lines), None if undated or not len(index) else index[-1])


def _judged(
    of: _Instrument, alarms: list[Finding], case: Case, estimates: Mapping[str, Estimate], logged: set[str]
) -> Line:
    if not logged & set(of.channels):
        return Line(of.name, "no sensor")
    if alarms:
        return _off(of.name, alarms)
    if not len(case.passage.frame):
        return Line(of.name, "not known", said=NO_ROWS, next=of.do)
    if of.correction:
        return _by_correction(of, case, estimates)
    found = {"heel sensor": _heel, "rudder sensor": _rudder}.get(of.name, _by_another)(of, case)
    return found or Line(of.name, "not known", next=of.do)


def _off(name: str, alarms: list[Finding]) -> Line:
    first, *others = alarms
    more = f" And {len(others)} more: see the findings." if others else ""
    return Line(
        name,
        "off",
        said=f"{first.title}{more}",
        enter=first.action,
        value=first.value,
        sd=first.sd,
        unit=first.unit,
        evidence=first.caution if first.value is None else "",
        next=first.verify,
    )


def _by_correction(of: _Instrument, case: Case, estimates: Mapping[str, Estimate]) -> Line:
    one = estimates.get(of.correction)
    if one is None or not one.determined or one.value is None or one.sd is None:
        return Line(of.name, "not known", next=(one.needs if one is not None else None) or of.do)
    off, spread = abs(one.value - neutral(of.correction)), SIGMAS_95 * one.sd
    known = Line(
        of.name,
        "verified",
        correction=of.correction,
        value=one.value,
        sd=one.sd,
        within=off + spread,
        limit=of.limit,
        unit=one.unit,
        evidence=_lines_of(case, of.correction),
        next=of.again,
    )
    if of.name == "compass" and not _curve_is_small(case, estimates):
        said = f"its deviation is not known to stay within {MOST_DEVIATION_DEG:.0f}° on every heading"
        return _doubted(known, said, of.do)
    if off + spread <= of.limit:
        return known
    if off > max(spread, of.limit):
        return Line(**vars(known) | {"state": "off", "next": of.do})
    return _doubted(known, f"known no better than that; it should be within {of.limit_of}", of.do)


def _doubted(line: Line, said: str, do: str) -> Line:
    return Line(**vars(line) | {"state": "not known", "said": said, "next": do})


def _curve_is_small(case: Case, estimates: Mapping[str, Estimate]) -> bool:
    """Whether deviation is determined and on every heading, with its ±, within what an adjusted compass may keep."""
    curve = [estimates.get(name) for name in DEVIATION[1:]]
    if not all(one is not None and one.determined for one in curve):
        return False
    card = card_of(case.calibration, estimates)
    return card is not None and most_within(card) <= MOST_DEVIATION_DEG


def _lines_of(case: Case, correction: str) -> str:
    """By which lines of evidence."""
    names = dict.fromkeys(one.name for one in case.calibration.evidence if one.subject == correction)
    return "by " + ", ".join(list(names)[:3]) if names else "by the passage as a whole"


def _heel(of: _Instrument, case: Case) -> Line | None:
    sides = on_both_sides(case.screened.frame, "heel_deg")
    if sides is None:
        return None
    sd = float(np.hypot(sides.sd, LIKENESS_SD_DEG))
    within = abs(sides.mean) + SIGMAS_95 * sd
    line = Line(
        of.name, "verified", value=-sides.mean, sd=sd, within=within, limit=of.limit, unit="deg",
        evidence=f"by both tacks, {sides.minutes:.0f} min", next=of.again,
    )  # fmt: skip
    return line if within <= of.limit else _doubted(line, "known no better than that", of.do)


def _rudder(of: _Instrument, case: Case) -> Line | None:
    rudder = case.rudder
    if rudder is None or rudder.offset.value is None or rudder.offset.sd is None:
        return None
    one = rudder.offset
    within = abs(rudder.offset.value) + SIGMAS_95 * rudder.offset.sd
    line = Line(
        of.name, "verified", correction="rudder_offset_deg", value=one.value, sd=one.sd, within=within,
        limit=of.limit, unit="deg", evidence=f"by both tacks and {len(rudder.response.turn_gains)} turns",
        next=of.again,
    )  # fmt: skip
    if not one.determined:
        return None
    if rudder.response.sign <= 0:
        said = "its sign seems reversed" if rudder.reversed else "its sign is not told by the turns"
        return _doubted(line, said, of.do)
    return line if within <= of.limit else _doubted(line, "known no better than that", of.do)


def _by_another(of: _Instrument, case: Case) -> Line | None:
    """By a second instrument of the kind that agrees within the published accuracy of two such."""
    agree = [
        one
        for one in case.agreement
        if one.channel in of.channels and not one.repeat and one.size <= 1 and one.within > 0.9
    ]
    if not agree:
        return None
    one = agree[0]
    said = {"lat_deg": "position"}.get(one.channel, "")
    evidence = f"two sources agree{f' in {said}' if said else ''}: {one.first.words}, "
    return Line(
        of.name, "verified", within=abs(one.bias) + SIGMAS_95 * one.bias_sd, limit=one.tolerance, unit=one.unit,
        evidence=f"{evidence}{one.second.words}", next=of.again,
    )  # fmt: skip


def _transponder(traffic: Traffic, alarms: list[Finding]) -> Line:
    if not traffic.heard:
        return Line(_TRANSPONDER, "no sensor")
    if alarms:
        return _off(_TRANSPONDER, alarms)
    sent = traffic.transmission
    if not sent.mmsis or not sent.reports or sent.ratio is None:
        return Line(_TRANSPONDER, "not known", said=sent.why, next=_AIS_DO)
    away = sent.offset_m
    wrong = list(_wrong_with(traffic))
    evidence = f"{sent.reports} reports of {sent.mmsis[0]}, every {sent.interval_s or 0:.0f} s"
    if wrong:
        return Line(_TRANSPONDER, "not known", said=", ".join(wrong), evidence=evidence, next=_AIS_DO)
    within = None if away is None or away.value is None else away.value + SIGMAS_95 * (away.sd or 0.0)
    return Line(
        _TRANSPONDER,
        "verified",
        within=within,
        limit=NEAR_GNSS_M,
        unit="m",
        evidence=evidence,
        next=_AIS_AGAIN,
    )


def _wrong_with(traffic: Traffic) -> Iterator[str]:
    sent = traffic.transmission
    away = sent.offset_m
    if len(sent.mmsis) > 1:
        yield "its identity changes"
    if sent.ratio is not None and sent.ratio > TOO_RARE:
        yield "it sends too seldom"
    if sent.silences:
        yield "it fell silent on the way"
    if away is None or away.value is None:
        yield "its position is not held against a GNSS receiver"
    elif away.value > NEAR_GNSS_M:
        yield "its position lies off the GNSS receiver's"


def _clock(case: Case, alarms: list[Finding]) -> Line:
    if alarms:
        return _off("clock", alarms)
    facts = {fact.id for fact in case.passage.facts}
    basis = case.passage.time_basis
    two = "GNSS time" in basis and "stamps" in basis and not any(name.startswith("stamps-") for name in facts)
    if two and not facts & {"no-date", "two-clocks", "clock-backward", "clock-never-set"}:
        return Line("clock", "verified", evidence="GNSS time and the recorder's stamps agree", next=_CLOCK_DO)
    if "no-time" in facts:
        return Line("clock", "no sensor")
    return Line("clock", "not known", said=f"one clock only: {basis}" if basis else "", next=_CLOCK_DO)
