"""The two columns of the page: the track with the moment at the cursor, and the strips."""

import numpy as np
from dash import dcc, html

from analysis.channels import CHANNELS
from app.dress import Dress
from app.figures.coastline import Ring
from app.figures.scene import Scene
from app.figures.strips import MARGIN_PX, Figure, Placed, placed_rows, strips_figure
from app.figures.track import choice_text, track_figure
from app.pages.graph import graph
from app.pages.wording import NOTHING, count_text, duration_text
from app.view import View

from .missing import no_track_text, not_drawn_text

FIRST_CHOICE = "sog_kn"
CELLS = 9
"""How many readings the panel at the cursor holds; the others stand below."""
_TRACK_BUTTONS = ["zoomIn2d", "zoomOut2d", "resetScale2d"]
_READ_FIRST = [
    "heel_deg",
    "leeway_deg",
    "vmg_kn",
    "twa_water_deg",
    "twa_ground_deg",
    "logged_twa_deg",
    "depth_m",
    "air_pressure_hpa",
    "water_temp_c",
    "rudder_deg",
    "variation_deg",
    "heading_mag_deg",
]


def drawn_strips(scene: Scene, dress: Dress, span: list[float] | None) -> tuple[Figure, str]:
    """Draw the strips over a span and say how much of it they show."""
    figure = strips_figure(scene, dress.theme, (span[0], span[1]) if span else None)
    meta = figure["layout"]["meta"]
    kept = "" if meta["shown"] == meta["total"] else "; the extremes are kept"
    mean = f"; bold lines are means over {duration_text(meta['mean'])}" if meta["mean"] else ""
    return figure, f"{count_text(meta['shown'])} of {count_text(meta['total'])} values shown{kept}{mean}"


def drawn_track(scene: Scene, coast: list[Ring], dress: Dress, channel: str | None) -> tuple[Figure, str]:
    """Draw the track in a channel's colours and say how much of it is shown."""
    figure = track_figure(scene, coast, dress.theme, channel if channel in scene.channels else None)
    meta = figure["layout"]["meta"]
    source = "; coast: Natural Earth 1:10m, coarse" if coast else ""
    return figure, f"{count_text(meta['shown'])} of {count_text(meta['total'])} positions shown{source}"


def cursor_channels(scene: Scene) -> tuple[list[str], list[str]]:
    """Name the channels without a strip: those read at the cursor, and those that stand below."""
    drawn = {trace.channel for place in placed_rows(scene) for trace in place.traces}
    others = [name for name in scene.channels if name not in drawn and CHANNELS[name].kind != "position"]
    others.sort(key=lambda name: _READ_FIRST.index(name) if name in _READ_FIRST else len(_READ_FIRST))
    return others[:CELLS], others[CELLS:]


def reading_cells(channels: list[str]) -> list[html.Div]:
    """Make a labelled cell for each channel, filled from the moment at the cursor."""
    return [
        html.Div([html.Dt(CHANNELS[name].label), html.Dd(NOTHING, **{"data-channel": name})])
        for name in channels
    ]


def track_column(view: View) -> html.Section:
    """Show the track, or why there is none, and the moment at the cursor."""
    opened = view.opened
    scene, coast = opened.scene, opened.coast
    if scene.plane is None:
        notice = html.P(
            no_track_text(opened.review.passage, scene.channels), className="notice", id="no-track"
        )
        return html.Section([html.H2("Track"), notice, _cursor_panel(scene)], className="column track-column")
    choices = [
        {"label": choice_text(CHANNELS[name]), "value": name}
        for name in scene.channels
        if CHANNELS[name].kind != "position"
    ]
    names = [choice["value"] for choice in choices]
    first = FIRST_CHOICE if FIRST_CHOICE in names else next(iter(names), None)
    figure, shown = drawn_track(scene, coast, view.dress, first)
    return html.Section(
        [
            html.Div(
                [
                    html.H2("Track"),
                    html.Label("coloured by", htmlFor="channel"),
                    dcc.Dropdown(
                        id="channel", options=choices, value=first, clearable=False, persistence=False
                    ),
                ],
                className="bar",
            ),
            html.Div(
                [
                    graph(
                        "track",
                        figure,
                        {"displayModeBar": True, "modeBarButtons": [_TRACK_BUTTONS], "scrollZoom": True},
                    ),
                    html.Div(id="outline"),
                    html.Div(id="boat", hidden=True),
                    html.Div(className="north", title="North is up"),
                    html.Div(html.Span(id="scale-text"), id="scale"),
                ],
                className="track-paper",
            ),
            html.P(shown, id="track-shown", className="small"),
            _cursor_panel(scene),
        ],
        className="column track-column",
    )


