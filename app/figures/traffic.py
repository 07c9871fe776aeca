"""The charts of the Traffic page: an encounter seen and charted, its forecast, and reception by bearing."""

from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from analysis.estimate import SIGMAS_95
from analysis.passage import Floats
from analysis.traffic import Encounter, Forecast
from analysis.traffic.portrait import Portrait
from app.dress import Dress

from .paper import Figure, named_above, paper, time_axis
from .reduce import packed
from .scales import round_step, tick_texts

Places = NDArray[np.complex128]
_RINGS = 4
_MARK_EVERY_S = 300.0
_TWO_KINDS = ("circle", "diamond")


def seen_from_boat(seen: Portrait, met: Encounter, at: int, dress: Dress) -> Figure:
    """Draw the target's way as seen from the boat, north up, on rings of equal range; ``at`` is the moment shown."""
    theme, nm = dress.theme, dress.units.of("nm")
    relative = seen.relative * nm.factor
    reach = _reach(relative, met.range_nm * nm.factor)
    step = round_step(reach, _RINGS)
    rings: Floats = np.arange(step, reach * 1.0001, step)
    data: list[dict[str, Any]] = [_ring(radius, theme.rule) for radius in rings]
    data.append(
        {
            "type": "scatter",
            "mode": "text",
            "x": [0.0] * len(rings),
            "y": (-rings).tolist(),
            "text": [f"{text} {nm.symbol}" for text in tick_texts(rings, step)],
            "textfont": {"color": theme.muted, "size": dress.px(12)},
            "hoverinfo": "skip",
        }
    )
    heading = seen.own_heading_deg[at]
    if np.isfinite(heading):
        bow = reach * np.exp(1j * np.radians(heading))
        data.append(_line([0, bow], theme.boat, "dash", 1.2))
    data.append(_way(relative, "target, from the boat", theme.ground, seen, dress))
    closest = int(np.argmin(np.abs(seen.time_s - met.time_s)))
    data.append(_line([0, relative[closest]], theme.accent, "dot", 1.5))
    data += _ticks(relative, seen, theme.ground, "circle-open", dress)
    data.append(_point(relative[closest], theme.accent, "x-thin-open", "closest", dress))
    data.append(_point(relative[at], theme.ground, _TWO_KINDS[1], "target now", dress))
    data.append(_point(0j, theme.boat, _TWO_KINDS[0], "the boat", dress))
    return {"data": data, "layout": _square(reach, dress, "")}


def over_ground(seen: Portrait, met: Encounter, at: int, dress: Dress) -> Figure:
    """Draw both ways over the ground, north up, with what lay between them at the closest point and at ``at``."""
    theme, nm = dress.theme, dress.units.of("nm")
    own: Places = (seen.own * nm.factor).astype(np.complex128)
    target: Places = (seen.target * nm.factor).astype(np.complex128)
    joined = np.concatenate((own, target))
    known = np.isfinite(joined)
    edges = [
        (one[known].min(), one[known].max()) if known.any() else (0.0, 0.0)
        for one in (joined.real, joined.imag)
    ]
    centre = complex(*(float(low + high) / 2 for low, high in edges))
    reach = max(0.05, *(0.56 * float(high - low) for low, high in edges))
    own, target = own - centre, target - centre
    closest = int(np.argmin(np.abs(seen.time_s - met.time_s)))
    data = [
        _way(own, "the boat", theme.boat, seen, dress),
        _way(target, "target", theme.ground, seen, dress, "dash"),
        _line([own[closest], target[closest]], theme.accent, "dot", 1.5),
        _line([own[at], target[at]], theme.muted, "solid", 1.2),
        *_ticks(own, seen, theme.boat, "circle-open", dress),
        *_ticks(target, seen, theme.ground, "diamond-open", dress, False),
        _point(own[at], theme.boat, _TWO_KINDS[0], "the boat now", dress),
        _point(target[at], theme.ground, _TWO_KINDS[1], "target now", dress),
    ]
    return {"data": data, "layout": _square(reach, dress, nm.symbol)}


