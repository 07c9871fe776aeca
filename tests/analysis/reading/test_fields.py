"""Every field of every sentence in the table against pynmea2, over random well-formed sentences.

pynmea2 says what a field holds; which channel it belongs to, its unit and its sign are applied here again,
from the public NMEA reference page of the gpsd project, and not from the table under test. pynmea2 knows
neither THS nor DBK, nor fields 5 to 8 of VLW; there the oracle is the text between the commas.
"""

import zlib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pynmea2
import pytest

from analysis import read_log
from analysis.channels import CHANNELS
from analysis.sentences import SENTENCES

EACH = 300
KNOT_M_S, KNOT_KM_H, MILE_KM, FATHOM_M, FOOT_M, INHG_HPA = 1852 / 3600, 1.852, 1.852, 1.8288, 0.3048, 33.86389
SPEED_UNITS = {"N": 1.0, "K": 1 / KNOT_KM_H, "M": 1 / KNOT_M_S, "S": 1.609344 / 1.852}
MILE_UNITS = {"N": 1.0, "K": 1 / MILE_KM, "S": 1.609344 / MILE_KM}

Message = Any
Oracle = str | Callable[[Message], float | None]


def said(message: Message, name: str) -> float | None:
    """The number pynmea2 gives for a field, None where it is blank."""
    value = getattr(message, name)
    return None if value in (None, "") else float(value)


def scaled(name: str, scale: float) -> Oracle:
    return lambda m: None if (value := said(m, name)) is None else value * scale


def signed(name: str, letter: str, negative: str) -> Oracle:
    def read(m: Message) -> float | None:
        value = said(m, name)
        return None if value is None else -value if getattr(m, letter) == negative else value

    return read


def in_units(name: str, letter: str, units: dict[str, float]) -> Oracle:
    return lambda m: None if (value := said(m, name)) is None else value * units[getattr(m, letter)]


def first(*options: Oracle) -> Oracle:
    """The first option that is not 0, else the first that is filled: senders print 0 in units they do not use."""

    def read(m: Message) -> float | None:
        values = [said(m, option) if isinstance(option, str) else option(m) for option in options]
        filled = [value for value in values if value is not None]
        return next((value for value in filled if value), filled[0] if filled else None)

    return read


def only_if(letter: str, allowed: tuple[str, ...], oracle: Oracle) -> Oracle:
    return lambda m: first(oracle)(m) if getattr(m, letter) in allowed else None  # type: ignore[operator]


def bow(name: str) -> Oracle:
    """0..360 clockwise from the bow as -180..180, + from starboard."""

    def read(m: Message) -> float | None:
        value = said(m, name)
        return None if value is None else value if value <= 180 else value - 360

    return read


def by_side(name: str, letter: str) -> Oracle:
    return signed(name, letter, "L")


def position(name: str, letter: str, negative: str) -> Oracle:
    """Degrees of ddmm.mmm through pynmea2's own conversion."""

    def read(m: Message) -> float | None:
        text = getattr(m, name)
        if not text:
            return None
        angle = float(pynmea2.nmea_utils.dm_to_sd(text))
        return -angle if getattr(m, letter) == negative else angle

    return read


def place(lat: str, lat_dir: str, lon: str, lon_dir: str, prefix: str = "") -> dict[str, Oracle]:
    return {
        f"{prefix}lat_deg": position(lat, lat_dir, "S"),
        f"{prefix}lon_deg": position(lon, lon_dir, "W"),
    }


def corrected_heading(m: Message) -> float | None:
    heading, deviation = said(m, "heading"), signed("deviation", "dev_dir", "W")(m)  # type: ignore[operator]
    return None if heading is None else (heading + (deviation or 0.0)) % 360


def always(_: Message) -> bool:
    return True


def status(
    *names: str, mode: str | None = None, wanted: tuple[str, ...] = ("A",)
) -> Callable[[Message], bool]:
    return lambda m: (
        all(getattr(m, n) in wanted for n in names) and (mode is None or getattr(m, mode, "") != "N")
    )


def measured(name: str) -> Oracle:
    """A ground speed of VBW, which senders without one print as 0 along the keel."""
    return lambda m: None if said(m, "lon_grnd_spd") == 0 else said(m, name)


