"""The boat does not sail alike on both tacks, beyond what vane and chance explain."""

from collections.abc import Iterator

from analysis.estimate import SIGMAS_95
from analysis.findings.case import Case
from analysis.findings.finding import Finding

SIGMAS = 3.3  # by chance once in 1,000 passages
WORTH_TELLING_PERCENT = 3.0  # judgment: two boats of one design differ by as much
VANE_EXPLAINS_DEG = 2.5  # from here on a vane offset is told as a finding of its own


def tacks_differ(case: Case) -> Iterator[Finding]:
    """Tell the point of sail on which the tacks differ most surely; a vane that is known to be off explains it."""
    vane = case.calibration.estimates.get("vane_offset_deg")
    if (
        vane is not None
        and vane.determined
        and vane.value is not None
        and abs(vane.value) >= VANE_EXPLAINS_DEG
    ):
        return
    sailed = case.polar.sailed
    points = () if sailed is None else sailed.tacks
    sure = [
        one
        for one in points
        if abs(one.speed_percent) > max(WORTH_TELLING_PERCENT, SIGMAS * one.speed_percent_sd)
    ]
    for one in sorted(sure, key=lambda tacks: -abs(tacks.speed_kn) / tacks.speed_kn_sd)[:1]:
        fast, slow = ("starboard", "port") if one.speed_kn > 0 else ("port", "starboard")
        yield Finding(
            id="tacks-differ",
            subject="performance",
            severity="note",
            title=f"In like wind, {one.point}, she makes {abs(one.speed_percent):.0f} % more on {fast} tack than on "
            f"{slow} (± {max(SIGMAS_95 * one.speed_percent_sd, 1.0):.0f} %).",
            value=one.speed_percent,
            sd=one.speed_percent_sd,
            unit="%",
            determined=True,
            evidence={
                "point_of_sail": one.point,
                "minutes_starboard": one.minutes_starboard,
                "minutes_port": one.minutes_port,
                "speed_kn": one.speed_kn,
                "twa_deg": one.twa_deg,
                "twa_deg_sd": one.twa_deg_sd,
            },
            action="Look first at the log: a paddle wheel off the centre line reads more on one tack. Then at waves "
            "that meet one tack only, at rig and sails.",
            verify="Sail both tacks for 15 min each in a steady wind, flat water and no tide, and compare the speeds "
            "over the ground.",
            caution="",
        )
