"""The Wind page: did the true wind tell the truth, what was the display working from, what is the vane off by."""

from typing import Any

import numpy as np
from dash import Dash, html

from analysis.contrasts import across_turns, by_angle
from analysis.estimate import SIGMAS_95, Estimate
from analysis.passage import Floats, column
from analysis.review import Review
from analysis.vectors import wrap_signed_deg
from app.desk import Desk
from app.figures.evidence import evidence_chart
from app.figures.paper import CORRECTED, SHOWN
from app.figures.wind import (
    across_turns_chart,
    difference_by_angle,
    difference_through_time,
    hypotheses_chart,
)
from app.view import View, Views

from .corrections import WAYS, Way
from .graph import graph
from .parts import conclusion, panel, term

TITLE = "Wind"
RANKED = 6
CORRECTIONS = ("vane_offset_deg", "wind_speed_factor", "upwash_deg")


def layout(view: View) -> list[Any]:
    """Lay the page out: the sentence, the corrections, and the charts that show why."""
    review = view.opened.review
    if "awa_deg" not in view.opened.scene.columns:
        return [
            conclusion(
                "The recording has no apparent wind, so nothing can be said of vane, anemometer or true wind."
            ),
            html.P(
                "MWV sentences with reference R (or VWR) carry it; look on the Passage page whether they came.",
                className="notice",
            ),
        ]
    return [
        conclusion(conclusion_text(review)),
        html.Div(
            [
                _corrections(review),
                _evidence(view),
                *_logged(view),
                _turns(view),
            ],
            className="panels",
        ),
    ]


def register(app: Dash, views: Views, desk: Desk) -> None:
    """Wire the page: it answers nothing."""


def conclusion_text(review: Review) -> str:
    """Say what vane, anemometer and display come to."""
    told = [_told(name, review.calibration.get(name)) for name in CORRECTIONS]
    known = [text for text in told if text]
    first = (
        f"{'; '.join(known)}."
        if known
        else "The recording does not tell what vane and anemometer are off by."
    )
    return f"{first[0].upper()}{first[1:]} {_display_text(review)}".strip()


def _told(name: str, one: Estimate | None) -> str:
    if one is None or not one.determined or one.value is None or one.sd is None:
        return ""
    spread = SIGMAS_95 * one.sd
    if name == "vane_offset_deg":
        if abs(one.value) <= spread:
            return f"the vane is right within {spread:.1f}°"
        side = "starboard" if one.value < 0 else "port"
        return f"the vane reads {abs(one.value):.1f}° ± {spread:.1f}° too far to {side}"
    if name == "wind_speed_factor":
        if abs(one.value - 1) <= spread:
            return f"the wind speed is right within {100 * spread:.0f} %"
        sense = "low" if one.value > 1 else "high"
        return f"the anemometer reads {100 * abs(1 - 1 / one.value):.0f} % ± {100 * spread:.0f} % {sense}"
    return ""


def _display_text(review: Review) -> str:
    wind = review.case.logged_wind
    if wind is None:
        return "The recording holds no true wind of the boat's own display to compare."
    best = wind.best
    if not wind.determined:
        return "How the display works out its true wind is not determined: several ways explain it alike."
    return f"The display works out its true wind {best.words}; that leaves {best.left_deg:.1f}° unexplained."


def _corrections(review: Review) -> html.Section:
    rows = [
        html.Tr([html.Th(WAYS[name].label, scope="row"), *_cells(review.calibration.get(name), WAYS[name])])
        for name in CORRECTIONS
    ]
    return panel(
        "What to correct",
        html.P(
            ["True ", term("AWA"), " = shown + offset, true ", term("AWS"), " = factor × shown; ± is 95 %."],
            className="small",
        ),
        html.Table(html.Tbody(rows)),
    )


def _cells(one: Estimate | None, way: Way) -> list[html.Td]:
    unit, decimals = way.unit, way.finest
    if one is None or one.value is None or one.sd is None:
        return [
            html.Td("not determined", className="number"),
            html.Td("" if one is None else one.needs or ""),
        ]
    value = f"{one.value:+.{decimals}f}{unit}" if unit else f"{one.value:.{decimals}f}"
    text = f"{value} ± {SIGMAS_95 * one.sd:.{decimals}f}{unit}".replace("-", "−")
    if one.determined:
        return [html.Td(text, className="number"), html.Td("determined")]
    return [html.Td(f"({text})", className="number"), html.Td(f"not determined. {one.needs or ''}")]