@dataclass(frozen=True)
class Layout:
    """The fields of a formatter in words, what pynmea2's attributes mean, and when the sentence counts.

    In words: ``lo:hi`` a decimal number, ``ilo:hi`` an integer, ``A|V|`` one of these letters (or blank);
    ``N/S`` and ``E/W`` a letter that belongs to the number before it; a wording for each field count.
    """

    wordings: tuple[str, ...]
    oracles: dict[str, Oracle]
    valid: Callable[[Message], bool] = always


GNSS_PLACE = place("lat", "lat_dir", "lon", "lon_dir")
WIND_SPEEDS = first("wind_speed_knots", scaled("wind_speed_meters", 1 / KNOT_M_S))
SIDE_SPEEDS = "0:60 N| 0:30 M| 0:110 K|"
DEPTHS = "0:3000 f 0:900 M 0:500 F"


def satellites(m: Message) -> float:
    return float(sum(getattr(m, f"sv_id{k:02d}") != "" for k in range(1, 13)))


def depth(feet: str, metres: str, fathoms: str) -> Oracle:
    return first(metres, scaled(feet, FOOT_M), scaled(fathoms, FATHOM_M))


def bearing(channel: str, name: str, letter: str) -> dict[str, Oracle]:
    return {
        channel: only_if(letter, ("T",), name),
        channel.replace("_deg", "_mag_deg"): only_if(letter, ("M",), name),
    }


TO_STEER = signed("cross_track_error", "cte_correction_dir", "R")
APB_FIELDS = "A|V A|V 0:9 L/R N A|V| A|V| 0:360 T|M WPT 0:360 T|M 0:360 T|M"
TTM_FIELDS = "i0:99 0:90 0:360 T|R| 0:60 0:360 T| 0:60 -60:60 N|K|S WPT T|Q|L A|"

