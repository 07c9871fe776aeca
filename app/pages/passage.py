"""The page of one passage: header, track and strips linked by time, and what the log says of itself."""

from collections.abc import Mapping
from pathlib import PurePath
from typing import Any

from dash import ClientsideFunction, Dash, Input, Output, Patch, State, dcc, html
from dash.exceptions import PreventUpdate

from analysis.channels import CHANNELS
from analysis.passage import Passage
from app.figures.coastline import Ring
from app.figures.palette import THEMES
from app.figures.scene import Scene
from app.figures.strips import MARGIN_PX, ROWS, Figure, Placed, placed_rows, strips_figure
from app.figures.track import Box, choice_text, graticule, track_figure

from .missing import missing_texts, no_time_text, no_track_text
from .panels import account_panel, log_panel, sources_panel
from .wording import NOTHING, clock_text, count_text, duration_text, value_text

CAUTION = "Not for navigation. Keep a lookout; verify at sea in safe water."
FIRST_CHOICE = "sog_kn"


def layout(
    passage: Passage, summary: Mapping[str, Any], scene: Scene, coast: list[Ring], theme: str
) -> html.Div:
    """Lay the page out in a theme, figures drawn; what the passage has not is left out and said."""
    present = scene.channels
    timed = len(scene.time_ms) > 0
    parts = (
        [
            html.Main(
                [_track_column(passage, scene, coast, theme), _strips_column(scene, theme)], className="desk"
            )
        ]
        if timed
        else [html.Main(html.P(no_time_text(), className="notice", id="no-time"), className="desk bare")]
    )
    missing = missing_texts(passage, present) if timed else []
    return html.Div(
        [
            _header(passage, summary, scene, theme),
            *parts,
            html.Footer(
                [log_panel(passage, missing), account_panel(passage.counts), sources_panel(passage.sources)],
                className="panels",
            ),
            dcc.Store(id="span"),
        ],
        className="page",
    )


def register(app: Dash, scene: Scene, coast: list[Ring]) -> None:
    """Wire the page: theme, span, colour of the track, and the figures that follow from them."""
    app.clientside_callback(
        ClientsideFunction("passage", "dress"), Output("theme", "className"), Input("theme", "value")
    )
    if placed_rows(scene):
        _register_strips(app, scene)
    if scene.plane is not None:
        _register_track(app, scene, coast)


def _register_strips(app: Dash, scene: Scene) -> None:
    def draw_strips(theme: str, span: list[float] | None) -> tuple[Figure, str]:
        return _strips(scene, theme, span)

    app.clientside_callback(
        ClientsideFunction("passage", "span"),
        Output("span", "data"),
        Input("strips", "relayoutData"),
        Input("whole", "n_clicks"),
        State("span", "data"),
        prevent_initial_call=True,
    )
    app.callback(
        Output("strips", "figure"),
        Output("shown", "children"),
        Input("theme", "value"),
        Input("span", "data"),
        prevent_initial_call=True,
    )(draw_strips)


def _strips(scene: Scene, theme: str, span: list[float] | None) -> tuple[Figure, str]:
    figure = strips_figure(scene, THEMES[theme], (span[0], span[1]) if span else None)
    meta = figure["layout"]["meta"]
    kept = "" if meta["shown"] == meta["total"] else "; the extremes are kept"
    return figure, f"{count_text(meta['shown'])} of {count_text(meta['total'])} values shown{kept}"


def _register_track(app: Dash, scene: Scene, coast: list[Ring]) -> None:
    plane = scene.plane
    assert plane is not None

    def draw_track(
        theme: str, channel: str | None, span: list[float] | None, moved: dict[str, Any] | None
    ) -> tuple[Figure, str]:
        figure, shown = _track(scene, coast, theme, channel, span)
        if view := _view(moved):
            for axis, ticks in graticule(plane, view).items():
                figure["layout"][axis] |= ticks
        return figure, shown

    def redraw_graticule(moved: dict[str, Any] | None) -> Patch:
        view = _view(moved)
        if view is None:
            raise PreventUpdate
        patch = Patch()
        for axis, ticks in graticule(plane, view).items():
            for key, value in ticks.items():
                patch["layout"][axis][key] = value
        return patch

    app.callback(
        Output("track", "figure"),
        Output("track-shown", "children"),
        Input("theme", "value"),
        Input("channel", "value"),
        Input("span", "data"),
        State("track", "relayoutData"),
        prevent_initial_call=True,
    )(draw_track)
    app.callback(
        Output("track", "figure", allow_duplicate=True),
        Input("track", "relayoutData"),
        prevent_initial_call=True,
    )(redraw_graticule)


def _track(
    scene: Scene, coast: list[Ring], theme: str, channel: str | None, span: list[float] | None
) -> tuple[Figure, str]:
    chosen = channel if channel in scene.channels else None
    figure = track_figure(scene, coast, THEMES[theme], chosen, (span[0], span[1]) if span else None)
    meta = figure["layout"]["meta"]
    source = "; coast: Natural Earth 1:10m, coarse" if coast else ""
    return figure, f"{count_text(meta['shown'])} of {count_text(meta['total'])} positions shown{source}"


def _view(moved: dict[str, Any] | None) -> Box | None:
    keys = ("xaxis.range[0]", "yaxis.range[0]", "xaxis.range[1]", "yaxis.range[1]")
    if not moved or not all(key in moved for key in keys):
        return None
    west, south, east, north = (float(moved[key]) for key in keys)
    return west, south, east, north


