"""The boat's own true wind: what her display works it out from, what that does, and what to set."""

from collections.abc import Iterator
from dataclasses import dataclass

from analysis.estimate import SIGMAS_95
from analysis.findings.case import Case
from analysis.findings.finding import Finding
from analysis.logged_wind import Hypothesis, LoggedWind

GROSS_DEG, GROSS_SHARE = 5.0, 0.10  # WMO-No. 8 annex 1.A, from memory: wind direction 5 deg, speed 10 %
NOTED_DEG, NOTED_SHARE = 1.0, 0.05  # MSC.116(73) 4.3.2: heading within 1 deg; half of the wind's speed
LATE_S, LATE_DELAY_S = 12.0, 4.0  # beyond the dampings that displays offer; common practice, no source
RANKED = 5


@dataclass(frozen=True)
class _Cause:
    """What to say of one way to work out the true wind; ``gravest`` is the severity of a large effect."""

    does: str
    gravest: str
    action: str
    verify: str
    caution: str = ""


_TURN = "Under engine in steady wind turn a full circle in five minutes: the shown wind direction must stand still."
_TACKS = "Tack twice with ten minutes on each: the shown wind direction must be the same on both."
_NORTH = "Bow into the wind for a minute: the shown wind direction must be the heading, as the chart has it."
_WIND = "With sails down and the boat stopped, compare true and apparent wind for two minutes: they must be equal."

_CAUSES = {
    "water": _Cause(
        "is over the water, leeway left out",
        "note",
        "Nothing to set. To compare it with a forecast, add the current.",
        _TACKS,
    ),
    "leeway-taken-in": _Cause(
        "is over the water with leeway taken in",
        "note",
        "Nothing to set as long as heel and leeway coefficient in the display are right.",
        _TACKS,
    ),
    "ground": _Cause(
        "is over the ground",
        "advice",
        "Set the wind display to use the log: laylines and polars need the wind over the water.",
        "Stop for two minutes in a current: the true wind must then equal the apparent one.",
        "Where the log is fouled or dead, the wind over the ground is the better one.",
    ),
    "speed-over-ground": _Cause(
        "is worked out with the speed over the ground in place of the speed through the water",
        "advice",
        "Set the wind display to work from the log, after the log is in order.",
        "Stop for two minutes in a current: the true wind must then equal the apparent one.",
        "Where the log is fouled or dead, the speed over the ground is the better one.",
    ),
    "direction-over-ground": _Cause(
        "is over the water off the bow, but over the ground in its direction",
        "note",
        "Nothing to set. Mind that its angle and its direction tell two different winds.",
        _TACKS,
    ),
    "magnetic": _Cause(
        "takes magnetic north for true north or the other way round",
        "fault",
        "Set the north reference of the wind display to match its heading, true with true.",
        _NORTH,
        "A second instrument may already correct for it; change one place only.",
    ),
    "variation-twice": _Cause(
        "applies variation twice",
        "fault",
        "Let either the compass or the wind display apply variation, not both.",
        _NORTH,
        "Change one place only, or variation is missing altogether.",
    ),
    "other-heading": _Cause(
        "uses a heading other than the recorded one",
        "note",
        "Find out which compass the wind display uses, and let it use the calibrated one.",
        _TURN,
    ),
    "mirrored": _Cause(
        "swaps port and starboard of the vane",
        "fault",
        "Exchange the two vane signal wires of the display or its port/starboard setting.",
        "Sail on starboard tack for a minute: the true wind angle must show starboard.",
    ),
    "lag": _Cause(
        "lags",
        "advice",
        "Lower the damping of true wind, and of the vane input of the display.",
        "Tack and count the seconds until the true wind direction stands still again.",
        "Less damping shows more of the waves; go down in steps.",
    ),
    "unit": _Cause(
        "has a speed in the wrong unit",
        "fault",
        "Set one unit for wind and log at the display and at the sensor.",
        _WIND,
    ),
    "frozen-log": _Cause(
        "is worked out from a stuck speed through the water",
        "fault",
        "Check how the log reaches the wind display: cable, source setting, paddle wheel.",
        _WIND,
        "True wind, laylines and polars are wrong until the log is back.",
    ),
    "frozen-wind": _Cause(
        "is worked out from a stuck apparent wind",
        "fault",
        "Check how the vane reaches the wind display: cable and source setting.",
        _WIND,
    ),
    "frozen-heading": _Cause(
        "is worked out from a stuck heading",
        "fault",
        "Check how the compass reaches the wind display: cable and source setting.",
        _TURN,
    ),
    "apparent-repeated": _Cause(
        "repeats the apparent wind",
        "fault",
        "Check that the log reaches the wind display: without it the boat is taken to stand still.",
        "Sail at 5 kn or more for a minute: true and apparent wind must differ.",
    ),
    "calibrated": _Cause(
        "is worked out from readings corrected in a way the recorded ones are not",
        "advice",
        "Enter the same corrections once, at the sensor, so that apparent and true wind rest on the same readings.",
        _TACKS,
        "Before entering any, see which of the two the calibration of this recording supports.",
    ),
    "uncorrected": _Cause(
        "is worked out without the corrections that the recorded readings have",
        "advice",
        "Enter the corrections at the sensor rather than in one display.",
        _TACKS,
    ),
    "heel": _Cause(
        "is worked out from an apparent wind levelled for heel", "note", "Nothing to set.", _TACKS
    ),
}
_FIRST = tuple(
    _CAUSES
)  # of two causes that one is told first of which the severity is greater, else this order
_GRAVITY = {"fault": 0, "advice": 1, "note": 2}