LAYOUTS: dict[str, Layout] = {
    "RMC": Layout(
        (
            "time A|V lat N/S lon E/W 0:30 0:360 date 0:40 E/W",
            "time A|V lat N/S lon E/W 0:30 0:360 date 0:40 E/W A|D|E|N",
            "time A|V lat N/S lon E/W 0:30 0:360 date 0:40 E/W A|D|N| S|C|U|V",
        ),
        GNSS_PLACE
        | {
            "sog_kn": "spd_over_grnd",
            "cog_deg": "true_course",
            "variation_deg": signed("mag_variation", "mag_var_dir", "W"),
        },
        status("status", mode="mode_indicator"),
    ),
    "GGA": Layout(
        ("time lat N/S lon E/W i0:8 i0:12 0:20 -50:3000 M -90:90 M 0:60 i0:1023",),
        GNSS_PLACE
        | {
            "fix_quality": "gps_qual",
            "satellites_used": "num_sats",
            "hdop": "horizontal_dil",
            "altitude_m": "altitude",
            "geoid_separation_m": "geo_sep",
        },
        lambda m: said(m, "gps_qual") != 0,
    ),
    "GLL": Layout(
        ("lat N/S lon E/W time A|V", "lat N/S lon E/W time A|V A|D|N|"),
        GNSS_PLACE,
        status("status", mode="faa_mode"),
    ),
    "GNS": Layout(
        (
            "time lat N/S lon E/W AN|AAN|N|NN|R i0:12 0:20 -50:3000 -90:90 0:60 i0:1023",
            "time lat N/S lon E/W AN|AAN|N|NN|D i0:12 0:20 -50:3000 -90:90 0:60 i0:1023 V",
        ),
        GNSS_PLACE
        | {
            "satellites_used": "num_sats",
            "hdop": "hdop",
            "altitude_m": "altitude",
            "geoid_separation_m": "geo_sep",
        },
        lambda m: set(m.mode_indicator) != {"N"},
    ),
    "VTG": Layout(
        ("0:360 T 0:360 M 0:40 N 0:70 K", "0:360 T 0:360 M 0:40 N 0:70 K A|D|N|"),
        {
            "cog_deg": "true_track",
            "cog_mag_deg": "mag_track",
            "sog_kn": first("spd_over_grnd_kts", scaled("spd_over_grnd_kmph", 1 / KNOT_KM_H)),
        },
        status(mode="faa_mode"),
    ),
    "ZDA": Layout(("time i3 i6 i2026 i0:13 i0:59",), {}),
    "GST": Layout(
        ("time 0:90 0:90 0:90 0:180 0:90 0:90 0:90",),
        {
            "position_rms_m": "rms",
            "lat_error_m": "std_dev_latitude",
            "lon_error_m": "std_dev_longitude",
            "altitude_error_m": "std_dev_altitude",
        },
    ),
    "GSA": Layout(
        ("A|M i1:3" + 12 * " i1:99" + " 0:20 0:20 0:20",),
        {
            "fix_dimension": "mode_fix_type",
            "satellites_used": satellites,
            "pdop": "pdop",
            "hdop": "hdop",
            "vdop": "vdop",
        },
    ),
    "GSV": Layout(
        tuple("i1:4 i1:4 i0:40" + k * " i1:99 i0:90 i0:359 i0:60" for k in range(5)),
        {"satellites_in_view": "num_sv_in_view"},
    ),
    "HDG": Layout(
        ("0:360 0:20 E/W 0:40 E/W",),
        {
            "heading_mag_deg": corrected_heading,
            "deviation_deg": signed("deviation", "dev_dir", "W"),
            "variation_deg": signed("variation", "var_dir", "W"),
        },
    ),
    "HDM": Layout(("0:360 M",), {"heading_mag_deg": "heading"}),
    "HDT": Layout(("0:360 T",), {"heading_true_deg": "heading"}),
    "THS": Layout(("0:360 A|E|M|S|V|",), {"heading_true_deg": "f1"}, lambda m: m.f2 != "V"),
    "ROT": Layout(
        ("-700:700 A|V|",), {"rate_of_turn_deg_min": "rate_of_turn"}, status("status", wanted=("A", ""))
    ),
    "VHW": Layout(
        ("0:360 T 0:360 M -5:40 N -9:70 K",),
        {
            "heading_true_deg": "heading_true",
            "heading_mag_deg": "heading_magnetic",
            "stw_kn": first("water_speed_knots", scaled("water_speed_km", 1 / KNOT_KM_H)),
        },
    ),
    "VBW": Layout(
        ("-9:30 -9:9 A|V -9:30 -9:9 A|V", "-9:30 -9:9 A|V| -9:30 -9:9 A|V| -9:9 A|V -9:9 A|V"),
        {
            "stw_kn": only_if("data_validity_water_spd", ("A", ""), "lon_water_spd"),
            "stw_across_kn": only_if("data_validity_water_spd", ("A", ""), "trans_water_spd"),
            "sog_along_kn": only_if("data_validity_grnd_spd", ("A", ""), measured("lon_grnd_spd")),
            "sog_across_kn": only_if("data_validity_grnd_spd", ("A", ""), measured("trans_grnd_spd")),
        },
    ),
    "VLW": Layout(
        ("0:99999 N 0:999 N 0:99999 N 0:999 N",),
        {
            "water_distance_nm": "trip_distance",
            "water_trip_nm": "trip_distance_reset",
            "ground_distance_nm": "f5",
            "ground_trip_nm": "f7",
        },
    ),
    "VDR": Layout(
        ("0:360 T 0:360 M 0:9 N",),
        {"logged_set_deg": "deg_t", "logged_set_mag_deg": "deg_m", "logged_drift_kn": "current"},
    ),
    "MWV": Layout(
        ("0:360 R|T 0:40 N|K|M|S A|V|",),
        {
            "awa_deg": only_if("reference", ("R",), bow("wind_angle")),
            "aws_kn": only_if("reference", ("R",), in_units("wind_speed", "wind_speed_units", SPEED_UNITS)),
            "logged_twa_deg": only_if("reference", ("T",), bow("wind_angle")),
            "logged_tws_kn": only_if(
                "reference", ("T",), in_units("wind_speed", "wind_speed_units", SPEED_UNITS)
            ),
        },
        status("status", wanted=("A", "")),
    ),
    "MWD": Layout(
        ("0:360 T 0:360 M 0:60 N 0:30 M",),
        {
            "logged_twd_deg": "direction_true",
            "logged_twd_mag_deg": "direction_magnetic",
            "logged_tws_kn": WIND_SPEEDS,
        },
    ),
    "VWR": Layout(
        (f"0:180 L/R {SIDE_SPEEDS}",),
        {
            "awa_deg": by_side("deg_r", "l_r"),
            "aws_kn": first(
                "wind_speed_kn", scaled("wind_speed_ms", 1 / KNOT_M_S), scaled("wind_speed_km", 1 / KNOT_KM_H)
            ),
        },
    ),
    "VWT": Layout(
        (f"0:180 L/R {SIDE_SPEEDS}",),
        {
            "logged_twa_deg": by_side("wind_angle_vessel", "direction"),
            "logged_tws_kn": first(WIND_SPEEDS, scaled("wind_speed_km", 1 / KNOT_KM_H)),
        },
    ),
    "MDA": Layout(
        (
            "27:31 I 0.9:1.1 B -20:40 C 0:30 C 0:100 0:100 -20:30 C 0:360 T 0:360 M 0:60 N 0:30 M",
            "27:31 I| 0.9:1.1 B| -20:40 C| 0:30 C| 0:100 0:100 -20:30 C| 0:360 T| 0:360 M| 0:60 N| 0:30 M|",
        ),
        {
            "air_pressure_hpa": first(scaled("b_pressure_bar", 1000.0), scaled("b_pressure_inch", INHG_HPA)),
            "air_temp_c": "air_temp",
            "water_temp_c": "water_temp",
            "humidity_percent": "rel_humidity",
            "dew_point_c": "dew_point",
            "logged_twd_deg": "direction_true",
            "logged_twd_mag_deg": "direction_magnetic",
            "logged_tws_kn": WIND_SPEEDS,
        },
    ),
    "MTW": Layout(("-2:35 C",), {"water_temp_c": "temperature"}),
    "DPT": Layout(("0:900 -9:9", "0:900 -9:9 0:999"), {"depth_m": "depth", "depth_offset_m": "offset"}),
    "DBT": Layout((DEPTHS,), {"depth_m": depth("depth_feet", "depth_meters", "depth_fathoms")}),
    "DBS": Layout((DEPTHS,), {"depth_surface_m": depth("depth_feet", "depth_meter", "depth_ fathoms")}),
    "DBK": Layout((DEPTHS,), {"depth_keel_m": depth("f1", "f3", "f5")}),
    "RSA": Layout(
        ("-40:40 A|V| -40:40 A|V|", "-40:40 A|V|"),
        {
            "rudder_deg": only_if("rsa_starboard_status", ("A", ""), "rsa_starboard"),
            "rudder_port_deg": lambda m: (
                said(m, "rsa_port") if getattr(m, "rsa_port_status", "") in ("A", "", None) else None
            ),
        },
    ),
    "RPM": Layout(
        ("E|S i0:3 0:4000 -90:90 A|V|",),
        {
            "engine_rpm": only_if("source", ("E",), "speed"),
            "shaft_rpm": only_if("source", ("S",), "speed"),
            "propeller_pitch_percent": "pitch",
        },
        status("status", wanted=("A", "")),
    ),
    "RMB": Layout(
        (
            "A|V 0:9 L/R WPA WPB lat N/S lon E/W 0:999 0:360 -9:9 A|V|",
            "A|V 0:9 L/R WPA WPB lat N/S lon E/W 0:999 0:360 -9:9 A|V| A|D|N|",
        ),
        place("dest_lat", "dest_lat_dir", "dest_lon", "dest_lon_dir", "waypoint_")
        | {
            "cross_track_error_nm": TO_STEER,
            "waypoint_range_nm": "dest_range",
            "waypoint_bearing_deg": "dest_true_bearing",
            "waypoint_closing_kn": "dest_velocity",
        },
        lambda m: m.status == "A" and m.last_of(14) != "N",
    ),
    "APB": Layout(
        (APB_FIELDS, f"{APB_FIELDS} A|D|N|"),
        {"cross_track_error_nm": signed("cross_track_err_mag", "dir_steer", "R")}
        | bearing("leg_bearing_deg", "bearing_to_dest", "bearing_type")
        | bearing("waypoint_bearing_deg", "bearing_pres_dest", "bearing_pres_dest_type")
        | bearing("heading_to_steer_deg", "heading_to_dest", "heading_to_dest_type"),
        lambda m: m.status_gen == "A" and m.last_of(15) != "N",
    ),
    "XTE": Layout(
        ("A|V A|V 0:9 L/R N", "A|V A|V 0:9 L/R N A|D|N|"),
        {"cross_track_error_nm": signed("cross_track_err_dist", "correction_dir", "R")},
        lambda m: (m.warning_flag, m.lock_flag) == ("A", "A") and m.last_of(6) != "N",
    ),
    "BWC": Layout(
        (
            "time lat N/S lon E/W 0:360 T 0:360 M 0:999 N|K WPT",
            "time lat N/S lon E/W 0:360 T 0:360 M 0:999 N|K WPT A|D|N|",
        ),
        place("lat_next", "lat_next_direction", "lon_next", "lon_next_direction", "waypoint_")
        | {
            "waypoint_bearing_deg": "true_track",
            "waypoint_bearing_mag_deg": "mag_track",
            "waypoint_range_nm": in_units("range_next", "range_unit", MILE_UNITS),
        },
        lambda m: m.last_of(13) != "N",
    ),
    "BOD": Layout(
        ("0:360 T 0:360 M WPB WPA",),
        {"leg_bearing_deg": "bearing_t", "leg_bearing_mag_deg": "bearing_mag"},
    ),
    "TTM": Layout(
        (TTM_FIELDS.replace(" A|", " "), f"{TTM_FIELDS[:-3]} A| time A|M"),
        {
            "target_number": "target_number",
            "target_range_nm": in_units("distance", "dist_unit", MILE_UNITS),
            "target_bearing_deg": only_if("brg_ref", ("T", ""), "bearing"),
            "target_relative_bearing_deg": only_if("brg_ref", ("R",), "bearing"),
            "target_speed_kn": in_units("speed", "dist_unit", MILE_UNITS),
            "target_course_deg": only_if("cog_unit", ("T", ""), "cog"),
            "target_cpa_nm": in_units("dist_cpa", "dist_unit", MILE_UNITS),
            "target_tcpa_min": "time_cpa",
        },
        lambda m: m.status != "L",
    ),
    "TLL": Layout(
        ("i0:99 lat N/S lon E/W WPT time T|Q|L R|",),
        place("lat", "lat_dir", "lon", "lon_dir", "target_") | {"target_number": "target_number"},
        lambda m: m.target_status != "L",
    ),
}


