"""Corrected values as NMEA 0183 sentences, from a talker of our own.

Field layouts and meanings: IEC 61162-1, from memory. MWV R is the wind against the moving boat, MWV T the wind
over the water as if the boat stopped in it; MWD is the wind over the ground.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import chain
from pathlib import Path

import numpy as np
import pandas as pd

from analysis.errors import WriteError
from analysis.passage import Bools, Floats, Passage, column, seconds_of
from analysis.phrasing import clock, days, minutes, rose, rows, with_checksums
from analysis.spoken import Part
from analysis.talkers import GNSS
from analysis.writing.atomic import replacing
from analysis.writing.spool import spooled

# The standard leaves U0 to U9 to the user: no instrument has such a talker from its maker, so what is computed is
# never taken for what a sensor said, as it would be under II or WI.
TALKER = "U1"
_KNOT_M_S, _KNOT_KM_H = 1852 / 3600, 1.852
_CHUNK_ROWS = 20_000


def write_nmea(
    frame: pd.DataFrame, passage: Passage, path: Path, originals: Iterable[Part] | None = None
) -> None:
    """Write the frame's values as sentences, one of each kind a row, in order of time between ``originals``.

    Without originals RMC is written too, so that a plotter knows time and place. Raises WriteError when
    there is nothing to write or the file cannot be written.
    """
    kinds = COMPUTED if originals is None else _WITHOUT_FIXES
    if not any(_complete(kind, frame).any() for kind in kinds):
        raise WriteError(
            "The recording has no time, or nothing that a sentence could be computed from; "
            "give its date with --date, or write the readings as they came with --readings."
        )
    spoken = spooled(chain(originals or (), computed_parts(frame, passage, kinds)))
    with replacing(path) as stream:
        stream.writelines(spoken.chunks())


def corrected_parts(frame: pd.DataFrame, passage: Passage) -> Iterator[Part]:
    """Yield the frame's values as sentences without the fixes, which the log's own sentences tell."""
    return computed_parts(frame, passage, _WITHOUT_FIXES)


def computed_parts(frame: pd.DataFrame, passage: Passage, kinds: "Sequence[Computed]") -> Iterator[Part]:
    """Yield the frame's values as sentences of these kinds, one a row wherever all it needs is there.

    RMC passes on the receiver's own fix, uncorrected, and so has the receiver's talker. A magnetic direction
    without a variation, and the date of an undated log, are left blank.
    """
    dated = all(fact.id != "no-date" for fact in passage.facts)
    fixed_by = _fixed_by(passage)
    for first in range(0, len(frame), _CHUNK_ROWS):
        piece = frame.iloc[first : first + _CHUNK_ROWS]
        for kind in kinds:
            talker = fixed_by if kind.formatter == "RMC" else TALKER
            yield from _part(talker, kind, piece, dated)


def _fixed_by(passage: Passage) -> str:
    keys = [source.key for source in passage.sources if source.chosen and source.key.channel == "lat_deg"]
    return next((key.talker for key in keys if key.talker in GNSS), TALKER)


def replaced_by_computed(frame: pd.DataFrame) -> set[str]:
    """Name the formatters of a log that say, uncorrected, what the computed sentences of the frame say."""
    return {name for kind in COMPUTED if np.any(_complete(kind, frame)) for name in kind.replaces}


@dataclass(frozen=True)
class Rows:
    """The rows of a frame for which a sentence is written."""

    frame: pd.DataFrame
    dated: bool

    def __getitem__(self, name: str) -> Floats:
        return column(self.frame, name)

    def magnetic(self, name: str) -> list[str]:
        """A true direction less the variation, blank where that is not known."""
        return _blank("%.1f", rose(self[name] - self["variation_deg"]))


@dataclass(frozen=True)
class Computed:
    """A sentence that is computed: what of the frame it needs, how it is written, what it stands in for."""

    formatter: str
    needs: Sequence[str]
    body: Callable[[Rows], list[str]]
    replaces: Sequence[str]


def _complete(kind: Computed, frame: pd.DataFrame) -> Bools:
    complete: Bools = np.all([np.isfinite(column(frame, name)) for name in kind.needs], axis=0)
    return complete


def _part(talker: str, kind: Computed, frame: pd.DataFrame, dated: bool) -> Iterator[Part]:
    complete = _complete(kind, frame)
    if not complete.any():
        return
    told = frame[complete]
    lines = with_checksums([f"{talker}{kind.formatter},{body}" for body in kind.body(Rows(told, dated))])
    end = np.cumsum([len(line) for line in lines])
    text = np.frombuffer("".join(lines).encode("ascii"), dtype=np.uint8)
    yield Part(text, np.concatenate(([0], end[:-1])), end, seconds_of(told))


def _blank(template: str, values: Floats) -> list[str]:
    return [template % value if value == value else "" for value in values.tolist()]


def _rmc(r: Rows) -> list[str]:
    time_s, variation_deg = seconds_of(r.frame), r["variation_deg"]
    return rows(
        "%s,A,%s,%s,%s,%s,%s,A",
        clock(time_s),
        rows("%s,%s", minutes(r["lat_deg"], "NS", 2), minutes(r["lon_deg"], "EW", 3)),
        _blank("%.2f", r["sog_kn"]),
        _blank("%.1f", rose(r["cog_deg"])),
        days(time_s, "%d%m%y") if r.dated else [""] * len(time_s),
        [
            f"{text},{'W' if value < 0 else 'E'}" if text else ","
            for text, value in zip(_blank("%.1f", np.abs(variation_deg)), variation_deg.tolist(), strict=True)
        ],
    )


def _hdt(r: Rows) -> list[str]:
    return rows("%.1f,T", rose(r["heading_true_deg"]))


def _vhw(r: Rows) -> list[str]:
    heading, stw_kn = _blank("%.1f", rose(r["heading_true_deg"])), r["stw_kn"]
    magnetic = r.magnetic("heading_true_deg")
    return rows("%s,T,%s,M,%.2f,N,%.2f,K", heading, magnetic, stw_kn, stw_kn * _KNOT_KM_H)


def _mwv(angle: str, speed: str, reference: str) -> Callable[[Rows], list[str]]:
    return lambda r: rows(f"%.1f,{reference},%.2f,N,A", rose(r[angle]), r[speed])


def _mwd(r: Rows) -> list[str]:
    direction, speed_kn = rose(r["twd_ground_deg"]), r["tws_ground_kn"]
    magnetic = r.magnetic("twd_ground_deg")
    return rows("%.1f,T,%s,M,%.2f,N,%.2f,M", direction, magnetic, speed_kn, speed_kn * _KNOT_M_S)


def _vdr(r: Rows) -> list[str]:
    return rows("%.1f,T,%s,M,%.2f,N", rose(r["set_deg"]), r.magnetic("set_deg"), r["drift_kn"])


# In the order in which they are said within a second.
COMPUTED = (
    Computed("RMC", ("lat_deg", "lon_deg"), _rmc, ()),
    Computed("HDT", ("heading_true_deg",), _hdt, ("HDT", "HDG", "HDM", "THS")),
    Computed("VHW", ("stw_kn",), _vhw, ("VHW",)),
    Computed("MWV", ("awa_deg", "aws_kn"), _mwv("awa_deg", "aws_kn", "R"), ("MWV", "VWR")),
    Computed(
        "MWV", ("twa_water_deg", "tws_water_kn"), _mwv("twa_water_deg", "tws_water_kn", "T"), ("MWV", "VWT")
    ),
    Computed("MWD", ("twd_ground_deg", "tws_ground_kn"), _mwd, ("MWD",)),
    Computed("VDR", ("set_deg", "drift_kn"), _vdr, ("VDR",)),
)
_WITHOUT_FIXES = COMPUTED[1:]
