"""Real recordings: read without a traceback, with an account that adds up, and the facts known of each.

What is expected was measured in the recordings by other means: counted by a pattern, or read off single lines.
"""

import datetime
import gzip
import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from written import fact_ids, seconds

from analysis import LogError, read_log
from analysis.passage import Passage, Series

pytestmark = pytest.mark.recording

# in the second list, damaged or odd addresses make it hard to say by other means how many sentences there are
CLEAN = [
    "ais_class_b_own_ship_2009.log",
    "ais_mixed.txt",
    "ais_trailing_metadata.txt",
    "berth_2021_a.nmea",
    "berth_multiplexer_2017.nmea",
    "berth_windy_2021.nmea",
    "clock_never_set.txt",
    "compass_attitude.log",
    "fuzzy_cases.log",
    "gnss_2014.log",
    "gnss_2022.log",
    "gnss_compass_2018.log",
    "moored_2020.nmea",
    "moored_with_ais_2020.log",
    "research_feed_2017.txt",
    "sounder_2006.log",
    "sounder_only.log",
    "tag_block_ais.txt",
    "tag_block_bad_checksum.txt",
    "tiny.log",
    "torture.log",
    "transponder_2011.log",
    "week_rollover_2019_a.log",
    "week_rollover_2019_b.log",
    "yacht_sailing_2018.log",
]
DAMAGED = [
    "ais_compressed.txt.gz",
    "ais_stream.txt",
    "bad_header.log",
    "stuck_log_2020.nmea",
    "weather_station_rollover.nmea",
    "week_rollover_coldboot.log",
]

Read = Callable[[str], Passage]


@pytest.fixture(scope="module")
def read(recordings: Path) -> Read:
    known: dict[str, Passage] = {}

    def once(name: str) -> Passage:
        if name not in known:
            known[name] = read_log(recordings / name)
        return known[name]

    return once


def one(passage: Passage, channel: str, address: str) -> Series:
    (found,) = (
        series
        for key, series in passage.series.items()
        if key.channel == channel and key.talker + key.formatter == address
    )
    return found


def numbers(passage: Passage, fact_id: str) -> list[dict[str, float | str]]:
    return [dict(fact.numbers) for fact in passage.facts if fact.id == fact_id]


def test_every_recording_is_listed_here(recordings: Path) -> None:
    present = {path.name for path in recordings.iterdir()} - {"README.md", "json_only.log"}
    assert present == {*CLEAN, *DAMAGED}


@pytest.mark.parametrize("name", [*CLEAN, *DAMAGED])
def test_the_account_of_every_recording_adds_up(name: str, read: Read, recordings: Path) -> None:
    passage = read(name)
    counts = passage.counts
    assert counts.accepted + sum(counts.rejected.values()) + sum(counts.ignored.values()) == counts.sentences
    assert sum(counts.unknown_formatters.values()) == counts.ignored.get("unknown", 0)
    assert set(counts.first_lines) == {*counts.rejected, *counts.ignored}
    content = (recordings / name).read_bytes()
    content = gzip.decompress(content) if name.endswith(".gz") else content
    assert counts.bytes == len(content)
    assert counts.lines == len(content.splitlines())
    plain = len(re.findall(rb"[$!][A-Z]{2}[A-Z0-9]{1,10},", content))
    assert plain <= counts.sentences <= content.count(b"$") + content.count(b"!")
    assert name in DAMAGED or counts.sentences == plain
    for series in passage.series.values():
        assert (np.diff(series.time_s) >= 0).all() or np.isnan(series.time_s).any()
        assert np.isfinite(series.value).all()
        assert (series.line >= 1).all()
        assert (series.line <= counts.lines).all()
    assert not (np.abs(passage.frame.get("lat_deg", np.ones(1))) < 1e-6).any()


def test_the_one_recording_without_a_sentence_is_said_so(recordings: Path) -> None:
    with pytest.raises(LogError, match="no NMEA 0183 sentence found"):
        read_log(recordings / "json_only.log")


