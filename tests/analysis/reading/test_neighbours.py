"""Neighbours of the lines that broke parsers: more of every kind, for other sentences.

An expected value is read off its own line; where a unit is converted, the conversion stands beside it (by
definition 1 kn = 1.852 km/h = 1852/3600 m/s, 1 ft = 0.3048 m, 1 fathom = 6 ft, 1 statute mile = 1.609344 km; an
inch of mercury is 33.86389 hPa).
"""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from written import Said, read_text, said, sentence

VDM = "AIVDM,1,1,,B,16UK7Fi0?w4tQF0l4Q@>401v1PS;,0"
RMC = "GPRMC,120000,A,5000.0,N,00100.0,W,5.0,090.0,010620"
FIX = {"lat_deg": 50, "lon_deg": -1, "sog_kn": 5, "cog_deg": 90}
GGA = "GPGGA,120000,5000.0,N,00100.0,W"
PLACE = {"lat_deg": 50, "lon_deg": -1}
MPS, KMH, MPH = 3600 / 1852, 1 / 1.852, 1.609344 / 1.852

NEIGHBOURS: list[tuple[str, dict[str, float]]] = [
    # wind from the bow: units, references, validity, folding
    ("WIMWV,200.0,R,10.0,K,A", {"awa_deg": -160, "aws_kn": 10 * KMH}),
    ("WIMWV,200.0,R,10.0,M,A", {"awa_deg": -160, "aws_kn": 10 * MPS}),
    ("WIMWV,200.0,R,10.0,N,A", {"awa_deg": -160, "aws_kn": 10}),
    ("WIMWV,200.0,R,10.0,S,A", {"awa_deg": -160, "aws_kn": 10 * MPH}),
    ("WIMWV,200.0,T,10.0,K,A", {"logged_twa_deg": -160, "logged_tws_kn": 10 * KMH}),
    ("WIMWV,200.0,R,10.0,N", {"awa_deg": -160, "aws_kn": 10}),
    ("WIMWV,200.0,R,10.0,N,V", {}),
    ("WIMWV,200.0,R,10.0,,A", {"awa_deg": -160}),
    ("WIMWV,,R,10.0,N,A", {"aws_kn": 10}),
    ("WIMWV,,R,,N,A", {}),
    ("WIMWV,,,,,", {}),
    ("WIMWV, 0,R, 0.0,N,A", {"awa_deg": 0, "aws_kn": 0}),
    ("WIMWV,180.0,R,1.0,N,A", {"awa_deg": 180, "aws_kn": 1}),
    ("WIMWV,360.0,R,1.0,N,A", {"awa_deg": 0, "aws_kn": 1}),
    ("WIMWV,-20.0,R,1.0,N,A", {"awa_deg": -20, "aws_kn": 1}),
    ("IIVWR,45,L,,,,,18.52,K", {"awa_deg": -45, "aws_kn": 10}),
    ("IIVWR,45,R,,,5.0,M,,", {"awa_deg": 45, "aws_kn": 5 * MPS}),
    ("IIVWR,45,L,9.0,N,,,,", {"awa_deg": -45, "aws_kn": 9}),
    ("IIVWR,343,L,9.0,N,,,,", {"awa_deg": 17, "aws_kn": 9}),
    ("IIVWR,,,,,,,,", {}),
    ("IIVWT,45,L,9.0,N,4.6,M,16.7,K", {"logged_twa_deg": -45, "logged_tws_kn": 9}),
    # wind direction
    ("WIMWD,,T,258.0,M,9.0,N,4.6,M", {"logged_twd_mag_deg": 258, "logged_tws_kn": 9}),
    ("WIMWD,258.0,T,,M,,N,4.6,M", {"logged_twd_deg": 258, "logged_tws_kn": 4.6 * MPS}),
    ("WIMWD,,,,,,,,", {}),
    ("WIMWD,258.0,T,255.0,M,9.0,N", {"logged_twd_deg": 258, "logged_twd_mag_deg": 255, "logged_tws_kn": 9}),
    ("WIMWD,258.0,T,9.0,N,4.6,M", {"logged_twd_deg": 258, "logged_tws_kn": 9}),
    # temperature and depth
    ("IIMTW,68.0,F", {"water_temp_c": 20}),
    ("IIMTW,290.15,K", {"water_temp_c": 17}),
    ("IIMTW,17.2,", {"water_temp_c": 17.2}),
    ("IIMTW,,C", {}),
    ("SDDBT,32.8,f,,M,,F", {"depth_m": 32.8 * 0.3048}),
    ("SDDBT,32.8,f,10.1,M,5.5,F", {"depth_m": 10.1}),
    ("SDDBT,,f,,M,5.0,F", {"depth_m": 5 * 6 * 0.3048}),
    ("SDDBT,,f,,M,,F", {}),
    ("SDDBS,,f,5.0,M,,F", {"depth_surface_m": 5}),
    ("SDDBK,16.4,f,,M,,F", {"depth_keel_m": 16.4 * 0.3048}),
    ("SDDPT,4.8", {"depth_m": 4.8}),
    ("SDDPT,4.8,-0.0", {"depth_m": 4.8, "depth_offset_m": 0}),
    ("SDDPT,4.8,-0.5,100.0", {"depth_m": 4.8, "depth_offset_m": -0.5}),
    ("SDDPT,4.8,+0.3,", {"depth_m": 4.8, "depth_offset_m": 0.3}),
    ("SDDPT,,", {}),
    # heading, turning, rudder
    ("HETHS,123.4,A", {"heading_true_deg": 123.4}),
    ("HETHS,123.4,E", {"heading_true_deg": 123.4}),
    ("HETHS,123.4,V", {}),
    ("HETHS,,V", {}),
    ("GPHDT,,T", {}),
    ("HCHDM,360.0,M", {"heading_mag_deg": 0}),
    ("IIHDG,171,,,06,E", {"heading_mag_deg": 171, "variation_deg": 6}),
    ("IIHDG,171,,,,E", {"heading_mag_deg": 171}),
    ("IIHDG,171,2.0,W,6.0,W", {"heading_mag_deg": 169, "deviation_deg": -2, "variation_deg": -6}),
    ("IIHDG,359,2.0,E,,", {"heading_mag_deg": 1, "deviation_deg": 2}),
    ("IIHDG,,,,,", {}),
    ("TIROT,-12.0,A", {"rate_of_turn_deg_min": -12}),
    ("TIROT,-12.0,V", {}),
    ("AGRSA,5.0,A,7.0,V", {"rudder_deg": 5}),
    ("AGRSA,5.0,V,7.0,A", {"rudder_port_deg": 7}),
    ("AGRSA,-5.0,A", {"rudder_deg": -5}),
    ("AGRSA,5.0,A,,F", {"rudder_deg": 5}),
    ("AGRSA,5.0,A,,", {"rudder_deg": 5}),
    # through the water
    ("IIVHW,,T,,M,5.0,N,,", {"stw_kn": 5}),
    ("IIVHW,,,,,,,9.26,K", {"stw_kn": 5}),
    ("IIVHW,,,,,5.0,N,0.0,K", {"stw_kn": 5}),
    ("YDVHW,62.9,T,58.6,M,0.0,N,0.0,K,", {"heading_true_deg": 62.9, "heading_mag_deg": 58.6, "stw_kn": 0}),
    ("IIVHW,,T,,M,,N,,K", {}),
    ("IIVBW,-000.01,,A,5.0,0.1,V,,V,,V", {"stw_kn": -0.01}),
    ("IIVBW,6.0,-0.5,A,000.00,,A", {"stw_kn": 6, "stw_across_kn": -0.5}),
    ("IIVBW,6.0,0.5,V,5.0,-0.2,A", {"sog_along_kn": 5, "sog_across_kn": -0.2}),
    ("IIVLW,10.0,N,5.0,N", {"water_distance_nm": 10, "water_trip_nm": 5}),
    (
        "IIVLW,,N,545.6,N,1109.4,N,393.6,N",
        {"water_trip_nm": 545.6, "ground_distance_nm": 1109.4, "ground_trip_nm": 393.6},
    ),
    ("IIVDR,128.0,T,,,1.5,N", {"logged_set_deg": 128, "logged_drift_kn": 1.5}),
    # over the ground
    ("GPVTG,054.7,034.4,005.5,010.2", {"cog_deg": 54.7, "cog_mag_deg": 34.4, "sog_kn": 5.5}),
    ("GPVTG,,T,312.0,M,,N,9.26,K", {"cog_mag_deg": 312, "sog_kn": 5}),
    ("GPVTG,054.7,,,,5.5,,,,A", {"cog_deg": 54.7, "sog_kn": 5.5}),
    ("GPVTG,054.7,T,,M,5.5,N,,K,N", {}),
    ("GPVTG,,,,,,,,", {}),
    (f"{RMC},,E", FIX),
    (f"{RMC},07.,W", FIX | {"variation_deg": -7}),
    (f"{RMC},0.0,", FIX),
    (f"{RMC},,,A,S", FIX),
    (f"{RMC},,,A,Q", FIX),
    (f"{RMC},,,D,", FIX),
    (f"{RMC},,,N", {}),
    ("GPRMC,,V,,,,,,,,,,N", {}),
    ("GPRMC,120000,V,5000.0,N,00100.0,W,5.0,090.0,010620,,", {}),
    ("GPGLL,5000,N,04500,E,090037,A", {"lat_deg": 50, "lon_deg": 45}),
    ("GPGLL,5000.1,S,00100.5,W,,A", {"lat_deg": -(50 + 0.1 / 60), "lon_deg": -(1 + 0.5 / 60)}),
    (
        "GPGLL,5000.12345678,N,00459.87654321,E,090037,A,A",
        {"lat_deg": 50 + 0.12345678 / 60, "lon_deg": 4 + 59.87654321 / 60},
    ),
    ("GPGLL,502.5,N,459.5,E,090037,A", {"lat_deg": 5 + 2.5 / 60, "lon_deg": 4 + 59.5 / 60}),
    ("GPGLL,0.5,N,0.25,W,090037,A", {"lat_deg": 0.5 / 60, "lon_deg": -0.25 / 60}),
    ("GPGLL,5000.1,N,00100.5,W,090037,V,N", {}),
    ("GPGLL,,,,,,V,N", {}),
    ("GPGNS,120000,5000.0,N,00100.0,W,AN,08,,,,,", PLACE | {"satellites_used": 8}),
    ("GNGNS,120000,5000.0,N,00100.0,W,NNA,08,1.2,-3.0,45.0,,,V",
     PLACE | {"satellites_used": 8, "hdop": 1.2, "altitude_m": -3, "geoid_separation_m": 45}),
    ("GNGNS,120000,5000.0,N,00100.0,W,NNN,00,,,,,", {}),
    # 6553.4 and 6551.1 are tenths in unsigned 16 bits: 65534 - 65536 = -2, 65511 - 65536 = -25
    (f"{GGA},1,08,1.0,6553.4,M,6551.1,M,,",
     PLACE | {"fix_quality": 1, "satellites_used": 8, "hdop": 1, "altitude_m": -0.2, "geoid_separation_m": -2.5}),
    (f"{GGA},,,,-00000.9,M,,M,,", PLACE | {"altitude_m": -0.9}),
    (f"{GGA},0,,,,M,,M,,", {}),
    (f"{GGA},8,,,,,,,,", PLACE | {"fix_quality": 8}),
    ("GPGST,120000,,,,,,,", {}),
    ("GPZDA,,,,,,", {}),
    ("GPZDA,071312,8,10,2021,02,00", {}),
    ("GPGSV,1,1,00", {"satellites_in_view": 0}),
    ("GPGSV,1,1,01,01,40,083,", {"satellites_in_view": 1}),
    ("GPGSV,1,1,01,01,40,083,46,1", {"satellites_in_view": 1}),
    ("GPGSA,A,1,,,,,,,,,,,,,,,", {"fix_dimension": 1, "satellites_used": 0}),
    # weather
    ("WIMDA,30.00,I,,,18.0,C,,,,,,,,,,,,,,", {"air_pressure_hpa": 30 * 33.86389, "air_temp_c": 18}),
    (
        "WIMDA,30.00,I,1.016,B,,C,15.0,C,60.0,,10.0,C,258.0,T,255.0,M,,N,4.6,M",
        {
            "air_pressure_hpa": 1016,
            "water_temp_c": 15,
            "humidity_percent": 60,
            "dew_point_c": 10,
            "logged_twd_deg": 258,
            "logged_twd_mag_deg": 255,
            "logged_tws_kn": 4.6 * MPS,
        },
    ),
    ("WIMDA,,I,,B,,C,,C,,,,C,,T,,M,,N,,M", {}),
    # marks and machinery
    ("IIRPM,E,1,1800,,A", {"engine_rpm": 1800}),
    ("IIRPM,S,1,-300,10,A", {"shaft_rpm": -300, "propeller_pitch_percent": 10}),
    ("IIRPM,E,1,1800,,V", {}),
    ("IIXTE,A,A,0.67,R,N", {"cross_track_error_nm": -0.67}),
    ("IIXTE,V,A,0.67,R,N", {}),
    ("GPAPB,A,A,0.10,L,N,V,V,011,M,DEST,012,T,013,M",
     {"cross_track_error_nm": 0.1, "leg_bearing_mag_deg": 11,
      "waypoint_bearing_deg": 12, "heading_to_steer_mag_deg": 13}),
]  # fmt: skip


