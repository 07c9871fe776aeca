"""The correction sheet: what to enter in which instrument, on one page for the chart table."""

from collections.abc import Sequence
from typing import Any

import numpy as np
from dash import ClientsideFunction, Dash, Input, html

from analysis.calibration.water import DEVIATION
from analysis.correction import neutral
from analysis.deviation_card import CardRow, card_of, card_rows
from analysis.estimate import SIGMAS_95, Estimate
from analysis.findings.telling import listed
from analysis.passage import column
from analysis.review import Review
from app.desk import Desk
from app.view import View, Views

from .corrections import CORRECTIONS, WAYS, number_text, within_text
from .parts import conclusion
from .wording import NOTHING

TITLE = "Correction sheet"
STEP_DEG = 30
LAGS = {"heading_lag_s": "Compass", "awa_lag_s": "Wind vane", "stw_lag_s": "Log"}
_LONGER = "Sail a longer passage on more courses"
ENTERED = (
    "log_factor",
    "log_zero_offset_kn",
    "compass_constant_deg",
    "vane_offset_deg",
    "upwash_deg",
    "wind_speed_factor",
    "leeway_coefficient",
    "barometer_offset_hpa",
)


def layout(view: View) -> list[Any]:
    """Lay the sheet out."""
    return [
        conclusion(conclusion_text(view.opened.review)),
        html.Div(
            [
                html.Button("Print the sheet", id="print-sheet", type="button", className="screen-only"),
                *_parts(view),
            ],
            className="panel correction-sheet",
        ),
    ]


def register(app: Dash, views: Views, desk: Desk) -> None:
    """Wire the printing."""
    app.clientside_callback(
        ClientsideFunction("findings", "print"), Input("print-sheet", "n_clicks"), prevent_initial_call=True
    )


def conclusion_text(review: Review) -> str:
    """Say how much there is to enter and how much is open."""
    told, still_open = _told(review), _open(review)
    if not told and not still_open:
        return "The recording has no instrument that could be corrected."
    worth = [WAYS[name].label for name in told if _worth(review, name)]
    enter = (
        f"{len(worth)} correction{'s' * (len(worth) != 1)} to enter: {listed(worth)}."
        if worth
        else "No correction needs to be entered."
    )
    left = f" Not determined: {listed([WAYS[name].label for name in still_open])}." if still_open else ""
    return f"{enter}{left}"


def _parts(view: View) -> list[Any]:
    review = view.opened.review
    told, still_open = _told(review), _open(review)
    return [
        html.Div([html.H2("Correction sheet"), html.Span(_origin(view))], className="sheet-head"),
        html.P(
            "Boat ______________________   Date ______________   Entered by ____________________",
            className="to-sign",
        ),
        *_mend_first(review),
        _entered(review, told),
        *([_which_sign()] if told else []),
        *_open_part(review, still_open),
        *_deviation(review),
        *_lags(review),
        html.P(
            "Enter one at a time, and verify at sea in safe water before relying on it.", className="small"
        ),
        html.P(
            "Checked at sea ____________   by ______________________   Signed ______________________",
            className="to-sign",
        ),
    ]


def _which_sign() -> html.P:
    return html.P(
        [
            html.B("Which sign? "),
            "Some instruments ask for what they shall add to what they show, others for how much they read high. "
            "Both numbers stand here; once one is entered, the instrument must show what the line calls true. "
            "± is the 95 % interval.",
        ],
        className="small",
    )


def _origin(view: View) -> str:
    scene = view.opened.scene
    if not len(scene.time_ms) or not scene.dated:
        return f"from {view.opened.name}"
    clock = view.dress.clock
    first, last = (clock.at(float(scene.time_ms[row])) for row in (0, -1))
    return f"from {view.opened.name}, {first:%d %b %Y %H:%M} to {last:%d %b %H:%M} {clock.name}"


def _told(review: Review) -> list[str]:
    """The corrections that are determined, or set by hand."""
    known = review.calibration
    return [
        name for name in ENTERED if name in known and known[name].determined and known[name].value is not None
    ]