def test_all_recordings_together(recordings: Path) -> None:
    passage = read_log(recordings)
    assert len(passage.files) == len(CLEAN) + len(DAMAGED)
    assert {"json_only.log", "README.md"} <= {
        fact.text.split(" holds")[0] for fact in passage.facts if fact.id == "no-sentence"
    }


@pytest.mark.parametrize(
    ("name", "start", "end"),
    [
        ("yacht_sailing_2018.log", "2018-08-20T09:47:36", "2018-08-20T09:50:04"),
        ("berth_windy_2021.nmea", "2021-04-05T12:55:19", "2021-04-05T12:56:39"),
        ("berth_multiplexer_2017.nmea", "2017-04-25T06:31:57", "2017-04-25T06:32:41"),
        ("week_rollover_2019_b.log", "2019-04-06T23:57:23", "2019-04-06T23:57:44"),
    ],
)
def test_a_passage_spans_its_own_clock(name: str, start: str, end: str, read: Read) -> None:
    """First and last time of day and the date, read off the first and last RMC of each file (+- 2 s)."""
    index = read(name).frame.index
    assert index[0].timestamp() == pytest.approx(seconds(start), abs=2)
    assert index[-1].timestamp() == pytest.approx(seconds(end), abs=2)


def test_a_stuck_log_is_a_fact(read: Read) -> None:
    passage = read("stuck_log_2020.nmea")
    assert (one(passage, "stw_kn", "VWVHW").value == 0).all()
    assert {"channel": "stw_kn", "value": 0.0, "readings": 26} in numbers(passage, "constant-value")
    assert np.median(one(passage, "sog_kn", "GPRMC").value) == pytest.approx(5.1, abs=0.05)
    assert len(passage.gaps) == 1
    assert passage.counts.first_lines["malformed"][-1].endswith(":668")  # the sentence that the end cuts off


def test_a_clock_that_was_never_set_is_not_used(read: Read, recordings: Path) -> None:
    passage = read("clock_never_set.txt")
    assert {"clock-never-set", "no-date"} <= fact_ids(passage)
    assert passage.counts.unknown_formatters == {"PCDIN": 785, "MXPGN": 467}
    dated = read_log(recordings / "clock_never_set.txt", date=datetime.date(2021, 6, 1))
    assert dated.frame.index[0].date() == datetime.date(2021, 6, 1)
    assert dated.frame.index[0].time() == passage.frame.index[0].time()


def test_a_week_rollover_is_undone_by_the_date_in_the_name(tmp_path: Path, recordings: Path) -> None:
    """The recorder named its file by the epoch in milliseconds of 2022-07-01; the sentences say 2002-11-15."""
    content = (recordings / "weather_station_rollover.nmea").read_bytes()
    path = tmp_path / f"raw_{seconds('2022-07-01T05:05:29') * 1000:.0f}.nmea"
    path.write_bytes(content)
    for passage in (
        read_log(path),
        read_log(recordings / "weather_station_rollover.nmea", date=datetime.date(2022, 7, 1)),
    ):
        assert passage.frame.index[0].date() == datetime.date(2022, 7, 1)
        assert numbers(passage, "week-rollover")[0]["days"] == 7168


def test_a_cold_boot_that_jumps_between_eras_has_one_date(read: Read) -> None:
    passage = read("week_rollover_coldboot.log")
    assert {stamp.date() for stamp in passage.frame.index} == {datetime.date(2019, 4, 7)}
    assert "week-rollover" in fact_ids(passage)
    assert passage.counts.rejected["checksum"] > 20


def test_two_receivers_are_two_sources(read: Read) -> None:
    """Inputs 1 and 4 by the multiplexer's own sentences; the second position's time stands at 04:16:01."""
    passage = read("weather_station_rollover.nmea")
    assert {key.instance for key in passage.series} == {"input 1", "input 4"}
    assert {key.instance for key in passage.series if key.channel == "lat_deg"} == {"input 1", "input 4"}
    (lag,) = numbers(passage, "two-clocks")
    assert lag["source"] == "APGLL (input 4)"
    assert passage.counts.ignored["repeated"] == 148