def number_text(rng: np.random.Generator, low: float, high: float) -> str:
    """A decimal number as senders print it: padded, with a bare dot, with a plus sign, with many decimals."""
    decimals = int(rng.choice([0, 1, 1, 1, 2, 3, 5, 11]))
    text = f"{rng.uniform(low, high):.{decimals}f}"
    style = rng.integers(8)
    if style == 0 and not text.startswith("-"):
        text = text.zfill(len(text) + 2)
    elif style == 1 and decimals == 0:
        text += "."
    elif style == 2 and text.startswith("0."):
        text = text[1:]
    elif style == 3 and low < 0 and not text.startswith("-"):
        text = f"+{text}"
    elif style == 4 and low == 0:
        text = "0.0"
    elif style == 5 and high == 360:
        text = "360.0"
    return text


def field_text(rng: np.random.Generator, word: str, before: str, second: int) -> str:
    if word in ("N/S", "E/W", "L/R"):
        return str(rng.choice(list(word[::2]))) if before or rng.random() < 0.5 else ""
    if "|" in word:
        return str(rng.choice(word.split("|")))
    if (word in ("lat", "lon", "time", "date") or ":" in word) and rng.random() < 0.2:
        return ""
    if word == "time":
        return f"{second // 3600:02d}{second // 60 % 60:02d}{second % 60:02d}" + rng.choice(
            ["", ".00", ".125"]
        )
    if word == "date":
        return "030626"
    if word in ("lat", "lon"):
        digits, top = (2, 90) if word == "lat" else (3, 180)
        places = int(rng.integers(2, 8))
        return f"{rng.integers(top):0{digits}d}{rng.uniform(0, 59.9):0{places + 3}.{places}f}"
    if word[0] == "i":
        low, _, high = word[1:].partition(":")
        return str(rng.integers(int(low), int(high or low) + 1))
    if ":" in word:
        low, high = (float(part) for part in word.split(":"))
        return number_text(rng, low, high)
    return word