def _cursor_panel(scene: Scene) -> html.Div:
    place = html.Div(
        [html.Dt("Position"), html.Dd(NOTHING, **{"data-channel": "position"})], className="wide"
    )
    return html.Div(
        [
            html.Div(
                [
                    html.Span("At the cursor", className="label"),
                    html.Span(NOTHING, id="clock"),
                    html.Span(id="held"),
                ],
                className="clock",
            ),
            html.Dl(
                [*([place] if scene.plane is not None else []), *reading_cells(cursor_channels(scene)[0])],
                className="cells",
            ),
        ],
        className="moment",
    )


def strips_column(view: View) -> html.Section:
    """Show the strips, or that there is nothing to draw in one, and name those that are left out."""
    scene = view.opened.scene
    rows = placed_rows(scene)
    if not rows:
        return html.Section(
            [
                html.H2("Strips"),
                html.P(
                    [
                        "No strips: the log has no speed, heading, wind, depth, heel, pressure or water "
                        "temperature to draw. ",
                        html.A("What is missing, and why", href="#not-in-log"),
                        ".",
                    ],
                    className="notice",
                    id="no-strips",
                ),
            ],
            className="column strips-column",
        )
    figure, shown = drawn_strips(scene, view.dress, None)
    left_out = not_drawn_text(rows)
    weight = sum(place.row.height for place in rows)
    return html.Section(
        [
            html.Div(
                [
                    html.H2("Strips"),
                    html.Span("Drag to zoom. Click to hold the cursor. ← → step it.", className="small hint"),
                    html.Button("Whole passage", id="whole"),
                ],
                className="bar",
            ),
            html.Div(
                [
                    graph("strips", figure, {"staticPlot": True}),
                    html.Div(
                        [_row_readings(place) for place in rows],
                        className="readings",
                        style={
                            "top": MARGIN_PX["t"],
                            "bottom": MARGIN_PX["b"],
                            "width": MARGIN_PX["r"] - 12,
                        },
                    ),
                    html.Div(id="brush", hidden=True),
                    html.Div(html.Span(id="cursor-time"), id="cursor", hidden=True),
                ],
                className="strips-paper",
                id="strips-paper",
                tabIndex=0,
                style={"minHeight": f"{round(weight * 36 + 60)}px"},
                **{
                    "aria-label": "Strips over time. Left and right arrow move the cursor.",
                    "data-first": _first_ms(scene, rows),
                },
            ),
            html.P(shown, id="shown", className="small"),
            *(
                [html.P([left_out, html.A("Why", href="#not-in-log")], id="not-drawn", className="small")]
                if left_out
                else []
            ),
        ],
        className="column strips-column",
    )


def _first_ms(scene: Scene, rows: list[Placed]) -> float:
    """Where the cursor stands at first: in the middle of what the first line shows."""
    filled = np.flatnonzero(np.isfinite(scene.columns[rows[0].traces[-1].channel]))
    return float(scene.time_ms[filled[len(filled) // 2]])


def _row_readings(place: Placed) -> html.Div:
    lines = [
        html.Div(
            [
                html.Span(className=f"swatch {trace.part}"),
                html.Span(trace.name, className="who"),
                html.Span(NOTHING, className="value", **{"data-channel": trace.channel}),
            ],
            className="reading",
        )
        for trace in place.traces
    ]
    return html.Div(
        [html.Div(place.row.title, className="row-title"), *lines],
        className="row-readings",
        style={"top": f"{(1 - place.top) * 100:.3f}%", "height": f"{(place.top - place.bottom) * 100:.3f}%"},
    )
