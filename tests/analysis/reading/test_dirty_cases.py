"""Lines that broke parsers, each with its right reading.

Lines and readings come from public threads of general parsing libraries, named per case. Positions are written as
degrees + minutes / 60. Where the thread's line has no time, a stamp or a neighbour shows it.
"""

import datetime
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pytest
from written import Said, fact_ids, read_text, said, seconds, sentence, times


@dataclass(frozen=True)
class Case:
    """A log, everything it says, the account of it, and the time of its readings."""

    id: str
    source: str
    text: str | bytes
    says: Said
    accepted: int = 1
    rejected: dict[str, int] = field(default_factory=dict)
    ignored: dict[str, int] = field(default_factory=dict)
    out_of_range: dict[str, int] = field(default_factory=dict)
    moment: str | None = None


CASES = [
    Case(
        "B01",
        "pynmea2 issue 136",
        "$IIMWV,343.0,R,8.4,N,A*35\r\n$IIVWR,343.0,R,8.4,N,4.3,M,15.6,K*74",
        {"IIMWV awa_deg": [-17], "IIMWV aws_kn": [8.4], "IIVWR awa_deg": [-17], "IIVWR aws_kn": [8.4]},
        accepted=2,
    ),
    Case(
        "B03",
        "pynmea2 issue 43",
        "$GPRMC,114130,A,3809.1250,N,02415.8050,E,12195.6,341.5,280915,5,E,A*1\r\n",
        {
            "GPRMC lat_deg": [38 + 9.125 / 60],
            "GPRMC lon_deg": [24 + 15.805 / 60],
            "GPRMC cog_deg": [341.5],
            "GPRMC variation_deg": [5],
        },
        accepted=0,
        rejected={"implausible": 1},
        out_of_range={"sog_kn": 1},
        moment="2015-09-28T11:41:30",
    ),
    Case(
        "B04",
        "pynmea2 issue 162",
        "$GNRMC,200728.50,A,2829.34783,N,08122.21257,W,0.057,,301223,,,A,V*0F",
        {
            "GNRMC lat_deg": [28 + 29.34783 / 60],
            "GNRMC lon_deg": [-(81 + 22.21257 / 60)],
            "GNRMC sog_kn": [0.057],
        },
        moment="2023-12-30T20:07:28.5",
    ),
    Case(
        "B05",
        "pynmea2 issue 94",
        "$GPGGA,,,,,,0,00,,,M,0.0,M,,0000*48\n$GNRMC,,V,,,,,,,,,,N*4D",
        {},
        accepted=2,
    ),
    Case(
        "B06",
        "pynmea2 issue 65",
        "$GPRMC,041626.000,A,1009.9738,N,07618.6555,E,0.00,115.25,100517,,,A*6F"
        "$GPVTG,115.25,T,,M,0.00,N,0.00,K,A*3F",
        {
            "GPRMC lat_deg": [10 + 9.9738 / 60],
            "GPRMC lon_deg": [76 + 18.6555 / 60],
            "GPRMC sog_kn": [0],
            "GPRMC cog_deg": [115.25],
            "GPVTG cog_deg": [115.25],
            "GPVTG sog_kn": [0],
        },
        accepted=2,
        moment="2017-05-10T04:16:26",
    ),
    Case(
        "B07",
        "pynmea2 issue 97",
        "$ERXDR,G,0,,SHD CANCEL*57",
        {"ERXDR xdr:SHD CANCEL/SHD CANCEL": [0]},
    ),
    Case(
        "B08",
        "pynmea2 issue 100",
        "$GPRMC,184446.000,A,3720.18653,N,12153.38874,W,0.0,0.0,130220,,,A*7E",
        {
            "GPRMC lat_deg": [37 + 20.18653 / 60],
            "GPRMC lon_deg": [-(121 + 53.38874 / 60)],
            "GPRMC sog_kn": [0],
            "GPRMC cog_deg": [0],
        },
        moment="2020-02-13T18:44:46",
    ),
    Case(
        "B11",
        "marine-api PR 66",
        "$WIMWD,328.2,T,326.8,M,11.2,N,5.8,M*61",
        {
            "WIMWD logged_twd_deg": [328.2],
            "WIMWD logged_twd_mag_deg": [326.8],
            "WIMWD logged_tws_kn": [11.2],
        },
    ),
    Case(
        "B13",
        "go-nmea issue 107",
        "$YDRMC,050700.00,A,5524.8683,N,01255.7938,E,0.2,181.3,230623,4.3,E,A,C*5F",
        {
            "YDRMC lat_deg": [55 + 24.8683 / 60],
            "YDRMC lon_deg": [12 + 55.7938 / 60],
            "YDRMC sog_kn": [0.2],
            "YDRMC cog_deg": [181.3],
            "YDRMC variation_deg": [4.3],
        },
        moment="2023-06-23T05:07:00",
    ),
    Case(
        "B14",
        "go-nmea issue 83",
        "$INDPT,2.3,0.0*46\n$SDDPT,004.8,*75",
        {"INDPT depth_m": [2.3], "INDPT depth_offset_m": [0], "SDDPT depth_m": [4.8]},
        accepted=2,
    ),
    Case(
        "B15",
        "go-nmea issue 56",
        "$GNRMC,192624.000,A,5327.813301,N,01432.630601,E,0.00,325.41,170619,,,A*7E\r",
        {
            "GNRMC lat_deg": [53 + 27.813301 / 60],
            "GNRMC lon_deg": [14 + 32.630601 / 60],
            "GNRMC sog_kn": [0],
            "GNRMC cog_deg": [325.41],
        },
        moment="2019-06-17T19:26:24",
    ),
    Case(
        "B17",
        "minmea issue 57",
        "$GNVTG,,,,,,,,,N*2E\n"
        "$GPGGA,115739.00,4158.8441367,N,09147.4416929,W,4,13,0.9,255.747,M,-32.00,M,01,0000*6E",
        {
            "GPGGA lat_deg": [41 + 58.8441367 / 60],
            "GPGGA lon_deg": [-(91 + 47.4416929 / 60)],
            "GPGGA fix_quality": [4],
            "GPGGA satellites_used": [13],
            "GPGGA hdop": [0.9],
            "GPGGA altitude_m": [255.747],
            "GPGGA geoid_separation_m": [-32],
        },
        accepted=2,
        moment="1970-01-01T11:57:39",
    ),
    Case(
        "B20",
        "NMEA0183 library issue 26",
        "$WIMWV,96.6,T,11.2,N,A*2E",
        {"WIMWV logged_twa_deg": [96.6], "WIMWV logged_tws_kn": [11.2]},
    ),
    Case(
        "B21",
        "NMEA2000 library issue 258",
        "$GPVHW,351.4,T,356.2,M,0.0,N,0.0,K\n$GPHDG,346.6,,,4.8,E",
        {
            "GPVHW heading_true_deg": [351.4],
            "GPVHW heading_mag_deg": [356.2],
            "GPVHW stw_kn": [0],
            "GPHDG heading_mag_deg": [346.6],
            "GPHDG variation_deg": [4.8],
        },
        accepted=2,
    ),
    Case(
        "B22",
        "nmea_navsat_driver issues 105 and 135",
        "$GPGGA,004646,3350.7509,N,11818.7148,W,1,06,1.3,52.6,M,-35.2,M,,*49",
        {
            "GPGGA lat_deg": [33 + 50.7509 / 60],
            "GPGGA lon_deg": [-(118 + 18.7148 / 60)],
            "GPGGA fix_quality": [1],
            "GPGGA satellites_used": [6],
            "GPGGA hdop": [1.3],
            "GPGGA altitude_m": [52.6],
            "GPGGA geoid_separation_m": [-35.2],
        },
        moment="1970-01-01T00:46:46",
    ),
    Case(
        "B23",
        "nmea_navsat_driver issue 86",
        "$GNGST,130358.60,36,,,,0.046,0.041,0.057*43",
        {
            "GNGST position_rms_m": [36],
            "GNGST lat_error_m": [0.046],
            "GNGST lon_error_m": [0.041],
            "GNGST altitude_error_m": [0.057],
        },
        moment="1970-01-01T13:03:58.6",
    ),
    Case(
        "B24",
        "pynmeagps issue 37",
        "$GNGLL,02348.3822990,S,15313.5862807,E,040856.82,A,D*5F",
        {"GNGLL lat_deg": [-23.80637165], "GNGLL lon_deg": [153 + 13.5862807 / 60]},
        moment="1970-01-01T04:08:56.82",
    ),
    Case(
        "B26",
        "node-nmea issue 15",
        "$GPRMC,084200.00,A,1559.7695,S,4749.3789,W,2.2,128.3,181016,0.0,E,A*0d",
        {
            "GPRMC lat_deg": [-(15 + 59.7695 / 60)],
            "GPRMC lon_deg": [-(47 + 49.3789 / 60)],
            "GPRMC sog_kn": [2.2],
            "GPRMC cog_deg": [128.3],
            "GPRMC variation_deg": [0],
        },
        moment="2016-10-18T08:42:00",
    ),
    Case(
        "B28",
        "micropyGPS issue 9, the masked digits made up",
        sentence("GPRMC,165904.00,A,3412.85300,N,11807.85129,E,0.564,,011217,,,A"),
        {
            "GPRMC lat_deg": [34 + 12.853 / 60],
            "GPRMC lon_deg": [118 + 7.85129 / 60],
            "GPRMC sog_kn": [0.564],
        },
        moment="2017-12-01T16:59:04",
    ),
    Case(
        "B29",
        "107-Arduino-NMEA-Parser issue 21, a heading beside it to show the time",
        "$GPRMC,144602.00,V,,,,,,,011120,,,N*7B\n" + sentence("HCHDM,90.0,M"),
        {"HCHDM heading_mag_deg": [90]},
        accepted=2,
        moment="2020-11-01T14:46:02",
    ),
    Case(
        "B31",
        "TinyGPSPlus issue 80",
        "+GPSRD:$GPGGA,172356.000,5051.8430,N,00510.3105,E,1,7,1.23,32.6,M,47.4,M,,*62",
        {
            "GPGGA lat_deg": [50 + 51.843 / 60],
            "GPGGA lon_deg": [5 + 10.3105 / 60],
            "GPGGA fix_quality": [1],
            "GPGGA satellites_used": [7],
            "GPGGA hdop": [1.23],
            "GPGGA altitude_m": [32.6],
            "GPGGA geoid_separation_m": [47.4],
        },
        moment="1970-01-01T17:23:56",
    ),
    Case(
        "B33",
        "Adafruit_GPS issue 50",
        "$GPGGA,145959.00,3400.943,N,13147.378,E,1,08,01.0,+0023,M,+029,M,,*5F",
        {
            "GPGGA lat_deg": [34 + 0.943 / 60],
            "GPGGA lon_deg": [131 + 47.378 / 60],
            "GPGGA fix_quality": [1],
            "GPGGA satellites_used": [8],
            "GPGGA hdop": [1],
            "GPGGA altitude_m": [23],
            "GPGGA geoid_separation_m": [29],
        },
        moment="1970-01-01T14:59:59",
    ),
    Case(
        "B34",
        "GPS.js issue 23",
        "$GPGLL,5000.05254,N,04500.02356,E,090037.059,A*35",
        {"GPGLL lat_deg": [50 + 0.05254 / 60], "GPGLL lon_deg": [45 + 0.02356 / 60]},
        moment="1970-01-01T09:00:37.059",
    ),
    Case(
        "B35",
        "NMEA0183 C++ library PR 3",
        "$GNVTG,348.78,T,,M,0.03,N,0.05,K,D*20",
        {"GNVTG cog_deg": [348.78], "GNVTG sog_kn": [0.03]},
    ),
    Case(
        "B40",
        "nmea crate PR 164",
        "$WIXDR,C,022.0,C,,*52\n$IIXDR,G,200,,ENGHRS*3E",
        {"WIXDR air_temp_c": [22], "IIXDR engine_hours_h/ENGHRS": [200]},
        accepted=2,
    ),
    Case(
        "B42",
        "a receiver's cold boot in the gpsd project's test logs",
        "$GPGSV,3,3,12,2,40,16,00,090,*72",
        {},
        accepted=0,
        rejected={"malformed": 1},
    ),
]


