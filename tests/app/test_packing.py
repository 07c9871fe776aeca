"""A review as one file and back: nothing lost, nothing run, damage noticed."""

import dataclasses
import io
from collections.abc import Mapping
from functools import reduce
from operator import xor
from pathlib import Path
from typing import Any

import numpy as np
import orjson
import pandas as pd
import pytest
from samples import reviewed_sample

from analysis import Settings, review
from analysis.reading.pressure import pressure_reference
from analysis.review import Review
from app.packing import PackingError, fingerprint, pack, unpack

ROOT = Path(__file__).resolve().parents[2]
AIS = "!AIVDM,1,1,,A,13u?etPv2;0n:dDPwUM1U1Cb069D,0"
TEXT = "$GPTXT,01,01,02,all <b>well</b>"


def closed(sentence: str) -> str:
    """The sentence with its checksum: all characters between $ or ! and * exclusive-ored (NMEA 0183)."""
    return f"{sentence}*{reduce(xor, sentence[1:].encode()):02X}"


def packed(value: Any) -> bytes:
    stream = io.BytesIO()
    pack(value, stream)
    return stream.getvalue()


def round_trip(value: Any) -> Any:
    return unpack(io.BytesIO(packed(value)))


def assert_same(one: Any, other: Any, where: str = "it") -> None:
    """Equal in type, dtype and every value, all the way down."""
    assert type(one) is type(other), where
    if dataclasses.is_dataclass(one):
        for field in dataclasses.fields(one):
            assert_same(getattr(one, field.name), getattr(other, field.name), f"{where}.{field.name}")
    elif isinstance(one, np.ndarray):
        assert (one.dtype, one.shape) == (other.dtype, other.shape), where
        np.testing.assert_array_equal(one, other)
    elif isinstance(one, pd.DataFrame):
        pd.testing.assert_frame_equal(one, other, check_freq=False)
    elif isinstance(one, pd.Index):
        pd.testing.assert_index_equal(one, other)
    elif isinstance(one, Mapping):
        assert list(one) == list(other), where
        for key in one:
            assert_same(one[key], other[key], f"{where}[{key}]")
    elif isinstance(one, tuple | list):
        assert len(one) == len(other), where
        for number, (a, b) in enumerate(zip(one, other, strict=True)):
            assert_same(a, b, f"{where}[{number}]")
    else:
        assert one == other or (one != one and other != other), where


@pytest.fixture(scope="module")
def swing_day() -> Review:
    return reviewed_sample("swing-day")


def test_a_review_comes_back_as_it_was(swing_day: Review) -> None:
    assert_same(swing_day, round_trip(swing_day))


def test_messages_and_marks_come_back(tmp_path: Path) -> None:
    log = tmp_path / "ais.nmea"
    rows = [f"2031-05-03T18:00:{second:02d}Z {closed(line)}" for second in range(5) for line in (AIS, TEXT)]
    log.write_text("\n".join(rows) + "\n")
    found = review(log)
    assert len(found.passage.ais) == 5
    assert_same(found, round_trip(found))


def test_a_column_that_is_one_value_throughout_stays_as_small() -> None:
    long = np.broadcast_to(np.int16(7), 1_000_000)
    assert len(packed(long)) < 2_000
    assert_same(round_trip(long), np.full(1_000_000, 7, np.int16))


def test_an_array_met_twice_is_written_once() -> None:
    long = np.arange(100_000.0)
    assert len(packed([long, long, {"again": long}])) < 1.1 * long.nbytes


@pytest.mark.parametrize(
    "value", [float("nan"), float("inf"), -0.0, 1, True, "<b>", None, (), np.float32(1.5)]
)
def test_scalars_come_back(value: Any) -> None:
    assert_same(value, round_trip(value))


def test_what_is_not_data_is_refused() -> None:
    for value in (print, object(), {1, 2}, np.array([print])):
        with pytest.raises(TypeError):
            packed(value)


def test_equal_settings_have_one_fingerprint() -> None:
    one, other = Settings(pressure=pressure_reference("1013")), Settings(pressure=pressure_reference("1013"))
    assert fingerprint(one) == fingerprint(other)
    assert fingerprint(one) != fingerprint(Settings(pressure=pressure_reference("1014")))
    assert fingerprint(one) != fingerprint(Settings())


def test_damage_is_noticed_wherever_it_is(swing_day: Review) -> None:
    whole = packed(swing_day)
    for at in np.linspace(0, len(whole) - 100, 23, dtype=int):
        spoilt = bytearray(whole)
        spoilt[at : at + 4096] = bytes(255 - one for one in spoilt[at : at + 4096])
        with pytest.raises(PackingError):
            unpack(io.BytesIO(bytes(spoilt)))
    with pytest.raises(PackingError):
        unpack(io.BytesIO(whole[: len(whole) // 2]))
    with pytest.raises(PackingError):
        unpack(io.BytesIO(b""))


@pytest.mark.parametrize(
    "tree",
    [
        {"made": ["os:system", "true"]},
        {"made": ["subprocess:Popen", "true"]},
        {"made": ["analysis.review:review", "a.log"]},
        {"made": ["analysis.review:Path", "a"]},
        {"made": ["analysis.estimate:Estimate", 1]},
        {"eval": "1"},
        {"array": [9]},
        {"list": [], "tuple": []},
    ],
)
def test_a_file_that_asks_for_something_else_is_refused(tree: Any) -> None:
    stream = io.BytesIO()
    np.savez(stream, tree=np.frombuffer(orjson.dumps(tree), np.uint8))
    with pytest.raises(PackingError):
        unpack(io.BytesIO(stream.getvalue()))


def test_a_pickled_array_is_refused() -> None:
    stream = io.BytesIO()
    tree = np.frombuffer(orjson.dumps({"array": [0]}), np.uint8)
    np.savez(stream, tree=tree, a0=np.array([{}], dtype=object))
    with pytest.raises(PackingError):
        unpack(io.BytesIO(stream.getvalue()))
