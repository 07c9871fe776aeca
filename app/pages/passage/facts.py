"""When the passage was, how long and how far."""

from dash import html

from analysis.review import Review
from app.addresses import address, whole_of
from app.dress import Dress
from app.figures.scene import Scene
from app.pages.wording import NOTHING, duration_text, time_text, value_text
from app.view import View


def passage_facts(view: View) -> html.Dl:
    """Give the times and distances of the passage."""
    opened, dress = view.opened, view.dress
    facts = (*_times(opened.scene, dress), *_distances(opened.review, dress))
    told = [html.Div([html.Dt(term), html.Dd(text)]) for term, text in facts]
    whole, span = whole_of(opened.key)
    if span is not None:
        way = html.A("the whole passage", href=address(whole), id="whole-passage")
        told.append(html.Div([html.Dt("A stretch of"), html.Dd(way)]))
    return html.Dl(told, className="facts")


def _times(scene: Scene, dress: Dress) -> list[tuple[str, str]]:
    if not len(scene.time_ms):
        return [("Start", NOTHING), ("End", NOTHING), ("Duration", NOTHING)]
    start, end = float(scene.time_ms[0]), float(scene.time_ms[-1])
    return [
        *([] if scene.dated else [("Date", "unknown; give it with --date")]),
        ("Start", time_text(start, start, scene.dated, dress.clock)),
        ("End", time_text(end, start, scene.dated, dress.clock)),
        ("Duration", duration_text((end - start) / 1000)),
    ]


def _distances(review: Review, dress: Dress) -> list[tuple[str, str]]:
    distance, top = review.summary.get("distance_over_ground_nm"), review.summary.get("max_sog_kn")
    nm = dress.units.of("nm")
    return [
        (
            "Distance over ground",
            NOTHING if not isinstance(distance, float) else f"{distance * nm.factor:.1f} {nm.symbol}",
        ),
        (
            "Fastest over ground",
            NOTHING if not isinstance(top, float) else value_text("sog_kn", top, units=dress.units),
        ),
    ]