@pytest.mark.parametrize(("body", "values"), NEIGHBOURS, ids=[body for body, _ in NEIGHBOURS])
def test_neighbour_reads_right(body: str, values: dict[str, float], tmp_path: Path) -> None:
    passage = read_text(tmp_path, sentence(body) + "\r\n")
    expected = {
        f"{body[:5]} {channel}": [pytest.approx(value, abs=1e-9)] for channel, value in values.items()
    }
    assert said(passage) == expected
    assert (passage.counts.accepted, passage.counts.rejected, passage.counts.ignored) == (1, {}, {})


TRANSDUCERS: list[tuple[str, Said]] = [
    ("A,-1.2,D,HEEL,A,3.8,D,TRIM,A,-3.8,D,RUDDER",
     {"heel_deg/HEEL": [-1.2], "pitch_deg/TRIM": [3.8], "rudder_deg/RUDDER": [-3.8]}),
    ("A,-1.2,D,ROLL,A,3.8,D,PTCH", {"heel_deg/ROLL": [-1.2], "pitch_deg/PTCH": [3.8]}),
    ("A,3.8,,PITCH", {"pitch_deg/PITCH": [3.8]}),
    ("A,1.2,HEEL,", {"heel_deg": [1.2]}),
    ("A,0.1,R,ROLL", {"heel_deg/ROLL": [np.rad2deg(0.1)]}),
    ("A,1.2,D,PTCH,A,2", {"pitch_deg/PTCH": [1.2], "xdr:A": [2]}),
    ("A,0.5,D,Yaw", {"xdr:Yaw/Yaw": [0.5]}),
    ("P,1.0132,B,Barometer", {"air_pressure_hpa/Barometer": [1013.2]}),
    ("P,101320,P,Pressure#0", {"air_pressure_hpa/Pressure#0": [1013.2]}),
    ("P,1013.2,hPa,BARO", {"air_pressure_hpa/BARO": [1013.2]}),
    ("P,1013.2,,BARO", {"air_pressure_hpa/BARO": [1013.2]}),
    ("P,1.0132,,BARO", {"air_pressure_hpa/BARO": [1013.2]}),
    ("C,20.5,,AIRTEMP", {"air_temp_c/AIRTEMP": [20.5]}),
    ("C,293.15,K,OutsideTemp", {"air_temp_c/OutsideTemp": [20]}),
    ("C,,C,AIRTEMP", {}),
    ("C,18.5,C,WATERTEMP", {"water_temp_c/WATERTEMP": [18.5]}),
    ("C,24.3,C,ENV_INSIDE_T", {"xdr:ENV_INSIDE_T/ENV_INSIDE_T": [24.3]}),
    # wind chill (relative, theoretical) and heat index are no air temperature
    ("C,12.0,C,WCHR,C,13.0,C,WCHT,C,25.0,C,HINX",
     {"xdr:WCHR/WCHR": [12], "xdr:WCHT/WCHT": [13], "xdr:HINX/HINX": [25]}),
    ("P,1.01,B,STNP", {"air_pressure_hpa/STNP": [1010]}),
    ("H,55,P,HUMIDITY", {"humidity_percent/HUMIDITY": [55]}),
    ("H,55,%,HUMIDITY", {"humidity_percent/HUMIDITY": [55]}),
    ("U,12.8,V,BATT", {"voltage_v/BATT": [12.8]}),
    ("T,1800,R,ENGINE#0", {"engine_rpm/ENGINE#0": [1800]}),
    ("P,106000,P,EngineBoost#0", {"xdr:EngineBoost#0/EngineBoost#0": [106000]}),
]  # fmt: skip


