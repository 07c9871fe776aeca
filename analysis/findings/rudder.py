"""The rudder sensor: standing still, reversed, or off amidships."""

from collections.abc import Iterator

from analysis.estimate import SIGMAS_95
from analysis.findings.case import Case
from analysis.findings.finding import Finding
from analysis.findings.stuck import duration
from analysis.findings.telling import clock, iso, times, within
from analysis.steering import TOLERANCE_DEG

SUBJECT = "rudder sensor"
_INSIDE = "What turns her the same way on both tacks, as a propeller does, cannot be told from the sensor."


def stuck(case: Case) -> Iterator[Finding]:
    """A rudder that stands still to the last digit while the boat turns."""
    rudder = case.rudder
    if rudder is None or not rudder.still:
        return
    longest = max(rudder.still, key=lambda one: one.end - one.start)
    total_s = sum((one.end - one.start).total_seconds() for one in rudder.still)
    turns = sum(one.turns for one in rudder.still)
    yield Finding(
        id="rudder-stuck",
        subject=SUBJECT,
        severity="fault",
        title=f"The rudder angle stands still at {longest.value_deg:.1f}° for "
        f"{duration(longest.end - longest.start)} from {clock(longest.start)} while the boat turns {times(turns)}.",
        value=total_s / 60,
        sd=None,
        unit="min",
        determined=True,
        evidence={
            "stretches": [
                {
                    "start_utc": iso(one.start),
                    "end_utc": iso(one.end),
                    "value": one.value_deg,
                    "turns": one.turns,
                }
                for one in rudder.still
            ],
        },
        action="See whether the sensor's arm is still linked to the rudder, and look at its plug.",
        verify="At the berth turn the wheel from stop to stop: the shown angle must follow.",
        caution="A pilot that steers by this sensor may put the rudder hard over; steer by hand until it is mended.",
    )


def reversed_sensor(case: Case) -> Iterator[Finding]:
    """A rudder shown to port when it lies to starboard: the boat turns against it, after it moved.

    A note only: a pilot that checks the yaw of a seaway moves the rudder against the turn as well.
    """
    rudder = case.rudder
    if rudder is None or not rudder.reversed:
        return
    response = rudder.response
    gain, delay = response.gain, response.delay
    yield Finding(
        id="rudder-reversed",
        subject=SUBJECT,
        severity="note",
        title=f"The rudder angle seems to have the wrong sign: the boat turns {abs(gain.value or 0):.2f}°/s "
        f"{within(gain.sd, '°/s', 0.01)} against every degree shown, {delay.value:.1f} s after it moves.",
        value=gain.value,
        sd=gain.sd,
        unit="deg/s/deg",
        determined=True,
        evidence={"turns": len(response.turn_gains), "delay_s": delay.value, "delay_sd_s": delay.sd},
        action="Turn the sensor round or set its sign: rudder to starboard is +.",
        verify="Under way at 3 kn put the wheel to starboard for ten seconds: the shown angle must be to starboard.",
        caution="A pilot is to be set up anew once the sign is changed: try it in open water.",
    )


def offset(case: Case) -> Iterator[Finding]:
    """A rudder sensor that is surely off amidships by more than such indicators may be."""
    rudder = case.rudder
    if rudder is None or rudder.still:
        return
    one = rudder.judged
    if (
        not one.determined
        or one.value is None
        or abs(one.value) - SIGMAS_95 * (one.sd or 0.0) <= TOLERANCE_DEG
    ):
        return
    side = "starboard" if one.value < 0 else "port"
    yield Finding(
        id="rudder-bias",
        subject=SUBJECT,
        severity="advice",
        title=f"The rudder sensor shows {abs(one.value):.1f} {within(one.sd, '°')} to {side} "
        "when the boat goes straight, weather helm apart.",
        value=one.value,
        sd=one.sd,
        unit="deg",
        determined=True,
        evidence={
            **{f"{tack.side}_tack_deg": tack.mean_deg for tack in rudder.tacks},
            **{f"{tack.side}_tack_min": tack.duration_s / 60 for tack in rudder.tacks},
            "helm_deg_per_deg_heel": None if rudder.helm is None else rudder.helm.value,
            "tolerance_deg": TOLERANCE_DEG,
        },
        action=f"Set the sensor's zero, or enter a rudder offset of {one.value:+.1f}°: true = shown + offset.",
        verify="Put the rudder amidships at the berth, by its stock, and read the angle: it must be 0°. "
        "Under engine in a calm hold a course for two minutes: again 0°.",
        caution=_INSIDE,
    )


RULES = (stuck, reversed_sensor, offset)
