"""AIS sentences: fragments put together by sequence, messages decoded when they are wanted."""

from typing import NamedTuple

import numpy as np
import pandas as pd

from analysis.passage import Floats
from analysis.reading.ais_reports import LAYOUTS, read_reports
from analysis.reading.decoding import Columns
from analysis.reading.framing import Frames
from analysis.reading.six_bit import Payloads

TIME_OUT_S = 10.0
_IN_COLUMNS = (1, 2, 3, 18)
_WHOLE_BITS = 168  # of each of them
_DECIMALS = 6  # of a position, as pyais rounds it
_LIMITS = {"lat": 90.0, "lon": 180.0, "speed": 102.2, "course": 359.9, "heading": 359.0}
_DECODED_COLUMNS = [
    *("time_s", "own", "mmsi", "kind", "lat_deg", "lon_deg", "sog_kn", "cog_deg", "heading_deg", "name"),
    *("status", "text"),
]
_MESSAGE_COLUMNS = ["time_s", "own", "talker", "channel", "payload", "fill_bits", "row"]


class _Fragment(NamedTuple):
    row: int
    own: bool
    talker: str
    total: int
    number: int
    sequence: int
    channel: str
    payload: str
    fill_bits: int


def fragments(
    frames: Frames, rows: np.ndarray, talkers: list[str], own: bool
) -> tuple[pd.DataFrame, np.ndarray]:
    """Read VDM or VDO sentences as fragments; returns them and the rows that are malformed.

    A fragment count of 0, a number beyond the count, or an empty payload is malformed.
    """
    columns = Columns(frames, rows)
    total, number, fill = columns.lenient(1), columns.lenient(2), columns.lenient(6)
    begin, end = columns.bounds(5)
    sound = (frames.commas[rows] == 6) & (total >= 1) & (number >= 1) & (number <= total) & (begin < end)
    kept = np.flatnonzero(sound)
    data = frames.text.bytes.tobytes()
    frame = pd.DataFrame(
        {
            "row": rows[kept],
            "own": own,
            "talker": [talkers[k] for k in kept],
            "total": total[kept].astype(np.int64),
            "number": number[kept].astype(np.int64),
            "sequence": np.nan_to_num(columns.lenient(3)[kept], nan=-1).astype(np.int64),
            "channel": [chr(c) if c else "" for c in columns.letter(4)[kept]],
            "payload": [
                data[b:e].decode("ascii", "replace") for b, e in zip(begin[kept], end[kept], strict=True)
            ],
            "fill_bits": np.nan_to_num(fill[kept]).astype(np.int64),
        },
        columns=_Fragment._fields,
    )
    return frame, rows[~sound]


def assemble(parts: pd.DataFrame, time_s: Floats) -> tuple[pd.DataFrame, int]:
    """Join fragments into messages; returns these in arrival order and how many fragments found no partner.

    Fragments belong together by talker, sequence number, count and channel, in order, within 10 s; a later
    one may leave the channel blank.
    """
    if parts.empty:
        return pd.DataFrame(columns=_MESSAGE_COLUMNS), 0
    parts = parts.assign(time_s=time_s[parts["row"].to_numpy()])
    single = parts["total"] == 1
    messages = [parts.loc[single, _MESSAGE_COLUMNS]]
    torn = parts.loc[~single, list(_Fragment._fields)]
    open_groups: dict[tuple[bool, str, int, int, str], list[tuple[float, str]]] = {}
    joined: list[tuple[float, bool, str, str, str, int, int]] = []
    lost = 0
    for part in map(_Fragment._make, torn.itertuples(index=False, name=None)):
        arrived = float(time_s[part.row])
        key = (part.own, part.talker, part.sequence, part.total, part.channel)
        if part.channel == "":
            key = next((known for known in open_groups if known[:-1] == key[:-1]), key)
        group = open_groups.pop(key, [])
        late = bool(group) and arrived - group[0][0] > TIME_OUT_S
        if group and (late or part.number != len(group) + 1):
            lost += len(group)
            group = []
        if part.number != len(group) + 1:
            lost += 1
            continue
        group.append((arrived, part.payload))
        if len(group) < part.total:
            open_groups[key] = group
        else:
            payload = "".join(piece for _, piece in group)
            joined.append((group[0][0], part.own, part.talker, key[-1], payload, part.fill_bits, part.row))
    lost += sum(len(group) for group in open_groups.values())
    if joined:
        messages.append(pd.DataFrame(joined, columns=_MESSAGE_COLUMNS))
    return pd.concat(messages).sort_values("row", kind="stable").reset_index(drop=True), lost


