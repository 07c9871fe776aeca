"""The Polar page: what the boat makes of the wind, how sure that is, and how she sailed against a table."""

from collections.abc import Sequence
from typing import Any

import numpy as np
from dash import Dash, html

from analysis.estimate import SIGMAS_95
from analysis.performance import BestAngle, Cells, Comparison, Polar, Sailed, Tacks
from analysis.performance.asymmetry import ON_THE_WIND
from analysis.performance.surface import RISING_TO_KN
from app.addresses import POLAR_FILE, address
from app.desk import Desk
from app.dress import Dress
from app.figures.polar import percent_through_time, polar_diagram
from app.sections.polar import against_text, best_text, minutes_text, tacks_text, wind_text
from app.units import Units
from app.view import View, Views

from .giving import giving_panel
from .graph import graph
from .parts import conclusion, panel, term
from .wording import NOTHING

TITLE = "Polar"
CURVE_STEP_DEG = 2.5
GIVE = (
    "Drop a table anywhere on this page to hold the passage against it: a row for every true wind angle, a column "
    "for every true wind speed in kn. It is kept while the passage is open (--polar FILE gives it from the start)."
)
TACK_TITLES = {"starboard": "Starboard tack alone", "port": "Port tack alone"}


def layout(view: View) -> list[Any]:
    """Lay the page out: the sentence, the diagram, best angles and tacks, the table, the passage against a table."""
    polar = view.opened.review.case.polar
    if polar.sailed is None:
        return _none(polar)
    return [
        conclusion(conclusion_text(polar.sailed, view.dress.units)),
        html.Div(
            [
                _diagram(polar.sailed, view.dress),
                html.Div(
                    [
                        _best(polar.sailed.best, view.dress.units),
                        _tacks(polar.sailed, view.dress.units),
                        _method(polar, view.dress.units),
                    ],
                    className="polar-column",
                ),
                _table(
                    polar.sailed, view.dress.units, apart=True, keep=f"{address(view.opened.key)}{POLAR_FILE}"
                ),
                _through_time(polar.sailed, view),
                giving_panel(view, "speeds", "Give a table of speeds", GIVE),
            ],
            className="panels",
        ),
    ]


def on_paper(view: View) -> list[Any]:
    """Say the same on paper: diagram, best angles and the table of both tacks."""
    polar = view.opened.review.case.polar
    if polar.sailed is None:
        return _none(polar)
    return [
        conclusion(conclusion_text(polar.sailed, view.dress.units)),
        html.Div(
            [
                _diagram(polar.sailed, view.dress),
                _best(polar.sailed.best, view.dress.units),
                _table(polar.sailed, view.dress.units, apart=False),
                _method(polar, view.dress.units),
            ],
            className="panels",
        ),
    ]


def register(app: Dash, views: Views, desk: Desk) -> None:
    """Wire the page: it answers nothing."""


def conclusion_text(sailed: Sailed, units: Units) -> str:
    """Say the best angles, or how they could be had, and how the passage did against a table given."""
    told = [
        f"best {way} at {best_text(sailed.best, upwind, units)}"
        for upwind, way in ((True, "to windward"), (False, "to leeward"))
        if any(one.upwind == upwind and one.twa_deg is not None for one in sailed.best)
    ]
    first = (
        f"From {len(sailed.minutes.time_s)} minutes of steady sailing: {'; '.join(told)}."
        if told
        else f"{len(sailed.minutes.time_s)} minutes of steady sailing show a polar, but no best angle: no angle "
        "was sailed past on both sides."
    )
    table = f" Against the table: {against_text(sailed)}." if sailed.against.imported else ""
    return f"{first}{table}"


def _none(polar: Polar) -> list[Any]:
    return [
        conclusion(f"This passage shows no polar: {polar.why}."),
        html.P(
            [
                "It takes speed through the water (VHW), apparent wind (MWV R) and heading, and at least half an "
                "hour of steady sailing without engine. ",
                f"Counted: {minutes_text(polar)}.",
            ],
            className="notice",
        ),
    ]


def _diagram(sailed: Sailed, dress: Dress) -> html.Section:
    figure = polar_diagram(
        sailed.minutes, sailed.smooth_every(CURVE_STEP_DEG), sailed.best, sailed.imported, dress
    )
    table = " Dotted: the table given." if sailed.imported is not None else ""
    return panel(
        "Speed through the water by true wind angle",
        html.P(
            [
                "The wind comes from above. Each point is a minute, each curve the smooth speed in one ",
                term("TWS"),
                f" over the water, drawn where minutes lie about it.{table}",
            ],
            className="small",
        ),
        html.Div(graph("polar-diagram", figure), className="chart diagram"),
    )


