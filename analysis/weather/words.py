"""What a forecast came to, in words."""

from collections.abc import Callable

from analysis.estimate import SIGMAS_95
from analysis.weather.check import PRESSURE, TWD, TWS, ForecastCheck, Score
from analysis.weather.shift import Shift

Speed = Callable[[float, float | None], str]
ONE_SAMPLE = "It is one passage; other weather may err otherwise."


def in_knots(speed_kn: float, spread_kn: float | None) -> str:
    """Write a speed in knots, with its ± where it has one."""
    return f"{speed_kn:.1f} kn" if spread_kn is None else f"{speed_kn:.1f} ± {spread_kn:.1f} kn"


def trust_text(check: ForecastCheck, speed: Speed = in_knots) -> str:
    """Say in a sentence how far to trust the next forecast of the kind."""
    if check.why_not:
        return check.why_not
    parts = [
        text
        for text in (
            _speed_text(check.score(TWS), speed),
            _direction_text(check.score(TWD)),
            _pressure_text(check.score(PRESSURE)),
            _shift_text(check.shift),
        )
        if text
    ]
    if not parts:
        return "This passage tells no lasting error of the forecast from chance."
    return f"Going by this passage, expect of the next forecast {'; '.join(parts)}. {ONE_SAMPLE}"


def bias_text(score: Score, speed: Speed = in_knots) -> str:
    """Say the mean error of a forecast's quantity with its ±, and which way it lies."""
    one = score.bias
    if one.value is None:
        return "not determined"
    size, spread = abs(one.value), None if one.sd is None else SIGMAS_95 * one.sd
    if score.channel == TWS:
        text = f"{speed(size, spread)} too {'strong' if one.value > 0 else 'weak'}"
    elif score.channel == TWD:
        within = "" if spread is None else f" ± {spread:.0f}°"
        text = f"{size:.0f}°{within} too far to the {'right' if one.value > 0 else 'left'}"
    else:
        within = "" if spread is None else f" ± {max(spread, 0.1):.1f}"
        text = f"{size:.1f}{within} hPa too {'high' if one.value > 0 else 'low'}"
    if spread is None:
        return f"{text} on this passage; too short a one to tell whether it lasts"
    if not one.determined:
        return f"{text}, or the barometer too {'low' if one.value > 0 else 'high'}: it was not checked"
    return text if score.is_off else f"no lasting error told ({text})"


def shift_text(shift: Shift | None) -> str:
    """Say how late the weather came."""
    one = None if shift is None else shift.lag
    if one is None or not one.determined or one.value is None:
        return "not determined: nothing changed sharply enough to time it"
    size, spread = abs(one.value), SIGMAS_95 * (one.sd or 0.0)
    text = f"{size:.1f} ± {max(spread, 0.1):.1f} h {'later' if one.value > 0 else 'earlier'} than forecast"
    return text if size > spread else f"on time, as far as can be told ({text})"


def _speed_text(score: Score | None, speed: Speed) -> str:
    if score is None or not score.bias.determined:
        return ""
    value, spread = score.bias.value or 0.0, SIGMAS_95 * (score.bias.sd or 0.0)
    if score.is_off:
        return f"{speed(abs(value), spread)} {'less' if value > 0 else 'more'} wind than it says"
    return f"the wind speed it says, ± {speed(SIGMAS_95 * score.rms, None)} at any moment"


def _direction_text(score: Score | None) -> str:
    if score is None or not score.bias.determined:
        return ""
    value, spread = score.bias.value or 0.0, SIGMAS_95 * (score.bias.sd or 0.0)
    if score.is_off:
        return f"the wind {abs(value):.0f}° ± {spread:.0f}° farther to the {'left' if value > 0 else 'right'}"
    return f"the direction it says, ± {SIGMAS_95 * score.rms:.0f}° at any moment"


def _pressure_text(score: Score | None) -> str:
    if score is None or not score.is_off:
        return ""
    value, spread = score.bias.value or 0.0, SIGMAS_95 * (score.bias.sd or 0.0)
    return f"a pressure {abs(value):.1f} ± {spread:.1f} hPa {'lower' if value > 0 else 'higher'}"


def _shift_text(shift: Shift | None) -> str:
    one = None if shift is None else shift.lag
    if one is None or not one.determined or one.value is None:
        return ""
    spread = SIGMAS_95 * (one.sd or 0.0)
    if abs(one.value) <= spread:
        return ""
    return f"the weather {abs(one.value):.1f} ± {max(spread, 0.1):.1f} h {'later' if one.value > 0 else 'earlier'}"
