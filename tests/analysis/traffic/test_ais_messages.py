"""AIS read as columns, with pyais (an independent decoder) as the oracle."""

import math
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pyais
import pytest
from pyais import encode_dict

from analysis import SternlogError, read_log
from analysis.traffic.messages import Heard, hear

FIELDS = {
    "lat_deg": "lat",
    "lon_deg": "lon",
    "sog_kn": "speed",
    "cog_deg": "course",
    "heading_deg": "heading",
}
TOO_MUCH = {
    "lat": 90.0,
    "lon": 180.0,
    "course": 359.95,
    "heading": 359.5,
}  # the codes for "not available" lie beyond
FASTEST_KN = {9: 1022.5, 27: 62.5}


def messages_of(said: list[dict[str, Any]], own: bool = False, start_s: float = 1000.0) -> pd.DataFrame:
    rows = []
    for k, one in enumerate(said):
        parts = [
            part.split("*")[0].split(",") for part in encode_dict(one, talker_id="AI", sentence_type="VDM")
        ]
        fill = int(parts[-1][6])
        rows.append((start_s + 10 * k, own, "AI", "A", "".join(part[5] for part in parts), fill, k))
    return pd.DataFrame(rows, columns=["time_s", "own", "talker", "channel", "payload", "fill_bits", "row"])


def oracle(payload: str, fill_bits: int) -> dict[str, Any]:
    return dict(pyais.decode(f"!AIVDM,1,1,,A,{payload},{fill_bits}*00".encode()).asdict())


def assert_like_pyais(ais: pd.DataFrame, heard: Heard) -> None:
    """Every report in arrival order, field by field."""
    wanted: dict[int, list[dict[str, Any]]] = {}
    for message in ais.itertuples():
        try:
            said = oracle(str(message.payload), int(str(message.fill_bits)))
        except (pyais.exceptions.AISBaseException, ValueError, IndexError):
            continue
        wanted.setdefault(said["msg_type"], []).append(said)
    for number, said in wanted.items():
        found = heard.reports[heard.reports["number"] == number]
        if found.empty:
            continue
        for column, name in FIELDS.items():
            most = FASTEST_KN.get(number, 102.25) if name == "speed" else TOO_MUCH[name]
            values = [one.get(name) for one in said]
            numbers = np.array([math.nan if v is None or abs(v) > most else float(v) for v in values])
            np.testing.assert_allclose(
                np.sort(found[column].to_numpy(float)),
                np.sort(numbers),
                atol=2e-6,
                err_msg=f"{number} {name}",
            )


@pytest.mark.parametrize("number", [1, 2, 3, 18, 19])
def test_a_vessel_report_field_by_field(number: int) -> None:
    said = {
        "type": number, "mmsi": 200000001, "lat": -33.8561234, "lon": 151.2097531, "speed": 12.3, "course": 231.7,
        "heading": 229, "second": 33, "accuracy": 1, "status": 5, "shipname": "GREY HERON", "ship_type": 37,
        "to_bow": 9, "to_stern": 3, "to_port": 2, "to_starboard": 2,
    }  # fmt: skip
    heard = hear(messages_of([said]))
    one = heard.reports.iloc[0]
    assert one["lat_deg"] == pytest.approx(-33.8561234, abs=1e-6)
    assert one["lon_deg"] == pytest.approx(151.2097531, abs=1e-6)
    assert (one["sog_kn"], one["cog_deg"], one["heading_deg"]) == pytest.approx((12.3, 231.7, 229))
    assert bool(one["accurate"])
    assert one["kind"] == ("A" if number <= 3 else "B")
    if number == 19:
        told = heard.statics.iloc[0]
        assert (told["name"], told["type"], told["bow_m"], told["starboard_m"]) == ("GREY HERON", 37, 9, 2)


def test_what_is_not_available_is_missing() -> None:
    """The codes of ITU-R M.1371: 91, 181, 102.3 kn, 360.0 and 511."""
    said = {
        "type": 1,
        "mmsi": 200000001,
        "lat": 91,
        "lon": 181,
        "speed": 102.3,
        "course": 360,
        "heading": 511,
    }
    one = hear(messages_of([said])).reports.iloc[0]
    assert one[["lat_deg", "lon_deg", "sog_kn", "cog_deg", "heading_deg"]].isna().all()