def _header(passage: Passage, summary: Mapping[str, Any], scene: Scene, theme: str) -> html.Header:
    names = [PurePath(file).name for file in passage.files]
    name = names[0] if names else "Passage"
    more = f" and {len(names) - 1} more" if len(names) > 1 else ""
    if len(scene.time_ms):
        start, end = float(scene.time_ms[0]), float(scene.time_ms[-1])
        times = [
            ("Start", f"{clock_text(start)} UTC"),
            ("End", f"{clock_text(end)} UTC"),
            ("Duration", duration_text((end - start) / 1000)),
        ]
    else:
        times = [("Start", "no time in this log"), ("End", NOTHING), ("Duration", NOTHING)]
    distance = summary.get("distance_over_ground_nm")
    top = summary.get("max_sog_kn")
    facts = [
        *times,
        ("Distance over ground", NOTHING if distance is None else f"{distance:.1f} nm"),
        ("Fastest over ground", NOTHING if top is None else value_text("sog_kn", top)),
    ]
    return html.Header(
        [
            html.Div(
                [html.Span("sternlog", className="mark"), html.H1([name, more], id="passage-name")],
                className="name",
            ),
            html.Dl([html.Div([html.Dt(term), html.Dd(text)]) for term, text in facts], className="facts"),
            html.Div(
                dcc.RadioItems(
                    id="theme",
                    options=[{"label": choice.label, "value": key} for key, choice in THEMES.items()],
                    value=theme,
                    inline=True,
                ),
                className="themes",
                role="group",
                **{"aria-label": "Light"},
            ),
            html.P(CAUTION, className="caution", id="caution"),
        ]
    )


def _track_column(passage: Passage, scene: Scene, coast: list[Ring], theme: str) -> html.Section:
    if scene.plane is None:
        notice = html.P(no_track_text(passage, scene.channels), className="notice", id="no-track")
        return html.Section([html.H2("Track"), notice, _cursor_panel(scene)], className="column track-column")
    choices = [
        {"label": choice_text(CHANNELS[name]), "value": name}
        for name in scene.channels
        if CHANNELS[name].kind != "position"
    ]
    names = [choice["value"] for choice in choices]
    first = FIRST_CHOICE if FIRST_CHOICE in names else next(iter(names), None)
    figure, shown = _track(scene, coast, theme, first, None)
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
                    _graph(
                        "track",
                        figure,
                        {"displayModeBar": True, "modeBarButtons": [_TRACK_BUTTONS], "scrollZoom": True},
                    ),
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


_TRACK_BUTTONS = ["zoomIn2d", "zoomOut2d", "resetScale2d"]


_READ_FIRST = [
    "heel_deg",
    "leeway_deg",
    "vmg_kn",
    "twa_water_deg",
    "depth_m",
    "air_pressure_hpa",
    "water_temp_c",
    "rudder_deg",
    "variation_deg",
]


def _cursor_panel(scene: Scene) -> html.Div:
    """Show the moment under the cursor: time, place, and the channels that have no strip of their own."""
    drawn = {trace.channel for row in ROWS for trace in row.traces}
    others = [name for name in scene.channels if name not in drawn and CHANNELS[name].kind != "position"]
    others.sort(key=lambda name: _READ_FIRST.index(name) if name in _READ_FIRST else len(_READ_FIRST))
    cells = [
        html.Div([html.Dt(CHANNELS[name].label), html.Dd(NOTHING, **{"data-channel": name})])
        for name in others
    ]
    place = [
        html.Div([html.Dt("Position"), html.Dd(NOTHING, **{"data-channel": "position"})], className="wide")
    ]
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
            html.Dl([*(place if scene.plane is not None else []), *cells]),
        ],
        className="moment",
        tabIndex=0,
    )


def _strips_column(scene: Scene, theme: str) -> html.Section:
    rows = placed_rows(scene)
    if not rows:
        return html.Section(
            [
                html.H2("Strips"),
                html.P(
                    "No strips: the log has no speed, heading or wind to draw. "
                    "What is missing, and why, is said below.",
                    className="notice",
                    id="no-strips",
                ),
            ],
            className="column strips-column",
        )
    figure, shown = _strips(scene, theme, None)
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
                    _graph("strips", figure, {"displayModeBar": False, "doubleClick": "reset"}),
                    html.Div(
                        [_row_readings(place) for place in rows],
                        className="readings",
                        style={
                            "top": MARGIN_PX["t"],
                            "bottom": MARGIN_PX["b"],
                            "width": MARGIN_PX["r"] - 12,
                        },
                    ),
                    html.Div(html.Span(id="cursor-time"), id="cursor", hidden=True),
                ],
                className="strips-paper",
                id="strips-paper",
                tabIndex=0,
                style={"minHeight": f"{round(weight * 36 + 60)}px"},
                **{"aria-label": "Strips over time. Left and right arrow move the cursor."},
            ),
            html.P(shown, id="shown", className="small"),
        ],
        className="column strips-column",
    )


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


def _graph(name: str, figure: Figure, config: dict[str, Any]) -> dcc.Graph:
    """Make a graph, the only way one comes onto a page: nothing in it can send anything anywhere."""
    return dcc.Graph(
        id=name,
        figure=figure,
        responsive=True,
        config={
            "showSendToCloud": False,
            "plotlyServerURL": "",
            "displaylogo": False,
            "showTips": False,
            **config,
        },
        className="graph",
    )
