"""The Trip page: distances and averages by day, the greatest values with time and place, how the hours went."""

from typing import Any

from dash import ClientsideFunction, Dash, Input, html

from analysis.positions import position_text
from analysis.trip import Most, Stretch, Trip, record_trip
from app.desk import Desk
from app.dress import Dress
from app.figures.trip import hours_by_point
from app.sections.trip import LEAST_H, hours_text
from app.view import View, Views

from .graph import graph
from .parts import conclusion, panel, wide_table
from .wording import NOTHING, duration_text, time_text

TITLE = "Trip"


def layout(view: View) -> list[Any]:
    """Lay the page out, to be printed as it stands."""
    return _laid(view, True)


def on_paper(view: View) -> list[Any]:
    """Say the same on paper."""
    return _laid(view, False)


def register(app: Dash, views: Views, desk: Desk) -> None:
    """Wire the printing."""
    app.clientside_callback(
        ClientsideFunction("findings", "print"), Input("print-trip", "n_clicks"), prevent_initial_call=True
    )


def conclusion_text(trip: Trip, view: View) -> str:
    """Say how far and how long, and the strongest gust."""
    whole = trip.whole
    if whole is None:
        return f"There is no trip to record: {trip.lacking[0]}."
    units = view.dress.units
    nm, kn = units.of("nm"), units.of("kn")
    parts = []
    if whole.over_ground_nm is not None:
        parts.append(f"{whole.over_ground_nm * nm.factor:.1f} {nm.symbol} over the ground")
    if whole.through_water_nm is not None:
        parts.append(f"{whole.through_water_nm * nm.factor:.1f} {nm.symbol} through the water")
    text = f"{' and '.join(parts) or 'No distance is known'} in {duration_text(whole.hours * 3600)}"
    if whole.under_way_kn is not None and whole.over_ground_nm:
        text += f", {whole.under_way_kn * kn.factor:.1f} {kn.symbol} on average under way"
    gust = next((one for one in trip.most if one.name.startswith("gust")), None)
    if gust is not None:
        text += f"; the strongest gust was {gust.value * kn.factor:.1f} {kn.symbol} at {_time(gust, view)}"
    return f"{text[0].upper()}{text[1:]}."


def trip_of(view: View) -> Trip:
    """The record by the days of the reader's clock."""
    case = view.opened.review.case
    if not view.dress.clock.offset_min:
        return case.trip
    return record_trip(
        case.passage, case.frame, case.manoeuvres.stops, case.weather.pressure, view.dress.clock.offset_min
    )


def _laid(view: View, screen: bool) -> list[Any]:
    trip = trip_of(view)
    if trip.whole is None:
        return [conclusion(conclusion_text(trip, view))]
    button = html.Button("Print the record", id="print-trip", type="button", className="screen-only")
    return [
        conclusion(conclusion_text(trip, view)),
        html.Div(
            [
                _days(trip, view),
                _most(trip, view),
                _points(trip, view.dress),
                html.P([_lacking(trip), *([button] if screen else [])], className="foot"),
            ],
            className="panels",
        ),
    ]


def _days(trip: Trip, view: View) -> html.Section:
    assert trip.whole is not None
    dress, dated = view.dress, view.opened.scene.dated
    nm, kn = dress.units.of("nm"), dress.units.of("kn")
    heads = (
        dress.clock.name,
        "Time",
        f"Ground [{nm.symbol}]",
        f"Water [{nm.symbol}]",
        f"Under way [{kn.symbol}]",
        f"STW [{kn.symbol}]",
        f"TWS [{kn.symbol}]",
        "At rest",
        "Under engine",
    )
    rows = [
        _row(f"{one.day:%a %d %b %Y}" if dated else f"day {number}", one.stretch, dress)
        for number, one in enumerate(trip.days, 1)
    ]
    if len(rows) > 1:
        rows.append(_row("in all", trip.whole, dress, "total"))
    return panel(
        "By day",
        wide_table(heads, rows, heads[1:]),
        html.P(
            "Ground and water: the distance over the one and through the other. Under way: that over the ground by "
            "the hours not at rest, silences left out. STW and TWS are means of what is known.",
            className="small",
        ),
        wide=True,
    )


def _row(name: str, one: Stretch, dress: Dress, style: str = "") -> html.Tr:
    nm, kn = dress.units.of("nm").factor, dress.units.of("kn").factor
    numbers = (
        (one.over_ground_nm, nm),
        (one.through_water_nm, nm),
        (one.under_way_kn, kn),
        (one.stw_kn, kn),
        (one.tws_kn, kn),
    )
    cells = [
        duration_text(one.hours * 3600),
        *(NOTHING if value is None else f"{value * factor:.1f}" for value, factor in numbers),
        *(NOTHING if hours is None else f"{hours:.1f} h" for hours in (one.at_rest_h, one.under_engine_h)),
    ]
    return html.Tr(
        [html.Th(name, scope="row"), *(html.Td(cell, className="number") for cell in cells)], className=style
    )


def _most(trip: Trip, view: View) -> html.Section:
    rows = [
        html.Tr(
            [
                html.Th(f"{one.name[0].upper()}{one.name[1:]}", scope="row"),
                html.Td(_value(one, view.dress), className="number"),
                html.Td(_time(one, view)),
                html.Td(position_text(one.lat_deg, one.lon_deg)),
            ]
        )
        for one in trip.most
    ]
    if not rows:
        return panel(
            "Greatest values",
            html.P("No speed, true wind, heel or pressure is recorded.", className="notice"),
        )
    blown = any(one.name.startswith(("gust", "wind")) for one in trip.most)
    heads = ("", "Most", "When", "Where")
    return panel(
        "Greatest values",
        wide_table(heads, rows, ("Most",)),
        html.P("Gust: mean of 3 s; wind: mean of 10 min (WMO-No. 8).", className="small") if blown else None,
        wide=True,
    )


def _points(trip: Trip, dress: Dress) -> html.Section:
    assert trip.whole is not None
    title, hours = "Hours by point of sail", hours_text(trip)
    told = [html.P(f"Hours: {hours}.")] if hours else []
    if sum(one.port_h + one.starboard_h for one in trip.points) < LEAST_H:
        why = (
            "She sailed for less than three minutes with a true wind known."
            if trip.points
            else "No true wind, so the points of sail are not known."
        )
        return panel(title, *told, html.P(why, className="notice"), wide=True)
    counted = (
        "Hours at rest do not count; those under engine do, as no engine speed (RPM) is recorded."
        if trip.whole.under_engine_h is None
        else "Hours at rest or under engine do not count."
    )
    return panel(
        title,
        *told,
        html.Div(graph("trip-points", hours_by_point(trip.points, dress)), className="chart"),
        html.P(
            "By true wind angle, limits common practice: "
            + ", ".join(f"{one.name} {one.from_deg:.0f}–{one.to_deg:.0f}°" for one in trip.points)
            + f". {counted}",
            className="small",
        ),
        wide=True,
    )


def _lacking(trip: Trip) -> str:
    return f"Not told: {'; '.join(trip.lacking)}. " if trip.lacking else ""


def _value(one: Most, dress: Dress) -> str:
    shown = dress.units.of(one.unit)
    gap = "" if shown.symbol.startswith("°") else " "
    return f"{one.value * shown.factor:.1f}{gap}{shown.symbol}"


def _time(one: Most, view: View) -> str:
    scene = view.opened.scene
    return time_text(one.at.timestamp() * 1000, float(scene.time_ms[0]), scene.dated, view.dress.clock)
