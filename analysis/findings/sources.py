"""Two sources of one quantity that disagree, sensors that come late, and GNSS speed in place of the log."""

from collections.abc import Iterator
from typing import NamedTuple

from analysis.agreement import Agreement, in_use
from analysis.channels import CHANNELS
from analysis.estimate import SIGMAS_95, Estimate
from analysis.findings.case import Case
from analysis.findings.compass import GROSS_DEG, is_explained
from analysis.findings.finding import Finding
from analysis.findings.log import GROSS_SHARE, log_change
from analysis.findings.rivals import FAULT, WORTH_ADVICE, worst_pair
from analysis.findings.telling import clock, iso, within
from analysis.findings.wind import STANDARD_DEG, STANDARD_SHARE
from analysis.passage import SourceKey

# MSC.116(73) 4.3.2 lets a heading device lag by 0.5 deg at up to 10 deg/s and err by 1.5 deg in a seaway; pilots and
# true wind bear with two or three seconds (common practice, no source).
LATE_S = 3.5
NOTED_S = {"heading": 2.5, "awa": 4.0, "stw": 6.0}

_OF_RECEIVERS = ("lat_deg", "sog_kn", "cog_deg")
_SURE = 3.0
# The error that alone makes a fault of an instrument in use, as in the rules on it; a share for speeds.
_GROSS = {
    "stw_kn": GROSS_SHARE,
    "heading_true_deg": GROSS_DEG,
    "awa_deg": STANDARD_DEG,
    "aws_kn": STANDARD_SHARE,
}


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
    for channel in channels:
        one = worst_pair(case, channel)
        if one is not None:
            yield _disagreement(case, one)


def _disagreement(case: Case, one: Agreement) -> Finding:
    passage = case.passage
    words = _WORDS[one.channel]
    label = "position" if one.channel == "lat_deg" else CHANNELS[one.channel].label.split(",")[0]
    label = label if label.isupper() else label.lower()
    first, second = one.first.words, one.second.words
    whole = one.size > WORTH_ADVICE and one.sure
    trusted = one.trusted.words if one.trusted is not None else None
    wrong, needs = one.untrusted, _surely(one.needs_second)
    used = wrong in in_use(passage)
    said = _said(one, words, first, second) if whole else _said_of_stretch(one, words, first, second)
    verdict = f"trust {one.trusted.name}" if one.trusted else "the recording does not tell which is right"
    if trusted and needs is not None:
        verdict += f", {one.second.name} reads {_off(one.channel, needs)}"
    value, sd, unit = (
        (one.bias, one.bias_sd, one.unit)
        if whole or one.apart is None
        else (one.apart.difference, one.bias_sd, one.unit)
    )
    gross = used and needs is not None and _size(needs) > _GROSS[one.channel]
    grave = whole and (gross or one.size > FAULT) and not (used and _has_a_cause(case, one.channel))
    return Finding(
        id="sounders-disagree" if one.channel == "depth_m" else "sources-disagree",
        subject=words.subject,
        severity="fault" if grave else "advice",
        title=f"The two {words.instruments} disagree: {said}; {verdict}.",
        value=float(value),
        sd=float(sd),
        unit=unit,
        determined=bool(whole or one.apart is not None),
        evidence={
            "channel": one.channel,
            "first": one.first.name,
            "second": one.second.name,
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
            "trusted": one.trusted.name if one.trusted is not None else None,
            "why": one.why,
            "untrusted_is_in_use": bool(used),
            "first_needs": one.needs_first.value if one.needs_first else None,
            "first_needs_sd": one.needs_first.sd if one.needs_first else None,
            "second_needs": one.needs_second.value if one.needs_second else None,
            "second_needs_sd": one.needs_second.sd if one.needs_second else None,
        },
        action=_action(one, label, trusted, wrong, bool(used), needs),
        verify=words.verify,
        caution=words.caution,
    )


def _said(one: Agreement, words: _Words, first: str, second: str) -> str:
    """The difference on the whole: "VWVHW reads 1.12 times (± 0.01) what IIVHW reads"."""
    if one.channel == "lat_deg":
        return f"{second} stands {one.bias:.0f} m ({within(one.bias_sd, ' m', 1)}) from {first}"
    if one.scale is not None and one.scale_sd is not None and abs(one.scale - 1) > 3 * one.scale_sd:
        spread = max(SIGMAS_95 * one.scale_sd, 0.001)
        return f"{second} shows {one.scale:.3f} times (± {spread:.3f}) what {first} shows"
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


def _surely(needs: Estimate | None) -> Estimate | None:
    """A correction that is surely needed."""
    if needs is None or needs.value is None or needs.sd is None:
        return None
    neutral = 1.0 if needs.unit == "1" else 0.0
    return needs if abs(needs.value - neutral) > _SURE * needs.sd else None


def _size(needs: Estimate) -> float:
    """What an instrument is off by: a share of what is right, or degrees."""
    value = needs.value or 0.0
    return abs(1 / value - 1) if needs.unit == "1" else abs(value)


def _off(channel: str, needs: Estimate) -> str:
    """What an instrument is off by, from the correction it needs: "11.8 % (± 0.5 %) too high"."""
    value, sd = needs.value or 0.0, needs.sd or 0.0
    if needs.unit == "1":
        way = "low" if value > 1 else "high"
        return f"{100 * _size(needs):.1f} % ({within(100 * sd / value**2, ' %')}) too {way}"
    if channel == "awa_deg":
        return f"{abs(value):.1f}° ({within(sd, '°')}) too far to {'port' if value > 0 else 'starboard'}"
    return f"{abs(value):.1f}° ({within(sd, '°')}) too {'low' if value > 0 else 'high'}"


def _has_a_cause(case: Case, channel: str) -> bool:
    """Whether another finding says what befell the source in use."""
    if channel == "stw_kn":
        return log_change(case) is not None
    return channel == "heading_true_deg" and is_explained(case)


def _action(
    one: Agreement,
    label: str,
    trusted: str | None,
    wrong: SourceKey | None,
    used: bool,
    needs: Estimate | None,
) -> str:
    if trusted is None or wrong is None:
        return f"{one.why} Compare both at sea, then set right or disconnect the wrong one."
    choose = f"Set the displays and the pilot to take {label} from {trusted}" + (
        " (this review uses the other one)" if used else ""
    )
    entered = ""
    if needs is not None and needs.value is not None:
        entered = f" (true = shown {f'× {needs.value:.3f}' if needs.unit == '1' else f'{needs.value:+.1f}°'})"
    return f"{choose}: {one.why}. Set {wrong.name} right{entered} or disconnect it."


def sensor_lag(case: Case) -> Iterator[Finding]:
    """Sensors that come late by the turns."""
    names = {"heading": "heading", "awa": "apparent wind angle", "stw": "log"}
    for channel, name in names.items():
        lag = case.calibration.estimates.get(f"{channel}_lag_s")
        if lag is None or not lag.determined or lag.value is None or lag.sd is None:
            continue
        grave = channel == "heading" and lag.value - 3 * lag.sd > LATE_S
        if not grave and lag.value - SIGMAS_95 * lag.sd < NOTED_S[channel]:
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
    one = case.stand_in
    if one is None:
        return
    hours = one.silent_s / 3600
    yield Finding(
        id="gnss-speed-for-log",
        subject="log",
        severity="note",
        title=(
            "The recording has no STW; SOG stands in for it."
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
