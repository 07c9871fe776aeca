"""How legs and laylines are said on the Routes page."""

from collections.abc import Sequence
from typing import Any

import numpy as np
from dash import html

from analysis.estimate import SIGMAS_95
from analysis.positions import position_text
from analysis.routes import Layline, Laylines, RoutedLegs, RouteLeg, Routes
from app.dress import Dress
from app.sections.routes import angle_text
from app.units import Units

from .parts import panel
from .wording import NOTHING, whole_minutes_text

LISTED = 60


def conclusion_text(routes: Routes, last: Laylines | None, dress: Dress) -> str:
    """Say how long the routes are, and what it takes to the mark at the end of the passage."""
    first = routes.routes[0]
    length = sum(leg.geodesic.distance_nm for leg in first.legs)
    saved = sum(leg.saved_nm for leg in first.legs)
    text = f"{first.route.name}: {_count(len(first.legs), 'leg')}, {_nm(length, dress.units)}"
    if saved >= 0.1:
        text += f" by geodesics, {_nm(saved, dress.units)} less than by rhumb lines"
    if last is None:
        return f"{text}."
    return f"{text}. At the end of the passage: {state_text(last, dress)}"


def state_text(now: Laylines | None, dress: Dress) -> str:
    """Say in a sentence what it takes to the mark."""
    if now is None:
        return "There is no position at this moment."
    mark = f"{now.mark.name} bears {_bearing(now.bearing_deg)}, {_nm(now.distance_nm, dress.units)} off"
    if now.state == "not determined":
        return f"{mark}. Laylines are not determined: {now.reason}."
    if now.state == "fetched":
        spare = f"{now.margin_deg:.0f}° ± {max(SIGMAS_95 * now.margin_sd_deg, 1):.0f}°"
        return f"{mark}; she lays it without a turn, with {spare} to spare from the nearest layline."
    if now.state == "on the layline":
        return f"{mark}; she is on a layline as far as can be told."
    line = now.to_layline
    if line is None:
        return f"{mark}; it takes both tacks."
    other = "starboard" if line.sailing.tack == "port" else "port"
    minutes = f"{whole_minutes_text(line.time_s)} ± {whole_minutes_text(SIGMAS_95 * line.time_sd_s)}"
    return f"{mark}; {minutes} more on {line.sailing.tack} tack to the layline of {other} tack."


def laylines_table(now: Laylines | None, dress: Dress) -> list[Any]:
    """Show the numbers of a moment: what lies around the boat, each tack, and the straight way."""
    if now is None:
        return []
    units = dress.units
    rows: list[tuple[str, str]] = [
        ("To the mark", f"{_bearing(now.bearing_deg)}, {_nm(now.distance_nm, units)}"),
    ]
    if np.isfinite(now.twd_deg):
        spread = f" ± {SIGMAS_95 * now.wind_sd_deg:.0f}°" if np.isfinite(now.wind_sd_deg) else ""
        rows.append(
            (
                "Wind over the water",
                f"from {_bearing(now.twd_deg)}{spread} on the way, {_kn(now.tws_kn, units)}",
            )
        )
    if np.isfinite(now.drift_kn):
        rows.append(("Current", _current_text(now, units)))
    if now.direct is not None and now.state == "fetched":
        rows.append(
            (
                "Straight there",
                f"steer {_bearing(now.direct.course_deg)} through the water, "
                f"{_kn(now.direct.speed_kn, units)} over the ground, {whole_minutes_text(now.direct.time_s)}",
            )
        )
    table = html.Table(
        html.Tbody([html.Tr([html.Th(name, scope="row"), html.Td(text)]) for name, text in rows])
    )
    return [table, _tacks(now, units)] if now.laylines else [table]


def _current_text(now: Laylines, units: Units) -> str:
    kn = units.of("kn")
    spread = f" ± {SIGMAS_95 * now.current_sd_kn * kn.factor:.2f}" if np.isfinite(now.current_sd_kn) else ""
    return f"sets {_bearing(now.set_deg)} at {now.drift_kn * kn.factor:.2f}{spread} {kn.symbol}"


def _tacks(now: Laylines, units: Units) -> html.Table:
    rows: list[tuple[str, Sequence[str]]] = [
        (
            "Layline",
            [f"{_bearing(one.bearing_deg)} ± {_degrees(one.bearing_sd_deg)}" for one in now.laylines],
        ),
        ("Speed over the ground", [_kn(one.speed_kn, units, one.speed_sd_kn) for one in now.laylines]),
    ]
    if now.to_layline is not None:
        rows += [
            ("Distance to sail", [_nm(one.distance_nm, units, one.distance_sd_nm) for one in now.laylines]),
            ("Time to sail", [_minutes(one) for one in now.laylines]),
        ]
    rows += [
        ("Angle to the wind", [angle_text(one.sailing) for one in now.laylines]),
        ("± from the wind to come", [f"± {_degrees(one.wind_sd_deg)}" for one in now.laylines]),
        ("± from the angle and speed", [f"± {_degrees(one.angle_sd_deg)}" for one in now.laylines]),
        ("± from the current", [f"± {_degrees(one.current_sd_deg)}" for one in now.laylines]),
    ]
    head = html.Tr([html.Th(""), *(html.Th(f"{one.sailing.tack.capitalize()} tack") for one in now.laylines)])
    body = [html.Tr([html.Th(name, scope="row"), *(html.Td(text) for text in texts)]) for name, texts in rows]
    return html.Table([html.Thead(head), html.Tbody(body)], className="tacks")


