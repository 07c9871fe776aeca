"""Emergencies in the check: marks, beacons and calls, and what drifted from them."""

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from typing import Any

import numpy as np

from analysis import Review
from analysis.emergencies import Closest, Datum, Drill, Emergency, told_rows, unplaced_calls
from analysis.positions import position_text
from app import cautions
from app.pages.wording import duration_text

from .values import iso

TITLE = "Emergencies: for review and training only"
LISTED = 12
HOUR_S = 3600.0


def as_json(review: Review) -> Mapping[str, Any]:
    """Arrange every mark and call."""
    return {
        "caution": cautions.EMERGENCIES,
        "marks": [_object(one) for one in review.case.emergencies.all],
        "unplaced": unplaced_calls(review.passage.events),
    }


def as_rows(review: Review) -> Sequence[Sequence[str]]:
    """Say each mark or call, where it last lay, and how the boat went back."""
    found = review.case.emergencies.all
    rows = [row for one in found[:LISTED] for row in _rows(one)]
    if len(found) > LISTED:
        rows.append(("", f"and {len(found) - LISTED} more"))
    if unplaced_calls(review.passage.events):
        rows.append(("", none_text(review)))
    if any(one.mark.alert for one in found):
        rows.append(("caution", cautions.EMERGENCIES))
    return rows


def none_text(review: Review) -> str:
    """Say that no mark or call is found, or that those recorded have no time."""
    unplaced = unplaced_calls(review.passage.events)
    if not unplaced:
        return "There is no person-overboard mark, beacon or distress call in this recording."
    return f"Marks or calls recorded without a time, so that none can be placed: {unplaced}."


def _rows(one: Emergency) -> list[tuple[str, str]]:
    mark = one.mark
    head = " ".join(word for word in (mark.kind, mark.who) if word)
    place = f" at {position_text(mark.fixes[0].lat_deg, mark.fixes[0].lon_deg)}" if mark.fixes else ""
    often = f", {mark.count} times" if mark.count > 1 else ""
    rows = [(_clock(mark.start_s), f"{head}: {mark.what}{place}{often}")]
    if one.datum is not None:
        rows.append(("", _datum_text(one.datum)))
    elif mark.alert:
        rows.append(("", f"its drift is not known: {one.why}"))
    if one.drill is not None:
        rows.append(("", drill_text(one.drill)))
    return rows


def _datum_text(datum: Datum) -> str:
    hours = (datum.time_s[-1] - datum.time_s[0]) / 3600
    after = f"{hours:.1f} h" if hours >= 2 else f"{60 * hours:.0f} min"
    place = position_text(float(datum.lat_deg[-1]), float(datum.lon_deg[-1]))
    away = (
        f", {datum.range_nm[-1]:.2f} nm on {round(float(datum.bearing_deg[-1])) % 360:03d}° from the boat"
        if np.isfinite(datum.bearing_deg[-1])
        else ""
    )
    return f"drifted by {after} later to {place} ± {datum.radius_nm[-1]:.2f} nm{away}"


def drill_text(drill: Drill, unit: str = "nm", factor: float = 1.0) -> str:
    """Say in a sentence how the boat went back; ``factor`` turns nm into ``unit``."""
    if drill.back_s is None:
        turned = drill.turned_s is not None and drill.mark is not None
        return f"the boat did not {'come' if turned else 'turn'} back within {_watched(drill.watched_s)}"
    assert drill.turned_s is not None and drill.mark is not None
    parts = [f"turned after {duration_text(drill.turned_s)}"]
    if drill.on_way_back_s is not None:
        parts.append(f"on the way back after {duration_text(drill.on_way_back_s)}")
    parts.append(f"closest to the mark {_closest(drill.mark, unit, factor)}")
    if drill.datum is not None:
        parts.append(f"to the drifted place {_closest(drill.datum, unit, factor)}")
    return ", ".join(parts)


def _watched(watched_s: float) -> str:
    return "the hour" if watched_s > HOUR_S - 60 else f"the {duration_text(watched_s)} recorded"


def _closest(one: Closest, unit: str, factor: float) -> str:
    return f"{one.distance_nm * factor:.2f} {unit} after {duration_text(one.after_s)}"


def _clock(time_s: float) -> str:
    return f"{datetime.fromtimestamp(time_s, UTC):%d %b %H:%M:%S}"


def _object(one: Emergency) -> dict[str, Any]:
    mark = one.mark
    return {
        "kind": mark.kind,
        "who": mark.who or None,
        "what": mark.what,
        "alert": mark.alert,
        "test": mark.test,
        "adrift": mark.adrift if mark.alert else None,
        "start_utc": iso(mark.start_s),
        "end_utc": iso(mark.end_s),
        "count": mark.count,
        "category": mark.category,
        "nature": mark.nature,
        "position_utc": mark.position_utc,
        "positions": [
            {"time_utc": iso(fix.time_s), "lat_deg": fix.lat_deg, "lon_deg": fix.lon_deg, "sd_nm": fix.sd_nm}
            for fix in mark.fixes
        ],
        "datum": None if one.datum is None else _datum(one.datum),
        "datum_needs": one.why,
        "drill": None if one.drill is None else _drill(one.drill),
    }


def _datum(datum: Datum) -> dict[str, Any]:
    return {
        "by": list(datum.by),
        "current_kn": datum.current_kn,
        "current_set_deg": datum.current_set_deg,
        "leeway_kn": datum.leeway_kn,
        "leeway_set_deg": datum.leeway_set_deg,
        "places": [
            {
                "time_utc": iso(float(datum.time_s[row])),
                "lat_deg": datum.lat_deg[row],
                "lon_deg": datum.lon_deg[row],
                "radius_nm": datum.radius_nm[row],
                "range_nm": datum.range_nm[row],
                "bearing_deg": datum.bearing_deg[row],
            }
            for row in told_rows(datum)
        ],
    }


def _drill(drill: Drill) -> dict[str, Any]:
    return {
        "by": "course over the ground" if drill.by_course else "heading",
        "watched_s": drill.watched_s,
        "turned_s": drill.turned_s,
        "on_way_back_s": drill.on_way_back_s,
        "farthest_nm": drill.farthest_nm,
        "closest_to_mark": None if drill.mark is None else vars(drill.mark),
        "closest_to_datum": None if drill.datum is None else vars(drill.datum),
    }
