"""Runs to and fro on the Water page: each run's speeds, and their mean of means beside the whole passage."""

from dash import html

from analysis.estimate import SIGMAS_95, Estimate
from analysis.reciprocal import RunsTold, runs_told
from app.dress import Dress
from app.units import Shown
from app.view import View

from .parts import panel
from .wording import time_of_day_text


def runs_panel(view: View) -> html.Section:
    """Show every set of reciprocal runs, or how to sail them."""
    case = view.opened.review.case
    told = runs_told(case.screened.frame, case.manoeuvres)
    title = "Runs to and fro: the mean of means"
    if not told:
        return panel(
            title,
            html.P(
                "No reciprocal runs in this recording. Four runs of five minutes to and fro on one line, at one "
                "engine speed, give the log's factor free of a current that changes evenly.",
                className="notice",
            ),
            wide=True,
        )
    joint = case.calibration.estimates["log_factor"]
    return panel(
        title,
        html.P(
            "Speeds are averaged, never times; the weights take out a current that changes as evenly as their number "
            "allows. The speed over the ground is taken along the heading.",
            className="small",
        ),
        html.Div(
            [_set(number, one, joint, view.dress) for number, one in enumerate(told, 1)], className="sets"
        ),
        wide=True,
    )


def _set(number: int, told: RunsTold, joint: Estimate, dress: Dress) -> html.Div:
    kn = dress.units.of("kn")
    titles = (
        "Start",
        "Minutes",
        "Heading",
        f"Ground [{kn.symbol}]",
        f"Log [{kn.symbol}]",
        "Weight",
        "Current",
    )
    rows = [
        html.Tr(
            [
                html.Td(time_of_day_text(one.start.timestamp() * 1000, dress.clock)),
                html.Td(f"{(one.end - one.start).total_seconds() / 60:.1f}", className="number"),
                html.Td(f"{round(one.heading_deg) % 360:03d}°", className="number"),
                html.Td(_speed(one.ground_kn, kn), className="number"),
                html.Td(_speed(one.shown_kn, kn), className="number"),
                html.Td(f"{one.weight:.3f}".rstrip("0"), className="number"),
                html.Td(f"{one.current_kn * kn.factor:+.2f}", className="number"),
            ]
        )
        for one in told.runs
    ]
    foot = html.Tr(
        [
            html.Th("Mean of means", colSpan=3, scope="row"),
            html.Td(_speed(told.ground_kn, kn), className="number"),
            html.Td(_speed(told.shown_kn, kn), className="number"),
            html.Td("", colSpan=2),
        ]
    )
    return html.Div(
        [
            html.H3(f"Set {number}: {len(told.runs)} runs"),
            html.Table(
                [
                    html.Thead(
                        html.Tr(
                            [html.Th(titles[0], scope="col")]
                            + [html.Th(text, scope="col", className="number") for text in titles[1:]]
                        )
                    ),
                    html.Tbody(rows),
                    html.Tfoot(foot),
                ],
            ),
            html.P(_result(told, joint)),
        ]
    )


def _result(told: RunsTold, joint: Estimate) -> str:
    if told.sd is None:
        result = (
            f"The log's factor comes to {told.factor:.3f}; fewer than four runs leave a current that changes in it, "
            "so no ± is given."
        )
    else:
        result = f"The log's factor comes to {told.factor:.3f} ± {SIGMAS_95 * told.sd:.3f} (95 %)."
    if joint.determined and joint.value is not None and joint.sd is not None:
        return f"{result} The whole passage: {joint.value:.3f} ± {SIGMAS_95 * joint.sd:.3f}."
    return f"{result} The whole passage does not determine it."


def _speed(value_kn: float, shown: Shown) -> str:
    return f"{value_kn * shown.factor:.2f}"
