"""The deviation of the compass: the curve with its points, and the card for the chart table."""

from typing import Any

import numpy as np
from dash import html

from analysis.calibration.water import DEVIATION
from analysis.deviation_card import CardRow, card_of, card_rows, swung
from analysis.passage import column
from analysis.profiles import by_heading
from analysis.review import Review
from analysis.signature import deviation_seen
from app.figures.deviation import deviation_chart
from app.view import View

from .graph import graph
from .parts import panel, term
from .wording import NOTHING

STEP_DEG = 15


def deviation_panels(view: View) -> list[html.Section]:
    """Show the curve and the card, or say what is missing."""
    review = view.opened.review
    if "heading_true_deg" not in view.opened.scene.columns:
        return []
    calibration = review.case.calibration
    compass, seen = deviation_seen(review.frame_as_shown, calibration, review.case.manoeuvres.turning)
    points = by_heading(compass, seen)
    card, swings = card_of(calibration, review.calibration), swung(calibration.evidence)
    if card is None and not len(points.at) and not swings:
        return [panel("Deviation of the compass", html.P(_why_none(review), className="notice"), wide=True)]
    figure = deviation_chart(card, points, swings, view.dress)
    curve = panel(
        "Deviation of the compass",
        html.P(_how(review, bool(swings)), className="small"),
        html.Div(graph("deviation", figure), className="chart tall"),
        *([] if card is not None else [html.P(_why_none(review))]),
        wide=card is None,
    )
    if card is None:
        return [curve]
    rows = card_rows(card, column(review.frame, "variation_deg"), STEP_DEG)
    return [curve, _card(view, rows)]


def _how(review: Review, swings: bool) -> list[Any]:
    heel = "" if "heel_deg" in review.passage.frame else " Heel is not logged, so they hold the leeway too."
    turns = " Dashed: what each full turn gives alone." if swings else ""
    return [
        "Points: the motion over the ground less the estimated current and the leeway, against what the compass "
        f"showed; bars are the spread from minute to minute.{heel}{turns} ",
        term("deviation", "Deviation"),
        " is + to the east: magnetic = compass + deviation.",
    ]


def _why_none(review: Review) -> str:
    needs = review.case.calibration.estimates[DEVIATION[1]].needs
    return f"The passage was not sailed on enough different courses to give a deviation curve. {needs or ''}".strip()


def _card(view: View, rows: list[CardRow]) -> html.Section:
    review = view.opened.review
    half = len(rows) // 2
    unread = sum(not row.readable for row in rows)
    changed = any(one.name in DEVIATION for one in review.case.calibration.changes)
    remarks = [
        "The compass changed during the passage: this card is the mean of before and after, and of no use until "
        "the cause is found."
        if changed
        else "",
        f"{NOTHING} on {unread} headings: not determined to better than 3°. {_needs(review)}"
        if unread
        else "",
        "Some of it was set by hand." if set(DEVIATION) & set(review.settings.corrections) else "",
    ]
    true = rows[0].true_deg is not None
    return html.Section(
        [
            html.Div(
                [html.H2("Deviation card"), html.Button("Print the card", id="print-card", type="button")],
                className="titled",
            ),
            html.P(_origin(view), className="small", id="card-origin"),
            html.Div([_table(rows[:half], true), _table(rows[half:], true)], className="halves"),
            html.P(
                "Magnetic = compass + deviation; true = magnetic + variation; east is +. ± is the 95 % interval. "
                "Valid for this compass where it stands, with what stood about it on this passage.",
                className="small",
            ),
            *(html.P(text, className="remark-strong") for text in remarks if text),
            html.P(
                "Boat ______________________   Compass ______________________   Checked ____________",
                className="signed",
            ),
        ],
        className="panel card",
    )


def _needs(review: Review) -> str:
    return review.case.calibration.estimates[DEVIATION[1]].needs or ""


def _origin(view: View) -> str:
    review, scene = view.opened.review, view.opened.scene
    variation = column(review.frame, "variation_deg")
    known = variation[np.isfinite(variation)]
    date = (
        f"{view.dress.clock.at(float(scene.time_ms[0])):%d %b %Y}, "
        if scene.dated and len(scene.time_ms)
        else ""
    )
    if not len(known):
        return f"From {view.opened.name}, {date}no variation known: deviation is to be added to the heading shown."
    mean = float(known.mean())
    return f"From {view.opened.name}, {date}variation {abs(mean):.1f}° {'E' if mean >= 0 else 'W'}."


def _table(rows: list[CardRow], true: bool) -> html.Table:
    titles = ("Compass", "Deviation", "± 95 %", "Magnetic", *(("True",) if true else ()))
    return html.Table(
        [
            html.Thead(html.Tr([html.Th(title, scope="col", className="number") for title in titles])),
            html.Tbody([html.Tr(_cells(row, true)) for row in rows]),
        ]
    )


def _cells(row: CardRow, true: bool) -> list[Any]:
    told = (
        [_east(row.deviation_deg), f"{row.within_deg:.1f}°", _course(row.magnetic_deg)]
        if row.readable
        else [NOTHING, f"{row.within_deg:.0f}°", NOTHING]
    )
    if true:
        told.append(_course(row.true_deg) if row.readable and row.true_deg is not None else NOTHING)
    return [
        html.Th(_course(row.compass_deg), scope="row", className="number"),
        *(html.Td(text, className="number") for text in told),
    ]


def _course(deg: float) -> str:
    return f"{round(deg) % 360:03d}°"


def _east(deg: float) -> str:
    return f"{abs(deg):.1f}°" + ("" if round(deg, 1) == 0 else " E" if deg > 0 else " W")
