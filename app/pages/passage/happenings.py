"""What happened on the passage, each with its time and words: manoeuvres, legs, findings, marks."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import pandas as pd

from analysis.findings import Finding
from analysis.manoeuvres import Manoeuvres, Turn
from analysis.review import Review
from app.dress import Dress
from app.pages.wording import duration_text, time_of_day_text, value_text

Kind = Literal["manoeuvre", "leg", "finding", "mark"]


@dataclass(frozen=True)
class Happening:
    """Something at a time or over a span [ms]; ``place`` is its own latitude and longitude [deg] where it has one."""

    kind: Kind
    words: str
    start_ms: float
    end_ms: float
    place: tuple[float, float] | None = None


def happenings(review: Review, dress: Dress) -> list[Happening]:
    """List what happened, in the order of time."""
    found = [
        *_manoeuvres(review.case.manoeuvres, dress),
        *(one for finding in review.findings for one in _finding(finding)),
        *_marks(review.passage.events),
    ]
    return sorted(found, key=lambda one: one.start_ms)


def _manoeuvres(done: Manoeuvres, dress: Dress) -> Iterator[Happening]:
    for turn in done.turns:
        yield Happening("manoeuvre", _turn_words(turn, dress), _ms(turn.start), _ms(turn.end))
    for runs in done.runs:
        words = f"{len(runs.legs)} reciprocal legs on {_heading(runs.heading_deg)} and back"
        yield Happening("manoeuvre", words, _ms(runs.legs[0].start), _ms(runs.legs[-1].end))
    for stop in done.stops:
        yield Happening(
            "manoeuvre", f"At rest for {duration_text(stop.duration_s)}", _ms(stop.start), _ms(stop.end)
        )
    for leg in done.legs:
        speed = value_text("stw_kn", leg.stw_kn, units=dress.units)
        words = f"Leg of {duration_text(leg.duration_s)} on {_heading(leg.heading_deg)}, {speed} through the water"
        yield Happening("leg", words, _ms(leg.start), _ms(leg.end))


def _turn_words(turn: Turn, dress: Dress) -> str:
    name = turn.kind.capitalize()
    side = "starboard" if turn.change_deg > 0 else "port"
    change = (
        f"to {side}"
        if turn.kind == "full turn"
        else f"from {_heading(turn.heading_before_deg)} to {_heading(turn.heading_after_deg)}, to {side}"
    )
    at = time_of_day_text(_ms(turn.start), dress.clock)
    return f"{name} {change}, at {at}"


def _finding(finding: Finding) -> Iterator[Happening]:
    for start, end in _times(finding.evidence):
        yield Happening("finding", finding.title, start, end)


def _times(evidence: object) -> Iterator[tuple[float, float]]:
    """Find the spans and moments in a finding's evidence: start_utc with end_utc, or any other time."""
    if isinstance(evidence, dict):
        span = [_parsed(evidence.get(name)) for name in ("start_utc", "end_utc")]
        if span[0] is not None and span[1] is not None:
            yield span[0], span[1]
        else:
            for name, value in evidence.items():
                moment = _parsed(value) if str(name).endswith("_utc") else None
                if moment is not None:
                    yield moment, moment
        for value in evidence.values():
            yield from _times(value)
    elif isinstance(evidence, list | tuple):
        for value in evidence:
            yield from _times(value)


def _marks(events: pd.DataFrame) -> Iterator[Happening]:
    for event in events.to_dict("records"):
        at = event["time_utc"]
        if pd.isna(at):
            continue
        place = float(event["lat_deg"]), float(event["lon_deg"])
        words = f"{str(event['kind']).capitalize()}: {event['text']}" if event["text"] else str(event["kind"])
        known = place[0] == place[0] and place[1] == place[1]
        yield Happening("mark", words, _ms(at), _ms(at), place if known else None)


def _heading(degrees: float) -> str:
    return f"{round(degrees) % 360:03d}°"


def _parsed(value: object) -> float | None:
    return _ms(pd.Timestamp(value)) if isinstance(value, str) else None


def _ms(at: pd.Timestamp) -> float:
    return at.timestamp() * 1000.0
