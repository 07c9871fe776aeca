"""What a demo passage is made of: boat, sea, plan, sensors, the instrument's own sums, and the errors.

Signs and corrections follow DEVELOPERS.md: every error is stated as the correction that mends it,
``true = factor x shown`` for speeds and ``true = shown + offset`` for angles and pressure.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

Steer = Literal["twa", "awa", "heading", "turn", "stop"]
Sensor = Literal["gnss", "compass", "log", "wind", "depth", "attitude", "barometer", "water_temp", "rudder"]


@dataclass(frozen=True)
class Leg:
    """One stretch of the plan.

    ``twa`` keeps the angle to the true wind over the water, ``awa`` the angle the wind display shows,
    ``heading`` a true heading; ``turn`` turns through ``angle_deg`` (+ to starboard) evenly over the leg;
    ``stop`` lets the boat lie. ``power_kn`` above 0 is the speed under engine in calm air, sails down.
    """

    minutes: float
    steer: Steer
    angle_deg: float = 0.0
    power_kn: float = 0.0


@dataclass(frozen=True)
class Boat:
    """The boat. ``leeway_coefficient`` is k in leeway = k x heel / STW^2 [deg kn^2 / deg].

    ``weather_helm`` is the rudder that holds her straight, for each degree of heel [deg / deg].
    """

    hull_speed_kn: float = 8.2
    heel_limit_deg: float = 22.0
    heel_reference_kn2: float = 230.0
    leeway_coefficient: float = 9.0
    mast_height_m: float = 16.0
    helm_wander_deg: float = 1.8
    weather_helm: float = 0.0


@dataclass(frozen=True)
class Sea:
    """Wind over the ground, tide, waves, air and depth. Wind from, currents toward, degrees true.

    The tide turns through an ellipse of half axes ``tide_kn`` along ``tide_axis_deg`` and
    ``tide_cross_kn`` across it, beside a steady stream and a slow unpredictable part.
    """

    wind_from_deg: float = 230.0
    wind_kn: float = 14.0
    veer_deg_per_h: float = 2.0
    freshening_kn_per_h: float = 0.2
    shift_deg: float = 5.0
    gust: float = 0.08
    tide_kn: float = 0.6
    tide_cross_kn: float = 0.25
    tide_axis_deg: float = 60.0
    tide_phase_h: float = 1.0
    stream_kn: float = 0.3
    stream_to_deg: float = 150.0
    stream_wander_kn: float = 0.08
    wave_period_s: float = 6.0
    roll_deg: float = 2.5
    pitch_deg: float = 1.2
    yaw_deg: float = 1.5
    pressure_hpa: float = 1016.0
    pressure_trend_hpa_per_h: float = -0.4
    water_temp_c: float = 18.5
    depth_m: float = 80.0
    depth_doubling_h: float = 1.5


@dataclass(frozen=True)
class Instrument:
    """How the imaginary wind display works out true wind from its own uncorrected readings."""

    reference: Literal["water", "ground"] = "water"
    leeway: bool = False
    variation: Literal["applied", "omitted", "twice"] = "applied"
    damping_s: float = 5.0


@dataclass(frozen=True)
class Sensors:
    """What is fitted: sentence rates, first-order damping, noise and the decimals of the log."""

    rates_hz: Mapping[str, float] = field(
        default_factory=lambda: MappingProxyType(
            {
                "RMC": 1.0,
                "VTG": 1.0,
                "GGA": 1.0,
                "GLL": 1.0,
                "ZDA": 1.0,
                "HDG": 5.0,
                "VHW": 1.0,
                "MWV-R": 2.0,
                "MWV-T": 1.0,
                "MWD": 1.0,
                "DPT": 1.0,
                "MTW": 0.2,
                "VLW": 0.2,
                "RSA": 1.0,
                "XDR-attitude": 1.0,
                "XDR-barometer": 0.1,
            }
        )
    )
    heading_damping_s: float = 0.3
    stw_damping_s: float = 1.5
    wind_damping_s: float = 0.8
    log_decimals: int = 2
    gnss_speed_noise_kn: float = 0.05
    depth_offset_m: float = 0.4


@dataclass(frozen=True)
class Spell:
    """A stretch of the passage in which one sensor misbehaves, hours from the start."""

    sensor: Sensor
    start_h: float
    end_h: float


@dataclass(frozen=True)
class Errors:
    """What is wrong with the sensors, each as its correction; the defaults are a boat without error.

    ``deviation_deg`` is B, C, D, E of B sin h + C cos h + D sin 2h + E cos 2h with h the compass heading.
    ``upwash_deg`` holds at 30 deg AWA. ``compass_step_deg`` joins the compass constant at
    ``compass_step_at_h``. Delays come on top of the damping. ``stuck`` sensors repeat their last reading,
    ``lost`` ones are silent; ``damaged`` is the share of sentences with a wrong character.
    """

    log_factor: float = 1.0
    log_zero_offset_kn: float = 0.0
    log_fouling_per_h: float = 0.0
    compass_constant_deg: float = 0.0
    deviation_deg: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)
    compass_step_deg: float = 0.0
    compass_step_at_h: float = 0.0
    vane_offset_deg: float = 0.0
    vane_mirrored: bool = False
    wind_speed_factor: float = 1.0
    upwash_deg: float = 0.0
    barometer_offset_hpa: float = 0.0
    rudder_offset_deg: float = 0.0
    heading_delay_s: float = 0.0
    stw_delay_s: float = 0.0
    wind_delay_s: float = 0.0
    stuck: tuple[Spell, ...] = ()
    lost: tuple[Spell, ...] = ()
    damaged: float = 0.0


@dataclass(frozen=True)
class Target:
    """A vessel met: class A or B, bearing and distance from the start, steady course and speed."""

    mmsi: int
    name: str
    transponder: Literal["A", "B"]
    bearing_deg: float
    distance_nm: float
    course_deg: float
    speed_kn: float


@dataclass(frozen=True)
class Scenario:
    """A passage to invent. ``variation_deg`` is constant, + east; ``start_utc`` is ISO 8601.

    ``own_mmsi`` is the identity of the boat's own AIS transponder, None where she has none.
    """

    summary: str
    start_utc: str
    lat_deg: float
    lon_deg: float
    variation_deg: float
    legs: tuple[Leg, ...]
    yacht: str = "Tarnwhistle"
    boat: Boat = Boat()
    sea: Sea = Sea()
    sensors: Sensors = Sensors()
    instrument: Instrument = Instrument()
    errors: Errors = Errors()
    targets: tuple[Target, ...] = ()
    own_mmsi: int | None = None

    @property
    def hours(self) -> float:
        """Length of the plan sailed once [h]."""
        return sum(leg.minutes for leg in self.legs) / 60