def sentence(rng: np.random.Generator, address: str, wording: str, second: int) -> str:
    fields: list[str] = []
    for word in wording.split(" "):
        fields.append(field_text(rng, word, fields[-1] if fields else "", second) if word else "")
    return with_checksum(",".join([address, *fields]))


def with_checksum(body: str) -> str:
    total = 0
    for byte in body.encode("ascii"):
        total ^= byte
    return f"${body}*{total:02X}"


def message_of(line: str) -> Message:
    """pynmea2's reading of a line, blank beyond its fields; the bare fields beside it as f1, f2 …"""
    fields = line[1 : line.index("*")].split(",")
    bare = {f"f{k}": text for k, text in enumerate(fields) if k}
    try:
        message = pynmea2.parse(line, check=True)
    except pynmea2.SentenceTypeError:
        assert fields[0][2:] in ("THS", "DBK")
        names: dict[str, Any] = {}
    else:
        names = {name: getattr(message, name) for _, name, *_ in message.fields[: len(message.data)]}
    return _Message(**names, **bare, count=len(fields) - 1)


class _Message(SimpleNamespace):
    def __getattr__(self, name: str) -> str:
        return ""

    def last_of(self, field_number: int) -> str:
        """The field of that number where the sentence has so many fields."""
        return str(getattr(self, f"f{field_number}"))


