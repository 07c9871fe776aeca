"""The charts of the Weather page: pressure and its change, wind against forecast, error by hour, timing, force."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from analysis.passage import Floats
from analysis.vectors import mean_direction_deg, wrap_signed_deg
from analysis.weather import (
    CHARACTERISTICS,
    PRESSURE,
    TWD,
    TWS,
    ForecastCheck,
    PressureRecord,
    Shift,
    WindRecord,
    change_text,
)
from app.dress import Dress

from .paper import Figure, named_above, paper, time_axis
from .reduce import packed

MEASURED, FORECAST = "measured", "forecast"
CHI2_95 = 3.84
_UPPER, _LOWER = (0.56, 1.0), (0.0, 0.42)
_LONGEST = 1500
FEW = 6


def pressure_chart(record: PressureRecord, check: ForecastCheck | None, dress: Dress, dated: bool) -> Figure:
    """Draw the pressure at sea level, the forecast of it, and below the change over three hours at full hours.

    Without such a change there is no row for it.
    """
    data = _pair(
        record.time_s,
        record.sea_level_hpa,
        None if check is None else check.pressure_hpa,
        dress,
        "%{y:.1f} hPa",
        "y",
    )
    level = {
        "title": "at sea level [hPa]",
        "tickformat": ".0f"
        if np.nanmax(record.sea_level_hpa) - np.nanmin(record.sea_level_hpa) > 4
        else ".1f",
    }
    if not record.hourly:
        return _stacked(data, record.time_s, dress, dated, level)
    data.append(
        {
            "type": "bar",
            "name": "change over 3 h",
            "showlegend": False,
            "x": [one.time_s * 1000 + dress.clock.offset_ms for one in record.hourly],
            "y": [round(one.amount_hpa, 2) for one in record.hourly],
            "width": 2_000_000,
            "text": [
                f"{change_text(one.amount_hpa)}; {CHARACTERISTICS[one.characteristic]}"
                for one in record.hourly
            ],
            "textposition": "none",
            "yaxis": "y2",
            "marker": {"color": dress.theme.boat},
            "hovertemplate": "3 h to %{x|%H:%M}: %{y:+.1f} hPa, %{text}<extra></extra>",
        }
    )
    reach = 1.2 * max(1.0, *(abs(one.amount_hpa) for one in record.hourly))
    return _stacked(
        data,
        record.time_s,
        dress,
        dated,
        level,
        {"title": "3 h change [hPa]", "zeroline": True, "range": [-reach, reach]},
    )


def wind_chart(record: WindRecord, check: ForecastCheck | None, dress: Dress, dated: bool) -> Figure:
    """Draw direction and speed of the wind over the ground as ten-minute means, and the forecast of them."""
    kn = dress.units.of("kn")
    told = record.twd_deg if check is None else np.concatenate((record.twd_deg, check.twd_deg))
    known = told[np.isfinite(told)]
    middle = float(mean_direction_deg(known)) if len(known) else 0.0

    def about(direction: Floats) -> Floats:
        around: Floats = middle + wrap_signed_deg(direction - middle)
        return around

    data = [
        *_pair(
            record.time_s,
            about(record.twd_deg),
            None if check is None else about(check.twd_deg),
            dress,
            "%{text}°",
            "y",
            turning=True,
        ),
        *_pair(
            record.time_s,
            record.tws_kn * kn.factor,
            None if check is None else check.tws_kn * kn.factor,
            dress,
            f"%{{y:.1f}} {kn.symbol}",
            "y2",
            named=False,
        ),
    ]
    drawn = about(known)
    return _stacked(
        data,
        record.time_s,
        dress,
        dated,
        {"title": "TWD [°]", **_compass_axis(drawn)},
        {"title": f"TWS [{kn.symbol}]", "rangemode": "tozero"},
    )


def errors_chart(check: ForecastCheck, dress: Dress, dated: bool) -> Figure:
    """Draw the mean error of every hour, forecast less measured, with its scatter; one row per quantity."""
    kn = dress.units.of("kn")
    shown = {TWS: (kn.factor, f"TWS [{kn.symbol}]"), TWD: (1.0, "TWD [°]"), PRESSURE: (1.0, "pressure [hPa]")}
    count = len(check.scores)
    data, axes = [], {}
    for row, score in enumerate(check.scores):
        factor, title = shown[score.channel]
        suffix = "" if row == 0 else str(row + 1)
        height = 1 / count
        axes[f"yaxis{suffix}"] = {
            "title": title,
            "zeroline": True,
            "domain": [1 - (row + 1) * height + (0.05 if row < count - 1 else 0.0), 1 - row * height],
            "nticks": 5,
        }
        data.append(
            {
                "type": "scatter",
                "mode": "markers",
                "x": [(one.time_s + 1800) * 1000 + dress.clock.offset_ms for one in score.hourly],
                "y": [round(one.error * factor, 3) for one in score.hourly],
                "error_y": {
                    "array": [round(one.scatter * factor, 3) for one in score.hourly],
                    "thickness": 1.5,
                    "width": 0,
                    "color": dress.theme.boat,
                },
                "yaxis": f"y{suffix}",
                "marker": {
                    "color": dress.theme.boat,
                    "size": 7,
                    "symbol": ("circle", "diamond", "square")[row],
                },
                "hovertemplate": f"hour about %{{x|%H:%M}}: %{{y:+.1f}}<extra>{title}</extra>",
            }
        )
    return {
        "data": data,
        "layout": paper(
            dress,
            xaxis=_hours(check, dress, dated) | {"anchor": f"y{count if count > 1 else ''}"},
            margin={"l": round(dress.px(64)), "r": 16, "t": 10, "b": round(dress.px(46))},
            **axes,
        ),
    }


def timing_chart(shift: Shift, dress: Dress) -> Figure:
    """Draw how much worse forecast and passage agree at each lag; below the line lies the 95 % interval."""
    top = max(12.0, min(float(shift.misfit.max()), 40.0))
    near = shift.lags_h[shift.misfit <= top]
    return {
        "data": [
            {
                "type": "scatter",
                "mode": "lines",
                "x": shift.lags_h.round(3).tolist(),
                "y": shift.misfit.round(2).tolist(),
                "line": {"color": dress.theme.boat, "width": 2},
                "hovertemplate": "%{x:+.1f} h: %{y:.1f}<extra></extra>",
            },
            {
                "type": "scatter",
                "mode": "lines",
                "x": [float(shift.lags_h[0]), float(shift.lags_h[-1])],
                "y": [CHI2_95, CHI2_95],
                "line": {"color": dress.theme.ground, "width": 1.5, "dash": "dash"},
                "hoverinfo": "skip",
            },
        ],
        "layout": paper(
            dress,
            xaxis={
                "title": "weather later than forecast by [h]",
                "zeroline": True,
                "range": [min(float(near[0]) - 0.5, -1.0), max(float(near[-1]) + 0.5, 1.0)],
            },
            yaxis={"title": "disagreement above the best", "range": [0, top]},
        ),
    }


def forces_chart(record: WindRecord, dress: Dress) -> Figure:
    """Draw the hours at every Beaufort force up to the strongest met."""
    last = max(force for force, hours in enumerate(record.hours_by_force) if hours > 0)
    forces = list(range(max(last + 1, 4)))
    hours = [round(record.hours_by_force[force], 2) for force in forces]
    return {
        "data": [
            {
                "type": "bar",
                "x": forces,
                "y": hours,
                "text": [f"{one:.1f}" if one else "" for one in hours],
                "textposition": "outside",
                "textfont": {"color": dress.theme.ink, "size": dress.px(12)},
                "cliponaxis": False,
                "marker": {"color": dress.theme.boat},
                "hovertemplate": "force %{x}: %{y:.1f} h<extra></extra>",
            }
        ],
        "layout": paper(
            dress,
            xaxis={"title": "Beaufort force", "dtick": 1, "zeroline": False, "showgrid": False},
            yaxis={"title": "hours", "range": [0, 1.2 * max(hours) or 1]},
            bargap=0.35,
        ),
    }


def _pair(
    time_s: Floats,
    measured: Floats,
    forecast: Floats | None,
    dress: Dress,
    hover: str,
    axis: str,
    named: bool = True,
    turning: bool = False,
) -> list[dict[str, Any]]:
    """Two lines over one another: what was measured and, dashed, what was forecast where that is known."""
    every = -(-len(time_s) // _LONGEST)
    styles = [(MEASURED, measured, dress.theme.boat, "solid", 2.0)]
    if forecast is not None and np.isfinite(forecast).any():
        styles.append((FORECAST, forecast, dress.theme.ground, "dash", 2.5))
    lines = []
    for name, values, colour, dash, width in styles:
        x, y = time_s[::every] * 1000 + dress.clock.offset_ms, values[::every]
        jumps = np.flatnonzero(np.abs(np.diff(y)) > 180) + 1 if turning else np.empty(0, dtype=np.int64)
        x, y = np.insert(x, jumps, x[jumps]), np.insert(y, jumps, np.nan)
        text = [f"{round(one) % 360:03d}" if np.isfinite(one) else "" for one in y] if turning else None
        lines.append(
            {
                "type": "scatter",
                "mode": "lines+markers" if np.isfinite(values).sum() <= FEW else "lines",
                "marker": {"color": colour, "size": 6},
                "name": name,
                "showlegend": named,
                "x": packed(x),
                "y": packed(y),
                **({"text": text} if text else {}),
                "yaxis": axis,
                "line": {"color": colour, "width": width, "dash": dash},
                "hovertemplate": f"{hover} at %{{x|%H:%M}}<extra>{name}</extra>",
            }
        )
    return lines


def _stacked(
    data: Sequence[dict[str, Any]],
    time_s: Floats,
    dress: Dress,
    dated: bool,
    upper: dict[str, Any],
    lower: dict[str, Any] | None = None,
) -> Figure:
    axes = {"yaxis": upper}
    if lower is not None:
        axes = {"yaxis": upper | {"domain": list(_UPPER)}, "yaxis2": lower | {"domain": list(_LOWER)}}
    layout = paper(
        dress, xaxis=_time(time_s, dress, dated) | {"anchor": "y" if lower is None else "y2"}, **axes
    )
    return {"data": list(data), "layout": layout | named_above(dress)}


def _hours(check: ForecastCheck, dress: Dress, dated: bool) -> dict[str, Any]:
    """The axis over all hours of which an error is told."""
    starts = [one.time_s for score in check.scores for one in score.hourly]
    return time_axis(dress, min(starts) * 1000, (max(starts) + 3600) * 1000, dated)


def _time(time_s: Floats, dress: Dress, dated: bool) -> dict[str, Any]:
    return time_axis(dress, float(time_s[0]) * 1000 - 300_000, float(time_s[-1]) * 1000 + 300_000, dated)


def _compass_axis(drawn: Floats) -> dict[str, Any]:
    """Ticks of directions that may run over north, told from 000 to 359."""
    low, high = (float(drawn.min()), float(drawn.max())) if len(drawn) else (0.0, 360.0)
    low, high = low - 5, high + 5
    step = next((one for one in (5.0, 10.0, 15.0, 30.0, 45.0, 90.0) if (high - low) / one <= 5), 90.0)
    ticks = np.arange(np.ceil(low / step), np.floor(high / step) + 1) * step
    return {
        "range": [low, high],
        "tickvals": ticks.tolist(),
        "ticktext": [f"{round(one) % 360:03d}" for one in ticks],
    }