@pytest.mark.parametrize(("groups", "values"), TRANSDUCERS, ids=[groups for groups, _ in TRANSDUCERS])
def test_transducers(groups: str, values: Said, tmp_path: Path) -> None:
    passage = read_text(tmp_path, sentence(f"IIXDR,{groups}"))
    assert said(passage) == {f"IIXDR {name}": pytest.approx(value) for name, value in values.items()}
    assert passage.counts.accepted == 1


@pytest.mark.parametrize(
    ("groups", "channel", "value"),
    [
        ("A,-1.2,HEEL,D", "heel_deg", -1.2),
        ("P,1.0132,BARO,B", "air_pressure_hpa", 1013.2),
        ("C,20.5,AIRTEMP,C", "air_temp_c", 20.5),
        ("H,55,HUMIDITY,P", "humidity_percent", 55),
    ],
)
def test_a_transducer_with_unit_and_name_swapped(
    groups: str, channel: str, value: float, tmp_path: Path
) -> None:
    passage = read_text(tmp_path, sentence(f"IIXDR,{groups}"))
    assert {key.channel: one.value.tolist() for key, one in passage.series.items()} == {
        channel: [pytest.approx(value)]
    }


@pytest.mark.parametrize(
    ("body", "kept", "kept_out"),
    [
        (f"{GGA},12,08,1.0,3.0,M,,M,,", PLACE | {"satellites_used": 8, "hdop": 1, "altitude_m": 3}, "fix_quality"),
        ("WIMWV,400.0,R,10.0,N,A", {"aws_kn": 10}, "awa_deg"),
        ("WIMWV,40.0,R,999.9,N,A", {"awa_deg": 40}, "aws_kn"),
        ("GPRMC,120000,A,5000.0,N,00100.0,W,5.0,361.0,010620,,", PLACE | {"sog_kn": 5}, "cog_deg"),
        ("IIVHW,,T,361.0,M,5.0,N,,K", {"stw_kn": 5}, "heading_mag_deg"),
        ("IIMTW,99.0,C", {}, "water_temp_c"),
        ("SDDPT,-4.8,0.4", {"depth_offset_m": 0.4}, "depth_m"),
    ],
)  # fmt: skip
def test_the_impossible_is_kept_out_and_counted(
    body: str, kept: dict[str, float], kept_out: str, tmp_path: Path
) -> None:
    passage = read_text(tmp_path, sentence(body))
    assert said(passage) == {f"{body[:5]} {channel}": [value] for channel, value in kept.items()}
    assert passage.counts.rejected == {"implausible": 1}
    assert passage.counts.out_of_range == {kept_out: 1}
    assert passage.counts.first_lines["implausible"] == ("a.log:1",)


