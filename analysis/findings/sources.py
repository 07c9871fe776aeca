"""Two sources of one quantity that disagree, sensors that come late, and GNSS speed in place of the log."""

from collections.abc import Iterator
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from analysis.agreement import Agreement, in_use, stand_in
from analysis.channels import CHANNELS
from analysis.findings.case import Case
from analysis.findings.finding import Finding
from analysis.findings.telling import clock, iso, within
from analysis.passage import Passage, SourceKey
from analysis.vectors import wrap_signed_deg

# Agreement is measured in tolerances: what the published accuracy of two instruments of the kind allows, see
# KINDS in analysis.agreement.compare. Much more than that is no matter of accuracy.
WORTH_ADVICE, FAULT = 1.0, 2.5
NAMED_ELSEWHERE_DEG = 1.0  # how near a difference of headings must be to the variation to be that
LEAST_VARIATION_DEG = 1.5
# MSC.116(73) 4.3.2 lets a heading device lag by 0.5 deg at up to 10 deg/s and err by 1.5 deg in a seaway; pilots and
# true wind bear with two or three seconds (common practice, no source).
LATE_S = 3.5
NOTED_S = {"heading": 2.5, "awa": 4.0, "stw": 6.0}


_OF_RECEIVERS = ("lat_deg", "sog_kn", "cog_deg")
# What the calibration corrects of the source in use.
_CORRECTIONS = {"awa_deg": "vane_offset_deg", "aws_kn": "wind_speed_factor", "stw_kn": "log_factor"}


class _Words(NamedTuple):
    """How a quantity is spoken of: the instruments, its name, unit, decimals, and how to check it at sea."""

    subject: str
    instruments: str
    unit: str
    decimals: int
    verify: str
    caution: str


_WORDS = {
    "lat_deg": _Words(
        "GNSS", "GNSS receivers", " m", 0,
        "Alongside a charted berth compare both positions for five minutes.",
        "Do not navigate close in on either position until it is known which is wrong.",
    ),
    "sog_kn": _Words(
        "GNSS", "GNSS receivers", " kn", 1,
        "Hold course and speed for five minutes and divide the distance between positions by the time.",
        "Current and wind over the ground carry the error of the SOG they are worked out from.",
    ),
    "cog_deg": _Words(
        "GNSS", "GNSS receivers", "°", 0,
        "Hold a course above 3 kn for five minutes and take the course from the two positions.",
        "Current and wind over the ground carry the error of the COG they are worked out from.",
    ),
    "heading_true_deg": _Words(
        "compass", "headings", "°", 1,
        "Under engine turn a full circle in five minutes, or run along a charted transit both ways for two minutes.",
        "Do not let the pilot or the radar overlay use the wrong one.",
    ),
    "stw_kn": _Words(
        "log", "logs", " kn", 2,
        "Motor one way and back at one speed, five minutes each, and compare the mean with the mean SOG.",
        "Speed, current and true wind carry the error of the log they are worked out from.",
    ),
    "awa_deg": _Words(
        "wind", "wind vanes", "°", 0,
        "Motor dead to windward for two minutes: the wind angle must be 0°.",
        "Do not steer by wind angle with the pilot on the wrong vane, downwind least of all.",
    ),
    "aws_kn": _Words(
        "wind", "anemometers", " kn", 1,
        "Motor to windward and back over flat water, two minutes each: the readings must differ by twice the speed.",
        "Reef by the higher one until it is known which is wrong.",
    ),
    "depth_m": _Words(
        "echo sounder", "sounders", " m", 1,
        "At anchor or alongside in calm water, sound with a lead line and compare for two minutes.",
        "Trust the shallower depth until this is settled.",
    ),
    "water_temp_c": _Words(
        "water temperature", "water thermometers", " °C", 1,
        "Hang a thermometer in a bucket of freshly drawn sea water for two minutes.", "",
    ),
    "air_pressure_hpa": _Words(
        "barometer", "barometers", " hPa", 1,
        "Compare both with the pressure a coast station gives for your place and hour.",
        "Judge the weather by the change of one barometer, not by both in turn.",
    ),
}  # fmt: skip


def receivers_disagree(case: Case) -> Iterator[Finding]:
    """GNSS receivers that disagree; everything that is judged against the motion over the ground hangs on them."""
    return _disagreeing(case, _OF_RECEIVERS)


def sources_disagree(case: Case) -> Iterator[Finding]:
    """The worst pair of every other quantity whose sources differ by more than their accuracy allows."""
    return _disagreeing(case, tuple(channel for channel in _WORDS if channel not in _OF_RECEIVERS))


