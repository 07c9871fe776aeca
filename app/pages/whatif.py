"""What if: corrections tried by hand, and what true wind, current and findings would then be."""

import math
from collections.abc import Mapping, Sequence
from typing import Any

from dash import ALL, MATCH, ClientsideFunction, Dash, Input, Output, State, dcc, html, no_update
from dash.exceptions import PreventUpdate

from analysis.correction import leeway_of, neutral
from analysis.errors import SettingError
from analysis.findings import Finding, find
from analysis.review import Review
from analysis.trial import Outcome, outcome_of, tried
from app.desk import Desk, Opened
from app.dress import Dress
from app.figures.whatif import whatif_chart
from app.view import View, Views

from .corrections import WAYS, estimate_text
from .graph import graph
from .parts import term
from .severity import SEVERITY
from .wording import NOTHING

TRIED = (
    "log_factor",
    "compass_constant_deg",
    "vane_offset_deg",
    "wind_speed_factor",
    "upwash_deg",
    "leeway_coefficient",
    "barometer_offset_hpa",
)
ROWS = ("twd", "tws", "steady", "set", "drift", "along", "across", "pressure")


def whatif_panel(view: View) -> html.Section:
    """Offer a field for every correction the log has readings for, and what the passage comes to with them."""
    opened, dress = view.opened, view.dress
    names = _names(opened.review)
    if not names or not len(opened.scene.time_ms):
        text = "The recording has no speed, heading, wind or pressure whose correction could be tried."
        return html.Section(
            [html.H2("What if"), html.P(text, className="notice")], className="panel whatif screen-only"
        )
    review = opened.review
    now = outcome_texts(outcome_of(review.frame, review.case), dress)
    before = outcome_texts(outcome_of(review.frame_as_shown, review.case), dress)
    return html.Section(
        [
            html.H2("What if"),
            html.P(
                "Change a correction and see what true wind, current and findings would be if it were entered. "
                "Nothing changes on the other pages before you say so. A correction set here overrules its own "
                "estimate alone; given with --set when sternlog is started, the others are estimated anew with it.",
                className="small",
            ),
            html.Div(
                [
                    html.Div([_field(opened, name) for name in names], className="fields"),
                    html.Div(
                        [
                            _table(before, now),
                            html.P("", id="try-refused", role="status", className="refused"),
                            html.Div(
                                [
                                    html.Button(
                                        "Use these numbers on every page", id="try-keep", type="button"
                                    ),
                                    html.Button("Start again", id="try-again", type="button"),
                                ],
                                className="keep",
                            ),
                        ]
                    ),
                    html.Div(
                        graph("try-chart", whatif_chart(opened.scene, None, dress)), className="chart high"
                    ),
                    html.Div(
                        [
                            html.H3("What would be left to find with these numbers entered"),
                            html.Ul(
                                finding_items(review.findings, find(review.case, _fields(opened))),
                                id="try-findings",
                            ),
                        ],
                        className="then",
                    ),
                ],
                className="whatif-body",
            ),
            dcc.Store(id="try-kept"),
        ],
        className="panel wide whatif screen-only",
        id="what-if",
    )


