"""The wind sensor grossly wrong: mirrored, the wrong way round, in another unit, dropping out."""

from collections.abc import Iterator

from analysis.estimate import SIGMAS_95
from analysis.findings.case import Case
from analysis.findings.finding import Finding
from analysis.findings.stuck import duration
from analysis.findings.telling import clock, iso, times
from analysis.screening import Mistake

MOST_LISTED = 20
FEW_DROP_OUTS = 3
_VERIFY_SIDE = (
    "Under engine, stop head to wind for a minute, then turn 45° to port and stay for another: the wind must show on "
    "the starboard bow."
)


def mirrored(case: Case) -> Iterator[Finding]:
    """A vane that shows port for starboard."""
    for one in _mistakes(case, "awa_deg", "mirrored"):
        yield _vane(
            one,
            "vane-mirrored",
            "The wind vane shows port for starboard: mirrored, the true wind's changes over the courses fall",
            "Swap the two signal wires of the vane, or set its direction of rotation in the display.",
        )


def reversed_vane(case: Case) -> Iterator[Finding]:
    """A vane that is mounted back to front."""
    for one in _mistakes(case, "awa_deg", "reversed"):
        yield _vane(
            one,
            "vane-reversed",
            "The wind vane is 180° out: turned round, the true wind's changes over the courses fall",
            "Enter a vane offset of 180°, or turn the masthead unit round.",
        )


def _vane(one: Mistake, name: str, title: str, action: str) -> Finding:
    before, after = one.evidence["wind_changes_shown_kn"], one.evidence["wind_changes_undone_kn"]
    return Finding(
        id=name,
        subject="wind vane",
        severity="fault",
        title=f"{title} from {before:.1f} to {after:.1f} kn.",
        value=180.0 if one.kind == "reversed" else None,
        sd=None,
        unit="deg",
        determined=True,
        evidence=dict(one.evidence),
        action=action,
        verify=_VERIFY_SIDE,
        caution="Do not steer by wind angle with the pilot before it is mended: it would turn the wrong way.",
    )


def wind_unit(case: Case) -> Iterator[Finding]:
    """A wind speed whose numbers are in another unit."""
    for one in _mistakes(case, "aws_kn", "unit"):
        measured, sd = one.evidence["measured_factor"], one.evidence["measured_factor_sd"]
        yield Finding(
            id="wind-speed-unit",
            subject="anemometer",
            severity="fault",
            title=f"The wind speed is {unit_words(one.factor)}: multiply it by "
            f"{measured:.2f} ± {SIGMAS_95 * sd:.2f}.",
            value=one.factor,
            sd=sd,
            unit="1",
            determined=True,
            evidence=dict(one.evidence) | {"factor_applied": one.factor},
            action=f"Set the unit of the wind sensor right: true speed = {one.factor:.3f} × shown.",
            verify="Under engine at 6 kn in a flat calm for a minute: the apparent wind must show 6 kn from ahead.",
            caution="A wind shown at half its speed invites too much sail." if one.factor > 1 else "",
        )


def speed_units(case: Case) -> Iterator[Finding]:
    """A log or a speed over the ground whose numbers are in another unit."""
    names = {
        "stw_kn": ("log-unit", "log", "log"),
        "sog_kn": ("sog-unit", "GNSS receiver", "speed over the ground"),
    }
    for channel, (name, subject, what) in names.items():
        for one in _mistakes(case, channel, "unit"):
            measured = one.evidence["measured_factor"]
            yield Finding(
                id=name,
                subject=subject,
                severity="fault",
                title=f"The {what} is {unit_words(one.factor)}: multiply it by {measured:.2f}.",
                value=one.factor,
                sd=None,
                unit="1",
                determined=True,
                evidence=dict(one.evidence) | {"factor_applied": one.factor},
                action=f"Set its unit right: true speed = {one.factor:.3f} × shown.",
                verify="Hold a steady course and speed for five minutes and compare with the distance by position.",
                caution="",
            )


def drop_outs(case: Case) -> Iterator[Finding]:
    """A wind speed that falls to nothing and comes back."""
    found = [one for one in case.screened.unfit if one.reason == "drop-out"]
    if not found:
        return
    total_s = sum((one.end - one.start).total_seconds() + 1 for one in found)
    longest = max(found, key=lambda one: one.end - one.start)
    yield Finding(
        id="wind-drop-outs",
        subject="anemometer",
        severity="fault" if len(found) >= FEW_DROP_OUTS or total_s >= 60 else "advice",
        title=f"The wind speed drops to nearly nothing {times(len(found))}, for up to "
        f"{duration(longest.end - longest.start)} at {clock(longest.start)}.",
        value=float(len(found)),
        sd=None,
        unit="1",
        determined=True,
        evidence={
            "drop_outs": len(found),
            "total_s": total_s,
            "stretches": [
                {"start_utc": iso(one.start), "end_utc": iso(one.end)} for one in found[:MOST_LISTED]
            ],
        },
        action="Look at the masthead unit's plug and cable for water and chafe, at the cups for wear.",
        verify="Record ten minutes in more than 8 kn of wind: the speed must not break off.",
        caution="Means and maxima of the wind are too low where such drop-outs are not left out.",
    )


def unit_words(factor: float) -> str:
    """What a wrong unit's factor means."""
    if factor > 1.9:
        return "in m/s but called knots"
    if factor > 1:
        return "in knots but taken for km/h"
    return "in km/h but called knots" if factor > 0.53 else "in knots but taken for m/s"


def _mistakes(case: Case, channel: str, kind: str) -> list[Mistake]:
    return [one for one in case.screened.mistakes if (one.channel, one.kind) == (channel, kind)]
