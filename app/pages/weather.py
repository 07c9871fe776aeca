"""The Weather page: what pressure and wind did, and how far the forecast was to be trusted."""

from collections.abc import Callable
from typing import Any

import numpy as np
from dash import Dash, html

from analysis.weather import TWD, TWS, ForecastCheck, PressureRecord, Tendency, Weather, change_text
from analysis.weather.words import bias_text, shift_text, trust_text
from app import cautions
from app.desk import Desk
from app.figures.weather import CHI2_95, errors_chart, forces_chart, pressure_chart, timing_chart, wind_chart
from app.sections.weather import no_pressure, no_wind, pressure_rows, tendency_text, wind_text
from app.view import View, Views

from .giving import giving_panel
from .graph import graph
from .parts import conclusion, panel, term
from .wording import passage_time_text

TITLE = "Weather"
LEAST_CHARTED = 3
TOO_FEW = "A chart takes half an hour."
QUANTITIES = {TWS: "Wind speed", TWD: "Wind direction"}
HOW = (
    "Drop a forecast anywhere on this page to hold the passage against it: a table with time, lat, lon, twd, tws and "
    "pressure, or some of these, or a GRIB file. It is kept while the passage is open (--forecast FILE gives it from "
    "the start)."
)


def layout(view: View) -> list[Any]:
    """Lay the page out: the sentence, pressure, wind, and the forecast held against both."""
    weather = view.opened.review.case.weather
    if weather.pressure is None and weather.wind is None:
        return _none(view)
    return [
        conclusion(conclusion_text(weather, view)),
        html.P(cautions.WEATHER, className="caution"),
        html.Div(
            [
                _pressure(weather, view),
                _wind(weather, view),
                *_forecast(weather, view),
                giving_panel(view, "forecast", "Give a forecast", HOW),
            ],
            className="panels",
        ),
    ]


def on_paper(view: View) -> list[Any]:
    """Say the same on paper, without the forces and the timing."""
    weather = view.opened.review.case.weather
    if weather.pressure is None and weather.wind is None:
        return _none(view)
    told = [_pressure(weather, view), _wind(weather, view, forces=False)]
    if weather.forecast is not None:
        told.append(_scores(weather.forecast, view))
    return [
        conclusion(conclusion_text(weather, view)),
        html.P(cautions.WEATHER, className="caution"),
        html.Div(told, className="panels"),
    ]


def _none(view: View) -> list[Any]:
    review = view.opened.review
    lacking = dict.fromkeys((no_pressure(review), no_wind(review)))
    return [
        conclusion("Of the weather nothing can be said."),
        html.P(" ".join(lacking), className="notice"),
    ]


def register(app: Dash, views: Views, desk: Desk) -> None:
    """Wire the page: it answers nothing."""


def conclusion_text(weather: Weather, view: View) -> str:
    """Say what the glass did, and what the forecast was worth."""
    told = [] if weather.pressure is None else [_glass_text(weather.pressure, view)]
    if weather.forecast is not None:
        told.append(trust_text(weather.forecast, _speed(view)))
    elif weather.wind is not None:
        strongest = _speed(view)(weather.wind.strongest_kn, None)
        when = _at(view)(weather.wind.strongest_s)
        told.append(f"The strongest ten minutes by the clock had {strongest} at {when}.")
    return " ".join(told)


def _glass_text(record: PressureRecord, view: View) -> str:
    if not np.isfinite(record.amount_hpa).any():
        return "The pressure was not recorded for three hours on end, so its tendency is not known."
    fall, rise = record.fastest_fall, record.fastest_rise
    told = [
        f"{word} {abs(one.amount_hpa):.1f} hPa in the three hours to {_at(view)(one.time_s)} "
        f"({change_text(one.amount_hpa)})"
        for word, one in (("fell fastest by", fall), ("rose fastest by", rise))
        if one is not None
    ]
    return f"The pressure {' and '.join(told)}." if told else "The pressure kept steady."


def _pressure(weather: Weather, view: View) -> html.Section:
    record, dress, dated = weather.pressure, view.dress, view.opened.scene.dated
    if record is None:
        return panel("Pressure", html.P(no_pressure(view.opened.review), className="notice"), wide=True)
    height = f", reduced from {record.height_m:g} m" if record.height_m else ""
    level = (
        f"Held against a reference{height}."
        if record.checked
        else f"The barometer was not held against a reference{height} (--pressure gives one): changes are right, the "
        "level may be off by its offset."
    )
    rows = [
        html.Tr([html.Th(name, scope="row"), html.Td(_tendency_text(one, view))])
        for name, one in (
            ("Last full hour", record.hourly[-1] if record.hourly else None),
            ("Fastest fall", record.fastest_fall),
            ("Fastest rise", record.fastest_rise),
        )
        if one is not None
    ]
    title = "Pressure at sea level"
    if np.isfinite(record.sea_level_hpa).sum() < LEAST_CHARTED:
        _, span = pressure_rows(record, _at(view))[0]
        return panel(title, html.P(f"{span}. {TOO_FEW}", className="notice"), wide=True)
    below = [" Below: the ", term("tendency", "change over three hours"), " at every full hour UTC."]
    return panel(
        title,
        html.P([level, *(below if record.hourly else [])], className="small"),
        html.Div(
            graph("weather-pressure", pressure_chart(record, weather.forecast, dress, dated)),
            className="chart double" if record.hourly else "chart",
        ),
        html.Table(html.Tbody(rows)) if rows else None,
        wide=True,
    )