@pytest.mark.parametrize(
    "body",
    [
        "GPGSV,1,1,01,01,40,083",
        "GPGSV,3,1,12,2,40,16,00,090,,",
        "GPGSA,A,3,04,05,,09,12,,,24,,,,,2.5,1.3,2.1,1,",
        "HCHDM,12.5",
        "HCHDM,12.5,M,3",
        "IIMTW,17.2",
        "GPRMC,120000,A,5000.0,N,00100.0,W,5.0,090.0",
        "GPGGA,120000,5000.0,N,00100.0,W,1,08,1.0,3.0,M,,M,",
        "WIMWV,12.3x,R,5,N,A",
        "HCHDM,abc,M",
        "HCHDM,1 2,M",
        "HCHDM,1.2.3,M",
        "SDDPT,4.8,--0.5",
        "GPGLL,50a0.0,N,00100.0,W,120000,A",
        "IIXDR,A",
        "IIXDR,A,x,D,HEEL",
    ],
)
def test_a_good_checksum_does_not_save_bad_content(body: str, tmp_path: Path) -> None:
    passage = read_text(tmp_path, sentence(body))
    assert passage.counts.rejected == {"malformed": 1}
    assert passage.series == {}


@pytest.mark.parametrize("stray", [b"\xef\xbf\xbd", b"\xb0", b"\0", b"\x07"])
def test_bytes_outside_printable_ascii_spoil_a_sentence_even_if_the_checksum_matches(
    stray: bytes, tmp_path: Path
) -> None:
    body = b"HCHDM,12" + stray + b".5,M"
    checksum = np.bitwise_xor.reduce(np.frombuffer(body, np.uint8))
    passage = read_text(tmp_path, b"$" + body + b"*%02X\r\n" % checksum)
    assert passage.counts.rejected == {"malformed": 1}
    assert passage.series == {}


