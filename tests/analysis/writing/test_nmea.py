"""Corrected sentences, read back with pynmea2, checksums required: every field is the frame's, as rounded."""

import dataclasses
from collections import Counter
from pathlib import Path

import numpy as np
import pandas as pd
import pynmea2
import pytest

from analysis import Review, review
from analysis.errors import WriteError
from analysis.invent import invent
from analysis.passage import Fact, Passage
from analysis.reading.spoken import spoken_parts
from analysis.writing import replaced_by_computed, spooled, write_frame, write_nmea
from analysis.writing.invention import write_invention
from analysis.writing.nmea import COMPUTED, TALKER, computed_parts

ANGLE, SPEED, MINUTE = 0.05 + 1e-9, 0.005 + 1e-9, 0.00005 + 1e-9  # half of the last digit written


@pytest.fixture(scope="module")
def log(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("log") / "case.nmea"
    write_invention(invent("riggers-case", 1, 0.5), path)
    return path


@pytest.fixture(scope="module")
def reviewed(log: Path) -> Review:
    return review(log)


def parsed(path: Path) -> list[pynmea2.NMEASentence]:
    return [pynmea2.parse(line, check=True) for line in path.read_text("ascii").splitlines()]


def seconds_told(
    sentences: list[pynmea2.NMEASentence],
) -> dict[str, list[tuple[pd.Timestamp, pynmea2.NMEASentence]]]:
    """Each kind of sentence with the second it belongs to, which the RMC before it tells."""
    kinds: dict[str, list[tuple[pd.Timestamp, pynmea2.NMEASentence]]] = {}
    now = pd.NaT
    for sentence in sentences:
        if sentence.sentence_type == "RMC":
            now = pd.Timestamp(sentence.datetime)
        kind = sentence.sentence_type + (sentence.reference if sentence.sentence_type == "MWV" else "")
        kinds.setdefault(kind, []).append((now, sentence))
    return kinds


def apart_deg(told: float, frame: float) -> float:
    assert 0.0 <= told < 360.0
    return abs((told - frame + 180) % 360 - 180)


def test_every_field_is_the_frame_s(reviewed: Review, tmp_path: Path) -> None:
    frame = reviewed.frame.dropna(subset=["lat_deg", "lon_deg"])  # so that each second has its RMC
    write_frame(frame, reviewed.passage, tmp_path / "out.nmea")
    kinds = seconds_told(parsed(tmp_path / "out.nmea"))
    assert set(kinds) == {"RMC", "HDT", "VHW", "MWVR", "MWVT", "MWD", "VDR"}

    def rows(kind: str) -> list[tuple[pd.Series, pynmea2.NMEASentence]]:
        return [(frame.loc[second], sentence) for second, sentence in kinds[kind]]

    for row, rmc in rows("RMC"):
        assert abs(rmc.latitude - row["lat_deg"]) * 60 <= MINUTE
        assert abs(rmc.longitude - row["lon_deg"]) * 60 <= MINUTE
        assert rmc.status == "A"
        assert abs(rmc.spd_over_grnd - row["sog_kn"]) <= SPEED
        assert rmc.mag_var_dir == ("E" if row["variation_deg"] >= 0 else "W")
        assert abs(float(rmc.mag_variation) - abs(row["variation_deg"])) <= ANGLE
    for row, hdt in rows("HDT"):
        assert apart_deg(float(hdt.heading), row["heading_true_deg"]) <= ANGLE
    for row, vhw in rows("VHW"):
        assert abs(float(vhw.water_speed_knots) - row["stw_kn"]) <= SPEED
        assert abs(float(vhw.water_speed_km) - row["stw_kn"] * 1.852) <= SPEED
        assert apart_deg(float(vhw.heading_true), row["heading_true_deg"]) <= ANGLE
    for kind, angle, speed in (("MWVR", "awa_deg", "aws_kn"), ("MWVT", "twa_water_deg", "tws_water_kn")):
        for row, mwv in rows(kind):
            assert apart_deg(float(mwv.wind_angle), row[angle]) <= ANGLE
            assert abs(float(mwv.wind_speed) - row[speed]) <= SPEED
            assert (mwv.wind_speed_units, mwv.status) == ("N", "A")
    for row, mwd in rows("MWD"):
        assert apart_deg(float(mwd.direction_true), row["twd_ground_deg"]) <= ANGLE
        magnetic = row["twd_ground_deg"] - row["variation_deg"]
        assert apart_deg(float(mwd.direction_magnetic), magnetic) <= ANGLE
        assert abs(float(mwd.wind_speed_knots) - row["tws_ground_kn"]) <= SPEED
        assert abs(float(mwd.wind_speed_meters) - row["tws_ground_kn"] * 1852 / 3600) <= SPEED
    for row, vdr in rows("VDR"):
        assert apart_deg(float(vdr.deg_t), row["set_deg"]) <= ANGLE
        assert abs(float(vdr.current) - row["drift_kn"]) <= SPEED
    for kind, needs in {"HDT": "heading_true_deg", "MWVT": "tws_water_kn", "VDR": "drift_kn"}.items():
        assert len(kinds[kind]) == frame[needs].notna().sum()


def test_computed_sentences_have_a_talker_of_their_own_and_the_fix_keeps_its_receiver_s(
    reviewed: Review, tmp_path: Path
) -> None:
    write_frame(reviewed.frame, reviewed.passage, tmp_path / "out.nmea")
    talkers = {(one.talker, one.sentence_type) for one in parsed(tmp_path / "out.nmea")}
    assert TALKER in {f"U{digit}" for digit in range(10)}  # user configured: IEC 61162-1, from memory
    assert talkers == {("GP", "RMC")} | {(TALKER, kind.formatter) for kind in COMPUTED[1:]}


def test_kept_originals_stand_between_word_for_word_in_order(
    reviewed: Review, log: Path, tmp_path: Path
) -> None:
    write_nmea(reviewed.frame, reviewed.passage, tmp_path / "out.nmea", spoken_parts([log]))
    lines = (tmp_path / "out.nmea").read_text("ascii").splitlines()
    computed = [line for line in lines if line.startswith(f"${TALKER}")]
    others = [line for line in lines if not line.startswith(f"${TALKER}")]
    assert others == log.read_text("ascii").splitlines()
    assert not any(line[3:6] == "RMC" for line in computed)
    at = lines.index(next(line for line in lines if line.startswith(f"${TALKER}HDT")))
    assert any("RMC" in line for line in lines[:at])
    assert max(map(len, lines)) + 2 <= 82  # the longest sentence of the standard, CR and LF included


def test_a_row_without_a_value_has_no_sentence_and_no_variation_leaves_blanks(small_passage: Passage) -> None:
    frame = small_passage.frame.copy()
    frame["twd_ground_deg"], frame["tws_ground_kn"] = 359.97, 12.0
    frame.loc[frame.index[:8], "tws_ground_kn"] = np.nan
    told = sentences(frame, small_passage)
    assert Counter(line[3:6] for line in told) == {
        "RMC": 8,
        "VHW": 9,
        "MWD": 2,
    }  # small_passage: 8 fixes, 9 STW
    mwd = pynmea2.parse(next(line for line in told if "MWD" in line), check=True)
    assert str(mwd.direction_true) == "0.0"  # 359.97 rounds to 360.0, which is 0.0
    assert mwd.direction_magnetic is None
    assert all(",,,A*" in line for line in told if "RMC" in line)


def test_an_undated_log_states_no_date(small_passage: Passage) -> None:
    undated = dataclasses.replace(small_passage, facts=(Fact("no-date", "The log has no date."),))
    rmc = [
        pynmea2.parse(line, check=True) for line in sentences(small_passage.frame, undated) if "RMC" in line
    ]
    assert all(one.datestamp is None for one in rmc)
    assert rmc[0].timestamp.isoformat() == "08:00:00+00:00"


def sentences(frame: pd.DataFrame, passage: Passage) -> list[str]:
    spoken = spooled(computed_parts(frame, passage, COMPUTED))
    return spoken.lines(0, len(spoken)).decode("ascii").splitlines()


def test_what_is_computed_takes_the_place_of_what_the_log_says(
    reviewed: Review, small_passage: Passage
) -> None:
    assert {"HDG", "VHW", "MWV", "MWD"} <= replaced_by_computed(reviewed.frame)
    assert replaced_by_computed(small_passage.frame) == {"VHW"}


def test_nothing_to_say_writes_nothing(small_passage: Passage, tmp_path: Path) -> None:
    target = tmp_path / "out.nmea"
    with pytest.raises(WriteError, match="no time"):
        write_frame(small_passage.frame.iloc[:0], small_passage, target)
    assert not target.exists()