def _tendency_text(one: Tendency, view: View) -> str:
    return ("−" if one.amount_hpa < 0 else "") + tendency_text(one, _at(view)).removeprefix("-")


def _wind(weather: Weather, view: View, forces: bool = True) -> html.Section:
    record, dress, dated = weather.wind, view.dress, view.opened.scene.dated
    if record is None:
        return panel(
            "Wind over the ground", html.P(no_wind(view.opened.review), className="notice"), wide=True
        )
    title, text = "Wind over the ground", wind_text(record, _at(view), _speed(view))
    if np.isfinite(record.tws_kn).sum() < LEAST_CHARTED:
        return panel(title, html.P(f"Corrected, {text}. {TOO_FEW}", className="notice"), wide=True)
    return panel(
        title,
        html.P(f"Ten-minute means, corrected; {text}.", className="small"),
        html.Div(
            graph("weather-wind", wind_chart(record, weather.forecast, dress, dated)),
            className="chart double",
        ),
        *(
            [
                html.H3("Hours by force"),
                html.Div(graph("weather-forces", forces_chart(record, dress)), className="chart low"),
            ]
            if forces
            else []
        ),
        wide=True,
    )


def _forecast(weather: Weather, view: View) -> list[html.Section]:
    check = weather.forecast
    if check is None:
        return []
    if check.why_not:
        return [
            panel("The forecast", html.P(f"{check.name}: {check.why_not}", className="notice"), wide=True)
        ]
    sections = [
        _scores(check, view),
        panel(
            "Error by hour",
            html.P(
                "Forecast less measured, the mean of every hour; bars are the scatter within it.",
                className="small",
            ),
            html.Div(
                graph("weather-errors", errors_chart(check, view.dress, view.opened.scene.dated)),
                className="chart double",
            ),
        ),
    ]
    if check.shift is not None and check.shift.misfit.max(initial=0.0) > CHI2_95:
        sections.append(
            panel(
                "Was the weather late?",
                html.P(
                    f"{shift_text(check.shift).capitalize()}. The passage is held against the forecast of earlier "
                    "and later times; what lies below the dashed line is the 95 % interval.",
                    className="small",
                ),
                html.Div(graph("weather-timing", timing_chart(check.shift, view.dress)), className="chart"),
            )
        )
    return sections


def _scores(check: ForecastCheck, view: View) -> html.Section:
    if check.why_not:
        return panel("The forecast", html.P(f"{check.name}: {check.why_not}", className="notice"))
    kn = view.dress.units.of("kn")
    rows = []
    for score in check.scores:
        factor, unit = {TWS: (kn.factor, f" {kn.symbol}"), TWD: (1.0, "°")}.get(score.channel, (1.0, " hPa"))
        decimals = 0 if score.channel == TWD else 1
        rows.append(
            html.Tr(
                [
                    html.Th(QUANTITIES.get(score.channel, "Pressure"), scope="row"),
                    html.Td(bias_text(score, _speed(view))),
                    html.Td(f"{score.rms * factor:.{decimals}f}{unit}", className="number"),
                    html.Td(f"{score.rms_about * factor:.{decimals}f}{unit}", className="number"),
                    html.Td(f"{score.hours:.1f} h", className="number"),
                ]
            )
        )
    head = ("", "Mean error, ± 95 %", "rms", "rms without it", "compared")
    return panel(
        "How the forecast did",
        html.P(
            f"{check.name}, interpolated to the track in space and time. {_kept(check)}", className="small"
        ),
        html.Table([html.Thead(html.Tr([html.Th(one, scope="col") for one in head])), html.Tbody(rows)]),
        html.P(["Timing: ", f"{shift_text(check.shift)}."]),
        html.P(trust_text(check, _speed(view)), className="remark-strong"),
    )


def _kept(check: ForecastCheck) -> str:
    return (
        ""
        if check.score(TWS) is None
        else "± holds gusts and shifts, the wind's memory and what vane and anemometer may still be off by."
    )


def _at(view: View) -> Callable[[float], str]:
    scene, clock = view.opened.scene, view.dress.clock
    return lambda time_s: f"{passage_time_text(1000 * time_s, scene, clock, '%H:%M')} {clock.name}"


def _speed(view: View) -> Callable[[float, float | None], str]:
    kn = view.dress.units.of("kn")

    def text(speed_kn: float, spread_kn: float | None) -> str:
        spread = "" if spread_kn is None else f" ± {spread_kn * kn.factor:.1f}"
        return f"{speed_kn * kn.factor:.1f}{spread} {kn.symbol}"

    return text