def _best(best: Sequence[BestAngle], units: Units) -> html.Section:
    winds = sorted({one.tws_kn for one in best})
    by_place = {(one.tws_kn, one.upwind): one for one in best}
    rows = [
        html.Tr(
            [
                html.Th(wind_text(wind, units), scope="row"),
                *(
                    html.Td(cell, className="" if told else "open")
                    for upwind in (True, False)
                    for cell, told in [_best_cell(by_place[wind, upwind], units)]
                ),
            ]
        )
        for wind in winds
    ]
    return panel(
        "Best angles",
        html.Table(
            [
                html.Thead(
                    html.Tr([html.Th(text, scope="col") for text in ("TWS", "to windward", "to leeward")])
                ),
                html.Tbody(rows),
            ]
        ),
        html.P(
            [
                "The ",
                term("TWA"),
                " that makes the most good against or before the wind, and the speed made good. ± is 95 %.",
            ],
            className="small",
        ),
    )


def _best_cell(one: BestAngle, units: Units) -> tuple[str, bool]:
    if one.twa_deg is None or one.vmg_kn is None:
        return one.why, False
    kn = units.of("kn")
    angle = f"{one.twa_deg:.0f} ± {max(SIGMAS_95 * (one.twa_deg_sd or 0.0), 1.0):.0f}°"
    spread = max(SIGMAS_95 * (one.vmg_kn_sd or 0.0), 0.01) * kn.factor
    return f"{angle}, {one.vmg_kn * kn.factor:.2f} ± {spread:.2f} {kn.symbol}", True


def _tacks(sailed: Sailed, units: Units) -> html.Section:
    kn = units.of("kn")
    rows = [
        html.Tr(
            [
                html.Th(one.point, scope="row"),
                html.Td(tacks_text(one)),
                html.Td(_angle_text(one)),
                html.Td(f"{one.minutes_starboard} / {one.minutes_port} min"),
            ]
        )
        for one in sailed.tacks
    ]
    if not rows:
        return panel(
            "Tack against tack",
            html.P("On no point of sail were both tacks sailed for ten steady minutes.", className="notice"),
        )
    head = ("", "speed in like wind", "TWA sailed, stbd less port", "stbd / port")
    scatter = kn.factor * float(sailed.surface.scatter.mean())
    return panel(
        "Tack against tack",
        html.Table([html.Thead(html.Tr([html.Th(text, scope="col") for text in head])), html.Tbody(rows)]),
        html.P(
            "A difference in speed can come from a vane that is turned, a log off the centre line, or waves on "
            "one bow; the angle sailed is also the helmsman's choice. A minute strays "
            f"{scatter:.2f} {kn.symbol} from the smooth surface.",
            className="small",
        ),
    )


def _angle_text(one: Tacks) -> str:
    """The angles sailed on the wind tell of the boat; further off they are the course that was wanted."""
    if one.point != ON_THE_WIND:
        return NOTHING
    return f"{one.twa_deg:+.1f} ± {SIGMAS_95 * one.twa_deg_sd:.1f}°".replace("-", "−")


def _method(polar: Polar, units: Units) -> html.Section:
    return panel(
        "What it is made of",
        html.P(f"Steady minutes: {minutes_text(polar)}.", className="small"),
        html.P(
            "Speed is STW over the cosine of leeway, wind is over the water, both as corrected. The smooth surface "
            f"is the same on both tacks and, up to {wind_text(RISING_TO_KN, units)} of wind, never slower in more "
            "wind. The ± holds scatter, its memory from minute to minute, and what the corrections leave open. It "
            "is the polar of this passage's sea, sails and load, no other.",
            className="small",
        ),
    )


