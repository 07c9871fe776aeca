"""Columns of values -> the text of NMEA 0183 sentences, with checksums worked out in bulk."""

from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def rows(template: str, *columns: NDArray[Any] | list[str]) -> list[str]:
    """Fill a %-template once for each row of columns of one length."""
    listed = (c if isinstance(c, list) else c.tolist() for c in columns)
    return [template % row for row in zip(*listed, strict=True)]


def rose(direction_deg: Floats, decimals: int = 1) -> Floats:
    """Round directions [deg] to what is written, 0 <= x < 360 even after rounding."""
    return np.round(direction_deg % 360, decimals) % 360


def clock(time_s: Floats) -> list[str]:
    """Write seconds since 1970-01-01 UTC as hhmmss.00, the second begun."""
    hours, rest = np.divmod(np.floor(time_s).astype(np.int64) % 86400, 3600)
    return rows("%02d%02d%02d.00", hours, *np.divmod(rest, 60))


def days(time_s: Floats, layout: str) -> list[str]:
    """Write the UTC day of seconds since 1970-01-01 in a strftime layout."""
    numbers = np.floor(time_s / 86400).astype(np.int64)
    names = {day: f"{pd.Timestamp(day * 86400, unit='s'):{layout}}" for day in np.unique(numbers).tolist()}
    return [names[day] for day in numbers.tolist()]


def minutes(angle_deg: Floats, hemispheres: str, width: int) -> list[str]:
    """Write positions as ddmm.mmmm,N or dddmm.mmmm,W: ``width`` digits of degrees, the letters of + and -."""
    ten_thousandths = np.rint(np.abs(angle_deg) * 600_000).astype(np.int64)
    degrees, rest = np.divmod(ten_thousandths, 600_000)
    whole, decimals = np.divmod(rest, 10_000)
    letters = np.where(angle_deg >= 0, hemispheres[0], hemispheres[1])
    return rows(f"%0{width}d%02d.%04d,%s", degrees, whole, decimals, letters)


def with_checksums(bodies: list[str], start: str = "$") -> list[str]:
    """Frame sentence bodies: start character, body, ``*`` and the XOR of the body in two hex digits."""
    if not bodies:
        return []
    octets = np.frombuffer("".join(bodies).encode("ascii"), dtype=np.uint8)
    starts = np.concatenate([[0], np.cumsum([len(body) for body in bodies])[:-1]])
    sums = np.bitwise_xor.reduceat(octets, starts).tolist()
    return [f"{start}{body}*{total:02X}" for body, total in zip(bodies, sums, strict=True)]
