"""Steering: the rudder sensor, how the boat answers it, how steadily she is steered, and the gusts."""

import dataclasses
import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from analysis.estimate import SIGMAS_95
from analysis.findings.telling import iso
from analysis.passage import NO_ROWS
from analysis.review import Review
from analysis.steering import Comparison, Gusts, Rudder, Steadiness
from app.units import UNITS, Shown

from .values import estimate_object, known

TITLE = "Steering"
_KN = UNITS["knots"].of("kn")
NO_RUDDER = "The recording has no rudder angle (RSA, or XDR with RUDDER)."


def as_json(review: Review) -> Mapping[str, Any]:
    """Arrange the part as plain values."""
    case = review.case
    return {
        "rudder": {"missing": no_rudder(review)} if case.rudder is None else _rudder(case.rudder),
        "steadiness": _steadiness(case.steadiness),
        "gusts": _gusts(case.gusts),
    }


def as_rows(review: Review) -> Sequence[Sequence[str]]:
    """Say the part in a few rows."""
    case = review.case
    rows: list[tuple[str, str]] = []
    if case.rudder is not None:
        rows += rudder_rows(case.rudder)
    elif not case.steadiness.missing or "heading_true_deg" in case.frame:
        rows.append(("rudder", no_rudder(review)))
    steady = case.steadiness
    if steady.missing:
        rows += [("steadiness", steady.missing)] if "heading_true_deg" in case.frame else []
    else:
        rows += [(one.name, comparison_text(one)) for one in (steady.upwind, steady.downwind)]
        rows.append(("steered by", steered_text(steady)))
    if not case.gusts.missing:
        rows.append(("gusts", gusts_text(case.gusts)))
    return rows


def no_rudder(review: Review) -> str:
    """Say why there is no rudder angle."""
    return NO_RUDDER if len(review.frame) else f"{NO_ROWS.capitalize()}."


def rudder_rows(rudder: Rudder) -> list[tuple[str, str]]:
    """Say what is known of the rudder sensor, in rows."""
    if rudder.still:
        return [("rudder", "stood still while the boat turned: see the findings")]
    return [
        ("rudder offset", offset_text(rudder)),
        ("weather helm", helm_text(rudder)),
        ("response", response_text(rudder)),
    ]


def offset_text(rudder: Rudder) -> str:
    """Say what the sensor is off by amidships."""
    one = rudder.judged
    if one.value is None or one.sd is None:
        return f"not determined. {one.needs}"
    text = f"{round(one.value, 1) + 0.0:+.1f}° ± {max(SIGMAS_95 * one.sd, 0.1):.1f}°"
    if one.determined:
        return f"{text}, weather helm apart"
    return f"not determined ({text}). {one.needs}"


def helm_text(rudder: Rudder) -> str:
    """Say what helm she needs."""
    one = rudder.helm
    if one is None or not one.determined or one.value is None:
        return "not determined: it needs heading, heel and both tacks"
    size, spread = 10 * one.value, 10 * SIGMAS_95 * (one.sd or 0.0)
    name = "weather" if size >= 0 else "lee"
    if abs(size) <= spread:
        text = f"{round(size, 1) + 0.0:+.1f}° ± {max(spread, 0.1):.1f}°"
        return f"none that can be told: {text} of rudder for 10° of heel"
    return f"{abs(size):.1f}° ± {max(spread, 0.1):.1f}° of {name} helm for 10° of heel"


def response_text(rudder: Rudder) -> str:
    """Say how she answers."""
    response = rudder.response
    gain, delay = response.gain, response.delay
    if not gain.determined or gain.value is None:
        return f"not determined. {gain.needs}"
    speed = f" at {response.stw_kn:.1f} kn" if response.stw_kn is not None else ""
    late = (
        f", {delay.value:.1f} ± {SIGMAS_95 * (delay.sd or 0):.1f} s later, the compass's own lag in it"
        if delay.determined and delay.value is not None
        else ""
    )
    return f"{gain.value:+.2f} ± {SIGMAS_95 * (gain.sd or 0):.2f}°/s for each degree of rudder{speed}{late}"


def comparison_text(one: Comparison) -> str:
    """Say which wind angle is the steadier to steer by."""
    if one.ratio is None or one.low is None or one.high is None:
        return f"not determined: {one.reason}"
    numbers = f"apparent wind swings {one.ratio:.2f} times as far as the true wind ({one.low:.2f} to {one.high:.2f})"
    return (
        f"{one.steadier} is the steadier to steer by: {numbers}"
        if one.steadier
        else f"no difference told: {numbers}"
    )