def _minutes(line: Layline) -> str:
    return f"{whole_minutes_text(line.time_s)} ± {whole_minutes_text(SIGMAS_95 * line.time_sd_s)}"


def legs_panel(routes: Routes, dress: Dress) -> html.Section:
    """Show every leg of every route by both lines."""
    children: list[Any] = [
        html.P(
            "On the WGS84 ellipsoid. The geodesic is the shortest way and changes course; the rhumb line keeps one "
            "course. Courses are true.",
            className="small",
        )
    ]
    for one in routes.routes:
        children += [html.H3(f"{one.route.name} ({one.route.source})"), _legs(one, routes, dress)]
    return panel("Legs", *children, wide=True)


def _legs(one: RoutedLegs, routes: Routes, dress: Dress) -> html.Div:
    if not one.legs:
        mark = one.route.marks[0]
        where = position_text(mark.lat_deg, mark.lon_deg)
        return html.Div(f"One mark, {mark.name} at {where}, and no position to reach it from.")
    nm = dress.units.of("nm").symbol
    limit = routes.latitude_limit_deg
    titles = [
        "Leg",
        f"Geodesic [{nm}]",
        "sets out on",
        "arrives on",
        f"Rhumb line [{nm}]",
        "course",
        f"longer by [{nm}]",
        f"apart half-way [{nm}]",
        "highest latitude",
        *([] if limit is None else [f"Below {limit:g}° [{nm}]"]),
    ]
    rows = [html.Tr(_leg_cells(leg, limit, dress.units)) for leg in one.legs[:LISTED]]
    if len(one.legs) > LISTED:
        rows.append(html.Tr([html.Td(f"and {len(one.legs) - LISTED} more", colSpan=len(titles))]))
    foot = html.Tr(
        [
            html.Th("All", scope="row"),
            _cell(_number(sum(leg.geodesic.distance_nm for leg in one.legs), dress.units)),
            html.Td(""),
            html.Td(""),
            _cell(_number(sum(leg.rhumb.distance_nm for leg in one.legs), dress.units)),
            html.Td(""),
            _cell(_number(sum(leg.saved_nm for leg in one.legs), dress.units)),
            *[html.Td("")] * (len(titles) - 7),
        ]
    )
    head = html.Tr([html.Th(title, className="" if k == 0 else "number") for k, title in enumerate(titles)])
    table = html.Table([html.Thead(head), html.Tbody(rows), html.Tfoot(foot)], className="legs")
    return html.Div(table, className="scroll")


def _leg_cells(leg: RouteLeg, limit: float | None, units: Units) -> list[Any]:
    highest = leg.highest.lat_deg
    cells = [
        _number(leg.geodesic.distance_nm, units),
        _fine(leg.geodesic.bearing_deg),
        _fine(leg.geodesic.final_bearing_deg),
        _number(leg.rhumb.distance_nm, units),
        _fine(leg.rhumb.bearing_deg),
        _number(leg.saved_nm, units),
        _number(leg.apart_nm, units),
        f"{abs(highest):.1f}°{'N' if highest >= 0 else 'S'}",
    ]
    if limit is not None:
        cells.append(_limited(leg, units))
    return [html.Th(f"{leg.origin.name} to {leg.mark.name}", scope="row"), *map(_cell, cells)]


def _limited(leg: RouteLeg, units: Units) -> str:
    if leg.beyond:
        return "an end lies beyond"
    return "keeps below" if leg.composite is None else _number(leg.composite.distance_nm, units)


def _cell(text: str) -> html.Td:
    return html.Td(text, className="number")


def _number(distance_nm: float, units: Units) -> str:
    nm = units.of("nm")
    return f"{round(distance_nm * nm.factor, 2) + 0.0:.2f}"


def _fine(bearing_deg: float) -> str:
    return f"{round(bearing_deg, 1) % 360:05.1f}°" if np.isfinite(bearing_deg) else NOTHING


def _bearing(bearing_deg: float) -> str:
    return f"{round(bearing_deg) % 360:03d}°"


def _degrees(sd_deg: float) -> str:
    return f"{SIGMAS_95 * sd_deg:.1f}°"


def _nm(distance_nm: float, units: Units, sd_nm: float | None = None) -> str:
    nm = units.of("nm")
    spread = "" if sd_nm is None else f" ± {SIGMAS_95 * sd_nm * nm.factor:.2f}"
    return f"{distance_nm * nm.factor:.2f}{spread} {nm.symbol}"


def _kn(speed_kn: float, units: Units, sd_kn: float | None = None) -> str:
    kn = units.of("kn")
    spread = "" if sd_kn is None else f" ± {SIGMAS_95 * sd_kn * kn.factor:.1f}"
    return f"{speed_kn * kn.factor:.1f}{spread} {kn.symbol}"


def _count(number: int, word: str) -> str:
    return f"{number} {word}" + ("" if number == 1 else "s")
