"""Positions as people write them."""

import math
import re

from analysis.errors import SettingError

_NUMBER = r"[+-]?\d+(?:\.\d+)?"
_FILLING = re.compile(r"[\s°º'′’\"″,;]*")
_EXAMPLE = "50.105N 1.25W"
_HELP = f"write it as {_EXAMPLE}, or as 50°06.30′N 001°15.00′W"


def position_text(lat_deg: float, lon_deg: float) -> str:
    """Write a position [deg] in degrees and minutes to a thousandth; a dash where it is missing."""
    if not (math.isfinite(lat_deg) and math.isfinite(lon_deg)):
        return "–"
    return f"{_degrees_minutes(lat_deg, 'NS', 2)}  {_degrees_minutes(lon_deg, 'EW', 3)}"


def _degrees_minutes(degrees: float, letters: str, width: int) -> str:
    whole, rest = divmod(round(abs(degrees) * 60000), 60000)
    return f"{whole:0{width}d}°{rest / 1000:06.3f}′{letters[0] if degrees >= 0 else letters[1]}"


def parse_position(text: str) -> tuple[float, float]:
    """Read latitude and longitude [deg], north and east positive, from one line.

    Takes degrees, degrees and minutes, or degrees, minutes and seconds followed by N or S and E or W; or two signed
    numbers in degrees. Raises SettingError for anything else, a decimal comma too, and for a place off the globe.
    """
    parts = re.findall(rf"{_NUMBER}|[NSEW]", text.upper())
    if not _FILLING.fullmatch(re.sub(rf"{_NUMBER}|[NSEW]", " ", text.upper())):
        raise SettingError(f"{text!r} is not a position; {_HELP}.")
    sides = [place for place, part in enumerate(parts) if part in "NSEW"]
    if sides and re.search(r"\d,\d", text):
        raise SettingError(
            f"{text!r} has a comma inside a coordinate; write the decimals with a point, as {_EXAMPLE}."
        )
    if not sides and len(parts) == 2:
        lat, lon = float(parts[0]), float(parts[1])
    elif len(sides) == 2 and parts[sides[0]] in "NS" and parts[sides[1]] in "EW" and parts[-1] in "EW":
        first, second = parts[: sides[0]], parts[sides[0] + 1 : sides[1]]
        lat = _degrees(first, text) * (-1 if parts[sides[0]] == "S" else 1)
        lon = _degrees(second, text) * (-1 if parts[sides[1]] == "W" else 1)
    else:
        raise SettingError(f"{text!r} is not a position; {_HELP}.")
    if abs(lat) > 90 or abs(lon) > 180:
        raise SettingError(f"{text!r} lies off the globe; latitudes go to 90, longitudes to 180.")
    return lat, lon


def _degrees(parts: list[str], text: str) -> float:
    values = [float(part) for part in parts]
    if not 1 <= len(values) <= 3 or min(values) < 0 or max(values[1:], default=0.0) >= 60:
        raise SettingError(f"{text!r} is not a position; {_HELP}.")
    return float(sum(value / 60.0**place for place, value in enumerate(values)))
