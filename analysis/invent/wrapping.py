"""The ways a recorder wraps sentences."""

from typing import Literal

import numpy as np

from analysis.errors import SettingError
from analysis.invent.noise import Floats
from analysis.phrasing import with_checksums

Wrapping = Literal["bare", "iso", "tag", "csv"]


def wrap_lines(lines: list[str], time_s: Floats, style: Wrapping = "bare") -> list[str]:
    r"""Wrap sentences recorded at time_s [s since 1970-01-01 UTC]; ``csv`` adds a header line.

    iso  ``2026-05-01T12:00:00.123Z $...``      tag  ``\s:DEV,c:1777636800*hh\$...`` (whole seconds)
    csv  ``1777636800123,"$..."`` under ``timestamp,sentence``
    Raises SettingError for any other style.
    """
    if style == "bare":
        return list(lines)
    milliseconds = np.rint(np.asarray(time_s) * 1000).astype(np.int64)
    if style == "iso":
        stamps = np.datetime_as_string(milliseconds.astype("datetime64[ms]"), unit="ms").tolist()
        return [f"{stamp}Z {line}" for stamp, line in zip(stamps, lines, strict=True)]
    if style == "tag":
        tags = with_checksums([f"s:DEV,c:{ms // 1000}" for ms in milliseconds.tolist()], start="\\")
        return [f"{tag}\\{line}" for tag, line in zip(tags, lines, strict=True)]
    if style == "csv":
        rows = [f'{ms},"{line}"' for ms, line in zip(milliseconds.tolist(), lines, strict=True)]
        return ["timestamp,sentence", *rows]
    raise SettingError(f"The wrapping {style!r} is not known: choose bare, iso, tag or csv.")
