"""The table of NMEA 0183 sentences: formatter -> fields -> channels, with unit and sign handling.

Field numbers count from 1 after the address, as the standard's listings do. Adding a sentence is one entry
here and one test. How each expression is evaluated over a column of sentences is in ``reading/decoding.py``.

Sources: IEC 61162-1 (NMEA 0183) as restated in the public NMEA reference page of the gpsd project and in
pynmea2's field lists; traps met in real recordings are noted where they are handled.
"""

from dataclasses import dataclass
from functools import cache


@dataclass(frozen=True)
class Number:
    """A decimal number times ``scale``."""

    field: int
    scale: float = 1.0


@dataclass(frozen=True)
class Lettered:
    """A magnitude whose sign stands in a letter of its own: negative where it is ``negative``.

    Missing where the letter is missing, unless the magnitude carries a sign itself.
    """

    field: int
    letter: int
    negative: str


@dataclass(frozen=True)
class Degrees:
    """A position ddmm.mmm with its hemisphere letter, in degrees, south and west negative."""

    field: int
    letter: int
    negative: str


@dataclass(frozen=True)
class BowAngle:
    """An angle clockwise from the bow, folded into (-180, 180], + from starboard.

    ``side`` names the field with L or R where the sentence gives 0..180 and a side.
    """

    field: int
    side: int | None = None


@dataclass(frozen=True)
class Speed:
    """A speed in knots whose unit letter stands in another field (N kn, K km/h, M m/s, S statute mph)."""

    field: int
    unit: int


@dataclass(frozen=True)
class Distance:
    """A distance in nautical miles whose unit letter stands in another field (N nm, K km, S statute miles)."""

    field: int
    unit: int


@dataclass(frozen=True)
class Celsius:
    """A temperature in degC whose unit letter stands in another field (C, F or K)."""

    field: int
    unit: int


@dataclass(frozen=True)
class Tenths:
    """A number that some receivers print as unsigned 16-bit tenths: 6553.4 means -0.2."""

    field: int


@dataclass(frozen=True)
class First:
    """The first of several expressions that is not missing, row by row.

    They tell one quantity in several units; senders print 0 in those they do not use, so 0 gives way to another.
    """

    options: tuple["Expression", ...]


@dataclass(frozen=True)
class Sum:
    """The first term plus the others; a missing later term counts as 0."""

    terms: tuple["Expression", ...]


@dataclass(frozen=True)
class Count:
    """How many of the fields first..last are filled."""

    first: int
    last: int


Expression = (
    Number | Tenths | Lettered | Degrees | BowAngle | Speed | Distance | Celsius | First | Sum | Count
)


@dataclass(frozen=True)
class Letter:
    """True where the field is one of the letters; ``blank`` says whether an empty or absent field passes."""

    field: int
    allowed: str
    blank: bool = True


@dataclass(frozen=True)
class NoLetter:
    """True where the field is none of the letters (blank passes)."""

    field: int
    barred: str


@dataclass(frozen=True)
class AnyOther:
    """True where the field holds at least one character other than the barred one (or is blank)."""

    field: int
    barred: str


@dataclass(frozen=True)
class NotZero:
    """True where the field is not the number 0 (blank passes)."""

    field: int


Condition = Letter | NoLetter | AnyOther | NotZero


@dataclass(frozen=True)
class Reading:
    """One channel that a sentence gives: the expression, and the conditions under which it counts."""

    channel: str
    value: Expression
    when: tuple[Condition, ...] = ()


@dataclass(frozen=True)
class Clock:
    """Where a sentence carries UTC: time of day hhmmss.s, and the date as ddmmyy or day, month, year."""

    time: int
    date: int | None = None
    day_month_year: tuple[int, int, int] | None = None


@dataclass(frozen=True)
class Sentence:
    """One layout of a formatter: title, allowed field counts, validity, clock, readings.

    ``exact`` forbids the surplus empty field at the end that many senders add. ``valid`` must hold for any
    reading to count. ``numbers`` are further fields that must be numbers though no channel comes of them.
    """

    formatter: str
    title: str
    counts: frozenset[int]
    readings: tuple[Reading, ...] = ()
    valid: tuple[Condition, ...] = ()
    clock: Clock | None = None
    exact: bool = False
    numbers: tuple[int, ...] = ()


