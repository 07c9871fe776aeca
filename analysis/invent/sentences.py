"""Shown values -> NMEA 0183 sentences, one entry per sentence."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from analysis.invent.noise import Floats
from analysis.invent.scenario import Scenario, Sensor
from analysis.phrasing import clock, days, minutes, rose, rows

_SOUNDER_REACH_M = 180.0
_COURSE_NEEDS_KN = 0.3  # below this a receiver leaves the course blank
_KNOT_M_S = 1852 / 3600
_LOG_START_NM = 2145.3


@dataclass(frozen=True)
class Sample:
    """Shown values at the times of one sentence: ``time_s`` since 1970-01-01 UTC, columns of one length."""

    time_s: Floats
    shown: dict[str, Floats]
    scenario: Scenario

    def __getitem__(self, name: str) -> Floats:
        return self.shown[name]


def _position(s: Sample) -> list[str]:
    return rows("%s,%s", minutes(s["lat_deg"], "NS", 2), minutes(s["lon_deg"], "EW", 3))


def _course(s: Sample, shift_deg: float = 0.0) -> list[str]:
    course = rose(s["cog_deg"] + shift_deg)
    moving = s["sog_kn"] >= _COURSE_NEEDS_KN
    return [f"{c:.1f}" if m else "" for c, m in zip(course.tolist(), moving.tolist(), strict=True)]


def _variation(s: Sample) -> str:
    return f"{abs(s.scenario.variation_deg):.1f},{'E' if s.scenario.variation_deg >= 0 else 'W'}"


def _rmc(s: Sample) -> list[str]:
    return rows(
        f"GPRMC,%s,A,%s,%.2f,%s,%s,{_variation(s)},A",
        clock(s.time_s),
        _position(s),
        s["sog_kn"],
        _course(s),
        days(s.time_s, "%d%m%y"),
    )


def _vtg(s: Sample) -> list[str]:
    magnetic = _course(s, -s.scenario.variation_deg)
    return rows("GPVTG,%s,T,%s,M,%.2f,N,%.2f,K,A", _course(s), magnetic, s["sog_kn"], s["sog_kn"] * 1.852)


def _gga(s: Sample) -> list[str]:
    satellites = 10 + (np.floor(s.time_s / 900) % 4).astype(np.int64)
    hdop = 1.3 - 0.04 * satellites
    altitude = 2.5 + 1.2 * np.sin(s.time_s / 311)
    return rows(
        "GPGGA,%s,%s,1,%02d,%.2f,%.1f,M,51.2,M,,",
        clock(s.time_s),
        _position(s),
        satellites,
        hdop,
        altitude,
    )


def _gll(s: Sample) -> list[str]:
    return rows("GPGLL,%s,%s,A,A", _position(s), clock(s.time_s))


def _zda(s: Sample) -> list[str]:
    talker = "GP" if "RMC" in s.scenario.sensors.rates_hz else "II"
    return rows(f"{talker}ZDA,%s,%s,00,00", clock(s.time_s), days(s.time_s, "%d,%m,%Y"))


def _hdg(s: Sample) -> list[str]:
    return rows(f"HCHDG,%.1f,,,{_variation(s)}", rose(s["heading_mag_deg"]))


def _vhw(s: Sample) -> list[str]:
    decimals = s.scenario.sensors.log_decimals
    return rows(
        f"VWVHW,%.1f,T,%.1f,M,%.{decimals}f,N,%.{decimals}f,K",
        rose(s["heading_mag_deg"] + s.scenario.variation_deg),
        rose(s["heading_mag_deg"]),
        s["stw_kn"],
        s["stw_kn"] * 1.852,
    )


def _mwv(angle: str, speed: str, letter: str) -> Callable[[Sample], list[str]]:
    def build(s: Sample) -> list[str]:
        return rows(f"WIMWV,%.1f,{letter},%.1f,N,A", rose(s[angle]), s[speed])

    return build


def _mwd(s: Sample) -> list[str]:
    return rows(
        "WIMWD,%.1f,T,%.1f,M,%.1f,N,%.1f,M",
        rose(s["logged_twd_deg"]),
        rose(s["logged_twd_mag_deg"]),
        s["logged_tws_kn"],
        s["logged_tws_kn"] * _KNOT_M_S,
    )


def _dpt(s: Sample) -> list[str]:
    depths = s["depth_m"].tolist()
    offset = s.scenario.sensors.depth_offset_m
    return [f"SDDPT,{d:.1f},{offset}" if d < _SOUNDER_REACH_M else f"SDDPT,,{offset}" for d in depths]


def _mtw(s: Sample) -> list[str]:
    return rows("SDMTW,%.1f,C", s["water_temp_c"])


def _vlw(s: Sample) -> list[str]:
    return rows("VWVLW,%.2f,N,%.2f,N", s["log_nm"] + _LOG_START_NM, s["log_nm"])


def _rsa(s: Sample) -> list[str]:
    return rows("IIRSA,%.1f,A,,", s["rudder_deg"])


def _attitude(s: Sample) -> list[str]:
    return rows("IIXDR,A,%.1f,D,HEEL,A,%.1f,D,PITCH", s["heel_deg"], s["pitch_deg"])


def _barometer(s: Sample) -> list[str]:
    return rows("IIXDR,P,%.5f,B,BARO", s["air_pressure_hpa"] / 1000)


@dataclass(frozen=True)
class Sentence:
    """One sentence: the sensor it hangs on, its moment within the second, and how it is written."""

    sensor: Sensor
    phase_s: float
    build: Callable[[Sample], list[str]]


SENTENCES: dict[str, Sentence] = {
    "RMC": Sentence("gnss", 0.0, _rmc),
    "VTG": Sentence("gnss", 0.02, _vtg),
    "GGA": Sentence("gnss", 0.04, _gga),
    "GLL": Sentence("gnss", 0.06, _gll),
    "ZDA": Sentence("gnss", 0.08, _zda),
    "HDG": Sentence("compass", 0.11, _hdg),
    "VHW": Sentence("log", 0.34, _vhw),
    "VLW": Sentence("log", 0.36, _vlw),
    "DPT": Sentence("depth", 0.38, _dpt),
    "MTW": Sentence("water_temp", 0.4, _mtw),
    "MWV-R": Sentence("wind", 0.24, _mwv("awa_deg", "aws_kn", "R")),
    "MWV-T": Sentence("wind", 0.26, _mwv("logged_twa_deg", "logged_tws_kn", "T")),
    "MWD": Sentence("wind", 0.28, _mwd),
    "XDR-attitude": Sentence("attitude", 0.54, _attitude),
    "XDR-barometer": Sentence("barometer", 0.57, _barometer),
    "RSA": Sentence("rudder", 0.65, _rsa),
}
