"""Beacons heard by AIS, and safety texts, as marks.

Identities: ITU-R M.585, 970 search and rescue transmitter, 972 person overboard, 974 EPIRB. Status 14 and the texts
"MOB ACTIVE" and the like: ITU-R M.1371-5, messages 1 and 14; a beacon under test sends status 15 and "MOB TEST".
"""

import re
from collections.abc import Iterator

import numpy as np
import pandas as pd

from analysis.emergencies.calls import SAME_CALL_S, joined
from analysis.emergencies.marks import Adrift, Fix, Mark
from analysis.passage import Bools, Ints
from analysis.reading.ais import decode
from analysis.reading.six_bit import Payloads

BEACONS: dict[int, tuple[str, str, Adrift]] = {
    970: ("AIS-SART", "search and rescue transmitter", "craft"),
    972: ("AIS MOB", "person overboard", "person"),
    974: ("EPIRB-AIS", "EPIRB", "craft"),
}
ACTIVE, TESTED = 14, 15
SAFETY_TEXT = 14
WITH_STATUS = (1, 2, 3)
AIS_SD_NM = 10 / 1852  # ITU-R M.1371: the flag of accuracy parts better from worse than 10 m
_ACTIVE_TEXT = re.compile(r"\b(SART|MOB|EPIRB) +ACTIVE\b")
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
    said = said[np.isfinite(said["time_s"].to_numpy(float))].sort_values("time_s", kind="stable")
    marks: list[Mark] = []
    for identity, rows in said.groupby("mmsi", sort=False):
        for call in _calls(rows):
            marks += _marks(int(identity), call)
    return joined(marks)


def own_identities(messages: pd.DataFrame) -> frozenset[str]:
    """Identities that the boat's own AIS sends."""
    own = messages[messages["own"].astype(bool)] if len(messages) else messages
    if not len(own):
        return frozenset()
    heads, _ = Payloads.of(own["payload"].tolist(), own["fill_bits"].to_numpy(np.int64), _HEAD)
    return frozenset(f"{identity:09d}" for identity in np.unique(heads.unsigned(8, 30)))


def _speaks(messages: pd.DataFrame) -> Bools:
    """Tell which messages come from a beacon, name status 14, or carry a safety text."""
    heads, _ = Payloads.of(messages["payload"].tolist(), messages["fill_bits"].to_numpy(np.int64), _HEAD)
    number, identity, status = heads.unsigned(0, 6), heads.unsigned(8, 30), heads.unsigned(38, 4)
    beacon = np.isin(identity // 1_000_000, list(BEACONS))
    active: Ints = np.isin(number, WITH_STATUS) & (status == ACTIVE)
    speaking: Bools = beacon | active | (number == SAFETY_TEXT)
    return speaking


def _calls(rows: pd.DataFrame) -> Iterator[pd.DataFrame]:
    """Part one identity's rows where it was silent for an hour, and where it becomes active after a test."""
    texts = _texts(rows)
    active = ((rows["status"] == ACTIVE) | (texts.map(_active) != "")).to_numpy(bool)
    tested = ((rows["status"] == TESTED) | texts.str.contains("TEST")).to_numpy(bool)
    time_s = rows["time_s"].to_numpy(float)
    begin = 0
    for row in range(1, len(rows)):
        activated = active[row] and tested[begin:row].any() and not active[begin:row].any()
        if activated or time_s[row] - time_s[row - 1] > SAME_CALL_S:
            yield rows.iloc[begin:row]
            begin = row
    yield rows.iloc[begin:]


def _active(text: str) -> str:
    """Name the beacon that a text calls active, "" where it calls none so."""
    found = _ACTIVE_TEXT.search(text)
    return found[1] if found else ""


def _texts(rows: pd.DataFrame) -> pd.Series:
    return rows["text"].fillna("").astype(str).str.strip().str.upper()


def _marks(identity: int, rows: pd.DataFrame) -> Iterator[Mark]:
    """Make the marks of one call: the beacon, or each of the texts of a station that is none."""
    texts = _texts(rows)
    told = [text for text in dict.fromkeys(texts) if text]
    beacon = BEACONS.get(identity // 1_000_000)
    by_status = bool((rows["status"] == ACTIVE).any())
    if beacon is None and not by_status:
        for row in np.flatnonzero(texts != "").tolist():
            text = str(texts.iloc[row])
            adrift: Adrift = "person" if _active(text) == "MOB" else "craft"
            said = rows.iloc[[row]]
            yield _mark(identity, "AIS safety text", f"“{text}”", adrift, said, alert=bool(_active(text)))
        return
    kind, words, adrift = beacon or (
        "AIS status 14",
        "active beacon by the status of a ship's identity",
        "person" if "MOB" in map(_active, told) else "craft",
    )
    active = by_status or any(map(_active, told))
    test = not active and any("TEST" in text for text in told)
    what = (
        words + (", test" if test else "") + (": " + ", ".join(f"“{text}”" for text in told) if told else "")
    )
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