def register_whatif(app: Dash, views: Views, desk: Desk) -> None:
    """Wire the fields and the keeping of what was tried."""
    values = Input({"type": "try", "name": ALL}, "value")
    fields = State({"type": "try", "name": ALL}, "id")

    def show(given: list[str | None], ids: list[dict[str, str]]) -> list[Any]:
        view = views()
        if view is None:
            raise PreventUpdate
        opened, dress = view.opened, view.dress
        case = opened.review.case
        try:
            entered = _given(given, ids)
            trial = tried(case, wished(opened, entered), entered)
        except SettingError as error:
            return [*(no_update for _ in ROWS), no_update, no_update, _said(error)]
        texts = outcome_texts(trial.outcome, dress)
        return [
            *(texts[row] for row in ROWS),
            whatif_chart(opened.scene, trial.frame, dress),
            finding_items(opened.review.findings, trial.findings),
            "",
        ]

    def keep(clicks: int | None, given: list[str | None], ids: list[dict[str, str]]) -> tuple[Any, Any]:
        view = views()
        if view is None or not clicks:
            raise PreventUpdate
        try:
            desk.correct(view.opened.key, wished(view.opened, _given(given, ids)))
        except SettingError as error:
            return no_update, _said(error)
        return True, ""

    app.callback(
        [
            *(Output(f"try-{row}", "children") for row in ROWS),
            Output("try-chart", "figure"),
            Output("try-findings", "children"),
            Output("try-refused", "children"),
        ],
        values,
        fields,
        prevent_initial_call=True,
    )(show)
    app.callback(
        Output("try-kept", "data"),
        Output("try-refused", "children", allow_duplicate=True),
        Input("try-keep", "n_clicks"),
        State({"type": "try", "name": ALL}, "value"),
        fields,
        prevent_initial_call=True,
    )(keep)
    app.clientside_callback(
        ClientsideFunction("findings", "step"),
        Output({"type": "try", "name": MATCH}, "value"),
        Input({"type": "try-less", "name": MATCH}, "n_clicks"),
        Input({"type": "try-more", "name": MATCH}, "n_clicks"),
        Input("try-again", "n_clicks"),
        State({"type": "try", "name": MATCH}, "value"),
        State({"type": "try-base", "name": MATCH}, "data"),
        prevent_initial_call=True,
    )


def wished(opened: Opened, given: Mapping[str, float]) -> dict[str, float]:
    """Tell what the fields set by hand: what differs from the log's own number, or was set by hand before.

    Raises SettingError for what is no number.
    """
    before = opened.review.settings.corrections
    set_by_hand = dict(before)
    for name, value in given.items():
        if not math.isfinite(value):
            raise SettingError(f"{WAYS[name].label}: give a number, as {_start(opened, name):g}.")
        if name in before or value != _start(opened, name):
            set_by_hand[name] = value
    return set_by_hand


def outcome_texts(outcome: Outcome, dress: Dress) -> dict[str, str]:
    """Write what a passage comes to; a dash where it cannot be told."""
    kn = dress.units.of("kn")
    turned = f"{_number(outcome.twd_change_deg, 1, '°')} over {outcome.turns}" if outcome.turns else NOTHING
    return {
        "twd": _direction(outcome.twd_deg),
        "tws": _number(outcome.tws_kn * kn.factor, 2, f" {kn.symbol}"),
        "steady": turned,
        "set": _direction(outcome.set_deg),
        "drift": _number(outcome.drift_kn * kn.factor, 2, f" {kn.symbol}"),
        "along": _number(outcome.along_kn * kn.factor, 2, f" {kn.symbol}", True),
        "across": _number(outcome.across_kn * kn.factor, 2, f" {kn.symbol}", True),
        "pressure": _number(outcome.air_pressure_hpa, 1, " hPa"),
    }


def finding_items(before: Sequence[Finding], now: Sequence[Finding]) -> list[html.Li]:
    """List the findings with the numbers tried, and those that would be gone."""
    told = {one.id for one in now}
    return [
        *(
            html.Li(
                [html.Span(SEVERITY[one.severity][0], className=f"severity {one.severity}"), f" {one.title}"]
            )
            for one in now
        ),
        *(
            html.Li([html.Span("Gone", className="severity gone"), html.S(f" {one.title}")])
            for one in before
            if one.id not in told
        ),
    ] or [html.Li("None.")]


def _names(review: Review) -> list[str]:
    frame = review.passage.frame
    return [name for name in TRIED if WAYS[name].channel in frame]


def _fields(opened: Opened) -> dict[str, float]:
    """Every correction as its field begins."""
    return {name: _start(opened, name) for name in _names(opened.review)}


def _start(opened: Opened, name: str) -> float:
    """The number a correction has now, rounded as its field shows it: by hand, else the log's, else neutral."""
    by_hand = opened.review.settings.corrections
    if name in by_hand:
        return by_hand[name]
    if name == "leeway_coefficient":
        leeway = leeway_of(opened.found.case.calibration.estimates)
        return round(leeway.coefficient, 1) + 0.0 if leeway is not None else 0.0
    one = opened.found.calibration.get(name)
    if one is None or not one.determined or one.value is None:
        return neutral(name)
    return round(one.value, WAYS[name].finest) + 0.0


