"""A voyage written down as NMEA 0183: each sentence at its own rate, moment and talker, with its decimals.

``record`` takes a voyage, a seed and a ``Fit``: what is fitted on board and how it talks. Sentences are in order
of their moment of sending, which is ``latency_s`` after the moment they tell of; only the GNSS tells the time.
"""

from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from .displays import TrueWind, displayed, measured
from .instruments import deviation

ALL = (
    "RMC", "VTG", "GGA", "GLL", "ZDA", "HDG", "HDT", "VHW", "VBW", "VLW", "MWV-R", "MWV-T", "MWD", "DPT", "DBT",
    "DBS", "MTW", "XDR-attitude", "XDR-barometer", "ROT", "RSA", "RMC2", "HDT2", "VHW2", "MWV-R2", "DPT2",
)  # fmt: skip
# Moments within the second at which the sentences leave, in the order a multiplexer sees them.
PHASE_S = {name: 0.03 + 0.035 * i for i, name in enumerate(ALL)}


@dataclass(frozen=True)
class Fit:
    """What is fitted and how it talks: sentence -> rate [Hz], decimals, talkers, and what the boat applies.

    ``variation_deg`` is the boat's own, in RMC and HDG where ``variation_in`` names them, applied
    ``variation_times`` to make headings true. ``deviation_field`` holds coefficients for the deviation field of
    HDG, ``deviation_applied`` those the boat applies to the sensor heading for its other sentences.
    ``heading_fields`` of VHW are filled with "TM", "M" or "" (neither). ``second`` maps a channel of a second source
    to (factor, offset): shown = factor * first + offset, with noise of its own.
    """

    rates: dict = field(default_factory=dict)
    talkers: dict = field(default_factory=dict)
    decimals: dict = field(default_factory=dict)
    variation_deg: float = 0.0
    variation_in: tuple[str, ...] = ("RMC", "HDG")
    variation_times: int = 1
    deviation_field: tuple | None = None
    deviation_applied: tuple | None = None
    heading_fields: str = "TM"
    heel_name: str = "HEEL"
    pressure_scale: float = 1e-3
    pressure_layout: str = "%.4f,B"
    depth_offset_m: float = 0.5
    depth_surface_m: float = 0.5
    true_wind: TrueWind = field(default_factory=TrueWind)
    second: dict = field(default_factory=dict)
    latency_s: float = 0.15
    gnss_shift: object = None
    stamp: object = None

    def boat_deviation_deg(self, compass_deg):
        return 0.0 if self.deviation_applied is None else deviation(self.deviation_applied, compass_deg)


TALKERS = {
    "gnss": "GP",
    "compass": "HC",
    "log": "VW",
    "wind": "WI",
    "sounder": "SD",
    "ship": "II",
}
DECIMALS = {"cog": 1, "sog": 1, "heading": 1, "stw": 2, "awa": 1, "speed": 1, "depth": 1, "heel": 1}


def _rows(template, *columns):
    return [template % row for row in zip(*(np.asarray(c).tolist() for c in columns), strict=True)]


def _letters(value, positive, negative):
    return np.where(np.asarray(value) >= 0, positive, negative)


class Sample:
    """What is shown at the moments one sentence tells of; angles run on, unwrapped."""

    def __init__(self, shown, told_s, fit, start_s):
        self._shown, self.told_s, self.fit, self.start_s = shown, told_s, fit, start_s

    def __getitem__(self, name):
        value = self._shown[name]
        return np.interp(self.told_s, np.arange(len(value)), value)

    def rose(self, name, decimals, shift=0.0):
        return np.round((self[name] + shift) % 360, decimals) % 360

    def clock(self):
        """Seconds since 1970 as the GNSS tells them."""
        told = np.round(self.told_s + self.start_s, 2)
        return told if self.fit.gnss_shift is None else self.fit.gnss_shift(told, self.told_s)

    def places(self, kind):
        return (DECIMALS | self.fit.decimals)[kind]

    def talker(self, kind):
        return (TALKERS | self.fit.talkers)[kind]

    def second_talker(self, kind):
        """The talker of a second source: another receiver, or the ship's network beside a sensor of its own."""
        first = self.talker(kind)
        return {"GP": "GN", "GN": "GP", "II": TALKERS[kind]}.get(first, "II")


