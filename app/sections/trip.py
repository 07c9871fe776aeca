"""The trip record in the check: what the summary does not tell."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from math import isfinite
from typing import Any

from analysis import Review
from analysis.positions import position_text
from analysis.trip import Most, Stretch, Trip

from .values import iso

TITLE = "Trip record"
UNITS = {"deg": "°"}
LEAST_H = 0.05  # less is written as 0.0
OF_SUMMARY = ("speed over ground", "speed through the water")


def as_json(review: Review) -> Mapping[str, Any]:
    """Arrange the record; days are those of UTC."""
    trip = review.case.trip
    return {
        "whole": None if trip.whole is None else _stretch(trip.whole),
        "days": [{"day": one.day.isoformat(), **_stretch(one.stretch)} for one in trip.days],
        "most": [{**asdict(one), "at": iso(one.at)} for one in trip.most],
        "points_of_sail": [asdict(one) for one in trip.points],
        "engine_counter_h": trip.engine_hours,
        "lacking": list(trip.lacking),
    }


def as_rows(review: Review) -> Sequence[Sequence[str]]:
    """Say gusts, heel and pressure, and how the hours went."""
    trip = review.case.trip
    if trip.whole is None:
        return ()
    rows = [_most_row(one) for one in trip.most if one.name not in OF_SUMMARY]
    if hours := hours_text(trip):
        rows.append(("hours", hours))
    if len(trip.days) > 1:
        rows += [(f"{one.day:%d %b}", _day_text(one.stretch)) for one in trip.days]
    if rows and trip.lacking:
        rows.append(("not told", "; ".join(trip.lacking)))
    return rows


def hours_text(trip: Trip) -> str:
    """Say how the hours went: at rest, under engine, on each point of sail."""
    assert trip.whole is not None
    parts = [
        f"{hours:.1f} {name}"
        for name, hours in (
            ("at rest", trip.whole.at_rest_h),
            ("under engine", trip.whole.under_engine_h),
            *((one.name, one.port_h + one.starboard_h) for one in trip.points),
        )
        if hours is not None and hours >= LEAST_H
    ]
    if trip.engine_hours is not None:
        parts.append(f"{trip.engine_hours:.1f} by the engine's counter")
    return ", ".join(parts)


def _most_row(one: Most) -> tuple[str, str]:
    unit = UNITS.get(one.unit, f" {one.unit}")
    place = f", {position_text(one.lat_deg, one.lon_deg)}" if isfinite(one.lat_deg) else ""
    return one.name, f"{one.value:.1f}{unit} at {one.at:%d %b %H:%M:%S}{place}"


def _day_text(day: Stretch) -> str:
    parts = [
        f"{value:.1f} {words}"
        for value, words in (
            (day.over_ground_nm, "nm over the ground"),
            (day.through_water_nm, "nm through the water"),
            (day.hours, "h"),
        )
        if value is not None
    ]
    return ", ".join(parts)


def _stretch(one: Stretch) -> dict[str, Any]:
    return asdict(one) | {"start": iso(one.start), "end": iso(one.end)}
