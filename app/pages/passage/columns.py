"""The two columns of the page: the track with the moment at the cursor, and the strips."""

from collections.abc import Sequence
from typing import Any

import numpy as np
from dash import dcc, html

from analysis.channels import CHANNELS
from app.dress import Dress
from app.figures.coastline import Ring
from app.figures.paper import Figure
from app.figures.rows import Placed, placed_rows, rows_of
from app.figures.scene import Scene
from app.figures.strips import MARGIN_PX, margin_right_px, strips_figure
from app.figures.track import choice_text, track_figure
from app.pages.graph import graph
from app.pages.plain import plain
from app.pages.wording import NOTHING, count_text, duration_text
from app.view import View

from .missing import no_track_text, not_drawn_text
from .triangle import TRIANGLE_CHANNELS, triangle_panel
from .wishes import scene_of_view, wishes

FIRST_CHOICE = "sog_kn"
_TRACK_BUTTONS = ["zoomIn2d", "zoomOut2d", "resetScale2d"]
_READ_FIRST = [
    "heel_deg",
    "vmg_kn",
    "depth_m",
    "twa_water_deg",
    "air_pressure_hpa",
    "water_temp_c",
    "rudder_deg",
]
LAYERS = {
    "wind": "wind",
    "current": "current",
    "extremes": "extremes",
    "manoeuvre": "manoeuvres",
    "leg": "legs",
    "finding": "findings",
    "mark": "marks",
}
HIDDEN_AT_FIRST = ("leg",)


def drawn_strips(
    scene: Scene, dress: Dress, span: list[float] | None, chosen: Sequence[str] = ()
) -> tuple[Figure, str]:
    """Draw the chosen strips over a span and say how much of it they show."""
    figure = strips_figure(scene, dress, (span[0], span[1]) if span else None, chosen)
    meta = figure["layout"]["meta"]
    kept = "" if meta["shown"] == meta["total"] else "; the extremes are kept"
    mean = f"; bold: means over {duration_text(meta['mean'])}" if meta["mean"] else ""
    band = "; bands and ±: 95 %" if meta["banded"] else ""
    return (
        figure,
        f"{count_text(meta['shown'])} of {count_text(meta['total'])} values shown{kept}{mean}{band}",
    )


def drawn_track(scene: Scene, coast: list[Ring], dress: Dress, channel: str | None) -> tuple[Figure, str]:
    """Draw the track in a channel's colours and say how much of it is shown."""
    figure = track_figure(scene, coast, dress, channel if channel in scene.channels else None)
    meta = figure["layout"]["meta"]
    source = "; coast: Natural Earth 1:10m, coarse" if coast else ""
    return figure, f"{count_text(meta['shown'])} of {count_text(meta['total'])} positions shown{source}"


def first_channel(scene: Scene) -> str | None:
    """Choose what colours the track at first."""
    names = [name for name in scene.channels if CHANNELS[name].kind != "position"]
    return FIRST_CHOICE if FIRST_CHOICE in names else next(iter(names), None)


def cursor_channels(scene: Scene) -> list[str]:
    """Name the channels that have neither a strip nor a side of the triangle."""
    drawn = {trace.column for place in placed_rows(scene, wishes().strips) for trace in place.traces}
    others = [
        name
        for name in scene.channels
        if name not in drawn | TRIANGLE_CHANNELS and CHANNELS[name].kind != "position"
    ]
    return sorted(
        others, key=lambda name: _READ_FIRST.index(name) if name in _READ_FIRST else len(_READ_FIRST)
    )


def reading_cells(channels: list[str]) -> list[html.Div]:
    """Make a labelled cell for each channel, filled from the moment at the cursor."""
    return [
        html.Div([html.Dt(CHANNELS[name].label), html.Dd(NOTHING, **{"data-channel": name})])
        for name in channels
    ]


def track_column(view: View) -> html.Section:
    """Show the track, or why there is none, and the moment at the cursor."""
    opened, scene = view.opened, scene_of_view(view)
    if scene.plane is None:
        notice = html.P(
            no_track_text(opened.review.passage, scene.channels), className="notice", id="no-track"
        )
        return html.Section(
            [html.H2("Track"), notice, *triangle_panel(scene)], className="column track-column"
        )
    first = first_channel(scene)
    choices = [
        html.Option(
            choice_text(CHANNELS[name], view.dress.units),
            value=name,
            **({"selected": "selected"} if name == first else {}),
        )
        for name in scene.channels
        if CHANNELS[name].kind != "position"
    ]
    figure, shown = drawn_track(scene, opened.coast, view.dress, first)
    return html.Section(
        [
            html.Div(
                [
                    html.H2("Track"),
                    html.Label("coloured by", htmlFor="channel"),
                    html.Select(id="channel", **{"data-store": "channel-chosen"}, **plain(choices)),
                    dcc.Store(id="channel-chosen", data=first),
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
                    html.Div(id="overlay", className="overlay"),
                    html.Div(id="boat", hidden=True),
                    html.Div(className="north", title="North is up"),
                    html.Div(html.Span(id="scale-text"), id="scale"),
                ],
                className="track-paper",
                id="track-paper",
            ),
            html.Div(_layers(), className="layers", role="group", **{"aria-label": "Drawn on the track"}),
            html.Div(
                [
                    html.P(shown, id="track-shown", className="small"),
                    html.Span(id="place-hint", className="small", role="status"),
                    html.Span(id="own-marks"),
                    html.Button(
                        "Place a mark",
                        id="place-mark",
                        title="Place a mark of your own on the chart; P places one at the boat",
                        **{"aria-pressed": "false"},
                    ),
                ],
                className="own-marks",
            ),
            *triangle_panel(scene),
        ],
        className="column track-column",
    )


