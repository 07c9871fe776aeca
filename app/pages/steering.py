"""The Steering page: is the rudder sensor right, how does she answer, which wind to steer by, what gusts do."""

from typing import Any

from dash import Dash, html

from analysis.estimate import SIGMAS_95, Estimate
from analysis.steering import ByAngle, Gusts, Rudder, Steadiness
from app.desk import Desk
from app.figures.steering import answer_by_turn, mean_gust, rudder_by_heel, swings_by_angle
from app.sections.steering import (
    comparison_text,
    gusts_text,
    helm_text,
    no_rudder,
    offset_text,
    response_text,
    steered_text,
)
from app.view import View, Views

from .graph import graph
from .parts import conclusion, panel, term
from .wording import NOTHING, duration_text, value_text

TITLE = "Steering"
LEAST_CHARTED = 5


def layout(view: View) -> list[Any]:
    """Lay the page out: the sentence, the rudder, her answer, steadiness, gusts."""
    case = view.opened.review.case
    rudder, steady, gusts = case.rudder, case.steadiness, case.gusts
    if rudder is None and steady.missing and gusts.missing:
        return [
            conclusion("The recording tells nothing of the steering."),
            html.P(
                " ".join(dict.fromkeys((no_rudder(view.opened.review), steady.missing))), className="notice"
            ),
        ]
    return [
        conclusion(conclusion_text(rudder, steady)),
        html.Div(
            [*_rudder(rudder, view), *_steadiness(steady, view), *_gusts(gusts, view)], className="panels"
        ),
    ]


def register(app: Dash, views: Views, desk: Desk) -> None:
    """Wire the page: it answers nothing."""


def conclusion_text(rudder: Rudder | None, steady: Steadiness) -> str:
    """Say what the sensor is off by, and which wind to steer by."""
    return f"{_sensor_text(rudder)} {_wind_text(steady)}".strip()


def _sensor_text(rudder: Rudder | None) -> str:
    if rudder is None:
        return "The recording has no rudder angle."
    if rudder.still:
        return "The rudder sensor stood still while the boat turned."
    if rudder.reversed:
        return "The rudder sensor seems to have the wrong sign."
    one = rudder.judged
    if not one.determined or one.value is None:
        return "The recording does not tell what the rudder sensor is off by."
    spread = max(SIGMAS_95 * (one.sd or 0.0), 0.1)
    if abs(one.value) <= spread:
        return f"The rudder sensor is right within {spread:.1f}°."
    side = "starboard" if one.value < 0 else "port"
    return f"The rudder sensor shows {abs(one.value):.1f}° ± {spread:.1f}° too far to {side}."


def _wind_text(steady: Steadiness) -> str:
    told = [f"{one.name} by {one.steadier}" for one in (steady.upwind, steady.downwind) if one.steadier]
    if not told:
        return "Which wind angle is the steadier to steer by is not determined."
    return f"Steer {' and '.join(told)}: that direction swings less."


def _rudder(rudder: Rudder | None, view: View) -> list[html.Section]:
    title = "The rudder sensor"
    if rudder is None:
        return [panel(title, html.P(no_rudder(view.opened.review), className="notice"))]
    still = [
        html.P(
            f"Stood at {one.value_deg:.1f}° from {view.dress.clock.at(one.start.timestamp() * 1000):%H:%M} for "
            f"{duration_text((one.end - one.start).total_seconds())} through {one.turns} turns.",
            className="notice",
        )
        for one in rudder.still
    ]
    rows = [
        ("Offset", offset_text(rudder)),
        ("Helm", helm_text(rudder)),
        *[
            (
                f"On {tack.side} tack",
                f"shows {round(tack.mean_deg, 1) + 0.0:+.1f}° in the mean of {duration_text(tack.duration_s)}"
                + (f", heel {value_text('heel_deg', tack.heel_deg)}" if tack.heel_deg is not None else ""),
            )
            for tack in rudder.tacks
        ],
        ("Range", "–" if rudder.range_deg is None else _range_text(rudder.range_deg)),
        ("Jitter", "–" if rudder.noise_deg is None else f"{rudder.noise_deg:.2f}° from reading to reading"),
        ("Last digit", "–" if rudder.step_deg is None else f"{rudder.step_deg:.1f}°"),
    ]
    charted = len(rudder.piece_rudder_deg) >= LEAST_CHARTED
    chart = [html.Div(graph("rudder-heel", rudder_by_heel(rudder, view.dress)), className="chart tall")]
    response = rudder.response
    answer = [html.Div(graph("answer", answer_by_turn(rudder, view.dress)), className="chart tall")]
    return [
        panel(
            title,
            html.P(
                "Straight stretches only. An offset is alike on both tacks; the helm she carries changes sides. What "
                "turns her the same way on both tacks cannot be told from an offset.",
                className="small",
            ),
            *still,
            _table(rows),
            *(chart if charted else []),
        ),
        panel(
            "How she answers",
            html.P("By quick turns: the rate of turn against the rudder before it.", className="small"),
            _table(
                [
                    ("Response", response_text(rudder)),
                    ("To port", _gain_text(response.to_port)),
                    ("To starboard", _gain_text(response.to_starboard)),
                    ("Play", _play_text(response.play)),
                ]
            ),
            *(answer if len(response.turn_gains) else []),
        ),
    ]