def foreseen(seen: Forecast, met: Encounter, limit_nm: float, dress: Dress, dated: bool) -> Figure:
    """Draw through time the range and the closest approach then to be expected, with its 95 % band."""
    theme, nm = dress.theme, dress.units.of("nm")
    shift = dress.clock.offset_ms
    time = 1000 * seen.time_s + shift
    ahead = seen.tcpa_min >= 0
    cpa = np.where(ahead, seen.cpa_nm, np.nan) * nm.factor
    half = SIGMAS_95 * seen.cpa_sd_nm * nm.factor
    most = 1.25 * nm.factor * max(2 * limit_nm, 2 * met.range_nm, 0.2)
    ends = [float(time[0]), float(time[-1])] if len(time) else [0.0, 1.0]
    top, bottom = np.minimum(cpa + half, 3 * most), np.maximum(cpa - half, 0.0)
    data: list[dict[str, Any]] = [
        _edge(time, bottom),
        _edge(time, top) | {"fill": "tonexty", "fillcolor": f"{theme.muted}33"},
        {
            "type": "scatter",
            "mode": "lines",
            "name": "expected closest",
            "x": packed(time),
            "y": packed(cpa),
            "line": {"color": theme.accent, "width": 2.2},
            "hovertemplate": f"closest to be expected %{{y:.2f}} {nm.symbol} at %{{x|%H:%M:%S}}<extra></extra>",
        },
        {
            "type": "scatter",
            "mode": "lines",
            "name": "range",
            "x": packed(time),
            "y": packed(seen.range_nm * nm.factor),
            "line": {"color": theme.ground, "width": 1.6, "dash": "dash"},
            "hovertemplate": f"range %{{y:.2f}} {nm.symbol} at %{{x|%H:%M:%S}}<extra></extra>",
        },
        {
            "type": "scatter",
            "mode": "lines",
            "name": "your limit",
            "x": ends,
            "y": [limit_nm * nm.factor] * 2,
            "line": {"color": theme.ink, "width": 1, "dash": "dot"},
            "hoverinfo": "skip",
        },
        {
            "type": "scatter",
            "mode": "markers",
            "name": "came to",
            "x": [1000 * met.time_s + shift],
            "y": [met.range_nm * nm.factor],
            "marker": {"color": theme.ink, "symbol": "x-thin-open", "size": 10, "line": {"width": 2.2}},
            "hovertemplate": f"came to %{{y:.2f}} {nm.symbol} at %{{x|%H:%M:%S}}<extra></extra>",
        },
    ]
    layout = paper(
        dress,
        xaxis=time_axis(dress, ends[0] - shift, ends[1] - shift, dated),
        yaxis={"title": f"distance [{nm.symbol}]", "range": [0, most], "nticks": 6},
    )
    if np.isfinite(cpa).sum() < 2:
        layout["annotations"] = [
            {
                "text": "no forecast: heard too seldom, or a motion not known",
                "xref": "paper",
                "yref": "paper",
                "x": 0.5,
                "y": 0.5,
                "showarrow": False,
                "font": {"size": dress.px(14), "color": theme.ink},
            }
        ]
    return {"data": data, "layout": layout | named_above(dress)}


def reception_by_bearing(
    sectors: pd.DataFrame, of: str, horizon_nm: dict[str, float], dress: Dress
) -> Figure:
    """Draw how far others were heard in sectors of the bearing, from true north or from the bow."""
    theme, nm = dress.theme, dress.units.of("nm")
    table = sectors[sectors["of"] == of]
    middle = table["middle_deg"].to_numpy(float)
    if of == "bow":
        middle = np.where(middle > 180, middle - 360, middle)
    order = np.argsort(middle)
    middle, table = middle[order], table.iloc[order]
    shares = table["heard_share"].to_numpy(float)
    words = [
        f"{int(count)} stations"
        + (f", {100 * share:.0f} % of the messages heard elsewhere" if np.isfinite(share) else "")
        for count, share in zip(table["stations"].fillna(0), shares, strict=True)
    ]
    dark = table["shadow"].to_numpy(bool)
    data: list[dict[str, Any]] = [
        {
            "type": "bar",
            "name": "nine stations of ten",
            "x": middle.tolist(),
            "y": (table["reach_nm"].fillna(0) * nm.factor).round(2).tolist(),
            "width": 22,
            "marker": {
                "color": theme.boat,
                "pattern": {"shape": np.where(dark, "x", "").tolist(), "fgcolor": theme.panel},
            },
            "customdata": words,
            "hovertemplate": f"%{{y:.1f}} {nm.symbol} on %{{x}}°: %{{customdata}}<extra></extra>",
        },
        {
            "type": "scatter",
            "mode": "markers",
            "name": "the farthest",
            "x": middle.tolist(),
            "y": packed((table["farthest_nm"] * nm.factor).to_numpy(np.float64)),
            "marker": {"color": theme.ground, "symbol": "diamond-open", "size": 9, "line": {"width": 1.8}},
            "hovertemplate": f"the farthest %{{y:.1f}} {nm.symbol}<extra></extra>",
        },
    ]
    low, high = (-165, 195) if of == "bow" else (-15, 345)
    for (name, words_of), dash in zip(
        (("A", "horizon to a ship"), ("B", "horizon to a small craft")), ("solid", "dot"), strict=True
    ):
        if name in horizon_nm:
            data.append(
                {
                    "type": "scatter",
                    "mode": "lines",
                    "name": words_of,
                    "x": [low, high],
                    "y": [horizon_nm[name] * nm.factor] * 2,
                    "line": {"color": theme.ink, "width": 1.3, "dash": dash},
                    "hoverinfo": "skip",
                }
            )
    ticks = np.arange(-120, 181, 60) if of == "bow" else np.arange(0, 360, 60)
    names = [_off_the_bow(int(one)) if of == "bow" else f"{one:03d}" for one in ticks]
    layout = paper(
        dress,
        xaxis={
            "title": "off the bow [°]" if of == "bow" else "true bearing [°]",
            "range": [low, high],
            "tickvals": ticks.tolist(),
            "ticktext": names,
            "zeroline": False,
        },
        yaxis={"title": f"heard to [{nm.symbol}]", "rangemode": "tozero", "nticks": 6},
    )
    return {"data": data, "layout": layout | named_above(dress)}