def _hms(time_s):
    day = np.floor(time_s).astype(np.int64) % 86400
    return _rows("%02d%02d%02d.00", day // 3600, day // 60 % 60, day % 60)


def _date(time_s, layout):
    days = np.floor(time_s / 86400).astype(np.int64)
    names = {day: f"{pd.Timestamp(int(day) * 86400, unit='s'):{layout}}" for day in np.unique(days)}
    return [names[day] for day in days]


def _place(s, suffix=""):
    lat, lon = s["lat_deg" + suffix], s["lon_deg" + suffix]
    text = []
    for angle, letters in ((lat, "NS"), (lon, "EW")):
        minutes = np.rint(abs(angle) * 600_000).astype(np.int64)
        text += [minutes // 600_000, minutes % 600_000 // 10_000, minutes % 10_000, _letters(angle, *letters)]
    return _rows("%02d%02d.%04d,%s,%03d%02d.%04d,%s", *text)


def _variation(s, sentence):
    v = s.fit.variation_deg
    return f"{abs(v):.1f},{'E' if v >= 0 else 'W'}" if sentence in s.fit.variation_in else ","


def _course(s, suffix="", shift=0.0):
    course = s.rose("cog_deg" + suffix, s.places("cog"), shift)
    layout = f"%.{s.places('cog')}f"
    still = (s["sog_kn" + suffix] < 0.1).tolist()
    return ["" if stop else layout % c for c, stop in zip(course.tolist(), still, strict=True)]


def _rmc(s, suffix="", talker=""):
    time_s, talker = s.clock(), talker or s.talker("gnss")
    layout = f"{talker}RMC,%s,A,%s,%.{s.places('sog')}f,%s,%s,{_variation(s, 'RMC')},A"
    return _rows(
        layout,
        _hms(time_s),
        _place(s, suffix),
        s["sog_kn" + suffix],
        _course(s, suffix),
        _date(time_s, "%d%m%y"),
    )


def _vtg(s):
    places = s.places("sog")
    layout = f"{s.talker('gnss')}VTG,%s,T,%s,M,%.{places}f,N,%.{places}f,K,A"
    return _rows(layout, _course(s), _course(s, "", -s.fit.variation_deg), s["sog_kn"], s["sog_kn"] * 1.852)


def _gga(s):
    layout = f"{s.talker('gnss')}GGA,%s,%s,1,%02d,%.1f,%.1f,M,48.0,M,,"
    height = 2.5 + np.sin(s.told_s / 200)
    return _rows(layout, _hms(s.clock()), _place(s), np.round(s["satellites"]).astype(int), s["hdop"], height)


def _gll(s):
    return _rows(f"{s.talker('gnss')}GLL,%s,%s,A,A", _place(s), _hms(s.clock()))


def _zda(s):
    time_s = s.clock()
    return _rows(f"{s.talker('gnss')}ZDA,%s,%s,00,00", _hms(time_s), _date(time_s, "%d,%m,%Y"))


def _hdg(s):
    compass = s.rose("compass_deg", s.places("heading"))
    layout = f"{s.talker('compass')}HDG,%.{s.places('heading')}f,%s,{_variation(s, 'HDG')}"
    if s.fit.deviation_field is None:
        return _rows(layout, compass, [","] * len(compass))
    off = deviation(s.fit.deviation_field, compass)
    return _rows(layout, compass, _rows("%.1f,%s", abs(off), _letters(off, "E", "W")))


def _hdt(s):
    return _rows(f"{s.talker('compass')}HDT,%.1f,T", s.rose("heading_true_deg", 1))


def _vhw(s):
    true, magnetic = (_rows("%.1f", s.rose(name, 1)) for name in ("heading_true_deg", "heading_mag_deg"))
    blank = [""] * len(true)
    true = true if "T" in s.fit.heading_fields else blank
    magnetic = magnetic if "M" in s.fit.heading_fields else blank
    places = s.places("stw")
    layout = f"{s.talker('log')}VHW,%s,T,%s,M,%.{places}f,N,%.{places}f,K"
    return _rows(layout, true, magnetic, s["stw_kn"], s["stw_kn"] * 1.852)


def _vbw(s):
    across = s["stw_kn"] * np.tan(np.radians(s["leeway_deg"]))
    return _rows(f"{s.talker('log')}VBW,%.2f,%.2f,A,,,V", s["stw_kn"], across)


def _vlw(s):
    run = np.interp(s.told_s, np.arange(len(s._shown["stw_kn"])), np.cumsum(s._shown["stw_kn"]) / 3600)
    return _rows(f"{s.talker('log')}VLW,%.1f,N,%.2f,N", 3120.4 + run, run)


def _mwv(s, letter, angle, speed, talker=""):
    layout = f"{talker or s.talker('wind')}MWV,%.{s.places('awa')}f,{letter},%.{s.places('speed')}f,N,A"
    return _rows(layout, s.rose(angle, s.places("awa")), s[speed])


def _mwd(s):
    layout = f"{s.talker('wind')}MWD,%.1f,T,%.1f,M,%.1f,N,%.1f,M"
    speed = s["tws_kn"]
    return _rows(layout, s.rose("twd_deg", 1), s.rose("twd_mag_deg", 1), speed, speed * 1852 / 3600)


def _dpt(s, name="depth_m", talker=""):
    layout = f"{talker or s.talker('sounder')}DPT,%.{s.places('depth')}f,%.1f"
    if "depth_offset_m" in s._shown:
        return _rows(layout, s[name], s["depth_offset_m"])
    return _rows(layout, s[name], np.full(len(s.told_s), s.fit.depth_offset_m))


def _depth(s, formatter, shift=0.0):
    metres = s["depth_m"] + shift
    layout = f"{s.talker('sounder')}{formatter},%.1f,f,%.1f,M,%.1f,F"
    return _rows(layout, metres / 0.3048, metres, metres / 1.8288)


def _mtw(s):
    return _rows(f"{s.talker('sounder')}MTW,%.1f,C", s["water_temp_c"])


def _attitude(s):
    places = s.places("heel")
    layout = f"{s.talker('ship')}XDR,A,%.{places}f,D,{s.fit.heel_name},A,%.{places}f,D,PITCH"
    return _rows(layout, s["heel_deg"], s["pitch_deg"])


def _barometer(s):
    layout = f"{s.talker('ship')}XDR,P,{s.fit.pressure_layout},BARO"
    return _rows(layout, s["pressure_hpa"] * s.fit.pressure_scale)


BUILD = {
    "RMC": _rmc,
    "VTG": _vtg,
    "GGA": _gga,
    "GLL": _gll,
    "ZDA": _zda,
    "HDG": _hdg,
    "HDT": _hdt,
    "VHW": _vhw,
    "VBW": _vbw,
    "VLW": _vlw,
    "MWV-R": lambda s: _mwv(s, "R", "awa_deg", "aws_kn"),
    "MWV-T": lambda s: _mwv(s, "T", "twa_deg", "tws_kn"),
    "MWD": _mwd,
    "DPT": _dpt,
    "DBT": lambda s: _depth(s, "DBT"),
    "DBS": lambda s: _depth(s, "DBS", s.fit.depth_surface_m),
    "MTW": _mtw,
    "XDR-attitude": _attitude,
    "XDR-barometer": _barometer,
    "ROT": lambda s: _rows(f"{s.talker('compass')}ROT,%.1f,A", s["rate_of_turn_deg_min"]),
    "RSA": lambda s: _rows(f"{s.talker('ship')}RSA,%.1f,A,,", s["rudder_deg"]),
    "RMC2": lambda s: _rmc(s, "_2", s.second_talker("gnss")),
    "HDT2": lambda s: _rows(f"{s.second_talker('gnss')}HDT,%.1f,T", s.rose("heading_true_deg_2", 1)),
    "VHW2": lambda s: _rows(f"{s.second_talker('log')}VHW,,T,,M,%.1f,N,,K", s["stw_kn_2"]),
    "MWV-R2": lambda s: _mwv(s, "R", "awa_deg_2", "aws_kn_2", s.second_talker("wind")),
    "DPT2": lambda s: _dpt(s, "depth_m_2", s.second_talker("sounder")),
}
GNSS = ("RMC", "VTG", "GGA", "GLL", "ZDA", "RMC2")
_OWN_NOISE = {
    "lat_deg": 2e-5, "lon_deg": 2e-5, "sog_kn": 0.08, "cog_deg": 0.7, "heading_true_deg": 0.4, "stw_kn": 0.1,
    "awa_deg": 1.2, "aws_kn": 0.3, "depth_m": 0.1,
}  # fmt: skip


def with_checksum(bodies):
    """Frame sentence bodies: ``$``, body, ``*`` and the exclusive or of the body in two hex digits."""
    octets = np.frombuffer("".join(bodies).encode("ascii"), dtype=np.uint8)
    starts = np.concatenate([[0], np.cumsum([len(body) for body in bodies])[:-1]])
    sums = np.bitwise_xor.reduceat(octets, starts).tolist()
    return [f"${body}*{total:02X}" for body, total in zip(bodies, sums, strict=True)]


def _second_sources(rng, shown, truth, fit):
    """A second source measures the truth for itself where that is known, with its own noise and its own errors."""
    first = shown | {"heading_true_deg": np.unwrap(truth.heading_deg, period=360)}
    for name, (factor, offset) in fit.second.items():
        noise = _OWN_NOISE[name] * rng.standard_normal(len(first[name]))
        shown[name + "_2"] = (
            first[name] * factor + offset + np.convolve(noise, np.ones(3) / np.sqrt(3), "same")
        )
    return shown


def _unwrapped(shown):
    return {
        name: np.unwrap(value, period=360)
        if name.startswith(("cog", "heading", "compass", "awa", "twa", "twd"))
        else value
        for name, value in shown.items()
    }


def recorder_rng(seed):
    """The random numbers of what is measured and sent, apart from those of the voyage."""
    return np.random.default_rng([seed, 77])


def record(voyage, rng_seed, fit, spoil=(), garble=()):
    """Write ``voyage`` down as the instruments of ``fit`` send it.

    Each of ``spoil`` is a function (rng, shown) -> shown on what the sensors show each second, before the displays
    use it; each of ``garble`` a function (rng, sent_s, lines) -> (sent_s, lines) on the finished sentences.
    """
    rng = recorder_rng(rng_seed)
    shown = measured(rng, voyage)
    for fault in spoil:
        shown = fault(rng, shown)
    shown = displayed(shown, fit)
    shown = _unwrapped(_second_sources(rng, shown, voyage.truth, fit))
    n, start_s = len(voyage.truth.heading_deg), voyage.truth.start.timestamp()
    sent, bodies = [], []
    for name, rate in fit.rates.items():
        if not rate or (name == "XDR-attitude" and "heel_deg" not in shown):
            continue
        told_s = np.arange(int((n - 1) * rate)) / rate
        if name in GNSS:
            told_s = np.unique(np.floor(told_s))
        jitter = rng.uniform(0, 0.02, len(told_s))
        sent.append(told_s + PHASE_S[name] + jitter)
        late = fit.latency_s - PHASE_S[name] if name not in GNSS else 0.0
        bodies += BUILD[name](Sample(shown, np.maximum(told_s - late, 0), fit, start_s))
    sent_s = np.concatenate(sent)
    order = np.argsort(sent_s, kind="stable")
    sent_s, lines = sent_s[order], with_checksum([bodies[i] for i in order.tolist()])
    for fault in garble:
        sent_s, lines = fault(rng, sent_s, lines)
    if fit.stamp is not None:
        lines = [f"{stamp} {line}" for stamp, line in zip(fit.stamp(sent_s + start_s), lines, strict=True)]
    return ("\r\n".join(lines) + "\r\n").encode("latin-1")