def _evidence(view: View) -> html.Section:
    review = view.opened.review
    found = {
        name: [one for one in review.case.calibration.evidence if one.subject == name]
        for name in ("vane_offset_deg", "wind_speed_factor")
    }
    children: list[Any] = []
    for name, evidence in found.items():
        if not evidence:
            continue
        estimate = review.case.calibration.estimates[name]
        figure = evidence_chart(evidence, estimate, WAYS[name].unit or "factor", view.dress)
        height = f"{70 + 34 * (len(evidence) + 1)}px"
        children += [
            html.H3(WAYS[name].label),
            html.Div(graph(f"evidence-{name}", figure), className="chart", style={"height": height}),
        ]
    if not children:
        children = [
            html.P(
                "No manoeuvre in this recording speaks of vane or anemometer: tacks, gybes and full turns would.",
                className="notice",
            )
        ]
    return panel("Evidence, line by line", *children)


def _logged(view: View) -> list[html.Section]:
    review, opened = view.opened.review, view.opened
    wind = review.case.logged_wind
    if wind is None:
        text = "The recording has no true wind of the boat's own (MWV T, MWD or VWT), so there is nothing to compare."
        return [panel("The display's true wind", html.P(text, className="notice"), wide=True)]
    ranked = wind.hypotheses[:RANKED]
    sections = [
        panel(
            "How the display works out its true wind",
            html.P(
                "Each way is tried on the readings as recorded, the best on top; the shorter its bars, the better it "
                "explains what the display showed. " + _untold_text(review),
                className="small",
            ),
            html.Div(
                graph("hypotheses", hypotheses_chart(ranked, view.dress)),
                className="chart",
                style={"height": f"{80 + 44 * len(ranked)}px"},
            ),
            wide=True,
        )
    ]
    differences = _differences(review)
    if not differences:
        return sections
    awa = column(review.frame, "awa_deg")
    sections += [
        panel(
            "Recorded against recomputed wind direction through time",
            html.Div(
                graph(
                    "difference-time",
                    difference_through_time(
                        opened.scene.time_ms, differences, view.dress, opened.scene.dated
                    ),
                ),
                className="chart tall",
            ),
        ),
        panel(
            "The same by apparent wind angle",
            html.Div(
                graph(
                    "difference-angle",
                    difference_by_angle(
                        {name: by_angle(one, np.zeros(len(one)), awa) for name, one in differences.items()},
                        view.dress,
                    ),
                ),
                className="chart tall",
            ),
        ),
    ]
    return sections


def _differences(review: Review) -> dict[str, Floats]:
    """Logged less recomputed TWD over the water, from the readings as shown and as corrected."""
    logged = column(review.frame, "logged_twd_deg")
    frames = {SHOWN: review.frame_as_shown, CORRECTED: review.frame}
    found = {name: wrap_signed_deg(logged - column(one, "twd_water_deg")) for name, one in frames.items()}
    return {name: one for name, one in found.items() if np.isfinite(one).any()}


def _untold_text(review: Review) -> str:
    wind = review.case.logged_wind
    assert wind is not None
    lag = (
        ""
        if wind.lag_s is None or wind.lag_sd_s is None
        else (f"The display runs {wind.lag_s:.0f} ± {SIGMAS_95 * wind.lag_sd_s:.0f} s late. ")
    )
    return f"{lag}{'' if wind.determined else 'The first is not told apart from those close to it.'}"


def _turns(view: View) -> html.Section:
    review = view.opened.review
    over = "water" if "twd_water_deg" in review.frame else "ground"
    found = {
        name: across_turns(frame, review.case.manoeuvres, over)
        for name, frame in ((SHOWN, review.frame_as_shown), (CORRECTED, review.frame))
        if f"twd_{over}_deg" in frame
    }
    title = "The wind across every turn"
    if not any(found.values()):
        return panel(
            title,
            html.P(
                "No turn in this recording has a minute and a half of wind on a straight course on both sides.",
                className="notice",
            ),
            wide=True,
        )
    return panel(
        title,
        html.P(
            [
                "A right instrument shows the same ",
                term("TWD"),
                " after a turn as before it, but for what the wind did itself. Points far from zero, all to one side "
                "for turns of one kind, accuse the vane, the log or the compass.",
            ],
            className="small",
        ),
        html.Div(graph("turns", across_turns_chart(found, view.dress)), className="chart tall"),
        wide=True,
    )