def _table(sailed: Sailed, units: Units, apart: bool, keep: str = "") -> html.Section:
    kn = units.of("kn")
    marked = {
        (one.tws_kn, one.twa_deg): f"{sign} {one.table_kn * kn.factor:.2f}"
        for sign, cells in (("<", sailed.against.unreachable), (">", sailed.against.beaten))
        for one in cells
    }
    legend = (
        " > and the table's speed: it is beaten; <: it is out of reach of nine minutes in ten; both beyond the ±."
        if sailed.against.imported
        else ""
    )
    return panel(
        f"The polar in numbers [{kn.symbol}]",
        html.P(
            "Each cell: the median with its ± at 95 %; below it the speed that nine minutes in ten stay under, and "
            f"how many minutes there are. Cells with fewer than five minutes show only their number.{legend}",
            className="small",
        ),
        html.Div(_cells_table(sailed, sailed.cells["both"], units, marked), className="sideways"),
        *_judged(sailed, units),
        *(
            [
                html.P(
                    html.A(
                        "Keep the smooth speeds as a table, CSV in kn", href=keep, download="", target="_self"
                    )
                )
            ]
            if keep
            else []
        ),
        *(
            html.Details(
                [
                    html.Summary(title),
                    html.Div(_cells_table(sailed, sailed.cells[tack], units, {}), className="sideways"),
                ]
            )
            for tack, title in TACK_TITLES.items()
            if apart
        ),
        wide=True,
    )


def _cells_table(
    sailed: Sailed, cells: Cells, units: Units, marked: dict[tuple[float, float], str]
) -> html.Table:
    kn, grid = units.of("kn"), sailed.grid
    head = [
        html.Th("TWA / TWS", scope="col"),
        *(html.Th(wind_text(wind, units), scope="col") for wind in grid.tws_kn),
    ]
    rows = [
        html.Tr(
            [
                html.Th(f"{angle:.0f}°", scope="row"),
                *(
                    _cell(cells, (row, col), kn.factor, marked.get((float(wind), float(angle)), ""))
                    for col, wind in enumerate(grid.tws_kn)
                ),
            ]
        )
        for row, angle in enumerate(grid.twa_deg)
        if cells.minutes[row].any()
    ]
    return html.Table([html.Thead(html.Tr(head)), html.Tbody(rows)], className="polar-cells")


def _cell(cells: Cells, at: tuple[int, int], factor: float, mark: str) -> html.Td:
    count = int(cells.minutes[at])
    if not np.isfinite(cells.median_kn[at]):
        return html.Td(html.Span(f"{count} min" if count else NOTHING, className="few"))
    spread = max(SIGMAS_95 * cells.median_kn_sd[at], 0.01) * factor
    return html.Td(
        [
            html.Div([html.B(f"{cells.median_kn[at] * factor:.2f}"), f" ± {spread:.2f} {mark}".rstrip()]),
            html.Div(f"{cells.upper_kn[at] * factor:.2f} · {count} min", className="few"),
        ]
    )


def _judged(sailed: Sailed, units: Units) -> list[Any]:
    """Where a table given is out of reach or beaten, in words."""
    if not sailed.against.imported:
        return []
    texts = [
        (f"The table is {word} at ", cells)
        for word, cells in (
            ("out of reach", sailed.against.unreachable),
            ("beaten", sailed.against.beaten),
        )
        if cells
    ]
    if not texts:
        return [html.P("Nowhere is the table surely beaten or surely out of reach.")]
    return [
        html.P(f"{start}{'; '.join(_judged_cell(one, units) for one in cells)}.") for start, cells in texts
    ]


def _judged_cell(one: Comparison, units: Units) -> str:
    kn = units.of("kn")
    spread = SIGMAS_95 * one.sailed_kn_sd * kn.factor
    return (
        f"{one.twa_deg:.0f}° in {wind_text(one.tws_kn, units)} ({one.sailed_kn * kn.factor:.1f} "
        f"± {spread:.1f} for {one.table_kn * kn.factor:.1f})"
    )


def _through_time(sailed: Sailed, view: View) -> html.Section:
    scene = view.opened.scene
    against = sailed.against
    what = "the table" if against.imported else "her own polar"
    title = f"The passage against {what}"
    if not np.isfinite(against.percent).any():
        return panel(title, html.P("No minute lies within the table.", className="notice"), wide=True)
    span = float(scene.time_ms[0]), float(scene.time_ms[-1])
    return panel(
        title,
        html.P(f"Speed in per cent of what {what} has for the wind of the same minute.", className="small"),
        html.Div(
            graph(
                "polar-percent",
                percent_through_time(sailed.minutes, against, view.dress, scene.dated, span),
            ),
            className="chart tall",
        ),
        wide=True,
    )
