"""The chart of what-if: true wind direction and drift through time, as corrected and as tried."""

from typing import Any

import numpy as np
import pandas as pd

from analysis.passage import Floats, column
from app.dress import Dress

from .paper import Figure, named_above, paper, time_axis
from .reduce import bucket_means, packed, unwrap
from .scene import Scene

NOW, TRIED = "corrected", "your numbers"
_MEANS = 200
_MOST = 500
_DIRECTIONS = ("twd_water_deg", "twd_ground_deg")


def whatif_chart(scene: Scene, tried: pd.DataFrame | None, dress: Dress) -> Figure:
    """Draw TWD (over the water, else over the ground) above drift, as means; ``tried`` None draws the scene alone."""
    kn = dress.units.of("kn")
    direction = next((name for name in _DIRECTIONS if name in scene.columns), None)
    unknown = np.full(len(scene.time_ms), np.nan)
    now = {name: scene.columns.get(name, unknown) for name in (direction, "drift_kn") if name is not None}
    rows = {NOW: now}
    if tried is not None:
        rows[TRIED] = {name: column(tried, name) for name in now}
    styles = {NOW: (dress.theme.boat, "solid"), TRIED: (dress.theme.ink, "dash")}
    data: list[dict[str, Any]] = []
    middle = 0.0
    for name, columns in rows.items():
        colour, dash = styles[name]
        for channel, values in columns.items():
            turning = channel != "drift_kn"
            times, means, sparse = _means(scene.time_ms, unwrap(values) if turning else values)
            if turning:
                middle = _middle(means) if name == NOW else middle
                means = _near(means, middle)
            data.append(
                {
                    "type": "scatter",
                    "mode": "lines+markers" if sparse else "lines",
                    "marker": {"size": 3.5, "color": colour},
                    "name": name,
                    "x": packed(times + dress.clock.offset_ms),
                    "y": packed(means if turning else means * kn.factor),
                    "text": [f"{one % 360:03.0f}°" if np.isfinite(one) else "" for one in means],
                    "yaxis": "y" if turning else "y2",
                    "showlegend": channel == next(iter(columns)),
                    "line": {"color": colour, "width": 2, "dash": dash},
                    "hovertemplate": ("%{text}" if turning else f"%{{y:.2f}} {kn.symbol}")
                    + f" at %{{x|%H:%M}}<extra>{name}</extra>",
                }
            )
    ends = (float(scene.time_ms[0]), float(scene.time_ms[-1])) if len(scene.time_ms) else (0.0, 1.0)
    ticks = np.arange(np.floor((middle - 180) / 10) * 10, middle + 180, 10)
    return {
        "data": data,
        "layout": paper(
            dress,
            xaxis=time_axis(dress, *ends, scene.dated) | {"anchor": "y2"},
            yaxis={
                "title": "TWD [°]",
                "domain": [0.54, 1.0],
                "tickvals": ticks.tolist(),
                "ticktext": [f"{tick % 360:03.0f}" for tick in ticks],
                "nticks": 5,
            },
            yaxis2={"title": f"drift [{kn.symbol}]", "domain": [0.0, 0.44], "rangemode": "tozero"},
        )
        | named_above(dress),
    }


def _means(time_ms: Floats, values: Floats) -> tuple[Floats, Floats, bool]:
    """Average over even stretches; where values are too sparse for one half full, take them as they are (True)."""
    times, means = bucket_means(time_ms, values, _MEANS)
    known = np.flatnonzero(np.isfinite(values))
    if np.isfinite(means).any() or not len(known):
        return times, means, False
    some = known[:: 1 + len(known) // _MOST]
    return time_ms[some], values[some], True


def _middle(continuous_deg: Floats) -> float:
    known = continuous_deg[np.isfinite(continuous_deg)]
    return float(np.median(known)) if len(known) else 0.0


def _near(continuous_deg: Floats, middle: float) -> Floats:
    """Shift whole turns so that a continuous direction lies about a middle."""
    turns = round((middle - _middle(continuous_deg)) / 360.0)
    return continuous_deg + 360.0 * turns