CHECKED = ["HCHDM,12.5,M", "WIMWV,343.0,R,8.4,N,A", "SDDPT,4.8,0.4", "GPVTG,348.78,T,,M,0.03,N,0.05,K,D"]


@pytest.mark.parametrize("body", CHECKED)
@pytest.mark.parametrize("end", ["\r\n", "\n", "\r", "\r\r\n", "", " \r\n", "\t\r\n", "\r\n\r\n", ",\r\n"])
@pytest.mark.parametrize("case", [str.upper, str.lower])
def test_checksum_in_either_case_before_any_line_end(
    body: str, end: str, case: Callable[[str], str], tmp_path: Path
) -> None:
    head, stated = sentence(body).split("*")
    passage = read_text(tmp_path, f"{head}*{case(stated)}{end}")
    assert passage.counts.accepted == 1
    assert all(one.verified.all() for one in passage.series.values())


@pytest.mark.parametrize(
    ("body", "stated"),
    [("GPHDM,10.0,M", "4"), ("GPHDM,10.0,M", " 4"), ("TIROT,10.0,A", "A"), ("TIROT,10.0,A", "a")],
)
def test_a_one_digit_checksum_is_a_small_number(body: str, stated: str, tmp_path: Path) -> None:
    assert int(sentence(body).split("*")[1], 16) == int(stated, 16)
    passage = read_text(tmp_path, f"${body}*{stated}\r\n")
    assert passage.counts.accepted == 1
    assert all(one.verified.all() for one in passage.series.values())


