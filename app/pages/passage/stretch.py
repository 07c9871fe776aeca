"""The stretch that is chosen by zooming: its statistics, and the way to open it as a passage of its own."""

import pandas as pd
from dash import html

from analysis.channels import CHANNELS
from analysis.spread import Spread, spread_of
from app.dress import Dress
from app.pages.parts import panel
from app.pages.plain import plain
from app.pages.wording import duration_text, time_of_day_text, time_text, value_text
from app.view import View

from .wishes import scene_of_view, wishes

_HEADS = (
    "Quantity",
    "Mean",
    "Standard deviation",
    "Lowest, or most to the left",
    "at",
    "Highest, or most to the right",
    "at",
    "Values",
)


def stretch_panel() -> html.Div:
    """Make the panel, hidden until a stretch is chosen."""
    return html.Div(
        panel(
            "This stretch",
            html.P(id="stretch-words", className="small"),
            html.Div(html.Table(id="statistics", **plain([])), className="scroll", tabIndex=0),
            wide=True,
        ),
        id="stretch-panel",
        hidden=True,
    )


def stretch_words(view: View, span: list[float]) -> str:
    """Say from when to when a stretch is, and what its numbers mean."""
    scene, dress = view.opened.scene, view.dress
    start, end = (time_text(edge, float(scene.time_ms[0]), scene.dated, dress.clock) for edge in span)
    values = "as shown" if wishes().as_shown else "corrected"
    return (
        f"{start} to {end}, {duration_text((span[1] - span[0]) / 1000)}; values {values}. Directions are averaged "
        "as unit vectors; their extremes are those farthest to the left and right of the mean."
    )


def statistics_rows(view: View, span: list[float]) -> list[html.Thead | html.Tbody]:
    """Write the statistics of every channel over a stretch [ms]."""
    review = view.opened.review
    frame = review.frame_as_shown if wishes().as_shown else review.frame
    start, end = (pd.Timestamp(edge, unit="ms", tz="UTC") for edge in span)
    cut = frame.loc[start:end]
    found = [
        one
        for name in scene_of_view(view).channels
        if CHANNELS[name].kind != "position" and (one := spread_of(cut, name)) is not None
    ]
    head = html.Tr(
        [html.Th(text, scope="col", className="number" if at else "") for at, text in enumerate(_HEADS)]
    )
    return [html.Thead(head), html.Tbody([_row(one, view.dress) for one in found])]


def _row(one: Spread, dress: Dress) -> html.Tr:
    shown = dress.units.of_channel(one.channel)
    decimals = max(shown.decimals, 1)
    unit = shown.symbol if shown.symbol == "°" else f" {shown.symbol}"
    texts = (
        value_text(one.channel, one.mean, units=dress.units),
        f"{abs(one.sd) * shown.factor:.{decimals}f}{unit}",
        value_text(one.channel, one.lowest, units=dress.units),
        time_of_day_text(one.lowest_at.timestamp() * 1000, dress.clock),
        value_text(one.channel, one.highest, units=dress.units),
        time_of_day_text(one.highest_at.timestamp() * 1000, dress.clock),
        f"{one.count}",
    )
    return html.Tr(
        [
            html.Th(CHANNELS[one.channel].label, scope="row"),
            *(html.Td(text, className="number") for text in texts),
        ]
    )
