"""Beacons heard by AIS, and safety texts, as marks.

Identities: ITU-R M.585, 970 search and rescue transmitter, 972 person overboard, 974 EPIRB. Status 14 and the texts
"MOB ACTIVE" and the like: ITU-R M.1371-5, messages 1 and 14; a beacon under test sends status 15 and "MOB TEST".
"""

from collections.abc import Iterable

import numpy as np
import pandas as pd

from analysis.emergencies.calls import joined
from analysis.emergencies.marks import Adrift, Fix, Mark
from analysis.passage import Bools, Ints
from analysis.reading.ais import decode
from analysis.reading.six_bit import Payloads

BEACONS: dict[int, tuple[str, str, Adrift]] = {
    970: ("AIS-SART", "search and rescue transmitter", "craft"),
    972: ("AIS MOB", "person overboard", "person"),
    974: ("EPIRB-AIS", "EPIRB", "craft"),
}
ACTIVE = 14
SAFETY_TEXT = 14
WITH_STATUS = (1, 2, 3)
AIS_SD_NM = 10 / 1852  # ITU-R M.1371: the flag of accuracy parts better from worse than 10 m
_HEAD = 7  # characters that hold number, identity and status: 42 bits


def marks_of_ais(messages: pd.DataFrame) -> list[Mark]:
    """Find beacons and safety texts among a passage's AIS messages; all others are left undecoded."""
    heard = messages[~messages["own"].astype(bool)] if len(messages) else messages
    if not len(heard):
        return []
    chosen = heard[_speaks(heard)]
    if not len(chosen):
        return []
    said, _ = decode(chosen)
    said = said[np.isfinite(said["time_s"].to_numpy(float))]
    marks: list[Mark] = []
    for identity, rows in said.groupby("mmsi", sort=False):
        marks += _marks(int(identity), rows)
    return joined(marks)


def _speaks(messages: pd.DataFrame) -> Bools:
    """Tell which messages come from a beacon, name status 14, or carry a safety text."""
    heads, _ = Payloads.of(messages["payload"].tolist(), messages["fill_bits"].to_numpy(np.int64), _HEAD)
    number, identity, status = heads.unsigned(0, 6), heads.unsigned(8, 30), heads.unsigned(38, 4)
    beacon = np.isin(identity // 1_000_000, list(BEACONS))
    active: Ints = np.isin(number, WITH_STATUS) & (status == ACTIVE)
    speaking: Bools = beacon | active | (number == SAFETY_TEXT)
    return speaking


def _marks(identity: int, rows: pd.DataFrame) -> Iterable[Mark]:
    """Make the marks of one identity: the beacon, or each of the texts of a station that is none."""
    texts = [str(text).strip() for text in rows["text"] if isinstance(text, str) and text.strip()]
    beacon = BEACONS.get(identity // 1_000_000)
    active = bool((rows["status"] == ACTIVE).any())
    if beacon is None and not active:
        for time_s, text in zip(rows["time_s"], rows["text"], strict=True):
            if isinstance(text, str) and text.strip():
                yield _mark(
                    identity, "AIS safety text", f"“{text.strip()}”", "craft", rows[rows["time_s"] == time_s]
                )
        return
    kind, words, adrift = beacon or (
        "AIS status 14",
        "active beacon by the status of a ship's identity",
        "craft",
    )
    test = not active and any("TEST" in text.upper() for text in texts)
    told = ", ".join(f"“{text}”" for text in dict.fromkeys(texts))
    what = f"{words}{', test' if test else ''}" + (f": {told}" if told else "")
    yield _mark(identity, kind, what, adrift, rows, alert=not test, test=test)


def _mark(
    identity: int,
    kind: str,
    what: str,
    adrift: Adrift,
    rows: pd.DataFrame,
    alert: bool = False,
    test: bool = False,
) -> Mark:
    placed = rows[np.isfinite(rows["lat_deg"].to_numpy(float)) & np.isfinite(rows["lon_deg"].to_numpy(float))]
    return Mark(
        kind=kind,
        who=f"{identity:09d}",
        what=what,
        alert=alert,
        test=test,
        adrift=adrift,
        start_s=float(rows["time_s"].iloc[0]),
        end_s=float(rows["time_s"].iloc[-1]),
        count=len(rows),
        fixes=tuple(
            Fix(float(time_s), float(lat), float(lon), AIS_SD_NM)
            for time_s, lat, lon in zip(placed["time_s"], placed["lat_deg"], placed["lon_deg"], strict=True)
        ),
    )
