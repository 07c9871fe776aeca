"""The Emergencies page: marks, beacons and calls, what drifted from them, and how the boat went back."""

from typing import Any

import numpy as np
from dash import ALL, Dash, Input, Output, callback_context, dcc, html
from dash.exceptions import PreventUpdate

from analysis.emergencies import Datum, Emergency, picture_of, told_rows
from analysis.positions import position_text
from app import cautions
from app.desk import Desk
from app.dress import Dress
from app.figures.emergencies import drift_chart
from app.sections.emergencies import drill_text, none_text
from app.view import View, Views

from .graph import graph
from .overboard import overboard_panel, register_overboard
from .parts import conclusion, panel, wide_table
from .wording import NOTHING, count_text, duration_text, time_text

TITLE = "Emergencies"
LISTED, ON_PAPER = 60, 3
HOW = (
    "A mark is found where the recording has MOB sentences, an AIS beacon of an identity that begins with 970, 972 "
    "or 974, or DSC and DSE calls of a radio. One can be set by hand below, or at the start with --overboard "
    "12:00:30 (UTC)."
)


def layout(view: View) -> list[Any]:
    """Lay the page out: the sentence, the caution, the list, one emergency in full, and marks set by hand."""
    found = view.opened.review.case.emergencies.all
    if not found:
        return [
            conclusion(none_text(view.opened.review)),
            html.P(cautions.EMERGENCIES, className="caution"),
            html.P(HOW, className="notice"),
            html.Div(overboard_panel(view), className="panels"),
        ]
    first = _first(found)
    return [
        conclusion(conclusion_text(found, view)),
        html.P(cautions.EMERGENCIES, className="caution"),
        html.Div(
            [
                _list(found, view, True),
                *([] if first is None else _in_full(first, found[first], view)),
                overboard_panel(view),
            ],
            className="panels",
        ),
    ]


def on_paper(view: View) -> list[Any]:
    """Say the same on paper: the list, and the first alerts with their drift."""
    found = view.opened.review.case.emergencies.all
    if not found:
        return [html.P(none_text(view.opened.review))]
    shown = [one for one in found if one.mark.alert][:ON_PAPER]
    return [
        conclusion(conclusion_text(found, view)),
        html.P(cautions.EMERGENCIES, className="caution"),
        html.Div(
            [
                _list(found, view, False),
                *(panel(_head(one, view), *_drifted(one, view), wide=True) for one in shown),
            ],
            className="panels",
        ),
    ]


def register(app: Dash, views: Views, desk: Desk) -> None:
    """Wire the choice of an emergency and of a moment of its drift."""

    def choose(clicks: list[int | None]) -> tuple[int, float]:
        view = views()
        found = () if view is None else view.opened.review.case.emergencies.all
        chosen = callback_context.triggered_id
        if not any(clicks) or chosen is None or not 0 <= chosen["index"] < len(found):
            raise PreventUpdate
        return chosen["index"], _share(found[chosen["index"]])

    app.callback(
        Output("emergency", "data"),
        Output("emergency-moment", "value"),
        Input({"type": "show-emergency", "index": ALL}, "n_clicks"),
        prevent_initial_call=True,
    )(choose)

    def show(number: int, share: float | str | None) -> tuple[Any, ...]:
        view = views()
        found = () if view is None else view.opened.review.case.emergencies.all
        if view is None or not 0 <= number < len(found):
            raise PreventUpdate
        one = found[number]
        at = _row(one.datum, float(share or 0))
        chart = _chart(one, at, view)
        return (
            _head(one, view),
            chart,
            not chart["data"],
            one.datum is None,
            moment_text(one.datum, at, view.dress),
            _drifted(one, view),
        )

    app.callback(
        Output("emergency-head", "children"),
        Output("emergency-chart", "figure"),
        Output("emergency-drawn", "hidden"),
        Output("emergency-slide", "hidden"),
        Output("emergency-words", "children"),
        Output("emergency-drift", "children"),
        Input("emergency", "data"),
        Input("emergency-moment", "value"),
        prevent_initial_call=True,
    )(show)
    register_overboard(app, views, desk)


