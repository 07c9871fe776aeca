"""The small charts of the Findings page: a series with what is wrong in it, what turns with the boat, a curve."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from analysis.calibration import Evidence
from analysis.channels import CHANNELS
from analysis.estimate import SIGMAS_95, Estimate
from analysis.passage import Floats
from analysis.profiles import Profile
from app.dress import Dress
from app.units import Shown

from .paper import CORRECTED, SHOWN, Figure, named_above, paper, time_axis
from .reduce import extremes, packed
from .scales import round_step

_BUCKETS = 350
_ROOM = 1.25
_LEAST_REACH = 0.2


@dataclass(frozen=True)
class Marked:
    """A part of a series to point at, both ends in ms since 1970 UTC."""

    start_ms: float
    end_ms: float


def series_chart(
    time_ms: Floats,
    lines: Mapping[str, Floats],
    channel: str,
    marked: Sequence[Marked],
    dress: Dress,
    dated: bool,
) -> Figure:
    """Draw a channel through time, every line named, with shaded stretches; directions as dots."""
    shown = dress.units.of_channel(channel)
    turning = CHANNELS[channel].kind in ("direction", "signed_angle")
    styles = {SHOWN: (dress.theme.ground, "dot", "diamond"), CORRECTED: (dress.theme.boat, "solid", "circle")}
    data = []
    for name, values in lines.items():
        kept = extremes(values, _BUCKETS)
        colour, dash, symbol = styles.get(name, (dress.theme.boat, "solid", "circle"))
        style: dict[str, Any] = (
            {"mode": "markers", "marker": {"color": colour, "symbol": symbol, "size": 3.5}}
            if turning
            else {
                "mode": "lines",
                "line": {"color": colour, "width": 1.8, "dash": dash if len(lines) > 1 else "solid"},
            }
        )
        data.append(
            {
                "type": "scatter",
                "name": name,
                "x": packed(time_ms[kept] + dress.clock.offset_ms),
                "y": packed(values[kept] * shown.factor + shown.offset),
                "hovertemplate": f"%{{y:.{max(shown.decimals, 1)}f}} {shown.symbol} at %{{x|%H:%M:%S}}"
                f"<extra>{name}</extra>",
            }
            | style
        )
    axis: dict[str, Any] = {"title": f"{CHANNELS[channel].label} [{shown.symbol}]"}
    if turning:
        low = 0 if CHANNELS[channel].kind == "direction" else -180
        seen = np.concatenate([values[np.isfinite(values)] for values in lines.values()])
        if not len(seen) or np.ptp(seen) > 120:
            axis |= {"range": [low, low + 360], "dtick": 90}
    layout = paper(dress, xaxis=time_axis(dress, float(time_ms[0]), float(time_ms[-1]), dated), yaxis=axis)
    shapes = [
        {
            "type": "rect",
            "xref": "x",
            "yref": "paper",
            "x0": one.start_ms + dress.clock.offset_ms,
            "x1": one.end_ms + dress.clock.offset_ms,
            "y0": 0,
            "y1": 1,
            "fillcolor": f"{dress.theme.accent}33",
            "line": {"width": 1.5, "color": dress.theme.accent},
            "layer": "below",
        }
        for one in marked
    ]
    return {
        "data": data,
        "layout": layout | {"shapes": shapes} | (named_above(dress) if len(lines) > 1 else {}),
    }


def profile_chart(
    profiles: Mapping[str, Profile], by: str, scale: Shown, title: str, shown: Shown, dress: Dress
) -> Figure:
    """Draw means by heading (``by`` = "heading") or by another quantity, before and after; zero is in order."""
    styles = {
        SHOWN: (dress.theme.ground, "diamond-open", -1.0),
        CORRECTED: (dress.theme.boat, "circle", 1.0),
    }
    heading = by == "heading"
    data = []
    seen = [_LEAST_REACH]
    for name, one in profiles.items():
        colour, symbol, aside = styles[name]
        values = one.mean * shown.factor
        seen += np.abs(values).tolist()
        data.append(
            {
                "type": "scatter",
                "mode": "markers",
                "name": name,
                "x": (one.at * scale.factor + (1.6 * aside if heading else 0.0)).round(3).tolist(),
                "y": values.round(3).tolist(),
                "error_y": {
                    "array": (one.sd * shown.factor).round(3).tolist(),
                    "thickness": 1,
                    "width": 0,
                    "color": colour,
                },
                "marker": {
                    "color": colour,
                    "symbol": symbol,
                    "size": 8,
                    "line": {"width": 2, "color": colour},
                },
                "hovertemplate": f"%{{y:+.2f}} {shown.symbol} at %{{x:.0f}} {scale.symbol}<extra>{name}</extra>",
            }
        )
    reach = _ROOM * max(seen)
    axis = {"title": f"{by} [{scale.symbol}]", "zeroline": False}
    if heading:
        axis |= {"range": [-12, 357], "dtick": 45}
    return {
        "data": data,
        "layout": paper(
            dress,
            xaxis=axis,
            yaxis={
                "title": f"{title} [{shown.symbol}]",
                "range": [-reach, reach],
                "zeroline": True,
                "dtick": round_step(2 * reach, 6),
            },
        )
        | named_above(dress),
    }


def step_chart(compass_deg: Sequence[float], change_deg: Sequence[float], dress: Dress) -> Figure:
    """Draw by how much a compass turned on each heading [deg]."""
    data = {
        "type": "bar",
        "x": list(compass_deg),
        "y": [round(one, 2) for one in change_deg],
        "marker": {"color": dress.theme.boat},
        "width": 22,
        "hovertemplate": "turned by %{y:+.1f}° on %{x:.0f}°<extra></extra>",
    }
    return {
        "data": [data],
        "layout": paper(
            dress,
            xaxis={"title": "heading by compass [°]", "dtick": 45, "range": [-25, 340]},
            yaxis={"title": "turned by [°]", "zeroline": True},
        ),
    }


def evidence_chart(evidence: Sequence[Evidence], estimate: Estimate, unit: str, dress: Dress) -> Figure:
    """Draw each line of evidence with its 95 % interval, and the estimate they give together."""
    rows = [(one.name, one.value, one.sd, dress.theme.muted, "circle-open") for one in evidence]
    if estimate.value is not None and estimate.sd is not None:
        rows.insert(0, ("taken together", estimate.value, estimate.sd, dress.theme.boat, "diamond"))
    decimals = 1 if unit == "°" else 3
    data = [
        {
            "type": "scatter",
            "mode": "markers",
            "x": [value],
            "y": [name],
            "error_x": {"array": [SIGMAS_95 * sd], "thickness": 2.5, "width": 6, "color": colour},
            "marker": {"color": colour, "symbol": symbol, "size": 11, "line": {"width": 2, "color": colour}},
            "hovertemplate": f"{value:+.{decimals}f} ± {SIGMAS_95 * sd:.{decimals}f} {unit}<extra></extra>",
        }
        for name, value, sd, colour, symbol in rows[::-1]
    ]
    return {
        "data": data,
        "layout": paper(
            dress,
            margin={"l": round(dress.px(190)), "r": 20, "t": 8, "b": 44},
            xaxis={"title": f"correction [{unit}], with 95 % interval", "zeroline": unit == "°"},
            yaxis={"tickfont": {"color": dress.theme.ink, "size": dress.px(13)}, "showgrid": False},
        ),
    }
