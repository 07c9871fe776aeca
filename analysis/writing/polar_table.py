"""A polar as a plain table: a row for every true wind angle, a column for every true wind speed."""

from pathlib import Path

import numpy as np

from analysis.errors import WriteError
from analysis.polar_table import PolarTable
from analysis.writing.atomic import replacing


def polar_text(table: PolarTable) -> str:
    """Write the table as text: commas between fields, speeds in kn to a hundredth, nothing where there is none.

    Angles run from -180 to 180 where it tells the sides apart, port negative, else from 0 to 180.
    """
    angles, speeds = table.twa_deg, table.speed_kn
    if table.port_kn is not None:
        ahead = table.twa_deg > 0
        angles = np.concatenate((-table.twa_deg[ahead][::-1], angles))
        speeds = np.concatenate((table.port_kn[ahead][::-1], speeds))
    rows = [["TWA", *(f"{wind:g}" for wind in table.tws_kn)]]
    rows += [
        [f"{angle:g}", *("" if np.isnan(speed) else f"{speed:.2f}" for speed in row)]
        for angle, row in zip(angles, speeds, strict=True)
    ]
    return "".join(",".join(row) + "\n" for row in rows)


def write_polar(table: PolarTable, path: Path) -> None:
    """Write the table to a file. Raises WriteError where it is empty or the file cannot be written."""
    if not table.speed_kn.size:
        raise WriteError(
            f"{path} was not written: the passage does not tell a single speed of the polar surely; "
            "join more recordings of steady sailing."
        )
    with replacing(path) as stream:
        stream.write(polar_text(table).encode())