def decode(messages: pd.DataFrame) -> tuple[pd.DataFrame, int]:
    """Decode assembled messages; returns a row per message, and how many were no valid message.

    Columns ``time_s, own, mmsi, kind`` (ITU-R M.1371 message number) ``, lat_deg, lon_deg, sog_kn, cog_deg,
    heading_deg, name, status`` (navigational) ``, text`` (safety related), missing where the message has none or
    says "not available". Whole position reports of vessels are read as columns, all else by pyais.
    """
    if messages.empty:
        return pd.DataFrame(columns=_DECODED_COLUMNS), 0
    messages = messages.reset_index(drop=True)
    fill_bits = messages["fill_bits"].to_numpy(np.int64)
    payloads, sound = Payloads.of(messages["payload"].tolist(), fill_bits, _WHOLE_BITS // 6)
    number = payloads.unsigned(0, 6)
    sound &= (payloads.bits == _WHOLE_BITS) & (fill_bits == 0)
    told = []
    for one in _IN_COLUMNS:
        rows = np.flatnonzero(sound & (number == one))
        told.append(_reports(payloads.where(rows), messages.iloc[rows], one))
    rest, lost = _decoded_by_pyais(messages[~(sound & np.isin(number, _IN_COLUMNS))])
    joined = pd.concat([*(one for one in told if len(one)), rest]) if any(map(len, told)) else rest
    return joined.sort_index()[_DECODED_COLUMNS].reset_index(drop=True), lost


def _reports(some: Payloads, messages: pd.DataFrame, number: int) -> pd.DataFrame:
    said = read_reports(some, number)
    return messages[["time_s", "own"]].assign(
        mmsi=some.unsigned(8, 30),
        kind=number,
        lat_deg=said["lat_deg"].round(_DECIMALS),
        lon_deg=said["lon_deg"].round(_DECIMALS),
        **{name: said[name] for name in ("sog_kn", "cog_deg", "heading_deg")},
        name=None,
        status=np.nan if LAYOUTS[number].status is None else said["status"].astype(np.float64),
        text=None,
    )


def _decoded_by_pyais(messages: pd.DataFrame) -> tuple[pd.DataFrame, int]:
    # Imported here: it takes longer to load than a day's log takes to read, and few logs need it.
    import pyais
    from pyais.exceptions import AISBaseException

    rows: list[tuple[object, ...]] = []
    kept: list[int] = []
    for at, message in zip(messages.index.tolist(), messages.itertuples(index=False), strict=True):
        try:
            said = pyais.decode(f"!AIVDM,1,1,,A,{message.payload},{message.fill_bits}*00".encode()).asdict()
        except (AISBaseException, ValueError, IndexError):
            continue
        if said["mmsi"] is None:  # too short to name its station
            continue
        numbers = [_available(said.get(field), limit) for field, limit in _LIMITS.items()]
        name = said.get("shipname") or said.get("name")
        status = np.nan if said.get("status") is None else float(said["status"])
        head = (message.time_s, message.own, said["mmsi"], said["msg_type"])
        rows.append((*head, *numbers, name, status, said.get("text")))
        kept.append(at)
    return pd.DataFrame(rows, columns=_DECODED_COLUMNS, index=kept), len(messages) - len(kept)


def _available(value: object, most: float) -> float:
    """A number unless it is the code for "not available", which lies beyond ``most``."""
    return float(value) if isinstance(value, int | float) and abs(value) <= most else np.nan