@pytest.mark.parametrize("case", CASES, ids=[f"{case.id}, {case.source}" for case in CASES])
def test_case_reads_right(case: Case, tmp_path: Path) -> None:
    passage = read_text(tmp_path, case.text)
    assert said(passage) == {name: pytest.approx(values, abs=1e-9) for name, values in case.says.items()}
    counts = passage.counts
    assert counts.accepted == case.accepted
    assert (counts.rejected, counts.ignored) == (case.rejected, case.ignored)
    assert counts.out_of_range == case.out_of_range
    stated = [t for series in passage.series.values() for t in series.time_s]
    if case.moment is None:
        assert np.isnan(stated).all()
    else:
        assert stated == pytest.approx([seconds(case.moment)] * len(stated), abs=1e-3)


def test_b09_a_proprietary_address_stays_whole(tmp_path: Path) -> None:
    """Case B09 (pynmea2 issue 44): no letter of the address becomes a value."""
    passage = read_text(tmp_path, "$PGRME,27.5,M,46.0,M,53.6,M*1C")
    assert passage.counts.rejected == {}
    assert passage.counts.sentences == 1
    assert not {"E", "PGRM"} & set(passage.counts.unknown_formatters)
    assert all(27.5 in values for name, values in said(passage).items() if name.endswith("hpe"))


