"""Persons overboard and others in distress that the log tells of."""

from collections.abc import Iterator

from analysis.emergencies import Emergency
from analysis.findings.case import Case
from analysis.findings.finding import Finding
from analysis.findings.lookup import moment
from analysis.findings.telling import clock, iso

_SET_BY_HAND = "mark set by hand"


def told(case: Case) -> Iterator[Finding]:
    """Every alert that the log itself holds; tests and marks set by hand are none."""
    for one in case.emergencies.all:
        if one.mark.alert and one.mark.kind != _SET_BY_HAND:
            yield _finding(one)


def _finding(one: Emergency) -> Finding:
    mark = one.mark
    at = moment(mark.start_s)
    person = mark.adrift == "person"
    who = f" {mark.who}" if mark.who else ""
    evidence: dict[str, object] = {"time_utc": iso(at), "sentences": mark.count}
    if mark.fixes:
        evidence |= {"lat_deg": mark.fixes[0].lat_deg, "lon_deg": mark.fixes[0].lon_deg}
    return Finding(
        id="person-overboard" if person else "distress-call",
        subject="emergencies",
        severity="note",
        title=f"{mark.kind}{who} at {clock(at)}: {mark.what}.",
        value=None,
        sd=None,
        unit="",
        determined=True,
        evidence=evidence,
        action="If it was a drill, Emergencies tells how the boat went back; if a device called by mistake, test it.",
        verify="",
        caution="For review and training only.",
    )


RULES = (told,)