def true_wind(case: Case) -> Iterator[Finding]:
    """Say how the boat's own true wind comes about."""
    wind = case.logged_wind
    if wind is None:
        return
    best = wind.best
    names = sorted(
        best.causes or ("water",), key=lambda name: (_GRAVITY[_CAUSES[name].gravest], _FIRST.index(name))
    )
    cause = _CAUSES[names[0]]
    value, sd, unit, effect = _number(wind, names[0])
    causes = " and ".join(_CAUSES[name].does for name in names if name != "lag")
    does = f": it {causes}" if causes else ""
    yield Finding(
        id="true-wind-reference",
        subject="true wind",
        severity=_severity(wind, names[0]) if wind.determined else "note",
        title=f"The display's true wind is {effect}{does}{_detail(best, wind)}.{_untold(wind)}",
        value=value,
        sd=sd,
        unit=unit,
        determined=wind.determined,
        evidence=_evidence(wind, names),
        action=cause.action,
        verify=cause.verify,
        caution=cause.caution,
    )


def _severity(wind: LoggedWind, name: str) -> str:
    gravest = _CAUSES[name].gravest
    if name == "lag":
        late = wind.lag_s is not None and wind.lag_sd_s is not None and wind.lag_s - 3 * wind.lag_sd_s
        return gravest if (late and late > LATE_S) or wind.delay_s >= LATE_DELAY_S else "note"
    if name in ("ground", "speed-over-ground") and not wind.angle_logged:
        return "note"  # a direction over the ground is what its sentence is meant to tell
    large = wind.effect_deg > GROSS_DEG or wind.effect_share > GROSS_SHARE
    noted = wind.effect_deg > NOTED_DEG or wind.effect_share > NOTED_SHARE
    if name in ("calibrated", "uncorrected"):
        return gravest if large else "note"
    if gravest == "fault":
        return "fault" if large else "advice" if noted else "note"
    return gravest if noted else "note"


def _number(wind: LoggedWind, name: str) -> tuple[float | None, float | None, str, str]:
    """The number of the title: value, one-sigma, unit, and the words that carry it."""
    if name == "lag" and wind.lag_s is not None and wind.lag_sd_s is not None:
        words = f"{wind.lag_s:.0f} ± {SIGMAS_95 * wind.lag_sd_s:.0f} s late, damping included"
        return wind.lag_s, wind.lag_sd_s, "s", words
    if name == "water":
        left = wind.best.left_kn
        return left, None, "kn", f"within {max(left, 0.1):.1f} kn of what its sensors give"
    if wind.effect_share > GROSS_SHARE and wind.effect_deg < GROSS_DEG:
        share, share_sd = 100 * wind.effect_share, 100 * wind.effect_share_sd
        words = f"changed by {share:.0f} ± {max(SIGMAS_95 * share_sd, 1):.0f} % in speed"
        return share, share_sd, "%", words
    words = f"turned by {wind.effect_deg:.1f} ± {max(SIGMAS_95 * wind.effect_deg_sd, 0.1):.1f}°"
    return wind.effect_deg, wind.effect_deg_sd, "deg", words


def _detail(best: Hypothesis, wind: LoggedWind) -> str:
    parts = []
    numbers = best.numbers
    if "detail" in numbers:
        parts.append(str(numbers["detail"]))
    if "stw_kn" in numbers:
        parts.append(f"{numbers['stw_kn']:.1f} kn")
    if "heading_true_deg" in numbers:
        parts.append(f"{numbers['heading_true_deg']:.0f}°")
    if "vane_offset_deg" in numbers:
        parts.append(
            f"AWA {numbers['vane_offset_deg']:+.1f}°, AWS × {numbers['wind_speed_factor']:.2f}"
            + (f", STW × {numbers['log_factor']:.2f}" if "log_factor" in numbers else "")
        )
    if "heading_offset_deg" in numbers:
        parts.append(f"{numbers['heading_offset_deg']:+.1f}°")
    if {"magnetic", "variation-twice"} & set(best.causes) and wind.variation_deg is not None:
        parts.append(f"variation {abs(wind.variation_deg):.1f}° {'E' if wind.variation_deg >= 0 else 'W'}")
    if "since_utc" in numbers:
        parts.append(f"since {str(numbers['since_utc'])[11:16]} UTC")
    return f" ({', '.join(parts)})" if parts else ""


def _untold(wind: LoggedWind) -> str:
    """What the log cannot tell from the first hypothesis, in the words of the causes."""
    if wind.determined:
        return ""
    rivals = [_CAUSES[name].does for name in wind.untold[:2] if name in _CAUSES]
    return f" Or it {' or '.join(rivals)}: this recording does not tell which." if rivals else ""


def _evidence(wind: LoggedWind, names: list[str]) -> dict[str, object]:
    ranked = [
        {
            "cause": one.id,
            "explained_percent": round(100 * one.explained, 1),
            "left_kn": round(one.left_kn, 3),
            "left_deg": round(one.left_deg, 2),
            "margin": round(one.margin, 1),
        }
        for one in wind.hypotheses[:RANKED]
    ]
    return {
        "cause": wind.best.id,
        "causes": names,
        "words": wind.best.words,
        "explained_percent": round(100 * wind.best.explained, 1),
        "effect_deg": round(wind.effect_deg, 2),
        "effect_percent": round(100 * wind.effect_share, 1),
        "lag_s": wind.lag_s,
        "lag_sd_s": wind.lag_sd_s,
        "hours": round(wind.hours, 2),
        "ranked": ranked,
        "not_told_from": list(wind.untold),
        **dict(wind.best.numbers),
    }
