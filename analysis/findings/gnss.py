"""The GNSS receiver: positions that jump, a course that scatters, poor fixes."""

from collections.abc import Iterator

from analysis.estimate import SIGMAS_95
from analysis.findings.case import Case
from analysis.findings.clock import was_set_back
from analysis.findings.finding import Finding
from analysis.findings.telling import clock, iso, times
from analysis.screening import Doubt

SUBJECT = "GNSS receiver"
MOST_LISTED = 20
EDGES_OF_PARTS = 2  # where a clock set back makes one part of the log begin and end within another
POOR_SHARE, POOR_S = 0.1, 600.0  # a tenth of the passage or ten minutes: judgment


def jumps(case: Case) -> Iterator[Finding]:
    """Positions that leave the track by SOG and COG within seconds, and spikes of SOG."""
    found = [one for one in case.screened.unfit if one.reason == "jump"]
    if len(found) <= (EDGES_OF_PARTS if was_set_back(case.passage) else 0):
        return
    places = [one for one in found if one.channel == "lat_deg"]
    largest = max(places or found, key=lambda one: one.value)
    far = f"by {largest.value:,.0f} ± 13 m" if places else f"to {largest.value:.1f} kn"
    what = "position" if places else "speed over the ground"
    yield Finding(
        id="gnss-jumps",
        subject=SUBJECT,
        severity="fault",
        title=f"The {what} jumps {times(len(places or found))}, {far} at {clock(largest.start)}.",
        value=largest.value,
        sd=6.5 if places else None,  # half of the 13 m (95 %) of MSC.112(73), from memory
        unit="m" if places else "kn",
        determined=True,
        evidence={
            "position_jumps": len(places),
            "speed_spikes": len(found) - len(places),
            "stretches": [
                {"start_utc": iso(one.start), "end_utc": iso(one.end), "size": one.value}
                for one in (places or found)[:MOST_LISTED]
            ],
        },
        action="Move the aerial clear of metal and of transmitting aerials; look at its cable and plug.",
        verify="At a berth record the position for ten minutes: it must stay within some 10 m.",
        caution="Do not let the pilot steer to a waypoint by this receiver, nor trust an anchor alarm on it.",
    )


def poor_fix(case: Case) -> Iterator[Finding]:
    """Fixes of poor geometry, of too few satellites, or estimated."""
    for one in case.screened.doubts:
        if one.kind != "poor fix":
            continue
        much = one.value > POOR_SHARE or one.duration_s > POOR_S
        yield Finding(
            id="poor-fix",
            subject=SUBJECT,
            severity="advice" if much else "note",
            title=f"The GNSS fix is poor for {100 * one.value:.0f} % of the time{_why(one)}.",
            value=one.value,
            sd=None,
            unit="1",
            determined=True,
            evidence=dict(one.evidence) | {"duration_min": one.duration_s / 60},
            action="Give the aerial a clear sky, away from mast, radar and people; look at its cable and plug.",
            verify="In the open with a clear sky for ten minutes: HDOP below 2 and seven satellites or more.",
            caution="Keep a wider berth from dangers while the fix is poor.",
        )


def cog_noise(case: Case) -> Iterator[Finding]:
    """A course over the ground that means little at low speed."""
    for one in case.screened.doubts:
        if one.kind != "noise":
            continue
        yield Finding(
            id="cog-noise",
            subject=SUBJECT,
            severity="note",
            title=f"Below 2 kn the course over the ground scatters by {SIGMAS_95 * one.value:.0f}° from second to "
            f"second, for {one.duration_s / 60:.0f} min in all.",
            value=one.value,
            sd=None,
            unit="deg",
            determined=True,
            evidence=dict(one.evidence) | {"scatter_sd_deg": one.value, "duration_min": one.duration_s / 60},
            action="Take the heading for the course when slow, or lengthen the receiver's speed filter.",
            verify="Above 4 kn on a straight course for two minutes the scatter must fall below 3°.",
            caution="Set, drift and wind over the ground are rough at such speeds.",
        )


def _why(one: Doubt) -> str:
    hdop, satellites = one.evidence["hdop_most"], one.evidence["satellites_least"]
    told = [f"HDOP up to {hdop:.1f}"] * (hdop > 0) + [f"down to {satellites:.0f} satellites"] * (
        satellites < 128
    )
    return f": {', '.join(told)}" if told else ""