def _range_text(reach: tuple[float, float]) -> str:
    port, starboard = (
        f"{abs(one):.0f}° {'port' if one < 0 else 'starboard'}" if round(one) else "0°" for one in reach
    )
    return f"{port} to {starboard}"


def _gain_text(one: Estimate) -> str:
    if not one.determined or one.value is None:
        return "not determined: fewer than four turns that way"
    return f"{one.value:+.2f} ± {SIGMAS_95 * (one.sd or 0):.2f}°/s for each degree of rudder"


def _play_text(one: Estimate) -> str:
    if not one.determined or one.value is None or one.sd is None:
        return "not determined"
    spread = SIGMAS_95 * one.sd
    if one.value <= spread:
        return f"less than {max(one.value, 0.0) + spread:.1f}°"
    return f"{one.value:.1f}° ± {spread:.1f}° before the shown angle follows a reversal"


def _steadiness(steady: Steadiness, view: View) -> list[html.Section]:
    title = "How steadily, by point of sail"
    if steady.missing:
        return [panel(title, html.P(steady.missing, className="notice"), wide=True)]
    swings = graph("swings", swings_by_angle(steady.classes, view.dress))
    yaw = "; ".join(f"{name} tack {value:.1f} ± {SIGMAS_95 * sd:.1f}°" for name, value, sd in steady.yaw_deg)
    return [
        panel(
            title,
            html.P(
                [
                    "A pilot that holds a wind angle exactly turns the boat by as much as that wind swings, so the "
                    "steadier reference is the wind whose direction swings less. ",
                    term("AWA"),
                    ", ",
                    term("TWA"),
                    " and heading are as she was sailed. One standard deviation in five minutes, turns left out.",
                ],
                className="small",
            ),
            _table(
                [
                    ("Upwind", comparison_text(steady.upwind)),
                    ("Downwind", comparison_text(steady.downwind)),
                    ("Steered by", steered_text(steady)),
                    *([("Heading wanders", yaw)] if yaw else []),
                ]
            ),
            *([html.Div(swings, className="chart tall")] if len(steady.classes) > 1 else []),
            html.Div(_classes(steady.classes), className="scroll"),
            wide=True,
        )
    ]


def _classes(classes: tuple[ByAngle, ...]) -> html.Table:
    head = ("Point of sail", "TWA", "min", "apparent wind", "true wind", "AWA", "TWA", "heading", "rudder")
    return html.Table(
        [
            html.Thead(
                html.Tr(
                    [
                        html.Th(text, scope="col", className="number" if at else "")
                        for at, text in enumerate(head)
                    ]
                )
            ),
            html.Tbody(
                [
                    html.Tr(
                        [
                            html.Th(one.name, scope="row"),
                            html.Td(f"{one.from_deg:.0f}–{one.to_deg:.0f}°", className="number"),
                            html.Td(f"{one.minutes:.0f}", className="number"),
                            *[
                                html.Td(f"{value:.1f}°" if value is not None else NOTHING, className="number")
                                for value in (
                                    one.awd_deg,
                                    one.twd_deg,
                                    one.awa_deg,
                                    one.twa_deg,
                                    one.heading_deg,
                                    one.rudder_deg,
                                )
                            ],
                        ]
                    )
                    for one in classes
                ]
            ),
        ]
    )


def _gusts(gusts: Gusts, view: View) -> list[html.Section]:
    title = "In gusts"
    if gusts.missing:
        return [panel(title, html.P(gusts.missing, className="notice"))]
    kn = view.dress.units.of("kn")
    built = f" They build from half to full in {gusts.build_s:.0f} s." if gusts.build_s else ""
    charts = [
        part
        for one in gusts.responses
        for part in (
            html.H3(f"The mean gust {one.name}, {one.count} gusts"),
            html.Div(graph(f"gust-{one.name}", mean_gust(one, view.dress)), className="chart tall"),
        )
    ]
    return [
        panel(
            title,
            html.P(f"{gusts_text(gusts, kn)[:1].upper()}{gusts_text(gusts, kn)[1:]}.{built}"),
            html.P(
                "A gust is a mean of 3 s that stands 2 kn and 1.5 standard deviations above that of 10 min, by the "
                "true wind over the water.",
                className="small",
            ),
            *charts,
            wide=True,
        )
    ]


def _table(rows: list[tuple[str, str]]) -> html.Table:
    return html.Table(
        html.Tbody([html.Tr([html.Th(name, scope="row"), html.Td(text)]) for name, text in rows]),
        className="steering-table",
    )
