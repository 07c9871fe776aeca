"""The heel sensor and the logged leeway: their sign, and the zero of the heel."""

from collections.abc import Iterator

from analysis.channels import CHANNELS
from analysis.estimate import SIGMAS_95
from analysis.findings.case import Case
from analysis.findings.finding import Finding

GROSS_ZERO_DEG = 5.0  # moves leeway by a degree at 6 kn, what MSC.116(73) leaves a heading device
_TACKS = "Sail close-hauled for two minutes on either tack:"


def signs(case: Case) -> Iterator[Finding]:
    """Heel or leeway of the wrong sign."""
    told: set[str] = set()
    for one in case.screened.mistakes:
        heel = one.channel == "heel_deg"
        what = "heel" if heel else "leeway"
        if one.kind != "sign" or what in told:
            continue
        told.add(what)
        unit = CHANNELS[one.channel].unit
        as_shown = "°" if unit == "deg" else f" {unit}"
        yield Finding(
            id=f"{what}-sign",
            subject="heel sensor" if heel else "leeway",
            severity="fault",
            title=f"The {what} has the wrong sign: on either tack it shows {one.evidence['measured']:.1f} ± "
            f"{SIGMAS_95 * (one.sd or 0):.1f}{as_shown} to windward.",
            value=one.evidence["measured"],
            sd=one.sd,
            unit=unit,
            determined=True,
            evidence=dict(one.evidence),
            action="Turn the sensor round or set its sign: heel is + with the starboard side down."
            if heel
            else "Set the sign: leeway is + when the boat is set to starboard, as by wind from port.",
            verify=f"{_TACKS} with the wind from port {what} must be + and from starboard −.",
            caution="Leeway and current worked out from it are turned the wrong way.",
        )


def zero(case: Case) -> Iterator[Finding]:
    """A heel sensor that is not level when the boat is upright."""
    for one in case.screened.mistakes:
        if (one.channel, one.kind) != ("heel_deg", "zero"):
            continue
        off = -one.offset_deg
        side = "starboard" if off > 0 else "port"
        yield Finding(
            id="heel-zero",
            subject="heel sensor",
            severity="fault" if abs(off) > GROSS_ZERO_DEG else "advice",
            title=f"The heel sensor shows {abs(off):.1f} ± {SIGMAS_95 * (one.sd or 0):.1f}° to {side} "
            "when the boat is upright, by the two tacks.",
            value=one.offset_deg,
            sd=one.sd,
            unit="deg",
            determined=True,
            evidence=dict(one.evidence),
            action=f"Enter a heel offset of {one.offset_deg:+.1f}°: true = shown {one.offset_deg:+.1f}°.",
            verify="At a berth in a calm, with the crew amidships, read the heel for two minutes: it must be 0°.",
            caution="If the boat really has a list, trim her before moving the sensor's zero.",
        )
