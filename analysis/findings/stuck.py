"""Instruments that stand still while the boat does not."""

from collections.abc import Iterator
from typing import NamedTuple

import pandas as pd

from analysis.channels import CHANNELS
from analysis.findings.case import Case
from analysis.findings.finding import Finding
from analysis.findings.telling import clock, iso
from analysis.screening import Unfit


class _Words(NamedTuple):
    """What to say of a channel that stands still; ``title`` goes on with the value and for how long."""

    id: str
    subject: str
    title: str
    action: str
    verify: str
    caution: str


_WIND_UNIT = (
    "Look at the masthead for a line or a bird's nest in the vane and at its plug for water; switch the "
    "wind unit off and on."
)
_WORDS: dict[str, _Words] = {
    "stw_kn": _Words(
        "log-stuck",
        "log",
        "The log stands still",
        "Clear the paddle wheel or sensor of weed and growth and see that it turns; then look at its plug.",
        "Under way at 3 kn or more, speed up and slow down for two minutes: the log must follow.",
        "Until it is mended take SOG instead: true wind is then over the ground and current unseen.",
    ),
    "awa_deg": _Words(
        "vane-stuck",
        "wind vane",
        "The wind angle stands still",
        _WIND_UNIT,
        "Turn 90° and hold the new course for a minute: the wind angle must change by about as much.",
        "Do not steer by wind angle with the pilot until the vane turns again.",
    ),
    "aws_kn": _Words(
        "wind-speed-stuck",
        "anemometer",
        "The wind speed stands still",
        _WIND_UNIT,
        "Turn from a beat to a run for two minutes: the apparent wind speed must fall.",
        "Judge the wind by the sea and the sails until it is mended; the shown wind may hide a rising one.",
    ),
    "heading_true_deg": _Words(
        "compass-stuck",
        "compass",
        "The heading stands still",
        "Check the compass sensor's plug and supply, and switch it off and on.",
        "Under engine turn a full circle in three minutes: the heading must run through all of it.",
        "Do not let the pilot steer by this heading; steer by the hand compass.",
    ),
    "cog_deg": _Words(
        "cog-frozen",
        "GNSS receiver",
        "The course over the ground stands still",
        "Switch the receiver off and on; see that its aerial has a clear sky and its filter is not at the longest.",
        "Above 3 kn turn 90° and hold it for a minute: COG must follow within 10 s.",
        "Current and wind over the ground are wrong while COG stands still.",
    ),
    "sog_kn": _Words(
        "cog-frozen",
        "GNSS receiver",
        "The speed over the ground stands still",
        "Switch the receiver off and on; see that its aerial has a clear sky and its filter is not at the longest.",
        "Speed up and slow down by 2 kn for a minute each: SOG must follow within 10 s.",
        "Current and wind over the ground are wrong while SOG stands still.",
    ),
    "lat_deg": _Words(
        "position-frozen",
        "GNSS receiver",
        "The position stands still",
        "Switch the receiver off and on and see that its aerial has a clear sky.",
        "Compare the position with a second receiver at two times a mile apart.",
        "Do not navigate by this position.",
    ),
    "heel_deg": _Words(
        "heel-stuck",
        "heel sensor",
        "The heel stands still",
        "Check that the sensor is fast to the boat and its plug is sound, and switch it off and on.",
        "Tack, and stay on each tack for two minutes: heel must change its sign.",
        "Leeway worked out from heel is wrong meanwhile.",
    ),
    "air_pressure_hpa": _Words(
        "barometer-stuck",
        "barometer",
        "The barometer stands still",
        "Check the sensor's plug and supply, and switch it off and on.",
        "Compare with a coast station at two times half a day apart; at sea it moves within six hours.",
        "A falling glass goes unseen: listen to the forecasts.",
    ),
    "depth_m": _Words(
        "depth-stuck",
        "echo sounder",
        "The depth stands still",
        "Most sounders keep the last depth once they lose the bottom: see whether the display flashes it.",
        "Compare with the chart over a sloping bottom for ten minutes.",
        "Do not take this depth for the water under the keel.",
    ),
}


def stuck(case: Case) -> Iterator[Finding]:
    """One finding for every channel that stands still, and one for COG and SOG together."""
    told: set[str] = set()
    for channel, words in _WORDS.items():
        stretches = [one for one in case.screened.unfit if one.reason == "stuck" and one.channel == channel]
        if stretches and words.id not in told:
            told.add(words.id)
            yield _finding(channel, words, stretches)


def _finding(channel: str, words: _Words, stretches: list[Unfit]) -> Finding:
    total_s = sum((one.end - one.start).total_seconds() for one in stretches)
    longest = max(stretches, key=lambda one: one.end - one.start)
    others = len(stretches) - 1
    more = f", and at {others} other time{'s' * (others > 1)}" if others else ""
    for_long = f"for {duration(longest.end - longest.start)} from {clock(longest.start)}"
    at = "" if channel == "lat_deg" else f" at {shown(channel, longest.value)}"
    return Finding(
        id=words.id,
        subject=words.subject,
        severity="note" if channel == "depth_m" or _steps_of_one(longest) else "fault",
        title=f"{words.title}{at} {for_long}{more}.",
        value=total_s / 60,
        sd=None,
        unit="min",
        determined=True,
        evidence={
            "channel": CHANNELS[channel].label,
            "stretches": [
                {"start_utc": iso(one.start), "end_utc": iso(one.end), "value": one.value}
                for one in stretches
            ],
            "left_out_min": total_s / 60,
        },
        action=words.action,
        verify=words.verify,
        caution=words.caution,
    )


def _steps_of_one(one: Unfit) -> bool:
    """Whether a barometer may only show whole hPa, which change seldom."""
    return one.channel == "air_pressure_hpa" and abs(one.value - round(one.value)) < 0.01


def shown(channel: str, value: float) -> str:
    """A reading with its unit, as a display has it."""
    unit = CHANNELS[channel].unit
    return f"{value:.0f}°" if unit == "deg" else f"{value:.1f} {unit}"


def duration(span: pd.Timedelta) -> str:
    """A length of time: "50 s", "12 min", "2 h 05 min"."""
    seconds = round(span.total_seconds())
    if seconds < 120:
        return f"{seconds} s"
    hours, minutes = divmod(round(seconds / 60), 60)
    return f"{hours} h {minutes:02d} min" if hours else f"{minutes} min"