def _disagreeing(case: Case, channels: tuple[str, ...]) -> Iterator[Finding]:
    worst: dict[str, Agreement] = {}
    for one in case.agreement:
        told = one.channel in channels and one.disagrees and not _named_elsewhere(case.passage, one)
        if told and not (one.repeat and one.size < FAULT):
            best = worst.get(one.channel)
            if best is None or (_weight(case.passage, one) > _weight(case.passage, best)):
                worst[one.channel] = one
    for one in worst.values():
        yield _disagreement(case, _turned(case.passage, by_calibration(case, one)))


def by_calibration(case: Case, one: Agreement) -> Agreement:
    """Trust the one that needs the smaller correction by the calibration, where nothing else told."""
    estimate = case.calibration.estimates.get(_CORRECTIONS.get(one.channel, ""))
    using = in_use(case.passage) & {one.first, one.second}
    if one.trusted or one.repeat or estimate is None or not estimate.determined or len(using) != 1:
        return one
    if estimate.value is None or estimate.sd is None:
        return one
    used = using.pop()
    other, sign = (one.second, 1) if used == one.first else (one.first, -1)
    if one.scale is not None and one.scale_sd is not None:
        needed, change = float(np.log(estimate.value)), -sign * float(np.log(one.scale))
        sd = float(np.hypot(estimate.sd / estimate.value, one.scale_sd / one.scale))
        words = "by the calibration of this passage it needs {:.0%} of correction, the other {:.0%}"
    else:
        needed, change = estimate.value, -sign * one.bias
        sd = float(np.hypot(estimate.sd, one.bias_sd))
        words = "by the calibration of this passage it needs {:.0f}° of correction, the other {:.0f}°"
    off = (abs(needed), abs(needed + change))
    if abs(off[0] - off[1]) < 3 * sd:
        return one
    trusted = used if off[0] < off[1] else other
    return replace(one, trusted=trusted, why=words.format(min(off), max(off)))


def _turned(passage: Passage, one: Agreement) -> Agreement:
    """The same with the one to trust, else the one in use, put first."""
    first = one.trusted == one.first or (one.trusted is None and one.second not in in_use(passage))
    return one if first else one.turned()


def _weight(passage: Passage, one: Agreement) -> tuple[bool, bool, float]:
    return not one.repeat, bool({one.first, one.second} & in_use(passage)), one.size


def _named_elsewhere(passage: Passage, one: Agreement) -> bool:
    """Whether one compass's headings differ by the variation, once or twice: the rules on the heading say so."""
    if not one.repeat or one.channel != "heading_true_deg" or "variation_deg" not in passage.frame:
        return False
    variation = float(np.nanmedian(passage.frame["variation_deg"].to_numpy(dtype=float)))
    multiples = [abs(wrap_signed_deg(abs(one.bias) - k * abs(variation))) for k in (1, 2)]
    return bool(abs(variation) > LEAST_VARIATION_DEG and min(multiples) < NAMED_ELSEWHERE_DEG)


def _disagreement(case: Case, one: Agreement) -> Finding:
    passage = case.passage
    words = _WORDS[one.channel]
    label = "position" if one.channel == "lat_deg" else CHANNELS[one.channel].label.split(",")[0]
    label = label if label.isupper() else label.lower()
    first, second = name_of(one.first), name_of(one.second)
    whole = one.size > WORTH_ADVICE and one.sure
    trusted = name_of(one.trusted) if one.trusted is not None else None
    wrong = None
    if one.trusted is not None:
        wrong = one.second if one.trusted == one.first else one.first
    used = wrong in in_use(passage)
    said = _said(one, words, first, second) if whole else _said_of_stretch(one, words, first, second)
    verdict = f"trust {trusted}" if trusted else "the log does not tell which is right"
    value, sd, unit = (
        (one.bias, one.bias_sd, one.unit)
        if whole or one.apart is None
        else (one.apart.difference, one.bias_sd, one.unit)
    )
    severity = "fault" if one.size > FAULT and whole else "advice"
    return Finding(
        id="sounders-disagree" if one.channel == "depth_m" else "sources-disagree",
        subject=words.subject,
        severity=severity,
        title=f"The two {words.instruments} disagree: {said}; {verdict}.",
        value=float(value),
        sd=float(sd),
        unit=unit,
        determined=bool(whole or one.apart is not None),
        evidence={
            "channel": one.channel,
            "first": first,
            "second": second,
            "compared_s": one.compared_s,
            "difference": one.bias,
            "difference_sd": one.bias_sd,
            "ratio": one.scale,
            "ratio_sd": one.scale_sd,
            "lag_s": one.lag_s,
            "drift_per_h": one.drift_per_h,
            "noise_first": one.noise_first,
            "noise_second": one.noise_second,
            "dropouts_first": one.dropouts_first,
            "dropouts_second": one.dropouts_second,
            "allowed": one.tolerance,
            "within_allowed": one.within,
            "apart_from_utc": iso(one.apart.start) if one.apart else None,
            "apart_to_utc": iso(one.apart.end) if one.apart else None,
            "trusted": trusted,
            "why": one.why,
            "untrusted_is_in_use": bool(used),
        },
        action=_action(one, label, trusted, wrong, bool(used)),
        verify=words.verify,
        caution=words.caution,
    )