def readings_by_line(path: Path) -> dict[tuple[int, str], tuple[float, str]]:
    passage = read_log(path)
    return {
        (line, key.channel): (value, one.unit)
        for key, one in passage.series.items()
        for line, value in zip(one.line.tolist(), one.value.tolist(), strict=True)
    }


def test_every_sentence_of_the_table_is_tried() -> None:
    assert set(LAYOUTS) == set(SENTENCES)
    for formatter, layout in LAYOUTS.items():
        channels = {reading.channel for one in SENTENCES[formatter] for reading in one.readings}
        assert set(layout.oracles) == channels, formatter


@pytest.mark.parametrize("formatter", LAYOUTS)
def test_fields_are_what_pynmea2_reads(formatter: str, tmp_path: Path) -> None:
    layout = LAYOUTS[formatter]
    rng = np.random.default_rng(zlib.crc32(formatter.encode()))
    lines: list[str] = []
    while len(lines) < EACH:
        wording = layout.wordings[len(lines) % len(layout.wordings)]
        line = sentence(rng, f"II{formatter}", wording, 36000 + len(lines))
        if line not in lines:
            lines.append(line)
    path = tmp_path / "fields.nmea"
    path.write_text("".join(f"{line}\r\n" for line in lines), "ascii")
    got = readings_by_line(path)
    filled: dict[str, int] = dict.fromkeys(layout.oracles, 0)
    for number, line in enumerate(lines, start=1):
        message = message_of(line)
        for channel, oracle in layout.oracles.items():
            wanted = first(oracle)(message) if layout.valid(message) else None  # type: ignore[operator]
            here = got.pop((number, channel), None)
            if wanted is None:
                assert here is None, f"{line}: {channel} reads {here}, but pynmea2 has none"
                continue
            if CHANNELS[channel].kind == "direction" and wanted == 360:
                wanted = 0.0
            assert here is not None, f"{line}: {channel} should read {wanted}"
            tolerance = (
                0.0 if isinstance(oracle, str) else 1e-11 * max(abs(wanted), 1.0)
            )  # plain numbers: exact
            assert abs(here[0] - wanted) <= tolerance, f"{line}: {channel} reads {here[0]}, pynmea2 {wanted}"
            assert here[1] == CHANNELS[channel].unit
            filled[channel] += 1
    assert not got
    assert all(count >= 20 for count in filled.values()), filled


