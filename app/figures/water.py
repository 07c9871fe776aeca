"""The charts of the Water page: the current through time, and the part of it that turns with the boat."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from analysis.calibration import CurrentSeries
from analysis.estimate import SIGMAS_95
from analysis.passage import Floats
from analysis.profiles import Profile
from analysis.signature import LeftOver
from analysis.vectors import east_north_kn, polar_from_east_north, wrap_signed_deg
from app.dress import Dress

from .paper import CORRECTED, SHOWN, Figure, named_above, paper, time_axis
from .reduce import bucket_means, packed
from .scales import round_step

ESTIMATED = "estimated, with 95 % band"
_MEANS = 160
_LEAST_KN = 0.2
_UPPER, _LOWER = [0.56, 1.0], [0.0, 0.44]


def current_through_time(
    time_ms: Floats,
    derived: Mapping[str, tuple[Floats, Floats]],
    current: CurrentSeries,
    dress: Dress,
    dated: bool,
) -> Figure:
    """Draw drift above set through time: the estimated current with its band, and what each second gives as means.

    ``derived`` maps SHOWN and CORRECTED to set [deg] and drift [kn], row by row.
    """
    kn = dress.units.of("kn")
    knots_ms = current.time_utc.as_unit("ms").asi8.astype(np.float64)
    along = np.unwrap(current.set_deg, period=360)
    data: list[dict[str, Any]] = []
    seen = [current.drift_kn]
    for name, (set_deg, drift_kn) in derived.items():
        times, toward, speed = _means(time_ms, set_deg, drift_kn)
        seen.append(speed[np.isfinite(speed)])
        near = np.interp(times, knots_ms, along)
        values = (speed * kn.factor, near + wrap_signed_deg(toward - near))
        texts = (f"%{{y:.2f}} {kn.symbol}", "%{text}°")
        for axis, value, text in zip(("y", "y2"), values, texts, strict=True):
            data.append(
                _marks(name, dress)
                | {
                    "x": packed(times + dress.clock.offset_ms),
                    "y": packed(value),
                    "text": [f"{one % 360:03.0f}" if np.isfinite(one) else "" for one in toward],
                    "yaxis": axis,
                    "showlegend": axis == "y",
                    "hovertemplate": f"{text} at %{{x|%H:%M}}<extra>{name}</extra>",
                }
            )
    bands = (
        (current.drift_kn, current.drift_kn_sd, kn.factor, "y", f"%{{y:.2f}} {kn.symbol}"),
        (along, current.set_deg_sd, 1.0, "y2", "%{text}°"),
    )
    for middle, sd, factor, axis, text in bands:
        reach = np.minimum(SIGMAS_95 * sd, 180.0)
        low, high = factor * (middle - reach), factor * (middle + reach)
        data += _band(
            knots_ms + dress.clock.offset_ms, np.maximum(low, 0.0) if axis == "y" else low, high, axis, dress
        )
        data.append(
            {
                "type": "scatter",
                "mode": "lines",
                "name": ESTIMATED,
                "x": packed(knots_ms + dress.clock.offset_ms),
                "y": packed(factor * middle),
                "text": [f"{one % 360:03.0f}" for one in middle],
                "yaxis": axis,
                "showlegend": axis == "y",
                "line": {"color": dress.theme.ink, "width": 2.5},
                "hovertemplate": f"{text} at %{{x|%H:%M}}<extra>estimated</extra>",
            }
        )
    return {
        "data": data,
        "layout": paper(
            dress,
            xaxis=time_axis(dress, float(time_ms[0]), float(time_ms[-1]), dated) | {"anchor": "y2"},
            yaxis={
                "title": f"drift [{kn.symbol}]",
                "domain": _UPPER,
                "range": [0, _reach(seen) * kn.factor],
                "nticks": 5,
            },
            yaxis2={"title": "set [°], toward", "domain": _LOWER} | _turned_axis(along),
        )
        | named_above(dress),
    }


def left_over_by_heading(profiles: Mapping[str, tuple[Profile, Profile]], dress: Dress) -> Figure:
    """Draw what is left along (above) and across (below) the heading [kn] in sectors of the heading.

    ``profiles`` maps SHOWN and CORRECTED to the profiles of both parts.
    """
    kn = dress.units.of("kn")
    data = []
    for name, parts in profiles.items():
        aside = -1.6 if name == SHOWN else 1.6
        for axis, words, one in zip(("y", "y2"), ("along", "across"), parts, strict=True):
            marks = _marks(name, dress)
            data.append(
                marks
                | {
                    "x": (one.at + aside).tolist(),
                    "y": (one.mean * kn.factor).round(3).tolist(),
                    "yaxis": axis,
                    "showlegend": axis == "y",
                    "marker": marks["marker"] | {"size": 8},
                    "error_y": {
                        "array": (one.sd * kn.factor).round(3).tolist(),
                        "thickness": 1,
                        "width": 0,
                        "color": marks["marker"]["color"],
                    },
                    "hovertemplate": f"{words}: %{{y:+.2f}} {kn.symbol} on %{{x:.0f}}°<extra>{name}</extra>",
                }
            )
    reach = _reach([one.mean for parts in profiles.values() for one in parts]) * kn.factor
    return {
        "data": data,
        "layout": paper(
            dress,
            xaxis={
                "title": "heading [°]",
                "range": [-10, 360],
                "tickvals": list(range(0, 360, 45)),
                "ticktext": [f"{one:03d}" for one in range(0, 360, 45)],
                "zeroline": False,
                "anchor": "y2",
            },
            **_two_parts(reach, kn.symbol),
        )
        | named_above(dress),
    }


def left_over_through_time(
    time_ms: Floats, parts: Mapping[str, LeftOver], dress: Dress, dated: bool
) -> Figure:
    """Draw what is left along (above) and across (below) the heading [kn] through time, as means."""
    kn = dress.units.of("kn")
    styles = {SHOWN: (dress.theme.ground, "dot"), CORRECTED: (dress.theme.boat, "solid")}
    data, seen = [], []
    for name, one in parts.items():
        colour, dash = styles[name]
        for axis, words, values in (("y", "along", one.along_kn), ("y2", "across", one.across_kn)):
            times, means = bucket_means(time_ms, values, _MEANS)
            seen.append(means[np.isfinite(means)])
            data.append(
                {
                    "type": "scatter",
                    "mode": "lines",
                    "name": name,
                    "x": packed(times + dress.clock.offset_ms),
                    "y": packed(means * kn.factor),
                    "yaxis": axis,
                    "showlegend": axis == "y",
                    "line": {"color": colour, "width": 2, "dash": dash},
                    "hovertemplate": f"{words}: %{{y:+.2f}} {kn.symbol} at %{{x|%H:%M}}<extra>{name}</extra>",
                }
            )
    return {
        "data": data,
        "layout": paper(
            dress,
            xaxis=time_axis(dress, float(time_ms[0]), float(time_ms[-1]), dated) | {"anchor": "y2"},
            **_two_parts(_reach(seen) * kn.factor, kn.symbol),
        )
        | named_above(dress),
    }


def _means(time_ms: Floats, set_deg: Floats, drift_kn: Floats) -> tuple[Floats, Floats, Floats]:
    """Vector means of a current: times, set [deg], drift [kn]."""
    east, north = east_north_kn(set_deg, drift_kn)
    times, east = bucket_means(time_ms, east, _MEANS)
    mean = polar_from_east_north(east, bucket_means(time_ms, north, _MEANS)[1])
    return times, mean.direction_deg, mean.speed_kn


def _marks(name: str, dress: Dress) -> dict[str, Any]:
    colour, symbol = {
        SHOWN: (dress.theme.ground, "diamond-open"),
        CORRECTED: (dress.theme.boat, "circle"),
    }[name]
    return {
        "type": "scatter",
        "mode": "markers",
        "name": name,
        "marker": {"color": colour, "symbol": symbol, "size": 5, "line": {"width": 1.2, "color": colour}},
    }


def _band(times: Floats, low: Floats, high: Floats, axis: str, dress: Dress) -> list[dict[str, Any]]:
    edge = {
        "type": "scatter",
        "mode": "lines",
        "x": packed(times),
        "yaxis": axis,
        "line": {"width": 0},
        "hoverinfo": "skip",
        "showlegend": False,
    }
    return [
        edge | {"y": packed(low)},
        edge | {"y": packed(high), "fill": "tonexty", "fillcolor": f"{dress.theme.muted}44"},
    ]


def _turned_axis(along_deg: Floats) -> dict[str, Any]:
    """An axis of a direction that runs on through north: ticks every 45 or 90 deg, named as courses."""
    low, high = float(along_deg.min()) - 50.0, float(along_deg.max()) + 50.0
    step = 45 if high - low < 200 else 90
    ticks = np.arange(np.ceil(low / step) * step, high, step)
    return {
        "range": [low, high],
        "tickvals": ticks.tolist(),
        "ticktext": [f"{one % 360:03.0f}" for one in ticks],
        "zeroline": False,
    }


def _two_parts(reach: float, symbol: str) -> dict[str, Any]:
    step = round_step(2 * reach, 5)
    axis = {"range": [-reach, reach], "dtick": step, "zeroline": True, "tickformat": "+.2~f"}
    return {
        "yaxis": axis | {"title": f"along [{symbol}]", "domain": _UPPER},
        "yaxis2": axis | {"title": f"to starboard [{symbol}]", "domain": _LOWER},
    }


def _reach(values: list[Floats]) -> float:
    """Half the range that shows all but the odd outlier [kn]."""
    joined = np.abs(np.concatenate(values)) if values else np.empty(0)
    return max(1.3 * float(np.quantile(joined, 0.98)), _LEAST_KN) if len(joined) else _LEAST_KN