def _said(one: Agreement, words: _Words, first: str, second: str) -> str:
    """The difference on the whole: "VWVHW reads 1.12 times (± 0.01) what IIVHW reads"."""
    if one.channel == "lat_deg":
        return f"{second} stands {one.bias:.0f} m ({within(one.bias_sd, ' m', 1)}) from {first}"
    if one.scale is not None and one.scale_sd is not None and abs(one.scale - 1) > 3 * one.scale_sd:
        return f"{second} shows {one.scale:.3f} times (± {max(1.96 * one.scale_sd, 0.001):.3f}) what {first} shows"
    least = 10.0**-words.decimals
    return (
        f"{second} shows {abs(one.bias):.{words.decimals}f}{words.unit} ({within(one.bias_sd, words.unit, least)}) "
        f"{'more' if one.bias > 0 else 'less'} than {first}"
    )


def _said_of_stretch(one: Agreement, words: _Words, first: str, second: str) -> str:
    assert one.apart is not None
    return (
        f"from {clock(one.apart.start)} to {clock(one.apart.end)} {second} and {first} lie "
        f"{abs(one.apart.difference):.{words.decimals}f}{words.unit} apart"
    )


def _action(one: Agreement, label: str, trusted: str | None, wrong: SourceKey | None, used: bool) -> str:
    if trusted is None or wrong is None:
        return f"{one.why} Compare both at sea, then set right or disconnect the wrong one."
    choose = f"Set the displays and the pilot to take {label} from {trusted}" + (
        " (this review uses the other one)" if used else ""
    )
    return f"{choose}: {one.why}. Set {name_of(wrong)} right or disconnect it."


def name_of(key: SourceKey) -> str:
    """What a source is called in its sentences: "GPRMC", with the device where there are several."""
    return " ".join(part for part in (key.talker + key.formatter, key.instance) if part)


def sensor_lag(case: Case) -> Iterator[Finding]:
    """Sensors that come late by the turns."""
    names = {"heading": "heading", "awa": "apparent wind angle", "stw": "log"}
    for channel, name in names.items():
        lag = case.calibration.estimates.get(f"{channel}_lag_s")
        if lag is None or not lag.determined or lag.value is None or lag.sd is None:
            continue
        grave = channel == "heading" and lag.value - 3 * lag.sd > LATE_S
        if not grave and lag.value - 1.96 * lag.sd < NOTED_S[channel]:
            continue
        yield Finding(
            id="sensor-lag",
            subject={"heading": "compass", "awa": "wind vane", "stw": "log"}[channel],
            severity="advice" if grave else "note",
            title=f"The {name} comes {lag.value:.1f} s ({within(lag.sd, ' s')}) after the boat's motion.",
            value=lag.value,
            sd=lag.sd,
            unit="s",
            determined=True,
            evidence={"channel": channel, "turns": len(case.manoeuvres.turns)},
            action=f"Lower the damping of the {name} by about {lag.value:.0f} s, at its sensor and in the displays.",
            verify="Tack briskly twice, two minutes apart, and watch the display: it must settle as the boat does.",
            caution="A pilot that steers by a late heading weaves." if channel == "heading" else "",
        )


def gnss_for_log(case: Case) -> Iterator[Finding]:
    """SOG as the stand-in where the log is silent, and its cost."""
    one = stand_in(case.screened.frame)
    if one is None:
        return
    hours = one.silent_s / 3600
    yield Finding(
        id="gnss-speed-for-log",
        subject="log",
        severity="note",
        title=(
            "The log has no STW; SOG stands in for it."
            if one.absent
            else f"The log is silent for {hours:.1f} h under way; SOG stands in for it."
        ),
        value=one.current_kn,
        sd=None,
        unit="kn",
        determined=one.current_kn is not None,
        evidence={"silent_s": one.silent_s, "under_way_s": one.under_way_s, "current_kn": one.current_kn},
        action=f"Take SOG for the speed and mind what it costs. {one.words}",
        verify="When the log works again, compare it with SOG one way and back, five minutes each.",
        caution="In a tidal stream steer by course over the ground, not by heading and speed.",
    )
