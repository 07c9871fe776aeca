"""What the report holds: the pages of the passage in reading order, and how it was worked out."""

from typing import Any

from dash import html

from app import cautions
from app.desk import Opened
from app.dress import Dress
from app.figures.palette import THEMES
from app.figures.rows import placed_rows
from app.pages import (
    emergencies,
    findings,
    polar,
    readiness,
    routes,
    sheet,
    sources,
    steering,
    traffic,
    trip,
    water,
    weather,
    wind,
)
from app.pages.clocked import by_clock
from app.pages.graph import graph
from app.pages.parts import panel
from app.pages.passage.columns import FIRST_CHOICE, drawn_strips, drawn_track
from app.pages.passage.facts import passage_facts
from app.pages.passage.missing import missing_texts
from app.pages.passage.panels import account_panel, log_panel, sources_panel
from app.view import View

METHOD = (
    "Read: every sentence recorded is checked against its checksum and counted; what cannot be true is kept out.",
    "Aligned: all sources are brought to one second. Nothing is bridged over more than four of a source's periods.",
    "Estimated: log, compass, leeway and current together from the difference between motion over the ground and "
    "motion through the water, the current taken to change slowly; vane, anemometer and upwash from what the wind "
    "does across manoeuvres and from the boat sailing alike on both tacks.",
    "Corrected: true = factor × shown for speeds, true = shown + offset for angles and pressure; only what is "
    "determined is applied.",
    "Derived: W over the water = apparent wind + motion through the water; W over the ground = apparent wind + "
    "motion over the ground; current = motion over the ground − motion through the water.",
    "± is the 95 % interval, 1.96 standard deviations, from the scatter of the passage itself and its memory.",
    "Assumed: GNSS position, COG and SOG are right but for the jumps and stalls named; the sensors stand still in "
    "the boat; the current is the same at the keel and below the log.",
)


def report_content(opened: Opened, dress: Dress) -> list[Any]:
    """Put the report together for an open passage, as its reader wants it shown, in the light of day."""
    view = View(opened, Dress(next(iter(THEMES)), dress.clock, dress.clock_choice, dress.units))
    parts: list[Any] = by_clock(_parts(opened, view), dress.clock)
    return parts


def _parts(opened: Opened, view: View) -> list[Any]:
    return [
        html.H1(opened.name),
        html.P(cautions.FULL, className="caution"),
        passage_facts(view),
        *_part("Findings", findings, view),
        *_part("Correction sheet", sheet, view),
        *_part("Readiness", readiness, view),
        html.H2("Track and strips", className="part"),
        *_track_and_strips(view),
        *_part("Water", water, view),
        *_part("Wind", wind, view),
        *_part("Sources", sources, view),
        *_part("Weather", weather, view),
        *_part("Routes", routes, view),
        *_part("Polar", polar, view),
        *_part("Steering", steering, view),
        *_part("Traffic", traffic, view),
        *_part("Emergencies", emergencies, view),
        *_part("Trip", trip, view),
        html.H2("The recording", className="part"),
        *_log(view),
        panel("How this was worked out", html.Ul([html.Li(line) for line in METHOD]), wide=True),
    ]


def sheet_content(opened: Opened, dress: Dress) -> list[Any]:
    """Put the readiness sheet together, the one page of it."""
    view = View(opened, Dress(next(iter(THEMES)), dress.clock, dress.clock_choice, dress.units))
    return readiness.on_paper(view)


def _part(title: str, page: Any, view: View) -> list[Any]:
    make = getattr(page, "on_paper", page.layout)
    return [html.H2(title, className="part"), *make(view)]


def _track_and_strips(view: View) -> list[Any]:
    opened, dress = view.opened, view.dress
    scene = opened.scene
    parts: list[Any] = []
    if scene.plane is not None:
        channel = FIRST_CHOICE if FIRST_CHOICE in scene.columns else None
        figure, shown = drawn_track(scene, opened.coast, dress, channel)
        parts += [html.Div(graph("track", figure), className="chart track"), html.P(shown, className="small")]
    if rows := placed_rows(scene):
        figure, shown = drawn_strips(scene, dress, None)
        figure["layout"]["margin"] = figure["layout"]["margin"] | {"r": 20}
        figure["layout"]["annotations"] = [
            {
                "text": f"{place.row.title}: {', '.join(trace.name for trace in place.traces)}",
                "x": 0,
                "y": place.top,
                "xref": "paper",
                "yref": "paper",
                "xanchor": "left",
                "yanchor": "bottom",
                "showarrow": False,
            }
            for place in rows
        ]
        parts += [
            html.Div(graph("strips", figure), className="chart strips"),
            html.P(shown, className="small"),
        ]
    return parts or [html.P("The recording has neither a track nor anything to draw through time.")]


def _log(view: View) -> list[Any]:
    passage = view.opened.review.passage
    missing = missing_texts(passage, view.opened.scene.channels) if len(view.opened.scene.time_ms) else []
    return [log_panel(passage, missing), account_panel(passage.counts), sources_panel(passage)]
