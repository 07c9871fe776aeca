"""The charts of the Sources page: how sources differ through time, and by heading or by what they tell."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from analysis.passage import Floats
from analysis.profiles import Profile
from app.dress import Dress
from app.units import Shown

from .paper import Figure, named_above, paper, time_axis
from .reduce import bucket_means, packed, unwrap

MOST = 3
_MEANS = 300
_LEAST = 1e-3


def differences_through_time(
    time_ms: Floats, differences: Mapping[str, Floats], turning: bool, shown: Shown, dress: Dress, dated: bool
) -> Figure:
    """Draw differences through time as means; the keys name the sources, at most three.

    ``turning`` says that they are angles; ``shown`` converts their unit, whose zero is its own.
    """
    data, seen = [], []
    for (name, difference), style in zip(differences.items(), _styles(dress), strict=False):
        times, means = bucket_means(time_ms, unwrap(difference) if turning else difference, _MEANS)
        if turning:
            means = (means + 180.0) % 360.0 - 180.0
            jumps = np.flatnonzero(np.abs(np.diff(means)) > 180.0) + 1
            times, means = np.insert(times, jumps, times[jumps]), np.insert(means, jumps, np.nan)
        seen.append(means[np.isfinite(means)] * shown.factor)
        data.append(
            {
                "type": "scatter",
                "mode": "lines",
                "name": name,
                "x": packed(times + dress.clock.offset_ms),
                "y": packed(means * shown.factor),
                "line": {"color": style["colour"], "width": 2, "dash": style["dash"]},
                "hovertemplate": f"%{{y:+.2f}} {shown.symbol} at %{{x|%H:%M}}<extra>{name}</extra>",
            }
        )
    return {
        "data": data,
        "layout": paper(
            dress,
            xaxis=time_axis(dress, float(time_ms[0]), float(time_ms[-1]), dated),
            yaxis=_axis(seen, shown),
        )
        | named_above(dress),
    }


def differences_by(
    profiles: Mapping[str, Profile], title: str, heading: bool, scale: Shown, shown: Shown, dress: Dress
) -> Figure:
    """Draw mean differences by heading or by another quantity of unit ``scale``, with the spread of each sector."""
    data: list[dict[str, Any]] = []
    for (name, one), style in zip(profiles.items(), _styles(dress), strict=False):
        at = one.at * scale.factor + scale.offset
        data.append(
            {
                "type": "scatter",
                "mode": "markers",
                "name": name,
                "x": at.round(3).tolist(),
                "y": (one.mean * shown.factor).round(3).tolist(),
                "error_y": {
                    "array": (one.sd * shown.factor).round(3).tolist(),
                    "thickness": 1,
                    "width": 0,
                    "color": style["colour"],
                },
                "marker": {
                    "color": style["colour"],
                    "symbol": style["symbol"],
                    "size": 8,
                    "line": {"width": 1.5, "color": style["colour"]},
                },
                "hovertemplate": f"%{{y:+.2f}} {shown.symbol} at %{{x:.4~g}} {scale.symbol}<extra>{name}</extra>",
            }
        )
    axis: dict[str, Any] = {"title": f"{title} [{scale.symbol}]", "zeroline": False}
    if heading:
        ticks = list(range(0, 360, 45))
        axis |= {"range": [-10, 360], "tickvals": ticks, "ticktext": [f"{one:03d}" for one in ticks]}
    seen = [one.mean * shown.factor for one in profiles.values()]
    return {
        "data": data,
        "layout": paper(dress, xaxis=axis, yaxis=_axis(seen, shown)) | named_above(dress),
    }


def _axis(seen: list[Floats], shown: Shown) -> dict[str, Any]:
    """The axis of a difference, with zero in it and the odd outlier out of it."""
    title = {"title": f"difference [{shown.symbol}]", "zeroline": True}
    joined = np.concatenate(seen) if seen else np.empty(0)
    if not len(joined):
        return title
    low, high = np.quantile(joined, (0.005, 0.995)).tolist()
    low, high = min(low, 0.0), max(high, 0.0)
    room = max(0.25 * (high - low), 10 * _LEAST)
    return title | {"range": [low - room, high + room]}


def _styles(dress: Dress) -> list[dict[str, str]]:
    return [
        {"colour": dress.theme.boat, "dash": "solid", "symbol": "circle"},
        {"colour": dress.theme.ground, "dash": "dot", "symbol": "diamond-open"},
        {"colour": dress.theme.ink, "dash": "dash", "symbol": "square-open"},
    ]