@pytest.mark.parametrize(
    "body", ["GSENSORD,0.060,0.120,-0.180", "HCHDM,90.0,M", "GPVTG,348.78,T,,M,0.03,N,0.05,K,D"]
)
def test_b16_without_a_checksum_is_accepted_unverified(body: str, tmp_path: Path) -> None:
    """Case B16 (go-nmea PR 53 and issue 96): older gear sends none."""
    passage = read_text(tmp_path, f"${body}\n" * 3)
    assert passage.counts.rejected == {}
    assert not any(series.verified.any() for series in passage.series.values())


@pytest.mark.parametrize("bare_at", [0, 10, 20])
def test_b16_a_missing_checksum_is_suspect_where_one_is_usual(bare_at: int, tmp_path: Path) -> None:
    lines = [sentence(f"HCHDM,{90 + k}.0,M") for k in range(20)]
    lines.insert(bare_at, "$HCHDM,123.4,M")
    lines.append("$SDDPT,4.8,0.4")
    passage = read_text(tmp_path, "\r\n".join(lines))
    assert passage.counts.rejected == {"no_checksum": 1}
    assert passage.counts.first_lines["no_checksum"] == (f"a.log:{bare_at + 1}",)
    assert said(passage)["HCHDM heading_mag_deg"] == [90.0 + k for k in range(20)]
    assert said(passage)["SDDPT depth_m"] == [4.8]


