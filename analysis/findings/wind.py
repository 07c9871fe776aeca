"""The wind sensor's calibration: the vane's offset, the speed's factor, and the upwash beside them."""

import math
from collections.abc import Iterator
from typing import NamedTuple

from analysis.estimate import SIGMAS_95, Estimate
from analysis.findings.case import Case
from analysis.findings.finding import Finding
from analysis.findings.rivals import is_outdone
from analysis.findings.telling import within

# WMO-No. 8 Vol. I annex 1.A, from memory: wind direction within 5 deg, wind speed within 10 %, both at 95 %.
STANDARD_DEG, STANDARD_SHARE = 5.0, 0.10
SIGMAS = 3.3  # by chance once in 1,000 passages: a correction may be entered
LIKELY_SIGMAS = 2.0  # by chance once in 20: worth the turns that would settle it
BESIDE_SIGMAS = 5.0  # the second of vane and factor, since one mistake can look like a little of the other
UPWASH_SIGMAS = 3.0
UPWASH_WORTH_TELLING_DEG = 2.5
TURNS = (
    "In a steady wind turn a full circle under engine at 4 to 5 kn in 5 min, and one the other way: the true wind "
    "must keep its direction and speed all round. Or make ten tacks of 5 min."
)
SETTLE_FIRST = "Enter nothing yet: a full circle each way under engine, or ten tacks, will settle it."


def vane_and_speed(case: Case) -> Iterator[Finding]:
    """A vane that is turned, a wind speed that reads too much or too little; the surer one first."""
    found = sorted((*_vane(case), *_speed(case)), key=lambda one: -one[0])
    yield from (finding for sigmas, finding in found[:1] if sigmas > LIKELY_SIGMAS)
    yield from (
        finding for sigmas, finding in found[1:] if sigmas > BESIDE_SIGMAS and finding.severity != "note"
    )


def _vane(case: Case) -> Iterator[tuple[float, Finding]]:
    """The vane's offset and its sigmas, where it matters."""
    known = _told(case, "vane_offset_deg")
    if known is None or abs(known.value) < STANDARD_DEG / 2 or is_outdone(case, "awa_deg"):
        return
    offset, sd, determined = known
    sigmas = abs(offset) / sd
    sure = determined and sigmas > SIGMAS
    yield (
        sigmas,
        Finding(
            id="vane-offset",
            subject="wind vane",
            severity=_severity(sure, abs(offset) > STANDARD_DEG),
            title=f"The wind vane {'reads' if sure else 'probably reads'} {abs(offset):.1f}° too far to "
            f"{'port' if offset > 0 else 'starboard'} ({within(sd, '°')}).",
            value=offset,
            sd=sd,
            unit="deg",
            determined=determined,
            evidence=_evidence(case, "vane_offset_deg") | {"standard_deg": STANDARD_DEG},
            action=f"Enter {offset:+.1f}° as the vane offset: right AWA = shown AWA {offset:+.1f}°."
            if sure
            else SETTLE_FIRST,
            verify=TURNS,
            caution="Enter it in one place only, and look whether the masthead unit is loose: it would turn again.",
        ),
    )


def _speed(case: Case) -> Iterator[tuple[float, Finding]]:
    """The factor of the wind speed and its sigmas, where it matters."""
    known = _told(case, "wind_speed_factor")
    if known is None or abs(known.value - 1) < STANDARD_SHARE / 2 or is_outdone(case, "aws_kn"):
        return
    factor, sd, determined = known
    off, off_sd = 100 * (1 / factor - 1), 100 * sd / factor**2
    low = off < 0
    sigmas = abs(math.log(factor)) * factor / sd  # an anemometer's errors are shares of the wind
    sure = determined and sigmas > SIGMAS
    yield (
        sigmas,
        Finding(
            id="wind-speed-factor",
            subject="anemometer",
            severity=_severity(sure, abs(factor - 1) > STANDARD_SHARE),
            title=f"The wind speed {'reads' if sure else 'probably reads'} {abs(off):.0f} % too "
            f"{'low' if low else 'high'} (± {max(SIGMAS_95 * off_sd, 1.0):.0f} %).",
            value=factor,
            sd=sd,
            unit="1",
            determined=determined,
            evidence=_evidence(case, "wind_speed_factor")
            | {"off_percent": off, "off_percent_sd": off_sd, "standard_percent": 100 * STANDARD_SHARE},
            action=f"Multiply the wind-speed calibration by {factor:.2f}: true AWS = {factor:.2f} × shown "
            f"({100 * (factor - 1):+.0f} %)."
            if sure
            else SETTLE_FIRST,
            verify=TURNS,
            caution="There is more wind than shown: until it is entered, reef earlier than by the display."
            if low
            else "",
        ),
    )


def upwash(case: Case) -> Iterator[Finding]:
    """The sails bend the wind at the masthead: no fault, but true wind that ignores it splits between the tacks."""
    known = _told(case, "upwash_deg")
    if known is None or not known.determined:
        return
    bend, sd = known.value, known.sd
    way = "aft" if bend > 0 else "ahead"
    if abs(bend) < max(UPWASH_SIGMAS * sd, UPWASH_WORTH_TELLING_DEG):
        return
    yield Finding(
        id="upwash",
        subject="wind vane",
        severity="note",
        title=f"At 30° AWA the undisturbed wind is {abs(bend):.1f}° further {way} than shown on both "
        f"tacks ({within(sd, '°')}).",
        value=bend,
        sd=sd,
        unit="deg",
        determined=True,
        evidence=_evidence(case, "upwash_deg"),
        action=f"Enter {bend:+.1f}° as the upwash correction at 30° AWA where the display takes one, less with the "
        "wind further aft; else allow for it close-hauled.",
        verify="Make ten tacks of 5 min in a steady wind: the true wind direction must not change from tack to tack.",
        caution="It is not a vane offset: entered as one it would be wrong on the other tack.",
    )


class _Told(NamedTuple):
    """What the log tells of a correction."""

    value: float
    sd: float
    determined: bool


def _told(case: Case, name: str) -> _Told | None:
    one: Estimate | None = case.calibration.estimates.get(name)
    if one is None or one.value is None or not one.sd:
        return None
    return _Told(one.value, one.sd, one.determined)


def _severity(sure: bool, beyond_standard: bool) -> str:
    if not sure:
        return "note"
    return "fault" if beyond_standard else "advice"


def _evidence(case: Case, name: str) -> dict[str, object]:
    methods = [one for one in case.calibration.evidence if one.subject == name]
    return {
        "turns": len(case.manoeuvres.turns),
        "methods": [{"name": one.name, "value": one.value, "sd": one.sd} for one in methods],
    }


RULES = (vane_and_speed, upwash)