def test_a_blank_checksum_is_none(tmp_path: Path) -> None:
    passage = read_text(tmp_path, "$HCHDM,12.5,M*\r\n$SDDPT,4.8,0.4*  \r\n")
    assert passage.counts.accepted == 2
    assert not any(one.verified.any() for one in passage.series.values())


@pytest.mark.parametrize("stated", ["00", "0", "G1", "1G", "??"])
def test_a_wrong_checksum_rejects(stated: str, tmp_path: Path) -> None:
    passage = read_text(tmp_path, f"$HCHDM,12.5,M*{stated}\r\n{sentence('SDDPT,4.8,0.4')}\r\n")
    assert passage.counts.rejected == {"checksum": 1}
    assert passage.counts.first_lines["checksum"] == ("a.log:1",)
    assert set(said(passage)) == {"SDDPT depth_m", "SDDPT depth_offset_m"}


@pytest.mark.parametrize("between", ["", " ", ",", ";", "\0", "ab", "\xff", "\t"])
def test_glued_sentences_are_all_read(between: str, tmp_path: Path) -> None:
    line = between.join(
        sentence(body, "!" if body == VDM else "$") for body in [*CHECKED, VDM, *CHECKED[::-1]]
    )
    passage = read_text(tmp_path, f"{line}\r\n{line}\r\n".encode("latin-1"))
    assert passage.counts.sentences == passage.counts.accepted == 18
    assert said(passage)["HCHDM heading_mag_deg"] == [12.5] * 4
    assert len(passage.ais) == 2
    lines = [one.line.tolist() for key, one in passage.series.items() if key.channel == "depth_m"]
    assert lines == [[1, 1, 2, 2]]