@pytest.mark.parametrize(
    ("stated", "name", "date"),
    [
        ("141000", "a.log", datetime.date(2020, 5, 30)),
        ("141000", "passage-2020-05-30.log", None),
        ("141000", "20200530_0900.nmea", None),
        ("141000", f"{seconds('2020-05-30T09:00:00'):.0f}000.log", None),
        ("191205", f"raw.{seconds('2025-08-04T10:00:00'):.0f}123.nmea", None),
        ("151102", "2022-07-01.log", None),
    ],
)
def test_b30_week_rollover(stated: str, name: str, date: datetime.date | None, tmp_path: Path) -> None:
    """Case B30 (TinyGPSPlus issue 75, GPSBabel issue 349): 7168 days are added."""
    rmc = sentence(f"GPRMC,091500.00,A,5000.0,N,00100.0,W,5.0,90.0,{stated},,,A")
    passage = read_text(tmp_path, rmc, name, date)
    right = {"141000": "2020-05-30", "191205": "2025-08-04", "151102": "2022-07-01"}[stated]
    assert times(passage, "sog_kn") == [seconds(f"{right}T09:15:00")]
    assert "week-rollover" in fact_ids(passage)


def test_b30_a_date_of_the_right_era_is_left_alone(tmp_path: Path) -> None:
    rmc = sentence("GPRMC,091500.00,A,5000.0,N,00100.0,W,5.0,90.0,141000,,,A")
    passage = read_text(tmp_path, rmc, "2000-10-14.log")
    assert times(passage, "sog_kn") == [seconds("2000-10-14T09:15:00")]
    assert "week-rollover" not in fact_ids(passage)


VDM = "AIVDM,1,1,,B,16UK7Fi0?w4tQF0l4Q@>401v1PS;,0"
FIRST_PART = "AIVDM,2,1,3,A,55?MbV02;H;s<HtKR20EHE:0@T4@Dn2222222216L961O5Gf0NSQEp6ClRp8,0"
SECOND_PART = "AIVDM,2,2,3,A,88888888880,2"


def test_b36_a_fragment_count_of_zero_drops_that_fragment(tmp_path: Path) -> None:
    """Case B36 (pyais issue 177)."""
    zero = r"\s:blah,c:1747818025*5A\!AAVDM,0,1,,B,16UK7Fi0?w4tQF0l4Q@>401v1PS;,0*0F"
    passage = read_text(tmp_path, f"{zero}\n{sentence(VDM, '!')}\n")
    assert passage.counts.rejected == {"malformed": 1}
    assert passage.ais["payload"].tolist() == ["16UK7Fi0?w4tQF0l4Q@>401v1PS;"]


def test_b38_the_sentence_has_a_checksum_of_its_own(tmp_path: Path) -> None:
    """Case B38 (risky PR 42): as printed neither checksum matches; put right, the sentence's own decides."""
    body = "BSVDM,2,1,0,A,00000000002,0"
    printed = read_text(tmp_path, rf"\g:1-2-1130*5E\!{body}*3D")
    assert printed.counts.rejected == {"checksum": 1}
    right = read_text(tmp_path, rf"\g:1-2-1130*5E\{sentence(body, '!')}")
    assert (right.counts.accepted, right.counts.rejected) == (1, {})