def _open(review: Review) -> list[str]:
    """The corrections that are not determined though the log has readings of the instrument."""
    frame, known = review.passage.frame, review.calibration
    return [
        name
        for name in ENTERED
        if name in known and not known[name].determined and WAYS[name].channel in frame
    ]


def _worth(review: Review, name: str) -> bool:
    """Whether a correction is surely not nil, and the same all through the passage."""
    one = review.calibration[name]
    return not _changed(review, name) and abs((one.value or 0.0) - neutral(name)) > SIGMAS_95 * (
        one.sd or 0.0
    )


def _changed(review: Review, name: str) -> bool:
    """Whether what a correction stands for changed on the way, so that its mean helps nobody."""
    alike = DEVIATION if name in DEVIATION else (name,)
    changes = {one.name for one in review.case.calibration.changes}
    return bool(changes & set(alike)) and name not in review.settings.corrections


def _mend_first(review: Review) -> list[Any]:
    """What is to be put right by hand, not by a number."""
    found = [
        one for one in review.findings if one.severity != "note" and one.id not in CORRECTIONS and one.action
    ]
    if not found:
        return []
    return [
        html.H3("Put right first"),
        html.Ul([html.Li([html.B(f"{one.title} "), one.action]) for one in found]),
    ]


def _entered(review: Review, told: Sequence[str]) -> html.Table | html.P:
    if not told:
        return html.P("No correction is determined by this passage.", className="notice")
    head = (
        "Instrument",
        "If it adds what you enter",
        "If it asks by how much it reads high",
        "±",
        "That means",
    )
    return html.Table(
        [
            html.Thead(html.Tr([html.Th(text, scope="col") for text in head])),
            html.Tbody([_line(review, name) for name in told]),
        ]
    )


def _line(review: Review, name: str) -> html.Tr:
    way, one = WAYS[name], review.calibration[name]
    value, spread = float(one.value or 0.0), SIGMAS_95 * (one.sd or 0.0)
    adds, high = _both_ways(name, value, spread)
    by_hand = name in review.settings.corrections
    means = _means(name, value)
    if _changed(review, name):
        means = "Do not enter: it changed on the way, and this is the mean. Find the cause first."
    elif not by_hand and not _worth(review, name):
        means = "Nothing to enter: it is right within the ±."
    return html.Tr(
        [
            html.Th([way.instrument, html.Div(way.label, className="small")], scope="row"),
            html.Td(adds, className="enter"),
            html.Td(high, className="enter"),
            html.Td(
                within_text(name, spread) if spread else "by hand" if by_hand else NOTHING, className="number"
            ),
            html.Td(means),
        ],
        className="" if by_hand or _worth(review, name) else "nil",
    )


def _both_ways(name: str, value: float, spread: float) -> tuple[str, str]:
    """Write a correction as it is entered in an instrument of either convention."""
    if name == "leeway_coefficient":
        return number_text(name, value, spread), NOTHING
    if not WAYS[name].signed:
        adds = f"{number_text(name, value, spread)} ({_percent(100 * (value - 1))})"
        return adds, _reads(100 * (1 / value - 1))
    return number_text(name, value, spread), number_text(name, -value, spread)


def _means(name: str, value: float) -> str:
    if name == "leeway_coefficient":
        return f"Leeway [°] = {value:.1f} × heel [°] / STW² [kn²], toward the side she heels to."
    if name == "log_factor":
        return f"Shown 6.00 kn, true {6 * value:.2f} kn."
    if name == "log_zero_offset_kn":
        return f"Shown 4.00 kn, true {4 + value:.2f} kn."
    if name == "wind_speed_factor":
        return f"Shown 15.0 kn, true {15 * value:.1f} kn."
    if name == "compass_constant_deg":
        return f"Shown 100.0°, true {100 + value:.1f}°."
    if name == "upwash_deg":
        return f"Shown 30.0°, undisturbed {30 + value:.1f}°, on both tacks; less with the wind further aft."
    if name == "vane_offset_deg":
        return f"Shown {_side(30)}, true {_side(30 + value)}; shown {_side(-30)}, true {_side(-30 + value)}."
    return f"Shown 1010.0 hPa, true {1010 + value:.1f} hPa."