def test_names_and_sizes_of_messages_5_and_24() -> None:
    heard = hear(
        messages_of(
            [
                {
                    "type": 5, "mmsi": 200000001, "shipname": "SEVEN TERNS", "callsign": "ZZ1AB", "imo": 1234567,
                    "ship_type": 80, "to_bow": 150, "to_stern": 30, "to_port": 10, "to_starboard": 12,
                },
                {"type": 24, "partno": 0, "mmsi": 200000003, "shipname": "SMALL HOURS"},
                {"type": 24, "partno": 1, "mmsi": 200000003, "ship_type": 36, "callsign": "ZZ9", "to_bow": 8},
            ]
        )
    )  # fmt: skip
    big, name, rest = (heard.statics.iloc[k] for k in range(3))
    assert (big["name"], big["call_sign"], big["imo"], big["type"]) == ("SEVEN TERNS", "ZZ1AB", 1234567, 80)
    assert (big["bow_m"], big["stern_m"], big["port_m"], big["starboard_m"]) == (150, 30, 10, 12)
    assert (name["name"], name["call_sign"], name["type"]) == ("SMALL HOURS", "", 0)
    assert (rest["name"], rest["call_sign"], rest["type"], rest["bow_m"]) == ("", "ZZ9", 36, 8)


def test_aids_base_stations_and_aircraft() -> None:
    said = [
        {
            "type": 21,
            "mmsi": 992001234,
            "name": "EAST SHOAL",
            "lat": 50.1,
            "lon": -1.2,
            "virtual_aid": 1,
            "second": 61,
        },
        {"type": 4, "mmsi": 2001234, "lat": 50.2, "lon": -1.3, "second": 7},
        {"type": 9, "mmsi": 111200001, "lat": 50.3, "lon": -1.4, "speed": 140, "course": 10.5, "second": 8},
        {"type": 27, "mmsi": 200000009, "lat": 50.5, "lon": -1.5, "speed": 12, "course": 90},
    ]
    heard = hear(messages_of(said))
    assert heard.reports["kind"].tolist() == ["aid", "base", "aircraft", "A"]
    assert heard.reports["virtual"].tolist() == [True, False, False, False]
    assert heard.reports["lat_deg"].tolist() == pytest.approx([50.1, 50.2, 50.3, 50.5], abs=1 / 600)
    assert heard.reports["sog_kn"].iloc[2] == 140


def test_a_report_is_dated_by_the_second_it_names() -> None:
    said = [
        {"type": 1, "mmsi": 200000001, "lat": 50, "lon": -1, "second": second}
        for second in (39, 49, 59, 8, 60)
    ]
    reports = hear(messages_of(said, start_s=1000.0)).reports  # arrive at second 40, 50, 0, 10, 20
    assert reports["time_s"].tolist() == pytest.approx([999, 1009, 1019, 1028, 1040])
    assert reports["second"].tolist() == [39, 49, 59, 8, -1]


def test_a_clock_that_is_not_that_of_the_fixes_dates_by_arrival() -> None:
    said = [
        {"type": 1, "mmsi": 200000001, "lat": 50, "lon": -1, "second": (10 * k + 15) % 60} for k in range(6)
    ]
    reports = hear(messages_of(said, start_s=1020.0)).reports
    assert reports["time_s"].tolist() == pytest.approx([1020 + 10 * k for k in range(6)])


def test_broken_payloads_are_counted() -> None:
    good = messages_of([{"type": 1, "mmsi": 200000001, "lat": 50, "lon": -1}])
    bad = pd.concat(
        [good, good.assign(payload="1ZZ"), good.assign(payload="1\x7f" * 14), good.assign(payload="0" * 28)]
    )
    heard = hear(bad.reset_index(drop=True))
    assert (len(heard.reports), heard.unreadable) == (1, 3)


def test_no_message_at_all() -> None:
    heard = hear(pd.DataFrame(columns=["time_s", "own", "talker", "channel", "payload", "fill_bits", "row"]))
    assert heard.reports.empty
    assert heard.unreadable == 0


@pytest.mark.recording
def test_every_report_of_every_recording(recordings: Path) -> None:
    compared = 0
    for path in sorted(recordings.iterdir()):
        if path.stat().st_size > 150_000:
            continue
        try:
            ais = read_log(path).ais
        except SternlogError:
            continue
        if len(ais):
            heard = hear(ais)
            assert_like_pyais(ais, heard)
            compared += len(heard.reports)
    assert compared > 1000
