"""Every AIS message decoded as pyais (an independent decoder) decodes it, in columns or one by one."""

import math
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pyais
import pytest
from pyais import encode_dict

from analysis import SternlogError, decode_ais, read_log

COLUMNS = ["time_s", "own", "talker", "channel", "payload", "fill_bits", "row"]
# The greatest values that mean something; the codes for "not available" of ITU-R M.1371-5 lie beyond.
MOST = {
    "lat_deg": ("lat", 90.0),
    "lon_deg": ("lon", 180.0),
    "sog_kn": ("speed", 102.2),
    "cog_deg": ("course", 359.9),
    "heading_deg": ("heading", 359.0),
}


def messages_of(payloads: list[tuple[str, int]]) -> pd.DataFrame:
    rows = [
        (1000.0 + k, k % 2 == 1, "AI", "A", payload, fill, k) for k, (payload, fill) in enumerate(payloads)
    ]
    return pd.DataFrame(rows, columns=COLUMNS)


def armoured(bits: np.ndarray) -> str:
    sixes = bits.reshape(-1, 6) @ (32, 16, 8, 4, 2, 1)
    return "".join(chr(six + 48 if six < 40 else six + 56) for six in sixes)


def drawn(number: int, count: int, rng: np.random.Generator, length: int = 168) -> list[tuple[str, int]]:
    """Payloads of a message number whose other bits are drawn, so that every code of every field comes up."""
    bits = rng.integers(0, 2, (count, length))
    bits[:, :6] = [number >> place & 1 for place in range(5, -1, -1)]
    return [(armoured(one), 0) for one in bits]


def said_by_pyais(message: Any) -> dict[str, Any] | None:
    line = f"!AIVDM,1,1,,A,{message.payload},{message.fill_bits}*00"
    try:
        said = dict(pyais.decode(line.encode()).asdict())
    except (pyais.exceptions.AISBaseException, ValueError, IndexError):
        return None
    return None if said["mmsi"] is None else said


def assert_as_pyais(messages: pd.DataFrame) -> int:
    """Compare message by message; returns how many there were."""
    decoded, lost = decode_ais(messages)
    wanted = [(one, said_by_pyais(one)) for one in messages.itertuples(index=False)]
    told = [(one, said) for one, said in wanted if said is not None]
    assert lost == len(wanted) - len(told)
    assert len(decoded) == len(told)
    assert decoded["time_s"].tolist() == [one.time_s for one, _ in told]
    assert decoded["own"].tolist() == [one.own for one, _ in told]
    assert decoded["mmsi"].tolist() == [said["mmsi"] for _, said in told]
    assert decoded["kind"].tolist() == [said["msg_type"] for _, said in told]
    for column, (name, most) in MOST.items():
        values = [said.get(name) for _, said in told]
        numbers = [math.nan if one is None or abs(one) > most else float(one) for one in values]
        np.testing.assert_array_equal(decoded[column].to_numpy(float), numbers, err_msg=column)
    status = [math.nan if said.get("status") is None else float(said["status"]) for _, said in told]
    np.testing.assert_array_equal(decoded["status"].to_numpy(float), status)
    for column, names in {"name": ("shipname", "name"), "text": ("text",)}.items():
        words = [next((said[one] for one in names if said.get(one)), None) for _, said in told]
        assert [one if isinstance(one, str) and one else None for one in decoded[column]] == words
    return len(decoded)


def test_reports_with_any_bits() -> None:
    rng = np.random.default_rng(5)
    payloads = [one for number in (1, 2, 3, 18) for one in drawn(number, 250, rng)]
    assert assert_as_pyais(messages_of([payloads[k] for k in rng.permutation(len(payloads))])) == 1000


def test_reports_that_are_not_whole_or_too_long() -> None:
    rng = np.random.default_rng(6)
    payloads = [
        one
        for number in (1, 18)
        for length in (72, 144, 162, 174, 180)
        for one in drawn(number, 20, rng, length)
    ]
    payloads += [(payload, fill) for fill in (2, 6, -1) for payload, _ in drawn(3, 5, rng)]
    assert assert_as_pyais(messages_of(payloads)) > 200


def test_names_texts_and_rarer_reports_between_others() -> None:
    said: list[dict[str, Any]] = [
        {"type": 5, "mmsi": 200000001, "shipname": "SEVEN TERNS", "ship_type": 80},
        {"type": 14, "mmsi": 972000001, "text": "MOB TEST"},
        {"type": 4, "mmsi": 2000001, "lat": 50.1, "lon": -1.2},
        {"type": 9, "mmsi": 111200001, "lat": 50.3, "lon": -1.4, "speed": 90, "course": 10.5},
        {"type": 19, "mmsi": 200000003, "lat": 50.3, "lon": -1.4, "speed": 9.1, "shipname": "SMALL HOURS"},
        {"type": 21, "mmsi": 992001234, "name": "EAST SHOAL", "lat": 50.1, "lon": -1.2},
        {"type": 24, "partno": 0, "mmsi": 200000003, "shipname": "SMALL HOURS"},
        {"type": 24, "partno": 1, "mmsi": 200000003, "callsign": "ZZ9"},
        {"type": 27, "mmsi": 200000009, "lat": 50.5, "lon": -1.5, "speed": 12, "course": 90},
    ]
    payloads = []
    for one in said:
        parts = [part.split("*")[0].split(",") for part in encode_dict(one, talker_id="AI")]
        payloads.append(("".join(part[5] for part in parts), int(parts[-1][6])))
        payloads += drawn(1, 2, np.random.default_rng(7))
    cut_or_odd = [("1ZZ", 0), ("10000000", 0), ("1\x7f" * 14, 0), ("0" * 28, 0)]
    no_such_number = [("h" * 28, 0), ("t" * 28, 0)]
    messages = messages_of([*payloads, *cut_or_odd, *no_such_number])
    assert assert_as_pyais(messages) == len(payloads) + len(cut_or_odd)


def test_none_at_all() -> None:
    decoded, lost = decode_ais(messages_of([]))
    assert (len(decoded), lost) == (0, 0)


@pytest.mark.recording
@pytest.mark.parametrize("most_bytes", [500_000, pytest.param(10_000_000, marks=pytest.mark.study)])
def test_every_message_of_every_recording(recordings: Path, most_bytes: int) -> None:
    """All 40 000 in the study; without the largest file some 6 000."""
    compared = 0
    for path in sorted(recordings.iterdir()):
        if path.stat().st_size > most_bytes:
            continue
        try:
            messages = read_log(path).ais
        except SternlogError:
            continue
        compared += assert_as_pyais(messages)
    assert compared > 5_000