def conclusion_text(found: tuple[Emergency, ...], view: View) -> str:
    """Say how many alerts there are, and what became of the first that drifted."""
    alerts = [one for one in found if one.mark.alert]
    tests = sum(one.mark.test for one in found)
    if not alerts:
        tail = "one of them a test" if tests == 1 else f"{tests} of them tests"
        only = "a test" if tests == len(found) else tail
        calls = "One call was" if len(found) == 1 else f"{len(found)} calls were"
        return (
            f"{calls} heard, {only if tests else 'none of them distress'}; nobody is told to be in distress."
        )
    text = "" if len(alerts) == 1 else f"{len(alerts)} alerts. "
    one = next((one for one in alerts if one.datum is not None), alerts[0])
    text += f"{_head(one, view)}: "
    nm = view.dress.units.of("nm")
    if one.drill is not None and one.drill.back_s is not None:
        closest = one.drill.datum or one.drill.mark
        assert closest is not None
        what = "the mark" if one.drill.datum is None else "the drifted place"
        distance = f"{closest.distance_nm * nm.factor:.2f} {nm.symbol}"
        return f"{text}the boat was back within {distance} of {what} after {duration_text(closest.after_s)}."
    if one.datum is None:
        return f"{text}its drift is not known, as {one.why}."
    after = duration_text(one.datum.time_s[-1] - one.datum.time_s[0])
    within = f"{one.datum.radius_nm[-1] * nm.factor:.2f} {nm.symbol}"
    return f"{text}{after} later the drifted place is known within {within}."


def moment_text(datum: Datum | None, at: int, dress: Dress) -> str:
    """Say where the drifted place lay from the boat at the moment shown."""
    if datum is None:
        return NOTHING
    nm = dress.units.of("nm")
    after = duration_text(datum.time_s[at] - datum.time_s[0])
    head = f"{after} after ({dress.clock.at(1000 * datum.time_s[at]):%H:%M:%S} {dress.clock.name})"
    if not np.isfinite(datum.range_nm[at]):
        return f"{head}: the boat's position is missing"
    bearing = f" on {round(datum.bearing_deg[at]) % 360:03d}°" if np.isfinite(datum.bearing_deg[at]) else ""
    return f"{head}: {datum.range_nm[at] * nm.factor:.2f} {nm.symbol}{bearing} from the boat"


def _first(found: tuple[Emergency, ...]) -> int | None:
    """The emergency to show at first: one that drifted, else one with a place."""
    drifted = [number for number, one in enumerate(found) if one.datum is not None]
    placed = [number for number, one in enumerate(found) if one.mark.fixes]
    return next(iter([*drifted, *placed]), None)


def _head(one: Emergency, view: View) -> str:
    mark = one.mark
    who = f" {mark.who}" if mark.who else ""
    return f"{mark.kind[0].upper()}{mark.kind[1:]}{who}, {mark.what}, {_time(mark.start_s, view)}"


def _time(time_s: float, view: View) -> str:
    scene = view.opened.scene
    start = float(scene.time_ms[0]) if len(scene.time_ms) else 1000 * time_s
    return time_text(1000 * time_s, start, scene.dated, view.dress.clock)


def _short_time(time_s: float, view: View) -> str:
    return f"{view.dress.clock.at(1000 * time_s):{'%d %b ' if view.opened.scene.dated else ''}%H:%M:%S}"


def _list(found: tuple[Emergency, ...], view: View, choice: bool) -> html.Section:
    rows = []
    for number, one in enumerate(found[:LISTED]):
        mark = one.mark
        place = position_text(mark.fixes[0].lat_deg, mark.fixes[0].lon_deg) if mark.fixes else NOTHING
        said = f" (position of {mark.position_utc} UTC)" if mark.position_utc else ""
        button = html.Button(
            "Show",
            id={"type": "show-emergency", "index": number},
            type="button",
            **{"aria-label": f"Show row {number + 1}, {mark.kind}"},
        )
        cells = [
            html.Td(mark.kind, className="whole"),
            html.Td(mark.who or NOTHING, className="whole"),
            html.Td(mark.what),
            html.Td(f"{place}{said}", className="place"),
            html.Td(count_text(mark.count), className="number"),
            html.Td("test" if mark.test else "alert" if mark.alert else "call", className="whole"),
        ]
        shown = [html.Td(button if mark.fixes else "")] if choice else []
        rows.append(html.Tr([html.Th(_short_time(mark.start_s, view), scope="row"), *shown, *cells]))
    heads = [
        view.dress.clock.name,
        *([""] if choice else []),
        "Kind",
        "Identity",
        "What",
        "First position",
        "Heard",
        "Is",
    ]
    more = f"and {len(found) - LISTED} more" if len(found) > LISTED else ""
    return panel(
        "Marks and calls",
        wide_table(heads, rows, ("Heard",)),
        *([html.P(more, className="small")] if more else []),
        wide=True,
    )


