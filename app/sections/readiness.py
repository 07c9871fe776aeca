"""Readiness: one line for every instrument of the boat, for JSON, the terminal, the page and the sheet."""

from collections.abc import Mapping, Sequence
from typing import Any

from analysis.correction import beyond, remaining
from analysis.estimate import SIGMAS_95
from analysis.findings.telling import iso
from analysis.readiness import Line, Readiness, State, readiness
from analysis.review import Review
from app.pages.corrections import WAYS, number_text, within_text

TITLE = "Readiness"
STATES: dict[State, str] = {
    "verified": "Verified",
    "off": "Off",
    "not known": "Not known",
    "no sensor": "No sensor",
}
NO_SENSOR = "no such sensor in the recording"
_ON_THE_SHEET = ": what to do stands on the sheet (report --sheet)"


def judged(review: Review) -> Readiness:
    """Judge the instruments of a review; what is set by hand counts as entered."""
    by_hand = beyond(review.case.screened.mistakes, review.settings.corrections)
    left = remaining(review.case.calibration.estimates, by_hand)
    return readiness(review.case, review.findings, left)


def as_json(review: Review) -> Mapping[str, Any]:
    """Arrange the sheet as plain values."""
    found = judged(review)
    return {
        "on_utc": None if found.on is None else iso(found.on),
        "instruments": [
            {**vars(one), "text": said_text(one, None if found.on is None else f"{found.on:%Y-%m-%d}")}
            for one in found.lines
        ],
    }


def as_rows(review: Review) -> Sequence[Sequence[str]]:
    """Say which instruments are verified and within what, which are off, and which are left to check by hand."""
    found = judged(review)
    day = "" if found.on is None else f"on {found.on:%Y-%m-%d}"
    verified = [
        f"{one.instrument}{amount_text(one, ' within ± ')}" for one in found.lines if one.state == "verified"
    ]
    rows = [
        ("verified", f"{day}: {', '.join(verified)}".removeprefix(": ") if verified else ""),
        ("off", ", ".join(found.of("off")) + ": see the findings" if found.of("off") else ""),
        ("not known", ", ".join(found.of("not known")) + _ON_THE_SHEET if found.of("not known") else ""),
        ("no sensor", ", ".join(found.of("no sensor"))),
    ]
    return [row for row in rows if row[1]] if len(found.of("no sensor")) < len(found.lines) else []


def said_text(one: Line, on: str | None) -> str:
    """Say the state of an instrument in one sentence; ``on`` is the day, None where the log has no date."""
    if one.state == "no sensor":
        return NO_SENSOR
    if one.state == "verified":
        day = f" on {on}" if on else ""
        return f"verified{day}{amount_text(one)}"
    if one.state == "off":
        return f"off: {off_text(one)}"
    return f"not known: {do_text(one)}"


def amount_text(one: Line, lead: str = ", right within ± ") -> str:
    """Within what an instrument is right; "" where that is not a number."""
    return "" if one.within is None else f"{lead}{size_text(one.within, one.unit)}"


def off_text(one: Line) -> str:
    """Say what is off and what to enter."""
    if one.said:
        return f"{one.said} {one.enter}".strip()
    value, sd = one.value or 0.0, one.sd or 0.0
    text = number_text(one.correction, value, SIGMAS_95 * sd)
    way = WAYS[one.correction]
    return f"enter {text} as {way.label.lower()} ({within_text(one.correction, SIGMAS_95 * sd)})"


def do_text(one: Line) -> str:
    """Say why it is not known and what to do."""
    return " ".join(part for part in (why_text(one), f"Do this: {one.next}") if part)


def why_text(one: Line) -> str:
    """Say why it is not known; "" where there is nothing to be said."""
    if not one.said:
        return ""
    reached = "" if one.within is None else f" (± {size_text(one.within, one.unit)})"
    return f"{one.said[0].upper()}{one.said[1:].rstrip('.')}{reached}."


def size_text(size: float, unit: str) -> str:
    """Write how far off an instrument may be."""
    if unit == "1":
        return f"{max(100 * size, 0.1):.1f} %"
    if unit == "deg":
        return f"{max(size, 0.1):.1f}°"
    return f"{size:.0f} m" if unit == "m" and size >= 10 else f"{size:.1f} {unit}"