def _log_says(opened: Opened, name: str) -> str:
    one = opened.found.calibration.get(name)
    if one is not None and one.determined:
        if any(change.name == name for change in opened.found.case.calibration.changes):
            return f"in the mean {estimate_text(name, one)}: it changed on the way"
        return f"recording says {estimate_text(name, one)}"
    if _start(opened, name) != neutral(name) and name not in opened.review.settings.corrections:
        return "not determined, but used along with log and compass"
    return "the recording cannot tell"


def _said(error: SettingError) -> str:
    """Write a refusal with the labels of the fields in the place of names."""
    text = str(error)
    for name, way in WAYS.items():
        text = text.replace(name, way.label)
    return text


def _given(values: list[str | None], ids: list[dict[str, str]]) -> dict[str, float]:
    return {one["name"]: _read(value) for one, value in zip(ids, values, strict=True)}


def _read(text: str | None) -> float:
    """Read a number as people type it, a comma or a long minus included; NaN for anything else."""
    try:
        return float((text or "").strip().replace(",", ".").replace("−", "-"))
    except ValueError:
        return math.nan


def _field(opened: Opened, name: str) -> html.Div:
    way, start = WAYS[name], _start(opened, name)
    return html.Div(
        [
            html.Span(way.label, className="field-name"),
            html.Div(
                [
                    html.Button(
                        "−",
                        id={"type": "try-less", "name": name},
                        type="button",
                        **{"aria-label": f"{way.label}: less"},
                    ),
                    html.Label(
                        [
                            html.Span(way.label, className="unseen"),
                            dcc.Input(
                                id={"type": "try", "name": name},
                                type="text",
                                value=f"{start:g}",
                                debounce=0.15,
                                inputMode="decimal",
                                autoComplete="off",
                            ),
                        ]
                    ),
                    html.Button(
                        "+",
                        id={"type": "try-more", "name": name},
                        type="button",
                        **{"aria-label": f"{way.label}: more"},
                    ),
                    html.Span(way.unit.strip()),
                ],
                className="stepper",
            ),
            html.Span(_log_says(opened, name), className="small"),
            dcc.Store(
                id={"type": "try-base", "name": name},
                data={"start": start, "step": way.step, "decimals": way.finest},
            ),
        ],
        className="field",
    )


def _table(before: Mapping[str, str], now: Mapping[str, str]) -> html.Table:
    rows = {
        "twd": ["Mean ", term("TWD")],
        "tws": ["Mean ", term("TWS")],
        "steady": ["TWD changes across a tack or gybe by"],
        "set": [term("set"), " of the mean current"],
        "drift": [term("drift"), " of the mean current"],
        "along": ["Current that turns with the boat, ahead"],
        "across": ["Current that turns with the boat, to starboard"],
        "pressure": ["Mean pressure"],
    }
    head = html.Tr(
        [html.Th(""), *(html.Th(text, scope="col") for text in ("As shown", "Corrected", "Your numbers"))]
    )
    body = [
        html.Tr(
            [
                html.Th(rows[row], scope="row"),
                html.Td(before[row]),
                html.Td(now[row]),
                html.Td(now[row], id=f"try-{row}", className="yours"),
            ],
            hidden=now[row] == NOTHING and before[row] == NOTHING,
        )
        for row in ROWS
    ]
    return html.Table([html.Thead(head), html.Tbody(body)], className="outcome")


def _direction(deg: float) -> str:
    return f"{round(deg, 1) % 360:05.1f}°" if math.isfinite(deg) else NOTHING


def _number(value: float, decimals: int, unit: str, signed: bool = False) -> str:
    if not math.isfinite(value):
        return NOTHING
    text = f"{round(value, decimals) + 0.0:{'+' if signed else ''}.{decimals}f}{unit}"
    return text.replace("-", "−")