def _side(deg: float) -> str:
    turned = (deg + 180) % 360 - 180
    return f"{abs(turned):.1f}° {'stbd' if turned >= 0 else 'port'}"


def _percent(share: float) -> str:
    return f"{share:+.1f} %".replace("-", "−")


def _reads(share: float) -> str:
    return f"{_percent(share)} ({'low' if share < 0 else 'high'})"


def _open_part(review: Review, still_open: Sequence[str]) -> list[Any]:
    if not still_open:
        return []
    grouped: dict[str, list[str]] = {}
    for name in still_open:
        need = review.calibration[name].need
        grouped.setdefault(need.manoeuvre if need is not None else _LONGER, []).append(name)
    rows = [
        html.Tr(
            [
                html.Th(manoeuvre, scope="row"),
                html.Td([html.Div(_tells(name, review.calibration[name])) for name in names]),
            ]
        )
        for manoeuvre, names in grouped.items()
    ]
    return [
        html.H3("Not determined: do this"),
        html.Table(
            [
                html.Thead(html.Tr([html.Th("Do", scope="col"), html.Th("It tells", scope="col")])),
                html.Tbody(rows),
            ]
        ),
    ]


def _tells(name: str, one: Estimate) -> str:
    """Write what a manoeuvre tells of a correction, and how surely."""
    expected = ", ".join(one.expected)
    enough = "" if one.need is None or one.need.enough else "; repeat it in smoother water or a steadier wind"
    return f"{WAYS[name].label}{f' to {expected}' if expected else ''}{enough}"


def _deviation(review: Review) -> list[Any]:
    if "heading_true_deg" not in review.passage.frame:
        return []
    title = html.H3("Deviation card (east +, magnetic = compass + deviation)")
    if _changed(review, DEVIATION[0]):
        return [title, html.P("None: the compass changed on the way. Find the cause, then swing it anew.")]
    card = card_of(review.case.calibration, review.calibration)
    if card is None:
        one = review.calibration.get(DEVIATION[1])
        needs = one.needs if one is not None and one.needs else "Sail on courses all round the compass."
        return [title, html.P(f"Not determined: do this. {needs}")]
    rows = card_rows(card, column(review.frame, "variation_deg"), STEP_DEG)
    letters = ", ".join(
        f"{letter} {number_text(name, float(one.value or 0.0), SIGMAS_95 * (one.sd or 0.0))}"
        for letter, name in zip("ABCDE", DEVIATION, strict=True)
        if (one := review.calibration.get(name)) is not None
    )
    unread = sum(not row.readable for row in rows)
    remark = f" {NOTHING}: not determined to better than 3°." if unread else ""
    return [
        title,
        html.Div(html.Table(_card_rows(rows), className="across"), className="scroll"),
        html.P(f"{letters}.{remark}", className="small"),
    ]


def _card_rows(rows: list[CardRow]) -> list[Any]:
    lines = (
        ("Compass", [f"{row.compass_deg:03.0f}°" for row in rows]),
        (
            "Deviation",
            [number_text(DEVIATION[0], row.deviation_deg) if row.readable else NOTHING for row in rows],
        ),
        ("±", [f"{max(row.within_deg, 0.1):.1f}°" for row in rows]),
    )
    return [
        html.Tbody(
            [
                html.Tr([html.Th(name, scope="row"), *(html.Td(text, className="number") for text in texts)])
                for name, texts in lines
            ]
        )
    ]


def _lags(review: Review) -> list[Any]:
    told = [
        f"{instrument}: {_late(one)}"
        for name, instrument in LAGS.items()
        if (one := review.calibration.get(name)) is not None
        and one.value is not None
        and np.isfinite(one.value)
    ]
    return [html.P([html.B("How late they come. "), f"{'; '.join(told)}."])] if told else []


def _late(one: Estimate) -> str:
    if not one.determined:
        return "not determined"
    return f"{one.value:.1f} ± {SIGMAS_95 * (one.sd or 0.0):.1f} s"
