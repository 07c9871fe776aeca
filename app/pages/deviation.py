"""The deviation of the compass: the curve with its points, and the card for the chart table."""

from typing import Any

import numpy as np
import pandas as pd
from dash import html

from analysis.calibration.classical import DeviationCard
from analysis.calibration.water import DEVIATION
from analysis.deviation_card import CardRow, before_and_after, card_of, card_rows, swung
from analysis.passage import column
from analysis.profiles import by_heading
from analysis.review import Review
from analysis.signature import deviation_seen
from app.figures.deviation import Seen, deviation_chart
from app.view import View

from .graph import graph
from .parts import panel, term
from .wording import NOTHING, time_of_day_text

STEP_DEG = 15


def deviation_panels(view: View) -> list[html.Section]:
    """Show the curve and the card, or say what is missing."""
    review = view.opened.review
    if "heading_true_deg" not in view.opened.scene.columns:
        return []
    calibration = review.case.calibration
    card, swings = card_of(calibration, review.calibration), swung(calibration.evidence)
    disturbed = None if card is None else before_and_after(calibration, card)
    states = _states(view, card, disturbed)
    if card is None and not swings and not any(len(one.points.at) for one in states):
        return [panel("Deviation of the compass", html.P(_why_none(review), className="notice"), wide=True)]
    whole = card is None or disturbed is not None
    curve = panel(
        "Deviation of the compass",
        html.P(_how(review, bool(swings)), className="small"),
        html.Div(graph("deviation", deviation_chart(states, swings, view.dress)), className="chart tall"),
        html.P(_why_none(review)) if card is None else None,
        html.P(_disturbed_text(view, disturbed[0]), className="remark-strong") if disturbed else None,
        wide=whole,
    )
    if card is None or disturbed is not None:
        return [curve]
    rows = card_rows(card, column(review.frame, "variation_deg"), STEP_DEG)
    return [curve, _card(view, rows)]


def _states(
    view: View,
    card: DeviationCard | None,
    disturbed: tuple[pd.Timestamp, DeviationCard, DeviationCard] | None,
) -> list[Seen]:
    """The compass as it was: throughout, or before and after something was put beside it."""
    review = view.opened.review
    shown = review.frame_as_shown
    compass, seen = deviation_seen(shown, review.case.calibration, review.case.manoeuvres.turning)
    if disturbed is None:
        return [Seen("", card, by_heading(compass, seen))]
    at, before, after = disturbed
    late = np.asarray(shown.index >= at)
    moment = time_of_day_text(at.timestamp() * 1000, view.dress.clock)
    return [
        Seen(f" before {moment}", before, by_heading(compass, np.where(late, np.nan, seen))),
        Seen(f" after {moment}", after, by_heading(compass, np.where(late, seen, np.nan))),
    ]


def _disturbed_text(view: View, at: pd.Timestamp) -> str:
    moment = time_of_day_text(at.timestamp() * 1000, view.dress.clock)
    return (
        f"No card: the compass changed at {moment} {view.dress.clock.name}. Find what was put near it, take it away, "
        "and swing the compass again."
    )


def _how(review: Review, swings: bool) -> list[Any]:
    heel = "" if "heel_deg" in review.passage.frame else " Heel is not recorded, so they hold the leeway too."
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
    remarks = [
        f"{NOTHING} on {unread} headings: not determined to better than 3°. {_needs(review)}"
        if unread
        else "",
        "Some of it was set by hand." if set(DEVIATION) & set(review.settings.corrections) else "",
    ]
    true = rows[0].true_deg is not None
    return html.Section(
        [
            html.Div(
                [
                    html.H2("Deviation card"),
                    html.Button("Print the card", id="print-card", type="button"),
                ],
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
