"""The Readiness page: one line for every instrument, to print, hang up and sign."""

from typing import Any

from dash import ClientsideFunction, Dash, Input, html

from analysis.findings.telling import listed
from analysis.readiness import Line, Readiness
from app import cautions
from app.desk import Desk
from app.sections.readiness import NO_SENSOR, STATES, amount_text, judged, off_text, why_text
from app.view import View, Views

from .parts import conclusion

TITLE = "Readiness"
_SIGN = "____________"
_ON_PAPER = (
    "Verified: determined by this passage, inside the published accuracy of its kind with its ± at 95 %, and no "
    "finding against it."
)


def layout(view: View) -> list[Any]:
    """Lay the sheet out."""
    found = judged(view.opened.review)
    return [
        conclusion(conclusion_text(found)),
        html.Div(
            [
                html.Button("Print the sheet", id="print-readiness", type="button", className="screen-only"),
                *sheet(view, found),
            ],
            className="panel readiness-sheet",
        ),
    ]


def on_paper(view: View) -> list[Any]:
    """The sheet alone."""
    found = judged(view.opened.review)
    return sheet(view, found)


def register(app: Dash, views: Views, desk: Desk) -> None:
    """Wire the printing."""
    app.clientside_callback(
        ClientsideFunction("findings", "print"),
        Input("print-readiness", "n_clicks"),
        prevent_initial_call=True,
    )


def conclusion_text(found: Readiness) -> str:
    """Say how many instruments are verified, off and not known."""
    states = {state: found.of(state) for state in STATES if state != "no sensor"}
    parts = [f"{STATES[state]}: {listed(names)}." for state, names in states.items() if names]
    return " ".join(parts) or "The recording has no instrument to make ready."


def sheet(view: View, found: Readiness) -> list[Any]:
    """The sheet itself, from its head to the signature."""
    day = _day(view, found)
    head = ("Instrument", "State", "What the passage tells", "Next check", "Checked, signed")
    return [
        html.Div([html.H2("Readiness sheet"), html.Span(_origin(view, day))], className="sheet-head"),
        html.P(
            "Boat ______________________   Date ______________   Skipper ____________________",
            className="to-sign",
        ),
        html.Table(
            [
                html.Thead(html.Tr([html.Th(text, scope="col") for text in head])),
                html.Tbody([_row(one, day) for one in found.lines]),
            ],
            className="readiness-table",
        ),
        html.P(f"{_ON_PAPER} {cautions.FULL}", className="small"),
    ]


def _row(one: Line, day: str) -> html.Tr:
    there = one.state != "no sensor"
    return html.Tr(
        [
            html.Th(f"{one.instrument[0].upper()}{one.instrument[1:]}", scope="row"),
            html.Td(html.Span(STATES[one.state], className=f"word {one.state.replace(' ', '-')}")),
            html.Td(_told(one, day)),
            html.Td(one.next),
            html.Td(_SIGN if there else ""),
        ],
        className=one.state.replace(" ", "-"),
    )


def _told(one: Line, day: str) -> str:
    if one.state == "no sensor":
        return f"{NO_SENSOR[0].upper()}{NO_SENSOR[1:]}."
    if one.state == "verified":
        evidence = f"; {one.evidence}" if one.evidence else ""
        return f"Verified{f' on {day}' if day else ''}{amount_text(one)}{evidence}."
    if one.state == "not known":
        return why_text(one) or "Not told by this passage: do the next check."
    text = off_text(one)
    return f"{text[0].upper()}{text[1:]}"


def _day(view: View, found: Readiness) -> str:
    if found.on is None:
        return ""
    return f"{view.dress.clock.at(found.on.timestamp() * 1000):%d %b %Y}"


def _origin(view: View, day: str) -> str:
    return f"from {view.opened.name}" + (f", {day} by {view.dress.clock.name}" if day else "")