def _off_the_bow(angle: int) -> str:
    return {0: "ahead", 180: "astern"}.get(angle, f"{abs(angle)} {'stbd' if angle > 0 else 'port'}")


def _reach(relative: np.ndarray, range_nm: float) -> float:
    away = np.abs(relative[np.isfinite(relative)])
    return max(min(float(away.max()) if len(away) else 0.0, 8 * max(range_nm, 0.1)), 1.3 * range_nm, 0.05)


def _square(reach: float, dress: Dress, symbol: str) -> dict[str, Any]:
    axis = {"range": [-reach * 1.05, reach * 1.05], "zeroline": False, "nticks": 6}
    if not symbol:
        axis |= {"showgrid": False, "showticklabels": False}
    titles = ({"title": f"east [{symbol}]"}, {"title": f"north [{symbol}]"}) if symbol else ({}, {})
    margin = {"l": round(dress.px(52)), "r": 12, "t": 10, "b": round(dress.px(44))}
    return paper(
        dress,
        xaxis=axis | titles[0],
        yaxis=axis | titles[1] | {"scaleanchor": "x"},
        margin=margin if symbol else {"l": 10, "r": 10, "t": 10, "b": 10},
    )


def _xy(places: np.ndarray) -> dict[str, Any]:
    return {"x": packed(places.imag.astype(np.float64)), "y": packed(places.real.astype(np.float64))}


def _ring(radius: float, colour: str) -> dict[str, Any]:
    circle = radius * np.exp(1j * np.linspace(0, 2 * np.pi, 121))
    return {
        "type": "scatter",
        "mode": "lines",
        "line": {"color": colour, "width": 1.2},
        "hoverinfo": "skip",
    } | _xy(circle)


def _line(places: list[complex], colour: str, dash: str, width: float) -> dict[str, Any]:
    return {
        "type": "scatter",
        "mode": "lines",
        "line": {"color": colour, "width": width, "dash": dash},
        "hoverinfo": "skip",
    } | _xy(np.asarray(places, complex))


def _way(
    places: np.ndarray, name: str, colour: str, seen: Portrait, dress: Dress, dash: str = "solid"
) -> dict[str, Any]:
    nm = dress.units.of("nm")
    clock = [f"{dress.clock.at(1000 * one):%H:%M:%S}" for one in seen.time_s]
    words = [
        f"{name} {time}, {away * nm.factor:.2f} {nm.symbol} apart"
        for time, away in zip(clock, np.abs(seen.relative), strict=True)
    ]
    return {
        "type": "scatter",
        "mode": "lines",
        "line": {"color": colour, "width": 2.2, "dash": dash},
        "text": words,
        "hovertemplate": "%{text}<extra></extra>",
    } | _xy(places)


def _ticks(
    places: np.ndarray, seen: Portrait, colour: str, symbol: str, dress: Dress, named: bool = True
) -> list[dict[str, Any]]:
    """A mark every five minutes of the clock, every other one named."""
    first = np.ceil(seen.time_s[0] / _MARK_EVERY_S) * _MARK_EVERY_S
    moments = np.arange(first, seen.time_s[-1] + 1e-6, _MARK_EVERY_S)
    if not len(moments):
        return []
    rows = np.searchsorted(seen.time_s, moments).clip(0, len(seen.time_s) - 1)
    names = [
        f"{dress.clock.at(1000 * one):%H:%M}" if named and one % (2 * _MARK_EVERY_S) == 0 else ""
        for one in moments
    ]
    return [
        {
            "type": "scatter",
            "mode": "markers+text",
            "text": names,
            "textposition": "top right",
            "textfont": {"color": dress.theme.muted, "size": dress.px(12)},
            "marker": {"color": colour, "symbol": symbol, "size": 6, "line": {"width": 1.4}},
            "hoverinfo": "skip",
        }
        | _xy(places[rows])
    ]


def _point(place: complex, colour: str, symbol: str, name: str, dress: Dress) -> dict[str, Any]:
    return {
        "type": "scatter",
        "mode": "markers",
        "marker": {
            "color": colour,
            "symbol": symbol,
            "size": 13,
            "line": {"width": 2.5, "color": dress.theme.panel if "open" not in symbol else colour},
        },
        "hovertemplate": f"{name}<extra></extra>",
    } | _xy(np.array([place]))


def _edge(time: Floats, values: Floats) -> dict[str, Any]:
    return {
        "type": "scatter",
        "mode": "lines",
        "x": packed(time),
        "y": packed(values),
        "line": {"width": 0},
        "hoverinfo": "skip",
        "showlegend": False,
    }
