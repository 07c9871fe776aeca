"""A measured distance: two positions typed, and the log factor of the runs between them."""

from dash import ClientsideFunction, Dash, Input, Output, State, html
from dash.exceptions import PreventUpdate

from analysis.calibration.beside import from_marks
from analysis.errors import SternlogError
from analysis.estimate import SIGMAS_95
from analysis.findings.telling import times
from analysis.manoeuvres import find_mark_runs
from analysis.positions import parse_position
from analysis.review import Review
from app.view import View, Views

from .parts import panel, typed_field

LEAST_RUNS = 2


def marks_panel(view: View) -> html.Section:
    """Offer two positions to type, and the passage's own marks to choose from."""
    if not {"lat_deg", "stw_kn"} <= set(view.opened.scene.columns):
        return panel(
            "A measured distance",
            html.P(
                "Runs between two marks take positions and the log; this recording lacks one of them.",
                className="notice",
            ),
        )
    section = panel(
        "A measured distance",
        html.P(
            "Two marks that the boat ran between, to and fro, on one line and at one speed. The speeds of the runs "
            "are averaged as a mean of means. Type them, or place marks on the Passage page.",
            className="small",
        ),
        html.Div(id="marks-placed", className="marks-placed"),
        html.Div(
            [
                typed_field("first-mark", "From", "50°06.30′N 001°15.00′W"),
                typed_field("second-mark", "To", "50°06.30′N 001°12.00′W"),
                html.Button("Work it out", id="run-marks", type="button"),
            ],
            className="marks",
        ),
        html.P("", id="marks-told", role="status"),
    )
    section.className += " screen-only"
    return section


def register_marks(app: Dash, views: Views) -> None:
    """Wire the panel."""

    def work_out(_clicks: int | None, first: str | None, second: str | None) -> str:
        view = views()
        if view is None:
            raise PreventUpdate
        return told_text(view.opened.review, first or "", second or "")

    app.callback(
        Output("marks-told", "children"),
        Input("run-marks", "n_clicks"),
        State("first-mark", "value"),
        State("second-mark", "value"),
        prevent_initial_call=True,
    )(work_out)
    app.clientside_callback(
        ClientsideFunction("water", "offer"),
        Output("first-mark", "value"),
        Output("second-mark", "value"),
        Input("marks-placed", "id"),
    )


def told_text(review: Review, first: str, second: str) -> str:
    """Say what the runs between two positions give, or in one sentence why nothing."""
    frame = review.case.screened.frame
    try:
        marks = parse_position(first), parse_position(second)
        if len(runs := find_mark_runs(frame, *marks)) < LEAST_RUNS:
            return (
                f"The track passes both marks {times(len(runs))}; it takes two runs at least, one each way."
            )
        found = from_marks(frame, marks)
    except SternlogError as error:
        return str(error)
    text = (
        f"{found.used} runs between the marks: true speed = {found.value:.3f} × shown, "
        f"± {SIGMAS_95 * found.sd:.3f} (95 %)."
    )
    joint = review.case.calibration.estimates["log_factor"]
    if joint.value is None or joint.sd is None or not joint.determined:
        return f"{text} The whole passage does not determine it."
    return f"{text} The whole passage gives {joint.value:.3f} ± {SIGMAS_95 * joint.sd:.3f}."