def steered_text(steady: Steadiness) -> str:
    """Say whether pilot or hand steered, as far as a log can."""
    if steady.pilot:
        return f"pilot or hand: not told for sure; {', '.join(steady.pilot)} recorded, so a pilot was on the line"
    if steady.plotter:
        sent = ", ".join(steady.plotter)
        return (
            f"pilot or hand: the recording does not tell; a plotter sent steering data ({sent}), pilot or not"
        )
    return "pilot or hand: the recording does not tell (no sentence to or from a pilot)"


def gusts_text(gusts: Gusts, kn: Shown = _KN) -> str:
    """Say how many gusts there were, and what the boat does in them."""
    if not len(gusts.time_s) or gusts.per_hour is None:
        return f"none {2 * kn.factor:.0f} {kn.symbol} above the mean of ten minutes"
    often = (
        f"{gusts.per_hour:.1f} an hour"
        if gusts.hours >= 1
        else f"{len(gusts.time_s)} in {60 * gusts.hours:.0f} min"
    )
    text = (
        f"{often}, {np.median(gusts.rise_kn) * kn.factor:.1f} {kn.symbol} above the mean, "
        f"{gusts.rise_kn.max() * kn.factor:.1f} at most"
    )
    for one in gusts.responses:
        way = "luffs" if one.luff_deg >= 0 else "bears away"
        heel = (
            f", heels {one.heel_deg:+.1f} ± {SIGMAS_95 * one.heel_sd_deg:.1f}°"
            if math.isfinite(one.heel_deg)
            else ""
        )
        text += f"; {one.name} she {way} {abs(one.luff_deg):.1f} ± {SIGMAS_95 * one.luff_sd_deg:.1f}°{heel}"
    return text


def _rudder(rudder: Rudder) -> Mapping[str, Any]:
    response = rudder.response
    return {
        "missing": None,
        "channel": rudder.channel,
        "offset": estimate_object(rudder.judged),
        "weather_helm": estimate_object(rudder.helm),
        "tacks": {
            one.side: {
                "mean_shown_deg": one.mean_deg,
                "sd_deg": known(one.sd_deg),
                "mean_heel_deg": one.heel_deg,
                "minutes": one.duration_s / 60,
            }
            for one in rudder.tacks
        },
        "response": {
            "gain": estimate_object(response.gain),
            "gain_to_port": estimate_object(response.to_port),
            "gain_to_starboard": estimate_object(response.to_starboard),
            "delay": estimate_object(response.delay),
            "stw_kn": response.stw_kn,
            "turns": len(response.turn_gains),
            "reversed": rudder.reversed if response.sign else None,
        },
        "range_deg": list(rudder.range_deg) if rudder.range_deg else None,
        "noise_deg": rudder.noise_deg,
        "step_deg": rudder.step_deg,
        "play": estimate_object(response.play),
        "stuck": [
            {
                "start_utc": iso(one.start),
                "end_utc": iso(one.end),
                "value_deg": one.value_deg,
                "turns": one.turns,
            }
            for one in rudder.still
        ],
    }


def _steadiness(steady: Steadiness) -> Mapping[str, Any]:
    return {
        "missing": steady.missing or None,
        "classes": [
            {name: known(value) for name, value in dataclasses.asdict(one).items()} for one in steady.classes
        ],
        "upwind": dataclasses.asdict(steady.upwind),
        "downwind": dataclasses.asdict(steady.downwind),
        "yaw_deg": {name: {"value": value, "sd": sd} for name, value, sd in steady.yaw_deg},
        "pilot_sentences": [*steady.pilot, *steady.plotter],
    }


def _gusts(gusts: Gusts) -> Mapping[str, Any]:
    return {
        "missing": gusts.missing or None,
        "count": len(gusts.time_s),
        "per_hour": gusts.per_hour,
        "median_rise_kn": float(np.median(gusts.rise_kn)) if len(gusts.rise_kn) else None,
        "max_rise_kn": float(gusts.rise_kn.max()) if len(gusts.rise_kn) else None,
        "build_s": gusts.build_s,
        "responses": [
            {name: known(value) for name, value in vars(one).items() if not isinstance(value, np.ndarray)}
            for one in gusts.responses
        ],
    }
