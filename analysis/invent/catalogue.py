"""The table of demo passages. Adding one is one entry here."""

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

from analysis.invent.scenario import Errors, Instrument, Leg, Scenario, Sea, Sensors, Spell, Target


def _sensors(**rates_hz: float) -> Sensors:
    """Fit the sensors with a slimmer set of sentences; underscores in names stand for hyphens."""
    named = {name.replace("_", "-"): rate for name, rate in rates_hz.items()}
    return Sensors(rates_hz=MappingProxyType(named))


_SLIM = _sensors(
    RMC=1, GGA=0.2, ZDA=0.1, HDG=2, VHW=1, MWV_R=1, MWV_T=0.5, MWD=0.5, DPT=0.2, MTW=0.05, VLW=0.05,
    RSA=0.5, XDR_attitude=1, XDR_barometer=0.05,
)  # fmt: skip
_ALL = Sensors()
_SQUARED_UP = Instrument(leeway=True)


def _fitted_without(*names: str) -> Sensors:
    return Sensors(rates_hz=MappingProxyType({k: v for k, v in _ALL.rates_hz.items() if k not in names}))


_BEATS = tuple(Leg(minutes, "twa", angle) for minutes, angle in ((22, 43), (20, -43), (18, 43), (20, -43)))
_REACHES = (Leg(20, "twa", -95), Leg(20, "twa", 110))
_GYBES = tuple(
    Leg(minutes, "twa", angle) for minutes, angle in ((20, 148), (22, -148), (18, 140), (20, -152))
)
_MIXED = (*_BEATS, *_REACHES, *_GYBES)

_SWING = (
    Leg(12, "heading", 20, 5.5),
    Leg(6, "turn", 360, 4.0),
    Leg(3, "heading", 20, 4.0),
    Leg(6, "turn", -360, 4.0),
    *(Leg(8, "heading", heading, 6.0) for heading in (60, 240, 60, 240)),
    *(Leg(8, "heading", heading, 6.0) for heading in (150, 330, 150, 330)),
    Leg(10, "stop"),
    Leg(15, "twa", 60),
    Leg(15, "twa", -60),
    Leg(15, "twa", 130),
    Leg(15, "twa", -130),
)

_CLEAN = Scenario(
    summary="Four hours of tacks, reaches and gybes with every instrument telling the truth.",
    start_utc="2026-06-03T08:00:00",
    lat_deg=33.0,
    lon_deg=-20.0,
    variation_deg=-4.7,
    legs=_MIXED,
    instrument=_SQUARED_UP,
)

