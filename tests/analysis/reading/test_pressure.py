"""The reference for a barometer: a value or a small table, in whatever common way it is written."""

from pathlib import Path

import pandas as pd
import pytest

from analysis.errors import LogError, SettingError
from analysis.reading.pressure import pressure_reference

NOON = pd.Timestamp("2026-06-01T12:00Z")
INHG_HPA = 33.86389  # an inch of mercury at 0 degC, NIST SP 811


@pytest.mark.parametrize(
    ("given", "expected"),
    [
        ("1013.2", 1013.2),
        ("1013,2", 1013.2),
        ("1013 mbar", 1013),
        ("29.92", 29.92 * INHG_HPA),
        ("29.92inHg", 29.92 * INHG_HPA),
        ("101.3 kPa", 1013),
    ],
)
def test_a_single_value(given: str, expected: float) -> None:
    reference = pressure_reference(given)
    assert reference.time_utc is None
    assert reference.pressure_hpa.tolist() == pytest.approx([expected])


def test_a_value_with_a_time() -> None:
    reference = pressure_reference("1013.2@2026-06-01T14:00+02:00")
    assert reference.time_utc is not None
    assert reference.time_utc.tolist() == [NOON]


@pytest.mark.parametrize("given", ["760", "1013.2 furlong", "5", "1013@teatime"])
def test_no_pressure(given: str) -> None:
    with pytest.raises(SettingError, match="pressure"):
        pressure_reference(given)


@pytest.mark.parametrize(
    "text",
    [
        "time,pressure\n2026-06-01T12:00Z,1013.2\n2026-06-01T13:00Z,1012.8\n",
        "\ufefftime;pressure\r\n2026-06-01 14:00+02:00;1013,2\r\n2026-06-01 15:00+02:00;1012,8\r\n",
        "# station\nStation\tTime UTC\tMSLP hPa\nx\t2026-06-01 12:00\t1013.2\n\nx\t2026-06-01 13:00\t1012.8\n",
        "time,pressure\n2026-06-01T13:00Z,1012.8\n2026-06-01T12:00Z,1013.2\n",
        "time,pressure,unit\n2026-06-01T12:00Z,1.0132,bar\n2026-06-01T13:00Z,101280,Pa\n",
        f"time,pressure_inHg\n2026-06-01T12:00Z,{1013.2 / INHG_HPA}\n2026-06-01T13:00Z,{1012.8 / INHG_HPA}\n",
        f"date,pressure\n2026-06-01T12:00,{1013.2 / INHG_HPA}\n2026-06-01T13:00,{1012.8 / INHG_HPA}\n",
    ],
)
def test_a_table(tmp_path: Path, text: str) -> None:
    path = tmp_path / "station.csv"
    path.write_text(text, "utf-8")
    reference = pressure_reference(str(path))
    assert reference.time_utc is not None
    assert reference.time_utc.tolist() == [NOON, NOON + pd.Timedelta("1h")]
    assert reference.pressure_hpa.tolist() == pytest.approx([1013.2, 1012.8])


@pytest.mark.parametrize(
    ("text", "complaint"),
    [
        ("", "is empty"),
        ("time,pressure\n", "no row below the header"),
        ("when,pressure\n2026-06-01T12:00Z,1013\n", "line 1: no column for the time"),
        ("time,wind\n2026-06-01T12:00Z,12\n", "line 1: no column for the pressure"),
        ("time,pressure\n2026-06-01T12:00Z,1013\nlater,1012\n", "line 3: no time such as"),
        ("time,pressure\n\n2026-06-01T12:00Z,rising\n", "line 3: no sea-level pressure"),
        ("time,pressure\n2026-06-01T12:00Z,760\n", "line 2: no sea-level pressure"),
        ("time,pressure\n2026-06-01T12:00Z\n", "line 2: no sea-level pressure"),
    ],
)
def test_a_table_that_cannot_be_used(tmp_path: Path, text: str, complaint: str) -> None:
    path = tmp_path / "station.csv"
    path.write_text(text, "utf-8")
    with pytest.raises(LogError, match=complaint) as caught:
        pressure_reference(str(path))
    assert str(caught.value).startswith(str(path))


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(LogError, match="cannot be read"):
        pressure_reference(str(tmp_path / "none.csv"))


def test_a_file_that_is_no_text(tmp_path: Path) -> None:
    path = tmp_path / "station.csv"
    path.write_bytes(b"\xff\xfe\x00\x81")
    with pytest.raises(LogError, match="not a text file"):
        pressure_reference(str(path))
