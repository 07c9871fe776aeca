"""The head of the page: which passage, when, how far, the light to read it by, and the caution."""

from collections.abc import Mapping
from pathlib import PurePath
from typing import Any

from dash import dcc, html

from analysis.passage import Passage
from app.figures.palette import THEMES
from app.figures.scene import Scene

from .wording import NOTHING, duration_text, time_text, value_text

CAUTION = "Not for navigation. Keep a lookout; verify at sea in safe water."


def header(passage: Passage, summary: Mapping[str, Any], scene: Scene, theme: str) -> html.Header:
    """Name the passage and give its times and distance."""
    names = [PurePath(file).name for file in passage.files]
    name = (names[0] if names else "Passage") + (f" and {len(names) - 1} more" if len(names) > 1 else "")
    return html.Header(
        [
            html.Div(
                [
                    html.Span("sternlog", className="mark"),
                    html.H1(name, id="passage-name", title=name),
                ],
                className="name",
            ),
            html.Dl(
                [
                    html.Div([html.Dt(term), html.Dd(text)])
                    for term, text in (*_times(scene), *_distances(summary))
                ],
                className="facts",
            ),
            html.Div(
                dcc.RadioItems(
                    id="theme",
                    options=[{"label": choice.label, "value": key} for key, choice in THEMES.items()],
                    value=theme,
                    inline=True,
                ),
                className="themes",
                role="group",
                **{"aria-label": "Light"},
            ),
            html.P(CAUTION, className="caution", id="caution"),
        ]
    )


def _times(scene: Scene) -> list[tuple[str, str]]:
    if not len(scene.time_ms):
        return [("Start", NOTHING), ("End", NOTHING), ("Duration", NOTHING)]
    start, end = float(scene.time_ms[0]), float(scene.time_ms[-1])
    return [
        *([] if scene.dated else [("Date", "unknown; give it with --date")]),
        ("Start", time_text(start, start, scene.dated)),
        ("End", time_text(end, start, scene.dated)),
        ("Duration", duration_text((end - start) / 1000)),
    ]


def _distances(summary: Mapping[str, Any]) -> list[tuple[str, str]]:
    distance, top = summary.get("distance_over_ground_nm"), summary.get("max_sog_kn")
    return [
        ("Distance over ground", NOTHING if distance is None else f"{distance:.1f} nm"),
        ("Fastest over ground", NOTHING if top is None else value_text("sog_kn", top)),
    ]