@pytest.mark.parametrize(
    ("text", "account"),
    [
        ("$GPGSA,A,1,,{}", {"truncated": 1}),
        ("$WIMWV,343.0,R,8{}", {"truncated": 1}),
        (",N,A*2F{}", {}),
        ("343.0,R,8.4,N,A*35{}", {}),
        ("GPatt,,-1.1,-1.1*66\r\n{}", {}),
        ("$$${}", {}),
        ("a!b,c*{}", {}),
    ],
)
def test_rubbish_before_a_sentence_costs_only_itself(
    text: str, account: dict[str, int], tmp_path: Path
) -> None:
    passage = read_text(tmp_path, text.format(sentence("HCHDM,12.5,M")) + "\r\n")
    assert said(passage) == {"HCHDM heading_mag_deg": [12.5]}
    assert passage.counts.rejected == account
    assert {key.instance for key in passage.series} == {""}


def test_a_cut_end_of_file_is_malformed(tmp_path: Path) -> None:
    lines = [sentence("HCHDG,256.5,,,13.0,E")] * 20
    passage = read_text(tmp_path, "\r\n".join([*lines, "$HCHDG,256.5,,,1"]))
    assert passage.counts.rejected == {"malformed": 1}
    assert passage.counts.first_lines["malformed"] == ("a.log:21",)
    assert set(said(passage)["HCHDG variation_deg"]) == {13.0}


@pytest.mark.parametrize("length", [83, 108, 300])
def test_no_length_limit(length: int, tmp_path: Path) -> None:
    name = "N" * (length - len("$IIXDR,A,1.5,D,*00\r\n"))
    line = sentence(f"IIXDR,A,1.5,D,{name}")
    assert len(f"{line}\r\n") == length
    passage = read_text(tmp_path, line)
    assert [one.value.tolist() for one in passage.series.values()] == [[1.5]]


@pytest.mark.parametrize(
    "body", ["PGRMZ,246,f,3", "PUBX,00,1,2", "PXYZ,1,2", "PXYZ1", "QQXYZ,1,2", "HCHDMX,12.5,M"]
)
def test_what_nobody_knows_is_ignored_and_named(body: str, tmp_path: Path) -> None:
    passage = read_text(tmp_path, sentence(body))
    assert passage.counts.rejected == {}
    address = body.split(",")[0]
    if passage.counts.unknown_formatters:
        assert passage.counts.unknown_formatters == {address: 1}
        assert passage.counts.ignored == {"unknown": 1}
    assert not {"heading_mag_deg"} & {key.channel for key in passage.series}