@pytest.mark.parametrize(
    ("tag", "moment"),
    [("c:1420030798*00", "2014-12-31T12:59:58"), ("s:rEV02,c:1334337317*58", "2012-04-13T17:15:17")],
)
def test_a_sentence_stands_whatever_its_tag_says_of_itself(tag: str, moment: str, tmp_path: Path) -> None:
    lines = [rf"\{tag}\{sentence(f'HCHDM,{k}.0,M')}" for k in range(2)]
    passage = read_text(tmp_path, "\r\n".join(lines))
    assert passage.counts.accepted == 2
    assert times(passage, "heading_mag_deg") == [seconds(moment)] * 2


def test_b39_a_stamp_alone_on_the_next_line_belongs_to_the_line_above(tmp_path: Path) -> None:
    """Case B39 (gps-measurement-tools PR 17)."""
    gsv = "NMEA,$GPGSV,3,1,10,10,71,021,29,20,61,109,29,25,26,125,30,31,33,212,26,1*6F"
    text = "\n".join(f"{gsv}\n,{1567814730009 + 1000 * k}" for k in range(3))
    passage = read_text(tmp_path, text)
    assert passage.counts.accepted == 3
    moment = seconds("2019-09-07T00:05:30.009")
    assert times(passage, "satellites_in_view") == pytest.approx([moment, moment + 1, moment + 2], abs=1e-6)


@pytest.mark.parametrize(
    ("lines", "messages", "lost"),
    [
        ([FIRST_PART, SECOND_PART], 1, 0),
        ([SECOND_PART, FIRST_PART], 0, 2),
        ([FIRST_PART], 0, 1),
        ([FIRST_PART, FIRST_PART, SECOND_PART], 1, 1),
        ([FIRST_PART, VDM, SECOND_PART], 2, 0),
        ([FIRST_PART, SECOND_PART.replace(",3,A,", ",4,A,")], 0, 2),
        ([FIRST_PART, SECOND_PART.replace(",3,A,", ",3,B,")], 0, 2),
        ([FIRST_PART, SECOND_PART.replace(",3,A,", ",3,,")], 1, 0),
        ([FIRST_PART.replace(",3,A,", ",3,B,"), FIRST_PART, SECOND_PART], 1, 1),
        ([FIRST_PART, SECOND_PART.replace("AIVDM", "ABVDM")], 0, 2),
    ],
)
def test_ais_fragments(lines: list[str], messages: int, lost: int, tmp_path: Path) -> None:
    passage = read_text(tmp_path, "\n".join(sentence(line, "!") for line in lines))
    assert len(passage.ais) == messages
    told = [fact.numbers["fragments"] for fact in passage.facts if fact.id == "ais-incomplete"]
    assert sum(told) == lost


@pytest.mark.parametrize(("gap_s", "messages"), [(9, 1), (11, 0)])
def test_ais_fragments_time_out_after_ten_seconds(gap_s: int, messages: int, tmp_path: Path) -> None:
    lines = [
        rf"\c:{1700000000 + k * gap_s}\{sentence(b, '!')}" for k, b in enumerate((FIRST_PART, SECOND_PART))
    ]
    assert len(read_text(tmp_path, "\n".join(lines)).ais) == messages


@pytest.mark.parametrize(
    "body",
    [
        "AIVDM,1,2,,B,16UK7Fi0?w4tQF0l4Q@>401v1PS;,0",
        "AIVDM,0,0,,B,16UK7Fi0?w4tQF0l4Q@>401v1PS;,0",
        "AIVDM,,,,B,16UK7Fi0?w4tQF0l4Q@>401v1PS;,0",
        "AIVDM,1,1,,B,,0",
        "AIVDM,1,1,,B,16UK7Fi0?w4tQF0l4Q@>401v1PS;",
    ],
)
def test_an_impossible_ais_fragment_is_malformed(body: str, tmp_path: Path) -> None:
    passage = read_text(tmp_path, sentence(body, "!"))
    assert passage.counts.rejected == {"malformed": 1}
    assert passage.ais.empty


def test_theoretical_wind_is_an_angle_off_the_bow(tmp_path: Path) -> None:
    """Case B20: heading + angle is the direction that the sender's own MWD gives, to its damping."""
    burst = ["WIMWV,96.6,T,11.2,N,A", "HEHDT,231.3,T", "WIMWD,328.2,T,326.8,M,11.2,N,5.8,M"]
    got = said(read_text(tmp_path, "\n".join(sentence(body) for body in burst)))
    direction = got["HEHDT heading_true_deg"][0] + got["WIMWV logged_twa_deg"][0]
    assert direction == pytest.approx(got["WIMWD logged_twd_deg"][0], abs=0.5)