TRANSDUCERS: dict[tuple[str, str, str], tuple[str, float, float, tuple[float, float]]] = {
    # type, unit, name: channel, scale, shift, range of what is shown
    ("A", "D", "PTCH"): ("pitch_deg", 1, 0, (-60, 60)),
    ("A", "D", "PITCH"): ("pitch_deg", 1, 0, (-60, 60)),
    ("A", "D", "TRIM"): ("pitch_deg", 1, 0, (-60, 60)),
    ("A", "D", "ROLL"): ("heel_deg", 1, 0, (-60, 60)),
    ("A", "", "HEEL"): ("heel_deg", 1, 0, (-60, 60)),
    ("A", "D", "RUDDER"): ("rudder_deg", 1, 0, (-40, 40)),
    ("C", "C", "AIRTEMP"): ("air_temp_c", 1, 0, (-30, 45)),
    ("C", "K", "AirTemp"): ("air_temp_c", 1, -273.15, (250, 310)),
    ("C", "C", "WaterTemp"): ("water_temp_c", 1, 0, (-2, 35)),
    ("P", "B", "BARO"): ("air_pressure_hpa", 1000, 0, (0.9, 1.08)),
    ("P", "P", "Barometer"): ("air_pressure_hpa", 0.01, 0, (90000, 108000)),
    ("H", "P", "ENV"): ("humidity_percent", 1, 0, (0, 100)),
    ("U", "V", "BATT1"): ("voltage_v", 1, 0, (0, 30)),
    ("G", "", "Probe 7"): ("xdr:Probe 7", 1, 0, (-1e8, 1e8)),
}


def test_transducers_are_what_pynmea2_reads(tmp_path: Path) -> None:
    rng = np.random.default_rng(20)
    kinds = list(TRANSDUCERS)
    lines = []
    for _ in range(EACH):
        groups = []
        for k in rng.choice(len(kinds), rng.integers(1, 5), replace=False).tolist():
            kind, unit, name = kinds[k]
            value = "" if rng.random() < 0.2 else number_text(rng, *TRANSDUCERS[kinds[k]][3])
            groups.append(f"{kind},{value},{unit},{name}")
        lines.append(with_checksum(",".join(["IIXDR", *groups])))
    path = tmp_path / "transducers.nmea"
    path.write_text("".join(f"{line}\r\n" for line in lines), "ascii")
    got = {
        (line, key.channel, key.instance): value
        for key, one in read_log(path).series.items()
        for line, value in zip(one.line.tolist(), one.value.tolist(), strict=True)
    }
    compared = 0
    for number, line in enumerate(lines, start=1):
        message = pynmea2.parse(line, check=True)
        for k in range(message.num_transducers):
            group = message.get_transducer(k)
            channel, scale, shift, _ = TRANSDUCERS[group.type, group.units, group.id]
            here = got.pop((number, channel, group.id), None)
            if group.value == "":
                assert here is None, line
                continue
            wanted = float(group.value) * scale + shift
            tolerance = 0.0 if (scale, shift) == (1, 0) else 1e-11 * abs(wanted)
            assert here is not None, line
            assert abs(here - wanted) <= tolerance, line
            compared += 1
    assert not got
    assert compared > EACH


@pytest.mark.parametrize("formatter", sorted({*LAYOUTS} - {"GSA"}))
def test_blank_fields_give_no_reading(formatter: str, tmp_path: Path) -> None:
    """Never zero for missing: all numbers blank, letters as they stand (GSA counts its empty slots)."""
    letters = {"N/S": "N", "E/W": "E", "L/R": "R"}
    lines = []
    for wording in LAYOUTS[formatter].wordings:
        fields = [
            word.split("|")[0] if "|" in word else "" if ":" in word else word
            for word in (letters.get(word, word) for word in wording.split(" "))
        ]
        lines.append(with_checksum(",".join([f"II{formatter}", *(f if f.isupper() else "" for f in fields)])))
    path = tmp_path / "blank.nmea"
    path.write_text("".join(f"{line}\r\n" for line in lines), "ascii")
    passage = read_log(path)
    assert passage.series == {}
    assert passage.counts.accepted == len(lines)
