"""The parts that pages are made of: the sentence a page concludes with, panels, terms that explain themselves."""

from collections.abc import Sequence
from typing import Any

from dash import dcc, html

GLOSSARY = {
    "STW": "Speed through the water, as the log (paddle wheel or the like) measures it.",
    "SOG": "Speed over the ground, from GNSS.",
    "COG": "Course over the ground, from GNSS.",
    "AWA": "Apparent wind angle: where the wind on board comes from, measured from the bow.",
    "AWS": "Apparent wind speed: the wind as felt on board.",
    "TWA": "True wind angle: where the true wind comes from, measured from the bow.",
    "TWS": "True wind speed, over the water or over the ground as said beside it.",
    "TWD": "True wind direction: where the true wind comes from, measured from true north.",
    "set": "The direction the current flows toward.",
    "drift": "The speed of the current.",
    "leeway": "The angle between heading and track through the water; to starboard is positive.",
    "variation": "The angle from true to magnetic north; east is positive.",
    "deviation": "The compass error from the boat's own magnetism; it changes with the heading.",
    "upwash": "The bending of the wind by the sails before it meets the vane.",
    "tendency": "The change of pressure over the last three hours, as weather stations report it.",
    "current": "The motion of the water over the ground.",
    "one standard deviation": "The truth lies within it in about two cases of three, within twice it in 95 of 100.",
}


def conclusion(sentence: str) -> html.P:
    """Say in one sentence what the page concludes."""
    return html.P(sentence, className="conclusion")


def panel(title: str, *children: Any, wide: bool = False) -> html.Section:
    """Make a titled panel; a wide one takes the whole width of the page."""
    return html.Section([html.H2(title), *children], className="panel wide" if wide else "panel")


def term(name: str, text: str | None = None) -> html.Span:
    """Write a term of the glossary that explains itself in one line when pointed at or focused."""
    return html.Span(
        text or name,
        className="term",
        tabIndex=0,
        **{"data-tip": GLOSSARY[name], "aria-label": GLOSSARY[name]},
    )


def wide_table(
    heads: Sequence[str], rows: Sequence[html.Tr], numbers: Sequence[str], tall: bool = False
) -> html.Div:
    """Make a table that may be wider than the page; ``numbers`` are the heads of columns of numbers.

    A ``tall`` one is scrolled in a box of its own.
    """
    head = [html.Th(one, scope="col", className="number" if one in numbers else "") for one in heads]
    table = html.Table([html.Thead(html.Tr(head)), html.Tbody(rows)])
    return html.Div(table, className="sideways scroll" if tall else "sideways", tabIndex=0)


def table_row(heads: Sequence[str], cells: Sequence[Any], numbers: Sequence[str]) -> html.Tr:
    """Make a row of ``wide_table`` named by its first cell."""
    name, *others = cells
    body = [
        html.Td(cell, className="number" if head in numbers else "")
        for head, cell in zip(heads[1:], others, strict=True)
    ]
    return html.Tr([html.Th(name, scope="row"), *body])


def typed_field(name: str, label: str, example: str) -> html.Label:
    """Offer something to type, with an example of it."""
    children: list[Any] = [
        html.Span(label),
        dcc.Input(id=name, type="text", placeholder=example, autoComplete="off", spellCheck=False),
    ]
    return html.Label(children, htmlFor=name)