def _in_full(number: int, one: Emergency, view: View) -> list[html.Section]:
    share = _share(one)
    at = _row(one.datum, share)
    chart = _chart(one, at, view)
    return [
        panel(
            "Drift and track",
            html.P(_head(one, view), id="emergency-head", className="head"),
            html.Div(
                graph("emergency-chart", chart),
                id="emergency-drawn",
                className="chart",
                hidden=not chart["data"],
            ),
            html.Label(
                [
                    html.Span("From the mark to the end"),
                    dcc.Input(id="emergency-moment", type="range", min=0, max=100, step=0.5, value=share),
                    html.Output(moment_text(one.datum, at, view.dress), id="emergency-words"),
                ],
                id="emergency-slide",
                className="moment screen-only",
                hidden=one.datum is None,
            ),
            dcc.Store(id="emergency", data=number),
        ),
        panel("What drifted, and the way back", html.Div(_drifted(one, view), id="emergency-drift")),
    ]


def _chart(one: Emergency, at: int, view: View) -> dict[str, Any]:
    """The chart, without anything to draw where neither a drift nor a track is known."""
    picture = picture_of(one, view.opened.review.frame)
    if picture is None or (one.datum is None and not len(picture.boat_s)):
        return {"data": [], "layout": {}}
    return drift_chart(one, picture, at, view.dress)


def _share(one: Emergency) -> float:
    """Where in the drift to begin [%]: when the boat was back, else at its end."""
    if one.datum is None or one.back_s is None:
        return 100.0
    whole_s = float(one.datum.time_s[-1] - one.datum.time_s[0])
    back_s = one.mark.start_s + one.back_s - float(one.datum.time_s[0])
    return float(np.clip(round(200 * back_s / whole_s) / 2, 0, 100))


def _row(datum: Datum | None, share: float) -> int:
    return 0 if datum is None else round(share / 100 * (len(datum.time_s) - 1))


def _drifted(one: Emergency, view: View) -> list[Any]:
    dress = view.dress
    drill = [html.P(_drill(one, dress), className="head")] if one.drill is not None else []
    if one.datum is None:
        return [*drill, html.P(f"The drift is not known: {one.why}.", className="notice")]
    datum, nm, kn = one.datum, dress.units.of("nm"), dress.units.of("kn")
    heads = ("After", "Place", f"Radius [{nm.symbol}]", f"Away [{nm.symbol}]", "On")
    rows = [
        html.Tr(
            [
                html.Th(duration_text(datum.time_s[row] - datum.time_s[0]), scope="row"),
                html.Td(position_text(datum.lat_deg[row], datum.lon_deg[row])),
                html.Td(f"{datum.radius_nm[row] * nm.factor:.2f}", className="number"),
                html.Td(_number(datum.range_nm[row] * nm.factor), className="number"),
                html.Td(
                    f"{round(datum.bearing_deg[row]) % 360:03d}°"
                    if np.isfinite(datum.bearing_deg[row])
                    else NOTHING,
                    className="number",
                ),
            ]
        )
        for row in told_rows(datum)
    ]
    flows = [
        f"{name} {round(toward) % 360:03d}° at {speed * kn.factor:.2f} {kn.symbol}"
        for name, toward, speed in (
            ("Current sets", datum.current_set_deg, datum.current_kn),
            ("leeway", datum.leeway_set_deg, datum.leeway_kn),
        )
        if speed > 0
    ]
    anew = " Each position given later begins it anew." if len(one.mark.fixes) > 1 else ""
    return [
        *drill,
        wide_table(heads, rows, heads[2:]),
        html.P(
            f"{'; '.join(flows)}, in the mean. It rests on {'; on '.join(datum.by)}.{anew}", className="small"
        ),
        html.P(
            "Away and on: from the boat. Leeway after IAMSAR's table, from memory. The radius holds at 95 % what the "
            "current may be off by and wander, the spread of leeway and the first position; it is not a search area.",
            className="small",
        ),
    ]


def _number(value: float) -> str:
    return f"{value:.2f}" if np.isfinite(value) else NOTHING


def _drill(one: Emergency, dress: Dress) -> str:
    if one.drill is None:
        return ""
    nm = dress.units.of("nm")
    text = drill_text(one.drill, nm.symbol, nm.factor)
    by = " (by course over the ground, as the heading is not known)" if one.drill.by_course else ""
    return f"{text[0].upper()}{text[1:]}{by}."