def test_tenths_in_sixteen_bits_are_unwrapped(read: Read) -> None:
    """Geoid 6551.10 is 65511 tenths of 65536: -2.5 m. Altitudes then lie within 2 m of the sea."""
    passage = read("moored_2020.nmea")
    assert set(one(passage, "geoid_separation_m", "GPGGA").value.round(3)) == {-2.5}
    assert np.abs(one(passage, "altitude_m", "GPGGA").value).max() < 2


def test_course_stands_still_at_rest(read: Read) -> None:
    passage = read("berth_multiplexer_2017.nmea")
    assert (one(passage, "cog_deg", "GPRMC").value == 45).all()
    assert one(passage, "sog_kn", "GPRMC").value.max() < 0.1


def test_units_and_references_at_the_berth(read: Read) -> None:
    """MWV in m/s, VWR in knots, one sensor: the means agree; variation 4.3 E in HDG and RMC and between headings."""
    passage = read("berth_windy_2021.nmea")
    by_mwv, by_vwr = (one(passage, "aws_kn", address).value.mean() for address in ("YDMWV", "YDVWR"))
    assert by_mwv == pytest.approx(by_vwr, abs=0.3)
    true, magnetic = (one(passage, f"heading_{kind}_deg", "YDVHW").value for kind in ("true", "mag"))
    assert (true - magnetic).round(1) == pytest.approx(np.full(len(true), 4.3), abs=0.11)
    assert set(one(passage, "variation_deg", "YDHDG").value) == {4.3}


def test_rates_of_a_multiplexed_log(read: Read) -> None:
    rates = {source.key.formatter: source.rate_hz for source in read("berth_multiplexer_2017.nmea").sources}
    assert rates["HDG"] == pytest.approx(10, abs=0.5)
    assert rates["RMC"] == pytest.approx(1, abs=0.05)


def test_distances_of_the_long_vlw(read: Read) -> None:
    """The first VLW of the file reads ``,N,545.6,N,1109.4,N,393.6,N``."""
    passage = read("yacht_sailing_2018.log")
    first = {
        name: one(passage, name, "SDVLW").value[0]
        for name in ("water_trip_nm", "ground_distance_nm", "ground_trip_nm")
    }
    assert first == {"water_trip_nm": 545.6, "ground_distance_nm": 1109.4, "ground_trip_nm": 393.6}
    assert not any(key.channel == "water_distance_nm" for key in passage.series)


def test_raw_counts_are_no_attitude(read: Read) -> None:
    passage = read("compass_attitude.log")
    assert passage.counts.out_of_range == {"pitch_deg": 10}
    assert not any(key.channel == "pitch_deg" for key in passage.series)


def test_long_sentences_are_read(read: Read) -> None:
    passage = read("fuzzy_cases.log")
    assert passage.counts.accepted == 28
    assert passage.counts.rejected == {}


def test_tag_blocks_carry_the_time(read: Read) -> None:
    good, bad = read("tag_block_ais.txt"), read("tag_block_bad_checksum.txt")
    assert good.counts.accepted == 221
    assert bad.counts.accepted == 100
    first = good.ais.sort_values("row")["time_s"].iloc[:5]
    assert first.tolist() == pytest.approx([1334337317] * 3 + [1334337318] * 2, abs=1)
    assert bad.ais["time_s"].notna().all()


def test_stamps_in_their_own_sentences_carry_the_time(read: Read) -> None:
    """The first stamp of the file is 2010-06-11 11:46:11.390 UTC, the second a second later."""
    passage = read("ais_stream.txt")
    first = passage.ais.sort_values("row").iloc[0]
    assert 0 <= first["time_s"] - seconds("2010-06-11T11:46:11.390") < 1
    assert "ais-incomplete" not in fact_ids(passage)


def test_trailing_epochs_carry_the_time(read: Read) -> None:
    """The first line ends ``,r003669987,1152921693``: 2006-07-15."""
    passage = read("ais_trailing_metadata.txt")
    assert passage.ais["time_s"].min() >= 1152921690
    assert passage.ais["time_s"].max() < 1152921690 + 3600
