"""The polar: what the boat makes of the wind."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

import numpy as np

from analysis.estimate import SIGMAS_95
from analysis.performance import BestAngle, Polar, Sailed, Tacks
from analysis.performance.cells import UPPER
from analysis.review import Review
from app.units import UNITS, Units

TITLE = "Polar (minutes of steady sailing, corrected)"


def as_json(review: Review) -> Mapping[str, Any]:
    """Arrange the polar as plain values: cells TWA by TWS, null where there are too few minutes."""
    polar = review.case.polar
    minutes = {"used": len(polar.minutes.time_s), "left_out": dict(polar.minutes.left_out)}
    if polar.sailed is None:
        return {"determined": False, "why": polar.why, "minutes": minutes}
    sailed, smooth = polar.sailed, polar.sailed.smooth
    return {
        "determined": True,
        "why": None,
        "minutes": minutes,
        "tws_kn": sailed.grid.tws_kn,
        "twa_deg": sailed.grid.twa_deg,
        "upper_quantile": UPPER,
        **{tack: asdict(cells) for tack, cells in sailed.cells.items()},
        "smooth": {
            "tws_kn": smooth.grid.tws_kn,
            "twa_deg": smooth.grid.twa_deg,
            "speed_kn": smooth.speed_kn,
            "speed_kn_sd": smooth.speed_kn_sd,
        },
        "best_angles": [asdict(one) for one in sailed.best],
        "tacks": [asdict(one) for one in sailed.tacks],
        "against": _against(sailed),
    }


def as_rows(review: Review) -> Sequence[Sequence[str]]:
    """Say the best angles, the tacks and the table in a few rows."""
    polar = review.case.polar
    if polar.sailed is None:
        return [("polar", f"none: {polar.why}")]
    sailed = polar.sailed
    return [
        ("steady sailing", minutes_text(polar)),
        *(
            (f"best {'up' if upwind else 'down'}wind", best_text(sailed.best, upwind))
            for upwind in (True, False)
        ),
        *((f"tacks, {one.point}", tacks_text(one)) for one in sailed.tacks),
        *([("against the table", against_text(sailed))] if sailed.against.imported else []),
    ]


def minutes_text(polar: Polar) -> str:
    """Say how many minutes were used, and why the others were not."""
    left_out = ", ".join(f"{count} {reason}" for reason, count in polar.minutes.left_out.items())
    return f"{len(polar.minutes.time_s)} min{f'; left out: {left_out}' if left_out else ''}"


def best_text(best: Sequence[BestAngle], upwind: bool, units: Units = UNITS["knots"]) -> str:
    """Say the best angles wind by wind where they are determined."""
    told = [
        f"{one.twa_deg:.0f} ± {max(SIGMAS_95 * (one.twa_deg_sd or 0.0), 1.0):.0f}° "
        f"in {wind_text(one.tws_kn, units)}"
        for one in best
        if one.upwind == upwind and one.twa_deg is not None
    ]
    if told:
        return f"TWA {', '.join(told)}"
    whys = [one.why for one in best if one.upwind == upwind]
    return f"not determined: {max(whys, key=whys.count)}" if whys else "not determined"


def wind_text(tws_kn: float, units: Units = UNITS["knots"]) -> str:
    """Write a round wind speed."""
    shown = units.of("kn")
    return f"{tws_kn * shown.factor:.{0 if shown.factor == 1 else 1}f} {shown.symbol}"


def tacks_text(one: Tacks) -> str:
    """Say how one tack differs from the other."""
    spread = SIGMAS_95 * one.speed_percent_sd
    if abs(one.speed_percent) <= spread:
        return f"alike within {max(spread, 1.0):.0f} %"
    tack = "starboard" if one.speed_percent > 0 else "port"
    return f"{abs(one.speed_percent):.1f} ± {max(spread, 0.1):.1f} % faster on {tack} tack"


def against_text(sailed: Sailed) -> str:
    """Say how the passage did against the table given."""
    against = sailed.against
    if against.mean_percent is None:
        return "no minute lies within the table"
    spread = SIGMAS_95 * (against.mean_percent_sd or 0.0)
    return (
        f"{against.mean_percent:.0f} ± {max(spread, 1.0):.0f} % of its speed; out of reach in "
        f"{len(against.unreachable)} cells, beaten in {len(against.beaten)}"
    )


def _against(sailed: Sailed) -> Mapping[str, Any]:
    against = sailed.against
    seconds = sailed.minutes.time_s.astype("datetime64[s]")
    return {
        "imported": against.imported,
        "mean_percent": against.mean_percent,
        "mean_percent_sd": against.mean_percent_sd,
        "time_utc": [f"{one}Z" for one in np.datetime_as_string(seconds)],
        "percent": against.percent,
        "percent_sd": against.percent_sd,
        "unreachable": [asdict(one) for one in against.unreachable],
        "beaten": [asdict(one) for one in against.beaten],
    }