def _layers() -> list[html.Button]:
    return [
        toggle(
            [html.Span(className=f"glyph {name}"), label], name not in HIDDEN_AT_FIRST, **{"data-layer": name}
        )
        for name, label in LAYERS.items()
    ]


def toggle(children: Any, pressed: bool, **data: str) -> html.Button:
    """Make a button that stays down; a script presses and releases it."""
    return html.Button(children, className="toggle", **{"aria-pressed": str(pressed).lower()}, **data)


def strips_column(view: View) -> html.Section:
    """Show the strips, or that there is nothing to draw in one, and name those that are left out."""
    scene, chosen = scene_of_view(view), wishes().strips
    rows = placed_rows(scene, chosen)
    if not rows:
        return html.Section(
            [
                html.H2("Strips"),
                html.P(
                    [
                        "No strips: the recording has no speed, heading, wind, depth, heel, pressure or water "
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
    figure, shown = drawn_strips(scene, view.dress, None, chosen)
    left_out = "" if chosen else not_drawn_text(rows)
    weight = sum(place.height for place in rows)
    return html.Section(
        [
            html.Div(
                [
                    html.H2("Strips"),
                    _chooser(scene, {place.row.key for place in rows}),
                    html.P("Drag to zoom. Click to hold.", id="said", className="small hint", role="status"),
                    html.Button("Only this stretch", id="only", disabled=True),
                    html.Button("Whole passage", id="whole", disabled=True),
                ],
                className="bar",
            ),
            html.Div(
                [
                    graph("strips", figure, {"staticPlot": True}),
                    html.Div(
                        className="readings",
                        style={
                            "top": MARGIN_PX["t"],
                            "bottom": MARGIN_PX["b"],
                            "width": margin_right_px(view.dress) - 12,
                        },
                        **plain([_row_readings(place, view.dress) for place in rows]),
                    ),
                    html.Div(id="happened"),
                    html.Div(id="brush", hidden=True),
                    html.Div(html.Span(id="cursor-time"), id="cursor", hidden=True),
                ],
                className="strips-paper",
                id="strips-paper",
                tabIndex=0,
                style={"minHeight": f"{round(weight * 1.8 + 4)}rem"},
                role="group",
                **{"aria-label": "Strips over time. Left and right arrow move the cursor, ? lists all keys."},
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


def first_ms(scene: Scene) -> float:
    """Where the cursor stands at first: in the middle of what the first line shows."""
    rows = placed_rows(scene)
    name = rows[0].traces[0].column if rows else "lat_deg" if scene.plane is not None else ""
    filled = np.flatnonzero(np.isfinite(scene.columns[name])) if name else np.arange(len(scene.time_ms))
    return float(scene.time_ms[filled[len(filled) // 2]])


def _chooser(scene: Scene, drawn: set[str]) -> html.Details:
    rows = rows_of(scene)
    choices = [toggle(row.title, row.key in drawn, **{"data-strip": row.key}) for row in rows]
    return html.Details(
        [
            html.Summary("Choose strips"),
            html.Div(
                [
                    html.Div(choices, className="choices", role="group", **{"aria-label": "Strips to draw"}),
                    html.Div(
                        [
                            html.Button("Draw these", id="draw-strips"),
                            html.Button("The usual ones", id="usual-strips"),
                        ],
                        className="bar",
                    ),
                ],
                className="chooser",
            ),
        ],
        id="chooser",
    )


def _row_readings(place: Placed, dress: Dress) -> html.Div:
    lines = [
        html.Div(
            [
                html.Span(className=f"swatch {trace.part}"),
                html.Span(trace.name, className="who"),
                html.Span(NOTHING, className="value", **{"data-channel": trace.column}),
            ],
            className="reading",
        )
        for trace in place.traces
    ]
    symbol = dress.units.of_channel(place.row.traces[0].channel.name).symbol
    title = f"{place.row.title} [{symbol}]" if symbol and symbol != "°" else place.row.title
    return html.Div(
        [html.Div(title, className="row-title"), *lines],
        className="row-readings",
        style={"top": f"{(1 - place.top) * 100:.3f}%", "height": f"{(place.top - place.bottom) * 100:.3f}%"},
    )
