"""Routes in the check: legs by both lines, and laylines at each tack and at the end."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import pandas as pd

from analysis import Review
from analysis.estimate import SIGMAS_95
from analysis.passage import seconds_of
from analysis.routes import Layline, Laylines, RouteLeg, Sailing, tack_times
from app import cautions
from app.pages.wording import whole_minutes_text

from .values import iso

TITLE = "Routes and laylines"
LISTED = 12


def as_json(review: Review) -> Mapping[str, Any]:
    """Arrange the legs of every route, and the laylines at each tack or gybe and at the end of the passage."""
    routes = review.case.routes
    tacks = [turn.start.timestamp() for turn in tack_times(review.case.manoeuvres)]
    return {
        "caution": cautions.ROUTES,
        "routes": [
            {
                "name": one.route.name,
                "source": one.route.source,
                "marks": [vars(mark) for mark in one.route.marks],
                "legs": [_leg_object(leg, routes.latitude_limit_deg) for leg in one.legs],
            }
            for one in routes.routes
        ],
        "laylines": [_laylines_object(one) for one in _laylines(review, [*tacks, *_end(review.case.frame)])],
        "laylines_need": list(routes.missing),
        "current_estimated": routes.current_estimated,
    }


def as_rows(review: Review) -> Sequence[Sequence[str]]:
    """Say each leg, and what it takes to the mark at the end; nothing where no mark is known."""
    routes = review.case.routes
    if not routes.routes:
        return []
    rows: list[tuple[str, str]] = []
    for one in routes.routes:
        rows += [
            (f"{leg.origin.name} to {leg.mark.name}"[:32], leg_text(leg, routes.latitude_limit_deg))
            for leg in one.legs[:LISTED]
        ]
        if len(one.legs) > LISTED:
            rows.append(("", f"and {len(one.legs) - LISTED} more legs of {one.route.name}"))
    last_rows = [
        (f"at the end, to {last.mark.name}"[:32], laylines_text(last))
        for last in _laylines(review, _end(review.case.frame))
    ]
    return [*rows, *last_rows, ("caution", cautions.ROUTES)]


def _laylines(review: Review, moments: Sequence[float]) -> Iterator[Laylines]:
    """Work out the laylines at some moments [s since 1970 UTC], each to the mark that counts then."""
    routes = review.case.routes
    for time_s in moments:
        mark = routes.mark_at(time_s)
        found = routes.laylines(mark, time_s) if mark is not None else None
        if found is not None:
            yield found


def _end(frame: pd.DataFrame) -> list[float]:
    return [float(one) for one in seconds_of(frame.iloc[-1:])]


def leg_text(leg: RouteLeg, limit_deg: float | None) -> str:
    """Say a leg by both lines in one sentence."""
    great, rhumb = leg.geodesic, leg.rhumb
    if great.distance_nm == 0.0:
        return "no distance"
    text = f"{great.distance_nm:.2f} nm on {_course(great.bearing_deg)}"
    if leg.saved_nm >= 0.05:
        text += (
            f", arriving on {_course(great.final_bearing_deg)}; rhumb line {rhumb.distance_nm:.2f} nm on "
            f"{_course(rhumb.bearing_deg)}, {leg.saved_nm:.2f} nm longer"
        )
    if leg.composite is not None:
        text += f"; kept below {limit_deg:g}° latitude {leg.composite.distance_nm:.2f} nm"
    elif leg.beyond:
        text += f"; an end lies beyond {limit_deg:g}° latitude"
    return text


def laylines_text(one: Laylines) -> str:
    """Say what it takes to the mark in a sentence."""
    head = f"{one.distance_nm:.2f} nm on {_course(one.bearing_deg)}"
    if one.state == "not determined":
        return f"{head}; laylines not determined: {one.reason}"
    lines = " and ".join(
        f"{_course(line.bearing_deg)} ± {SIGMAS_95 * line.bearing_sd_deg:.0f}° on {line.sailing.tack} tack"
        for line in one.laylines
    )
    text = f"{head}; laylines {lines}, sailing {angles_text(one.laylines)}"
    to_line = one.to_layline
    if one.state == "fetched":
        return f"{text}; laid already, {one.margin_deg:.0f} ± {SIGMAS_95 * one.margin_sd_deg:.0f}° to spare"
    if one.state == "on the layline":
        return f"{text}; on a layline as far as can be told"
    if to_line is None:
        return text
    return (
        f"{text}; {whole_minutes_text(to_line.time_s)} ± {whole_minutes_text(SIGMAS_95 * to_line.time_sd_s)} "
        f"to the layline on {to_line.sailing.tack} tack"
    )


def angles_text(lines: Sequence[Layline]) -> str:
    """Say at which angles to the wind, and where they come from: once where both tacks are alike."""
    said = [f"{angle_text(line.sailing)} on {line.sailing.tack} tack" for line in lines]
    alike = {angle_text(line.sailing) for line in lines}
    return alike.pop() if len(alike) == 1 else " and ".join(said)


def angle_text(sailing: Sailing) -> str:
    """Say an angle to the wind with its ± and where it comes from."""
    legs = f"{sailing.legs} leg" + ("" if sailing.legs == 1 else "s")
    whence = {
        "given": "given",
        "sailed": f"sailed, {legs}" + (" of the other tack" if sailing.mirrored else ""),
        "polar": "by her own polar",
    }[sailing.source]
    return f"{sailing.angle_deg:.0f} ± {SIGMAS_95 * sailing.angle_sd_deg:.0f}° ({whence})"


def _course(bearing_deg: float) -> str:
    return f"{round(bearing_deg) % 360:03d}°"


def _leg_object(leg: RouteLeg, limit_deg: float | None) -> dict[str, Any]:
    composite = leg.composite
    return {
        "from": leg.origin.name,
        "to": leg.mark.name,
        "geodesic_nm": leg.geodesic.distance_nm,
        "initial_course_deg": leg.geodesic.bearing_deg,
        "final_course_deg": leg.geodesic.final_bearing_deg,
        "rhumb_nm": leg.rhumb.distance_nm,
        "rhumb_course_deg": leg.rhumb.bearing_deg,
        "saved_nm": leg.saved_nm,
        "apart_nm": leg.apart_nm,
        "highest": leg.highest._asdict(),
        "latitude_limit_deg": limit_deg,
        "beyond_limit": leg.beyond,
        "composite": None
        if composite is None
        else {
            "nm": composite.distance_nm,
            "initial_course_deg": composite.bearing_deg,
            "joins": [join._asdict() for join in composite.joins],
        },
    }


def _laylines_object(one: Laylines) -> dict[str, Any]:
    to_line = one.to_layline
    return {
        "time_utc": iso(one.time_s),
        "mark": one.mark.name,
        "distance_nm": one.distance_nm,
        "bearing_deg": one.bearing_deg,
        "state": one.state,
        "reason": one.reason or None,
        "point_of_sail": one.point,
        "tack": one.tack,
        "twd_water_deg": one.twd_deg,
        "twd_water_deg_sd": one.wind_sd_deg,
        "tws_water_kn": one.tws_kn,
        "set_deg": one.set_deg,
        "drift_kn": one.drift_kn,
        "current_kn_sd": one.current_sd_kn,
        "laylines": [_layline_object(line) for line in one.laylines],
        "time_to_layline_s": None if to_line is None else to_line.time_s,
        "time_to_layline_s_sd": None if to_line is None else to_line.time_sd_s,
        "margin_deg": one.margin_deg,
        "margin_deg_sd": one.margin_sd_deg,
        "direct": None if one.direct is None else vars(one.direct),
    }


def _layline_object(line: Layline) -> dict[str, Any]:
    return {
        "tack": line.sailing.tack,
        "bearing_deg": line.bearing_deg,
        "bearing_deg_sd": line.bearing_sd_deg,
        "speed_kn": line.speed_kn,
        "speed_kn_sd": line.speed_sd_kn,
        "distance_nm": line.distance_nm,
        "distance_nm_sd": line.distance_sd_nm,
        "time_s": line.time_s,
        "time_s_sd": line.time_sd_s,
        "angle_to_wind_deg": line.sailing.angle_deg,
        "angle_to_wind_deg_sd": line.sailing.angle_sd_deg,
        "speed_through_water_kn": line.sailing.speed_kn,
        "angle_from": line.sailing.source,
        "legs": line.sailing.legs,
        "mirrored": line.sailing.mirrored,
    }