SCENARIOS: Mapping[str, Scenario] = MappingProxyType(
    {
        "open-passage": Scenario(
            summary="Six hours of tacks and gybes out to sea: the log under-reads, vane and compass are off.",
            start_utc="2026-05-12T06:30:00",
            lat_deg=38.40,
            lon_deg=-29.20,
            variation_deg=-8.1,
            legs=(
                Leg(14, "heading", 250, 5.5),
                *(
                    Leg(minutes, "awa", angle)
                    for minutes, angle in ((25, 33), (28, -33), (24, 33), (26, -33))
                ),
                Leg(35, "twa", -100),
                Leg(12, "heading", 75, 5.5),
                Leg(12, "heading", 255, 5.5),
                *(
                    Leg(minutes, "twa", angle)
                    for minutes, angle in ((34, -145), (20, 148), (34, -140), (20, 150))
                ),
                Leg(40, "twa", -80),
                Leg(18, "awa", -36),
                Leg(18, "awa", 36),
            ),
            sea=Sea(wind_from_deg=240, wind_kn=13.5, tide_kn=0.9, tide_cross_kn=0.4, depth_m=35),
            sensors=_SLIM,
            errors=Errors(
                log_factor=1.07,
                vane_offset_deg=-4.0,
                compass_constant_deg=3.0,
                deviation_deg=(1.2, -0.8, 0.0, 0.0),
                barometer_offset_hpa=2.4,
                damaged=0.0002,
            ),
            targets=(
                Target(200000001, "SEVEN TERNS", "A", 300, 16, 110, 13.5),
                Target(200000002, "COBALT REACH", "A", 200, 24, 20, 10.8),
                Target(200000003, "SMALL HOURS", "B", 250, 9, 70, 5.4),
            ),
            own_mmsi=200000010,
        ),
        "swing-day": Scenario(
            summary="A short day with full turns and reciprocal runs under engine, every instrument true.",
            start_utc="2026-06-14T10:00:00",
            lat_deg=29.60,
            lon_deg=-17.90,
            variation_deg=-4.1,
            legs=_SWING,
            sea=Sea(wind_from_deg=40, wind_kn=11, tide_kn=0.4, tide_cross_kn=0.2, roll_deg=1.8, depth_m=40),
            sensors=_SLIM,
            instrument=_SQUARED_UP,
        ),
        "riggers-case": Scenario(
            summary="The shown wind jumps from tack to tack: upwash, a slow anemometer, a fouling log.",
            start_utc="2026-06-03T09:00:00",
            lat_deg=33.0,
            lon_deg=-20.0,
            variation_deg=-4.7,
            legs=_MIXED,
            sea=Sea(
                wind_from_deg=310, wind_kn=15, tide_kn=0.3, tide_cross_kn=0.1, stream_kn=0.4, depth_m=900
            ),
            sensors=_SLIM,
            errors=Errors(log_factor=1.04, log_fouling_per_h=0.012, wind_speed_factor=1.12, upwash_deg=-4.0),
        ),
        "clean": _CLEAN,
        "no-wind": replace(
            _CLEAN,
            summary="A clean passage on a boat without a wind sensor.",
            sensors=_fitted_without("MWV-R", "MWV-T", "MWD"),
        ),
        "no-gnss": replace(
            _CLEAN,
            summary="A clean passage without position, SOG or COG: only the ship's clock gives the time.",
            sensors=_fitted_without("RMC", "VTG", "GGA", "GLL"),
        ),
        "one-course": replace(
            _CLEAN,
            summary="Three hours on one course and one tack: little can be told apart.",
            legs=(Leg(180, "heading", 300),),
            sea=Sea(wind_from_deg=230, wind_kn=13, shift_deg=3),
            errors=Errors(log_factor=1.05, compass_constant_deg=2.0, vane_offset_deg=3.0),
        ),
        "moored": replace(
            _CLEAN,
            summary="Two hours alongside in a breeze, everything switched on.",
            legs=(Leg(120, "stop", 290),),
            sea=Sea(
                tide_kn=0,
                tide_cross_kn=0,
                stream_kn=0,
                stream_wander_kn=0,
                roll_deg=0.3,
                pitch_deg=0.1,
                yaw_deg=0.3,
                depth_m=6,
                depth_doubling_h=1e6,
            ),
        ),
        "tidal-stream": replace(
            _CLEAN,
            summary="A clean passage in a strong turning tide, near two knots at its height.",
            sea=Sea(wind_kn=15, tide_kn=1.8, tide_cross_kn=0.7, stream_wander_kn=0.12),
        ),
        "mixed-up-wind": replace(
            _CLEAN,
            summary="The wind display takes the magnetic heading for true and the ground for the water.",
            instrument=Instrument(reference="ground", variation="omitted"),
        ),
        "faulty-sensors": replace(
            _CLEAN,
            summary="The log sticks, a tool box shifts the compass, the wind falls silent, lines break.",
            errors=Errors(
                compass_step_deg=-6.0,
                compass_step_at_h=1.5,
                stuck=(Spell("log", 2.2, 2.7),),
                lost=(Spell("wind", 0.8, 1.0), Spell("gnss", 3.0, 3.05)),
                damaged=0.001,
            ),
        ),
    }
)