@cache
def wanted_fields(layout: Sentence) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Field numbers that a layout reads as numbers, and those it reads as letters, each in order."""
    numbers = {*layout.numbers}
    letters: set[int] = set()
    _collect((layout.readings, layout.valid), numbers, letters)
    if layout.clock is not None:
        numbers |= {layout.clock.time, *(layout.clock.day_month_year or ())}
        numbers |= {layout.clock.date} if layout.clock.date is not None else set()
    return tuple(sorted(numbers)), tuple(sorted(letters))


def _collect(part: object, numbers: set[int], letters: set[int]) -> None:
    match part:
        case Letter(field) | NoLetter(field):
            letters.add(field)
        case Count(first, last):
            letters.update(range(first, last + 1))
        case Number(field) | Tenths(field) | NotZero(field):
            numbers.add(field)
        case Lettered(field, letter) | Degrees(field, letter):
            numbers.add(field)
            letters.add(letter)
        case Speed(field, unit) | Distance(field, unit) | Celsius(field, unit):
            numbers.add(field)
            letters.add(unit)
        case BowAngle(field, side):
            numbers.add(field)
            letters.update(() if side is None else (side,))
        case Reading(_, value, when):
            _collect((value, when), numbers, letters)
        case First(parts) | Sum(parts):
            _collect(parts, numbers, letters)
        case tuple():
            for member in part:
                _collect(member, numbers, letters)


def _latitude(at: int) -> Degrees:
    return Degrees(at, at + 1, "S")


def _longitude(at: int) -> Degrees:
    return Degrees(at, at + 1, "W")


def _east(at: int) -> Lettered:
    return Lettered(at, at + 1, "W")


def _position(at: int, lat: str = "lat_deg", lon: str = "lon_deg") -> tuple[Reading, Reading]:
    return Reading(lat, _latitude(at)), Reading(lon, _longitude(at + 2))


def _bearing(channel: str, at: int) -> tuple[Reading, Reading]:
    """A bearing followed by T or M gives the true or the magnetic channel."""
    magnetic = channel.replace("_deg", "_mag_deg")
    return (
        Reading(channel, Number(at), (Letter(at + 1, "T", blank=False),)),
        Reading(magnetic, Number(at), (Letter(at + 1, "M", blank=False),)),
    )


def _counts(*counts: int) -> frozenset[int]:
    return frozenset(counts)


_APPARENT, _THEORETICAL = Letter(2, "R", blank=False), Letter(2, "T", blank=False)
_FATHOM_M, _FOOT_M = 1.8288, 0.3048
INHG_HPA = 33.86389


def _depth(formatter: str, title: str, channel: str) -> Sentence:
    metres = First((Number(3), Number(1, _FOOT_M), Number(5, _FATHOM_M)))
    return Sentence(formatter, title, _counts(6), (Reading(channel, metres),))


def _relative_wind(formatter: str, title: str, angle: str, speed: str) -> Sentence:
    speeds = First((Number(3), Number(5, 3600 / 1852), Number(7, 1 / 1.852)))
    readings = (Reading(angle, BowAngle(1, side=2)), Reading(speed, speeds))
    return Sentence(formatter, title, _counts(8), readings)


_TABLE = [
    # GNSS
    Sentence(
        "RMC",
        "recommended minimum: time, position, SOG, COG, date, variation",
        _counts(11, 12, 13),
        (
            *_position(3),
            Reading("sog_kn", Number(7)),
            Reading("cog_deg", Number(8)),
            Reading("variation_deg", _east(10)),
        ),
        valid=(Letter(2, "A", blank=False), NoLetter(12, "N")),
        clock=Clock(1, date=9),
    ),
    Sentence(
        "GGA",
        "GNSS fix: time, position, quality, satellites, HDOP, altitude",
        _counts(14),
        (
            *_position(2),
            Reading("fix_quality", Number(6)),
            Reading("satellites_used", Number(7)),
            Reading("hdop", Number(8)),
            Reading("altitude_m", Tenths(9)),
            Reading("geoid_separation_m", Tenths(11)),
        ),
        valid=(NotZero(6),),
        clock=Clock(1),
    ),
    Sentence(
        "GLL",
        "position with time",
        _counts(6, 7),
        _position(1),
        valid=(Letter(6, "A", blank=False), NoLetter(7, "N")),
        clock=Clock(5),
    ),
    Sentence(
        "GNS",
        "GNSS fix of several constellations",
        _counts(12, 13),
        (
            *_position(2),
            Reading("satellites_used", Number(7)),
            Reading("hdop", Number(8)),
            Reading("altitude_m", Tenths(9)),
            Reading("geoid_separation_m", Number(10)),
        ),
        valid=(AnyOther(6, "N"),),
        clock=Clock(1),
    ),
    Sentence(
        "VTG",
        "COG and SOG",
        _counts(8, 9),
        (
            Reading("cog_deg", Number(1)),
            Reading("cog_mag_deg", Number(3), (Letter(4, "M"),)),
            Reading("sog_kn", First((Number(5), Number(7, 1 / 1.852)))),
        ),
        valid=(NoLetter(9, "N"),),
    ),
    Sentence(
        "VTG",
        "COG and SOG, the old form of four bare numbers",
        _counts(4),
        (
            Reading("cog_deg", Number(1)),
            Reading("cog_mag_deg", Number(2)),
            Reading("sog_kn", First((Number(3), Number(4, 1 / 1.852)))),
        ),
    ),
    Sentence("ZDA", "time and date", _counts(6), clock=Clock(1, day_month_year=(2, 3, 4))),
    Sentence(
        "GST",
        "GNSS pseudorange error statistics",
        _counts(8),
        (
            Reading("position_rms_m", Number(2)),
            Reading("lat_error_m", Number(6)),
            Reading("lon_error_m", Number(7)),
            Reading("altitude_error_m", Number(8)),
        ),
        clock=Clock(1),
    ),
    Sentence(
        "GSA",
        "satellites used and dilution of precision",
        _counts(17, 18),
        (
            Reading("fix_dimension", Number(2)),
            Reading("satellites_used", Count(3, 14)),
            Reading("pdop", Number(15)),
            Reading("hdop", Number(16)),
            Reading("vdop", Number(17)),
        ),
        exact=True,
    ),
    Sentence(
        "GSV",
        "satellites in view",
        _counts(3, 4, 7, 8, 11, 12, 15, 16, 19, 20),
        (Reading("satellites_in_view", Number(3)),),
        exact=True,
        numbers=(1, 2),
    ),
    # heading and turning
    Sentence(
        "HDG",
        "heading of a magnetic sensor with deviation and variation",
        _counts(5),
        (
            Reading("heading_mag_deg", Sum((Number(1), _east(2)))),
            Reading("deviation_deg", _east(2)),
            Reading("variation_deg", _east(4)),
        ),
    ),
    Sentence("HDM", "heading, magnetic", _counts(2), (Reading("heading_mag_deg", Number(1)),)),
    Sentence("HDT", "heading, true", _counts(2), (Reading("heading_true_deg", Number(1)),)),
    Sentence(
        "THS",
        "heading, true, with the sensor's mode",
        _counts(2),
        (Reading("heading_true_deg", Number(1)),),
        valid=(NoLetter(2, "V"),),
    ),
    Sentence(
        "ROT",
        "rate of turn, degrees per minute, minus to port",
        _counts(2),
        (Reading("rate_of_turn_deg_min", Number(1)),),
        valid=(Letter(2, "A"),),
    ),
    # water
    Sentence(
        "VHW",
        "speed through the water along the keel, and heading",
        _counts(8),
        (
            Reading("heading_true_deg", Number(1)),
            Reading("heading_mag_deg", Number(3)),
            Reading("stw_kn", First((Number(5), Number(7, 1 / 1.852)))),
        ),
    ),
    Sentence(
        "VBW",
        "speed along and across, through the water and over the ground (0 along where not measured)",
        _counts(6, 10),
        (
            Reading("stw_kn", Number(1), (Letter(3, "A"),)),
            Reading("stw_across_kn", Number(2), (Letter(3, "A"),)),
            Reading("sog_along_kn", Number(4), (Letter(6, "A"), NotZero(4))),
            Reading("sog_across_kn", Number(5), (Letter(6, "A"), NotZero(4))),
        ),
    ),
    Sentence(
        "VLW",
        "distance through the water and over the ground",
        _counts(4, 8),
        (
            Reading("water_distance_nm", Number(1)),
            Reading("water_trip_nm", Number(3)),
            Reading("ground_distance_nm", Number(5)),
            Reading("ground_trip_nm", Number(7)),
        ),
    ),
    Sentence(
        "VDR",
        "set and drift",
        _counts(6),
        (
            Reading("logged_set_deg", Number(1)),
            Reading("logged_set_mag_deg", Number(3)),
            Reading("logged_drift_kn", Number(5)),
        ),
    ),
    # wind
    Sentence(
        "MWV",
        "wind angle from the bow and speed, relative (R) or theoretical (T, over the water)",
        _counts(4, 5),
        (
            Reading("awa_deg", BowAngle(1), (_APPARENT,)),
            Reading("aws_kn", Speed(3, 4), (_APPARENT,)),
            Reading("logged_twa_deg", BowAngle(1), (_THEORETICAL,)),
            Reading("logged_tws_kn", Speed(3, 4), (_THEORETICAL,)),
        ),
        valid=(Letter(5, "A"),),
    ),
    Sentence(
        "MWD",
        "wind direction and speed",
        _counts(8),
        (
            Reading("logged_twd_deg", Number(1)),
            Reading("logged_twd_mag_deg", Number(3)),
            Reading("logged_tws_kn", First((Number(5), Number(7, 3600 / 1852)))),
        ),
    ),
    Sentence(
        "MWD",
        "wind direction and speed, a short form: without m/s, or without magnetic direction",
        _counts(6),
        (
            Reading("logged_twd_deg", Number(1)),
            Reading("logged_twd_mag_deg", Number(3), (Letter(4, "M", blank=False),)),
            Reading("logged_tws_kn", Number(5), (Letter(4, "M", blank=False),)),
            Reading("logged_tws_kn", Number(3), (Letter(4, "N", blank=False),)),
        ),
    ),
    _relative_wind("VWR", "apparent wind angle by side, and speed", "awa_deg", "aws_kn"),
    _relative_wind("VWT", "true wind angle by side, over the water", "logged_twa_deg", "logged_tws_kn"),
    Sentence(
        "MDA",
        "meteorological composite",
        _counts(20),
        (
            Reading("air_pressure_hpa", First((Number(3, 1000.0), Number(1, INHG_HPA)))),
            Reading("air_temp_c", Number(5)),
            Reading("water_temp_c", Number(7)),
            Reading("humidity_percent", Number(9)),
            Reading("dew_point_c", Number(11)),
            Reading("logged_twd_deg", Number(13)),
            Reading("logged_twd_mag_deg", Number(15)),
            Reading("logged_tws_kn", First((Number(17), Number(19, 3600 / 1852)))),
        ),
    ),
    # depth and temperature
    Sentence("MTW", "water temperature", _counts(2), (Reading("water_temp_c", Celsius(1, 2)),)),
    Sentence(
        "DPT",
        "depth below transducer and the transducer's offset",
        _counts(1, 2, 3),
        (Reading("depth_m", Number(1)), Reading("depth_offset_m", Number(2))),
    ),
    _depth("DBT", "depth below transducer", "depth_m"),
    _depth("DBS", "depth below surface", "depth_surface_m"),
    _depth("DBK", "depth below keel", "depth_keel_m"),
    # rudder and engine
    Sentence(
        "RSA",
        "rudder angle, minus to port",
        _counts(2, 4),
        (
            Reading("rudder_deg", Number(1), (Letter(2, "A"),)),
            Reading("rudder_port_deg", Number(3), (Letter(4, "A"),)),
        ),
    ),
    Sentence(
        "RPM",
        "engine (E) or shaft (S) speed and propeller pitch",
        _counts(5),
        (
            Reading("engine_rpm", Number(3), (Letter(1, "E", blank=False),)),
            Reading("shaft_rpm", Number(3), (Letter(1, "S", blank=False),)),
            Reading("propeller_pitch_percent", Number(4)),
        ),
        valid=(Letter(5, "A"),),
    ),
    # marks
    Sentence(
        "RMB",
        "distance and bearing to the waypoint",
        _counts(13, 14),
        (
            Reading("cross_track_error_nm", Lettered(2, 3, "R")),
            *_position(6, "waypoint_lat_deg", "waypoint_lon_deg"),
            Reading("waypoint_range_nm", Number(10)),
            Reading("waypoint_bearing_deg", Number(11)),
            Reading("waypoint_closing_kn", Number(12)),
        ),
        valid=(Letter(1, "A"), NoLetter(14, "N")),
    ),
    Sentence(
        "APB",
        "what an automatic pilot is told",
        _counts(14, 15),
        (
            Reading("cross_track_error_nm", Lettered(3, 4, "R"), (Letter(5, "N"),)),
            *_bearing("leg_bearing_deg", 8),
            *_bearing("waypoint_bearing_deg", 11),
            *_bearing("heading_to_steer_deg", 13),
        ),
        valid=(Letter(1, "A"), NoLetter(15, "N")),
    ),
    Sentence(
        "XTE",
        "cross-track error",
        _counts(5, 6),
        (Reading("cross_track_error_nm", Lettered(3, 4, "R")),),
        valid=(Letter(1, "A"), Letter(2, "A"), NoLetter(6, "N")),
    ),
    Sentence(
        "BWC",
        "bearing and great-circle distance to the waypoint",
        _counts(12, 13),
        (
            *_position(2, "waypoint_lat_deg", "waypoint_lon_deg"),
            Reading("waypoint_bearing_deg", Number(6)),
            Reading("waypoint_bearing_mag_deg", Number(8)),
            Reading("waypoint_range_nm", Distance(10, 11)),
        ),
        valid=(NoLetter(13, "N"),),
        clock=Clock(1),
    ),
    Sentence(
        "BOD",
        "bearing of the leg from origin to destination",
        _counts(6),
        (Reading("leg_bearing_deg", Number(1)), Reading("leg_bearing_mag_deg", Number(3))),
    ),
    # targets
    Sentence(
        "TTM",
        "tracked radar target",
        _counts(13, 14, 15, 16),
        (
            Reading("target_number", Number(1)),
            Reading("target_range_nm", Distance(2, 10)),
            Reading("target_bearing_deg", Number(3), (Letter(4, "T"),)),
            Reading("target_relative_bearing_deg", Number(3), (Letter(4, "R", blank=False),)),
            Reading("target_speed_kn", Distance(5, 10)),
            Reading("target_course_deg", Number(6), (Letter(7, "T"),)),
            Reading("target_cpa_nm", Distance(8, 10)),
            Reading("target_tcpa_min", Number(9)),
        ),
        valid=(NoLetter(12, "L"),),
    ),
    Sentence(
        "TLL",
        "target position",
        _counts(9),
        (Reading("target_number", Number(1)), *_position(2, "target_lat_deg", "target_lon_deg")),
        valid=(NoLetter(8, "L"),),
    ),
]

# Sentences whose layout is not a fixed list of fields; ``reading/`` has a function for each.
SPECIAL: dict[str, str] = {
    "XDR": "transducers: groups of type, value, unit, name",
    "DSC": "digital selective call received",
    "DSE": "expansion of a digital selective call",
    "MOB": "person overboard",
    "VDM": "AIS message received",
    "VDO": "AIS message of the own ship",
}


def _variants() -> dict[str, tuple[Sentence, ...]]:
    table: dict[str, tuple[Sentence, ...]] = {}
    for sentence in _TABLE:
        table[sentence.formatter] = (*table.get(sentence.formatter, ()), sentence)
    return table


SENTENCES: dict[str, tuple[Sentence, ...]] = _variants()
"""Formatter -> its layouts, told apart by their field counts."""
